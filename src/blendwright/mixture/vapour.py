"""The vapour over blends: its pressure, what is in it, and when the liquid boils.

Modified Raoult's law, p_i = x_i gamma_i Psat_i(T), ideal vapour. Where the liquid parts into
layers the layers' own compositions are used: both give the same vapour.

ln gamma is evaluated at NODES temperatures shared by all blends and interpolated between them as a
polynomial in 1/T (Chebyshev); the pure vapour pressures are exact at every blend's own
temperature. Where the last coefficients say that the polynomial isn't good to ROUGHNESS, or the
answer lies outside the nodes' range, ln gamma itself is solved with, at each blend's temperature.
Blends that may lie in layers are solved as one liquid first, and then, where the set has them in
layers there, with `mixture.layered` from that temperature on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial.chebyshev import chebvander

from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.interval import Interval
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid_split import BlockModel
from blendwright.mixture.members import (
    AtTemperature,
    CompleteSet,
    Member,
    complete,
    search_for_layers,
    set_rules,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Picked, Substances
from blendwright.mixture.vapour_correction import glycol_ln_gamma, learned
from blendwright.pure.roots import Bools, Ints, temperatures_where_zero
from blendwright.pure.vapour_pressure import OUTSIDE_MOST, OUTSIDE_PER_K

if TYPE_CHECKING:
    from blendwright.mixture.machine.activity import Sets

LOWEST_K = 150.0
HIGHEST_K = 750.0
SLOPE_STEP_K = 0.5
LN_FLOOR = 0.02  # 90 % half-width of ln P below which nothing is claimed
NODES = 20
NODES_LOW_K, NODES_HIGH_K = 245.0, 545.0
ROUGHNESS = 3e-9  # of ln(sum): 1e-7 K at most
SECANT_STEPS = 25
SETTLED = 1e-9  # of 1/T: the step after the last would be far smaller (secants)
FIRST_SLOPE_K = -5000.0  # of ln p against 1/T, for the first step only
BOILING_START_K = 350.0
NO_COMPLETE_SET = "no parameter set covers every group pair in this blend"


def chebyshev_nodes() -> tuple[Array, Array]:
    """Temperatures, and the matrix from values there to Chebyshev coefficients in 1/T."""
    angles = np.pi * (np.arange(NODES) + 0.5) / NODES
    warm, cold = 1.0 / NODES_HIGH_K, 1.0 / NODES_LOW_K
    inverse = 0.5 * (warm + cold) + 0.5 * (cold - warm) * np.cos(angles)
    matrix = 2.0 / NODES * np.cos(np.outer(np.arange(NODES), angles))
    matrix[0] *= 0.5
    return 1.0 / inverse, matrix


NODE_K, TO_COEFFICIENTS = chebyshev_nodes()


def node_weights(temperature_K: Array) -> Array:
    """What each node's value counts at each temperature (temperatures, nodes)."""
    warm, cold = 1.0 / NODES_HIGH_K, 1.0 / NODES_LOW_K
    position = (2.0 / temperature_K - warm - cold) / (cold - warm)
    return np.asarray(chebvander(np.clip(position, -1.0, 1.0), NODES - 1) @ TO_COEFFICIENTS)


class OverGlycols:
    """A set's ln gamma with what was learned of its error over glycols."""

    def __init__(self, model: AtTemperature, terms: Array, is_glycol: Array) -> None:
        self.model, self.terms, self.is_glycol = model, terms, is_glycol

    def only(self, keep: Picked) -> OverGlycols:
        return OverGlycols(self.model.only(keep), self.terms[keep], self.is_glycol[keep])

    def ln_gamma(self, x: Array) -> Array:
        more = glycol_ln_gamma(self.terms[:, None, :], self.is_glycol[:, None, :], x)
        return np.asarray(self.model.ln_gamma(x) + more)

    def sets(self) -> Sets:
        """For machine code."""
        own = self.model.sets()
        return replace(own, terms=self.terms, is_glycol=self.is_glycol.astype(float))


