"""One clear liquid or layers: the chance of a split, and the cloud point.

The liquid model (`liquid`) gives the lowest tangent-plane distance D of an incipient phase w from
the blend x (`liquid_split`). Its posterior draws k move it by

    D_k = D + sum_i w_i (d ln gamma_ik(w) - d ln gamma_ik(x))

and the chance of a split is the mean over the draws, each taken with both signs, of
F(-D_k / (MODEL_ERROR_RT apart)), F the logistic distribution function scaled to the normal one and
`apart` half the sum of the mole fractions' differences between w and x. So the chance is one half
exactly where the posterior mean is at its binodal. Where the mean has no incipient phase, the draw
with the largest excess energy at x is searched too; without one there either the chance is SETTLED.

In watery blends log-linear cosolvency (`cosolvency`) is a second member: it knows measured water
solubilities of the oils, and limits of clearness in dilute alcohol. It counts COSOLVENCY_WEIGHT
where there is enough water and solvent for it, less near the edge of its range. A single
substance can't split.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import Oils, cosolvency_sources, loading, oils
from blendwright.mixture.interval import Interval
from blendwright.mixture.liquid import (
    NO_GROUPS,
    SOURCES,
    Liquid,
    LiquidAt,
    is_covered,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.survey import COLDEST_K, WARMEST_K, most_unstable, stabilities
from blendwright.pure.roots import Bools, Ints

SETTLED_CHANCE = 0.01
ONE_SUBSTANCE = 0.0
NEAREST = (
    0.05  # a nearer incipient phase counts as this far: near a critical point all is uncertain
)
MODEL_ERROR_RT = 0.04  # of the distance, for an incipient phase that shares nothing with the blend
LOGISTIC_TO_NORMAL = 1.702  # the two distribution functions are then within 0.01
COSOLVENCY_WEIGHT = 0.6
COSOLVENCY_SCALE = 0.43  # of ln load, learned from acceptance limits in dilute alcohol
WATER_SHARE = (0.05, 0.15)  # of the mass: where cosolvency begins to count, and counts in full
SOLVENT_SHARE = (0.4, 0.6)  # of the volume, likewise
LOWEST_CLOUD_K, HIGHEST_CLOUD_K = COLDEST_K, WARMEST_K  # a survey knows both ends
KNOTS_K = np.linspace(HIGHEST_CLOUD_K, LOWEST_CLOUD_K, 49)
COARSE = 16  # knots from one that is always asked for to the next
AS_LIKELY_AS_NOT = 0.5
LIKELY, UNLIKELY = 0.8, 0.2  # the ends of the cloud temperature's interval

Update = Callable[[float, float], float]  # the models' chance at a temperature -> as it stands


def normal_share(z: Array) -> Array:
    """The normal distribution function, by the logistic one."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * LOGISTIC_TO_NORMAL * z)))


@dataclass(frozen=True, eq=False)
class Chances:
    """The chance of layers of each blend, NaN where the model does not cover it or a search did not
    converge; which blends it covers."""

    value: Array
    covered: Bools


def chances(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    level: float | None = None,
) -> Chances:
    """Tell the chance of a split of each blend of a part.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    temperatures_K : float or array (blends,)
    level : float, optional
        With one half the draws are left out where the liquid model alone speaks: there they change
        nothing about the side on which the chance lies.

    Returns
    -------
    Chances
    """
    covered = is_covered(substances, part)
    value = np.full(len(part), np.nan)
    where = np.flatnonzero(covered)
    if where.size:
        some, own = part.only(where), _of_some(temperatures_K, where)
        weight, by_load = _by_cosolvency(substances, some, own)
        at_half = level == AS_LIKELY_AS_NOT
        draws = np.full(where.size, True) if not at_half else weight > 0.0
        chance = np.full(where.size, np.nan)
        for wanted in (True, False):
            which = np.flatnonzero(draws == wanted)
            if which.size:
                at = _of_some(own, which)
                chance[which] = _by_stability(substances, some.only(which), at, wanted)
        value[where] = (1.0 - weight) * chance + weight * by_load
    single = part.there.sum(axis=1) == 1
    value[single] = ONE_SUBSTANCE
    return Chances(value, covered | single)


