"""At what temperature does the vapour over the blend first flash in a closed cup?

Liaw et al. (2002): sum_i x_i gamma_i Psat_i(T) / Psat_i(Tflash_i) = 1 over the flammable
components; water and other non-flammable parts are left out of the sum (Liaw and Chiu 2006) but
count in x and gamma. x and gamma are those of the state of least Gibbs energy (`state`).

The interval takes in quadrature: the errors of the pure flash points and vapour pressures by their
share in the sum; the spread of the liquid model's draws through the slope of the sum (`vapour`);
and MEASUREMENT_K, the reproducibility of closed-cup tests (ISO 2719, ISO 13736).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.catalogue.origins import FROM_MEMORY, all_from_memory
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate, per_cent
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.interval import Interval
from blendwright.mixture.liquid import NO_GROUPS, SOURCES, TITLE
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import Solved, Vapour, partial_pressures_Pa, shares_of, vapour_of
from blendwright.pure.roots import Bools

MEASUREMENT_K = 4.0
BAROMETRIC_K_per_kPa = 0.25  # ISO 2719
HIGHEST_SENSIBLE_K = 623.15
FLASH_START_K = 320.0
LEAST_TOLD_SHARE = 0.01  # of Liaw's sum: that less of it rests on memory is not told
APART_K = 100.0  # from the own flash point, where a vapour pressure's whole error counts


@dataclass(frozen=True, eq=False)
class FlashPoints:
    """The flash points of a part's blends, each component's share of Liaw's
    sum there, and which lie in layers there."""

    interval: Interval
    shares: Array
    has_split: Bools


def flash_points(vapour: Vapour, pressure_Pa: float) -> FlashPoints:
    """Find the closed-cup flash points of the blends of a part.

    Parameters
    ----------
    vapour : Vapour
        Over these blends.
    pressure_Pa : float
        The air's.

    Returns
    -------
    FlashPoints
        K; "unknown" without a vapour pressure or flash point of what burns, "not_applicable" where
        nothing burns, "out_of_range" above 350 °C.

    References
    ----------
    .. [1] H.-J. Liaw et al. (2002), J. Loss Prev. Process Ind. 15, 429,
       doi:10.1016/S0950-4230(02)00067-7
    """
    substances, part = vapour.substances, vapour.part
    burning = substances.burns[part.index] & part.there
    known = (substances.flash_known[part.index] | ~burning).all(axis=1)
    solved = vapour.solved(ln_weights(vapour), 0.0, FLASH_START_K, HIGHEST_SENSIBLE_K)
    down_K, up_K, shares = _half_widths_K(vapour, solved)
    found = vapour.interval_K(solved, down_K, up_K)
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
    return FlashPoints(interval, shares, solved.state.has_split)


def barometric_K(pressure_Pa: float) -> float:
    """Tell by how much a flash point lies higher than at 101.3 kPa (ISO 2719, the barometric
    correction).

    Parameters
    ----------
    pressure_Pa : float
        The air's.

    Returns
    -------
    float
        K, negative below 101.3 kPa.
    """
    return BAROMETRIC_K_per_kPa * (pressure_Pa - ATMOSPHERE_Pa) / 1e3


def ln_weights(vapour: Vapour) -> Array:
    """Liaw's: 1 / Psat at the own flash point (blends, components)."""
    return np.asarray(-vapour.substances.ln_reference[vapour.part.index])


def _half_widths_K(vapour: Vapour, solved: Solved) -> tuple[Array, Array, Array]:
    """90 % half-widths of the flash point downwards and upwards, K, and the shares of Liaw's sum.

    The vapour pressure enters as a ratio of two points on one curve: only the part of its error
    that grows with the distance between them is left.
    """
    own, index = vapour.substances, vapour.part.index
    flash_K = np.where(solved.failed, ROOM_K, solved.value_K)
    weights = np.exp(ln_weights(vapour) + vapour.curves.ln_pressures(flash_K))
    activity = solved.state.x * np.exp(solved.state.ln_gamma)
    shares = shares_of(activity * weights)
    slopes = vapour.pure_slopes_per_K(flash_K)
    counted = np.where(own.flash_known[index], shares, 0.0)
    pure_K = own.flash_K[index]
    apart = np.abs(flash_K[:, None] - np.where(np.isfinite(pure_K), pure_K, 0.0))
    pressure = vapour.ln_uncertainty(flash_K) * np.minimum(1.0, apart / APART_K)
    ln_error = np.hypot(own.flash_ln_error[index], pressure)
    down, up = vapour.activity_half_ln(solved.state, flash_K, weights)
    with np.errstate(divide="ignore", invalid="ignore"):
        inputs = np.sqrt(((counted * ln_error) ** 2).sum(axis=1)) / (counted * slopes).sum(axis=1)
        slope = (shares * slopes).sum(axis=1)
        common = MEASUREMENT_K**2 + inputs**2
        return np.sqrt(common + (up / slope) ** 2), np.sqrt(common + (down / slope) ** 2), shares


