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

import numpy as np

from blendwright.estimate import Estimate
from blendwright.formula.conditions import BENCH_K, ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.density import blend_density
from blendwright.mixture.liquid import NO_GROUPS
from blendwright.mixture.vapour import headspace
from blendwright.pure.density import liquid_density

ADR_COLD_K, ADR_WARM_K = 288.15, 323.15
ADR_FULLEST_pct = 98.0
LIQUID_FULL_K = 328.15  # 49 CFR 173.24a(d), UN 4.1.1.4: not liquid-full at 55 °C
GAS_LIMIT_K = 323.15
UNKNOWN_DENSITY_kg_m3 = 1000.0  # for its share of the volume only
USUAL_FILL = 0.90  # common practice, no source
EXPANSION_SPREAD = 0.2  # of the expansion, 90 % (common practice, no source)


@dataclass(frozen=True)
class ClosedBottle:
    """A rigid bottle, closed: share of its volume that is liquid, at what temperature, in air."""

    fill: float = USUAL_FILL
    closed_at_K: float = BENCH_K
    closed_at_Pa: float = ATMOSPHERE_Pa


def vapour_pressure_at_50C(composition: Composition) -> Estimate:
    """Vapour pressure of the blend at 50 °C, Pa, the temperature of the UN's limit for gases."""
    found = headspace(composition, GAS_LIMIT_K)
    if found is None:
        return Estimate.unknown("Pa", NO_GROUPS)
    return found.total


def expansion(composition: Composition, from_K: float, to_K: float) -> Estimate:
    """Volume at one temperature over the volume at another, m3/m3."""
    first, second = blend_density(composition, from_K), blend_density(composition, to_K)
    if first.value is None or second.value is None:
        return Estimate.unknown("m3/m3", "; ".join((*first.notes, *second.notes)))
    ratio = first.value / second.value
    half = EXPANSION_SPREAD * abs(ratio - 1.0)
    return Estimate.ok(
        ratio, ratio - half, ratio + half, "m3/m3", "ratio of densities", first.sources
    )


def adr_fill_limit(composition: Composition, fill_K: float = BENCH_K) -> Estimate:
    """Filling degree by the formula of ADR 4.1.1.4, per cent of the capacity."""
    ratio = expansion(composition, ADR_COLD_K, ADR_WARM_K)
    if not ratio.is_ok:
        return Estimate.unknown("%", "; ".join(ratio.notes))
    value, least, most = (adr_fill_pct(r, fill_K) for r in ratio.interval())
    return Estimate.ok(
        value,
        min(value, least, most),
        max(value, least, most),
        "%",
        "ADR 4.1.1.4 with the blend's densities at 15 and 50 °C",
        ratio.sources,
    )


def adr_fill_pct(density_ratio: float, fill_K: float) -> float:
    """ADR 4.1.1.4 from d15 / d50.

    >>> round(adr_fill_pct(0.906 / 0.864, 293.15), 2)
    94.08
    """
    alpha = (density_ratio - 1.0) / (ADR_WARM_K - ADR_COLD_K)
    return ADR_FULLEST_pct / (1.0 + alpha * (ADR_WARM_K - fill_K))


def liquid_full_at_55C(composition: Composition, fill_K: float = BENCH_K) -> Estimate:
    """The filling degree that is liquid-full at 55 °C, per cent: stay below it."""
    ratio = expansion(composition, fill_K, LIQUID_FULL_K)
    if not ratio.is_ok:
        return Estimate.unknown("%", "; ".join(ratio.notes))
    value, low, high = ratio.interval()
    return Estimate.ok(
        100.0 / value, 100.0 / high, 100.0 / low, "%", "ratio of densities", ratio.sources
    )


def pressure_in_bottle(
    composition: Composition, bottle: ClosedBottle, temperature_K: float, vapour: Estimate
) -> Estimate:
    """Absolute pressure in a closed bottle, Pa, from the blend's vapour pressure there.

    "out_of_range" where the liquid may fill the bottle.
    """
    ratio = expansion(composition, bottle.closed_at_K, temperature_K)
    for part in (vapour, ratio):
        if not part.is_ok:
            return Estimate.unknown("Pa", "; ".join(part.notes))
    airs = [_air_Pa(bottle, temperature_K, r) for r in ratio.interval()]
    squeezed = [air for air in airs if air is not None]
    if len(squeezed) < len(airs):
        return Estimate.absent(
            "Pa", "out_of_range", f"liquid-full at {temperature_K - 273.15:.0f} °C"
        )
    value, low, high = vapour.interval()
    return Estimate.ok(
        squeezed[0] + value,
        min(squeezed) + low,
        max(squeezed) + high,
        "Pa",
        "air squeezed by the liquid's expansion, and vapour",
        (*ratio.sources, *vapour.sources),
    )


def _air_Pa(bottle: ClosedBottle, temperature_K: float, expanded: float) -> float | None:
    room = 1.0 - bottle.fill * expanded
    if room <= 0.0:
        return None
    warmed = bottle.closed_at_Pa * temperature_K / bottle.closed_at_K
    return warmed * (1.0 - bottle.fill) / room


def volume_shares(composition: Composition, temperature_K: float = ROOM_K) -> Mapping[str, float]:
    """Volume fraction of each substance, ideal; one without a density counts at 1 g/mL."""
    densities = [liquid_density(s.material, temperature_K).value for s in composition.substances]
    volumes = composition.mass_kg / np.array(
        [d if d is not None else UNKNOWN_DENSITY_kg_m3 for d in densities]
    )
    return dict(zip(composition.names, (volumes / volumes.sum()).tolist(), strict=True))
