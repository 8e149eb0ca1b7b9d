"""Headspace, bubble point, lower flammable limit and flash point of whole parts.

The equations are those of `mixture.vapour`, `mixture.flash_point` and `mixture.flammable_limit`.
ln gamma is evaluated at NODES temperatures shared by all and interpolated between them as a
polynomial in 1/T (Chebyshev); the pure vapour pressures are exact at every blend's own
temperature. Where the last coefficients say that the polynomial isn't good to ROUGHNESS, or the
answer lies outside the nodes' range, ln gamma itself is solved with, at each blend's temperature.
Blends that may lie in layers are solved as one liquid first, and then, where the set has them in
layers there, with `mixture.layered` from that temperature on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.polynomial.chebyshev import chebvander
from numpy.typing import NDArray

from blendwright.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.estimate import NORMAL_90
from blendwright.many.rows import Part
from blendwright.many.substances import Bools, Ints, Picked, Substances
from blendwright.many.voices import AtTemperature, Voice, complete, search_for_layers
from blendwright.mixture.ensemble import rules
from blendwright.mixture.flash_point import HIGHEST_SENSIBLE_K, MEASUREMENT_K, BAROMETRIC_K_per_kPa
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid_split import BlockModel
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import temperatures_where_zero
from blendwright.mixture.vapour import HIGHEST_K, LN_FLOOR, LOWEST_K, SLOPE_STEP_K
from blendwright.mixture.vapour_correction import glycol_ln_gamma, learned
from blendwright.pure.flammable_limit import FALL_per_K
from blendwright.pure.vapour_pressure import OUTSIDE_MOST, OUTSIDE_PER_K

if TYPE_CHECKING:
    from blendwright.many.machine.activity import Sets

NODES = 18
NODES_LOW_K, NODES_HIGH_K = 245.0, 545.0
ROUGHNESS = 3e-9  # of ln(sum): 1e-7 K at most
SECANT_STEPS = 25
SETTLED = 1e-9  # of 1/T: the step after the last would be far smaller (secants)
FIRST_SLOPE_K = -5000.0  # of ln p against 1/T, for the first step only


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


class VapourPart:
    """The vapour over the blends of one part by one parameter set (complete for all of them)."""

    def __init__(self, substances: Substances, name: str, part: Part, may_split: Bools) -> None:
        self.substances = substances
        self.name = name
        self.part = part
        self.split = np.flatnonzero(may_split)
        self.x = part.x
        self.voice = Voice(substances, name, part)
        self.curves = substances.curves.picked(part.index)

    @cached_property
    def ln_x(self) -> Array:
        with np.errstate(divide="ignore"):
            return np.log(self.x)

    @cached_property
    def glycol_terms(self) -> tuple[Array, Array]:
        """b of each component by this set, and which are glycols (blends, components)."""
        known = learned()[self.name]
        own = self.substances
        hydrocarbon = own.is_hydrocarbon
        terms = (own.carrier_classes == 2) * (
            known.hydrocarbon_term * hydrocarbon + known.solute_term * (1.0 - hydrocarbon)
        )
        return terms[self.part.index], own.is_glycol[self.part.index]

    @cached_property
    def glycol_part(self) -> Array:
        """What was learned of the set's error over glycols (blends, components)."""
        return glycol_ln_gamma(*self.glycol_terms, self.x)

    def over_glycols(self, at: AtTemperature, blends: Ints) -> OverGlycols:
        """The model of some of the blends, with the learned terms."""
        terms, is_glycol = self.glycol_terms
        return OverGlycols(at.only(blends), terms[blends], is_glycol[blends])

    def layered(self) -> Layered:
        """All its blends, in layers where the set says so."""
        terms, is_glycol = self.glycol_terms

        def model_at(temperature_K: Array, blends: Ints) -> BlockModel:
            voice = self.voice.only(blends)
            same = bool((temperature_K == temperature_K[0]).all())
            at = voice.at(float(temperature_K[0])) if same else voice.at_own(temperature_K)
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
        return self.voice.at_nodes(self.x, NODE_K) + self.glycol_part[:, None, :]

    def ln_gamma_at(self, temperature_K: float) -> Array:
        """At a temperature shared by all."""
        found = self.voice.at(temperature_K).ln_gamma(self.x[:, None, :])[:, 0, :]
        return np.asarray(found + self.glycol_part)

    def ln_gamma_own(self, temperature_K: Array, keep: Ints) -> Array:
        """At each blend's own temperature, for some of the blends."""
        at = self.voice.only(keep).at_own(temperature_K)
        found = at.ln_gamma(self.x[keep][:, None, :])[:, 0, :]
        return np.asarray(found + self.glycol_part[keep])

    def ln_sd(self) -> Array:
        """`vapour_ln_sd` of each blend."""
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

    # Solving for a temperature

    def solve(
        self, ln_weights: Array, ln_target: float, start_K: Array, highest_K: float
    ) -> tuple[Array, Bools]:
        """Where ln sum(x gamma Psat exp(ln_weights)) reaches a target, K; NaN where it does not
        between LOWEST_K and `highest_K`. And which searches converged."""
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
        shares = _shares(terms)
        last = np.einsum("kn,bnp->bkp", TO_COEFFICIENTS[-2:], self.at_nodes)
        rough = np.einsum("bkp,bp->b", np.abs(last), shares)
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


