"""At what temperature does the vapour over the blend first flash in a closed cup?

Liaw et al. (2002): sum_i x_i gamma_i Psat_i(T) / Psat_i(Tflash_i) = 1 over the flammable
components; water and other non-flammable parts are left out of the sum (Liaw and Chiu 2006) but
count in x and gamma. Where the liquid parts, the layers' compositions are used.

The interval takes in quadrature: the errors of the pure flash points and vapour pressures by their
share in the sum; the error of the activity coefficients, as learned from measured ones by class of
carrier (`vapour_correction`), through the slope of the sum; and MEASUREMENT_K, the reproducibility
of closed-cup tests (ISO 2719, ISO 13736). Its low end reaches down to the lowest of all complete
parameter sets, for caution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blendwright.catalogue.origins import FROM_MEMORY, all_from_memory
from blendwright.conditions import ATMOSPHERE_Pa
from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.mixture.activity import ActivityModel
from blendwright.mixture.composition import Composition
from blendwright.mixture.ensemble import Voice
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import (
    layered,
    layered_pressures_Pa,
    ln_slopes_per_K,
    one_liquid_pressures_Pa,
    partial_pressures_Pa,
    solve_in_layers,
    solve_rising,
    vapour_ln_sd,
    vapour_model,
)
from blendwright.pure.vapour_pressure import VapourPressure

MEASUREMENT_K = 4.0
BAROMETRIC_K_per_kPa = 0.25  # ISO 2719
HIGHEST_SENSIBLE_K = 623.15
LEAST_TOLD_SHARE = 0.01  # of Liaw's sum: that less of it rests on memory is not told


def barometric_K(pressure_Pa: float) -> float:
    """By how much a flash point lies higher than at 101.3 kPa (ISO 2719)."""
    return BAROMETRIC_K_per_kPa * (pressure_Pa - ATMOSPHERE_Pa) / 1e3


@dataclass(frozen=True, eq=False)
class BlendFlash:
    """The flash point and each substance's term of Liaw's sum there (they add up to 1)."""

    estimate: Estimate
    shares: Array


def liaw_terms(
    model: ActivityModel,
    composition: Composition,
    temperature_K: float,
    may_split: bool,
) -> Array:
    """The terms of Liaw's sum at one temperature; they sum to 1 at the flash point."""
    pressures = partial_pressures_Pa(model, composition, temperature_K, may_split)
    return np.asarray(pressures / composition.flash_reference_Pa)


def flash_temperature_K(
    model: ActivityModel, composition: Composition, may_split: bool, start_K: float = 320.0
) -> float | None:
    """The flash point at 101.3 kPa by one parameter set; None above 350 °C.

    Raises NotConvergedError.
    """
    reference = composition.flash_reference_Pa
    corrected = vapour_model(model, composition)

    def above(temperature_K: float) -> float:
        pressures = one_liquid_pressures_Pa(corrected, composition, temperature_K)
        return math.log(float((pressures / reference).sum()))

    single = solve_rising(above, start_K, high=HIGHEST_SENSIBLE_K)
    if single is None or not may_split:
        return single
    liquid = layered(model, composition)

    def above_layers(temperature_K: float) -> float:
        pressures = layered_pressures_Pa(liquid, composition, temperature_K)
        return math.log(float((pressures / reference).sum()))

    return solve_in_layers(liquid, above_layers, single, HIGHEST_SENSIBLE_K)


def blend_flash_point(
    composition: Composition, may_split: bool, pressure_Pa: float = ATMOSPHERE_Pa
) -> BlendFlash:
    """Closed-cup flash point of the blend, K, at an ambient pressure.

    "not_applicable" where nothing in it burns, "out_of_range" above 350 °C, "unknown" where a
    flammable substance has no flash point, no parameter set is complete, or a search did not
    converge.
    """
    none = np.zeros(len(composition.substances))
    burning = [s for s in composition.substances if s.flash.status != "not_applicable"]
    if not burning:
        return BlendFlash(Estimate.absent("K", "not_applicable", "nothing in it burns"), none)
    blind = [s.name for s in burning if s.vapour is None or s.flash.value is None]
    if blind:
        reason = f"no flash point or vapour pressure of {', '.join(blind)}"
        return BlendFlash(Estimate.unknown("K", reason), none)
    voices = composition.ensemble.voices("vapour")
    if not voices:
        reason = "no parameter set covers every group pair in this blend"
        return BlendFlash(Estimate.unknown("K", reason), none)
    try:
        return _flash_point(composition, voices, may_split, pressure_Pa)
    except NotConvergedError as error:
        return BlendFlash(Estimate.unknown("K", str(error)), none)