class VapourMember:
    """The vapour over the blends of one part by one parameter set (complete for all of them)."""

    def __init__(self, substances: Substances, name: str, part: Part, may_split: Bools) -> None:
        self.substances = substances
        self.name = name
        self.part = part
        self.split = np.flatnonzero(may_split)
        self.x = part.x
        self.member = Member(substances, name, part)
        self.curves = substances.curves.picked(part.index)

    @cached_property
    def ln_x(self) -> Array:
        with np.errstate(divide="ignore"):
            return np.log(self.x)

    @cached_property
    def glycol_terms(self) -> tuple[Array, Array]:
        """b of each component by this set, and which are glycols (blends, components)."""
        own, index = self.substances, self.part.index
        if not own.is_glycol.any():
            return np.zeros(index.shape), np.zeros(index.shape)
        known = learned()[self.name]
        hydrocarbon = own.is_hydrocarbon
        terms = (own.carrier_classes == 2) * (
            known.hydrocarbon_term * hydrocarbon + known.solute_term * (1.0 - hydrocarbon)
        )
        return terms[index], own.is_glycol[index]

    @cached_property
    def glycol_part(self) -> Array:
        """What was learned of the set's error over glycols (blends, components)."""
        terms, is_glycol = self.glycol_terms
        return glycol_ln_gamma(terms, is_glycol, self.x)

    def over_glycols(self, at: AtTemperature, blends: Ints) -> OverGlycols:
        """The model of some of the blends, with the learned terms."""
        terms, is_glycol = self.glycol_terms
        return OverGlycols(at.only(blends), terms[blends], is_glycol[blends])

    def layered(self) -> Layered:
        """All its blends, in layers where the set says so."""
        terms, is_glycol = self.glycol_terms

        def model_at(temperature_K: Array, blends: Ints) -> BlockModel:
            member = self.member.only(blends)
            same = bool((temperature_K == temperature_K[0]).all())
            at = member.at(float(temperature_K[0])) if same else member.at_own(temperature_K)
            return OverGlycols(at, terms[blends], is_glycol[blends])

        return Layered(model_at, self.x, search_for_layers())

    def layered_terms(self, liquid: Layered, temperature_K: Array, blends: Ints) -> Array:
        """x gamma Psat over the layers of some of the blends, each at its temperature;
        `liquid.converged` tells whether the layers are sure."""
        x, ln_gamma = liquid.liquid(temperature_K, blends)
        curves = self.substances.curves.picked(self.part.index[blends])
        return np.asarray(x * np.exp(ln_gamma + curves.ln_pressures(temperature_K)))

    @cached_property
    def at_nodes(self) -> Array:
        """ln gamma at NODE_K (blends, nodes, components)."""
        return self.member.at_nodes(self.x, NODE_K) + self.glycol_part[:, None, :]

    @cached_property
    def _last_coefficients(self) -> Array:
        """The last two of each polynomial, without signs (blends, 2, components)."""
        return np.asarray(np.abs(np.einsum("kn,bnp->bkp", TO_COEFFICIENTS[-2:], self.at_nodes)))

    def ln_gamma_at(self, temperature_K: float) -> Array:
        """At a temperature shared by all."""
        found = self.member.at(temperature_K).ln_gamma(self.x[:, None, :])[:, 0, :]
        return np.asarray(found + self.glycol_part)

    def ln_gamma_own(self, temperature_K: Array, keep: Ints) -> Array:
        """At each blend's own temperature, for some of the blends."""
        at = self.member.only(keep).at_own(temperature_K)
        found = at.ln_gamma(self.x[keep][:, None, :])[:, 0, :]
        return np.asarray(found + self.glycol_part[keep])

    # Pressures

    def pressures_Pa(self, temperature_K: float) -> tuple[Array, Bools]:
        """x gamma Psat at a temperature shared by all, and whether the layers are sure."""
        ln_pure = self.substances.curves.ln_pressures(temperature_K)[self.part.index]
        p = np.asarray(self.x * np.exp(self.ln_gamma_at(temperature_K) + ln_pure))
        converged = np.ones(len(p), dtype=bool)
        if self.split.size:
            kelvin = np.full(self.split.size, temperature_K)
            liquid = self.layered()
            p[self.split] = self.layered_terms(liquid, kelvin, self.split)
            converged = liquid.converged
        return p, converged

    def pressures_own_Pa(self, temperature_K: Array) -> Array:
        """x gamma Psat at each blend's temperature: on the nodes where they reach, else exactly;
        NaN where the layers are not sure."""
        t = np.where(np.isfinite(temperature_K), temperature_K, ROOM_K)
        ln_gamma = np.einsum("bn,bnp->bp", node_weights(t), self.at_nodes)
        rough = (self._last_coefficients * self.x[:, None, :]).max(axis=(1, 2)) > ROUGHNESS
        out = np.flatnonzero(rough | (t < NODES_LOW_K) | (t > NODES_HIGH_K))
        if out.size:
            ln_gamma[out] = self.ln_gamma_own(t[out], out)
        p = np.asarray(self.x * np.exp(ln_gamma + self.curves.ln_pressures(t)))
        if self.split.size:
            liquid = self.layered()
            p[self.split] = self.layered_terms(liquid, t[self.split], self.split)
            p[~liquid.converged] = np.nan
        return p

    # Doubts

    @cached_property
    def ln_sd(self) -> Array:
        """Standard deviation of each substance's ln gamma by this set, as learned.

        By the classes of what it is dissolved in, mole shares weighing them. The errors were
        learned at infinite dilution; with the substance's own share they fall as ln gamma itself
        does in a regular mixture, (1 - x)^2.
        """
        sd = learned()[self.name].ln_sd
        own = self.substances
        plain = np.array([sd["glycol"], sd["water"], sd["other"]])[own.carrier_classes]
        by_glycol = np.where(own.carrier_classes == 0, sd["glycol_hydrocarbon"], plain)
        index, x = self.part.index, self.x
        carbon = own.is_hydrocarbon[index] > 0.5
        plain, by_glycol = plain[index], by_glycol[index]
        around = np.where(
            carbon,
            (by_glycol * x).sum(axis=1, keepdims=True),
            (plain * x).sum(axis=1, keepdims=True),
        )
        return np.asarray((1.0 - x) * (around - x * np.where(carbon, by_glycol, plain)))

    def ln_uncertainty(self, temperature_K: Array) -> Array:
        """Of the pure vapour pressures at each blend's temperature."""
        inside, low, high = (values[self.part.index] for values in self.substances.ln_uncertainty)
        t = temperature_K[:, None]
        outside = np.maximum(0.0, np.maximum(low - t, t - high))
        return np.asarray(inside + np.minimum(OUTSIDE_MOST, OUTSIDE_PER_K * outside))

    def pure_slopes_per_K(self, temperature_K: Array) -> Array:
        """Of each component's ln Psat; zero without a curve."""
        t = np.where(np.isfinite(temperature_K), temperature_K, ROOM_K)
        slopes = self.curves.ln_pressures(t + 0.5) - self.curves.ln_pressures(t - 0.5)
        return np.where(np.isfinite(slopes), slopes, 0.0)

    def half_width_ln(self, pressures: Array, temperature_K: Array) -> Array:
        """Half-width of ln(total), 90 %: the pure vapour pressures' and the activities' errors."""
        shares = shares_of(pressures)
        inputs = np.sqrt(((shares * self.ln_uncertainty(temperature_K)) ** 2).sum(axis=1))
        activity = NORMAL_90 * (shares * self.ln_sd).sum(axis=1)
        return np.asarray(np.sqrt(inputs**2 + activity**2 + LN_FLOOR**2))

    # Solving for a temperature

    def solve(
        self, ln_weights: Array, ln_target: float, start_K: Array, highest_K: float
    ) -> tuple[Array, Bools]:
        """Where ln sum(x gamma Psat exp(ln_weights)) of the one liquid reaches a target, K; NaN
        where it does not between LOWEST_K and `highest_K`. And which searches converged."""
        found, sure = self._on_nodes(ln_weights, ln_target, start_K)
        converged = np.ones(len(found), dtype=bool)
        rest = np.flatnonzero(~sure)
        if rest.size:
            begin = np.where(np.isfinite(found[rest]), found[rest], start_K[rest])
            found[rest], converged[rest] = self._exactly(
                rest, ln_weights[rest], ln_target, begin, highest_K
            )
        found[found > highest_K] = np.nan
        return found, converged

    def solve_layers(
        self, single_K: Array, ln_weights: Array, ln_target: float, highest_K: float
    ) -> tuple[Array, Bools]:
        """The same over the layers for the blends of `split`, from the one liquid's (split,)."""
        found = single_K.copy()
        converged = np.ones(len(found), dtype=bool)
        liquid = self.layered()

        def above(temperature_K: Array, which: Ints) -> Array:
            blends = self.split[which]
            terms = self.layered_terms(liquid, temperature_K, blends)
            return _ln_sum(terms * np.exp(ln_weights[blends])) - ln_target

        known = np.flatnonzero(np.isfinite(single_K))
        if known.size:
            first = above(single_K[known], known)
            converged[known] = liquid.converged[self.split[known]]
            in_layers = liquid.parted[self.split[known]]
            known, first = known[in_layers], first[in_layers]
        if known.size:
            roots = temperatures_where_zero(
                lambda t, which: above(t, known[which]), single_K[known], LOWEST_K, highest_K, first
            )
            found[known] = roots.root
            converged[known] = liquid.converged[self.split[known]]
            converged[known] &= roots.converged | ~roots.crosses
        return found, converged

    def _on_nodes(self, ln_weights: Array, target: float, start_K: Array) -> tuple[Array, Bools]:
        base = self.ln_x + ln_weights

        def value(inverse: Array) -> tuple[Array, Array]:
            t = 1.0 / inverse
            ln_gamma = np.einsum("bn,bnp->bp", node_weights(t), self.at_nodes)
            terms = np.exp(base + ln_gamma + self.curves.ln_pressures(t))
            return _ln_sum(terms) - target, terms

        ends = (1.0 / NODES_HIGH_K, 1.0 / NODES_LOW_K)
        inverse, terms, settled = _secant(value, np.clip(1.0 / start_K, *ends), ends)
        rough = np.einsum("bkp,bp->b", self._last_coefficients, shares_of(terms))
        inside = (inverse > ends[0] * 1.0001) & (inverse < ends[1] * 0.9999)
        return 1.0 / inverse, settled & inside & (rough < ROUGHNESS)

    def _exactly(
        self, keep: Ints, ln_weights: Array, target: float, start_K: Array, highest_K: float
    ) -> tuple[Array, Bools]:
        base = self.ln_x[keep] + ln_weights
        index = self.part.index[keep]

        def value(t: Array, which: Ints) -> Array:
            ln_gamma = self.ln_gamma_own(t, keep[which])
            ln_pure = self.substances.curves.picked(index[which]).ln_pressures(t)
            return _ln_sum(np.exp(base[which] + ln_gamma + ln_pure)) - target

        found = temperatures_where_zero(value, start_K, LOWEST_K, highest_K)
        return found.root, found.converged | ~found.crosses


