"""Reading a formula from CSV, TSV, XLSX or our own JSON, the way that people's files really are.

Semicolons, tabs, decimal commas, a byte-order mark, Windows-1252, blank lines, lines above the
header and `#` comments are all taken. Every problem of a file is reported, each with its row and
column; what of it is not used becomes a notice.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO

from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import NUMERIC, Columns, Record
from blendwright.formula.formula import Formula
from blendwright.formula.headings import IDENTITIES
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import number_in, parse_batch_g, readings
from blendwright.formula.table import formula_rows
from blendwright.formula.table_files import (
    MOST_ABOVE,
    MOST_ROWS,
    TableFile,
    TableLine,
    bytes_of,
    is_comment,
    split_line,
    table_file,
)

JSON_SCHEMA = "blendwright/formula/1"
MOST_SHOWN = 200  # letters of the lines above a header, in the notice of them
_BATCH = re.compile(r"^#\s*batch\s*[:=]?\s*(.+)$", re.IGNORECASE)
_NAME = re.compile(r"^#\s*name\s*[:=]?\s*(.+)$", re.IGNORECASE)

WithoutHeader = Callable[[TableLine], tuple[int, Columns]]


def read_formula(
    source: str | Path | bytes | IO[str] | IO[bytes], batch_g: float | None = None
) -> Formula:
    """Read a formula from a file, by its path, from an open stream, or from a file's bytes.

    Parameters
    ----------
    source : str, Path, bytes or stream
        .csv, .tsv, .xlsx or .json.
    batch_g : float, optional
        Stands instead of the file's own batch size, g.

    Returns
    -------
    Formula

    Raises
    ------
    FormulaError
        With every problem found in it.
    TypeError
        For anything else.
    """
    if isinstance(source, str | os.PathLike):
        data, name = bytes_of(Path(source))
        return read_formula_bytes(data, name, batch_g)
    if isinstance(source, bytes | bytearray):
        return read_formula_bytes(bytes(source), "bytes", batch_g)
    if not hasattr(source, "read"):
        raise TypeError(
            f"read_formula takes a path, an open stream or bytes, not a {type(source).__name__}; "
            "Formula.of, from_rows and from_frame read names and grams, rows and DataFrames"
        )
    held = source.read()
    name = str(getattr(source, "name", "stream"))
    return read_formula_bytes(held.encode() if isinstance(held, str) else held, name, batch_g)


def read_formula_bytes(data: bytes, name: str, batch_g: float | None = None) -> Formula:
    """Read a formula from a file's bytes; `name` is used in messages and tells the format."""
    if data.lstrip()[:1] == b"{":
        return _from_json(data, name, batch_g)
    return _from_table(table_file(data, name), name, batch_g)


def _from_json(data: bytes, name: str, batch_g: float | None) -> Formula:
    """Our own JSON: a formula, or a report that holds one."""
    try:
        held = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise FormulaError(name, [Problem(f"not a JSON file ({error})")]) from None
    if held.get("schema") != JSON_SCHEMA:
        held = held.get("formula")
    if not isinstance(held, dict) or held.get("schema") != JSON_SCHEMA:
        raise FormulaError(
            name,
            [
                Problem(
                    f"a formula in JSON has the schema {JSON_SCHEMA}, as `report -o x.json` and "
                    "write_formula make it; an assessment's JSON does not hold the strengths"
                )
            ],
        )
    rows = held.get("rows")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise FormulaError(name, [Problem("its rows must be a list of objects")])
    if len(rows) > MOST_ROWS:
        raise FormulaError(name, [Problem(f"more than {MOST_ROWS} rows: not one formula")])
    title = str(held.get("name") or Path(name).stem)
    size = held.get("batch_g") if batch_g is None else batch_g
    return replace(Formula.from_rows(rows, title, size), source=name)


@dataclass(frozen=True)
class FormulaTable:
    """A formula's table taken apart: columns, rows, and what lines of comment say.

    `problems` are those of lines that can't be read.
    """

    columns: Columns
    records: tuple[Record, ...]
    title: str
    batch_g: float | None
    points_are_doubtful: bool
    notices: tuple[Notice, ...]
    problems: tuple[Problem, ...]


