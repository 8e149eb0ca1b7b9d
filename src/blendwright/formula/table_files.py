"""Table files as lines of cells: CSV, TSV and XLSX, whatever people's files look like.

Semicolons, tabs, a byte-order mark, UTF-16 and Windows-1252 are taken. What the cells mean is not
asked here.
"""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import Columns
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import number_text

MOST_ROWS = 5000
MOST_BYTES = 5_000_000
MOST_UNPACKED_BYTES = 20 * MOST_BYTES  # of a workbook
MOST_ABOVE = 30  # lines above the header
# An apostrophe that keeps a spreadsheet from taking a text for a formula; writing.py puts it there
QUOTED = re.compile(r"'+[=+\-@]")
_DELIMITERS = "\t;,"
_DELIMITER_LINE = re.compile(r"^sep=.$", re.IGNORECASE)  # a spreadsheet's own first line
_CALCULATION = b"<f"  # in a sheet of a workbook
_QUOTED_FORMAT = re.compile(r'"[^"]*"|\\.')  # of a number's format: letters that mean nothing

TableLine = tuple[int, list[str]]  # line number in the file, its cells


@dataclass(frozen=True)
class TableFile:
    """A table file's cells; `points_are_doubtful` where its commas are decimal signs by the way it
    is written (semicolons); `notices` of what in the file is not read."""

    cells: list[TableLine]
    points_are_doubtful: bool = False
    notices: tuple[Notice, ...] = ()
    delimiter: str = ""  # none: a workbook


def bytes_of(path: Path) -> tuple[bytes, str]:
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


def text_table(text: str, name: str, delimiter: str = "") -> TableFile:
    """The cells of a table in text; raises FormulaError for what isn't one."""
    delimiter = delimiter or delimiter_of(text)
    cells: list[TableLine] = []
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


def table_cells(path: str | Path) -> list[TableLine]:
    """Any table file as (line number, cells); raises FormulaError for what isn't one."""
    return table_file(*bytes_of(Path(path))).cells


def table_file(data: bytes, name: str) -> TableFile:
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
            cells = split_line(line, delimiter) if delimiter in line else []
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


def split_line(line: str, delimiter: str) -> list[str]:
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
