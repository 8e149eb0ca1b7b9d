"""Reading the numbers that people write: "1,5 g", "250 mg", "q.s.", "96 % vol".

A decimal sign is a point or a comma; blanks, apostrophes, points or commas group thousands. A lone
comma before exactly three digits ("1,250") can mean 1.25 or 1250, and so can a lone point where
commas are decimal signs. Such a number has two readings, and nothing here chooses between them
unless the other numbers of its table show which sign is the decimal sign.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from blendwright.errors import Problem

AmountUnit = Literal["g", "mL", "drops", "to weight"]
Basis = Literal["mass", "vol"]
Signs = frozenset[str]  # the decimal signs that numbers show: ".", ",", both or none

NO_SIGNS: Signs = frozenset()
POINTS: Signs = frozenset(".")
COMMAS: Signs = frozenset(",")
OUNCE_g = 28.349523125  # international avoirdupois ounce, 1959; 16 of them are a pound
LARGEST_g = 1e9

_TO_WEIGHT = re.compile(
    r"q\.?\s*s\.?(\s*(p\.?|ad))?|to\s+weight|quantum\s+(satis|sufficit)|make\s*-?up|ad"
    r"|auff[uü]llen|quantit[eé]\s+suffisante(\s+pour)?",
    re.IGNORECASE,
)
_NOT_DILUTED = re.compile(r"neat|pure|undiluted|rein|pur|unverd[uü]nnt|non\s+dilu[eé]|[-–—]")
_BLANKS = " \u00a0\u2009\u202f'’"  # and apostrophes, between groups of three digits
_PLAIN = re.compile(
    r"(?P<sign>[+-]?)(?P<whole>\d*)(?:(?P<mark>[.,])(?P<part>\d*))?(?P<exponent>(?:[eE][+-]?\d+)?)"
)
_BY_BLANKS = re.compile(
    rf"(?P<sign>[+-]?)(?P<whole>\d{{1,3}}(?:[{_BLANKS}]\d{{3}})+)(?:(?P<mark>[.,])(?P<part>\d*))?"
)
_BY_SIGNS = re.compile(
    r"(?P<sign>[+-]?)(?P<whole>\d{1,3}(?P<by>[.,])\d{3}(?:(?P=by)\d{3})*)"
    r"(?:(?P<mark>(?!(?P=by))[.,])(?P<part>\d*))?"
)
_WITH_UNIT = re.compile(rf"([+−-]?[\d.,{_BLANKS}]*\d[.,]?(?:[eE][+-]?\d+)?)\s*([^\d\s.,].*?)?\.?")
_STRENGTH = re.compile(
    r"(?P<number>[^\s%a-z]+)\s*%?\s*\(?\s*"
    r"(?P<basis>by\s+volume|by\s+mass|by\s+weight|vol|v/v|abv|mass|gew|ma|w/w|m/m)?"
    r"\.?\s*-?\s*%?\s*\)?(?:\s+(?:in|dans)\s+(?P<carrier>\S.*))?",
    re.IGNORECASE,
)
_GRAMS_PER = {
    **dict.fromkeys(("", "g", "gr", "gram", "grams", "gramm", "gramme", "grammes"), 1.0),
    "mg": 1e-3,
    "kg": 1e3,
    **dict.fromkeys(("µg", "μg", "ug"), 1e-6),
    "oz": OUNCE_g,
    **dict.fromkeys(("lb", "lbs"), 16.0 * OUNCE_g),
}
_ML_PER = {
    **dict.fromkeys(("", "ml"), 1.0),
    "l": 1e3,
    "dl": 100.0,
    "cl": 10.0,
    **dict.fromkeys(("µl", "μl", "ul"), 1e-3),
}
_DROPS_PER = dict.fromkeys(("", "drop", "drops", "gtt", "tropfen", "goutte", "gouttes"), 1.0)
SCALES = {"grams": _GRAMS_PER, "mL": _ML_PER, "drops": _DROPS_PER}
_UNIT_OF_COLUMN: dict[str, AmountUnit] = {"grams": "g", "mL": "mL", "drops": "drops"}
_SHARE_UNITS = {"percent": ("", "%"), "parts": ("", "parts", "part", "teile", "parties")}


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


# Numbers


@dataclass(frozen=True)
class _Digits:
    """A number taken apart: sign, digits before and after the decimal sign (`mark`), exponent;
    `by` is the sign that groups thousands."""

    sign: str
    whole: str
    mark: str
    part: str
    exponent: str = ""
    by: str = ""

    @classmethod
    def of(cls, text: str) -> _Digits | None:
        """None for what is no number."""
        text = text.strip().replace("−", "-")
        for pattern in (_PLAIN, _BY_BLANKS, _BY_SIGNS):
            match = pattern.fullmatch(text)
            if match is not None and any(c.isdigit() for c in text):
                found = {name: cell or "" for name, cell in match.groupdict().items()}
                by = " " if pattern is _BY_BLANKS else ""
                return cls(**{"by": by, **found, "whole": re.sub(r"\D", "", found["whole"])})
        return None

    @property
    def may_group(self) -> bool:
        """Whether its only sign could group thousands: in 1,250, but not in 0,250 or 12,5."""
        three = len(self.part) == 3 and 1 <= len(self.whole) <= 3
        return three and not (self.by or self.exponent or self.whole.startswith("0"))

    @property
    def shows(self) -> Signs:
        """The decimal sign beyond doubt."""
        if self.by in (".", ","):
            return POINTS if self.by == "," else COMMAS
        return frozenset(self.mark) if self.part and not self.may_group else NO_SIGNS

    def value(self, whole: str, part: str) -> float:
        return float(f"{self.sign}{whole or '0'}.{part or '0'}{self.exponent}")


def readings(text: str, around: Signs = NO_SIGNS) -> tuple[float, ...]:
    """Every value that a number as written can mean: none, one, or two (the decimal one first).

    `around` are the decimal signs that the other numbers of its table show: a lone point before
    three digits is the decimal sign unless they have commas; a lone comma is one only where they
    have commas and no points.

    >>> readings("1,5"), readings("1'250.5"), readings("1.250,5"), readings("x")
    ((1.5,), (1250.5,), (1250.5,), ())
    >>> readings("1,250"), readings("1,250", COMMAS), readings("1.250", COMMAS)
    ((1.25, 1250.0), (1.25,), (1.25, 1250.0))
    """
    digits = _Digits.of(text)
    if digits is None:
        return ()
    found = [digits.value(digits.whole, digits.part)]
    settled = around == COMMAS if digits.mark == "," else "," not in around
    if digits.may_group and not settled:
        found.append(digits.value(digits.whole + digits.part, ""))
    return tuple(value for value in found if math.isfinite(value))


def signs_shown(texts: Iterable[str]) -> Signs:
    """The decimal signs that numbers show beyond doubt, with or without units after them.

    >>> sorted(signs_shown(["0,5 g", "1,250", "q.s."])), sorted(signs_shown(["1.250,5", "2.5"]))
    ([','], [',', '.'])
    """
    found = NO_SIGNS
    for text in texts:
        match = _WITH_UNIT.fullmatch(text.strip())
        digits = _Digits.of(match.group(1)) if match else None
        found |= digits.shows if digits else NO_SIGNS
    return found


def parse_number(text: str, around: Signs = NO_SIGNS) -> float | None:
    """A decimal number with point or comma; None if it isn't one, or can be two.

    >>> parse_number("1,5"), parse_number("1 250.5"), parse_number("1,250"), parse_number("x")
    (1.5, 1250.5, None, None)
    """
    found = readings(text, around)
    return found[0] if len(found) == 1 else None


def number_between(text: str, low: float, high: float) -> float | None:
    """The only reading that lies in a range; None where there is none, or two.

    >>> number_between("101,325", 10, 120), number_between("1,250", 0, 5000)
    (101.325, None)
    """
    found = [value for value in readings(text) if low <= value <= high]
    return found[0] if len(found) == 1 else None


def choices(text: str, around: Signs = NO_SIGNS) -> tuple[str, ...]:
    """How to write a number that can be two, with its unit; empty where it is one or none.

    >>> choices("1,250 g")
    ('1.25 g', '1250 g')
    """
    match = _WITH_UNIT.fullmatch(text.strip())
    found = readings(match.group(1), around) if match else ()
    if match is None or len(found) < 2:
        return ()
    unit = f" {match.group(2)}" if match.group(2) else ""
    return tuple(f"{number_text(value)}{unit}" for value in found)


def why_no_number(text: str, around: Signs = NO_SIGNS, like: str = "1.5") -> str:
    """What is wrong with a text that should be a number, and what to write."""
    two = choices(text, around)
    if two:
        return f"{text!r} can be {two[0]} or {two[1]}; write one of them"
    return f"{text!r} is not a number; write it like {like}"


def number_text(value: float) -> str:
    """A number that reads back as itself beside numbers of any decimal sign: never with exactly
    three decimals.

    >>> number_text(1.5), number_text(1.125), number_text(2.0)
    ('1.5', '1.1250', '2')
    """
    short = f"{value:.15g}"
    return unmistakable(short if float(short) == value else repr(float(value)))


def cell_text(value: object) -> str:
    """A cell's value as a person would write it: a number as `number_text`, nothing as empty."""
    if value is None:
        return ""
    return number_text(value) if isinstance(value, float) else str(value).strip()


