"""Each distinct row of a run, resolved once: material, strength, carrier, and grams of its unit.

A million formulas are written with a few hundred materials. The names are looked up, dilutions
opened and densities taken when a row is first seen; after that a formula is grams and places.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula, Row
from blendwright.formula.numbers import Amount
from blendwright.mixture.weighing import WeighedRow, Weighing, made_up, open_row

MOST_KEPT = 20_000  # distinct rows; then the row cache is cleared, so that memory stays flat

_Key = tuple[object, ...]


@dataclass(frozen=True)
class Opened:
    """A row of amount 1, resolved, or its problems; `from_name` where its name told a dilution."""

    row: WeighedRow | None
    problems: tuple[Problem, ...]
    label: str = ""
    from_name: bool = False


@dataclass(frozen=True)
class Refused:
    """A formula that can't be weighed: the kind of its first problem, and all of them in words."""

    kind: str
    message: str


class RowCache:
    """The opened rows of one catalogue and one size of drop."""

    def __init__(self, catalogue: Catalogue, drop_mL: float) -> None:
        self.catalogue = catalogue
        self.drop_mL = drop_mL
        self._opened: dict[_Key, Opened] = {}

    def opened(self, row: Row) -> Opened:
        """The row with an amount of 1 in its unit, whatever its own amount."""
        key = (
            row.material, row.amount.unit, row.strength, row.carrier, row.role, row.cas, row.smiles
        )  # fmt: skip
        found = self._opened.get(key)
        if found is None:
            if len(self._opened) >= MOST_KEPT:
                self._opened.clear()
            found = self._opened[key] = self._open(row)
        return found

    def _open(self, row: Row) -> Opened:
        problems: list[Problem] = []
        one = replace(row, amount=Amount(1.0, row.amount.unit), note="", line=None)
        made = open_row(one, self.catalogue, self.drop_mL, problems)
        if made is None:
            return Opened(None, tuple(problems))
        return Opened(made, (), made.label, made.strength is not None and row.strength is None)

    def weigh(self, formula: Formula) -> Weighing:
        """As `weighing.weigh`, from the row cache. Raises FormulaError with every problem."""
        problems: list[Problem] = []
        opened: list[tuple[Row, WeighedRow | None]] = []
        for row in formula.rows:
            found = self.opened(row)
            problems += [replace(problem, row=row.line) for problem in found.problems]
            opened.append((row, found.row and _weighed_row(found.row, row)))
        return made_up(formula, opened, problems)


def _weighed_row(one: WeighedRow, row: Row) -> WeighedRow:
    return replace(
        one,
        grams=row.amount.number * one.grams,
        note=row.note,
        lines=() if row.line is None else (row.line,),
    )


def refused(error: FormulaError) -> Refused:
    """The kind is the column of the first problem, "formula" where it is of the whole."""
    first = error.problems[0]
    return Refused(first.column or "formula", "; ".join(str(p) for p in error.problems))
