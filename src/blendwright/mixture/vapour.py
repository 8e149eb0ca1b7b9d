"""The vapour over blends: its pressure, what is in it, and when the liquid boils.

Modified Raoult's law, p_i = x_i gamma_i Psat_i(T), ideal vapour, over the state of least Gibbs
energy (`state`): without what lies as crystals, and over layers where the liquid is unstable.

Temperatures are first solved for over one liquid with everything dissolved. ln gamma is then
evaluated at NODES temperatures shared by all blends and interpolated between them as a polynomial
in 1/T (Chebyshev); the pure vapour pressures are exact at every blend's own temperature. Where the
last coefficients say that the polynomial isn't good to ROUGHNESS, or the answer lies outside the
nodes' range, ln gamma itself is solved with. Where the state found there isn't one liquid with all
dissolved, the search goes on over the state at each temperature.

Intervals take in quadrature the pure vapour pressures' errors by their shares and the spread of the
liquid model's draws; upwards no component counts with an activity above 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate, to_celsius
from blendwright.formula.conditions import BENCH_K, ROOM_K
from blendwright.mixture.activity import product_in_order, sum_in_order
from blendwright.mixture.composition import Composition
from blendwright.mixture.interval import Interval
from blendwright.mixture.layered import KnownLayers
from blendwright.mixture.liquid import NO_GROUPS, TITLE, Liquid, sources_with
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.rows import picked
from blendwright.mixture.state import State, state
from blendwright.mixture.substances import Substances
from blendwright.pure.roots import Bools, Ints, temperatures_where_zero
from blendwright.pure.vapour_pressure import OUTSIDE_MOST, OUTSIDE_PER_K, PickedCurves

LOWEST_K = 150.0
HIGHEST_K = 750.0
LN_FLOOR = 0.02  # 90 % half-width of ln P below which nothing is claimed
NODES = 20
NODES_LOW_K, NODES_HIGH_K = 245.0, 545.0
ROUGHNESS = 3e-9  # of ln(sum): 1e-7 K at most
SECANT_STEPS = 25
SETTLED = 1e-9  # of 1/T: the step after the last would be far smaller (secants)
FIRST_SLOPE_K = -5000.0  # of ln p against 1/T, for the first step only
FIRST_VAPOUR_SHARE = 0.05  # by moles: what less boils with it is not named
BOILING_START_K = 350.0
NEAR_K = 40.0  # within which layers are looked for from those at 20 °C


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
    angle = np.arccos(np.clip(position, -1.0, 1.0))
    return product_in_order(np.cos(angle[:, None] * np.arange(NODES)), TO_COEFFICIENTS)


@dataclass(frozen=True, eq=False)
class Solved:
    """A temperature of each blend (NaN where there is none in range), the state there, and whether
    the search converged."""

    value_K: Array
    state: State
    converged: Bools

    @property
    def failed(self) -> Bools:
        return np.isnan(self.value_K)


class Vapour:
    """The vapour over the blends of a part, all of them covered by the liquid model."""

    def __init__(self, substances: Substances, part: Part) -> None:
        self.substances = substances
        self.part = part
        self.x = part.x
        self.liquid = Liquid(substances, part.index)
        self.curves = substances.curves.picked(part.index)
        self._kept: dict[float, State] = {}  # by a temperature shared by all
        self._boiling_as_one: dict[float, tuple[Array, Bools]] = {}

    @cached_property
    def ln_x(self) -> Array:
        with np.errstate(divide="ignore"):
            return np.log(self.x)

    @cached_property
    def at_nodes(self) -> Array:
        """ln gamma at NODE_K (blends, nodes, components), all dissolved in one liquid."""
        return self.liquid.at_nodes(self.x, NODE_K)

    @cached_property
    def _last_coefficients(self) -> Array:
        """The last two of each polynomial, without signs (blends, 2, components)."""
        return np.asarray(np.abs(np.einsum("kn,bnp->bkp", TO_COEFFICIENTS[-2:], self.at_nodes)))

    # Pressures

    def state_of_all(self, temperature_K: float) -> State:
        """At a temperature shared by all."""
        if temperature_K not in self._kept:
            kelvin = np.full(len(self.part), temperature_K)
            near = None if temperature_K == BENCH_K else self._from_bench(kelvin)
            found = self.state_at(kelvin, np.arange(len(self.part)), near)
            self._kept[temperature_K] = found
        return self._kept[temperature_K]

    def solve_states(self, temperatures_K: Sequence[float]) -> None:
        """The states of all at several temperatures, side by side: worth it for few blends."""
        every = np.arange(len(self.part))
        kelvin = np.repeat(temperatures_K, len(every))
        found = self.state_at(kelvin, np.tile(every, len(temperatures_K)))
        for number, own in enumerate(temperatures_K):
            self._kept[own] = found.only(every + number * len(every))

    def _from_bench(self, temperatures_K: Array) -> KnownLayers:
        """The layers at 20 °C where they are near enough to begin with: from there whatever was
        asked about before, so that no last digit hangs on that."""
        there = self.state_of_all(BENCH_K).layers
        near = np.abs(temperatures_K - BENCH_K) <= NEAR_K
        return replace(there, parted=there.parted & near)

    def only(self, keep: Ints) -> Vapour:
        """Over some of its blends, with the states that are known already."""
        made = Vapour(self.substances, self.part.only(keep))
        made._kept = {kelvin: found.only(keep) for kelvin, found in self._kept.items()}
        return made

    def state_at(
        self, temperatures_K: Array, blends: Ints, near: KnownLayers | None = None
    ) -> State:
        """The state of some blends, each at its temperature, looked for from layers `near` by."""
        part, liquid = self.part.only(blends), self.liquid.only(blends)
        return state(self.substances, part, liquid, temperatures_K, near)

    def pressures_over(self, found: State, temperatures_K: Array, blends: Ints) -> Array:
        """x gamma Psat (blends, components)."""
        curves = self._curves_of(blends)
        return np.asarray(found.x * np.exp(found.ln_gamma + curves.ln_pressures(temperatures_K)))

    def _curves_of(self, blends: Ints) -> PickedCurves:
        if len(blends) == len(self.part):
            return self.curves
        return self.substances.curves.picked(self.part.index[blends])

    def pressures_Pa(self, temperature_K: float) -> tuple[Array, Bools]:
        """x gamma Psat at a temperature shared by all, and whether the state is sure."""
        every = np.arange(len(self.part))
        kelvin = np.full(len(self.part), temperature_K)
        found = self.state_of_all(temperature_K)
        return self.pressures_over(found, kelvin, every), found.converged

    # Doubts

    def ln_uncertainty(self, temperature_K: Array) -> Array:
        """Half-widths of ln Psat (blends, components) at each blend's temperature."""
        inside, low, high = (values[self.part.index] for values in self.substances.ln_uncertainty)
        t = temperature_K[:, None]
        outside = np.maximum(0.0, np.maximum(low - t, t - high))
        return np.asarray(inside + np.minimum(OUTSIDE_MOST, OUTSIDE_PER_K * outside))

    def pure_slopes_per_K(self, temperature_K: Array) -> Array:
        """Slopes of each component's ln Psat; zero without a curve."""
        t = np.where(np.isfinite(temperature_K), temperature_K, ROOM_K)
        slopes = self.curves.ln_pressures(t + 0.5) - self.curves.ln_pressures(t - 0.5)
        return np.where(np.isfinite(slopes), slopes, 0.0)

    def activity_half_ln(
        self, found: State, temperature_K: Array, weights: Array
    ) -> tuple[Array, Array]:
        """90 % half-widths of ln sum_i weights_i a_i, downwards and upwards: the draws' spread, but
        upwards no activity above 1 (weights (blends, components))."""
        activity = found.x * np.exp(found.ln_gamma)
        with np.errstate(invalid="ignore"):
            terms = np.where(activity > 0.0, weights * activity, 0.0)
        total = terms.sum(axis=1)
        shares = np.divide(
            terms, total[:, None], out=np.zeros_like(terms), where=total[:, None] > 0
        )
        shifts = found.draw_shifts(self.liquid, shares, temperature_K)
        half = NORMAL_90 * np.sqrt((shifts**2).mean(axis=1))
        most = np.where(
            activity > 0.0, weights * np.minimum(1.0, activity * np.exp(half)[:, None]), 0.0
        ).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            up = np.where(total > 0.0, np.log(most / total), 0.0)
        return half, np.clip(up, 0.0, half)

    def half_width_ln(
        self, found: State, pressures: Array, temperature_K: Array
    ) -> tuple[Array, Array]:
        """90 % half-widths of ln(total pressure), downwards and upwards."""
        shares = shares_of(pressures)
        inputs = ((shares * self.ln_uncertainty(temperature_K)) ** 2).sum(axis=1)
        pure = np.exp(self.curves.ln_pressures(temperature_K))
        down, up = self.activity_half_ln(found, temperature_K, pure)
        return np.sqrt(inputs + down**2 + LN_FLOOR**2), np.sqrt(inputs + up**2 + LN_FLOOR**2)

    # Answers

    def headspace(self, temperature_K: float) -> tuple[Interval, Array]:
        """Vapour pressure at one temperature, Pa, and the partial pressures (blends, components),
        NaN where unknown."""
        every = np.arange(len(self.part))
        kelvin = np.full(len(self.part), temperature_K)
        found = self.state_of_all(temperature_K)
        pressures = self.pressures_over(found, kelvin, every)
        total = pressures.sum(axis=1)
        down, up = self.half_width_ln(found, pressures, kelvin)
        pressures = np.where(found.converged[:, None], pressures, np.nan)
        status = np.full(len(self.part), "ok", dtype=object)
        ends = total * np.exp(-down), total * np.exp(up)
        return Interval.of(total, *ends, status, found.converged), pressures

    def boiling(self, pressure_Pa: float) -> Interval:
        """Bubble temperature at a pressure, K."""
        nothing, ln_target = np.zeros_like(self.x), float(np.log(pressure_Pa))
        as_one = self.boiling_as_one(pressure_Pa)
        solved = self.solved(nothing, ln_target, BOILING_START_K, HIGHEST_K, as_one)
        at = np.where(solved.failed, ROOM_K, solved.value_K)
        pressures = self.pressures_over(solved.state, at, np.arange(len(self.part)))
        down, up = self.half_width_ln(solved.state, pressures, at)
        slope = (shares_of(pressures) * self.pure_slopes_per_K(at)).sum(axis=1)
        return self.interval_K(solved, up / slope, down / slope)

    def boiling_as_one(self, pressure_Pa: float) -> tuple[Array, Bools]:
        """The bubble temperature with everything dissolved in one liquid, K, and which searches
        converged."""
        if pressure_Pa not in self._boiling_as_one:
            start_K = np.full(len(self.part), BOILING_START_K)
            self._boiling_as_one[pressure_Pa] = self.solve_as_one(
                np.zeros_like(self.x), float(np.log(pressure_Pa)), start_K, HIGHEST_K
            )
        return self._boiling_as_one[pressure_Pa]

    # Solving for a temperature

    def solved(
        self,
        ln_weights: Array,
        ln_target: float,
        start_K: float,
        highest_K: float,
        as_one: tuple[Array, Bools] | None = None,
    ) -> Solved:
        """Where ln sum(a Psat exp(ln_weights)) reaches a target, K, over the state of least Gibbs
        energy; NaN where it does not between LOWEST_K and `highest_K`. `as_one` is what
        `solve_as_one` found, where that is known."""
        size = len(self.part)
        if as_one is None:
            as_one = self.solve_as_one(ln_weights, ln_target, np.full(size, start_K), highest_K)
        found, converged = as_one[0].copy(), as_one[1].copy()
        every = np.arange(size)
        at = np.where(np.isnan(found), highest_K, found)
        there = self.state_at(at, every, self._from_bench(at))
        converged &= there.converged
        other = np.flatnonzero(there.has_split | there.has_crystals)
        if other.size:
            near, near_K = there.only(other), at[other]

            def value(here: State, temperature_K: Array, blends: Ints) -> Array:
                p = self.pressures_over(here, temperature_K, blends)
                over = _ln_sum(p * np.exp(ln_weights[blends])) - ln_target
                return np.where(here.converged, over, np.nan)

            def above(temperature_K: Array, which: Ints) -> Array:
                here = self.state_at(temperature_K, other[which], near.layers.only(which))
                near.put(which, here)
                near_K[which] = temperature_K
                return value(here, temperature_K, other[which])

            first = value(near, at[other], other)
            roots = temperatures_where_zero(above, at[other], LOWEST_K, highest_K, first)
            found[other] = roots.root
            converged[other] = roots.converged | ~roots.crosses
            at = np.where(np.isnan(found), at, found)
            new = np.flatnonzero(near_K != at[other])
            if new.size:
                near.put(new, self.state_at(at[other[new]], other[new], near.layers.only(new)))
            there.put(other, near)
            converged[other] &= near.converged
        if size == 1:
            self._kept[float(at[0])] = there
        return Solved(found, there, converged)

    def interval_K(self, solved: Solved, down_K: Array, up_K: Array) -> Interval:
        """A temperature with its half-widths; "out_of_range" where none was found."""
        status = np.full(len(self.part), "ok", dtype=object)
        status[solved.failed] = "out_of_range"
        sure = solved.converged & (np.isfinite(down_K) & np.isfinite(up_K) | solved.failed)
        value = solved.value_K
        return Interval.of(value, value - down_K, value + up_K, status, sure)

    def solve_as_one(
        self, ln_weights: Array, ln_target: float, start_K: Array, highest_K: float
    ) -> tuple[Array, Bools]:
        """What `solved` looks for with everything dissolved in one liquid, K, and which searches
        converged."""
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

    def _on_nodes(self, ln_weights: Array, target: float, start_K: Array) -> tuple[Array, Bools]:
        base = self.ln_x + ln_weights

        def value(inverse: Array) -> tuple[Array, Array]:
            t = 1.0 / inverse
            weights = node_weights(t)
            ln_gamma = sum_in_order(weights[:, :, None], self.at_nodes)
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
        base = picked(self.ln_x, keep) + ln_weights
        x = picked(self.x, keep)
        liquid = self.liquid.only(keep)

        def value(t: Array, which: Ints) -> Array:
            ln_gamma = liquid.only(which).at(t).ln_gamma(x[which][:, None, :])[:, 0, :]
            ln_pure = self._curves_of(keep[which]).ln_pressures(t)
            return _ln_sum(np.exp(base[which] + ln_gamma + ln_pure)) - target

        found = temperatures_where_zero(value, start_K, LOWEST_K, highest_K)
        return found.root, found.converged | ~found.crosses


