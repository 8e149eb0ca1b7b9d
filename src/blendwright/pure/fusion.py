"""When does the pure solid melt, and how much heat does that take?

Rule: the median of accepted values, published or from memory; without a heat of fusion, Walden's
rule (entropy of fusion 56.5 J/(mol K), Walden 1908), a factor 1.6 either way.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median_low

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material, sources_of
from blendwright.estimate import Estimate
from blendwright.formula.conditions import GAS_CONSTANT_J_mol_K
from blendwright.pure.boiling_point import how_chosen, published_first, stated_half_width

Array = NDArray[np.float64]
WALDEN_J_mol_K = 56.5
WALDEN_FACTOR = 1.6
HEAT_SPREAD = 0.08
MELTING_SPREAD_K = 2.0
FADES_K = 30.0
CORRECTED_AT_K = 298.15


@dataclass(frozen=True)
class Fusion:
    """Melting point (K) and heat of fusion (J/mol) with their intervals."""

    melting: Estimate
    heat: Estimate

    def ln_ideal_activity(self, temperature_K: float) -> float:
        """ln(x gamma) at saturation: -(H/R)(1/T - 1/Tm), zero above the melting point.

        The heat-capacity term is left out (unknown for most; it makes warm solubility a little
        lower and cold a little higher). Prausnitz, Lichtenthaler, de Azevedo 1999, eq. 11-13.
        """
        melting_K, heat = self.melting.interval()[0], self.heat.interval()[0]
        return float(
            ideal_ln_activity(np.array(heat), np.array(melting_K), np.array(temperature_K))
        )


def ideal_ln_activity(heat_J_mol: Array, melting_K: Array, temperature_K: Array) -> Array:
    """Give `Fusion.ln_ideal_activity` of many crystals, or at many temperatures.

    Parameters
    ----------
    heat_J_mol, melting_K, temperature_K : arrays of shapes that go together

    Returns
    -------
    array
        ln of the activity of the molten crystal in equilibrium with the solid, 0 at melting.
    """
    above = 1.0 / temperature_K - 1.0 / melting_K
    return np.minimum(0.0, -heat_J_mol / GAS_CONSTANT_J_mol_K * above)


def correction_shape(heat_J_mol: Array, melting_K: Array, temperature_K: Array) -> Array:
    """How a learned correction of ln(x gamma) at saturation goes with temperature.

    It is the ideal term at 25 °C (at FADES_K below melting, if that is colder), the same at all
    temperatures to FADES_K below the melting point, and fades to zero there as the ideal term does:
    what molecules miss of each other in the liquid does not grow in the cold, and a pure crystal
    melts at its melting point. So the heat of solution stays that of the fusion and the liquid.
    """
    here = ideal_ln_activity(heat_J_mol, melting_K, temperature_K)
    return shape_by_ideal(here, *shape_ends(heat_J_mol, melting_K))


def shape_ends(heat_J_mol: Array, melting_K: Array) -> tuple[Array, Array]:
    """The shape's value well below the melting point, and the ideal term from which it fades."""
    full_K = melting_K - FADES_K
    size = ideal_ln_activity(heat_J_mol, melting_K, np.minimum(CORRECTED_AT_K, full_K))
    return size, ideal_ln_activity(heat_J_mol, melting_K, full_K)


def shape_by_ideal(ideal: Array, size: Array, full: Array) -> Array:
    """`correction_shape` from the ideal term at a temperature and `shape_ends`."""
    return np.asarray(size * np.minimum(1.0, ideal / full))


def melting_point(material: Material) -> Estimate:
    """Choose the melting point of a substance by the rule above.

    Parameters
    ----------
    material : Material

    Returns
    -------
    Estimate
        K.
    """
    data = published_first(material.accepted("melting_point"))
    if not data:
        return Estimate.unknown("K", f"no melting point of {material.name}")
    values = [d.value for d in data]
    value = median_low(values)
    floor = stated_half_width(data, MELTING_SPREAD_K * material.trust_factor)
    half = max(floor, (max(values) - min(values)) / 2.0)
    return Estimate.ok(value, value - half, value + half, "K", how_chosen(data), sources_of(data))


def fusion(material: Material) -> Fusion | None:
    """Choose melting point and heat of fusion of a substance.

    Parameters
    ----------
    material : Material

    Returns
    -------
    Fusion or None
        None where no melting point is known.
    """
    melting = melting_point(material)
    if melting.value is None:
        return None
    data = published_first(material.accepted("heat_of_fusion"))
    if data:
        values = [d.value for d in data]
        value = median_low(values)
        floor = stated_half_width(data, HEAT_SPREAD * value)
        half = min(0.9 * value, max(floor, (max(values) - min(values)) / 2.0))
        heat = Estimate.ok(
            value,
            value - half,
            value + half,
            "J/mol",
            how_chosen(data),
            sources_of(data),
        )
    else:
        value = WALDEN_J_mol_K * melting.value
        heat = Estimate.ok(
            value,
            value / WALDEN_FACTOR,
            value * WALDEN_FACTOR,
            "J/mol",
            "Walden's rule",
            ("walden",),
            (f"no published heat of fusion of {material.name}",),
        )
    return Fusion(melting, heat)