def _shares(terms: Array) -> Array:
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


def vapour_voices(substances: Substances, part: Part) -> list[tuple[str, Bools]]:
    """The sets for vapour in their order, and which blends each is complete for."""
    return [
        (rule.parameter_set, complete(substances, rule.parameter_set, part))
        for rule in rules()
        if rule.question == "vapour" and rule.is_set
    ]


def part_vapour(
    substances: Substances,
    part: Part,
    layers: tuple[Bools, Bools],
    conditions: tuple[float, float],
    only: frozenset[str],
) -> dict[str, NDArray[Any]]:
    """All answers on vapour and fire of one part at conditions (K, Pa).

    `layers` are which blends may split there, and which burn and boil in layers.

    Keys: for "total", "limit", "boiling", "flash" the value, and with "_low", "_high" the ends (SI,
    NaN where there is none); "leads" (whether any set is complete), "burns", "flash_known",
    "shares" (of Liaw's sum, blends x components), "pressures" (Pa, of the leading set), and
    "total_unsure", "boiling_unsure", "flash_unsure" where a search did not converge.
    """
    temperature_K, pressure_Pa = conditions
    size, width = part.index.shape
    found: dict[str, NDArray[Any]] = {
        f"{name}{end}": np.full(size, np.nan)
        for name in ("total", "limit", "boiling", "flash")
        for end in ("", "_low", "_high")
    }
    found["shares"] = np.zeros((size, width))
    found["pressures"] = np.full((size, width), np.nan)
    burning = substances.burns[part.index] & part.there
    found["burns"] = np.asarray(burning.any(axis=1))
    known = substances.flash_known[part.index] | ~burning
    found["flash_known"] = np.asarray(known.all(axis=1))
    led = np.zeros(size, dtype=bool)
    solved = {
        "boiling": _Solved(size, False, float(np.log(pressure_Pa)), 350.0, HIGHEST_K),
        "flash": _Solved(size, True, 0.0, 320.0, HIGHEST_SENSIBLE_K),
    }
    highest_total = np.full(size, -np.inf)
    unsure = np.zeros(size, dtype=bool)
    for name, speaks in vapour_voices(substances, part):
        for leading in (True, False):
            where = np.flatnonzero(speaks & (led != leading))
            if not where.size:
                continue
            some, (splits, burns) = part.only(where), layers
            if "vapour" in only:
                here = VapourPart(substances, name, some, splits[where])
                p, converged = _pressures(here, temperature_K)
                unsure[where[~converged]] = True
                total = p.sum(axis=1)
                highest_total[where] = np.maximum(highest_total[where], total)
                if leading:
                    found["pressures"][where] = p
                    half = _half_width(here, p, np.full(len(where), temperature_K))
                    found["total"][where] = total
                    found["total_low"][where] = total * np.exp(-half)
                    found["total_high"][where] = total * np.exp(half)
            fire = VapourPart(substances, name, some, burns[where])
            for question in ("boiling", "flash"):
                if question not in only:
                    continue
                t = solved[question].solve(fire, where)
                if leading:
                    half = _boiling_half(fire, t)
                    if question == "flash":
                        half, found["shares"][where] = _flash_half(fire, t)
                    solved[question].unsure[where[~np.isnan(t) & np.isnan(half)]] = True
                    _fill(found, question, where, t, half)
        led |= speaks
    found["leads"] = led
    found["total_unsure"] = unsure
    found["total_high"] = np.fmax(found["total_high"], highest_total)
    found["pressures"][unsure] = np.nan
    for name in ("boiling", "flash"):
        found[f"{name}_unsure"] = solved[name].unsure
        found[f"{name}_low"] = np.fmin(found[f"{name}_low"], solved[name].lowest)
        for end in ("", "_low", "_high"):
            found[f"{name}{end}"][solved[name].failed | solved[name].unsure | ~led] = np.nan
    barometric = BAROMETRIC_K_per_kPa * (pressure_Pa - ATMOSPHERE_Pa) / 1e3
    for end in ("", "_low", "_high"):
        found[f"flash{end}"] += barometric
        found[f"total{end}"][~led | unsure] = np.nan
    if "vapour" in only:
        _fill_limit(found, substances, part, temperature_K)
    return found


