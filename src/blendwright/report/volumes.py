"""Grams to millilitres, row by row: the pipetting sheet."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from blendwright.catalogue import Catalogue
from blendwright.estimate import Estimate
from blendwright.formula import Formula
from blendwright.mixture.density import blend_density, volume
from blendwright.report.terminal import numbers_table, volume_cell
from blendwright.weighing import Weighing, weigh


def volumes_dict(
    formula: Formula, temperature_K: float, drop_mL: float, catalogue: Catalogue
) -> dict[str, object]:
    """Rows and total with grams, mL and drops, as JSON data."""
    weighing, densities, total = _volumes(formula, temperature_K, drop_mL, catalogue)
    rows = []
    for row, density in zip(weighing.rows, densities, strict=True):
        poured = volume(row.grams / 1e3, density)
        edge = poured.at_the_edge()
        rows.append(
            {
                "material": row.written,
                "name": row.label,
                "grams": row.grams,
                "density_g_mL": density.to_dict(),
                "volume_mL": poured.to_dict(),
                "drops": edge.value / drop_mL if edge.value is not None else None,
            }
        )
    return {
        "schema": "blendwright/volumes/1",
        "temperature_C": temperature_K - 273.15,
        "drop_mL": drop_mL,
        "total_g": weighing.total_g,
        "total_volume_mL": volume(weighing.total_g / 1e3, total).to_dict(),
        "density_g_mL": total.to_dict(),
        "rows": rows,
    }


def _volumes(
    formula: Formula, temperature_K: float, drop_mL: float, catalogue: Catalogue
) -> tuple[Weighing, list[Estimate], Estimate]:
    weighing = weigh(formula, catalogue, drop_mL)
    densities = [row.density(temperature_K) for row in weighing.rows]
    return weighing, densities, blend_density(weighing.composition, temperature_K)


def print_volumes(
    formula: Formula, temperature_K: float, drop_mL: float, catalogue: Catalogue, out: Console
) -> None:
    """The table of rows in grams, millilitres and drops, and the blend's own volume."""
    weighing, densities, total = _volumes(formula, temperature_K, drop_mL, catalogue)
    out.print(Text(f"{formula.name}: volumes at {temperature_K - 273.15:.0f} °C", style="bold"))
    out.print()
    table = numbers_table(("Material", "g", "g/mL", "mL", "drops"))
    solids = []
    for row, density in zip(weighing.rows, densities, strict=True):
        poured = volume(row.grams / 1e3, density)
        edge = poured.at_the_edge()
        solid = row.material.state_20C == "solid" and row.strength is None
        if solid:
            solids.append(row.label)
        drops = "weigh it" if solid else f"{edge.value / drop_mL:.0f}" if edge.value else "?"
        table.add_row(
            row.label,
            f"{row.grams:.3f}",
            f"{density.value / 1e3:.3f}" if density.value else "?",
            volume_cell(poured),
            drops,
        )
    whole = volume(weighing.total_g / 1e3, total)
    table.add_row(
        "total",
        f"{weighing.total_g:.3f}",
        f"{total.value / 1e3:.3f}" if total.value else "?",
        volume_cell(whole),
        "",
    )
    out.print(table)
    out.print()
    if whole.is_ok:
        value, low, high = whole.at_the_edge().interval()
        out.print(f"The blend fills {value:.2f} mL ({low:.2f} to {high:.2f}).")
    out.print(f"A drop is taken as {drop_mL:g} mL (common practice, no source): count your own.")
    if solids:
        out.print(f"Solids take this room once dissolved: {', '.join(solids)}.")