# One blend


@dataclass(frozen=True, eq=False)
class BlendFlash:
    """The flash point and each substance's term of Liaw's sum there (they add up to 1)."""

    estimate: Estimate
    shares: Array


def liaw_terms(composition: Composition, temperature_K: float) -> Array:
    """Give the terms of Liaw's sum at one temperature; they sum to 1 at the flash point.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.

    Returns
    -------
    array (components,)

    References
    ----------
    .. [1] H.-J. Liaw et al. (2002), J. Loss Prev. Process Ind. 15, 429,
       doi:10.1016/S0950-4230(02)00067-7
    """
    pressures = partial_pressures_Pa(composition, temperature_K)
    return np.asarray(pressures * np.exp(-composition.table.ln_reference))


def flash_temperature_K(composition: Composition, start_K: float = FLASH_START_K) -> float | None:
    """Find the flash point at 101.3 kPa, the value alone.

    Parameters
    ----------
    composition : Composition
        One blend.
    start_K : float
        Where the search begins.

    Returns
    -------
    float or None
        K; None above 350 °C.

    Raises
    ------
    NotConvergedError
        Where a search did not converge.
    """
    vapour = vapour_of(composition)
    solved = vapour.solved(ln_weights(vapour), 0.0, start_K, HIGHEST_SENSIBLE_K)
    if not solved.converged[0]:
        raise NotConvergedError("flash point")
    return None if solved.failed[0] else float(solved.value_K[0])


def blend_flash_point(composition: Composition, pressure_Pa: float = ATMOSPHERE_Pa) -> BlendFlash:
    """Find the closed-cup flash point of one blend.

    Parameters
    ----------
    composition : Composition
        One blend.
    pressure_Pa : float
        The air's.

    Returns
    -------
    BlendFlash
        K; "not_applicable" where nothing in it burns, "out_of_range" above 350 °C, "unknown" where
        a flammable substance has no flash point, the liquid model does not cover it, or a search
        did not converge.

    References
    ----------
    .. [1] H.-J. Liaw et al. (2002), J. Loss Prev. Process Ind. 15, 429,
       doi:10.1016/S0950-4230(02)00067-7
    """
    none = np.zeros(len(composition.substances))
    burning = [s for s in composition.substances if s.flash.status != "not_applicable"]
    if not burning:
        return BlendFlash(Estimate.absent("K", "not_applicable", "nothing in it burns"), none)
    unknown = [s.name for s in burning if s.vapour is None or s.flash.value is None]
    if unknown:
        reason = f"no flash point or vapour pressure of {', '.join(unknown)}"
        return BlendFlash(Estimate.unknown("K", reason), none)
    if not composition.is_covered:
        return BlendFlash(Estimate.unknown("K", NO_GROUPS), none)
    vapour = vapour_of(composition)
    found = flash_points(vapour, pressure_Pa)
    if not found.interval.is_ok[0]:
        reason = "flashes above 350 °C, if at all"
        return BlendFlash(found.interval.not_ok("K", "flash point", reason), none)
    barometric = barometric_K(pressure_Pa)
    shares = found.shares[0]
    remembered = _from_memory(composition, shares)
    notes = [note for s in burning for note in s.flash.notes]
    if remembered:
        notes.append(f"flash points from memory: {', '.join(remembered)}")
    if found.has_split[0]:
        notes.append("at its flash point it lies in layers: their vapour is counted")
    if barometric:
        notes.append(f"shifted by {barometric:+.1f} °C for the pressure (ISO 2719)")
    estimate = Estimate.ok(
        *found.interval.ends(),
        "K",
        f"Liaw's equation with {TITLE}{_memory_words(composition, shares)}",
        ("liaw", *SOURCES, *(x for s in burning for x in s.flash.sources)),
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
    return f"; {per_cent(share)} of what flashes by flash points {FROM_MEMORY}"
