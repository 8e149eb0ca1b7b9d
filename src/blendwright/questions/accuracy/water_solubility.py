"""Published solubilities of liquids in water: `reference/water_solubility.csv`, the rows that are
liquids at 25 °C."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.weighing import resolve
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.reference import reference


@dataclass(frozen=True)
class SolubilityRow:
    """One liquid and its measured log10 (mol/L)."""

    material: Material
    measured: float


@cache
def rows() -> tuple[SolubilityRow, ...]:
    """The liquids of the table, one a substance."""
    catalogue = default_catalogue()
    found: dict[str, SolubilityRow] = {}
    for line in reference("water_solubility.csv"):
        material = _material(line, catalogue)
        if material is None or material.name in found or material.is_water:
            continue
        fusion = pure_constants(material).fusion
        if fusion is not None and (fusion.melting.value or 0.0) > ROOM_K:
            continue
        if material.groups:
            found[material.name] = SolubilityRow(material, float(line["log10_molar"]))
    return tuple(found.values())


def _material(line: dict[str, str], catalogue: Catalogue) -> Material | None:
    known = catalogue.by_inchikey(line["inchikey"]) if line["inchikey"] else None
    if known is not None:
        return known
    try:
        return resolve(line["material"], catalogue)
    except BlendwrightError:
        return None