def _ln_sum(terms: Array) -> Array:
    """ln of each blend's sum; minus infinity where nothing counts."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(terms.sum(axis=1)))


def shares_of(terms: Array) -> Array:
    """Shares of each blend's sum; NaN where nothing counts."""
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
        open_ = ~settled  # what has settled stays, however long others take
        settled |= np.abs(step) < SETTLED * new
        old, f_old = new, f_new
        new = np.where(open_, np.clip(new + step, *ends), new)
        if (settled | (new == old)).all():
            break
    return new, terms, settled


# One blend


@dataclass(frozen=True, eq=False)
class Headspace:
    """Partial pressures over the blend, Pa, one per substance."""

    pressures_Pa: Array
    total: Estimate


def vapour_of(composition: Composition) -> Vapour:
    """The vapour over one blend."""
    return composition.once(("vapour",), lambda: Vapour(composition.table, composition.part))


def partial_pressures_Pa(composition: Composition, temperature_K: float) -> Array:
    """Find the partial pressures over a blend: x gamma Psat over its state at a temperature.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.

    Returns
    -------
    array (components,)
        Pa.

    Raises
    ------
    NotConvergedError
        Where a search did not converge.
    """
    found, sure = vapour_of(composition).pressures_Pa(temperature_K)
    if not sure[0]:
        raise NotConvergedError("layers")
    return np.asarray(found[0])


