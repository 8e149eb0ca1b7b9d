"""What moves the flash point, on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from blendwright.estimate import Estimate
from blendwright.questions.flash_drivers import FlashDrivers
from blendwright.report.terminal import estimate_cells, numbers_table, print_observations

PULLS_BY_MODEL = "°C per extra gram are the model's: your observations don't change them."


def print_flash_drivers(found: FlashDrivers, out: Console) -> None:
    """The flash point, each row's pull, and the curve of dilution."""
    value, span = estimate_cells(found.flash)
    out.print(Text(f"{found.name}: closed-cup flash point {value} ({span})", style="bold"))
    strongest = _strongest(found)
    if strongest:
        out.print(Text(f"Changed most by one extra gram: {strongest}."))
    out.print()
    table = numbers_table(("Material", "g", "°C per extra g", "between models"))
    for pull in found.sensitivities:
        table.add_row(pull.material, f"{pull.grams:.3f}", *_sensitivity_cells(pull.per_mass))
    out.print(table)
    out.print()
    table = numbers_table(("times", "°C", "90 % interval", "liquid"), words=0)
    for point in found.curve:
        value, span = estimate_cells(point.flash)
        table.add_row(f"{point.factor:g}", value, span, point.liquid.replace("_", " "))
    out.print(Text(f"Diluted with {found.carrier} to so many times its weight:"))
    out.print(table)
    out.print()
    print_observations(found.observations, out)
    if found.observations:
        out.print(Text(PULLS_BY_MODEL))
    out.print("Estimates: a measured flash point decides.")


def _strongest(found: FlashDrivers) -> str:
    """The rows that lower and raise it most, in words."""
    known = [
        p
        for p in found.sensitivities
        if p.per_mass.is_ok and _sensitivity_cells(p.per_mass)[0].strip("+-0.")
    ]
    if not known:
        return ""
    ranked = sorted(known, key=lambda p: p.per_mass.interval()[0])
    ends = [ranked[0], ranked[-1]] if len(ranked) > 1 else ranked
    return ", ".join(f"{p.material} {_sensitivity_cells(p.per_mass)[0]} °C" for p in ends)


def _sensitivity_cells(slope: Estimate) -> tuple[str, str]:
    shown = slope.in_display_units()
    if not shown.is_ok:
        return shown.status.replace("_", " "), ""
    value, low, high = shown.interval()
    return f"{value:+.2f}", f"{low:+.2f} to {high:+.2f}"
