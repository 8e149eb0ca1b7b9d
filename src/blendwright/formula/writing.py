"""A formula back into a file, and the hash that tells whether two papers speak of one formula.

What is written reads back alike (`read_formula`), and an XLSX or CSV that a spreadsheet opens holds
no text that it would take for a command: such a text is marked as text.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from blendwright.errors import FormulaError, Problem
from blendwright.formula.formula import Formula
from blendwright.formula.reading import JSON_SCHEMA
from blendwright.formula.row import COLUMNS, Row
from blendwright.formula.workbooks import put_text, workbook_bytes

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

FORMATS = (".csv", ".tsv", ".xlsx", ".json")
WORKBOOK_FIGURES = 15  # what a spreadsheet keeps of a number
HASH_FIGURES = 12  # significant: 1100 mg and 1.1 g are one amount
_COMMAND = re.compile(r"'*[=+\-@]")  # what a spreadsheet may take for a formula


def write_formula(formula: Formula, path: str | Path) -> None:
    """Write a formula to a file; the suffix says as what.

    Parameters
    ----------
    formula : Formula
    path : str or Path
        .csv, .tsv, .xlsx or .json.

    Raises
    ------
    FormulaError
        For another suffix, or for a material that would read as a comment.
    """
    Path(path).write_bytes(formula_bytes(formula, Path(path).suffix))


def formula_bytes(formula: Formula, suffix: str) -> bytes:
    """The content of a formula file of that suffix."""
    kind = suffix.casefold()
    if kind == ".json":
        text = json.dumps(formula_dict(formula), ensure_ascii=False, indent=2, allow_nan=False)
        return (text + "\n").encode()
    if kind in (".csv", ".tsv"):
        return table_text(formula_table(formula), "\t" if kind == ".tsv" else ",").encode()
    if kind == ".xlsx":
        return table_workbook(formula_table(formula))
    raise FormulaError(
        formula.name, [Problem(f"a formula is written as {', '.join(FORMATS)}, not {suffix!r}")]
    )


def formula_dict(formula: Formula) -> dict[str, object]:
    """The JSON object of the schema blendwright/formula/1."""
    return {
        "schema": JSON_SCHEMA,
        "name": formula.name,
        "batch_g": formula.batch_g,
        "rows": formula.to_rows(),
    }


def formula_table(formula: Formula) -> list[list[str | float]]:
    """As a table: lines that name it and its batch, the header, the rows."""
    rows = formula.to_rows()
    used = {name for row in rows for name in row} | {"material", "grams"}
    header = [name for name in COLUMNS if name in used]
    comments = [name for name in (str(row["material"]) for row in rows) if name.startswith("#")]
    if comments:
        raise FormulaError(
            formula.name,
            [Problem(f"{comments[0]!r} begins with #, a comment in a table; write it as .json")],
        )
    lines: list[list[str | float]] = [[f"# name {' '.join(formula.name.split())}"]]
    if formula.batch_g is not None:
        lines.append([f"# batch {formula.batch_g!r} g"])
    lines.append([*header])
    lines += [[row.get(name, "") for name in header] for row in rows]
    return lines


def formula_sha256(formula: Formula) -> str:
    """Give the SHA-256 of what is weighed: materials, amounts, strengths, batch.

    Name, roles, notes and the order of rows and columns don't enter; neither does how a number was
    written. Names enter as written: PG and propylene glycol differ.

    Parameters
    ----------
    formula : Formula

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    batch = None if formula.batch_g is None else _figures(formula.batch_g)
    rows = sorted(_identity(row) for row in formula.rows)
    canonical = json.dumps([batch, rows], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


def _identity(row: Row) -> list[str]:
    strength = row.strength
    return [
        " ".join(row.material.split()).casefold(),
        _figures(row.amount.number),
        row.amount.unit,
        "" if strength is None else f"{_figures(strength.percent)} {strength.basis}",
        " ".join(row.carrier.split()).casefold(),
        row.cas,
        row.smiles,
    ]


def _figures(number: float) -> str:
    return f"{number:.{HASH_FIGURES}g}"


def table_text(lines: Sequence[Sequence[str | float]], delimiter: str = ",") -> str:
    """A table as text: a line of one cell that begins with # stays a comment."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    for line in lines:
        if len(line) == 1 and str(line[0]).startswith("#"):
            out.write(f"{line[0]}\n")
        else:
            writer.writerow([_harmless(cell) for cell in line])
    return out.getvalue()


def _harmless(cell: str | float) -> str:
    """A text that begins like a spreadsheet's command, behind an apostrophe; a number in full."""
    if isinstance(cell, float):
        return repr(cell)
    return f"'{cell}" if isinstance(cell, str) and _COMMAND.match(cell) else str(cell)


def table_workbook(lines: Sequence[Sequence[str | float]]) -> bytes:
    """A table as the only sheet of a workbook."""
    from openpyxl import Workbook

    book = Workbook()
    fill_sheet(book.active, lines)
    return workbook_bytes(book)


def fill_sheet(sheet: Worksheet, lines: Sequence[Sequence[str | float]]) -> None:
    """Put a table into a worksheet."""
    for number, line in enumerate(lines, start=1):
        for column, content in enumerate(line, start=1):
            cell = sheet.cell(number, column)
            if isinstance(content, str):
                put_text(cell, content)
            elif float(f"{content:.{WORKBOOK_FIGURES}g}") != content:
                put_text(cell, repr(content))  # in full: a spreadsheet would round it
            else:
                cell.value = content
