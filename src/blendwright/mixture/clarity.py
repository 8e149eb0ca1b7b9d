"""One clear liquid or layers: the verdict of the models together, and the cloud point.

Each voice gives a sign with a margin, negative where it says that the liquid parts:

- a parameter set: the lowest tangent-plane distance of a rival composition (`liquid_split`), over
  how far that rival lies from the blend (half the sum of the mole fractions' differences), as a
  model's errors grow with that;
- log-linear cosolvency, for watery blends: minus the logarithm of the oils' load (`cosolvency`).

How margins stand to what is seen at the bench was learned: the chance that the liquid parts is the
weighted mean of F(-(margin + bias) / scale), with weight, bias and scale of each voice by medium in
`ensemble.csv` (`accuracy/split.py` fits them). F is Student's t distribution with two degrees of
freedom, F(z) = (1 + z / sqrt(2 + z^2)) / 2: models that are mostly near and sometimes far off. A
set that finds no rival at all counts with SETTLED_CHANCE. A single substance can't part: its chance
is ONE_SUBSTANCE, and no voice is asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.composition import (
    AQUEOUS_WATER_SHARE,
    HELPED_SHARE_OF_WATER,
    HELPING_SOLVENTS,
    Composition,
)
from blendwright.mixture.cosolvency import loading, oils
from blendwright.mixture.ensemble import Rule, rules
from blendwright.mixture.interval import Interval
from blendwright.mixture.members import Member, complete, search_for_layers
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.vapour import NO_COMPLETE_SET
from blendwright.pure.roots import Bools, Ints, roots_between

SETTLED_CHANCE = 0.02
ONE_SUBSTANCE = 0.0
NEAREST_RIVAL = 0.05  # nearer ones count as this far: near a critical point all is uncertain
LOWEST_CLOUD_K = 253.15
HIGHEST_CLOUD_K = 353.15
CLOUD_NODES = 4
CLOUD_TOLERANCE_K = 0.5
FEW_BLENDS = 8  # with more, temperatures that all share cost less
AS_LIKELY_AS_NOT = 0.5
LIKELY, UNLIKELY = 0.8, 0.2  # the ends of the cloud temperature's interval
COSOLVENCY = "cosolvency"
MEDIA = ("organic", "water", "spirit")

Update = Callable[[float, float], float]  # the models' chance at a temperature -> as it stands


def media(substances: Substances, part: Part) -> Array:
    """`Composition.medium` of each blend, as its number in MEDIA."""
    share = part.mass_kg / part.mass_kg.sum(axis=1, keepdims=True)
    water = _of(substances, part, share, ("water",))
    helpers = _of(substances, part, share, HELPING_SOLVENTS)
    aqueous = np.where(helpers > HELPED_SHARE_OF_WATER * water, 2, 1)
    return np.where(water <= AQUEOUS_WATER_SHARE, 0, aqueous)


def _of(substances: Substances, part: Part, values: Array, names: tuple[str, ...]) -> Array:
    marked = np.isin(part.index, [substances.named(name) for name in names]) & part.there
    return np.asarray((values * marked).sum(axis=1))


@dataclass(frozen=True, eq=False)
class Margins:
    """What one member sees of a part's blends: whether it is complete for them, its margin (NaN: no
    rival), the margin's own standard deviation, and whether the search converged."""

    covered: Bools
    margin: Array
    own_sd: Array
    converged: Bools


def margins(
    substances: Substances, part: Part, member: str, temperatures_K: float | Array
) -> Margins:
    """By a parameter set, or by COSOLVENCY; at one temperature or at each blend's own."""
    size = len(part)
    margin, own_sd = np.full(size, np.nan), np.zeros(size)
    converged = np.ones(size, dtype=bool)
    if member == COSOLVENCY:
        found = oils(substances, part, temperatures_K)
        ln_load = found.ln_load()
        loaded = found.applies & np.isfinite(ln_load)
        margin[loaded], own_sd[loaded] = -ln_load[loaded], found.ln_sd[loaded]
        return Margins(found.applies, margin, own_sd, converged)
    covered = complete(substances, member, part)
    where = np.flatnonzero(covered)
    if where.size:
        some = part.only(where)
        own = Member(substances, member, some)
        if isinstance(temperatures_K, float):
            model = own.at(temperatures_K)
        else:
            model = own.at_own(np.asarray(temperatures_K)[where])
        search = search_for_layers().stabilities(model, some.x)
        apart = 0.5 * np.abs(search.rival - some.x).sum(axis=1)
        near = search.distance / np.maximum(apart, NEAREST_RIVAL)
        margin[where] = np.where(search.has_rival, near, np.nan)
        converged[where] = search.converged
    return Margins(covered, margin, own_sd, converged)


