"""A formula as the person wrote it, before anyone asks what the names mean.

Every change gives a new formula; the old one stays as it is. Names are compared as they are
written (case and blanks at the ends aside): which material they mean is asked later.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from blendwright.errors import FormulaError, Problem
from blendwright.formula.columns import Columns
from blendwright.formula.notices import Notice, UnusedColumn, without_twins
from blendwright.formula.numbers import Amount, cell_text, parse_batch_g
from blendwright.formula.row import COLUMNS, Row, written_alike
from blendwright.formula.table import formula_rows

if TYPE_CHECKING:
    from pandas import DataFrame


@dataclass(frozen=True, repr=False)
class Formula:
    """Rows, a name, and the batch size in grams where one was given.

    `source` is the file that it was read from, for messages; `notices` are what is to be told of
    reading it.
    """

    name: str
    rows: tuple[Row, ...]
    batch_g: float | None = None
    source: str = ""
    notices: tuple[Notice, ...] = ()

    @classmethod
    def from_rows(
        cls,
        rows: Iterable[Mapping[str, object]],
        name: str = "formula",
        batch_g: float | str | None = None,
    ) -> Formula:
        """Build a formula from mappings, keyed by the headings of a formula file.

        >>> Formula.from_rows([{"material": "ethyl butyrate", "grams": 1.6}]).rows[0].amount
        Amount(number=1.6, unit='g')
        >>> Formula.from_rows([{"Zutat": "PG", "Menge [mg]": 250, "lot": 7}]).unused_columns
        (UnusedColumn(name='lot', cells=1),)

        Parameters
        ----------
        rows : iterable of mappings
            One a row.
        name : str
        batch_g : float or str, optional
            What a q.s. row is made up to, g.

        Raises
        ------
        FormulaError
            With every problem found.
        TypeError
            For rows that are no mappings.
        """
        rows = list(rows) if not isinstance(rows, Mapping | str) and not _is_frame(rows) else rows
        if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
            raise TypeError(
                'from_rows takes mappings, one a row: {"material": "vanillin", "grams": 1}; '
                f"{_instead_of(rows)}"
            )
        cells = [{str(key).strip(): cell_text(value) for key, value in row.items()} for row in rows]
        headings = list(dict.fromkeys(key for row in cells for key in row))
        columns = Columns.of(headings)
        problems = columns.twice_problems(None)
        size = None if batch_g is None else parse_batch_g(cell_text(batch_g), problems)
        records = [
            columns.record(number, [row.get(heading, "") for heading in headings])
            for number, row in enumerate(cells, start=1)
        ]
        read = formula_rows(records, columns, size, problems)
        if not read.rows and not problems:
            problems.append(Problem("the formula has no rows"))
        if problems:
            raise FormulaError(name, problems)
        return cls(name, read.rows, read.batch_g, notices=read.notices)

    @classmethod
    def from_frame(
        cls, frame: DataFrame, name: str = "formula", batch_g: float | str | None = None
    ) -> Formula:
        """Build a formula from a pandas DataFrame, a row each; missing values are empty cells.

        Parameters
        ----------
        frame : DataFrame
            Its columns are the headings of a formula file; an index with the name "material" counts
            as that column.
        name : str
        batch_g : float or str, optional
            What a q.s. row is made up to, g.

        Raises
        ------
        FormulaError
            With every problem found.
        TypeError
            For anything but a DataFrame.
        """
        if not _is_frame(frame):
            raise TypeError(
                f"from_frame takes a pandas DataFrame, not {_kind_of(frame)}; {_instead_of(frame)}"
            )
        table = frame.reset_index() if frame.index.name == "material" else frame
        missing = table.isna()
        rows = [
            {str(column): "" if empty[column] else cell for column, cell in row.items()}
            for row, empty in zip(table.to_dict("records"), missing.to_dict("records"), strict=True)
        ]
        return cls.from_rows(rows, name, batch_g)

    @classmethod
    def of(
        cls,
        amounts: Mapping[str, float | str],
        name: str = "formula",
        batch_g: float | str | None = None,
    ) -> Formula:
        """Build a formula from names and grams.

        >>> Formula.of({"ethyl butyrate": 3, "PG": "q.s."}, "pear", batch_g=20).total_g
        20.0

        Parameters
        ----------
        amounts : mapping
            Material to grams; "q.s." makes a row up to the batch.
        name : str
        batch_g : float or str, optional
            What a q.s. row is made up to, g.

        Raises
        ------
        FormulaError
            With every problem found.
        TypeError
            For anything but a mapping.
        """
        if not isinstance(amounts, Mapping):
            raise TypeError(
                f'Formula.of takes names and grams, {{"vanillin": 1}}, not {_kind_of(amounts)}; '
                f"{_instead_of(amounts)}"
            )
        rows = [{"material": material, "grams": grams} for material, grams in amounts.items()]
        return cls.from_rows(rows, name, batch_g)

    def __repr__(self) -> str:
        count = len(self.rows)
        batch = "" if self.batch_g is None else f", batch {self.batch_g:g} g"
        return f"<Formula {self.name!r}: {count} {'row' if count == 1 else 'rows'}{batch}>"

    @property
    def unused_columns(self) -> tuple[UnusedColumn, ...]:
        """The columns of its table that hold values and are not used in any answer."""
        return tuple(column for notice in self.notices for column in notice.columns)

    @property
    def total_g(self) -> float:
        """The mass of the whole. Raises FormulaError while a row is in mL or drops, or q.s. without
        a batch size: those grams are known only once weighed (`assess(...).weighing.total_g`)."""
        return sum(row.amount.number for row in self.made_up().rows)

    def with_batch_g(self, batch_g: float) -> Formula:
        """This formula made up to another batch size: a q.s. row takes the difference."""
        return replace(self, batch_g=batch_g)

    def named(self, name: str) -> Formula:
        """This formula under another name."""
        return replace(self, name=name)

    def with_row(self, material: str, grams: float | str, **cells: object) -> Formula:
        """One row more at the end; `cells` are further columns of a formula file.

        >>> Formula.of({"vanillin": 1}).with_row("linalool", 0.5, strength_pct=10).rows[1].strength
        Strength(percent=10.0, basis='mass', basis_stated=False)

        Raises FormulaError for an unknown column or a cell that can't be read.
        """
        unknown = [name for name in cells if name not in COLUMNS]
        if unknown:
            message = f"no column {unknown[0]!r}; there are {', '.join(COLUMNS)}"
            raise FormulaError(self.name, [Problem(message)])
        made = Formula.from_rows([{"material": material, "grams": grams, **cells}], self.name)
        row = replace(made.rows[0], line=len(self.rows) + 1)
        return replace(self, rows=(*self.rows, row))

    def with_grams(self, material: str, grams: float | str) -> Formula:
        """Another amount for one row. Raises FormulaError unless exactly one row has that name."""
        wanted = self._named_rows(material)
        if len(wanted) > 1:
            raise FormulaError(self.name, [Problem(f"{len(wanted)} rows are named {material!r}")])
        amount = Formula.from_rows([{"material": material, "grams": grams}], self.name)
        rows = [
            replace(row, amount=amount.rows[0].amount) if row is wanted[0] else row
            for row in self.rows
        ]
        return replace(self, rows=tuple(rows))

    def without(self, *materials: str) -> Formula:
        """The formula without the rows of these names; a q.s. row takes up the difference.

        Raises FormulaError where no row has that name, or none would be left.
        """
        out = {id(row) for material in materials for row in self._named_rows(material)}
        rows = tuple(row for row in self.rows if id(row) not in out)
        if not rows:
            raise FormulaError(self.name, [Problem("no row would be left")])
        return replace(self, rows=rows)

    def scaled(self, factor: float) -> Formula:
        """Every amount and the batch size times `factor`, which is above 0.

        >>> Formula.of({"vanillin": 1, "PG": 9}).scaled(2).total_g
        20.0
        """
        if not (math.isfinite(factor) and factor > 0.0):
            raise FormulaError(self.name, [Problem(f"can't be scaled by {factor:g}")])
        rows = tuple(_times(row, factor) for row in self.rows)
        return replace(self, rows=rows, batch_g=self.batch_g and self.batch_g * factor)

    def to_grams(self, total_g: float) -> Formula:
        """Scaled so that the whole weighs `total_g`. Raises FormulaError as `total_g` does."""
        return self.scaled(total_g / self.total_g)

    def drops_as_mL(self, drop_mL: float) -> Formula:
        """This formula with its rows in drops as millilitres, at `drop_mL` for one drop.

        >>> eugenol = Formula.from_rows([{"material": "eugenol", "drops": 3}])
        >>> eugenol.drops_as_mL(0.04).rows[0].amount
        Amount(number=0.12, unit='mL')
        """
        rows = [
            replace(row, amount=Amount(row.amount.number * drop_mL, "mL"))
            if row.amount.unit == "drops"
            else row
            for row in self.rows
        ]
        return replace(self, rows=tuple(rows))

    def made_up(self) -> Formula:
        """This formula with the q.s. row as grams. Raises FormulaError as `total_g` does."""
        unweighed = [row for row in self.rows if row.amount.unit in ("mL", "drops")]
        fillers = [row for row in self.rows if row.amount.unit == "to weight"]
        others_g = sum(row.amount.number for row in self.rows)
        problems = [
            Problem(f"{row.material} is in {row.amount.unit}; give grams", row.line)
            for row in unweighed
        ]
        if len(fillers) > 1:
            problems.append(Problem("only one row can be made up to weight"))
        elif fillers and self.batch_g is None:
            problems.append(Problem("q.s. needs a batch size: with_batch_g(50)", fillers[0].line))
        elif fillers and self.batch_g is not None and others_g > self.batch_g:
            problems.append(
                Problem(f"the other rows weigh {others_g:.4g} g, more than {self.batch_g:g} g")
            )
        if not problems and not others_g > 0.0 and not fillers:
            problems.append(Problem("the rows add up to nothing"))
        if problems:
            raise FormulaError(self.name, problems)
        if not fillers or self.batch_g is None:
            return self
        filled = replace(fillers[0], amount=Amount(self.batch_g - others_g, "g"))
        rows = tuple(filled if row is fillers[0] else row for row in self.rows)
        return replace(self, rows=rows, batch_g=None)

    def blended_with(
        self,
        other: Formula,
        *,
        grams: float | None = None,
        other_grams: float | None = None,
        name: str | None = None,
    ) -> Formula:
        """So many grams of this with so many of another (all of each unless told).

        q.s. rows become grams, rows of the same thing are added up.

        >>> pear = Formula.of({"ethyl butyrate": 1, "PG": 9}, "pear")
        >>> spice = Formula.of({"eugenol": 1, "PG": 1}, "spice")
        >>> pear.blended_with(spice, grams=5, other_grams=1).rows[1].amount
        Amount(number=5.0, unit='g')
        """
        parts = [
            formula.made_up() if total is None else formula.made_up().to_grams(total)
            for formula, total in ((self, grams), (other, other_grams))
        ]
        kept: dict[tuple[object, ...], Row] = {}
        for row in (*parts[0].rows, *parts[1].rows):
            twin = kept.get(row.identity)
            more = 0.0 if twin is None else twin.amount.number
            kept[row.identity] = replace(
                twin or row, amount=Amount(row.amount.number + more, row.amount.unit)
            )
        rows = tuple(replace(row, line=line) for line, row in enumerate(kept.values(), start=1))
        notices = without_twins((*self.notices, *other.notices))
        return Formula(name or f"{self.name} + {other.name}", rows, notices=notices)

    def to_rows(self) -> list[dict[str, str | float]]:
        """The rows as mappings that `from_rows` reads back alike; empty columns are left out.

        >>> Formula.from_rows([{"material": "vanillin", "grams": "250 mg"}]).to_rows()
        [{'material': 'vanillin', 'grams': 0.25}]
        """
        return [_as_mapping(row) for row in self.rows]

    def _named_rows(self, material: str) -> list[Row]:
        found = [row for row in self.rows if written_alike(row.material) == written_alike(material)]
        if found:
            return found
        near = get_close_matches(material, [row.material for row in self.rows], n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise FormulaError(self.name, [Problem(f"no row is named {material!r}{hint}")])


def check_is_formula(given: object) -> None:
    """Raises TypeError for anything that is no Formula, with how to make one of it."""
    if not isinstance(given, Formula):
        raise TypeError(f"a Formula is needed, not {_kind_of(given)}; {_instead_of(given)}")


def _kind_of(given: object) -> str:
    return f"a {type(given).__name__}"


def _is_frame(given: object) -> bool:
    """Whether it is a pandas DataFrame, without importing pandas."""
    return _comes_from_pandas(given) and type(given).__name__ == "DataFrame"


def _comes_from_pandas(given: object) -> bool:
    return type(given).__module__.partition(".")[0] == "pandas"


def _instead_of(given: object) -> str:
    """What to call with what was given."""
    if _is_frame(given):
        return "Formula.from_frame(frame) reads a DataFrame"
    if _comes_from_pandas(given):
        return "Formula.of(series.to_dict()) reads a Series of grams by name"
    if isinstance(given, Mapping):
        return "Formula.of(mapping) reads names and grams"
    if isinstance(given, str | bytes) or hasattr(given, "read") or hasattr(given, "__fspath__"):
        return "read_formula(path, stream or bytes) reads a file"
    return "Formula.from_rows(rows) reads mappings, one a row"


def _times(row: Row, factor: float) -> Row:
    return replace(row, amount=replace(row.amount, number=row.amount.number * factor))


def _as_mapping(row: Row) -> dict[str, str | float]:
    amount = row.amount
    unit = "grams" if amount.unit in ("g", "to weight") else amount.unit
    number: str | float = "q.s." if amount.unit == "to weight" else amount.number
    cells: dict[str, str | float] = {"material": row.material, unit: number}
    if row.strength is not None:
        cells["strength_pct"] = row.strength.written()
    texts = ("carrier", "role", "cas", "smiles", "note")
    cells.update({name: getattr(row, name) for name in texts if getattr(row, name)})
    return cells
