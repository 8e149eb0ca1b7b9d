"""Long tables from text files and workbooks, streamed, whatever people's files look like.

Semicolons, tabs, a byte-order mark, UTF-16, Windows-1252 and decimal commas are taken, as in a
formula file. A row that can't be read stays a row, with what is wrong with it, so that its formula
is refused and never answered without it. An open quotation mark would swallow the rows after it;
such rows are read again one line at a time.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

import pyarrow as pa

from blendwright.app.batch.plain_rows import BETWEEN, UNUSED, plain_table
from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import Columns
from blendwright.formula.notices import Notice
from blendwright.formula.table_files import (
    delimiter_of,
    is_comment,
    names_delimiter,
    unread_sheets,
    workbook_text,
)

# the columns of a header, told too whether lone points are doubtful and what else isn't read
ColumnsOf = Callable[[Sequence[str], bool, tuple[Notice, ...]], Columns]
Tables = Iterator[tuple[pa.Table, float | None]]
SNIFFED_BYTES = 4096
PIECE_BYTES = 1 << 18  # read at once where it is plain
MAY_HOLD_LINES = ("note",)  # a line break anywhere else is an open quotation mark


def text_rows(path: Path, columns_of: ColumnsOf, at_once: int) -> Tables:
    """Tables of some `at_once` rows of a CSV or TSV, with the share of the file read.

    Raises FormulaError for a file without a header that `columns_of` takes, or a binary one.
    """
    with path.open("rb") as raw:
        start = raw.read(SNIFFED_BYTES)
        raw.seek(0)
        utf16 = start[:2] in (b"\xff\xfe", b"\xfe\xff")
        if not utf16 and b"\x00" in start:
            raise FormulaError(
                path.name, [Problem("this is a binary file; a batch takes CSV, XLSX or Parquet")]
            )
        size = max(1, os.fstat(raw.fileno()).st_size)
        lines = _Lines(raw, utf16)
        number, header, delimiter = _header(lines, path.name)
        columns = columns_of(header, delimiter == ";", ())
        held: list[pa.Table] = []
        for table in _pieces(lines, columns, number, delimiter, at_once):
            held.append(table)
            if sum(map(len, held)) >= at_once:
                yield pa.concat_tables(held), min(1.0, raw.tell() / size)
                held = []
        if held:
            yield pa.concat_tables(held), 1.0


def _pieces(
    lines: _Lines, columns: Columns, number: int, delimiter: str, at_once: int
) -> Iterator[pa.Table]:
    """The rows after a header on line `number`: piece by piece where that is plain, else one by
    one."""
    builder = _Builder(columns)
    records = _Records(lines, number, delimiter, builder)
    careful_to = 0
    while True:
        if lines.may_be_plain and lines.raw.tell() >= careful_to:
            if builder.lines:
                yield builder.table()
            begin = lines.raw.tell()
            piece = lines.raw.read(PIECE_BYTES) + lines.raw.readline()
            table = plain_table(piece, columns, delimiter, records.number + 1) if piece else None
            if table is not None:
                records.number += len(table)
                yield table
                continue
            lines.raw.seek(begin)
            careful_to = begin + len(piece)
        rows = next(records, None)
        if rows is None:
            break
        for line, cells in rows:
            builder.add(line, cells)
        if len(builder.lines) >= at_once:
            yield builder.table()
    if builder.lines:
        yield builder.table()


def workbook_rows(path: Path, columns_of: ColumnsOf, at_once: int) -> Tables:
    """The text rows of a workbook's first sheet. Raises FormulaError where it can't be read."""
    import zipfile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    builder: _Builder | None = None
    try:
        book = load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        total = sheet.max_row
        for line, row in enumerate(sheet.iter_rows(), start=1):
            cells = [workbook_text(cell) for cell in row]
            if not any(cells):
                continue
            if builder is None:
                if not is_comment(cells):
                    builder = _Builder(columns_of(cells, False, unread_sheets(book)))
                continue
            builder.add(line, cells)
            if len(builder.lines) == at_once:
                yield builder.table(), min(1.0, line / total) if total else None
        if builder is None:
            raise FormulaError(path.name, [Problem("the first sheet is empty")])
        if builder.lines:
            yield builder.table(), 1.0
    except (zipfile.BadZipFile, InvalidFileException, LookupError, ValueError, EOFError):
        raise FormulaError(
            path.name, [Problem("the workbook can't be read; open it and save it again as .xlsx")]
        ) from None


class _Lines:
    """A file's lines as text. Where what follows `may_be_plain`, `raw` stands at its first line."""

    def __init__(self, raw: BinaryIO, utf16: bool) -> None:
        self.raw = raw
        self.may_be_plain = False
        self._lines = _utf16_lines(raw) if utf16 else self._read()

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        return next(self._lines)

    def _read(self) -> Iterator[str]:
        encoding = "utf-8-sig"
        for line in iter(self.raw.readline, b""):
            text = line.decode(encoding, "surrogateescape")
            encoding = "utf-8"
            parts = [text]
            if line.count(b"\r") > line.endswith(b"\r\n"):
                parts = list(io.StringIO(text, newline=""))
            self.may_be_plain = False
            for part in parts[:-1]:
                yield _western(part)
            self.may_be_plain = True
            yield _western(parts[-1])