def _is_covered(substances: Substances, part: Part, member: str) -> Bools:
    if member == COSOLVENCY:
        return oils(substances, part, ROOM_K).applies
    return complete(substances, member, part)


@dataclass(frozen=True, eq=False)
class Chances:
    """The chance of layers of each blend, NaN where no member covers it or a search did not
    converge; which blends a member covers."""

    value: Array
    covered: Bools


def chances(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    level: float | None = None,
) -> Chances:
    """Of each blend of a part, at one temperature or at its own.

    With `level` only whether the chance is above or below it is told: the weightiest members are
    asked first, and the others only where they could still tip it.
    """
    medium = media(substances, part)
    value = np.full(len(part), np.nan)
    covered = np.zeros(len(part), dtype=bool)
    for number, name in enumerate(MEDIA):
        where = np.flatnonzero(medium == number)
        if where.size:
            own = _of_some(temperatures_K, where)
            members = [r for r in rules() if r.question == "split" and r.medium == name]
            found = _chances(substances, part.only(where), own, members, level)
            value[where], covered[where] = found.value, found.covered
    single = part.there.sum(axis=1) == 1
    value[single], covered[single] = ONE_SUBSTANCE, True
    return Chances(value, covered)


def _chances(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    members: Sequence[Rule],
    level: float | None,
) -> Chances:
    """Of blends of one medium."""
    members = sorted(members, key=lambda rule: -rule.weight)
    covers = [_is_covered(substances, part, rule.parameter_set) for rule in members]
    total = np.zeros(len(part))
    for rule, covered in zip(members, covers, strict=True):
        total += rule.weight * covered
    weighted, left = np.zeros(len(part)), total.copy()
    wanted = total > 0.0
    unsure = np.zeros(len(part), dtype=bool)
    for rule, covered in zip(members, covers, strict=True):
        where = np.flatnonzero(wanted & covered)
        if not where.size:
            continue
        own = _of_some(temperatures_K, where)
        found = margins(substances, part.only(where), rule.parameter_set, own)
        unsure[where[~found.converged]] = True
        shares = shares_of_parting(found.margin, found.own_sd, rule.bias, rule.scale)
        weighted[where] += rule.weight * shares
        left[where] -= rule.weight
        if level is not None:
            wanted &= (weighted <= level * total) & (weighted + left >= level * total)
    settled = np.zeros_like(left)
    if level is not None:
        settled[~wanted & (weighted <= level * total)] = 1.0  # the others may all say yes
    told = (total > 0.0) & ~unsure
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where(told, (weighted + settled * left) / total, np.nan)
    return Chances(value, total > 0.0)


def _of_some(temperatures_K: float | Array, where: Ints) -> float | Array:
    """One temperature is that of all; of each blend's own those of some."""
    return temperatures_K if isinstance(temperatures_K, float) else temperatures_K[where]


def share_of_parting(sign: Sign, bias: float, scale: float) -> float:
    """The chance that the liquid parts, by one member."""
    margin = math.nan if sign.margin is None else sign.margin
    return float(shares_of_parting(np.asarray(margin), np.asarray(sign.own_sd), bias, scale))


def shares_of_parting(margin: Array, own_sd: Array, bias: float, scale: float) -> Array:
    """The same for many blends; a margin of NaN is that of no rival."""
    chance = student_share(-(margin + bias) / np.hypot(scale, own_sd))
    return np.where(np.isnan(margin), SETTLED_CHANCE, chance)


def student_share(z: Array | float) -> Array:
    """F(z) of the docstring above, of any shape."""
    return np.asarray(0.5 * (1.0 + z / np.sqrt(2.0 + z * z)))


