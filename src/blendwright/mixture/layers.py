"""If it parts: what each layer holds, how much of it there is, and which lies on top.

Watery blends: the oils that log-linear cosolvency says are too much (`cosolvency`), as a layer of
oils alone. Others: the layers of the weighted mean of the parameter sets for layers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import loading
from blendwright.mixture.density import blend_density
from blendwright.mixture.liquid_split import layers, stability
from blendwright.mixture.parameter_sets import Array


@dataclass(frozen=True, eq=False)
class TwoLayers:
    """Mass of each substance in the top and in the bottom layer, kg, and their densities."""

    top_kg: Array
    bottom_kg: Array
    top_density_kg_m3: float | None
    bottom_density_kg_m3: float | None


def two_layers(composition: Composition, temperature_K: float) -> TwoLayers | None:
    """None where the best estimate is one liquid, or no model can speak."""
    first = _oil_by_cosolvency(composition, temperature_K)
    if first is None:
        first = _first_by_sets(composition, temperature_K)
    if first is None:
        return None
    second = composition.mass_kg - first
    densities = [_density(composition, part, temperature_K) for part in (first, second)]
    if (densities[0] or 0.0) > (densities[1] or 0.0):
        return TwoLayers(second, first, densities[1], densities[0])
    return TwoLayers(first, second, densities[0], densities[1])


def _oil_by_cosolvency(composition: Composition, temperature_K: float) -> Array | None:
    if composition.medium == "organic":
        return None
    found = loading(composition, temperature_K)
    if found is None or found.ln_load <= 0.0:
        return None
    return np.asarray(composition.mass_kg * found.parted_mol_m3() / found.there_mol_m3)


def _first_by_sets(composition: Composition, temperature_K: float) -> Array | None:
    model = composition.ensemble.mean("split", composition.medium)
    if model is None:
        return None
    x = composition.mole_fractions
    found = stability(model, x, temperature_K)
    if not found.splits or found.rival is None:
        return None
    parted = layers(model, x, temperature_K, found.rival)
    if parted is None:
        return None
    share = (1.0 - parted.fraction) * parted.first / x
    return np.asarray(composition.mass_kg * np.clip(share, 0.0, 1.0))


def _density(composition: Composition, mass_kg: Array, temperature_K: float) -> float | None:
    part = composition.times(np.maximum(mass_kg / composition.mass_kg, 1e-12))
    return blend_density(part, temperature_K).value
