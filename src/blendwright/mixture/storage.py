"""How full may the bottle be, and how hard does it press on the cap when it gets warm?

Liquid expands as its density falls; what air there is gets squeezed, and vapour adds to it:

    P(T) = P_0 (T / T_0) (1 - f) / (1 - f rho(T_0) / rho(T)) + p_vapour(T)

f is the share of the bottle's volume that is liquid at closing. The air is taken as dry when the
cap goes on, as insoluble, and the bottle as rigid: all three err high. ADR 4.1.1.4 (from memory,
2023) limits the filling degree, in per cent of the capacity at the temperature of filling:

    F = 98 / (1 + alpha (50 - t_fill)),   alpha = (d15 - d50) / (35 d50)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import BENCH_K, ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.density import blend_density, densities
from blendwright.mixture.interval import Interval
from blendwright.mixture.liquid import NO_GROUPS
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Pairs
from blendwright.mixture.vapour import headspace

ADR_COLD_K, ADR_WARM_K = 288.15, 323.15
ADR_FULLEST_pct = 98.0
LIQUID_FULL_K = 328.15  # 49 CFR 173.24a(d), UN 4.1.1.4: not liquid-full at 55 °C
GAS_LIMIT_K = 323.15
UNKNOWN_DENSITY_kg_m3 = 1000.0  # for its share of the volume only
USUAL_FILL = 0.90  # common practice, no source
EXPANSION_SPREAD = 0.2  # of the expansion, 90 % (common practice, no source)
Number = TypeVar("Number", float, Array)


@dataclass(frozen=True)
class ClosedBottle:
    """A rigid bottle, closed: share of its volume that is liquid, at what temperature, in air."""

    fill: float = USUAL_FILL
    closed_at_K: float = BENCH_K
    closed_at_Pa: float = ATMOSPHERE_Pa


def vapour_pressure_at_50C(composition: Composition) -> Estimate:
    """Find the vapour pressure of a blend at 50 °C, the temperature of the UN's limit for gases.

    Parameters
    ----------
    composition : Composition
        One blend.

    Returns
    -------
    Estimate
        Pa.
    """
    found = headspace(composition, GAS_LIMIT_K)
    if found is None:
        return Estimate.unknown("Pa", NO_GROUPS)
    return found.total


def expansions(pairs: Pairs, from_K: float, to_K: float) -> Interval:
    """Volume of blends at one temperature over that at another, m3/m3."""
    ratio = densities(pairs, from_K).value / densities(pairs, to_K).value
    half = EXPANSION_SPREAD * np.abs(ratio - 1.0)
    status = np.where(np.isfinite(ratio), "ok", "unknown").astype(object)
    return Interval.of(ratio, ratio - half, ratio + half, status)


def expansion(composition: Composition, from_K: float, to_K: float) -> Estimate:
    """That of one blend."""
    first, second = blend_density(composition, from_K), blend_density(composition, to_K)
    if not (first.is_ok and second.is_ok):
        return Estimate.unknown("m3/m3", "; ".join((*first.notes, *second.notes)))
    ends = expansions(composition.pairs, from_K, to_K).ends()
    return Estimate.ok(*ends, "m3/m3", "ratio of densities", first.sources)


def adr_fill_limits(pairs: Pairs, fill_K: float = BENCH_K) -> Interval:
    """Filling degree of blends by the formula of ADR 4.1.1.4, per cent of the capacity."""
    ratio = expansions(pairs, ADR_COLD_K, ADR_WARM_K)
    value, first, second = (adr_fill_pct(r, fill_K) for r in (ratio.value, ratio.low, ratio.high))
    return Interval.of(value, np.minimum(first, second), np.maximum(first, second), ratio.status)


def adr_fill_limit(composition: Composition, fill_K: float = BENCH_K) -> Estimate:
    """That of one blend."""
    ratio = expansion(composition, ADR_COLD_K, ADR_WARM_K)
    if not ratio.is_ok:
        return Estimate.unknown("%", "; ".join(ratio.notes))
    ends = adr_fill_limits(composition.pairs, fill_K).ends()
    method = "ADR 4.1.1.4 with the blend's densities at 15 and 50 °C"
    return Estimate.ok(*ends, "%", method, ratio.sources)


def adr_fill_pct(density_ratio: Number, fill_K: float) -> Number:
    """ADR 4.1.1.4 from d15 / d50.

    >>> round(adr_fill_pct(0.906 / 0.864, 293.15), 2)
    94.08
    """
    alpha = (density_ratio - 1.0) / (ADR_WARM_K - ADR_COLD_K)
    return ADR_FULLEST_pct / (1.0 + alpha * (ADR_WARM_K - fill_K))


def liquid_full_limits(pairs: Pairs, fill_K: float = BENCH_K) -> Interval:
    """The filling degree at which blends are liquid-full at 55 °C, per cent: stay below it."""
    ratio = expansions(pairs, fill_K, LIQUID_FULL_K)
    return Interval.of(100.0 / ratio.value, 100.0 / ratio.high, 100.0 / ratio.low, ratio.status)


def liquid_full_at_55C(composition: Composition, fill_K: float = BENCH_K) -> Estimate:
    """That of one blend."""
    ratio = expansion(composition, fill_K, LIQUID_FULL_K)
    if not ratio.is_ok:
        return Estimate.unknown("%", "; ".join(ratio.notes))
    ends = liquid_full_limits(composition.pairs, fill_K).ends()
    return Estimate.ok(*ends, "%", "ratio of densities", ratio.sources)


def bottle_pressures(
    pairs: Pairs, bottle: ClosedBottle, temperature_K: float, vapour: Interval
) -> Interval:
    """Absolute pressure in a closed bottle of each blend, Pa, from its vapour pressure there.

    "out_of_range" where the liquid may fill the bottle.
    """
    ratio = expansions(pairs, bottle.closed_at_K, temperature_K)
    warmed = bottle.closed_at_Pa * temperature_K / bottle.closed_at_K
    with np.errstate(invalid="ignore", divide="ignore"):
        room = [1.0 - bottle.fill * r for r in (ratio.value, ratio.low, ratio.high)]
        value, first, second = (warmed * (1.0 - bottle.fill) / left for left in room)
        full = (room[0] <= 0.0) | (room[1] <= 0.0) | (room[2] <= 0.0)
    told = vapour.is_ok & ratio.is_ok
    status = np.where(told, np.where(full, "out_of_range", "ok"), "unknown").astype(object)
    return Interval.of(
        value + vapour.value,
        np.minimum(first, second) + vapour.low,
        np.maximum(first, second) + vapour.high,
        status,
    )


def pressure_in_bottle(
    composition: Composition, bottle: ClosedBottle, temperature_K: float, vapour: Estimate
) -> Estimate:
    """That of one blend."""
    ratio = expansion(composition, bottle.closed_at_K, temperature_K)
    for part in (vapour, ratio):
        if not part.is_ok:
            return Estimate.unknown("Pa", "; ".join(part.notes))
    found = bottle_pressures(
        composition.pairs, bottle, temperature_K, Interval.from_estimate(vapour)
    )
    if found.status[0] == "out_of_range":
        return Estimate.absent(
            "Pa", "out_of_range", f"liquid-full at {to_celsius(temperature_K):.0f} °C"
        )
    return Estimate.ok(
        *found.ends(),
        "Pa",
        "air squeezed by the liquid's expansion, and vapour",
        (*ratio.sources, *vapour.sources),
    )


def pair_volume_shares(pairs: Pairs, temperature_K: float = ROOM_K) -> Array:
    """Volume fraction of every substance in its blend, ideal; one without a density counts at
    1 g/mL."""
    density, _ = pairs.substances.densities(temperature_K)
    volume = pairs.kg / np.where(np.isnan(density), UNKNOWN_DENSITY_kg_m3, density)[pairs.substance]
    return np.asarray(volume / pairs.per_blend(volume)[pairs.blend])


def volume_shares(composition: Composition, temperature_K: float = ROOM_K) -> Mapping[str, float]:
    """Those of one blend, by name."""
    shares = pair_volume_shares(composition.pairs, temperature_K)
    return dict(zip(composition.names, shares.tolist(), strict=True))