def taken_apart(
    table: TableFile, name: str, without_header: WithoutHeader | None = None
) -> FormulaTable:
    """Find the header of a table, and read its rows by it.

    `without_header` tells of a table without one, by its first line, where its rows begin and what
    its columns are. Raises FormulaError where there is nothing to read, or no header, or one that
    means two things.
    """
    problems: list[Problem] = []
    title, batch_g = "", None
    lines: list[TableLine] = []
    comments: list[TableLine] = []
    for line, values in table.cells:
        first = next((value for value in values if value), "")
        if first and is_comment(values):
            comments.append((line, values))
            if found := _BATCH.match(first):
                batch_g = parse_batch_g(found.group(1).rstrip(",;\t "), problems, line)
            elif found := _NAME.match(first):
                title = found.group(1).strip(" ,;\t")
        elif first:
            lines.append((line, values))
    if not lines:
        message = "the file holds no table; it needs a header: material, grams"
        raise FormulaError(name, [*problems, Problem(message)])
    place, columns = _header(lines, name, without_header)
    records = _records(lines[place:], columns, problems)
    above = _above_notice(lines[: max(0, place - 1)])
    commented = _commented_notice(comments, columns, table.delimiter)
    return FormulaTable(
        columns,
        tuple(records),
        title,
        batch_g,
        table.points_are_doubtful,
        (*table.notices, *above, *commented),
        tuple(problems),
    )


def _from_table(table: TableFile, name: str, batch_g: float | None) -> Formula:
    apart = taken_apart(table, name)
    problems = list(apart.problems)
    read = formula_rows(
        apart.records,
        apart.columns,
        apart.batch_g if batch_g is None else batch_g,
        problems,
        points_are_doubtful=apart.points_are_doubtful,
    )
    if not apart.records and not problems:
        problems.append(Problem("the table has a header but no rows"))
    if problems:
        names = [(r.text("material"), r.line) for r in read.records if r.text("material")]
        raise FormulaError(name, problems, tuple(names))
    title = apart.title or Path(name).stem
    return Formula(title, read.rows, read.batch_g, name, (*apart.notices, *read.notices))


def _records(lines: Sequence[TableLine], columns: Columns, problems: list[Problem]) -> list[Record]:
    records = []
    for line, values in lines[:MOST_ROWS]:
        extra = [value for value in values[columns.width :] if value]
        if extra:
            problems.append(
                Problem(
                    f"more cells than the header has columns (left over: {', '.join(extra)}); a "
                    "decimal comma in a comma-separated file needs quotes or semicolons",
                    line,
                )
            )
        else:
            records.append(columns.record(line, values))
    if len(lines) > MOST_ROWS:
        message = f"more than {MOST_ROWS} rows: not one formula; split the file"
        problems.append(Problem(message, lines[MOST_ROWS][0]))
    return records


def _header(
    lines: Sequence[TableLine], name: str, without_header: WithoutHeader | None
) -> tuple[int, Columns]:
    """Where the rows begin, and the columns. Raises FormulaError as `taken_apart`."""
    for place, (line, values) in enumerate(lines[: MOST_ABOVE + 1], start=1):
        columns = Columns.of(values)
        if columns.is_header:
            twice = columns.twice_problems(line)
            if twice:
                raise FormulaError(name, twice)
            return place, columns
    if without_header is not None:
        return without_header(lines[0])
    line, values = lines[0]
    shown = ", ".join(value for value in values if value)[:80]
    message = (
        "the header must name the columns material and grams (or mL, drops, % or parts); "
        f"found: {shown}"
    )
    raise FormulaError(name, [Problem(message, line)])


def _commented_notice(
    comments: Sequence[TableLine], columns: Columns, delimiter: str
) -> list[Notice]:
    """Comments that would be rows: a material and an amount stand in their places."""
    rows = []
    for line, values in comments:
        cells = split_line(values[0], delimiter) if delimiter else values
        record = columns.record(line, [cell.strip() for cell in cells])
        amounts = (number_in(record.text(column)) for column in NUMERIC)
        if any(map(record.text, IDENTITIES)) and any(map(readings, amounts)):
            rows.append(line)
    if not rows:
        return []
    message = f"Rows that begin with # are not read, as comments: {', '.join(map(str, rows))}."
    return [Notice("ROWS-COMMENTED", "info", message, "Take out the # to count one.")]


def _above_notice(lines: Sequence[TableLine]) -> list[Notice]:
    if not lines:
        return []
    shown = "; ".join(" ".join(value for value in values if value) for _, values in lines)
    shown = shown if len(shown) <= MOST_SHOWN else f"{shown[: MOST_SHOWN - 1]}…"
    message = f"Lines above the header are not read: {shown}."
    what = "A batch size is read from a line like: # batch 50 g"
    return [Notice("LINES-ABOVE", "caution", message, f"{what}.")]
