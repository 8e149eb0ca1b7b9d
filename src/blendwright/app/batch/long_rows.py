"""Formulas from a table with a row for each material: formula id, material, grams.

Array work as far as it goes: the columns are coded, each distinct row is resolved once
(`row_cache.py`), amounts are one array, and what is plain needs no parsing by row. A formula with
anything else in it (a bad cell, a material twice, a name that nobody knows) goes the careful way,
row by row, and comes out as `weigh` would have it, with every problem.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from blendwright.app.batch.chunks import CHUNK_SIZE
from blendwright.app.batch.plain_rows import NUMBER, PLAIN_NUMBER, UNUSED
from blendwright.app.batch.row_cache import Opened, Refused, RowCache, refused
from blendwright.app.batch.text_rows import headings_in
from blendwright.app.batch.weighed import Weighed
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula
from blendwright.formula.columns import Columns, Record
from blendwright.formula.headings import AMOUNTS, SHARES, is_weighty
from blendwright.formula.notices import Notice, UnusedColumn, unused_notice
from blendwright.formula.numbers import (
    SCALES,
    AmountUnit,
    LARGEST_g,
    cell_text,
    parse_amount,
    parse_batch_g,
)
from blendwright.formula.row import parse_row
from blendwright.formula.table import BARE, formula_rows, unit_taken
from blendwright.formula.table_files import MOST_ROWS
from blendwright.mixture.block import BlockRows
from blendwright.mixture.weighing import Weighing

UNITS: tuple[AmountUnit, ...] = ("g", "mL", "drops")
TEXTS = ("material", "strength_pct", "carrier", "role", "cas", "smiles")  # tell a row apart
COLUMNS = ("formula", "line", *AMOUNTS, *SHARES, *TEXTS, "note", "batch_g", "broken", UNUSED)
LONE_POINT = r"^\s*[+-]?[1-9]\d{0,2}\.\d{3}(?:\D|$)"  # 1.250, which commas elsewhere may group
NUMBER_AND_UNIT = rf"^(?P<number>{NUMBER}) ?(?P<unit>[a-zA-Z]+)$"
MOST_CODES = 2**40  # of distinct rows, before those that don't occur are left out
MOST_CHUNK_ROWS = 100_000  # a chunk ends here, however few its formulas

Numbers = np.ndarray[Any, Any]


@dataclass(frozen=True)
class HeaderLayout:
    """How a table's header is read, and what is to be told of every formula in it."""

    columns: Columns
    points_are_doubtful: bool = False
    notices: tuple[Notice, ...] = ()


PLAIN = HeaderLayout(Columns.of(("material", *AMOUNTS, *SHARES, *TEXTS[1:], "note")))


@dataclass(frozen=True)
class LongChunk:
    """Whole formulas of a long table, in columns of COLUMNS; empty cells are empty text or null."""

    number: int
    first: int
    rows: pa.Table
    starts: tuple[int, ...]
    share: float | None = None
    layout: HeaderLayout = PLAIN

    @property
    def count(self) -> int:
        return len(self.starts)

    def varied(self) -> None:
        return None

    def __getstate__(self) -> dict[str, object]:
        """Only the chunk's own rows travel, not the table that they were cut from."""
        sink = pa.BufferOutputStream()
        with pa.ipc.new_stream(sink, self.rows.schema) as out:
            out.write_table(self.rows)
        return {**self.__dict__, "rows": sink.getvalue().to_pybytes()}

    def __setstate__(self, state: dict[str, Any]) -> None:
        rows = pa.ipc.open_stream(state["rows"]).read_all()
        self.__dict__.update({**state, "rows": rows})

    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed:
        return LongRows(self.rows, self.starts, row_cache, batch_g, self.layout).weighed()


