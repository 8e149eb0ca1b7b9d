"""Finding materials by part of a name, family, state or property."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.catalogue import Catalogue, Material
from blendwright.catalogue.names import normalise
from blendwright.estimate import to_celsius
from blendwright.formula.conditions import ROOM_K
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density

COLUMNS = (
    "material", "family", "cas", "state_20C", "flash_point_C", "boiling_point_C", "density_g_mL",
    "vapour_pressure_Pa",
)  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """What to look for; None and "" leave a question out. Temperatures in °C."""

    text: str = ""
    family: str = ""
    state: str = ""
    flash_below_C: float | None = None
    flash_above_C: float | None = None
    boiling_below_C: float | None = None
    boiling_above_C: float | None = None


@dataclass(frozen=True)
class FoundMaterial:
    """One material with its main constants in the units that people read; None is unknown."""

    material: str
    family: str
    cas: str
    state_20C: str
    flash_point_C: float | None
    boiling_point_C: float | None
    density_g_mL: float | None
    vapour_pressure_Pa: float | None


def find_materials(wanted: Wanted, catalogue: Catalogue) -> list[FoundMaterial]:
    """Every material that fits, in the catalogue's order. An unknown value never fits a limit."""
    found = []
    for name in catalogue.names():
        material = catalogue.material(name)
        if not _name_fits(material, wanted):
            continue
        row = _row(material)
        if _fits(row.flash_point_C, wanted.flash_above_C, wanted.flash_below_C) and _fits(
            row.boiling_point_C, wanted.boiling_above_C, wanted.boiling_below_C
        ):
            found.append(row)
    return found


def _name_fits(material: Material, wanted: Wanted) -> bool:
    text = normalise(wanted.text)
    family = normalise(wanted.family).rstrip("s")
    return (
        (not text or any(text in normalise(name) for name in (material.name, *material.names)))
        and (not family or family in normalise(material.family))
        and (not wanted.state or wanted.state == material.state_20C)
    )


def _fits(value: float | None, above: float | None, below: float | None) -> bool:
    if above is None and below is None:
        return True
    if value is None:
        return False
    return (above is None or value > above) and (below is None or value < below)


def _row(material: Material) -> FoundMaterial:
    if material.kind != "substance":
        density = next((d.value / 1e3 for d in material.accepted("density")), None)
        flash = next((to_celsius(d.value) for d in material.accepted("flash_point")), None)
        return FoundMaterial(
            material.name, material.family, material.cas, material.state_20C, flash, None, density,
            None,
        )  # fmt: skip
    constants = pure_constants(material)
    boiling = boiling_point(material).value
    flash_K = constants.flash.value
    density_SI = liquid_density(material, ROOM_K).value
    vapour = constants.vapour
    return FoundMaterial(
        material.name, material.family, material.cas, material.state_20C,
        to_celsius(flash_K) if flash_K is not None else None,
        to_celsius(boiling) if boiling is not None else None,
        density_SI / 1e3 if density_SI is not None else None,
        vapour.pressure_Pa(ROOM_K) if vapour is not None else None,
    )  # fmt: skip


def as_csv(rows: Sequence[FoundMaterial]) -> str:
    """The rows as CSV text with a header."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow(
            "" if value is None else f"{value:.4g}" if isinstance(value, float) else value
            for value in (getattr(row, column) for column in COLUMNS)
        )
    return out.getvalue()