def _ln_sum(terms: Array) -> Array:
    """Of each blend; minus infinity where nothing counts."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(terms.sum(axis=1)))


def shares_of(terms: Array) -> Array:
    """Of each blend's sum; NaN where nothing counts."""
    with np.errstate(invalid="ignore"):
        return np.asarray(terms / terms.sum(axis=1, keepdims=True))


def _secant(
    value: Callable[[Array], tuple[Array, Array]], start: Array, ends: tuple[float, float]
) -> tuple[Array, Array, Bools]:
    """Roots of functions that fall with 1/T, their terms there, and which were found."""
    old = start
    f_old, terms = value(old)
    new = np.clip(old - f_old / FIRST_SLOPE_K, *ends)
    settled = np.zeros(len(start), dtype=bool)
    for _ in range(SECANT_STEPS):
        f_new, terms = value(new)
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (f_new - f_old) / (new - old)
            step = -f_new / np.where(np.isfinite(slope) & (slope < 0.0), slope, FIRST_SLOPE_K)
        settled = np.abs(step) < SETTLED * new
        old, f_old = new, f_new
        new = np.clip(new + step, *ends)
        if (settled | (new == old)).all():
            break
    return new, terms, settled


@dataclass(frozen=True, eq=False)
class Solved:
    """A temperature of each blend: by the leading set, the lowest of all sets, whether a set found
    none in range, and whether every search converged."""

    value_K: Array
    lowest_K: Array
    failed: Bools
    converged: Bools


