"""Reading a formula from CSV, TSV, XLSX or our own JSON, the way that people's files really are.

Semicolons, tabs, decimal commas, a byte-order mark, Windows-1252, blank lines, lines above the
header and `#` comments are all taken. Every problem of a file is reported, each with its row and
column; what of it is not used becomes a notice.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import NUMERIC, Columns, Record
from blendwright.formula.formula import Formula
from blendwright.formula.headings import IDENTITIES
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import number_in, number_text, parse_batch_g, readings
from blendwright.formula.table import formula_rows

MOST_ROWS = 5000
MOST_BYTES = 5_000_000
MOST_UNPACKED_BYTES = 20 * MOST_BYTES  # of a workbook
JSON_SCHEMA = "blendwright/formula/1"
# An apostrophe that keeps a spreadsheet from taking a text for a formula; writing.py puts it there
QUOTED = re.compile(r"'+[=+\-@]")
_BATCH = re.compile(r"^#\s*batch\s*[:=]?\s*(.+)$", re.IGNORECASE)
_NAME = re.compile(r"^#\s*name\s*[:=]?\s*(.+)$", re.IGNORECASE)
_DELIMITERS = "\t;,"
_DELIMITER_LINE = re.compile(r"^sep=.$", re.IGNORECASE)  # a spreadsheet's own first line
_CALCULATION = b"<f"  # in a sheet of a workbook
MOST_ABOVE = 30  # lines above the header
MOST_SHOWN = 200  # letters of these, in the notice of them
_QUOTED_FORMAT = re.compile(r'"[^"]*"|\\.')  # of a number's format: letters that mean nothing

Cells = tuple[int, list[str]]  # line number in the file, its cells
WithoutHeader = Callable[[Cells], tuple[int, Columns]]


@dataclass(frozen=True)
class TableFile:
    """A table file's cells; `points_are_doubtful` where its commas are decimal signs by the way it
    is written (semicolons); `notices` of what in the file is not read."""

    cells: list[Cells]
    points_are_doubtful: bool = False
    notices: tuple[Notice, ...] = ()
    delimiter: str = ""  # none: a workbook


def read_formula(path: str | Path, batch_g: float | None = None) -> Formula:
    """Read a formula file. `batch_g` stands instead of the file's own batch size.

    Raises FormulaError with every problem found in it.
    """
    data, name = _bytes_of(Path(path))
    return read_formula_bytes(data, name, batch_g)


def _bytes_of(path: Path) -> tuple[bytes, str]:
    if path.is_dir():
        raise FormulaError(str(path), [Problem("this is a folder, not a table")])
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FormulaError(
                path.name,
                [Problem(f"larger than {MOST_BYTES // 1_000_000} MB: not one formula; split it")],
            )
        return path.read_bytes(), path.name
    except FileNotFoundError:
        raise FormulaError(str(path), [Problem("there is no such file")]) from None
    except OSError as error:
        raise FormulaError(str(path), [Problem(f"can't be read ({error.strerror})")]) from None


def read_formula_bytes(data: bytes, name: str, batch_g: float | None = None) -> Formula:
    """Read a formula from a file's bytes; `name` is used in messages and tells the format."""
    if data.lstrip()[:1] == b"{":
        formula = _from_json(data, name)
        return formula if batch_g is None else formula.with_batch_g(batch_g)
    return _from_table(_table_file(data, name), name, batch_g)


def _from_json(data: bytes, name: str) -> Formula:
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
    return replace(Formula.from_rows(rows, title, held.get("batch_g")), source=name)


def text_table(text: str, name: str, delimiter: str = "") -> TableFile:
    """The cells of a table in text; raises FormulaError for what isn't one."""
    delimiter = delimiter or delimiter_of(text)
    cells: list[Cells] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for row in reader:
            if row and is_comment(row):
                cells.append((reader.line_num, [delimiter.join(row)]))
            elif not names_delimiter(delimiter.join(row)):
                cells.append((reader.line_num, [_unquoted(cell.strip()) for cell in row]))
    except csv.Error as error:
        raise FormulaError(name, [Problem(f"not a table ({error})", reader.line_num)]) from None
    return TableFile(cells, delimiter == ";", (), delimiter)


def table_cells(path: str | Path) -> list[Cells]:
    """Any table file as (line number, cells); raises FormulaError for what isn't one."""
    return _table_file(*_bytes_of(Path(path))).cells


def _table_file(data: bytes, name: str) -> TableFile:
    if not data.strip():
        raise FormulaError(name, [Problem("the file is empty")])
    if data.startswith(b"PK\x03\x04"):
        return _workbook_file(data, name)
    if Path(name).suffix.casefold() in (".xlsx", ".xlsm", ".xls"):
        raise FormulaError(
            name,
            [Problem("this isn't a workbook in the XLSX form; save it again as .xlsx or .csv")],
        )
    return text_table(_decode(data, name), name)


