"""What the formula's fields show of a sheet, and what typing in them makes of it.

Texts both ways. A field that shows what the sheet holds leaves it alone, so
that a figure which is shown rounded stays exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from blendwright.app.web.sheet import Line, Sheet
from blendwright.formula.numbers import SCALES, number_between, unit_of

CELLS = ("material", "grams", "volume", "strength_pct", "carrier")
LONGEST_NAME, LONGEST_BATCH = 200, 40
MOST_ROWS_BACK = 2000
BENCH_RANGE_C = (-40.0, 150.0)
PRESSURE_RANGE_kPa = (10.0, 120.0)


# One cell of the grid


def column_of(cell: str, typed: str) -> str:
    """The column of a formula file that a cell stands for: a volume is in mL unless it says drops.

    >>> column_of("volume", "1.5"), column_of("volume", "3 drops"), column_of("grams", "2")
    ('mL', 'drops', 'grams')
    """
    if cell != "volume":
        return cell
    unit = unit_of(typed).casefold()
    return "drops" if unit and unit in SCALES["drops"] else "mL"


def shown_cell(line: Line, cell: str) -> str:
    """What a cell shows of a row; a count of drops says that it is one."""
    if cell != "volume":
        return str(getattr(line, cell))
    if line.drops.strip() and column_of("volume", line.drops) == "mL":
        return f"{line.drops} drops"
    return line.mL or line.drops


def with_typed(line: Line, cell: str, typed: str) -> Line:
    """The row with what was typed in a cell. A volume is one amount: mL or drops."""
    if cell == "volume":
        line = replace(line, mL="", drops="")
    return line.with_cell(column_of(cell, typed), typed)


def with_typed_cell(sheet: Sheet, number: int, cell: str, typed: str) -> Sheet:
    """The sheet with what was typed in a cell of one row; rows up to it are added."""
    lines = [*sheet.lines, *(Line() for _ in range(number + 1 - len(sheet.lines)))]
    lines[number] = with_typed(lines[number], cell, typed)
    return replace(sheet, lines=tuple(lines)).tidied()


# The fields above the grid


@dataclass(frozen=True)
class Head:
    """The texts above the grid: name, batch, and the conditions that the answer stands at."""

    name: str
    batch_g: str
    bench: str
    pressure_kPa: str

    @classmethod
    def of(cls, sheet: Sheet) -> Head:
        return cls(sheet.name, sheet.batch_g, f"{sheet.bench_C:g}", f"{sheet.pressure_kPa:g}")


def with_head(sheet: Sheet, head: Head) -> tuple[Sheet, tuple[str, ...]]:
    """The sheet with what stands above the grid, and which fields can't be read.

    Such a field ("bench", "pressure") changes nothing: the value before stays in force.
    """
    before = Head.of(sheet)
    bench_C, pressure_kPa = sheet.bench_C, sheet.pressure_kPa
    wrong = []
    if head.bench.strip() != before.bench:
        number = number_between(head.bench, *BENCH_RANGE_C)
        if number is None:
            wrong.append("bench")
        else:
            bench_C = number
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
    """All fields of a window as they stand: the head, and the cells of each row."""

    head: Head
    rows: tuple[Mapping[str, str], ...]

    @classmethod
    def from_data(cls, data: object) -> Shown:
        """From the window's JSON data. Raises ValueError for anything else."""
        try:
            head, rows = (data[key] for key in ("head", "rows"))  # type: ignore[index]
            return cls(
                Head(*(str(head[key]) for key in ("name", "batch", "bench", "pressure"))),
                tuple(
                    {cell: str(row[cell]) for cell in CELLS} for row in list(rows)[:MOST_ROWS_BACK]
                ),
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
            _as_shown(lines[start + place - first] if alike else Line(), rows[place])
            for place in range(first, last)
        ]
    changed, _ = with_head(sheet, shown.head)
    return replace(changed, lines=tuple(made)).tidied()


def _as_shown(line: Line, row: Mapping[str, str]) -> Line:
    """The row with the cells that show something else; an amount that was typed clears the one
    before it, as it does while one types."""
    others = [cell for cell in CELLS if shown_cell(line, cell) != row[cell]]
    for cell in sorted(others, key=lambda cell: bool(row[cell].strip())):
        line = with_typed(line, cell, row[cell])
    return line
