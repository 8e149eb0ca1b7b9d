"""What the formula's fields show of a sheet, and what typing in them makes of it.

Texts both ways, in the person's units. A field that shows what the sheet holds leaves it alone, so
that a figure which is shown rounded stays exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from blendwright.app.web.state import Line, Sheet
from blendwright.app.web.units import Units
from blendwright.formula.numbers import number_between

CELLS = ("material", "grams", "volume", "strength_pct", "carrier")
LONGEST_NAME, LONGEST_BATCH = 200, 40
MOST_ROWS_BACK = 2000
BENCH_RANGE_C = (-40.0, 150.0)
PRESSURE_RANGE_kPa = (10.0, 120.0)


# One cell of the grid


def column_of(cell: str, units: Units) -> str:
    """The column of a formula file that a cell stands for: small volumes are mL or drops."""
    return units.volume if cell == "volume" else cell


def shown_cell(line: Line, cell: str, units: Units) -> str:
    """What a cell shows of a row."""
    text = str(getattr(line, column_of(cell, units)))
    return units.mass_text(text) if cell == "grams" else text


def typed_text(cell: str, text: str, units: Units) -> str:
    """What was typed in a cell, in the units of the formula file."""
    return units.grams_text(text) if cell == "grams" else text


# The fields above the grid


@dataclass(frozen=True)
class Head:
    """The texts above the grid: name, batch, and the conditions that the answer stands at."""

    name: str
    batch_g: str
    bench: str
    pressure_kPa: str

    @classmethod
    def of(cls, sheet: Sheet, units: Units) -> Head:
        bench = f"{units.shown_temperature(sheet.bench_C):g}"
        return cls(sheet.name, sheet.batch_g, bench, f"{sheet.pressure_kPa:g}")


def with_head(sheet: Sheet, head: Head, units: Units) -> tuple[Sheet, tuple[str, ...]]:
    """The sheet with what stands above the grid, and which fields can't be read.

    Such a field ("bench", "pressure") changes nothing: the value before stays in force.
    """
    before = Head.of(sheet, units)
    bench_C, pressure_kPa = sheet.bench_C, sheet.pressure_kPa
    wrong = []
    if head.bench.strip() != before.bench:
        number = number_between(head.bench, *(units.shown_temperature(c) for c in BENCH_RANGE_C))
        if number is None:
            wrong.append("bench")
        else:
            bench_C = units.celsius(number)
    if head.pressure_kPa.strip() != before.pressure_kPa:
        kPa = number_between(head.pressure_kPa, *PRESSURE_RANGE_kPa)
        if kPa is None:
            wrong.append("pressure")
        else:
            pressure_kPa = kPa
    changed = replace(
        sheet,
        name=head.name[:LONGEST_NAME],
        batch_g=head.batch_g[:LONGEST_BATCH],
        bench_C=bench_C,
        pressure_kPa=pressure_kPa,
    )
    return changed, tuple(wrong)


# All fields, as a window kept them while the program could not be reached


@dataclass(frozen=True)
class Shown:
    """All fields of a window as they stand: the head, the cells of each row, and their units."""

    head: Head
    rows: tuple[Mapping[str, str], ...]
    units: Units

    @classmethod
    def from_data(cls, data: object) -> Shown:
        """From the window's JSON data. Raises ValueError for anything else."""
        try:
            head, rows, units = (data[key] for key in ("head", "rows", "units"))  # type: ignore[index]
            return cls(
                Head(*(str(head[key]) for key in ("name", "batch", "bench", "pressure"))),
                tuple(
                    {cell: str(row[cell]) for cell in CELLS} for row in list(rows)[:MOST_ROWS_BACK]
                ),
                Units.chosen(units),
            )
        except (KeyError, TypeError) as error:
            raise ValueError(f"not the fields of a window: {error!r}") from None


def with_shown(sheet: Sheet, shown: Shown) -> Sheet:
    """The sheet as the window shows it.

    Role, note, CAS number and structure, which no cell shows, stay with the row of their material.
    """
    lines, rows = sheet.written, shown.rows
    before = [line.material.strip() for line in lines]
    after = [row["material"].strip() for row in rows]
    made: list[Line] = []
    for what, start, end, first, last in SequenceMatcher(
        None, before, after, autojunk=False
    ).get_opcodes():
        alike = what == "equal" or (what == "replace" and end - start == last - first)
        made += [
            _as_shown(lines[start + place - first] if alike else Line(), rows[place], shown.units)
            for place in range(first, last)
        ]
    changed, _ = with_head(sheet, shown.head, shown.units)
    return replace(changed, lines=tuple(made)).tidied()


def _as_shown(line: Line, row: Mapping[str, str], units: Units) -> Line:
    """The row with the cells that show something else; an amount that was typed clears the one
    before it, as it does while one types."""
    others = [cell for cell in CELLS if shown_cell(line, cell, units) != row[cell]]
    for cell in sorted(others, key=lambda cell: bool(row[cell].strip())):
        line = line.with_cell(column_of(cell, units), typed_text(cell, row[cell], units))
    return line
