"""Does a material's name say by itself that it is a dilution, "vanillin 10 % in PG"?

Read only where it stands plainly: a name, a strength with its per cent sign, a carrier behind "in",
a stroke, a bracket, a comma or a blank. A range, a limit ("< 10 %") or a strength without its sign
or carrier is not read. Whether the two names mean anything is for whoever knows the catalogue.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from blendwright.errors import Problem
from blendwright.formula.numbers import Strength, parse_dilution

COLUMNS_FOR_IT = (
    "if it is a dilution, give its strength and its carrier in columns of their own: "
    "strength_pct, carrier"
)
_BASIS = r"by\s+volume|by\s+mass|by\s+weight|vol|v/v|abv|mass|w/w|m/m"
_PLAIN = re.compile(
    r"(?P<name>[^%]*?[^\W_]|[^%]*?[)\]'])[\s,(@]+(?P<number>\d+(?:[.,]\d+)?)\s*%"
    rf"\s*(?P<basis>(?:{_BASIS})\.?(?=[\s/(,]))?\s*(?P<link>(?:in|dans)\s|[/(,])?\s*"
    r"(?P<carrier>[^%()/]*[^\s%()/])\)?",
    re.IGNORECASE,
)
_A_NUMBER_AND_WORDS = re.compile(
    r".*\s\d+(?:[.,]\d+)?\s+(?:in\s+)?(?P<carrier>[^\d\s].*)", re.IGNORECASE
)


@dataclass(frozen=True)
class DilutionName:
    """A name taken apart; `says_in` where it says that the one is in the other."""

    name: str
    strength: Strength
    carrier: str
    says_in: bool


def dilution_in_name(written: str) -> DilutionName | None:
    """A name taken apart; None where it does not plainly say name, strength and carrier.

    >>> found = dilution_in_name("ethyl maltol 5%/ethanol")
    >>> found.name, found.strength.percent, found.carrier, found.says_in
    ('ethyl maltol', 5.0, 'ethanol', False)
    >>> dilution_in_name("vanillin < 7 % in PG") is dilution_in_name("furaneol 15 PG") is None
    True
    """
    match = _PLAIN.fullmatch(written.strip())
    if match is None:
        return None
    problems: list[Problem] = []
    basis = f" {match['basis']}" if match["basis"] else ""
    strength, _ = parse_dilution(f"{match['number']} %{basis}", 0, problems)
    if strength is None or strength.percent >= 100.0:
        return None
    says_in = (match["link"] or "").strip().casefold() in ("in", "dans")
    return DilutionName(match["name"], strength, match["carrier"], says_in)


def carrier_hinted_at(written: str) -> str:
    """What stands behind a number that has no per cent sign; "" without one.

    >>> carrier_hinted_at("furaneol 15 PG"), carrier_hinted_at("aldehyde C-16")
    ('PG', '')
    """
    match = _A_NUMBER_AND_WORDS.fullmatch(written.strip())
    return match["carrier"] if match else ""


def has_a_strength(written: str) -> bool:
    """Whether a name holds a number with a per cent sign."""
    return re.search(r"\d\s*%", written) is not None
