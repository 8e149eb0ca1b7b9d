"""Materials found, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from blendwright.finding_materials import Found


def print_found(rows: Sequence[Found], out: Console) -> None:
    """Name, family, flash and boiling point, density, vapour pressure."""
    table = Table.grid(padding=(0, 2))
    table.add_column(overflow="fold")
    table.add_column(overflow="fold")
    for _ in range(4):
        table.add_column(justify="right", no_wrap=True)
    heads = ("Material", "family", "flash °C", "boils °C", "g/mL", "Pa, 25 °C")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for row in rows:
        table.add_row(
            row.material, row.family, _cell(row.flash_point_C, ".0f"),
            _cell(row.boiling_point_C, ".0f"), _cell(row.density_g_mL, ".3f"),
            _cell(row.vapour_pressure_Pa, ".2g"),
        )  # fmt: skip
    out.print(table)
    out.print(f"{len(rows)} found; ? is unknown")


def _cell(value: float | None, form: str) -> str:
    return "?" if value is None else format(value, form)
