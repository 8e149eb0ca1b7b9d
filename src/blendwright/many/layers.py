"""The chance that each blend of a part parts into layers, and its cloud point: `mixture.clarity`.

The signs are gathered for all blends of one medium at once: tangent-plane distances by
`mixture.liquid_split.stabilities`, loads by log-linear cosolvency.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from blendwright.conditions import ROOM_K
from blendwright.many.rows import Part
from blendwright.many.substances import Bools, Ints, Substances
from blendwright.many.voices import Voice, complete, search_for_layers
from blendwright.mixture.clarity import (
    AS_LIKELY_AS_NOT,
    CLOUD_NODES,
    CLOUD_TOLERANCE_K,
    COSOLVENCY,
    HIGHEST_CLOUD_K,
    LIKELY,
    LOWEST_CLOUD_K,
    NEAREST_RIVAL,
    ONE_SUBSTANCE,
    UNLIKELY,
    shares_of_parting,
)
from blendwright.mixture.composition import (
    AQUEOUS_WATER_SHARE,
    HELPED_SHARE_OF_WATER,
    HELPING_SOLVENTS,
)
from blendwright.mixture.cosolvency import (
    LEAST_SOLVENT_SHARE,
    TRACE,
    DEFAULT_DENSITY_kg_m3,
    cosolvents,
)
from blendwright.mixture.ensemble import Rule, rules
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import roots_between
from blendwright.mixture.water_solubility import LN_10, water_solubility

MEDIA = ("organic", "water", "spirit")


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


def chances(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    level: float | None = None,
) -> Array:
    """Chance of layers of each blend, at one temperature or at its own; NaN where no voice can
    speak, or one did not converge.

    With `level` only whether the chance is above or below it is told: the weightiest voices speak
    first, and the others only where they could still tip it.
    """
    medium = media(substances, part)
    found = np.full(len(part), np.nan)
    for number, name in enumerate(MEDIA):
        where = np.flatnonzero(medium == number)
        if where.size:
            own = _of_some(temperatures_K, where)
            voices = [r for r in rules() if r.question == "split" and r.medium == name]
            found[where] = _chances(substances, part.only(where), own, voices, level)
    found[part.there.sum(axis=1) == 1] = ONE_SUBSTANCE
    return found


def _chances(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    voices: Sequence[Rule],
    level: float | None,
) -> Array:
    """Of blends of one medium."""
    voices = sorted(voices, key=lambda rule: -rule.weight)
    loads = None
    if any(rule.parameter_set == COSOLVENCY for rule in voices):
        loads = _loads(substances, part, temperatures_K)
    speaks = [
        loads[0]
        if loads is not None and rule.parameter_set == COSOLVENCY
        else complete(substances, rule.parameter_set, part)
        for rule in voices
    ]
    total = np.zeros(len(part))
    for rule, heard in zip(voices, speaks, strict=True):
        total += rule.weight * heard
    weighted, left = np.zeros(len(part)), total.copy()
    wanted = total > 0.0
    unsure = np.zeros(len(part), dtype=bool)
    for rule, heard in zip(voices, speaks, strict=True):
        where = np.flatnonzero(wanted & heard)
        if not where.size:
            continue
        if loads is not None and rule.parameter_set == COSOLVENCY:
            margin, sd = loads[1][where], loads[2][where]
        else:
            own = _of_some(temperatures_K, where)
            margin, converged = _margins(substances, part.only(where), rule, own)
            unsure[where[~converged]] = True
            sd = np.zeros(where.size)
        weighted[where] += rule.weight * shares_of_parting(margin, sd, rule.bias, rule.scale)
        left[where] -= rule.weight
        if level is not None:
            wanted &= (weighted <= level * total) & (weighted + left >= level * total)
    settled = np.zeros_like(left)
    if level is not None:
        settled[~wanted & (weighted <= level * total)] = 1.0  # the others may all say yes
    with np.errstate(divide="ignore", invalid="ignore"):
        told = (total > 0.0) & ~unsure
        return np.where(told, (weighted + settled * left) / total, np.nan)


def _of_some(temperatures_K: float | Array, where: Ints) -> float | Array:
    """One temperature is that of all; of each blend's own those of some."""
    return temperatures_K if isinstance(temperatures_K, float) else temperatures_K[where]


