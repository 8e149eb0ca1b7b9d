"""One of the advised ways, put into the grid: other grams, rows added, rows left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blendwright.app.web.answers import Amounts
from blendwright.app.web.sheet import TO_WEIGHT, Line, Sheet
from blendwright.formula import Row
from blendwright.formula.numbers import unmistakable

SAME = 6e-4  # advice is rounded to four digits; a smaller change is none


def with_way(
    sheet: Sheet,
    found: Amounts,
    rows: Sequence[tuple[str, float]],
    written: Sequence[Row] = (),
) -> Sheet:
    """The sheet with the rows of a way, (label, grams), and how they would be written down.

    A row made up to weight stays so, and the batch takes the new total. Rows of one material keep
    their proportions.
    """
    new = dict(rows)
    cells = {label: row for (label, _), row in zip(rows, written, strict=False)}
    old: dict[str, float] = {}
    for amount in found.rows:
        old[amount.label] = old.get(amount.label, 0.0) + amount.grams
    label_of = {amount.row: amount.label for amount in found.rows}
    grams_of = {amount.row: amount.grams for amount in found.rows}
    lines: list[Line] = []
    made_up = False
    for number, line in enumerate(sheet.written):
        label = label_of.get(number)
        if label is None:
            lines.append(line)
            continue
        if label not in new:
            continue
        factor = new[label] / old[label] if old[label] > 0.0 else 1.0
        if line.grams.strip().casefold() == TO_WEIGHT:
            made_up = True
            lines.append(line)
        elif abs(factor - 1.0) > SAME:
            lines.append(line.with_cell("grams", _text(grams_of[number] * factor)))
        else:
            lines.append(line)
    lines += [
        _new_line(label, grams, cells.get(label)) for label, grams in rows if label not in old
    ]
    batch = unmistakable(f"{sum(new.values()):.6g}") if made_up else sheet.batch_g
    return replace(sheet, lines=tuple(lines), batch_g=batch).tidied()


def _new_line(label: str, grams: float, row: Row | None) -> Line:
    """A material that was not in the grid: a dilution with its strength and carrier."""
    if row is None:
        return Line(label, _text(grams))
    written = "" if row.strength is None else row.strength.written()
    strength = written if isinstance(written, str) else f"{written:g}"
    return Line(
        row.material,
        _text(grams),
        strength_pct=strength,
        carrier=row.carrier,
        role=row.role,
        smiles=row.smiles,
        note=row.note,
    )


def _text(grams: float) -> str:
    return unmistakable(f"{grams:.4g}")