class _Solved:
    """One of the temperatures of a part's blends by set after set: the lowest of all sets, where
    one found none, and where one's search did not converge."""

    def __init__(
        self, size: int, is_flash: bool, ln_target: float, start_K: float, highest_K: float
    ) -> None:
        self.is_flash = is_flash
        self.ln_target = ln_target
        self.highest_K = highest_K
        self.lowest = np.full(size, np.inf)
        self.failed = np.zeros(size, dtype=bool)
        self.unsure = np.zeros(size, dtype=bool)
        self._start = np.full(size, start_K)

    def solve(self, one: VapourPart, where: Ints) -> Array:
        """By one set, for some of the blends."""
        weights = np.zeros_like(one.x)
        if self.is_flash:
            weights = -one.substances.ln_reference[one.part.index]
        t, converged = one.solve(weights, self.ln_target, self._start[where], self.highest_K)
        self._start[where] = np.where(np.isnan(t), self._start[where], t)
        if one.split.size:
            single = t.copy()
            t[one.split], sure = one.solve_layers(
                t[one.split], weights, self.ln_target, self.highest_K
            )
            converged[one.split] &= sure
            if self.is_flash:  # its low end looks at the one liquid too
                self.lowest[where] = np.fmin(self.lowest[where], single)
        self.failed[where] |= np.isnan(t)
        self.unsure[where] |= ~converged
        self.lowest[where] = np.fmin(self.lowest[where], t)
        return t


def _fill(
    found: dict[str, NDArray[Any]], name: str, where: Ints, value: Array, half: Array
) -> None:
    found[name][where] = value
    found[f"{name}_low"][where] = value - half
    found[f"{name}_high"][where] = value + half


def _pressures(one: VapourPart, temperature_K: float) -> tuple[Array, Bools]:
    """x gamma Psat, and whether the layers are sure."""
    ln_pure = one.substances.curves.ln_pressures(temperature_K)[one.part.index]
    p = np.asarray(one.x * np.exp(one.ln_gamma_at(temperature_K) + ln_pure))
    converged = np.ones(len(p), dtype=bool)
    if one.split.size:
        kelvin = np.full(one.split.size, temperature_K)
        liquid = one.layered()
        p[one.split] = one.layered_terms(liquid, kelvin, one.split)
        converged = liquid.converged
    return p, converged


def _pressures_own(one: VapourPart, temperature_K: Array) -> Array:
    """x gamma Psat at each blend's temperature: on the nodes where they reach, else exactly; NaN
    where the layers are not sure."""
    t = np.where(np.isfinite(temperature_K), temperature_K, ROOM_K)
    ln_gamma = np.einsum("bn,bnp->bp", node_weights(t), one.at_nodes)
    last = np.einsum("kn,bnp->bkp", TO_COEFFICIENTS[-2:], one.at_nodes)
    rough = (np.abs(last) * one.x[:, None, :]).max(axis=(1, 2)) > ROUGHNESS
    out = np.flatnonzero(rough | (t < NODES_LOW_K) | (t > NODES_HIGH_K))
    if out.size:
        ln_gamma[out] = one.ln_gamma_own(t[out], out)
    p = np.asarray(one.x * np.exp(ln_gamma + one.curves.ln_pressures(t)))
    if one.split.size:
        liquid = one.layered()
        p[one.split] = one.layered_terms(liquid, t[one.split], one.split)
        p[~liquid.converged] = np.nan
    return p


