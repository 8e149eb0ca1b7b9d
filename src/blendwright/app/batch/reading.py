"""What does the batch read: which kind of input is it, is it still the same, and its chunks.

A long table (CSV, TSV, XLSX, Parquet) has a row for each material of each formula; the rows of one
formula stand together. A folder holds formula files. All are streamed, whatever their size; of a
folder the list of names is held.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Protocol

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from blendwright.app.batch.chunks import Chunk, FilesChunk
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.long_rows import HeaderLayout, long_chunks
from blendwright.app.batch.plain_rows import UNUSED, headings_filled
from blendwright.app.batch.text_rows import text_rows, workbook_rows
from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import NUMERIC, Columns
from blendwright.formula.headings import AMOUNTS, IDENTITIES, plain
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import SCALES, cell_text, with_unit
from blendwright.formula.table_files import MOST_BYTES

ID_WORDS = (
    "formula", "formula id", "id", "recipe", "recipe id", "Formel", "Rezept", "Rezeptur",
    "formule", "recette",
)  # fmt: skip
BATCH_WORDS = (
    "batch", "batch g", "batch size", "batch size g", "Ansatz", "Ansatz g", "Ansatzgröße",
    "taille du lot", "taille du lot g",
)  # fmt: skip
OWN_WORDS = {
    **{plain(word): "formula" for word in ID_WORDS},
    **{plain(word): "batch_g" for word in BATCH_WORDS},
}
PARQUET = (".parquet", ".pq")
WORKBOOKS = (".xlsx", ".xlsm")
TEXTS_OF_FILES = (".csv", ".tsv", ".txt")
FORMULA_FILES = (*TEXTS_OF_FILES, *WORKBOOKS)
ROWS_AT_ONCE = 65_536
END_BYTES = 1 << 20  # of both ends of a file, hashed
SLICE_BYTES = 8_000_000  # of formula files in one chunk


class ChunkSource(Protocol):
    """An input, read in chunks. `ids_may_return` where nothing keeps two formulas from one id."""

    name: str
    ids_may_return: bool

    def fingerprint(self) -> dict[str, object]: ...
    def chunks(self, size: int) -> Iterator[Chunk]: ...


def source_of(path: str | Path) -> ChunkSource:
    """The input at a path. Raises FormulaError where there is nothing that can be read."""
    path = Path(path)
    if path.is_dir():
        return FormulaFolder(path)
    if not path.exists():
        raise FormulaError(str(path), [Problem("there is no such file or folder")])
    if not path.stat().st_size:
        raise FormulaError(path.name, [Problem("the file is empty")])
    return LongTable(path)


class LongTable:
    """A file with a row for each material of each formula."""

    ids_may_return = True

    def __init__(self, path: Path) -> None:
        self.path = path
        self.name = path.name
        self.suffix = path.suffix.casefold()
        self._layout: HeaderLayout | None = None

    def fingerprint(self) -> dict[str, object]:
        """Size, time of change, and a hash of both ends: enough to see that it is the same."""
        state = self.path.stat()
        digest = hashlib.sha256()
        with self.path.open("rb") as file:
            digest.update(file.read(END_BYTES))
            file.seek(max(0, state.st_size - END_BYTES))
            digest.update(file.read(END_BYTES))
        return {
            "path": str(self.path.resolve()),
            "bytes": state.st_size,
            "changed_ns": state.st_mtime_ns,
            "sha256_of_both_ends": digest.hexdigest(),
        }

    def chunks(self, size: int) -> Iterator[Chunk]:
        """Raises FormulaError for a header without the needed columns, or where reading breaks."""
        tables = self._parquet() if self.suffix in PARQUET else self._texts()
        return long_chunks(tables, size, self._read_layout)

    def _read_layout(self) -> HeaderLayout:
        """As the header said; it is read by the time that there are rows."""
        assert self._layout is not None
        return self._layout

    def _columns(
        self,
        header: Sequence[str],
        points_are_doubtful: bool = False,
        notices: tuple[Notice, ...] = (),
    ) -> Columns:
        columns = columns_of(header, self.name)
        self._layout = HeaderLayout(columns, points_are_doubtful, notices)
        return columns

    def _texts(self) -> Iterator[tuple[pa.Table, float | None]]:
        rows = workbook_rows if self.suffix in WORKBOOKS else text_rows
        return rows(self.path, self._columns, ROWS_AT_ONCE)

    def _parquet(self) -> Iterator[tuple[pa.Table, float | None]]:
        read = 0
        try:
            # without a buffer for each column a row group of any size would be held whole
            file = pq.ParquetFile(self.path, buffer_size=1 << 20, pre_buffer=False)
            with file:
                columns = self._columns(file.schema_arrow.names)
                total = max(1, file.metadata.num_rows)
                for batch in file.iter_batches(ROWS_AT_ONCE):
                    table = pa.Table.from_batches([batch])
                    made = normalised(table, columns, read + 1)
                    read += len(batch)
                    yield made, read / total
        except (pa.ArrowException, OSError) as error:
            where = f"after row {read}" if read else "from the start"
            raise FormulaError(
                self.name,
                [
                    Problem(
                        f"not a whole Parquet file, unreadable {where}; write it again "
                        f"({str(error).splitlines()[0][:120]})"
                    )
                ],
            ) from None


class ArrowTable:
    """A long table in memory."""

    ids_may_return = True
    name = "table"

    def __init__(self, table: pa.Table) -> None:
        self.table = table

    def fingerprint(self) -> dict[str, object]:
        return {"rows": len(self.table)}

    def chunks(self, size: int) -> Iterator[Chunk]:
        columns = columns_of(self.table.column_names, self.name)
        return long_chunks(self._slices(columns), size, lambda: HeaderLayout(columns))

    def _slices(self, columns: Columns) -> Iterator[tuple[pa.Table, float | None]]:
        for start in range(0, len(self.table), ROWS_AT_ONCE):
            piece = self.table.slice(start, ROWS_AT_ONCE)
            yield normalised(piece, columns, start + 1), None


class FormulaFolder:
    """A folder of formula files; the file's name is the formula's id."""

    ids_may_return = False

    def __init__(self, path: Path) -> None:
        self.path = path
        self.name = path.name
        found = [e.name for e in os.scandir(path) if e.is_file() and not e.name.startswith(".")]
        self.files = sorted(n for n in found if Path(n).suffix.casefold() in FORMULA_FILES)
        if not self.files:
            kinds = ", ".join(FORMULA_FILES)
            raise FormulaError(str(path), [Problem(f"no formula file ({kinds}) in this folder")])

    def fingerprint(self) -> dict[str, object]:
        digest = hashlib.sha256()
        for name in self.files:
            state = (self.path / name).stat()
            digest.update(f"{name}\0{state.st_size}\0{state.st_mtime_ns}\n".encode())
        return {
            "path": str(self.path.resolve()),
            "files": len(self.files),
            "sha256_of_names_sizes_times": digest.hexdigest(),
        }

    def chunks(self, size: int) -> Iterator[Chunk]:
        held: list[tuple[str, bytes]] = []
        number, first, weight = 1, 1, 0
        for place, name in enumerate(self.files, start=1):
            held.append((name, self._bytes(name)))
            weight += len(held[-1][1])
            if len(held) == size or weight > SLICE_BYTES or place == len(self.files):
                yield FilesChunk(number, first, tuple(held), place / len(self.files))
                number, first = number + 1, first + len(held)
                held, weight = [], 0

    def _bytes(self, name: str) -> bytes:
        """What can't be read, or is no formula by its size, is left to be refused by its name."""
        path = self.path / name
        try:
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except OSError:
            return b""
        return data if len(data) <= MOST_BYTES else b"\x00"


