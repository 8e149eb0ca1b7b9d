"""From a table's rows to a formula's: what its numbers mean, and what is to be told of reading it.

Which sign is the decimal sign is decided by the numbers of the whole table; a total row is taken
off (`totals.py`); per cent and parts become grams (`shares.py`). Whatever is not used or taken for
granted becomes a notice; whatever can mean two things becomes a problem.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from blendwright.errors import Problem
from blendwright.formula.columns import Cells, Columns, Record, numbers_of
from blendwright.formula.headings import is_weighty
from blendwright.formula.notices import Notice, UnusedColumn, unused_notice
from blendwright.formula.numbers import (
    COMMAS,
    POINTS,
    SCALES,
    choices,
    is_to_weight,
    number_in,
    readings,
    signs_shown,
    unit_of,
)
from blendwright.formula.row import Row, parse_row
from blendwright.formula.shares import checked_shares, rows_by_share, share_column
from blendwright.formula.totals import (
    batch_notice,
    batch_of_total,
    total_notices,
    without_total,
)


@dataclass(frozen=True)
class ReadTable:
    """What a table says: rows, the size of the batch, and what is to be told of the reading.

    `records` are the cells that the rows were read from, without a total row, each amount in the
    column of its unit. `by_share`: the amounts are shares of the batch.
    """

    rows: tuple[Row, ...]
    batch_g: float | None
    notices: tuple[Notice, ...]
    records: tuple[Record, ...]
    by_share: bool


def formula_rows(
    records: Sequence[Record],
    columns: Columns,
    batch_g: float | None,
    problems: list[Problem],
    *,
    points_are_doubtful: bool = False,
) -> ReadTable:
    """The rows of one formula. Problems are added to the list, each with the heading as written.

    `points_are_doubtful` where the table comes from where commas are decimal signs: then "1.250" is
    asked about unless other numbers have decimal points.
    """
    found: list[Problem] = []
    cells = _cells(records, columns, points_are_doubtful)
    kept, total = without_total(cells, found)
    cells = replace(cells, records=kept)
    notices = [*_unused(cells, found), *_settled(cells)]
    if total is not None and batch_g is None:
        batch_g = batch_of_total(cells, total)
        notices += [] if batch_g is None else [batch_notice(total, batch_g)]
    share = share_column(cells, found)
    if share is not None:
        rows, notice = rows_by_share(cells, share, batch_g, found)
        notices.append(notice)
    else:
        made = (parse_row(r.texts, r.line, found, cells.around) for r in cells.records)
        rows = [row for row in made if row is not None]
        notices += [*_bare(cells), *checked_shares(cells, rows, batch_g, found)]
    if total is not None:
        notices += total_notices(cells, total, batch_g)
    problems += (_as_headed(problem, columns) for problem in found)
    return ReadTable(tuple(rows), batch_g, tuple(notices), cells.records, share is not None)


def _as_headed(problem: Problem, columns: Columns) -> Problem:
    heading = columns.heading(problem.column)
    return replace(problem, heading=heading.written) if heading else problem


def _cells(records: Sequence[Record], columns: Columns, points_are_doubtful: bool) -> Cells:
    around = signs_shown(numbers_of(records))
    if points_are_doubtful and not around:
        around = COMMAS | POINTS  # neither is settled
    return Cells(columns, tuple(_by_their_units(records, columns)), around)


def _by_their_units(records: Sequence[Record], columns: Columns) -> Sequence[Record]:
    """Amounts under a heading that names no unit ("Menge") go by the units in the cells."""
    heading = columns.heading("grams")
    if heading is None or not heading.is_bare:
        return records
    units = {unit_of(record.text("grams")) for record in records if record.text("grams")}
    if units == {"%"} and "percent" not in columns.names:
        return [record.moved("grams", "percent") for record in records]
    return [_by_its_unit(record) for record in records]


def _by_its_unit(record: Record) -> Record:
    unit = unit_of(record.text("grams")).casefold()
    for column in ("mL", "drops"):
        if unit and unit in SCALES[column] and not record.text(column):
            return record.moved("grams", column)
    return record


# What is told


def _unused(cells: Cells, problems: list[Problem]) -> list[Notice]:
    """Columns that hold values and aren't used; one that speaks of strengths is a problem."""
    counts = Counter(name for record in cells.records for name in record.unused)
    for name in filter(is_weighty, counts):
        message = (
            f"the heading {name!r} speaks of a strength or a carrier, but isn't understood; call "
            "the column strength_pct or carrier, or take it out"
        )
        problems.append(Problem(message))
    notice = unused_notice(UnusedColumn(name, count) for name, count in counts.items())
    return [] if notice is None else [notice]


def _settled(cells: Cells) -> list[Notice]:
    """Numbers that could be two, read by the signs of the others."""
    asked = [text for text in cells.numbers() if choices(text)]
    if cells.around != COMMAS or not asked:
        return []
    value = readings(number_in(asked[0]), cells.around)[0]
    more = f", and {len(asked) - 1} more like it" if len(asked) > 1 else ""
    return [
        Notice(
            "DECIMAL-COMMA",
            "info",
            f"{asked[0]!r} is read as {value:g}{more}: other numbers of the table have decimal "
            "commas, and none has a decimal point.",
            "Check that no comma groups thousands.",
        )
    ]


BARE = (("grams", "g"), ("mL", "mL"))  # what numbers without a unit are taken as


def _bare(cells: Cells) -> list[Notice]:
    """Headings that name no unit, over numbers without one."""
    found = []
    for column, unit in BARE:
        heading = cells.columns.heading(column)
        texts = [record.text(column) for record in cells.filled(column)]
        bare = any(not unit_of(text) and not is_to_weight(text) for text in texts)
        if heading is not None and heading.is_bare and bare:
            found.append(unit_taken(heading.written, unit))
    return found


def unit_taken(heading: str, unit: str) -> Notice:
    """Numbers without a unit stand under a heading without one."""
    return Notice(
        "UNIT-TAKEN",
        "info",
        f"The heading {heading!r} names no unit; its numbers are taken as {unit}.",
        f"Write the unit into the heading: {heading} ({unit}).",
    )
