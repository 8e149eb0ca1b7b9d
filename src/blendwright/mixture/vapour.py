"""The vapour over the blend: its pressure, what is in it, and when the liquid boils.

Modified Raoult's law, p_i = x_i gamma_i Psat_i(T), ideal vapour. Where the liquid parts into
layers the layers' own compositions are used: both give the same vapour.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.mixture.activity import ActivityModel, LnGamma
from blendwright.mixture.composition import Composition
from blendwright.mixture.ensemble import Voice
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid_split import OneBlend
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import temperatures_where_zero
from blendwright.mixture.vapour_correction import glycol_ln_gamma, learned

LOWEST_K = 150.0
HIGHEST_K = 750.0
SLOPE_STEP_K = 0.5
LN_FLOOR = 0.02  # 90 % half-width of ln P below which nothing is claimed


def saturation_Pa(composition: Composition, temperature_K: float) -> Array:
    """Vapour pressure of each pure substance at one temperature, Pa.

    One without a known vapour pressure counts as zero here; the caller must name it.
    """
    return np.asarray(np.exp(composition.pressures.ln_pressures(temperature_K)))


@dataclass(frozen=True, eq=False)
class VapourModel:
    """One set's ln gamma with what was learned of its error over glycols, for one blend."""

    model: ActivityModel
    terms: Array
    is_glycol: Array

    def ln_gamma(self, mole_fractions: Array, temperature_K: float | Array) -> Array:
        """Shapes as in ActivityModel.ln_gamma."""
        ln_gamma = self.model.ln_gamma(mole_fractions, temperature_K)
        return ln_gamma + glycol_ln_gamma(self.terms, self.is_glycol, mole_fractions)


def vapour_model(model: ActivityModel, composition: Composition) -> LnGamma:
    """The set as it is, or corrected where there are glycols in the blend."""
    if not composition.is_glycol.any():
        return model
    known = learned()[model.parameter_set.name]
    is_solute = np.array([float(c == "other") for c in composition.carrier_classes])
    hydrocarbon = composition.is_hydrocarbon
    terms = is_solute * (
        known.hydrocarbon_term * hydrocarbon + known.solute_term * (1.0 - hydrocarbon)
    )
    return VapourModel(model, terms, composition.is_glycol)


def partial_pressures_Pa(
    model: ActivityModel, composition: Composition, temperature_K: float, may_split: bool
) -> Array:
    """x gamma Psat of each substance; over the layers where the model says that it parts.

    Raises NotConvergedError.
    """
    if may_split:
        liquid = layered(model, composition)
        found = layered_pressures_Pa(liquid, composition, temperature_K)
        if not liquid.converged[0]:
            raise NotConvergedError("layers")
        return found
    return one_liquid_pressures_Pa(vapour_model(model, composition), composition, temperature_K)


def one_liquid_pressures_Pa(
    corrected: LnGamma, composition: Composition, temperature_K: float
) -> Array:
    """x gamma Psat over one liquid, by what `vapour_model` gives."""
    x = composition.mole_fractions
    gamma = np.exp(corrected.ln_gamma(x, temperature_K))
    return np.asarray(x * gamma * saturation_Pa(composition, temperature_K))


def layered(model: ActivityModel, composition: Composition) -> Layered:
    """The blend by one set, in layers where the set says so."""
    corrected = vapour_model(model, composition)
    return Layered(
        lambda temperature_K, _: OneBlend(corrected, float(temperature_K[0])),
        composition.mole_fractions[None],
    )


def layered_pressures_Pa(liquid: Layered, composition: Composition, temperature_K: float) -> Array:
    """x gamma Psat over the layers, started from those of the last temperature asked for.

    `liquid.converged` tells whether the layers are sure.
    """
    x, ln_gamma = liquid.liquid(np.array([temperature_K]), np.zeros(1, dtype=np.int64))
    return np.asarray(x[0] * np.exp(ln_gamma[0]) * saturation_Pa(composition, temperature_K))


def vapour_ln_sd(composition: Composition, model: ActivityModel) -> Array:
    """Standard deviation of each substance's ln gamma by one set, as learned.

    By the classes of what it is dissolved in, mole shares weighing them. The errors were learned at
    infinite dilution; with the substance's own share they fall as ln gamma itself does in a
    regular mixture, (1 - x)^2.
    """
    sd = learned()[model.parameter_set.name].ln_sd
    x = composition.mole_fractions
    classes = composition.carrier_classes
    plain = np.array([sd[c] for c in classes])
    by_glycol = np.array([sd["glycol_hydrocarbon"] if c == "glycol" else sd[c] for c in classes])
    around = np.where(composition.is_hydrocarbon > 0.5, by_glycol @ x, plain @ x)
    own = np.where(composition.is_hydrocarbon > 0.5, by_glycol, plain)
    return np.asarray((1.0 - x) * (around - x * own))


def solve_rising(
    function: Callable[[float], float],
    start_K: float,
    low: float = LOWEST_K,
    high: float = HIGHEST_K,
    first: float | None = None,
) -> float | None:
    """The temperature where an increasing function crosses zero; None if it does not in range.

    `first` is the function's value at the start, where it is known. Raises NotConvergedError.
    """
    found = temperatures_where_zero(
        lambda kelvin, _: np.array([function(float(kelvin[0]))]),
        np.array([start_K]),
        low,
        high,
        None if first is None else np.array([first]),
    )
    if not found.crosses[0]:
        return None
    if not found.converged[0]:
        raise NotConvergedError("temperature")
    return float(found.root[0])


@dataclass(frozen=True, eq=False)
class Headspace:
    """Partial pressures over the blend by the leading parameter set, Pa, one per substance."""

    pressures_Pa: Array
    total: Estimate


