"""The total row at the end of a table: it is no material, and its numbers are checked."""

from __future__ import annotations

from collections.abc import Sequence

from blendwright.errors import Problem
from blendwright.formula.columns import NUMERIC, Cells, Record
from blendwright.formula.headings import AMOUNTS, plain
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import is_to_weight

ROUNDED = 0.5  # of the total's last digit
NEAR_DIGITS = 2.0  # of the coarsest last digit, where rows are rounded one by one
SLACK = 1e-9
UNITS = {"grams": " g", "mL": " mL", "drops": " drops", "percent": " %", "parts": " parts"}
# Common practice of bench books and spreadsheets, no source
WORDS = frozenset(
    plain(word)
    for word in (
        "total", "totals", "grand total", "sum", "total weight", "total mass", "batch total", "Σ",
        "Summe", "Gesamt", "Gesamtsumme", "Gesamtmenge", "Gesamtgewicht", "Gesamtmasse",
        "insgesamt", "somme", "total général", "poids total", "masse totale",
    )
)  # fmt: skip


def is_total_word(text: str) -> bool:
    """
    >>> is_total_word("TOTAL:"), is_total_word("Gesamt"), is_total_word("totarol")
    (True, True, False)
    """
    return plain(text) in WORDS


def without_total(
    cells: Cells, problems: list[Problem]
) -> tuple[tuple[Record, ...], Record | None]:
    """The rows, and the total row that stood at their end, if one did.

    A last row without a name is one too where its numbers are the sums of those above.
    """
    records = cells.records
    total = None
    if records and (_is_total(records[-1]) or _is_unnamed_sum(cells)):
        records, total = records[:-1], records[-1]
    for record in records:
        if _is_total(record):
            message = "this reads like a total, but rows follow it; take it out"
            problems.append(Problem(message, record.line, "material"))
    return tuple(record for record in records if not _is_total(record)), total


def _is_total(record: Record) -> bool:
    others = ("strength_pct", "carrier", "cas", "smiles")
    return is_total_word(record.text("material")) and not any(map(record.text, others))


def _is_unnamed_sum(cells: Cells) -> bool:
    *above, last = cells.records
    filled = {column: text for column, text in last.texts.items() if text}
    if not above or not filled or not set(filled) <= set(NUMERIC):
        return False
    for column, text in filled.items():
        stated, total = cells.value(text, column), _sum(cells, column, above)
        written = [text, *(record.text(column) for record in above if record.text(column))]
        digit = max(cells.last_digit(cell, column) for cell in written)
        if stated is None or total is None or abs(total - stated) > NEAR_DIGITS * digit:
            return False
    return True


def _sum(cells: Cells, column: str, above: Sequence[Record]) -> float | None:
    """What a column adds up to; None where a row has another kind of amount, or no number."""
    total = 0.0
    for record in above:
        text = record.text(column)
        value = cells.value(text, column) if text else 0.0
        elsewhere = column in AMOUNTS and not text and any(map(record.text, AMOUNTS))
        if value is None or elsewhere:
            return None
        total += value
    return total


def batch_of_total(cells: Cells, total: Record) -> float | None:
    """The grams that the total row gives; None where no row is made up to them."""
    text = total.text("grams")
    fills = any(is_to_weight(record.text("grams")) for record in cells.records)
    return cells.value(text, "grams") if fills and text else None


def batch_notice(total: Record, batch_g: float) -> Notice:
    return Notice(
        "BATCH-FROM-TOTAL",
        "info",
        f"The total row gives the batch size: {batch_g:g} g (row {total.line}).",
        "The row with q.s. is made up to it.",
    )


def total_notices(cells: Cells, total: Record, batch_g: float | None) -> list[Notice]:
    """What of the total row differs from the rows, or could not be checked."""
    found = []
    for column in NUMERIC:
        text = total.text(column)
        if not text:
            continue
        made = _sum(cells, column, cells.records)
        if any(is_to_weight(record.text(column)) for record in cells.records):
            made = 100.0 if column == "percent" else batch_g
        stated = cells.value(text, column)
        if made is None or stated is None:
            found.append(_notice(cells, total, column, None))
        elif abs(made - stated) > ROUNDED * cells.last_digit(text, column) + SLACK * abs(made):
            found.append(_notice(cells, total, column, made))
    return found


def _notice(cells: Cells, total: Record, column: str, made: float | None) -> Notice:
    where = (
        f"The total row (row {total.line}) says {total.text(column)} under {cells.called(column)!r}"
    )
    if made is None:
        return Notice("TOTAL-ROW", "info", f"{where}; it could not be checked.", "The rows count.")
    return Notice(
        "TOTAL-ROW",
        "caution",
        f"{where}, but the rows make {made:.6g}{UNITS[column]}.",
        "The rows count. Check that none is missing or misread.",
    )
