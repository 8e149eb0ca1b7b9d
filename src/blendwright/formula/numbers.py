"""Reading the numbers that people write: "1,5 g", "250 mg", "q.s.", "96 % vol"."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from blendwright.errors import Problem

AmountUnit = Literal["g", "mL", "drops", "to weight"]
Basis = Literal["mass", "vol"]

_TO_WEIGHT = re.compile(
    r"^(q\.?\s*s\.?(\s*ad)?|to\s+weight|quantum\s+(satis|sufficit)|make\s*-?up)$", re.IGNORECASE
)
_NUMBER = re.compile(
    r"^([+-]?[\d.,'\s\u00a0\u202f]*\d[\d.,]*(?:[eE][+-]?\d+)?|[+-]?\d+(?:[.,]\d+)?)\s*([a-zA-Zµμ%]*)\.?$"
)
_GRAMS_PER = {
    "": 1.0,
    "g": 1.0,
    "gr": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "mg": 1e-3,
    "kg": 1e3,
    "µg": 1e-6,
    "μg": 1e-6,
}
_ML_PER = {"": 1.0, "ml": 1.0, "l": 1e3, "cl": 10.0, "µl": 1e-3, "μl": 1e-3}
_DROPS_PER = {"": 1.0, "drop": 1.0, "drops": 1.0}
LARGEST_g = 1e9
_UNIT_OF_COLUMN: dict[str, AmountUnit] = {"grams": "g", "mL": "mL", "drops": "drops"}


@dataclass(frozen=True)
class Amount:
    """How much: grams, millilitres, drops, or "to weight" (the row fills up the batch)."""

    number: float
    unit: AmountUnit


@dataclass(frozen=True)
class Strength:
    """Per cent of the active material, by mass, or by volume for aqueous ethanol."""

    percent: float
    basis: Basis
    basis_stated: bool = False

    def written(self) -> str | float:
        """As a formula file holds it: 10.0, or "96.0 % vol" where the basis was stated."""
        stated = self.basis_stated or self.basis == "vol"
        return f"{self.percent!r} % {self.basis}" if stated else self.percent


def parse_number(text: str) -> float | None:
    """A decimal number with point or comma; None if it isn't one.

    A lone comma or point is the decimal sign; with both, the last one is; blanks and apostrophes
    group thousands.

    >>> parse_number("1,5"), parse_number("1'250.5"), parse_number("1.250,5"), parse_number("x")
    (1.5, 1250.5, 1250.5, None)
    """
    text = re.sub(r"[\s\u00a0\u202f']", "", text)
    comma, point = text.rfind(","), text.rfind(".")
    if comma >= 0 and point >= 0:
        group = "," if point > comma else "."
        text = text.replace(group, "")
    text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def parse_amount(text: str, column: str, line: int, problems: list[Problem]) -> Amount | None:
    """An amount in a column ("grams", "mL" or "drops"), with or without a unit after it."""
    text = text.strip()
    if column == "grams" and _TO_WEIGHT.match(text):
        return Amount(0.0, "to weight")
    match = _NUMBER.match(text)
    value = parse_number(match.group(1)) if match else None
    if match is None or value is None:
        hint = ", or q.s. to make the batch up to weight" if column == "grams" else ""
        problems.append(Problem(f"{text!r} is not a number; write it like 1.5{hint}", line, column))
        return None
    scales = {"grams": _GRAMS_PER, "mL": _ML_PER, "drops": _DROPS_PER}[column]
    unit = match.group(2).casefold()
    if unit not in scales:
        problems.append(
            Problem(f"{match.group(2)!r} is not a unit of {column} that is known", line, column)
        )
        return None
    value *= scales[unit]
    if value < 0.0:
        problems.append(Problem(f"{text!r} is negative", line, column))
        return None
    if value > LARGEST_g:
        problems.append(Problem(f"{text!r} is more than any batch", line, column))
        return None
    return Amount(value, _UNIT_OF_COLUMN[column])


def parse_strength(text: str, line: int, problems: list[Problem]) -> Strength | None:
    """ "10", "10 %", "96 % vol", "92 % mass", "96 % ABV"; None for an empty cell."""
    text = text.strip()
    if not text:
        return None
    match = re.match(
        r"^([+-]?[\d.,]+)\s*%?\s*\(?\s*(vol|v/v|abv|by volume|mass|w/w|m/m|by mass|by weight)?"
        r"\.?\s*%?\)?$",
        text,
        re.IGNORECASE,
    )
    value = parse_number(match.group(1)) if match else None
    if match is None or value is None:
        problems.append(
            Problem(
                f"{text!r} is not a strength; write 10, 96 % vol or 92 % mass", line, "strength_pct"
            )
        )
        return None
    if value > 100.0:
        problems.append(Problem(f"a strength of {text} is over 100 %", line, "strength_pct"))
        return None
    if value <= 0.0:
        problems.append(Problem(f"a strength of {text} leaves nothing", line, "strength_pct"))
        return None
    basis = (match.group(2) or "mass").casefold()
    by_volume = basis in ("vol", "v/v", "abv", "by volume")
    return Strength(value, "vol" if by_volume else "mass", match.group(2) is not None)


def parse_batch_g(text: str, problems: list[Problem], line: int | None = None) -> float | None:
    """A batch size: "50", "50 g", "1.2 kg"."""
    found: list[Problem] = []
    amount = parse_amount(text, "grams", line or 0, found)
    if amount is None or amount.unit != "g" or amount.number <= 0.0:
        problems.append(Problem(f"{text!r} is not a batch size; write it like 50 g", line))
        return None
    return amount.number
