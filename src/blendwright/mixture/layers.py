"""If it parts: what each layer holds, how much of it there is, and which lies on top.

The layers of the state of least Gibbs energy (`layered`). Where the liquid model has one liquid but
log-linear cosolvency (`cosolvency`) has too much oil in a watery blend: those oils as a layer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import loading
from blendwright.mixture.density import blend_density
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid import Liquid, search_for_layers
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.survey import stabilities
from blendwright.mixture.vapour import vapour_of


@dataclass(frozen=True, eq=False)
class TwoLayers:
    """Mass of each substance in the top and in the bottom layer, kg, and their densities."""

    top_kg: Array
    bottom_kg: Array
    top_density_kg_m3: float | None
    bottom_density_kg_m3: float | None


def two_layers(composition: Composition, temperature_K: float) -> TwoLayers | None:
    """Tell what each of two layers holds.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.

    Returns
    -------
    TwoLayers or None
        None where the best estimate is one liquid, or no model can speak.
    """
    found = _by_model(composition, temperature_K)
    if found is None:
        found = _oil_by_cosolvency(composition, temperature_K)
    if found is None:
        return None
    first, second = found
    densities = [_density(composition, part, temperature_K) for part in (first, second)]
    if (densities[0] or 0.0) > (densities[1] or 0.0):
        return TwoLayers(second, first, densities[1], densities[0])
    return TwoLayers(first, second, densities[0], densities[1])


def _oil_by_cosolvency(
    composition: Composition, temperature_K: float
) -> tuple[Array, Array] | None:
    found = loading(composition, temperature_K)
    if found is None or found.ln_load <= 0.0:
        return None
    parted = composition.mass_kg * found.parted_mol_m3() / found.there_mol_m3
    return None if np.isnan(parted).any() else (parted, composition.mass_kg - parted)


def _by_model(composition: Composition, temperature_K: float) -> tuple[Array, Array] | None:
    if not composition.is_covered:
        return None
    part = composition.part
    known = vapour_of(composition).state_of_all(temperature_K)
    first, parted, converged, in_second = (
        known.x, known.has_split, known.converged, known.in_second,
    )  # fmt: skip
    if known.has_crystals[0]:  # the layers of all of it, dissolved
        model = Liquid(composition.table, part.index).at(temperature_K)
        known_to_split = stabilities(part, model)
        whole = Layered(lambda *_: model, part.x, search_for_layers(), lambda *_: known_to_split)
        first = whole.composition(np.array([temperature_K]), np.zeros(1, dtype=np.int64))
        parted, converged, in_second = whole.parted, whole.converged, whole.in_second()
    if not (parted[0] and converged[0]):
        return None
    # not what the second leaves: of a trace that would be rounding
    in_first = (1.0 - (part.x * in_second).sum()) * first / part.x
    return composition.mass_kg * in_first[0], composition.mass_kg * in_second[0]


def _density(composition: Composition, mass_kg: Array, temperature_K: float) -> float | None:
    part = composition.times(np.maximum(mass_kg / composition.mass_kg, 1e-12))
    return blend_density(part, temperature_K).value
