"""Where a crystal's solubility was measured, for the words and sources beside an answer.

The measurements themselves are rows of the fit of the liquid model's terms (`excess`).
"""

from __future__ import annotations

from collections.abc import Iterator

from blendwright.catalogue.material import Material
from blendwright.catalogue.origins import FROM_MEMORY, all_from_memory

MOST_WATER_kg_m3 = 50.0  # more is no dilute solution, and no crystal of the trade reaches it


def measurements(solid: Material) -> Iterator[tuple[str, str]]:
    """(carrier, source) of each measured solubility."""
    for point in solid.solubilities:
        yield point.solvent, point.source
    if any(point.solvent == "water" for point in solid.solubilities):
        return
    for datum in solid.accepted("water_solubility"):
        if datum.value < MOST_WATER_kg_m3:
            yield "water", datum.source


def measured_sources(solid: Material) -> tuple[str, ...]:
    return tuple(dict.fromkeys(source for _, source in measurements(solid)))


def where_known(solid: Material) -> str:
    """ "measured in ethanol; from memory in water"; empty where nothing is known."""
    by_carrier: dict[str, list[str]] = {}
    for carrier, source in measurements(solid):
        by_carrier.setdefault(carrier, []).append(source)
    remembered = [name for name, sources in by_carrier.items() if all_from_memory(sources)]
    measured = [name for name in by_carrier if name not in remembered]
    parts = (("measured in", measured), (f"{FROM_MEMORY} in", remembered))
    return "; ".join(f"{how} {', '.join(names)}" for how, names in parts if names)
