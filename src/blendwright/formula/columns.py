"""Which column of a table is which, and one formula's cells by our columns."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from blendwright.errors import Problem
from blendwright.formula.headings import (
    AMOUNTS,
    IDENTITIES,
    MAY_NUMBER,
    SHARES,
    Heading,
    heading_of,
    plain,
)
from blendwright.formula.numbers import (
    SCALES,
    Signs,
    number_in,
    parse_number,
    unit_of,
    with_unit,
)

NUMERIC = (*AMOUNTS, *SHARES)
UNMARKED = ("g", "mL", "drops", "%", "parts")  # what a bare number in such a column means anyhow
MAY_BE_TWO = ("material", "role", "note", "cas", "smiles")  # the first counts, others are unused


@dataclass(frozen=True)
class Record:
    """One row of a table by our columns, and the unused columns that it fills in."""

    line: int
    texts: Mapping[str, str]
    unused: tuple[str, ...] = ()

    def text(self, column: str) -> str:
        return self.texts.get(column, "")

    def moved(self, start: str, end: str) -> Record:
        """The record with one cell in another column."""
        return replace(self, texts={**self.texts, end: self.text(start), start: ""})


@dataclass(frozen=True)
class Columns:
    """Which place of a table's rows is read as which column; the others by their headings.

    `twice` are columns that more than one heading means, with those headings.
    """

    read: tuple[tuple[int, Heading], ...]
    unused: tuple[tuple[int, str], ...] = ()
    twice: tuple[tuple[str, tuple[str, str]], ...] = ()
    width: int = 0

    @classmethod
    def of(cls, header: Sequence[str], also: Mapping[str, str] | None = None) -> Columns:
        """The columns of a header; `also` are plain words for columns of the caller's own."""
        read: dict[str, tuple[int, Heading]] = {}
        unused: list[tuple[int, str]] = []
        twice: list[tuple[str, tuple[str, str]]] = []
        for place, cell in enumerate(header):
            own = (also or {}).get(plain(cell))
            heading = Heading(own, "", cell.strip()) if own else heading_of(cell)
            if heading is None:
                unused.append((place, cell.strip() or f"column {place + 1} (no heading)"))
                continue
            column, first = heading.column, read.get(heading.column)
            if first is None:
                read[column] = place, heading
            elif column not in MAY_BE_TWO or plain(first[1].written) == plain(cell):
                twice.append((column, (first[1].written, heading.written)))
            elif plain(cell) == column or plain(first[1].written) in MAY_NUMBER:
                read[column] = place, heading
                unused.append((first[0], first[1].written))
            else:
                unused.append((place, heading.written))
        return cls(tuple(read.values()), tuple(unused), tuple(twice), len(header))

    @property
    def names(self) -> frozenset[str]:
        return frozenset(heading.column for _, heading in self.read)

    @property
    def is_header(self) -> bool:
        """Whether this can be the header of a formula: it names materials and amounts."""
        return bool(self.names & set(IDENTITIES)) and bool(self.names & set(NUMERIC))

    def heading(self, column: str | None) -> Heading | None:
        return next((h for _, h in self.read if h.column == column), None)

    @cached_property
    def places(self) -> tuple[tuple[int, str, str], ...]:
        """Place and column of what is read, and the unit that a bare number there is given."""
        return tuple(
            (place, heading.column, "" if heading.unit in UNMARKED else heading.unit)
            for place, heading in self.read
        )

    def texts(self, values: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Column and text of a row's cells, each with the unit of its heading where it has none."""
        width = len(values)
        for place, column, unit in self.places:
            cell = values[place] if place < width else ""
            yield column, with_unit(cell, unit) if unit and cell else cell

    def unused_in(self, values: Sequence[str]) -> tuple[str, ...]:
        """The unused columns that a row fills in."""
        width = len(values)
        return tuple(name for place, name in self.unused if place < width and values[place])

    def record(self, line: int, values: Sequence[str]) -> Record:
        """One row."""
        return Record(line, dict(self.texts(values)), self.unused_in(values))

    def twice_problems(self, line: int | None) -> list[Problem]:
        return [
            Problem(f"the column {column} is there twice ({one!r} and {other!r}); keep one", line)
            for column, (one, other) in self.twice
        ]


@dataclass(frozen=True)
class Cells:
    """The cells of one formula; `around` are the decimal signs that its numbers show."""

    columns: Columns
    records: tuple[Record, ...]
    around: Signs

    def called(self, column: str) -> str:
        """A column as the table calls it."""
        heading = self.columns.heading(column)
        if heading is None and column in NUMERIC:
            heading = self.columns.heading("grams")  # moved from there by the units in its cells
        return heading.written if heading else column

    def filled(self, column: str) -> list[Record]:
        return [record for record in self.records if record.text(column)]

    def numbers(self) -> Iterator[str]:
        """The texts that hold numbers, empty ones among them."""
        return numbers_of(self.records)

    def value(self, text: str, column: str) -> float | None:
        """A cell's number in g, mL, drops, % or parts; None where it is none, or can be two."""
        value = parse_number(number_in(text), self.around)
        return None if value is None else value * _scale(text, column)

    def last_digit(self, text: str, column: str) -> float:
        """What the last digit of a number as written stands for: 0.01 g in "12.50 g"."""
        found = re.search(r"[.,](\d+)$", number_in(text))
        return (10.0 ** -len(found.group(1)) if found else 1.0) * _scale(text, column)


def numbers_of(records: Sequence[Record]) -> Iterator[str]:
    for record in records:
        yield from (record.text(column) for column in (*NUMERIC, "strength_pct"))


def _scale(text: str, column: str) -> float:
    return SCALES.get(column, {}).get(unit_of(text).casefold(), 1.0)