def _by_stability(
    substances: Substances, part: Part, temperatures_K: float | Array, draws: bool
) -> Array:
    """By the liquid model and its draws; NaN where a search did not converge."""
    liquid = Liquid(substances, part.index)
    model = liquid.at(temperatures_K)
    found = stabilities(part, model, only_sides=not draws)
    distance, incipient = found.distance.copy(), found.rival.copy()
    has_one, converged = found.has_rival.copy(), found.converged.copy()
    bare = np.zeros(0, dtype=int)
    if draws:
        bare = np.flatnonzero(~has_one & (part.there.sum(axis=1) > 1))
    if bare.size:
        x = part.x[bare]
        more = most_unstable(liquid.only(bare), x, _of_some(temperatures_K, bare))
        some = np.flatnonzero(more.has_rival)
        if some.size:
            w = more.rival[some]
            distance[bare[some]] = _distance(model.only(bare[some]), x[some], w)
            incipient[bare[some]], has_one[bare[some]] = w, True
    chance = np.full(len(part), SETTLED_CHANCE)
    where = np.flatnonzero(has_one)
    if where.size:
        w, x = incipient[where], part.x[where]
        moved = np.zeros((where.size, 1))
        if draws:
            own, here = _of_some(temperatures_K, where), liquid.only(where)
            moved = distance_shifts(here, x, w, own)
        both = np.hstack([distance[where, None] + moved, distance[where, None] - moved])
        by_draw = normal_share(-both / form_error_RT(x, w)[:, None])
        chance[where] = np.maximum(by_draw.mean(axis=1), SETTLED_CHANCE)
    chance[~converged] = np.nan
    return chance


def distance_shifts(liquid: Liquid, x: Array, w: Array, temperatures_K: float | Array) -> Array:
    """By how much each draw moves the tangent-plane distance of w from x, in RT (blends, draws)."""
    return liquid.draw_shifts(w, w, temperatures_K) - liquid.draw_shifts(x, w, temperatures_K)


def form_error_RT(x: Array, w: Array) -> Array:
    """The error of the model's form in that distance, as a standard deviation (blends,)."""
    apart = np.maximum(0.5 * np.abs(w - x).sum(axis=1), NEAREST)
    return np.asarray(MODEL_ERROR_RT * apart)


def _distance(model: LiquidAt, x: Array, w: Array) -> Array:
    """The tangent-plane distance of w from x, in RT."""
    ln_gamma = model.ln_gamma(np.stack([x, w], axis=1))
    there = (x > 0.0) & (w > 0.0)
    ratio = np.where(there, w, 1.0) / np.where(there, x, 1.0)
    return np.asarray((w * (np.log(ratio) + ln_gamma[:, 1] - ln_gamma[:, 0])).sum(axis=1))


def _by_cosolvency(
    substances: Substances, part: Part, temperatures_K: float | Array
) -> tuple[Array, Array]:
    """The weight of log-linear cosolvency, and the chance of a split by it."""
    watery = ((part.index == substances.named("water")) & part.there).any(axis=1)
    weight, chance = np.zeros(len(part)), np.zeros(len(part))
    where = np.flatnonzero(watery)
    if where.size:
        some = part.only(where)
        found = oils(substances, some, _of_some(temperatures_K, where))
        weight[where] = _cosolvency_weight(substances, some, found)
        ln_load = found.ln_load()
        counted = np.isfinite(ln_load)
        z = np.where(counted, ln_load, 0.0) / np.hypot(COSOLVENCY_SCALE, found.ln_sd)
        chance[where] = np.where(counted, normal_share(z), SETTLED_CHANCE)
    return weight, chance


def _cosolvency_weight(substances: Substances, part: Part, found: Oils) -> Array:
    water = np.where((part.index == substances.named("water")) & part.there, part.mass_kg, 0.0)
    share = water.sum(axis=1) / part.mass_kg.sum(axis=1)
    counted = _ramp(share, WATER_SHARE) * _ramp(found.solvent_share, SOLVENT_SHARE)
    return np.asarray(COSOLVENCY_WEIGHT * found.applies * counted)


def _ramp(value: Array, ends: tuple[float, float]) -> Array:
    return np.clip((value - ends[0]) / (ends[1] - ends[0]), 0.0, 1.0)


def _of_some(temperatures_K: float | Array, where: Ints) -> float | Array:
    """One temperature is that of all; of each blend's own those of some."""
    return temperatures_K if isinstance(temperatures_K, float) else temperatures_K[where]


