"""A formula as the person wrote it, before anyone asks what the names mean."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from blendwright.errors import FormulaError, Problem
from blendwright.formula.numbers import (
    Amount,
    Strength,
    parse_amount,
    parse_batch_g,
    parse_strength,
)

COLUMNS = (
    "material",
    "grams",
    "mL",
    "drops",
    "strength_pct",
    "carrier",
    "role",
    "cas",
    "smiles",
    "note",
)


@dataclass(frozen=True)
class Row:
    """One line of a formula. `line` is where it stood in the file, 1 being the first line."""

    material: str
    amount: Amount
    strength: Strength | None = None
    carrier: str = ""
    role: str = ""
    cas: str = ""
    smiles: str = ""
    note: str = ""
    line: int | None = None


@dataclass(frozen=True)
class Formula:
    """Rows, a name, and the batch size in grams where one was given.

    `source` is the file that it was read from, for messages.
    """

    name: str
    rows: tuple[Row, ...]
    batch_g: float | None = None
    source: str = ""

    @classmethod
    def from_rows(
        cls,
        rows: Iterable[Mapping[str, object]],
        name: str = "formula",
        batch_g: float | str | None = None,
    ) -> Formula:
        """Build a formula from mappings with the columns of a formula file.

        >>> Formula.from_rows([{"material": "ethyl butyrate", "grams": 1.6}]).rows[0].amount
        Amount(number=1.6, unit='g')

        Raises FormulaError with every problem found.
        """
        problems: list[Problem] = []
        parsed: list[Row] = []
        for number, row in enumerate(rows, start=1):
            texts = {
                str(key).strip(): "" if value is None else str(value).strip()
                for key, value in row.items()
            }
            made = parse_row(texts, number, problems)
            if made is not None:
                parsed.append(made)
        size = None
        if batch_g is not None:
            size = parse_batch_g(str(batch_g), problems)
        if not parsed and not problems:
            problems.append(Problem("the formula has no rows"))
        if problems:
            raise FormulaError(name, problems)
        return cls(name, tuple(parsed), size)

    def with_batch_g(self, batch_g: float) -> Formula:
        """The same formula made up to another batch size."""
        return replace(self, batch_g=batch_g)

    def to_rows(self) -> list[dict[str, str | float]]:
        """The rows as mappings that `from_rows` reads back alike; empty columns are left out.

        >>> Formula.from_rows([{"material": "vanillin", "grams": "250 mg"}]).to_rows()
        [{'material': 'vanillin', 'grams': 0.25}]
        """
        return [_as_mapping(row) for row in self.rows]


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


def parse_row(texts: Mapping[str, str], line: int, problems: list[Problem]) -> Row | None:
    """One row from its cells; problems are added to the list and None returned."""
    before = len(problems)
    material = texts.get("material", "") or texts.get("cas", "") or texts.get("smiles", "")
    if not material:
        problems.append(Problem("no material is named", line, "material"))
    given = {unit: texts.get(unit, "") for unit in ("grams", "mL", "drops")}
    filled = [unit for unit, text in given.items() if text]
    amount = None
    if not filled:
        problems.append(Problem(f"no amount for {material or 'this row'}", line, "grams"))
    elif len(filled) > 1:
        problems.append(
            Problem(f"both {' and '.join(filled)} are filled in; keep one", line, filled[-1])
        )
    else:
        amount = parse_amount(given[filled[0]], filled[0], line, problems)
    strength = parse_strength(texts.get("strength_pct", ""), line, problems)
    if amount is None or len(problems) > before:
        return None
    return Row(
        material=material,
        amount=amount,
        strength=strength,
        carrier=texts.get("carrier", ""),
        role=texts.get("role", ""),
        cas=texts.get("cas", ""),
        smiles=texts.get("smiles", ""),
        note=texts.get("note", ""),
        line=line,
    )