class LongRows:
    """The rows of one chunk as arrays, and the formulas that they make."""

    def __init__(
        self,
        rows: pa.Table,
        starts: Sequence[int],
        row_cache: RowCache,
        batch_g: float | None,
        layout: HeaderLayout = PLAIN,
    ) -> None:
        self.rows = rows
        self.starts = np.asarray(starts)
        self.ends = np.append(self.starts[1:], len(rows))
        self.row_cache = row_cache
        self.batch_g = batch_g
        self.layout = layout

    def weighed(self) -> Weighed:
        plain, rows, order = self._quick()
        each = {
            n: self._careful(n, int(self.starts[n]), int(self.ends[n]))
            for n in np.flatnonzero(~plain).tolist()
        }
        return Weighed.joined(self._ids, rows, each, *self._told(plain, order))

    def _quick(self) -> tuple[Numbers, BlockRows, Numbers]:
        """Which formulas need no care after all, what their rows weigh, and the order of all rows:
        what fills up to weight comes last in its formula."""
        plain, grams = self._plain.copy(), self._grams.copy()
        for place in np.flatnonzero(self._fills & plain[self._formula]).tolist():
            number = self._formula[place]
            begin, end = int(self.starts[number]), int(self.ends[number])
            batch_g = self._batch(begin, end, [])
            total = sum(grams[begin:end].tolist())
            if batch_g is None or total > batch_g:
                plain[number] = False
            else:
                grams[place] = batch_g - total
        order = np.arange(len(grams))
        if self._fills.any():
            order = np.lexsort((self._fills, self._formula))
        with np.errstate(invalid="ignore"):
            kept = order[(plain[self._formula] & (grams > 0.0))[order]]
        formula = self._formula[kept]
        plain &= np.bincount(formula, minlength=len(plain)) > 0
        opened = [o.row for o in self._opened]
        templates = [row for row in opened if row is not None]
        number = np.cumsum([row is not None for row in opened]) - 1
        rows = BlockRows(templates, formula, number[self._codes[kept]], grams[kept])
        return plain, rows, order

    def _careful(self, number: int, start: int, end: int) -> Weighing | Refused:
        """Row by row, as a formula file is read."""
        name = self._ids[number].as_py()
        if not name:
            return Refused("id", f"row {self._line(start)}: no formula id")
        if end - start > MOST_ROWS:
            return Refused("formula", f"more than {MOST_ROWS} rows: not one formula")
        problems: list[Problem] = []
        records: list[Record] = []
        cells = self.rows.slice(start, end - start)
        columns = {c: _as_texts(cells.column(c)) for c in cells.column_names if c != "line"}
        for place, line in enumerate(cells.column("line").to_pylist()):
            texts = {column: values[place] for column, values in columns.items()}
            broken, unused = texts.get("broken"), texts.get(UNUSED, "")
            if broken:
                problems.append(Problem(broken, line, "row"))
            else:
                records.append(Record(line, texts, headings_in(unused)))
        read = formula_rows(
            records,
            self.layout.columns,
            self._batch(start, end, problems),
            problems,
            points_are_doubtful=self.layout.points_are_doubtful,
        )
        for row in read.rows if problems else ():
            found = self.row_cache.opened(row).problems
            problems += [Problem(p.message, row.line, p.column) for p in found]
        try:
            if problems:
                raise FormulaError(name, problems)
            notices = (*self.layout.notices, *read.notices)
            return self.row_cache.weigh(Formula(name, read.rows, read.batch_g, notices=notices))
        except FormulaError as error:
            return refused(error)

    def _batch(self, start: int, end: int, problems: list[Problem]) -> float | None:
        """The batch size that the formula's rows give, else the one of the run."""
        if "batch_g" not in self.rows.column_names:
            return self.batch_g
        cells = self.rows.column("batch_g").slice(start, end - start)
        given = dict.fromkeys(text for text in _as_texts(cells) if text)
        sizes = {parse_batch_g(text, problems, self._line(start)) for text in given}
        if len(sizes) > 1:
            problems.append(
                Problem(f"two batch sizes: {', '.join(given)}", self._line(start), "batch_g")
            )
            return None
        return sizes.pop() if sizes else self.batch_g

    def _told(self, plain: Numbers, order: Numbers) -> tuple[list[tuple[Notice, ...]], Numbers]:
        """What is to be told of formulas whose rows are plain, and which of it of each formula."""
        told = [self.layout.notices]
        told_of = np.zeros(len(self.starts), dtype=np.int64)
        codes, texts = self._unused if UNUSED in self.rows.column_names else (0 * order, [""])
        codes = codes[order]
        unused = np.logical_or.reduceat(np.array([bool(t) for t in texts])[codes], self.starts)
        known: dict[bytes, int] = {}
        for number in np.flatnonzero(plain & (unused | self._bare.any(axis=1))).tolist():
            own = codes[self.starts[number] : self.ends[number]]
            bare = self._bare[number]
            place = known.setdefault(own.tobytes() + bare.tobytes(), len(told))
            if place == len(told):
                names = Counter(n for code in own.tolist() for n in headings_in(texts[code]))
                notice = unused_notice(UnusedColumn(name, count) for name, count in names.items())
                taken = (
                    unit_taken(self._heading(column), unit)
                    for (column, unit), here in zip(BARE, bare, strict=True)
                    if here
                )
                told.append((*self.layout.notices, *filter(None, [notice]), *taken))
            told_of[number] = place
        return told, told_of

    def _heading(self, column: str) -> str:
        heading = self.layout.columns.heading(column)
        return heading.written if heading else column

    @cached_property
    def _bare(self) -> Numbers:
        """Whether each formula has numbers under each heading of BARE that names no unit, in a
        table where that of the grams names none."""
        found = np.zeros((len(self.starts), len(BARE)), dtype=bool)
        for place, (column, _) in enumerate(BARE):
            if self._is_bare("grams") and self._is_bare(column):
                filled = _filled(self.rows.column(column))
                found[:, place] = np.logical_or.reduceat(filled, self.starts)
        return found

    def _is_bare(self, column: str) -> bool:
        heading = self.layout.columns.heading(column)
        return heading is not None and heading.is_bare

    # Columns

    @cached_property
    def _formula(self) -> Numbers:
        """Which formula each row is of."""
        return np.repeat(np.arange(len(self.starts)), self.ends - self.starts)

    @cached_property
    def _ids(self) -> pa.Array:
        return _at(self.rows.column("formula"), self.starts)

    @cached_property
    def _unused(self) -> tuple[Numbers, list[str]]:
        """The distinct cells of UNUSED, and which of them each row has."""
        return _encoded(self.rows.column(UNUSED))

    def _line(self, place: int) -> int:
        return int(self.rows.column("line")[place].as_py())

    @cached_property
    def _amounts(self) -> tuple[Numbers, Numbers, Numbers]:
        """Each row's number (nan if it needs care), its unit's place, and whether it fills
        up to weight."""
        number = np.full(len(self.rows), np.nan)
        unit = np.zeros(len(self.rows), dtype=int)
        fills = np.zeros(len(self.rows), dtype=bool)
        filled = np.zeros(len(self.rows), dtype=int)
        for place, column in enumerate(AMOUNTS):
            if column in self.rows.column_names:
                values, here, to_weight = _amounts(self.rows.column(column), column)
                number[here], unit[here] = values[here], place
                fills |= to_weight
                filled += here
        number[filled != 1] = np.nan
        return number, unit, fills & (filled == 1)

    @property
    def _fills(self) -> Numbers:
        return self._amounts[2]

    @cached_property
    def _coded(self) -> tuple[Numbers, Numbers]:
        """Which of the distinct rows each row is; and where each of these stands first."""
        _, unit, fills = self._amounts
        code = unit + len(AMOUNTS) * fills
        most = len(UNITS) * 2
        for column in TEXTS:
            if column in self.rows.column_names:
                own, texts = _encoded(self.rows.column(column))
                most *= len(texts)
                if most > MOST_CODES:
                    distinct, code = np.unique(code, return_inverse=True)
                    most = len(distinct) * len(texts)
                code = code * len(texts) + own
        _, firsts, codes = np.unique(code, return_index=True, return_inverse=True)
        return np.asarray(codes), np.asarray(firsts)

    @property
    def _codes(self) -> Numbers:
        return self._coded[0]

    @cached_property
    def _opened(self) -> list[Opened]:
        """The distinct rows, resolved."""
        _, unit, fills = self._amounts
        firsts = self._coded[1]
        columns = {
            c: _as_texts(_at(self.rows.column(c), firsts))
            for c in TEXTS
            if c in self.rows.column_names
        }
        found = []
        for number, place in enumerate(firsts.tolist()):
            texts = {column: values[number] for column, values in columns.items()}
            texts[AMOUNTS[unit[place]]] = "q.s." if fills[place] else "1"
            problems: list[Problem] = []
            row = parse_row(texts, 0, problems)
            found.append(self.row_cache.opened(row) if row else Opened(None, tuple(problems)))
        return found

    @cached_property
    def _grams(self) -> Numbers:
        """nan where a row needs care."""
        number, _, fills = self._amounts
        one = np.array([o.row.grams if o.row else np.nan for o in self._opened])
        grams = number * one[self._codes]
        grams[fills] = 0.0 * one[self._codes[fills]]
        return np.asarray(grams)

    @cached_property
    def _needs_no_table(self) -> Numbers:
        """Whether each row's amount can be read without the formula's other rows. Shares, units
        in cells under a heading without one, and unused columns that speak of strengths can't."""
        good = np.ones(len(self.rows), dtype=bool)
        cells = self.rows.column("grams") if self._is_bare("grams") else None
        if cells is not None and not pa.types.is_floating(cells.type):
            good &= ~_filled(cells) | _bools(pc.match_substring_regex(cells, PLAIN_NUMBER))
        for column in SHARES:
            if column in self.rows.column_names:
                good &= ~_filled(self.rows.column(column))
        if any(is_weighty(name) for _, name in self.layout.columns.unused):
            codes, texts = self._unused
            good &= ~np.array([any(map(is_weighty, headings_in(t))) for t in texts])[codes]
        return good

    @cached_property
    def _lone_signs(self) -> tuple[Numbers, Numbers]:
        """Whether a number in each row has a comma, and whether one has a lone point before three
        digits, which may group thousands where others have commas."""
        commas = np.full(len(self.rows), self.layout.points_are_doubtful)
        points = np.zeros(len(self.rows), dtype=bool)
        columns = {c: self.rows.column(c) for c in self.rows.column_names}
        columns = {c: columns[c] for c in (*AMOUNTS, "strength_pct") if c in columns}
        texts = {c: own for c, own in columns.items() if not pa.types.is_floating(own.type)}
        for cells in texts.values():
            commas |= _bools(pc.match_substring(cells, ","))
        if commas.any():
            for column in texts.keys() & set(AMOUNTS):
                points |= _bools(pc.match_substring_regex(texts[column], LONE_POINT))
        return commas, points

    @cached_property
    def _plain(self) -> Numbers:
        """Whether a formula is plain: every row resolved, no material twice, no name to tell of, an
        id, at most one filler."""
        number, _, fills = self._amounts
        with np.errstate(invalid="ignore"):
            good = np.isfinite(self._grams) & (fills | ((number >= 0.0) & (number <= LARGEST_g)))
        if "broken" in self.rows.column_names:
            good &= ~_filled(self.rows.column("broken"))
        good &= self._needs_no_table
        good &= ~np.array([opened.from_name for opened in self._opened], dtype=bool)[self._codes]
        plain = np.logical_and.reduceat(good, self.starts)
        plain &= _filled(self._ids)
        plain &= np.add.reduceat(fills.astype(int), self.starts) <= 1
        plain &= self.ends - self.starts <= MOST_ROWS
        commas, points = (np.logical_or.reduceat(m, self.starts) for m in self._lone_signs)
        plain &= ~(commas & points)
        labels = {label: n for n, label in enumerate({o.label for o in self._opened})}
        label = np.array([labels[o.label] for o in self._opened])[self._codes]
        pair = np.sort(self._formula * len(labels) + label)
        plain[pair[1:][pair[1:] == pair[:-1]] // len(labels)] = False
        return np.asarray(plain)


def _at(column: pa.ChunkedArray, places: Numbers) -> pa.Array:
    """Some of a column's cells."""
    taken = column.take(pa.array(places))
    return taken.combine_chunks() if isinstance(taken, pa.ChunkedArray) else taken


def _encoded(column: pa.ChunkedArray) -> tuple[Numbers, list[str]]:
    """Which of the column's distinct texts each cell is, and these."""
    coded = pc.dictionary_encode(column).combine_chunks()
    return coded.indices.to_numpy().astype(np.int64), coded.dictionary.to_pylist()


def _bools(column: pa.ChunkedArray) -> Numbers:
    """A mask of cells; a null is false."""
    return np.asarray(pc.fill_null(column, False))


def _filled(column: pa.ChunkedArray | pa.Array) -> Numbers:
    """Which cells hold something."""
    is_number = pa.types.is_floating(column.type)
    return _bools(pc.is_valid(column) if is_number else pc.not_equal(column, ""))


def _as_texts(column: pa.ChunkedArray | pa.Array) -> list[str]:
    """Cells as people would write them; a null is an empty cell."""
    if pa.types.is_floating(column.type):
        return [cell_text(value) for value in column.to_pylist()]
    return ["" if value is None else value for value in column.to_pylist()]


def _amounts(column: pa.ChunkedArray, name: str) -> tuple[Numbers, Numbers, Numbers]:
    """Numbers, which cells are filled, and which of these say "to weight"."""
    filled, fills = _filled(column), np.zeros(len(column), dtype=bool)
    if pa.types.is_floating(column.type):
        return column.to_numpy(), filled, fills
    digits = _bools(pc.match_substring_regex(column, PLAIN_NUMBER))
    numbers = np.full(len(column), np.nan)
    numbers[digits] = _numbers(column.filter(pa.array(digits)))
    others = np.flatnonzero(filled & ~digits)
    numbers[others] = _with_their_units(_at(column, others), name)
    others = others[np.isnan(numbers[others])]
    for place, text in zip(others.tolist(), _at(column, others).to_pylist(), strict=True):
        amount = parse_amount(text, name, 0, [])
        if amount is not None:
            numbers[place] = amount.number
            fills[place] = amount.unit == "to weight"
    return numbers, filled, fills


def _with_their_units(texts: pa.Array, name: str) -> Numbers:
    """The amounts of cells that hold a plain number and a unit of the column; nan for others."""
    parts = pc.extract_regex(texts, NUMBER_AND_UNIT)
    numbers = _numbers(pc.struct_field(parts, "number"))
    units = pc.dictionary_encode(pc.struct_field(parts, "unit"))
    scales = [SCALES[name].get(unit.casefold()) for unit in units.dictionary.to_pylist()]
    scale = pa.array(scales, pa.float64()).take(units.indices)
    return np.asarray(pc.fill_null(pc.multiply(numbers, scale), np.nan))


def _numbers(texts: pa.Array | pa.ChunkedArray) -> pa.Array | pa.ChunkedArray:
    """The numbers that plain texts are."""
    return pc.cast(pc.replace_substring(texts, ",", "."), pa.float64())


def long_chunks(
    tables: Iterable[tuple[pa.Table, float | None]],
    size: int = CHUNK_SIZE,
    layout: Callable[[], HeaderLayout] = lambda: PLAIN,
) -> Iterator[LongChunk]:
    """Chunks of `size` whole formulas from a stream of tables, wherever these are cut.

    A formula ends where the id changes. Rows of one formula beyond what is read of a formula file
    are dropped here, and the formula is refused for them. `layout` is asked once there are rows.
    """
    rest: pa.Table | None = None
    number, first = 1, 1
    before: float | None = 0.0
    for table, share in tables:
        held = 0 if rest is None else len(rest)
        pending = table if rest is None else pa.concat_tables([rest, table])
        starts = formula_starts(pending)
        done = 0
        while (cut := _cut(starts, done, len(pending), size)) is not None:
            end = int(starts[cut])
            here = _between(before, share, (end - held) / max(1, len(table)))
            yield _chunk(pending, starts[done:cut], end, number, first, here, layout())
            number, first, done = number + 1, first + cut - done, cut
        begin = int(starts[done]) if len(starts) else 0
        rest = pending.slice(begin)
        if len(starts) - done == 1:
            rest = rest.slice(0, MOST_ROWS + 1)
        before = share
    if rest is None or not len(rest):
        return
    starts, done = formula_starts(rest), 0
    while done < len(starts):
        cut = _cut(starts, done, len(rest), size) or min(done + size, len(starts))
        end = int(starts[cut]) if cut < len(starts) else len(rest)
        yield _chunk(rest, starts[done:cut], end, number, first, before, layout())
        number, first, done = number + 1, first + cut - done, cut


def _between(before: float | None, after: float | None, part: float) -> float | None:
    """The share of the input that ends part of the way through a table."""
    if before is None or after is None:
        return None
    return before + (after - before) * max(0.0, part)


def formula_starts(rows: pa.Table) -> Numbers:
    """Where each run of one id begins."""
    if not len(rows):
        return np.zeros(0, dtype=int)
    ids = rows.column("formula")
    changes = np.asarray(pc.not_equal(ids.slice(1), ids.slice(0, len(ids) - 1)))
    return np.concatenate([[0], np.flatnonzero(changes) + 1])


def _cut(starts: Numbers, done: int, length: int, size: int) -> int | None:
    """Which formula the next chunk begins with; None while it can't be told yet."""
    whole = len(starts) - 1 - done  # the last one may go on
    if whole < 1:
        return None
    begin = int(starts[done])
    if whole < size and length - begin <= MOST_CHUNK_ROWS:
        return None
    fit = int(np.searchsorted(starts[done:], begin + MOST_CHUNK_ROWS, side="right")) - 1
    return done + max(1, min(size, fit))


def _chunk(
    table: pa.Table,
    starts: Numbers,
    end: int,
    number: int,
    first: int,
    share: float | None,
    layout: HeaderLayout,
) -> LongChunk:
    begin = int(starts[0])
    rows = table.slice(begin, end - begin)
    return LongChunk(number, first, rows, tuple((starts - begin).tolist()), share, layout)
