"""Materials found, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from blendwright.questions.materials.search import FoundMaterial
from blendwright.report.terminal import numbers_table


def print_found(rows: Sequence[FoundMaterial], out: Console) -> None:
    """Name, family, flash and boiling point, density, vapour pressure."""
    heads = ("Material", "family", "flash °C", "boils °C", "g/mL", "Pa, 25 °C")
    table = numbers_table(heads, words=2)
    for row in rows:
        table.add_row(
            row.material, row.family, _cell(row.flash_point_C, ".0f"),
            _cell(row.boiling_point_C, ".0f"), _cell(row.density_g_mL, ".3f"),
            _cell(row.vapour_pressure_Pa, ".2g"),
        )  # fmt: skip
    out.print(table)
    out.print(f"{len(rows):,} found; ? is unknown")


def _cell(value: float | None, form: str) -> str:
    return "?" if value is None else format(value, form)