class _Curves:
    """The chance of a split of each blend of a part at KNOTS_K, NaN where it is not known: it was
    not `asked` for, or a search did not converge."""

    def __init__(self, substances: Substances, part: Part, update: Update | None) -> None:
        self.substances = substances
        self.part = part
        self.update = update
        self.value = np.full((len(KNOTS_K), len(part)), np.nan)
        self.asked = np.zeros(self.value.shape, dtype=bool)

    def ask(self, wanted: Bools, level: float | None = None) -> Bools:
        """At knots of blends (knots, blends), as in `chances`; which of them the models cover."""
        knot, blend = np.nonzero(wanted)
        covered = np.zeros(wanted.shape, dtype=bool)
        if knot.size:
            kelvin = KNOTS_K[knot]
            level = level if self.update is None else None
            found = chances(self.substances, self.part.only(blend), kelvin, level)
            value = found.value
            if self.update is not None:
                pairs = zip(value.tolist(), kelvin.tolist(), strict=True)
                value = np.array([c if math.isnan(c) else self.update(c, t) for c, t in pairs])
            self.value[knot, blend], self.asked[knot, blend] = value, True
            covered[knot, blend] = found.covered
        return covered

    def passes(self, level: float) -> tuple[Ints, Ints]:
        """The knots of each blend between which the chance first passes the level on the way down;
        the lower one is 0 where it is above at the top, and -1 where it never passes."""
        with np.errstate(invalid="ignore"):
            above = self.value > level
        cool = np.where(above.any(axis=0), np.argmax(above, axis=0), -1)
        number = np.arange(len(KNOTS_K))[:, None]
        before = np.where(~np.isnan(self.value) & (number < cool), number, -1).max(axis=0)
        return before, cool

    def refine(self, levels: Sequence[float], blends: Bools) -> None:
        """Ask at the three knots nearest to where the levels are passed, until there are neighbours
        on both sides."""
        while True:
            wanted = np.zeros(self.value.shape, dtype=bool)
            for level in levels:
                warm, cool = self.passes(level)
                open_ = np.flatnonzero(blends & (warm >= 0) & (cool - warm > 1))
                nearest = np.rint(self._place(level, warm, cool, open_)).astype(np.int64)
                for knot in (nearest - 1, nearest, nearest + 1):
                    wanted[np.clip(knot, warm[open_] + 1, cool[open_] - 1), open_] = True
            wanted &= ~self.asked
            if not wanted.any():
                return
            self.ask(wanted)

    def _place(self, level: float, warm: Ints, cool: Ints, blends: Ints) -> Array:
        """Where the chance passes a level between two knots, in knots; the logit is a straight line
        between them."""
        first, last = (_logit(self.value[knot[blends], blends]) for knot in (warm, cool))
        share = (_logit(np.asarray(level)) - first) / (last - first)
        return np.asarray(warm[blends] + share * (cool - warm)[blends])

    def crossing_K(self, level: float) -> Array:
        """Where each chance first passes the level on the way down, NaN where it never does; the
        logit is a straight line between knots."""
        warm, cool = self.passes(level)
        where = np.flatnonzero((cool > 0) & (warm >= 0))
        found = np.full(len(self.part), np.nan)
        share = (self._place(level, warm, cool, where) - warm[where]) / (cool - warm)[where]
        at = KNOTS_K[warm[where]], KNOTS_K[cool[where]]
        found[where] = at[0] + share * (at[1] - at[0])
        return found

    @property
    def sure(self) -> Bools:
        """Whether all that was asked is known."""
        return np.asarray(~(self.asked & np.isnan(self.value)).any(axis=0))


def _logit(chance: Array) -> Array:
    inside = np.clip(chance, SETTLED_CHANCE, 1.0 - SETTLED_CHANCE)
    return np.asarray(np.log(inside / (1.0 - inside)))