def unmistakable(text: str) -> str:
    """A number with a decimal point, a nought added where it has exactly three decimals."""
    return f"{text}0" if re.fullmatch(r"[+-]?\d{1,3}\.\d{3}", text) else text


# Amounts and strengths


def is_to_weight(text: str) -> bool:
    """Whether a cell says that its row fills up the batch: q.s., qsp, ad, to weight."""
    return _TO_WEIGHT.fullmatch(text.strip()) is not None


def with_unit(text: str, unit: str) -> str:
    """A cell with the unit of its column's heading, where it names none itself.

    >>> with_unit("250", "mg"), with_unit("1 g", "mg"), with_unit("q.s.", "mg")
    ('250 mg', '1 g', 'q.s.')
    """
    match = _WITH_UNIT.fullmatch(text.strip())
    return text if match is None or match.group(2) else f"{text.strip()} {unit}"


def unit_of(text: str) -> str:
    """The unit written after a cell's number, empty for none."""
    match = _WITH_UNIT.fullmatch(text.strip())
    return (match.group(2) or "") if match else ""


def number_in(text: str) -> str:
    """A cell's number without the unit after it; the text as it is where there is none."""
    match = _WITH_UNIT.fullmatch(text.strip())
    return match.group(1) if match else text


def parse_amount(
    text: str, column: str, line: int, problems: list[Problem], around: Signs = NO_SIGNS
) -> Amount | None:
    """An amount in a column ("grams", "mL" or "drops"), with or without a unit after it."""
    text = text.strip()
    if column == "grams" and is_to_weight(text):
        return Amount(0.0, "to weight")
    match = _WITH_UNIT.fullmatch(text)
    value = parse_number(match.group(1), around) if match else None
    if match is None or value is None:
        hint = "1.5, or q.s. to make the batch up to weight" if column == "grams" else "1.5"
        why = why_no_number(text, around, hint)
        problems.append(Problem(why, line, column, instead=choices(text, around)))
        return None
    unit = (match.group(2) or "").casefold()
    if unit not in SCALES[column]:
        problems.append(
            Problem(f"{match.group(2)!r} is not a unit of {column} that is known", line, column)
        )
        return None
    value *= SCALES[column][unit]
    if value < 0.0:
        problems.append(Problem(f"{text!r} is negative", line, column))
        return None
    if value > LARGEST_g:
        problems.append(Problem(f"{text!r} is more than any batch", line, column))
        return None
    return Amount(value, _UNIT_OF_COLUMN[column])