def columns_of(header: Sequence[str], name: str) -> Columns:
    """Which column of a long table is which.

    Raises FormulaError where the id, the material or the amount is missing, or one is there twice.
    """
    columns = Columns.of(header, OWN_WORDS)
    twice = columns.twice_problems(None)
    if twice:
        raise FormulaError(name, twice)
    missing = [] if "formula" in columns.names else ["formula"]
    if not columns.names & set(IDENTITIES):
        missing.append("material")
    if not columns.names & set(NUMERIC):
        missing.append("grams (or mL, drops, % or parts)")
    if missing:
        shown = ", ".join(cell for cell in header if cell)[:80]
        raise FormulaError(
            name,
            [
                Problem(
                    f"the table has no column {', '.join(missing)}; a batch needs formula, "
                    f"material and grams in each row; found: {shown}"
                )
            ],
        )
    return columns


def normalised(table: pa.Table, columns: Columns, first_line: int) -> pa.Table:
    """Our columns: amounts as text or 64-bit numbers in their own unit, all else as text without
    nulls; and which unused columns each row fills in."""
    made: dict[str, pa.Array] = {}
    for place, heading in columns.read:
        column, ours = _plain(table.column(place)), heading.column
        scale = SCALES[ours].get(heading.unit.casefold(), 1.0) if ours in AMOUNTS else 1.0
        if ours in AMOUNTS and _is_number(column.type):
            made[ours] = pc.multiply(pc.cast(column, pa.float64(), safe=False), scale)
        elif pa.types.is_floating(column.type):
            coded = column.combine_chunks().dictionary_encode()
            texts = pa.array([cell_text(v) for v in coded.dictionary.to_pylist()], pa.string())
            made[ours] = pc.fill_null(texts.take(coded.indices), "")
        else:
            text = pc.utf8_trim_whitespace(pc.fill_null(_as_string(column, heading.written), ""))
            made[ours] = text if scale == 1.0 else _with_unit(text, heading.unit)
    if columns.unused:
        made[UNUSED] = _unused(table, columns)
    lines = np.arange(first_line, first_line + len(table))
    return pa.table({**made, "line": pa.array(lines)})


def _plain(column: pa.ChunkedArray) -> pa.ChunkedArray:
    is_coded = pa.types.is_dictionary(column.type)
    return pc.cast(column, column.type.value_type) if is_coded else column


def _is_number(kind: pa.DataType) -> bool:
    is_one = (pa.types.is_floating, pa.types.is_integer, pa.types.is_decimal)
    return any(test(kind) for test in is_one)


def _with_unit(column: pa.ChunkedArray, unit: str) -> pa.Array:
    return pa.array([with_unit(text, unit) for text in column.to_pylist()], pa.string())


def _unused(table: pa.Table, columns: Columns) -> pa.ChunkedArray:
    """The headings of the unused columns that each row holds a value in."""
    named = []
    for place, name in columns.unused:
        column = _plain(table.column(place))
        filled = pc.is_valid(column)
        if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
            filled = pc.fill_null(pc.not_equal(pc.utf8_trim_whitespace(column), ""), False)
        elif pa.types.is_floating(column.type):
            filled = pc.fill_null(pc.is_finite(column), False)
        named.append((name, filled))
    return headings_filled(named)


def _as_string(column: pa.ChunkedArray, name: str) -> pa.ChunkedArray:
    try:
        return pc.cast(column, pa.string())
    except pa.ArrowException:
        raise BatchError(
            f"the column {name} holds {column.type}, which is neither text nor a number"
        ) from None