@dataclass(frozen=True, eq=False)
class Heard:
    """One set's vapour over some blends of a part; `leading` for all of them or for none."""

    where: Ints
    leading: bool
    one: VapourMember


class Vapour:
    """The vapour over the blends of a part by every parameter set that is complete for them: the
    first of them leads, the others reach into the cautious end."""

    def __init__(self, substances: Substances, part: Part, may_split: Bools) -> None:
        self.substances, self.part, self.may_split = substances, part, may_split

    @cached_property
    def members(self) -> tuple[Heard, ...]:
        """By set; the blends that it leads and those that it doesn't are apart."""
        made = []
        led = np.zeros(len(self.part), dtype=bool)
        for rule in set_rules("vapour"):
            known = complete(self.substances, rule.parameter_set, self.part)
            for leading in (True, False):
                where = np.flatnonzero(known & (led != leading))
                if where.size:
                    one = VapourMember(
                        self.substances,
                        rule.parameter_set,
                        self.part.only(where),
                        self.may_split[where],
                    )
                    made.append(Heard(where, leading, one))
            led |= known
        return tuple(made)

    @property
    def leading(self) -> tuple[Heard, ...]:
        return tuple(heard for heard in self.members if heard.leading)

    @cached_property
    def is_covered(self) -> Bools:
        """Blends for which any set is complete."""
        found = np.zeros(len(self.part), dtype=bool)
        for heard in self.members:
            found[heard.where] = True
        return found

    def headspace(self, temperature_K: float) -> tuple[Interval, Array]:
        """Vapour pressure at one temperature, Pa, and the partial pressures by the leading set
        (blends, components), NaN where unknown."""
        size, width = self.part.index.shape
        pressures = np.full((size, width), np.nan)
        value, low, high = (np.full(size, np.nan) for _ in range(3))
        highest = np.full(size, -np.inf)
        converged = np.ones(size, dtype=bool)
        for heard in self.members:
            where, one = heard.where, heard.one
            p, sure = one.pressures_Pa(temperature_K)
            converged[where[~sure]] = False
            total = p.sum(axis=1)
            highest[where] = np.maximum(highest[where], total)
            if heard.leading:
                half = one.half_width_ln(p, np.full(len(where), temperature_K))
                pressures[where], value[where] = p, total
                low[where], high[where] = total * np.exp(-half), total * np.exp(half)
        pressures[~converged] = np.nan
        status = np.where(self.is_covered, "ok", "unknown").astype(object)
        return Interval.of(value, low, np.fmax(high, highest), status, converged), pressures

    def boiling(self, pressure_Pa: float) -> Interval:
        """Bubble temperature at a pressure, K."""
        solved = self.solved(
            lambda one: np.zeros_like(one.x), float(np.log(pressure_Pa)), BOILING_START_K, HIGHEST_K
        )
        half = np.full(len(self.part), np.nan)
        for heard in self.leading:
            half[heard.where] = _boiling_half_K(heard.one, solved.value_K[heard.where])
        return self.interval_K(solved, half)

    def solved(
        self,
        ln_weights: Callable[[VapourMember], Array],
        ln_target: float,
        start_K: float,
        highest_K: float,
        low_as_one_liquid: bool = False,
    ) -> Solved:
        """Where ln sum(x gamma Psat exp(ln_weights)) reaches a target, by every set; each starts
        where the last one arrived. With `low_as_one_liquid` the lowest looks at the one liquid
        too, where it may lie in layers."""
        size = len(self.part)
        value, lowest = np.full(size, np.nan), np.full(size, np.inf)
        failed, converged = np.zeros(size, dtype=bool), np.ones(size, dtype=bool)
        start = np.full(size, start_K)
        for heard in self.members:
            where, one = heard.where, heard.one
            weights = ln_weights(one)
            t, sure = one.solve(weights, ln_target, start[where], highest_K)
            start[where] = np.where(np.isnan(t), start[where], t)
            if one.split.size:
                single = t.copy()
                t[one.split], layers_sure = one.solve_layers(
                    t[one.split], weights, ln_target, highest_K
                )
                sure = sure.copy()
                sure[one.split] &= layers_sure
                if low_as_one_liquid:
                    lowest[where] = np.fmin(lowest[where], single)
            failed[where] |= np.isnan(t)
            converged[where] &= sure
            lowest[where] = np.fmin(lowest[where], t)
            if heard.leading:
                value[where] = t
        return Solved(value, lowest, failed, converged)

    def interval_K(self, solved: Solved, half_K: Array) -> Interval:
        """A temperature with its half-width, the low end down to the lowest of all sets;
        "out_of_range" where a set found none."""
        status = np.where(self.is_covered, "ok", "unknown").astype(object)
        status[self.is_covered & solved.failed] = "out_of_range"
        sure = solved.converged & ~(np.isnan(half_K) & ~solved.failed & self.is_covered)
        low = np.fmin(solved.value_K - half_K, solved.lowest_K)
        return Interval.of(solved.value_K, low, solved.value_K + half_K, status, sure)