def _flash_point(
    composition: Composition, voices: tuple[Voice, ...], may_split: bool, pressure_Pa: float
) -> BlendFlash:
    none = np.zeros(len(composition.substances))
    burning = [s for s in composition.substances if s.flash.status != "not_applicable"]
    found: list[float] = []
    start = 320.0
    for split in (True, False) if may_split else (False,):
        for voice in voices:
            value = flash_temperature_K(voice.model, composition, split, start)
            if value is None:
                return BlendFlash(
                    Estimate.absent("K", "out_of_range", "flashes above 350 °C, if at all"), none
                )
            found.append(value)
            start = value
    value = found[0]
    terms = liaw_terms(voices[0].model, composition, value, may_split)
    half = math.hypot(
        MEASUREMENT_K,
        _input_spread_K(composition, terms, value),
        _activity_spread_K(composition, voices[0].model, terms, value),
    )
    barometric = barometric_K(pressure_Pa)
    shares = terms / terms.sum()
    remembered = _from_memory(composition, shares)
    notes = [note for s in burning for note in s.flash.notes]
    if remembered:
        notes.append(f"flash points from memory: {', '.join(remembered)}")
    if may_split:
        notes.append("layers: their vapour counted, the low end as one liquid")
    if barometric:
        notes.append(f"shifted by {barometric:+.1f} °C for the pressure (ISO 2719)")
    estimate = Estimate.ok(
        value + barometric,
        min(value - half, *found) + barometric,
        value + half + barometric,
        "K",
        f"Liaw's equation with {voices[0].title}; {_memory_words(composition, shares)}interval "
        f"learned, its low end from {len(voices)} parameter set{'s' if len(voices) > 1 else ''}",
        ("liaw", *(v.source for v in voices), *(x for s in burning for x in s.flash.sources)),
        notes,
    )
    return BlendFlash(estimate, shares)


def _rests_on_memory(composition: Composition) -> Array:
    return np.array([all_from_memory(s.flash.sources) for s in composition.substances], dtype=bool)


def _from_memory(composition: Composition, shares: Array) -> list[str]:
    """Substances whose flash points rest on memory alone and which count, the most first."""
    of_memory = np.where(_rests_on_memory(composition), shares, 0.0)
    order = [int(i) for i in np.argsort(-of_memory, kind="stable")]
    return [composition.names[i] for i in order if of_memory[i] >= LEAST_TOLD_SHARE]


def _memory_words(composition: Composition, shares: Array) -> str:
    """How much of what flashes rests on flash points from memory, for the method."""
    share = float(shares @ _rests_on_memory(composition))
    if share < LEAST_TOLD_SHARE:
        return ""
    return f"{share:.0%} of what flashes by flash points {FROM_MEMORY}; "


def _input_spread_K(composition: Composition, terms: Array, temperature_K: float) -> float:
    """What the errors of the pure flash points and vapour pressures do to the blend, K."""
    shares = terms / terms.sum()
    slopes = ln_slopes_per_K(composition, temperature_K)
    total = 0.0
    slope_total = 0.0
    for s, share, slope in zip(composition.substances, shares, slopes, strict=True):
        if share <= 0.0 or s.vapour is None or s.flash.value is None:
            continue
        slope_total += share * slope
        value, low, _ = s.flash.interval()
        ln_error = ln_slope_per_K(s.vapour, value) * (value - low)
        # the vapour pressure enters as a ratio of two points on one curve: only the part of its
        # error that grows with the distance between them is left
        apart = abs(temperature_K - value)
        ln_error = math.hypot(
            ln_error, s.vapour.ln_uncertainty_at(temperature_K) * min(1.0, apart / 100.0)
        )
        total += (share * ln_error) ** 2
    return math.sqrt(total) / slope_total if slope_total else 0.0


def _activity_spread_K(
    composition: Composition, model: ActivityModel, terms: Array, temperature_K: float
) -> float:
    """What the learned errors of the activity coefficients do to the blend, K (90 %)."""
    shares = terms / terms.sum()
    slope = float(shares @ ln_slopes_per_K(composition, temperature_K))
    spread = float(shares @ vapour_ln_sd(composition, model))
    return NORMAL_90 * spread / slope if slope else 0.0


def ln_slope_per_K(vapour: VapourPressure, temperature_K: float) -> float:
    near = vapour.ln_pressure(np.array([temperature_K - 0.5, temperature_K + 0.5]))
    return float(near[1] - near[0])