def clouds(substances: Substances, part: Part, update: Update | None = None) -> Interval:
    """Find the highest temperature between -20 and 80 °C at which a split is as likely as not.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    update : callable, optional
        Turns the models' (chance, temperature in K) into the chance that what was seen at the bench
        leaves.

    Returns
    -------
    Interval
        K, from where a split is UNLIKELY (above) to where it is LIKELY (below). "not_applicable"
        where it is clear over the whole range or a single substance, "out_of_range" where it is
        split at the top, "unknown" where no member covers it.
    """
    curves = _Curves(substances, part, update)
    number = np.arange(len(KNOTS_K))[:, None]
    covered = curves.ask((number == 0) & np.ones(len(part), dtype=bool), AS_LIKELY_AS_NOT)[0]
    top = curves.value[0]
    converged = ~(covered & np.isnan(top))
    status = np.full(len(part), "ok", dtype=object)
    status[np.isnan(top)] = "unknown"
    status[top > AS_LIKELY_AS_NOT] = "out_of_range"
    status[part.there.sum(axis=1) < 2] = "not_applicable"
    converged |= status == "not_applicable"
    open_ = status == "ok"
    coarse = (number % COARSE == 0) & open_
    curves.ask(coarse & (number > 0), AS_LIKELY_AS_NOT)
    sure = curves.sure
    clouding = open_ & (curves.passes(AS_LIKELY_AS_NOT)[1] > 0) & sure
    curves.ask(coarse & clouding)  # so far only on which side of even they lie
    curves.refine((AS_LIKELY_AS_NOT, LIKELY, UNLIKELY), clouding)
    value, low, high = (curves.crossing_K(level) for level in (AS_LIKELY_AS_NOT, LIKELY, UNLIKELY))
    status[open_ & sure & ~clouding] = "not_applicable"
    converged[open_ & ~curves.sure] = False
    low = np.where(np.isnan(low), LOWEST_CLOUD_K, low)
    high = np.where(np.isnan(high), value, high)
    high = np.where(curves.value[0] > UNLIKELY, HIGHEST_CLOUD_K, high)
    value[~clouding] = np.nan
    return Interval.of(value, np.fmin(value, low), np.fmax(value, high), status, converged)


# One blend


@dataclass(frozen=True)
class Clarity:
    """Chance that the liquid splits into layers, and the sources behind it."""

    chance_of_split: float
    sources: tuple[str, ...]


def clarity(composition: Composition, temperature_K: float) -> Clarity | None:
    """Tell the chance that a blend splits into layers at one temperature.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.

    Returns
    -------
    Clarity or None
        None where the model does not cover the blend, or a search did not converge.
    """
    if not composition.substances:
        return None
    chance = float(chances(composition.table, composition.part, temperature_K).value[0])
    return None if math.isnan(chance) else Clarity(chance, clarity_sources(composition))


def clarity_sources(composition: Composition) -> tuple[str, ...]:
    return (*cosolvency_sources(composition), *SOURCES)


def chance_of_haze(
    composition: Composition, temperature_K: float, chance: float, least_kg: float
) -> float:
    """Tell the chance that more oil than so much stays undissolved, from the chance that any does.

    Only log-linear cosolvency tells how much: where some oil stays, so much does with the ratio of
    its two chances, the one with the margin up to that amount (`Loading.ln_margin`). Without it, in
    a liquid without water, the chance is the same.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.
    chance : float
        That any stays, 0 to 1.
    least_kg : float

    Returns
    -------
    float
        0 to 1.
    """
    found = loading(composition, temperature_K)
    if found is None or math.isinf(found.ln_load):
        return chance
    table, part = composition.table, composition.part
    weight = float(_cosolvency_weight(table, part, oils(table, part, temperature_K))[0])
    scale = math.hypot(COSOLVENCY_SCALE, found.ln_sd)
    until = found.ln_margin(composition.mass_kg, least_kg)
    any_oil = float(normal_share(np.asarray(found.ln_load / scale)))
    so_much = 0.0
    if math.isfinite(until):
        so_much = min(any_oil, float(normal_share(np.asarray(-until / scale))))
    counted = weight / COSOLVENCY_WEIGHT
    of_that = so_much / any_oil if any_oil > 0.0 else 1.0
    return chance * (1.0 - counted * (1.0 - of_that))


def cloud_temperature(composition: Composition, update: Update | None = None) -> Estimate:
    """Find the cloud temperature of one blend, as `clouds`.

    Parameters
    ----------
    composition : Composition
        One blend.
    update : callable, optional

    Returns
    -------
    Estimate
        K.
    """
    method = "chance of a split, -20 to 80 °C"
    if len(composition.substances) < 2:
        return Estimate.absent("K", "not_applicable", "a single substance", method)
    found = clouds(composition.table, composition.part, update=update)
    if not found.is_ok[0]:
        reasons = {
            "out_of_range": "in layers at 80 °C too",
            "not_applicable": "clear from -20 to 80 °C",
            "unknown": NO_GROUPS,
        }
        reason = reasons[str(found.status[0])]
        return found.not_ok("K", "cloud temperature", reason, method)
    value, low, high = found.ends()
    at_end = low == LOWEST_CLOUD_K
    notes = ("the low end is the end of the range looked at",) if at_end else ()
    return Estimate.ok(value, low, high, "K", method, clarity_sources(composition), notes)
