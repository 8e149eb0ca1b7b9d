"""A column of per cent or parts: the amounts where rows have none of their own, else a check.

    grams = share / 100 * batch, or part / sum of the parts * batch

Without a batch size the batch is 100 g. Beside grams a column headed "%" may be each row's share of
the formula, or the strength of dilutions: it is taken for the share only where every row agrees.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from blendwright.errors import Problem
from blendwright.formula.columns import Cells
from blendwright.formula.headings import AMOUNTS, SHARES
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import Amount, is_to_weight, parse_share
from blendwright.formula.row import Row, parse_row

USUAL_BATCH_g = 100.0
WHOLE_PCT = 0.05  # per cents that add up to 100 within this are a whole formula
SLACK_PCT = 0.1  # between a share as written and by the grams, beside its last digit
SLACK = 5e-3  # the same, of the share
KINDS = {"percent": "per cent by mass", "parts": "parts by mass"}


def share_column(cells: Cells, problems: list[Problem]) -> str | None:
    """The column of shares that are the amounts; None where rows have amounts of their own."""
    if any(cells.filled(column) for column in AMOUNTS):
        return None
    filled = [column for column in SHARES if cells.filled(column)]
    if len(filled) > 1:
        both = " and ".join(repr(cells.called(column)) for column in filled)
        problems.append(Problem(f"{both} are both filled in; keep one"))
    return filled[0] if filled else None


def rows_by_share(
    cells: Cells, column: str, batch_g: float | None, problems: list[Problem]
) -> tuple[list[Row], Notice]:
    """The rows with their shares of the batch as grams, and what is to be told of it."""
    shares = _shares(cells, column, problems)
    total = sum(share for share in shares.values() if share is not None)
    size_g = USUAL_BATCH_g if batch_g is None else batch_g
    whole = 100.0 if column == "percent" else total
    rows = []
    for record in cells.records:
        if record.line not in shares:
            name = record.text("material") or "this row"
            problems.append(Problem(f"no amount for {name}", record.line, column))
            continue
        share = shares[record.line]
        grams = share * size_g / whole if share and whole > 0.0 else 0.0
        amount = Amount(0.0, "to weight") if share is None else Amount(grams, "g")
        row = parse_row(record.texts, record.line, problems, cells.around, amount)
        if row is not None:
            rows.append(row)
    fills = column == "percent" and None in shares.values()
    is_whole = column == "parts" or fills or abs(total - whole) <= WHOLE_PCT
    of = f"{size_g:g} g, as no batch size is given" if batch_g is None else f"{size_g:g} g"
    told = f"The amounts are {KINDS[column]} ({cells.called(column)!r}), of a batch of {of}."
    if not is_whole:
        told += f" They add up to {total:.6g} %, so all weighs {total * size_g / 100.0:.6g} g."
    what = "Check that this is meant." if is_whole else "Check that no row is missing."
    return rows, Notice("AMOUNTS-BY-SHARE", "info" if is_whole else "caution", told, what)


def _shares(cells: Cells, column: str, problems: list[Problem]) -> dict[int, float | None]:
    """By line; None where a row is made up to weight. Rows without a share are not in it."""
    found: dict[int, float | None] = {}
    for record in cells.filled(column):
        text = record.text(column)
        if column == "percent" and is_to_weight(text):
            found[record.line] = None
        else:
            share = parse_share(text, column, record.line, problems, cells.around)
            found[record.line] = share or 0.0
    return found


def checked_shares(
    cells: Cells, rows: Sequence[Row], batch_g: float | None, problems: list[Problem]
) -> list[Notice]:
    """Shares beside amounts: that they agree, or a problem that asks what they are."""
    found = []
    for column in SHARES:
        if not cells.filled(column) or problems:
            continue
        name = cells.called(column)
        doubt = _doubt(cells, column, rows, batch_g, problems)
        if doubt is not None:
            line, why = doubt
            message = (
                f"{why}; if {name!r} is the strength of dilutions, call the column strength_pct; "
                "if it is each row's share of the formula, the other amounts count: correct it, "
                "or take the column out"
            )
            problems.append(Problem(message, line, column))
        elif not problems:
            told = f"The column {name!r} agrees with the amounts of the rows."
            found.append(Notice("SHARES-CHECKED", "info", told, "The amounts count."))
    return found


def _doubt(
    cells: Cells,
    column: str,
    rows: Sequence[Row],
    batch_g: float | None,
    problems: list[Problem],
) -> tuple[int, str] | None:
    """Why a column may be no shares, and the row that says so."""
    filled, name = cells.filled(column), cells.called(column)
    if len(filled) < len(rows):
        return filled[0].line, f"{name!r} stands in {len(filled)} of {len(rows)} rows"
    grams = _grams_by_line(rows, batch_g)
    if grams is None:
        return filled[0].line, f"{name!r} can't be checked: not every row's grams are known"
    shares = _shares(cells, column, problems)
    whole = 100.0 if column == "percent" else sum(s or 0.0 for s in shares.values())
    total_g = sum(grams.values())
    if problems or not (whole > 0.0 and total_g > 0.0):
        return None
    for record in filled:
        share = shares[record.line]
        by_grams = grams[record.line] / total_g * 100.0
        digit = 100.0 / whole * cells.last_digit(record.text(column), column)
        slack = max(digit, SLACK_PCT + SLACK * by_grams)
        if share is not None and abs(100.0 / whole * share - by_grams) > slack:
            return record.line, (
                f"{name!r} says {record.text(column)} for {record.text('material')}, which is "
                f"{by_grams:.3g} % of the formula by the amounts"
            )
    return None


def _grams_by_line(rows: Sequence[Row], batch_g: float | None) -> Mapping[int, float] | None:
    """Grams of each row; None where one is in mL or drops, or made up to no stated batch."""
    grams = {row.line or 0: row.amount.number for row in rows if row.amount.unit == "g"}
    fills = [row.line or 0 for row in rows if row.amount.unit == "to weight"]
    if len(grams) + len(fills) < len(rows) or len(fills) > 1:
        return None
    if not fills:
        return grams
    return None if batch_g is None else {**grams, fills[0]: batch_g - sum(grams.values())}
