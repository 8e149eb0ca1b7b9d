"""Rows pasted into the grid: a table with a header as a file has it, or material, grams, strength.

Cells keep the text that was pasted, with the unit of their heading; shares become grams. What isn't
used, or is taken for granted, is told on the page (`Sheet.notices`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from blendwright.app.web.sheet import LONGEST_CELL, TO_WEIGHT, Sheet
from blendwright.errors import FormulaError
from blendwright.formula.columns import Columns
from blendwright.formula.headings import SHARES
from blendwright.formula.notices import Notice, without_twins
from blendwright.formula.numbers import number_text, parse_batch_g, readings
from blendwright.formula.reading import taken_apart
from blendwright.formula.row import COLUMNS
from blendwright.formula.table import ReadTable, formula_rows
from blendwright.formula.table_files import MOST_ROWS, TableLine, text_table

NAME = "pasted rows"
PLAIN = ("material", "grams", "strength_pct")  # the columns of rows without a header


@dataclass(frozen=True)
class Pasted:
    """Rows by the columns of a formula file, empty cells left out; a name and a batch size where
    the table gives them; what is to be told of reading it."""

    rows: tuple[dict[str, str], ...]
    name: str = ""
    batch_g: float | None = None
    notices: tuple[Notice, ...] = ()


def pasted(text: str, batch_g: float | None = None) -> Pasted:
    """What a pasted text holds; `batch_g` is the batch size that the page has.

    >>> pasted("vanillin\\t0.9\\nethanol\\t1,5\\t96 % vol").rows[1]["strength_pct"]
    '96 % vol'

    Raises FormulaError where its rows would mean another formula than the text does: a table that
    can't be read, or columns that can mean two things. What is wrong in one cell stays there, and
    is told in its row.
    """
    table = text_table(text, NAME, "\t" if "\t" in text else "")
    if not any(any(values) for _, values in table.cells):
        return Pasted(())
    apart = taken_apart(table, NAME, _plain_columns)
    size_g = apart.batch_g if batch_g is None else batch_g
    problems = list(apart.problems)
    read = formula_rows(
        apart.records[:MOST_ROWS],
        apart.columns,
        size_g,
        problems,
        points_are_doubtful=apart.points_are_doubtful,
    )
    shown = {record.line for record in read.records}
    grave = [p for p in problems if read.by_share or p.column in (*SHARES, None)]
    grave += [p for p in problems if p.row not in shown and p not in grave]
    if grave:
        raise FormulaError(NAME, grave)
    rows = _by_grams(read) if read.by_share else [dict(r.texts) for r in read.records]
    kept = [{column: row[column] for column in COLUMNS if row.get(column)} for row in rows]
    notices = (*apart.notices, *read.notices, *_cut(kept))
    return Pasted(tuple(row for row in kept if row), apart.title, read.batch_g, notices)


def put_in(sheet: Sheet, number: int, found: Pasted) -> Sheet:
    """The rows written over the grid from one row on. A name and a batch size that the sheet
    doesn't have are taken too."""
    batch, notices = sheet.batch_g, list(found.notices)
    if found.batch_g is not None and not batch.strip():
        batch = number_text(found.batch_g)
    elif found.batch_g is not None and parse_batch_g(batch, []) != found.batch_g:
        told = f"The pasted table is of a batch of {found.batch_g:g} g; the page's own size stays."
        notices.append(Notice("BATCH-NOT-TAKEN", "caution", told, "Check the batch size."))
    made = sheet.pasted(number, found.rows)
    before = () if sheet.is_blank else sheet.notices
    return replace(
        made,
        name=sheet.name if sheet.name.strip() else found.name,
        batch_g=batch,
        notices=without_twins((*before, *notices)),
    )


def _plain_columns(first: TableLine) -> tuple[int, Columns]:
    """Where the rows of a table without amounts in its header begin, and its columns. Without a
    header they are material, grams, strength; or grams first, where the rows begin with a number.
    """
    _, values = first
    named = Columns.of(values)
    if "material" in named.names:
        return 1, named
    order = PLAIN
    if len(values) > 1 and readings(values[0]):
        order = ("grams", "material", "strength_pct")
    return 0, Columns.of([*order, *[""] * max(0, len(values) - len(order))])


def _by_grams(read: ReadTable) -> list[dict[str, str]]:
    """The cells of rows whose shares were turned into grams."""
    grams = {
        row.line: TO_WEIGHT if row.amount.unit == "to weight" else number_text(row.amount.number)
        for row in read.rows
    }
    return [{**record.texts, "grams": grams[record.line]} for record in read.records]


def _cut(rows: Sequence[dict[str, str]]) -> list[Notice]:
    """Cells longer than the grid holds."""
    count = sum(len(text) > LONGEST_CELL for row in rows for text in row.values())
    if not count:
        return []
    cells = "cell is" if count == 1 else "cells are"
    told = f"{count} pasted {cells} cut to {LONGEST_CELL} letters."
    return [Notice("CELLS-CUT", "caution", told, "Shorten the text.")]