def _margins(
    substances: Substances, part: Part, rule: Rule, temperatures_K: float | Array
) -> tuple[Array, Bools]:
    """By a set that speaks for all of them; NaN without a rival. And which searches converged."""
    voice = Voice(substances, rule.parameter_set, part)
    if isinstance(temperatures_K, float):
        model = voice.at(temperatures_K)
    else:
        model = voice.at_own(np.asarray(temperatures_K))
    found = search_for_layers().stabilities(model, part.x)
    apart = 0.5 * np.abs(found.rival - part.x).sum(axis=1)
    near = found.distance / np.maximum(apart, NEAREST_RIVAL)
    return np.where(found.has_rival, near, np.nan), found.converged


def _loads(
    substances: Substances, part: Part, temperatures_K: float | Array
) -> tuple[Bools, Array, Array]:
    """`cosolvency.loading` of each blend: where it speaks, minus ln of the load (NaN without oils),
    and its standard deviation."""
    table = cosolvents()
    names = substances.names
    is_cosolvent = np.array([name in table for name in names])
    is_solvent = is_cosolvent | np.array([name == "water" for name in names])
    index, there = part.index, part.there
    density, _ = substances.densities(ROOM_K)
    volumes = part.mass_kg / np.where(np.isnan(density), DEFAULT_DENSITY_kg_m3, density)[index]
    solvent = is_solvent[index] & there
    solvent_volume = (volumes * solvent).sum(axis=1)
    volume = volumes.sum(axis=1)
    speaks = (_of(substances, part, part.mass_kg, ("water",)) > 0.0) & ~(
        solvent_volume < LEAST_SOLVENT_SHARE * volume
    )
    log10_water, log10_sd, known = _in_water(substances, np.unique(index[there & ~solvent]))
    oil = there & ~solvent
    speaks &= (known[index] | ~oil).all(axis=1)
    intercept = np.array([table[n].intercept if n in table else 0.0 for n in names])
    slope = np.array([table[n].slope if n in table else 0.0 for n in names])
    with np.errstate(divide="ignore", invalid="ignore"):
        f = volumes * (is_cosolvent[index] & there) / solvent_volume[:, None]
        helped = (f * intercept[index]).sum(axis=1, keepdims=True)
        weight = 1.0 - (f * slope[index]).sum(axis=1, keepdims=True)
    counted = oil & np.isfinite(log10_water[index])
    log10 = np.where(counted, helped + weight * np.where(counted, log10_water[index], 0.0), np.inf)
    held = 1e3 * 10.0**log10 * np.exp(_warming_ln(substances, part, solvent, temperatures_K))
    with np.errstate(divide="ignore", invalid="ignore"):
        loads = np.where(counted, part.moles / volume[:, None] / held, 0.0)
        total = loads.sum(axis=1)
        shares = loads / total[:, None]
        sd = LN_10 * weight[:, 0] * np.sqrt(((shares * log10_sd[index]) ** 2).sum(axis=1))
        margin = np.where(total > 0.0, -np.log(total), np.nan)
    return speaks, margin, np.where(total > 0.0, sd, 0.0)


def _in_water(substances: Substances, needed: Ints) -> tuple[Array, Array, Bools]:
    """log10 of the water solubility (mol/L, infinite for what mixes), its sd, and whether known."""
    table: dict[int, tuple[float, float, bool]] = substances.once(("in water",), dict)
    for i in needed.tolist():
        if i not in table:
            found = water_solubility(substances.pures[i].material)
            if found is None:
                table[i] = (np.inf, 0.0, False)
            elif np.isfinite(found.mol_m3):
                table[i] = (float(np.log10(found.mol_m3 / 1e3)), found.log10_sd, True)
            else:
                table[i] = (np.inf, 0.0, True)
    rows = np.array([table.get(i, (np.inf, 0.0, True)) for i in range(len(substances))], float)
    return rows[:, 0], rows[:, 1], rows[:, 2] > 0.0