def _half_width(one: VapourPart, pressures: Array, temperature_K: Array) -> Array:
    shares = _shares(pressures)
    inputs = np.sqrt(((shares * one.ln_uncertainty(temperature_K)) ** 2).sum(axis=1))
    activity = NORMAL_90 * (shares * one.ln_sd()).sum(axis=1)
    return np.asarray(np.sqrt(inputs**2 + activity**2 + LN_FLOOR**2))


def _boiling_half(one: VapourPart, t: Array) -> Array:
    p, warmer = _pressures_own(one, t), _pressures_own(one, t + SLOPE_STEP_K)
    slope = np.log(warmer.sum(axis=1) / p.sum(axis=1)) / SLOPE_STEP_K
    with np.errstate(invalid="ignore"):
        falls = ~(slope > 0.0)  # the liquid changes between the two: of the pure substances instead
    if falls.any():
        slope[falls] = (_shares(p) * _pure_slopes(one, t)).sum(axis=1)[falls]
    return np.asarray(_half_width(one, p, t) / slope)


def _pure_slopes(one: VapourPart, t: Array) -> Array:
    """Of each component's ln Psat, 1/K; zero without a curve."""
    t = np.where(np.isfinite(t), t, ROOM_K)
    slopes = one.curves.ln_pressures(t + 0.5) - one.curves.ln_pressures(t - 0.5)
    return np.where(np.isfinite(slopes), slopes, 0.0)


def _flash_half(one: VapourPart, t: Array) -> tuple[Array, Array]:
    """Half-width of the flash point before the other sets, K, and the shares of Liaw's sum."""
    own = one.substances
    index = one.part.index
    terms = _pressures_own(one, t) * np.exp(-own.ln_reference[index])
    shares = _shares(terms)
    ok = np.where(np.isfinite(t), t, ROOM_K)
    slopes = _pure_slopes(one, t)
    counted = np.where(own.flash_known[index], shares, 0.0)
    slope_total = (counted * slopes).sum(axis=1)
    flash_K = own.flash_K[index]
    apart = np.abs(ok[:, None] - np.where(np.isfinite(flash_K), flash_K, 0.0))
    pressure = one.ln_uncertainty(ok) * np.minimum(1.0, apart / 100.0)
    ln_error = np.hypot(own.flash_ln_error[index], pressure)
    with np.errstate(divide="ignore", invalid="ignore"):
        inputs = np.sqrt(((counted * ln_error) ** 2).sum(axis=1)) / slope_total
        slope = (shares * slopes).sum(axis=1)
        activity = NORMAL_90 * (shares * one.ln_sd()).sum(axis=1) / slope
    return np.sqrt(MEASUREMENT_K**2 + inputs**2 + activity**2), shares


def _fill_limit(
    found: dict[str, NDArray[Any]], substances: Substances, part: Part, temperature_K: float
) -> None:
    """`blend_lower_limit`, mole fraction in air."""
    has_limit, limits, ln_errors = substances.lower_limit
    limits, ln_errors = limits[part.index], ln_errors[part.index]
    p = np.where(has_limit[part.index] & part.there, found["pressures"], 0.0)
    total = p.sum(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = p / total
    factor = max(0.2, 1.0 - FALL_per_K * (temperature_K - ROOM_K))
    terms = shares / (limits * factor)
    summed = terms.sum(axis=1)
    half = np.sqrt(((terms * ln_errors) ** 2).sum(axis=1)) / summed
    found["limit"] = np.where(total[:, 0] > 0.0, 1.0 / summed, np.nan)
    found["limit_low"] = found["limit"] * np.exp(-half)
    found["limit_high"] = found["limit"] * np.exp(half)
