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

from dataclasses import dataclass

import numpy as np

from blendwright.catalogue.origins import FROM_MEMORY, all_from_memory
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import (
    NO_COMPLETE_SET,
    Vapour,
    VapourMember,
    partial_pressures_Pa,
    shares_of,
    solved_temperature_K,
    vapour_member,
    vapour_of,
)

MEASUREMENT_K = 4.0
BAROMETRIC_K_per_kPa = 0.25  # ISO 2719
HIGHEST_SENSIBLE_K = 623.15
FLASH_START_K = 320.0
LEAST_TOLD_SHARE = 0.01  # of Liaw's sum: that less of it rests on memory is not told
APART_K = 100.0  # from the own flash point, where a vapour pressure's whole error counts


@dataclass(frozen=True, eq=False)
class FlashPoints:
    """The flash points of a part's blends, and each component's share of Liaw's sum there."""

    interval: Interval
    shares: Array


def flash_points(vapour: Vapour, pressure_Pa: float) -> FlashPoints:
    """Closed-cup flash points, K, at an ambient pressure; without a vapour pressure or flash point
    of what burns "unknown", where nothing burns "not_applicable", above 350 °C "out_of_range"."""
    substances, part = vapour.substances, vapour.part
    burning = substances.burns[part.index] & part.there
    known = (substances.flash_known[part.index] | ~burning).all(axis=1)
    solved = vapour.solved(_ln_weights, 0.0, FLASH_START_K, HIGHEST_SENSIBLE_K, True)
    half = np.full(len(part), np.nan)
    shares = np.zeros(part.index.shape)
    for heard in vapour.leading:
        where = heard.where
        half[where], shares[where] = _half_width_K(heard.one, solved.value_K[where])
    found = vapour.interval_K(solved, half)
    barometric = barometric_K(pressure_Pa)
    status = found.status.copy()
    status[~known] = "unknown"
    status[~burning.any(axis=1)] = "not_applicable"
    interval = Interval.of(
        found.value + barometric,
        found.low + barometric,
        found.high + barometric,
        status,
        found.converged | (status != found.status),
    )
    return FlashPoints(interval, shares)


def barometric_K(pressure_Pa: float) -> float:
    """By how much a flash point lies higher than at 101.3 kPa (ISO 2719)."""
    return BAROMETRIC_K_per_kPa * (pressure_Pa - ATMOSPHERE_Pa) / 1e3


def _ln_weights(one: VapourMember) -> Array:
    """Liaw's: 1 / Psat at the own flash point."""
    return -one.substances.ln_reference[one.part.index]


def _half_width_K(one: VapourMember, flash_K: Array) -> tuple[Array, Array]:
    """Half-width of the flash point before the other sets, K, and the shares of Liaw's sum.

    The vapour pressure enters as a ratio of two points on one curve: only the part of its error
    that grows with the distance between them is left.
    """
    own = one.substances
    index = one.part.index
    shares = shares_of(one.pressures_own_Pa(flash_K) * np.exp(_ln_weights(one)))
    slopes = one.pure_slopes_per_K(flash_K)
    ok = np.where(np.isfinite(flash_K), flash_K, ROOM_K)
    counted = np.where(own.flash_known[index], shares, 0.0)
    slope_total = (counted * slopes).sum(axis=1)
    pure_K = own.flash_K[index]
    apart = np.abs(ok[:, None] - np.where(np.isfinite(pure_K), pure_K, 0.0))
    pressure = one.ln_uncertainty(ok) * np.minimum(1.0, apart / APART_K)
    ln_error = np.hypot(own.flash_ln_error[index], pressure)
    with np.errstate(divide="ignore", invalid="ignore"):
        inputs = np.sqrt(((counted * ln_error) ** 2).sum(axis=1)) / slope_total
        slope = (shares * slopes).sum(axis=1)
        activity = NORMAL_90 * (shares * one.ln_sd).sum(axis=1) / slope
    return np.sqrt(MEASUREMENT_K**2 + inputs**2 + activity**2), shares


# One blend


@dataclass(frozen=True, eq=False)
class BlendFlash:
    """The flash point and each substance's term of Liaw's sum there (they add up to 1)."""

    estimate: Estimate
    shares: Array


def liaw_terms(
    parameter_set: str, composition: Composition, temperature_K: float, may_split: bool
) -> Array:
    """The terms of Liaw's sum at one temperature; they sum to 1 at the flash point."""
    pressures = partial_pressures_Pa(parameter_set, composition, temperature_K, may_split)
    return np.asarray(pressures * np.exp(-composition.table.ln_reference))


def flash_temperature_K(
    parameter_set: str, composition: Composition, may_split: bool, start_K: float = FLASH_START_K
) -> float | None:
    """The flash point at 101.3 kPa by one parameter set; None above 350 °C.

    Raises NotConvergedError.
    """
    one = vapour_member(parameter_set, composition, may_split)
    return solved_temperature_K(one, _ln_weights(one), 0.0, start_K, HIGHEST_SENSIBLE_K)


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
    members = composition.members("vapour")
    if not members:
        return BlendFlash(Estimate.unknown("K", NO_COMPLETE_SET), none)
    found = flash_points(vapour_of(composition, may_split), pressure_Pa)
    if not found.interval.is_ok[0]:
        reason = "flashes above 350 °C, if at all"
        return BlendFlash(found.interval.not_ok("K", "flash point", reason), none)
    barometric = barometric_K(pressure_Pa)
    shares = found.shares[0]
    remembered = _from_memory(composition, shares)
    notes = [note for s in burning for note in s.flash.notes]
    if remembered:
        notes.append(f"flash points from memory: {', '.join(remembered)}")
    if may_split:
        notes.append("layers: their vapour counted, the low end as one liquid")
    if barometric:
        notes.append(f"shifted by {barometric:+.1f} °C for the pressure (ISO 2719)")
    estimate = Estimate.ok(
        *found.interval.ends(),
        "K",
        f"Liaw's equation with {members[0].title}; {_memory_words(composition, shares)}interval "
        f"learned, its low end from {len(members)} parameter set{'s' if len(members) > 1 else ''}",
        ("liaw", *(m.source for m in members), *(x for s in burning for x in s.flash.sources)),
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