def _boiling_half_K(one: VapourMember, boiling_K: Array) -> Array:
    p = one.pressures_own_Pa(boiling_K)
    warmer = one.pressures_own_Pa(boiling_K + SLOPE_STEP_K)
    slope = np.log(warmer.sum(axis=1) / p.sum(axis=1)) / SLOPE_STEP_K
    with np.errstate(invalid="ignore"):
        falls = ~(slope > 0.0)  # the liquid changes between the two: of the pure substances instead
    if falls.any():
        slope[falls] = (shares_of(p) * one.pure_slopes_per_K(boiling_K)).sum(axis=1)[falls]
    return np.asarray(one.half_width_ln(p, boiling_K) / slope)


# One blend


@dataclass(frozen=True, eq=False)
class Headspace:
    """Partial pressures over the blend by the leading parameter set, Pa, one per substance."""

    pressures_Pa: Array
    total: Estimate


def vapour_of(composition: Composition, may_split: bool) -> Vapour:
    """The vapour over one blend."""
    return composition.once(
        ("vapour", may_split),
        lambda: Vapour(composition.table, composition.part, np.array([may_split])),
    )


def vapour_member(parameter_set: str, composition: Composition, may_split: bool) -> VapourMember:
    """The same by one parameter set, which must be complete for it."""
    return composition.once(
        ("vapour", parameter_set, may_split),
        lambda: VapourMember(
            composition.table, parameter_set, composition.part, np.array([may_split])
        ),
    )