def clouds(
    substances: Substances, part: Part, ends: bool = True, update: Update | None = None
) -> Interval:
    """The highest temperature between -20 and 80 °C at which a split is as likely as not, K.

    The interval runs to where a split is UNLIKELY (above) and LIKELY (below). "not_applicable"
    where it is clear over the whole range or a single substance, "out_of_range" where it is split
    at the top, "unknown" where no member covers it. Without `ends` the low and high ends aren't
    looked for, and are the value. `update` turns the models' (chance, temperature) into the chance
    that what was seen at the bench leaves.
    """
    found = np.full((3, len(part)), np.nan)
    status = np.full(len(part), "ok", dtype=object)
    step = (HIGHEST_CLOUD_K - LOWEST_CLOUD_K) / (CLOUD_NODES - 1)
    nodes = [HIGHEST_CLOUD_K - step * i for i in range(CLOUD_NODES)]
    seen = np.full((CLOUD_NODES, len(part)), np.nan)

    def chance(where: Ints, kelvin: float | Array, level: float | None = None) -> Array:
        if update is None:
            return chances(substances, part.only(where), kelvin, level).value
        made = chances(substances, part.only(where), kelvin).value
        pairs = zip(made.tolist(), np.broadcast_to(kelvin, made.shape).tolist(), strict=True)
        return np.array([c if math.isnan(c) else update(c, t) for c, t in pairs])

    def look(where: Ints, numbers: range, level: float | None = None) -> None:
        """At some of the nodes: of a few blends at all of them at once."""
        if where.size and where.size <= FEW_BLENDS:
            kelvin = np.repeat([nodes[n] for n in numbers], where.size)
            made = chance(np.tile(where, len(numbers)), kelvin.astype(float), level)
            for number, row in zip(numbers, made.reshape(len(numbers), -1), strict=True):
                seen[number, where] = row
        elif where.size:
            for number in numbers:
                seen[number, where] = chance(where, nodes[number], level)

    every = np.arange(len(part))
    top = chances(substances, part, nodes[0], AS_LIKELY_AS_NOT)
    seen[0] = top.value if update is None else chance(every, nodes[0])
    converged = ~(top.covered & np.isnan(seen[0]))
    status[np.isnan(seen[0])] = "unknown"
    status[seen[0] > AS_LIKELY_AS_NOT] = "out_of_range"
    status[part.there.sum(axis=1) < 2] = "not_applicable"
    converged |= status == "not_applicable"
    open_ = np.flatnonzero(status == "ok")
    look(open_, range(1, CLOUD_NODES), AS_LIKELY_AS_NOT)

    def crossings(where: Ints, level: float) -> tuple[Array, Bools]:
        """Where each chance first passes the level on the way down; NaN where it never does. And
        whether that is sure."""
        low, high = np.full(where.size, np.nan), np.full(where.size, np.nan)
        sure = ~np.isnan(seen[:, where]).any(axis=0)
        for number, (warm, cool) in enumerate(pairwise(nodes), start=1):
            first = np.isnan(low) & (np.nan_to_num(seen[number, where]) > level)
            low[first], high[first] = cool, warm
        passes = np.flatnonzero(~np.isnan(low))

        def over(kelvin: Array, which: Ints) -> Array:
            made = chance(where[passes[which]], kelvin, level)
            return np.where(np.isnan(made), np.nan, np.where(made > level, 1.0, -1.0))

        ones = np.ones(passes.size)
        roots = roots_between(over, low[passes], high[passes], CLOUD_TOLERANCE_K, ones, -ones)
        sure[passes] &= roots.converged
        middle = np.full(where.size, np.nan)
        middle[passes] = 0.5 * (roots.low + roots.high)
        return middle, sure

    value, sure = crossings(open_, AS_LIKELY_AS_NOT)
    status[open_[np.isnan(value)]] = "not_applicable"
    converged[open_[~sure]] = False
    some = ~np.isnan(value) & sure
    where, value = open_[some], value[some]
    found[:, where] = value
    if where.size and ends:
        look(where, range(CLOUD_NODES))  # so far only on which side of even they lie
        (low, low_sure), (high, high_sure) = crossings(where, LIKELY), crossings(where, UNLIKELY)
        low = np.where(np.isnan(low), LOWEST_CLOUD_K, low)
        high = np.where(np.isnan(high), value, high)
        high = np.where(seen[0, where] > UNLIKELY, HIGHEST_CLOUD_K, high)
        found[:, where] = value, np.minimum(value, low), np.maximum(value, high)
        converged[where[~(low_sure & high_sure)]] = False
    return Interval.of(found[0], found[1], found[2], status, converged)


