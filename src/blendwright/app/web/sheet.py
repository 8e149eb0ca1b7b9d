"""A window's formula as it stands in the grid: cells of text, every step undoable.

Pure data: nothing here knows of a browser. `Sheet` is what the person sees, right or wrong;
`answers.read` makes a formula of it.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

from blendwright.formula import Formula, Row
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.formula.notices import Notice
from blendwright.formula.numbers import (
    Amount,
    Signs,
    Strength,
    number_in,
    parse_number,
    signs_shown,
    unit_of,
    unmistakable,
)
from blendwright.formula.row import COLUMNS
from blendwright.formula.writing import table_text, table_workbook

AMOUNTS = ("grams", "mL", "drops")
TO_WEIGHT = "q.s."
ONE_STEP_s = 1.5  # keystrokes in one cell within this time are undone together
MOST_STEPS = 200
LONGEST_CELL = 400


@dataclass(frozen=True)
class Line:
    """One row of the grid, its cells as typed; the names are those of a formula file's columns."""

    material: str = ""
    grams: str = ""
    mL: str = ""
    drops: str = ""
    strength_pct: str = ""
    carrier: str = ""
    role: str = ""
    cas: str = ""
    smiles: str = ""
    note: str = ""

    def cells(self) -> dict[str, str]:
        return {column: getattr(self, column).strip() for column in COLUMNS}

    @property
    def is_blank(self) -> bool:
        return not any(self.cells().values())

    @property
    def has_amount(self) -> bool:
        return any(getattr(self, column).strip() for column in AMOUNTS)

    def with_cell(self, column: str, text: str) -> Line:
        """Another text in one cell. One amount at a time: grams clear mL and drops, and so on."""
        cells = {column: text[:LONGEST_CELL]}
        if column in AMOUNTS and text.strip():
            cells = {**dict.fromkeys(AMOUNTS, ""), **cells}
        return replace(self, **cells)


@dataclass(frozen=True)
class Sheet:
    """A formula on the bench: its name, batch size, rows, and the conditions it is asked about.

    `notices` are what is to be told of reading the files and tables that it came from.
    """

    name: str = ""
    batch_g: str = ""
    lines: tuple[Line, ...] = ()
    bench_C: float = BENCH_C
    pressure_kPa: float = ATMOSPHERE_Pa / 1e3
    notices: tuple[Notice, ...] = ()

    @property
    def is_blank(self) -> bool:
        return all(line.is_blank for line in self.lines)

    @property
    def around(self) -> Signs:
        """The decimal signs that its numbers show."""
        columns = (*AMOUNTS, "strength_pct")
        return signs_shown(getattr(line, column) for line in self.lines for column in columns)

    @property
    def written(self) -> tuple[Line, ...]:
        """The rows up to the last one with anything in it."""
        last = max((n for n, line in enumerate(self.lines) if not line.is_blank), default=-1)
        return self.lines[: last + 1]

    def tidied(self) -> Sheet:
        """The sheet with exactly one empty row at its end."""
        return replace(self, lines=(*self.written, Line()))

    def with_cell(self, number: int, column: str, text: str) -> Sheet:
        lines = [*self.lines, *(Line() for _ in range(number + 1 - len(self.lines)))]
        lines[number] = lines[number].with_cell(column, text)
        return replace(self, lines=tuple(lines)).tidied()

    def without(self, number: int) -> Sheet:
        return replace(self, lines=self.lines[:number] + self.lines[number + 1 :]).tidied()

    def moved(self, start: int, end: int) -> Sheet:
        """A row taken from one place and put at another; a place outside is the nearest inside."""
        lines = list(self.lines)
        if not 0 <= start < len(lines):
            return self
        line = lines.pop(start)
        lines.insert(max(0, min(end, len(lines))), line)
        return replace(self, lines=tuple(lines)).tidied()

    def pasted(self, number: int, rows: Sequence[Mapping[str, str]]) -> Sheet:
        """Rows written over the grid from one row on."""
        lines = list(self.lines)
        for offset, cells in enumerate(rows):
            at = number + offset
            line = Line(**{c: text.strip()[:LONGEST_CELL] for c, text in cells.items()})
            lines[at : at + 1] = [line]
        return replace(self, lines=tuple(lines)).tidied()

    def made_up_with(self, number: int) -> Sheet:
        """One row fills the batch up to weight, and no other does."""
        lines = [
            line.with_cell("grams", "") if line.grams.strip() == TO_WEIGHT else line
            for line in self.lines
        ]
        lines[number] = lines[number].with_cell("grams", TO_WEIGHT)
        return replace(self, lines=tuple(lines)).tidied()

    def times(self, factor: float) -> Sheet:
        """Every amount multiplied, the batch too; what is no number stays as it is."""
        around = self.around

        def times(line: Line) -> Line:
            cells = {c: _times(getattr(line, c), factor, around) for c in AMOUNTS}
            return replace(line, **cells)

        lines = tuple(times(line) for line in self.lines)
        return replace(self, lines=lines, batch_g=_times(self.batch_g, factor, around)).tidied()

    def to_dict(self) -> dict[str, object]:
        """JSON data; empty cells are left out."""
        return {
            "name": self.name,
            "batch_g": self.batch_g,
            "lines": [
                {column: text for column, text in line.cells().items() if text}
                for line in self.written
            ],
            "bench_C": self.bench_C,
            "pressure_kPa": self.pressure_kPa,
            **({"notices": [n.to_dict() for n in self.notices]} if self.notices else {}),
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, object]) -> Sheet:
        """From JSON data. Raises ValueError, TypeError or KeyError for anything else."""
        lines, notices = data["lines"], data.get("notices", [])
        if not isinstance(lines, list) or not isinstance(notices, list):
            raise ValueError("the rows are no list")
        known = {f.name for f in fields(Line)}
        return cls(
            str(data["name"]),
            str(data["batch_g"]),
            tuple(Line(**{k: str(v) for k, v in line.items() if k in known}) for line in lines),
            float(str(data["bench_C"])),
            float(str(data["pressure_kPa"])),
            tuple(Notice.from_dict(notice) for notice in notices),
        ).tidied()

    @classmethod
    def from_formula(cls, formula: Formula, like: Sheet | None = None) -> Sheet:
        """A formula that was read from a file, at the conditions of the sheet before it."""
        like = like or cls()
        batch = "" if formula.batch_g is None else unmistakable(f"{formula.batch_g:.12g}")
        lines = tuple(_line_of(row) for row in formula.rows)
        conditions = like.bench_C, like.pressure_kPa
        return cls(formula.name, batch, lines, *conditions, formula.notices).tidied()


