"""What moves the flash point, on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from blendwright.estimate import Estimate
from blendwright.questions.flash_drivers import FlashDrivers
from blendwright.report.terminal import estimate_cells, numbers_table, print_observations

PULLS_BY_MODEL = "°C a gram are the model's: your observations don't move them."


def print_flash_drivers(found: FlashDrivers, out: Console) -> None:
    """The flash point, each row's pull, and the curve of dilution."""
    value, span = estimate_cells(found.flash)
    out.print(Text(f"{found.name}: flash point, closed cup, about {value} ({span})", style="bold"))
    out.print()
    table = numbers_table(("Material", "g", "°C a gram", "across the sets"))
    for pull in found.pulls:
        table.add_row(pull.material, f"{pull.grams:.3f}", *_pull_cells(pull.per_mass))
    out.print(table)
    out.print()
    table = numbers_table(("times", "°C", "90 % interval", "liquid"), words=0)
    for point in found.curve:
        value, span = estimate_cells(point.flash)
        table.add_row(f"{point.factor:g}", value, span, point.liquid.replace("_", " "))
    out.print(Text(f"Made up with {found.carrier} to so many times its weight:"))
    out.print(table)
    out.print()
    print_observations(found.observations, out)
    if found.observations:
        out.print(Text(PULLS_BY_MODEL))
    out.print("Estimates: a measured flash point decides.")


def _pull_cells(pull: Estimate) -> tuple[str, str]:
    edge = pull.at_the_edge()
    if not edge.is_ok:
        return edge.status.replace("_", " "), ""
    value, low, high = edge.interval()
    return f"{value:+.2f}", f"{low:+.2f} to {high:+.2f}"