def saturation_Pa(composition: Composition, temperature_K: float) -> Array:
    """Vapour pressure of each pure substance at one temperature, Pa.

    One without a known vapour pressure counts as zero here; the caller must name it.
    """
    return np.asarray(np.exp(composition.table.curves.ln_pressures(temperature_K)))


def partial_pressures_Pa(
    parameter_set: str, composition: Composition, temperature_K: float, may_split: bool
) -> Array:
    """x gamma Psat of each substance; over the layers where the set says that it parts.

    Raises NotConvergedError.
    """
    found, sure = vapour_member(parameter_set, composition, may_split).pressures_Pa(temperature_K)
    if not sure[0]:
        raise NotConvergedError("layers")
    return np.asarray(found[0])


def ln_slopes_per_K(composition: Composition, temperature_K: float) -> Array:
    """Of each substance's ln Psat; zero without a curve."""
    near = composition.table.curves.ln_pressures(
        np.array([temperature_K - 0.5, temperature_K + 0.5])
    )
    known = np.isfinite(near[0])
    return np.asarray(np.subtract(near[1], near[0], out=np.zeros(len(known)), where=known))


def solved_temperature_K(
    one: VapourMember, ln_weights: Array, ln_target: float, start_K: float, highest_K: float
) -> float | None:
    """Where one blend's ln sum(x gamma Psat exp(ln_weights)) reaches a target by one set; None
    where it does not in range. Raises NotConvergedError."""
    found, sure = one.solve(ln_weights, ln_target, np.array([start_K]), highest_K)
    if sure[0] and one.split.size:
        found, sure = one.solve_layers(found, ln_weights, ln_target, highest_K)
    if not sure[0]:
        raise NotConvergedError("temperature")
    return None if np.isnan(found[0]) else float(found[0])