def _times(text: str, factor: float, around: Signs) -> str:
    number = parse_number(number_in(text), around)
    if number is None:
        return text
    return f"{unmistakable(f'{number * factor:.6g}')} {unit_of(text)}".strip()


def _line_of(row: Row) -> Line:
    column, text = _amount_cell(row.amount)
    cells = {
        "material": row.material,
        column: text,
        "strength_pct": _strength_text(row.strength),
        "carrier": row.carrier,
        "role": row.role,
        "cas": row.cas,
        "smiles": row.smiles,
        "note": row.note,
    }
    return Line(**cells)


def _amount_cell(amount: Amount) -> tuple[str, str]:
    if amount.unit == "to weight":
        return "grams", TO_WEIGHT
    column = {"g": "grams", "mL": "mL", "drops": "drops"}[amount.unit]
    return column, unmistakable(f"{amount.number:.12g}")


def _strength_text(strength: Strength | None) -> str:
    if strength is None:
        return ""
    basis = strength.basis if strength.basis == "vol" or strength.basis_stated else ""
    return f"{strength.percent:.12g} % {basis}".strip() if basis else f"{strength.percent:.12g}"


# Undo


@dataclass
class History:
    """The sheet as it stands, with what it was before and what was undone."""

    now: Sheet = field(default_factory=Sheet)
    _past: list[Sheet] = field(default_factory=list)
    _future: list[Sheet] = field(default_factory=list)
    _mark: str = ""
    _marked_at: float = 0.0

    def change(self, sheet: Sheet, mark: str = "", at_s: float | None = None) -> bool:
        """Take a new state. Changes of one mark in quick succession are undone together.

        Returns whether anything changed.
        """
        if sheet == self.now:
            return False
        at = time.monotonic() if at_s is None else at_s
        together = bool(mark) and mark == self._mark and at - self._marked_at < ONE_STEP_s
        if not together or not self._past:
            self._past = [*self._past, self.now][-MOST_STEPS:]
        self._future = []
        self._mark, self._marked_at = mark, at
        self.now = sheet
        return True

    def copied(self) -> History:
        """These steps for another window; neither sees the other's from here on."""
        return History(self.now, list(self._past), list(self._future))

    @property
    def can_undo(self) -> bool:
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        return bool(self._future)

    def undo(self) -> bool:
        if not self._past:
            return False
        self._future.append(self.now)
        self.now = self._past.pop()
        self._mark = ""
        return True

    def redo(self) -> bool:
        if not self._future:
            return False
        self._past.append(self.now)
        self.now = self._future.pop()
        self._mark = ""
        return True


def csv_text(sheet: Sheet) -> str:
    """The sheet as a formula file: a name, a batch, a header, the rows; unused columns left out."""
    return table_text(_table(sheet))


def workbook_bytes(sheet: Sheet) -> bytes:
    """The sheet as an XLSX workbook; every cell is text, so that nothing is run as a formula."""
    return table_workbook(_table(sheet))


def _table(sheet: Sheet) -> list[list[str]]:
    name = " ".join(sheet.name.split())
    lines = [[f"# name {name}"]] if name else []
    if sheet.batch_g.strip():
        lines.append([f"# batch {sheet.batch_g} g"])
    columns = used_columns(sheet.written)
    lines.append([*columns])
    rows = [line.cells() for line in sheet.written if not line.is_blank]
    return lines + [[row[column] for column in columns] for row in rows]


def used_columns(lines: Iterable[Line]) -> tuple[str, ...]:
    """material and grams, and what else any row fills in."""
    rows = [line.cells() for line in lines]
    return tuple(
        column
        for column in COLUMNS
        if column in ("material", "grams") or any(row[column] for row in rows)
    )
