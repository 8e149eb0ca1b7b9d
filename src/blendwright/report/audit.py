"""The audit of the catalogue as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from blendwright.questions.materials.audit import Weakness


def print_summary(counts: Mapping[str, int | str], out: Console) -> None:
    """Counts, one a line."""
    table = Table.grid(padding=(0, 2))
    table.add_column()
    table.add_column(justify="right")
    for name, count in counts.items():
        table.add_row(name, f"{count:,}" if isinstance(count, int) else count)
    out.print(table)


def print_weaknesses(weak: Sequence[Weakness], out: Console) -> None:
    """Every weak spot, material by material."""
    table = Table.grid(padding=(0, 2))
    table.add_row(*(Text(head, style="bold") for head in ("material", "weakness", "")))
    last = ""
    for spot in weak:
        table.add_row(spot.material if spot.material != last else "", spot.kind, Text(spot.what))
        last = spot.material
    out.print(table)
    out.print(f"{len(weak):,} weak spots; counts with --summary")