def _warming_ln(
    substances: Substances, part: Part, solvent: Bools, temperatures_K: float | Array
) -> Array:
    change = np.zeros(part.index.shape)
    if np.ndim(temperatures_K) == 0 and temperatures_K == ROOM_K:
        return change
    where = np.flatnonzero(complete(substances, "unifac2", part) & solvent.any(axis=1))
    if not where.size:
        return change
    x = np.where(solvent, part.moles, 0.0)[where]
    x = np.maximum(x / x.sum(axis=1, keepdims=True), TRACE * part.there[where])
    x = (x / x.sum(axis=1, keepdims=True))[:, None, :]
    voice = Voice(substances, "unifac2", part.only(where))
    if isinstance(temperatures_K, float):
        here = voice.at(temperatures_K)
    else:
        here = voice.at_own(np.asarray(temperatures_K)[where])
    moved = (here.ln_gamma(x) - voice.at(ROOM_K).ln_gamma(x))[:, 0, :]
    change[where] = np.where(solvent[where] | ~part.there[where], 0.0, -moved)
    return change


def clouds(substances: Substances, part: Part, ends: bool = True) -> tuple[Array, Array]:
    """`cloud_temperature`: value, low and high (3, blends), K, and the status of each.

    Without `ends` the low and high ends aren't looked for, and are the value.
    """
    found = np.full((3, len(part)), np.nan)
    status = np.full(len(part), "ok", dtype=object)
    single = part.there.sum(axis=1) < 2
    step = (HIGHEST_CLOUD_K - LOWEST_CLOUD_K) / (CLOUD_NODES - 1)
    nodes = [HIGHEST_CLOUD_K - step * i for i in range(CLOUD_NODES)]
    seen = np.full((CLOUD_NODES, len(part)), np.nan)
    seen[0] = chances(substances, part, nodes[0], AS_LIKELY_AS_NOT)
    status[np.isnan(seen[0])] = "unknown"
    status[seen[0] > AS_LIKELY_AS_NOT] = "out_of_range"
    status[single] = "not_applicable"
    open_ = np.flatnonzero(status == "ok")
    for number, node in enumerate(nodes[1:], start=1):
        if open_.size:
            seen[number, open_] = chances(substances, part.only(open_), node, AS_LIKELY_AS_NOT)

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
            chance = chances(substances, part.only(where[passes[which]]), kelvin, level)
            return np.where(np.isnan(chance), np.nan, np.where(chance > level, 1.0, -1.0))

        ones = np.ones(passes.size)
        found = roots_between(over, low[passes], high[passes], CLOUD_TOLERANCE_K, ones, -ones)
        sure[passes] &= found.converged
        middle = np.full(where.size, np.nan)
        middle[passes] = 0.5 * (found.low + found.high)
        return middle, sure

    value, sure = crossings(open_, AS_LIKELY_AS_NOT)
    status[open_[np.isnan(value)]] = "not_applicable"
    status[open_[~sure]] = "unknown"
    some = ~np.isnan(value) & sure
    where, value = open_[some], value[some]
    found[:, where] = value
    if where.size and ends:
        for number, node in enumerate(nodes):  # so far only on which side of even they lie
            seen[number, where] = chances(substances, part.only(where), node)
        (low, low_sure), (high, high_sure) = crossings(where, LIKELY), crossings(where, UNLIKELY)
        low = np.where(np.isnan(low), LOWEST_CLOUD_K, low)
        high = np.where(np.isnan(high), value, high)
        high = np.where(seen[0, where] > UNLIKELY, HIGHEST_CLOUD_K, high)
        found[:, where] = value, np.minimum(value, low), np.maximum(value, high)
        unsure = where[~(low_sure & high_sure)]
        status[unsure], found[:, unsure] = "unknown", np.nan
    return found, status