def _utf16_lines(raw: BinaryIO) -> Iterator[str]:
    return io.TextIOWrapper(raw, "utf-16", errors="surrogateescape", newline="")


def _western(line: str) -> str:
    """A line that isn't UTF-8 is taken for Windows-1252."""
    if line.isascii() or not any("\udc80" <= sign <= "\udcff" for sign in line):
        return line
    return line.encode("utf-8", "surrogateescape").decode("cp1252", errors="replace")


def _header(lines: Iterator[str], name: str) -> tuple[int, list[str], str]:
    """The header's line number and cells, and the delimiter; comments may stand before it."""
    for number, line in enumerate(lines, start=1):
        delimiter = delimiter_of(line)
        cells = next(csv.reader([line], delimiter=delimiter), [])
        if not line.strip() or is_comment(cells) or names_delimiter(line.strip()):
            continue
        return number, [cell.strip() for cell in cells], delimiter
    raise FormulaError(
        name, [Problem("the file holds no table; it needs a header: formula, material, grams")]
    )


class _Records:
    """The rows after a header on line `number`, for each what a csv reader takes for one: lists of
    line number and cells. Blank lines are none."""

    def __init__(
        self, lines: Iterator[str], number: int, delimiter: str, builder: _Builder
    ) -> None:
        self.number = number
        self._lines, self._delimiter, self._builder = lines, delimiter, builder
        self._held: list[str] = []
        self._reader = csv.reader(self._fed(), delimiter=delimiter)

    def _fed(self) -> Iterator[str]:
        for line in self._lines:
            self._held.append(line)
            yield line

    def __iter__(self) -> Iterator[list[tuple[int, list[str]]]]:
        return self

    def __next__(self) -> list[tuple[int, list[str]]]:
        self._held.clear()
        try:
            cells = next(self._reader)
        except csv.Error:
            cells = []
        if len(self._held) == 1 or self._builder.is_whole(cells):
            rows = [cells]
        else:
            rows = [_alone(line, self._delimiter) for line in self._held]
        first = self.number + 1
        self.number += len(self._held)
        return [
            (line, [cell.strip() for cell in row])
            for line, row in enumerate(rows, start=first)
            if any(cell.strip() for cell in row)
        ]


def _alone(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)


def headings_in(unused: str) -> tuple[str, ...]:
    """The headings in a cell of the column UNUSED."""
    return tuple(unused.split(BETWEEN)[:-1])


class _Builder:
    """Rows gathered column by column."""

    def __init__(self, columns: Columns) -> None:
        self.columns = columns
        self.width = columns.width
        self.places = [(place, heading.column) for place, heading in columns.read]
        self.lines: list[int] = []
        self.cells: dict[str, list[str]] = {}
        self._clear()

    def _clear(self) -> None:
        self.lines = []
        self.cells = {ours: [] for _, ours in self.places}
        self.cells["broken"] = []
        if self.columns.unused:
            self.cells[UNUSED] = []

    def is_whole(self, cells: Sequence[str]) -> bool:
        """Whether a row of several lines is meant so: a line break in a note."""
        return len(cells) == self.width and not any(
            "\n" in cells[place] or "\r" in cells[place]
            for place, ours in self.places
            if ours not in MAY_HOLD_LINES
        )

    def add(self, line: int, cells: Sequence[str]) -> None:
        extra = [cell for cell in cells[self.width :] if cell]
        self.lines.append(line)
        for ours, text in self.columns.texts(cells):
            self.cells[ours].append(text)
        if self.columns.unused:
            names = self.columns.unused_in(cells)
            self.cells[UNUSED].append("".join(f"{name}{BETWEEN}" for name in names))
        self.cells["broken"].append(
            f"more cells than the header has columns (left over: {', '.join(extra)[:60]}); a "
            "decimal comma in a comma-separated file needs quotes or semicolons"
            if extra
            else ""
        )

    def table(self) -> pa.Table:
        made = {name: pa.array(values, pa.string()) for name, values in self.cells.items()}
        made["line"] = pa.array(self.lines, pa.int64())
        self._clear()
        return pa.table(made)