def ln_slopes_per_K(composition: Composition, temperature_K: float) -> Array:
    """Slopes of each substance's ln Psat; zero without a curve."""
    near = composition.table.curves.ln_pressures(
        np.array([temperature_K - 0.5, temperature_K + 0.5])
    )
    known = np.isfinite(near[0])
    return np.asarray(np.subtract(near[1], near[0], out=np.zeros(len(known)), where=known))


def saturation_Pa(composition: Composition, temperature_K: float) -> Array:
    """Vapour pressure of each pure substance at one temperature, Pa.

    One without a known vapour pressure counts as zero here; the caller must name it.
    """
    return np.asarray(np.exp(composition.table.curves.ln_pressures(temperature_K)))


def _sources(composition: Composition) -> tuple[str, ...]:
    pure = [source for s in composition.substances if s.vapour for source in s.vapour.sources]
    return sources_with(pure)


def headspace(composition: Composition, temperature_K: float) -> Headspace | None:
    """Find the vapour over one blend.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.

    Returns
    -------
    Headspace or None
        Pa; None where the liquid model does not cover it. The total is "unknown" (and the pressures
        are NaN) where the layers did not converge.
    """
    if not composition.is_covered:
        return None
    found, pressures = vapour_of(composition).headspace(temperature_K)
    if not found.is_ok[0]:
        return Headspace(pressures[0], found.not_ok("Pa", "layers", NO_GROUPS))
    method = f"modified Raoult with {TITLE}"
    total = Estimate.ok(*found.ends(), "Pa", method, _sources(composition))
    return Headspace(pressures[0], total)


