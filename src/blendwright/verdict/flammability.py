"""Which flammable-liquid category does the blend fall in, and how sure is that?

GHS chapter 2.6: category 1 flash below 23 °C and boiling at 35 °C or less; 2 flash below 23;
3 flash 23 to 60; 4 above 60 to 93. The limits stand in `limits.csv`.

The category is the one that the best estimate falls in. Its standing is "clear" only when a more
hazardous category is out of reach: the flash point must lie above the category's lower limit by
the wider of 5 °C (GHS 2.6.4.2, for 23 and 60 °C) and the one-sided 99 % bound of the estimate.
A blend with a natural oil, an estimated input of weight, or layers is never "clear".
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from blendwright.estimate import Estimate

Category = Literal["1", "2", "3", "4", "none", "unknown"]
Standing = Literal["clear", "too_near", "unknown"]

GHS_MARGIN_K = 5.0
ONE_SIDED_99_OVER_90_INTERVAL = 2.326 / 1.645  # of a normal error


@dataclass(frozen=True)
class Limit:
    """One category: flash from (above or at) and to, °C, and the highest boiling point."""

    category: Category
    flash_from_C: float | None
    flash_to_C: float
    to_included: bool
    boiling_to_C: float | None
    edition: str
    clause: str


@dataclass(frozen=True)
class Flammability:
    """Category, standing, and the reasons that keep it from being clear."""

    category: Category
    standing: Standing
    bound_K: float | None
    reasons: tuple[str, ...]


@cache
def limits(scheme: str) -> tuple[Limit, ...]:
    """The categories of a scheme, most hazardous first."""
    text = (files("blendwright.verdict") / "limits.csv").read_text(encoding="utf-8")
    return tuple(
        Limit(
            category=cast(Category, row["category"]),
            flash_from_C=float(row["flash_from_C"]) if row["flash_from_C"] else None,
            flash_to_C=float(row["flash_to_C"]),
            to_included=row["flash_to_included"] == "yes",
            boiling_to_C=float(row["boiling_to_C"]) if row["boiling_to_C"] else None,
            edition=row["edition"],
            clause=row["clause"],
        )
        for row in csv.DictReader(text.splitlines())
        if row["scheme"] == scheme
    )


def category_of(flash_C: float, boiling_C: float | None, scheme: str = "ghs") -> Category:
    """The category of exact values; an unknown boiling point counts as low.

    >>> category_of(22.9, 77.0), category_of(23.0, 77.0), category_of(60.0, 90.0)
    ('2', '3', '3')
    """
    for limit in limits(scheme):
        under = flash_C < limit.flash_to_C or (limit.to_included and flash_C == limit.flash_to_C)
        boils = limit.boiling_to_C is None or boiling_C is None or boiling_C <= limit.boiling_to_C
        if under and boils:
            return limit.category
    return "none"


def lower_bound_K(flash: Estimate) -> float:
    """One-sided 99 % lower bound from the 90 % interval, errors taken as normal."""
    value, low, _ = flash.interval()
    return value - (value - low) * ONE_SIDED_99_OVER_90_INTERVAL


def ghs_flammability(
    flash: Estimate, boiling: Estimate, never_clear: tuple[str, ...] = ()
) -> Flammability:
    """GHS category and standing; `never_clear` names what forbids "clear"."""
    if flash.status == "not_applicable":
        return Flammability("none", "clear" if not never_clear else "too_near", None, never_clear)
    if flash.status == "out_of_range":
        return Flammability("none", "too_near", None, ("the flash point is out of range",))
    if not flash.is_ok:
        return Flammability("unknown", "unknown", None, flash.notes)
    value_K = flash.interval()[0]
    bound_K = lower_bound_K(flash)
    boiling_C = boiling.value - 273.15 if boiling.value is not None else None
    category = category_of(value_K - 273.15, boiling_C)
    reasons = list(never_clear)
    cautious_K = min(bound_K, value_K - GHS_MARGIN_K)
    boiling_low_C = boiling.low - 273.15 if boiling.low is not None else None
    worst = category_of(cautious_K - 273.15, boiling_low_C)
    if worst != category:
        reasons.append(f"the cautious end, {cautious_K - 273.15:.0f} °C, falls in category {worst}")
    standing: Standing = "too_near" if reasons else "clear"
    return Flammability(category, standing, bound_K, tuple(reasons))