def _decode(data: bytes, name: str) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            pass
    if b"\x00" in data[:4096] or data.startswith((b"%PDF", b"\x89PNG", b"\xd0\xcf\x11\xe0")):
        raise FormulaError(
            name, [Problem("this is a binary file; save the formula as .csv or .xlsx")]
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def delimiter_of(text: str) -> str:
    """The delimiter by which one of the first lines is a formula's header; else the one that the
    first line holds most of."""
    lines = [line for line in text.splitlines() if line.strip() and not names_delimiter(line)]
    for line in lines[: MOST_ABOVE + 1]:
        for delimiter in _DELIMITERS:
            cells = _split(line, delimiter) if delimiter in line else []
            if Columns.of(cells).is_header and not is_comment(cells):
                return delimiter
    first = next((line for line in lines if not line.lstrip().startswith("#")), "")
    return max(_DELIMITERS, key=first.count) if any(s in first for s in _DELIMITERS) else ","


def is_comment(cells: Sequence[str]) -> bool:
    """Whether a line begins with #; one that has # for the heading of its row numbers is a header.

    >>> is_comment(["# batch 50 g"]), is_comment(["#", "Ingredient", "g"])
    (True, False)
    """
    first = next((cell.strip() for cell in cells if cell.strip()), "")
    return first.startswith("#") and not (first == "#" and Columns.of(cells).is_header)


def names_delimiter(line: str) -> bool:
    """Whether a line is a spreadsheet's own word for the delimiter: sep=;"""
    return _DELIMITER_LINE.match(line) is not None


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return []


def _unquoted(cell: str) -> str:
    return cell[1:] if QUOTED.match(cell) else cell


def unpacked_bytes(workbook: Path | io.BytesIO) -> int:
    """What a workbook says that its parts unpack to. Raises zipfile.BadZipFile for what is none."""
    import zipfile

    with zipfile.ZipFile(workbook) as archive:
        return sum(entry.file_size for entry in archive.infolist())


def _workbook_file(data: bytes, name: str) -> TableFile:
    import zipfile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        if unpacked_bytes(io.BytesIO(data)) > MOST_UNPACKED_BYTES:
            raise FormulaError(name, [Problem("the workbook unpacks to far more than a formula")])
        _check_computed(data, name)
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        cells = []
        for number, row in enumerate(book.worksheets[0].iter_rows(), start=1):
            if number > MOST_ROWS + 100:
                break
            cells.append((number, [workbook_text(cell) for cell in row]))
        return TableFile(cells, False, unread_sheets(book))
    except FormulaError:
        raise
    except (zipfile.BadZipFile, InvalidFileException, LookupError, ValueError, OSError, EOFError):
        raise FormulaError(
            name, [Problem("the workbook can't be read; open it and save it again as .xlsx")]
        ) from None


def _check_computed(data: bytes, name: str) -> None:
    """Raises FormulaError where a cell of the first sheet holds a calculation without its result:
    it would read as empty."""
    import zipfile

    from openpyxl import load_workbook

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheets = (n for n in archive.namelist() if n.startswith("xl/worksheets/"))
        if not any(_CALCULATION in archive.read(sheet) for sheet in sheets):
            return
    first, with_results = (
        load_workbook(io.BytesIO(data), read_only=True, data_only=results).worksheets[0]
        for results in (False, True)
    )
    bare = [
        cell.coordinate
        for row, results in zip(first.iter_rows(), with_results.iter_rows(), strict=False)
        for cell, result in zip(row, results, strict=False)
        if cell.data_type == "f" and result.value is None
    ]
    if bare:
        message = (
            f"cell {bare[0]} holds a calculation without its result; open the workbook in a "
            "spreadsheet and save it again"
        )
        raise FormulaError(name, [Problem(message)])


def _holds_values(sheet: Any) -> bool:
    """Whether any cell of a sheet's first rows is filled in."""
    first = itertools.islice(sheet.iter_rows(values_only=True), MOST_ABOVE)
    return any(value is not None for row in first for value in row)


def unread_sheets(book: Any) -> tuple[Notice, ...]:
    """What is to be told of a workbook's other sheets, where they hold anything."""
    first, *others = book.worksheets
    named = ", ".join(repr(sheet.title) for sheet in others if _holds_values(sheet))
    if not named:
        return ()
    message = f"Only the first sheet of the workbook is read ({first.title!r}), not {named}."
    return (Notice("SHEETS-UNREAD", "caution", message, "Put the formula on the first sheet."),)


def workbook_text(cell: Any) -> str:
    """A workbook's cell as a person would write it: 0.1 shown as 10 % is "10 %"."""
    value = cell.value
    if value is None:
        return ""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if is_number and "%" in _QUOTED_FORMAT.sub("", cell.number_format or ""):
        return f"{number_text(float(f'{value * 100.0:.15g}'))} %"
    return number_text(value) if isinstance(value, float) else str(value).strip()


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
    lines: list[Cells] = []
    comments: list[Cells] = []
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


def _records(lines: Sequence[Cells], columns: Columns, problems: list[Problem]) -> list[Record]:
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
    lines: Sequence[Cells], name: str, without_header: WithoutHeader | None
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


def _commented_notice(comments: Sequence[Cells], columns: Columns, delimiter: str) -> list[Notice]:
    """Comments that would be rows: a material and an amount stand in their places."""
    rows = []
    for line, values in comments:
        cells = _split(values[0], delimiter) if delimiter else values
        record = columns.record(line, [cell.strip() for cell in cells])
        amounts = (number_in(record.text(column)) for column in NUMERIC)
        if any(map(record.text, IDENTITIES)) and any(map(readings, amounts)):
            rows.append(line)
    if not rows:
        return []
    message = f"Rows that begin with # are not read, as comments: {', '.join(map(str, rows))}."
    return [Notice("ROWS-COMMENTED", "info", message, "Take out the # to count one.")]


def _above_notice(lines: Sequence[Cells]) -> list[Notice]:
    if not lines:
        return []
    shown = "; ".join(" ".join(value for value in values if value) for _, values in lines)
    shown = shown if len(shown) <= MOST_SHOWN else f"{shown[: MOST_SHOWN - 1]}…"
    message = f"Lines above the header are not read: {shown}."
    what = "A batch size is read from a line like: # batch 50 g"
    return [Notice("LINES-ABOVE", "caution", message, f"{what}.")]
