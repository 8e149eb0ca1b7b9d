"""One row of a formula: a material, its amount, and what else is written beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from blendwright.errors import Problem
from blendwright.formula.numbers import (
    NO_SIGNS,
    Amount,
    Signs,
    Strength,
    parse_amount,
    parse_dilution,
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
EMPTY = ("-", "–", "—")  # a cell that says that there is nothing


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

    @property
    def identity(self) -> tuple[object, ...]:
        """What makes two rows the same purchasable thing: name, strength, carrier, CAS, SMILES."""
        named = (written_alike(self.material), self.strength, written_alike(self.carrier))
        return (*named, self.cas, self.smiles, self.amount.unit)


def written_alike(name: str) -> str:
    """The form that written names are compared in: case and blanks at the ends don't matter."""
    return name.strip().casefold()


def parse_row(
    texts: Mapping[str, str],
    line: int,
    problems: list[Problem],
    around: Signs = NO_SIGNS,
    amount: Amount | None = None,
) -> Row | None:
    """One row from its cells; problems are added to the list and None returned.

    `around` are the decimal signs of the other rows' numbers; an `amount` that is known already
    stands instead of the cells.
    """
    before = len(problems)
    material = texts.get("material", "") or texts.get("cas", "") or texts.get("smiles", "")
    if not material:
        problems.append(Problem("no material is named", line, "material"))
    if amount is None:
        amount = _amount(texts, material, line, problems, around)
    strength, within = parse_dilution(texts.get("strength_pct", ""), line, problems)
    carrier = texts.get("carrier", "")
    carrier = "" if carrier in EMPTY else carrier
    if within and carrier and written_alike(within) != written_alike(carrier):
        problems.append(Problem(f"two carriers: {within} and {carrier}; keep one", line, "carrier"))
    if amount is None or len(problems) > before:
        return None
    return Row(
        material=material,
        amount=amount,
        strength=strength,
        carrier=carrier or within,
        role=texts.get("role", ""),
        cas=texts.get("cas", ""),
        smiles=texts.get("smiles", ""),
        note=texts.get("note", ""),
        line=line,
    )


def _amount(
    texts: Mapping[str, str], material: str, line: int, problems: list[Problem], around: Signs
) -> Amount | None:
    """What a row's cells say of its amount, in the one column that is filled in."""
    given = {unit: texts.get(unit, "") for unit in ("grams", "mL", "drops")}
    filled = [unit for unit, text in given.items() if text]
    if not filled:
        problems.append(Problem(f"no amount for {material or 'this row'}", line, "grams"))
        return None
    if len(filled) > 1:
        problems.append(
            Problem(f"both {' and '.join(filled)} are filled in; keep one", line, filled[-1])
        )
        return None
    return parse_amount(given[filled[0]], filled[0], line, problems, around)