def bubble_temperature_K(
    parameter_set: str,
    composition: Composition,
    pressure_Pa: float,
    may_split: bool,
    start_K: float = BOILING_START_K,
) -> float | None:
    """Where the vapour pressure of the blend by one parameter set reaches a pressure; None outside
    LOWEST_K to HIGHEST_K. Raises NotConvergedError."""
    one = vapour_member(parameter_set, composition, may_split)
    weights = np.zeros_like(one.x)
    return solved_temperature_K(one, weights, float(np.log(pressure_Pa)), start_K, HIGHEST_K)


def _describe(members: tuple[CompleteSet, ...]) -> str:
    rest = [m.title for m in members[1:]]
    return f"modified Raoult with {members[0].title}" + (
        f"; the cautious end from {', '.join(rest)} too" if rest else ""
    )


def _sources(composition: Composition, members: tuple[CompleteSet, ...]) -> tuple[str, ...]:
    pure = [source for s in composition.substances if s.vapour for source in s.vapour.sources]
    return (*pure, *(m.source for m in members))


def headspace(composition: Composition, temperature_K: float, may_split: bool) -> Headspace | None:
    """Vapour over the blend at one temperature; None where no parameter set is complete.

    The total is "unknown" (and the pressures are NaN) where the layers did not converge.
    """
    members = composition.members("vapour")
    if not members:
        return None
    found, pressures = vapour_of(composition, may_split).headspace(temperature_K)
    if not found.is_ok[0]:
        return Headspace(pressures[0], found.not_ok("Pa", "layers", NO_COMPLETE_SET))
    total = Estimate.ok(*found.ends(), "Pa", _describe(members), _sources(composition, members))
    return Headspace(pressures[0], total)


def initial_boiling_point(
    composition: Composition, pressure_Pa: float, may_split: bool
) -> Estimate:
    """Bubble temperature at a pressure, K; "unknown" where a search did not converge."""
    members = composition.members("vapour")
    if not members:
        return Estimate.unknown("K", NO_COMPLETE_SET)
    found = vapour_of(composition, may_split).boiling(pressure_Pa)
    if not found.is_ok[0]:
        reason = f"boils outside {LOWEST_K - 273.15:.0f} to {HIGHEST_K - 273.15:.0f} °C"
        return found.not_ok("K", "boiling point", reason)
    return Estimate.ok(
        *found.ends(),
        "K",
        f"bubble point at {pressure_Pa / 1e3:.4g} kPa, {_describe(members)}",
        _sources(composition, members),
    )