def _half_width(
    composition: Composition, model: ActivityModel, pressures: Array, temperature_K: float
) -> float:
    """Half-width of ln(total), 90 %: the pure vapour pressures' and the activities' errors."""
    shares = pressures / pressures.sum()
    own = np.array(
        [
            s.vapour.ln_uncertainty_at(temperature_K) if s.vapour is not None else 0.0
            for s in composition.substances
        ]
    )
    inputs = float(np.sqrt(((shares * own) ** 2).sum()))
    activity = NORMAL_90 * float(shares @ vapour_ln_sd(composition, model))
    return math.hypot(inputs, activity, LN_FLOOR)


def _describe(voices: tuple[Voice, ...]) -> str:
    rest = [v.title for v in voices[1:]]
    return f"modified Raoult with {voices[0].title}" + (
        f"; the cautious end from {', '.join(rest)} too" if rest else ""
    )


def _sources(composition: Composition, voices: tuple[Voice, ...]) -> tuple[str, ...]:
    pure = [source for s in composition.substances if s.vapour for source in s.vapour.sources]
    return (*pure, *(v.source for v in voices))


def headspace(composition: Composition, temperature_K: float, may_split: bool) -> Headspace | None:
    """Vapour over the blend at one temperature; None where no parameter set is complete.

    The total is "unknown" (and the pressures are NaN) where the layers did not converge.
    """
    voices = composition.ensemble.voices("vapour")
    if not voices or not len(composition.substances):
        return None
    try:
        by_voice = [
            partial_pressures_Pa(v.model, composition, temperature_K, may_split) for v in voices
        ]
    except NotConvergedError as error:
        nothing = np.full(len(composition.substances), np.nan)
        return Headspace(nothing, Estimate.unknown("Pa", str(error)))
    totals = [float(p.sum()) for p in by_voice]
    half = _half_width(composition, voices[0].model, by_voice[0], temperature_K)
    total = Estimate.ok(
        totals[0],
        totals[0] * math.exp(-half),
        max(totals[0] * math.exp(half), *totals),
        "Pa",
        _describe(voices),
        _sources(composition, voices),
    )
    return Headspace(by_voice[0], total)


def initial_boiling_point(
    composition: Composition, pressure_Pa: float, may_split: bool
) -> Estimate:
    """Bubble temperature at a pressure, K; "unknown" where a search did not converge."""
    voices = composition.ensemble.voices("vapour")
    if not voices:
        return Estimate.unknown("K", "no parameter set covers every group pair in this blend")
    try:
        return _boiling(composition, voices, pressure_Pa, may_split)
    except NotConvergedError as error:
        return Estimate.unknown("K", str(error))


def _boiling(
    composition: Composition, voices: tuple[Voice, ...], pressure_Pa: float, may_split: bool
) -> Estimate:
    start = 350.0
    temperatures: list[float] = []
    for v in voices:
        found = bubble_temperature_K(v.model, composition, pressure_Pa, may_split, start)
        if found is None:
            return Estimate.absent(
                "K",
                "out_of_range",
                f"boils outside {LOWEST_K - 273.15:.0f} to {HIGHEST_K - 273.15:.0f} °C",
            )
        temperatures.append(found)
        start = found
    value = temperatures[0]
    p = partial_pressures_Pa(voices[0].model, composition, value, may_split)
    warmer = partial_pressures_Pa(voices[0].model, composition, value + SLOPE_STEP_K, may_split)
    slope = math.log(float(warmer.sum()) / float(p.sum())) / SLOPE_STEP_K
    if not slope > 0.0:  # the liquid changes between the two: of the pure substances instead
        slope = float((p / p.sum()) @ ln_slopes_per_K(composition, value))
    half = _half_width(composition, voices[0].model, p, value) / slope
    return Estimate.ok(
        value,
        min(value - half, *temperatures),
        value + half,
        "K",
        f"bubble point at {pressure_Pa / 1e3:.4g} kPa, {_describe(voices)}",
        _sources(composition, voices),
    )


def ln_slopes_per_K(composition: Composition, temperature_K: float) -> Array:
    """Of each substance's ln Psat; zero without a curve."""
    near = composition.pressures.ln_pressures(np.array([temperature_K - 0.5, temperature_K + 0.5]))
    known = np.isfinite(near[0])
    return np.asarray(np.subtract(near[1], near[0], out=np.zeros(len(known)), where=known))


def bubble_temperature_K(
    model: ActivityModel,
    composition: Composition,
    pressure_Pa: float,
    may_split: bool,
    start_K: float = 350.0,
) -> float | None:
    """Where the vapour pressure of the blend by one parameter set reaches a pressure."""
    corrected = vapour_model(model, composition)

    def above(temperature_K: float) -> float:
        p = one_liquid_pressures_Pa(corrected, composition, temperature_K)
        return math.log(float(p.sum()) / pressure_Pa)

    single = solve_rising(above, start_K)
    if single is None or not may_split:
        return single
    liquid = layered(model, composition)

    def above_layers(temperature_K: float) -> float:
        p = layered_pressures_Pa(liquid, composition, temperature_K)
        return math.log(float(p.sum()) / pressure_Pa)

    return solve_in_layers(liquid, above_layers, single)


def solve_in_layers(
    liquid: Layered,
    function: Callable[[float], float],
    single_K: float,
    high: float = HIGHEST_K,
) -> float | None:
    """The same crossing with the vapour of the layers: that of the one liquid where it is stable
    there, else further on from there. Raises NotConvergedError."""
    at_single = function(single_K)
    found: float | None = single_K
    if liquid.parted[0]:
        found = solve_rising(function, single_K, high=high, first=at_single)
    if not liquid.converged[0]:
        raise NotConvergedError("layers")
    return found