def parse_share(
    text: str, column: str, line: int, problems: list[Problem], around: Signs = NO_SIGNS
) -> float | None:
    """A row's share of the whole, in a column of "percent" or "parts"."""
    match = _WITH_UNIT.fullmatch(text.strip())
    value = parse_number(match.group(1), around) if match else None
    if match is None or value is None:
        why = why_no_number(text, around)
        problems.append(Problem(why, line, column, instead=choices(text, around)))
        return None
    if (match.group(2) or "").casefold() not in _SHARE_UNITS[column]:
        message = f"{match.group(2)!r} is not a unit of {column} that is known"
        problems.append(Problem(message, line, column))
        return None
    if value < 0.0:
        problems.append(Problem(f"{text!r} is negative", line, column))
        return None
    return value


def parse_dilution(text: str, line: int, problems: list[Problem]) -> tuple[Strength | None, str]:
    """A strength, and the carrier where the cell names one: "10 % in ethanol"."""
    text = text.strip()
    if not text or _NOT_DILUTED.fullmatch(text.casefold()):
        return None, ""
    match = _STRENGTH.fullmatch(text)
    found = readings(match.group("number")) if match else ()
    if match is None or not found:
        problems.append(
            Problem(
                f"{text!r} is not a strength; write 10, 96 % vol or 92 % mass", line, "strength_pct"
            )
        )
        return None, ""
    value = min(found)  # of two readings the other one is over 100 %
    if value > 100.0:
        problems.append(Problem(f"a strength of {text} is over 100 %", line, "strength_pct"))
        return None, ""
    if value <= 0.0:
        problems.append(Problem(f"a strength of {text} leaves nothing", line, "strength_pct"))
        return None, ""
    basis = " ".join((match.group("basis") or "mass").casefold().split())
    by_volume = basis in ("vol", "v/v", "abv", "by volume")
    stated = match.group("basis") is not None
    made = Strength(value, "vol" if by_volume else "mass", stated)
    return made, (match.group("carrier") or "").strip()


def parse_batch_g(
    text: str, problems: list[Problem], line: int | None = None, around: Signs = NO_SIGNS
) -> float | None:
    """A batch size: "50", "50 g", "1.2 kg"."""
    found: list[Problem] = []
    amount = parse_amount(text, "grams", line or 0, found, around)
    if amount is None or amount.unit != "g" or amount.number <= 0.0:
        two = choices(text, around)
        why = (
            why_no_number(text, around)
            if two
            else f"{text!r} is not a batch size; write it like 50 g"
        )
        problems.append(Problem(why, line, instead=two))
        return None
    return amount.number