def initial_boiling_point(composition: Composition, pressure_Pa: float) -> Estimate:
    """Find the bubble temperature of one blend.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressure_Pa : float

    Returns
    -------
    Estimate
        K; "unknown" where a search did not converge.
    """
    if not composition.is_covered:
        return Estimate.unknown("K", NO_GROUPS)
    found = vapour_of(composition).boiling(pressure_Pa)
    if not found.is_ok[0]:
        reason = f"boils outside {to_celsius(LOWEST_K):.0f} to {to_celsius(HIGHEST_K):.0f} °C"
        return found.not_ok("K", "boiling point", reason)
    return Estimate.ok(
        *found.ends(),
        "K",
        f"bubble point at {pressure_Pa / 1e3:.4g} kPa, modified Raoult with {TITLE}",
        _sources(composition),
        _first_vapour(composition, float(found.value[0])),
    )


def _first_vapour(composition: Composition, boiling_K: float) -> tuple[str, ...]:
    """What boils first: the same out of either of two layers; nothing of a single substance."""
    if len(composition.substances) < 2:
        return ()
    vapour = vapour_of(composition)
    pressures, sure = vapour.pressures_Pa(boiling_K)
    if not sure[0]:
        return ()
    share = pressures[0] / pressures[0].sum()
    order = [int(i) for i in np.argsort(-share, kind="stable") if share[i] >= FIRST_VAPOUR_SHARE]
    named = ", ".join(f"{composition.names[i]} {share[i] * 100.0:.0f} %" for i in order)
    return (f"boils first: {named} (by moles of the first vapour)",)
