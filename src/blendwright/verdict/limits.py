"""The limits of the flammable-liquid schemes, as their texts have them: `limits.csv`, and what else
the texts say: `pointers.csv`. Each row with its edition and clause.

Schemes: GHS, CLP, UN (class 3 and packing group), US (49 CFR), NFPA 30. A `Limit` answers for
arrays of blends; a boiling point of NaN is unknown and counts as low.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue.tables import table_rows
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools

NO_CLASS = "none"


@dataclass(frozen=True)
class Limit:
    """One category: flash point from and to, °C, and the highest initial boiling point.

    `margin_K` is how far above `flash_to_C` a calculated flash point must lie to be clear of it.
    """

    scheme: str
    title: str
    category: str
    name: str
    label: str
    flash_from_C: float | None
    flash_to_C: float
    flash_to_included: bool
    margin_K: float
    boiling_to_C: float | None
    boiling_to_included: bool
    edition: str
    clause: str

    def holds_flash(self, flash_C: Array) -> Bools:
        return _under(flash_C, self.flash_to_C, self.flash_to_included)

    def holds_boiling(self, boiling_C: Array, flash_C: Array) -> Bools:
        """An unknown boiling point counts as low, but not as lower than the flash point."""
        if self.boiling_to_C is None:
            return np.ones(flash_C.shape, dtype=bool)
        lowest_C = np.where(np.isnan(boiling_C), flash_C, boiling_C)
        return _under(lowest_C, self.boiling_to_C, self.boiling_to_included)

    def holds(self, flash_C: Array, boiling_C: Array) -> Bools:
        return self.holds_flash(flash_C) & self.holds_boiling(boiling_C, flash_C)

    def is_near(self, flash_C: Array, bound_C: Array) -> Bools:
        """Whether a calculated flash point, or its one-sided bound, is not clear of it."""
        return self.holds_flash(bound_C) | (flash_C < self.flash_to_C + self.margin_K)


@dataclass(frozen=True)
class Pointer:
    """What else a scheme's text says: the tests that it names, or a rule to look up."""

    scheme: str
    kind: str
    categories: tuple[str, ...]
    flash_from_C: float | None
    flash_from_included: bool
    text: str
    edition: str
    clause: str

    def applies(self, category: str, flash_C: float | None) -> bool:
        if self.categories and category not in self.categories:
            return False
        if self.flash_from_C is None:
            return True
        if flash_C is None:
            return False
        return flash_C > self.flash_from_C or (
            self.flash_from_included and flash_C == self.flash_from_C
        )

    def sentence(self) -> str:
        return f"{self.text} ({self.edition}, {self.clause})"


def schemes() -> tuple[str, ...]:
    """The schemes in the order of the report, GHS first.

    >>> schemes()
    ('ghs', 'clp', 'un', 'us', 'nfpa30')
    """
    return tuple(dict.fromkeys(limit.scheme for limit in _all_limits()))


@cache
def limits(scheme: str) -> tuple[Limit, ...]:
    """The categories of a scheme, most hazardous first."""
    return tuple(limit for limit in _all_limits() if limit.scheme == scheme)


@cache
def pointers(scheme: str) -> tuple[Pointer, ...]:
    """What else the scheme's text says, in the order of the file."""
    return tuple(
        Pointer(
            scheme=row["scheme"],
            kind=row["kind"],
            categories=tuple(row["categories"].split("|")) if row["categories"] else (),
            flash_from_C=_number(row["flash_from_C"]),
            flash_from_included=row["flash_from_included"] == "yes",
            text=row["text"],
            edition=row["edition"],
            clause=row["clause"],
        )
        for row in table_rows("blendwright.verdict", "pointers.csv")
        if row["scheme"] == scheme
    )


def category_words(scheme: str, category: str) -> tuple[str, str]:
    """Name and label of a category in the scheme's words.

    >>> category_words("ghs", "3"), category_words("ghs", "none")
    (('category 3', 'Warning, H226'), ('not classed', ''))
    """
    if category == NO_CLASS:
        return "not classed", ""
    found = (limit for limit in limits(scheme) if limit.category == category)
    return next(((limit.name, limit.label) for limit in found), (category, ""))


def rank(scheme: str, category: str) -> int:
    """0 is the most hazardous category of the scheme; "none" comes last."""
    order = [limit.category for limit in limits(scheme)]
    return order.index(category) if category in order else len(order)


def graver(scheme: str, first: str, second: str) -> str:
    """The more hazardous of two categories.

    >>> graver("ghs", "3", "2"), graver("ghs", "none", "4")
    ('2', '4')
    """
    return min(first, second, key=lambda category: rank(scheme, category))


def flash_range(scheme: str, category: str) -> str:
    """The flash points of a category in words.

    >>> flash_range("ghs", "2"), flash_range("ghs", "3"), flash_range("ghs", "none")
    ('below 23 °C', '23 to 60 °C', 'above 93 °C')
    """
    if category == NO_CLASS:
        return f"above {limits(scheme)[-1].flash_to_C:g} °C"
    held = next(limit for limit in limits(scheme) if limit.category == category)
    if held.flash_from_C is None:
        return f"below {held.flash_to_C:g} °C"
    return f"{held.flash_from_C:g} to {held.flash_to_C:g} °C"


@cache
def _all_limits() -> tuple[Limit, ...]:
    return tuple(
        Limit(
            scheme=row["scheme"],
            title=row["title"],
            category=row["category"],
            name=row["name"],
            label=row["label"],
            flash_from_C=_number(row["flash_from_C"]),
            flash_to_C=float(row["flash_to_C"]),
            flash_to_included=row["flash_to_included"] == "yes",
            margin_K=float(row["margin_K"]),
            boiling_to_C=_number(row["boiling_to_C"]),
            boiling_to_included=row["boiling_to_included"] == "yes",
            edition=row["edition"],
            clause=row["clause"],
        )
        for row in table_rows("blendwright.verdict", "limits.csv")
    )


def _number(text: str) -> float | None:
    return float(text) if text else None


def _under(value: Array, limit: float, included: bool) -> Bools:
    return np.asarray(value <= limit if included else value < limit)