# One blend


@dataclass(frozen=True)
class Sign:
    """What one member sees: its margin (None: no rival), and its own standard deviation.

    Not `converged`: the search for a rival ended before it settled.
    """

    margin: float | None
    own_sd: float = 0.0
    converged: bool = True


def sign_of(composition: Composition, member: str, temperature_K: float) -> Sign | None:
    """What one member sees; None where it isn't complete for this blend."""
    found = margins(composition.table, composition.part, member, temperature_K)
    if not found.covered[0]:
        return None
    margin = float(found.margin[0])
    return Sign(
        None if math.isnan(margin) else margin, float(found.own_sd[0]), bool(found.converged[0])
    )


@dataclass(frozen=True)
class Clarity:
    """Chance that the liquid parts into layers, and which members say so."""

    chance_of_split: float
    sources: tuple[str, ...]


def clarity(composition: Composition, temperature_K: float) -> Clarity | None:
    """All members at one temperature; None where none is complete, or a search did not converge."""
    if not composition.substances:
        return None
    chance = float(chances(composition.table, composition.part, temperature_K).value[0])
    return None if math.isnan(chance) else Clarity(chance, _sources(composition))


def chance_of_haze(
    composition: Composition, temperature_K: float, chance: float, least_kg: float
) -> float:
    """The chance that more oil than `least_kg` stays undissolved, from the chance that any does.

    Only log-linear cosolvency tells how much: it is asked again with the margin up to that amount
    (`Loading.ln_margin`). Without it, in a liquid without water, the chance is the same.
    """
    members = [
        rule
        for rule in rules()
        if rule.question == "split" and rule.medium == composition.medium
        if bool(_is_covered(composition.table, composition.part, rule.parameter_set)[0])
    ]
    own = next((rule for rule in members if rule.parameter_set == COSOLVENCY), None)
    found = loading(composition, temperature_K)
    if own is None or found is None or math.isinf(found.ln_load):
        return chance
    until = found.ln_margin(composition.mass_kg, least_kg)
    any_oil = share_of_parting(Sign(-found.ln_load, found.ln_sd), own.bias, own.scale)
    so_much = 0.0
    if math.isfinite(until):
        so_much = share_of_parting(Sign(until, found.ln_sd), own.bias, own.scale)
    share = own.weight / sum(rule.weight for rule in members)
    return min(chance, max(0.0, chance + share * (so_much - any_oil)))


def _sources(composition: Composition) -> tuple[str, ...]:
    members = composition.members("split", composition.medium)
    watery = ("cosolvency-ethanol",) if composition.medium != "organic" else ()
    return (*watery, *(member.source for member in members))


def cloud_temperature(composition: Composition, update: Update | None = None) -> Estimate:
    """`clouds` of one blend."""
    method = "chance of a split by all models together, -20 to 80 °C"
    if len(composition.substances) < 2:
        return Estimate.absent("K", "not_applicable", "a single substance", method)
    found = clouds(composition.table, composition.part, update=update)
    if not found.is_ok[0]:
        reasons = {
            "out_of_range": "in layers at 80 °C too",
            "not_applicable": "clear from -20 to 80 °C",
            "unknown": NO_COMPLETE_SET,
        }
        reason = reasons[str(found.status[0])]
        return found.not_ok("K", "cloud temperature", reason, method)
    value, low, high = found.ends()
    at_end = low == LOWEST_CLOUD_K
    notes = ("the low end is the end of the range looked at",) if at_end else ()
    return Estimate.ok(value, low, high, "K", method, _sources(composition), notes)
