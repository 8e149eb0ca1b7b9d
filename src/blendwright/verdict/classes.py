"""Which class of a scheme does each blend fall in, and how sure is that?

Every limit and every doubt is weighed here, over arrays; `flammability` puts one blend's class in
words. The category is the one that the best estimate falls in. `treat_as` is the most hazardous one
in reach: a more hazardous category is in reach until the flash point lies above its limit by the
wider of the one-sided 99 % bound and, at 23 and 60 °C, 5 °C (GHS 2.6.4.2), or the low end of the
boiling point lies above its limit. A milder category is in reach where the upper 99 % bound and the
high end of the boiling point fall in it. The standing is "clear" only when no other is in reach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import to_celsius
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools
from blendwright.verdict.limits import NO_CLASS, Limit, limits

ONE_SIDED_99_OVER_90_INTERVAL = 2.326 / 1.645  # of a normal error
NO_NUMBER_C = float("inf")  # a flash point out of range lies above every limit
ROUNDED_TO = 9  # decimals of a °C: 333.15 K is 60 °C, not a hair above or below


@dataclass(frozen=True, eq=False)
class Classes:
    """What to treat each blend as, the category of its best estimate, and its standing."""

    treat_as: NDArray[Any]
    category: NDArray[Any]
    standing: NDArray[Any]


@dataclass(frozen=True, eq=False)
class Reach(Classes):
    """`Classes` with what they rest on: the mildest category in reach, where an unknown boiling
    point decides, and the flash point with its one-sided 99 % bounds, °C."""

    mildest: NDArray[Any]
    boiling_counts_low: Bools
    flash_C: Array
    bound_C: Array
    upper_C: Array


def lower_bounds_K(flash: Interval, doubt_K: Array) -> Array:
    """One-sided 99 % lower bounds from the 90 % interval, errors taken as normal; `doubt_K` is a
    90 % half-width beside it."""
    half = np.hypot(flash.value - flash.low, doubt_K)
    return np.asarray(flash.value - half * ONE_SIDED_99_OVER_90_INTERVAL)


def upper_bounds_K(flash: Interval, doubt_K: Array) -> Array:
    """One-sided 99 % upper bounds of the flash points, K."""
    half = np.hypot(flash.high - flash.value, doubt_K)
    return np.asarray(flash.value + half * ONE_SIDED_99_OVER_90_INTERVAL)


def classes(
    scheme: str, flash: Interval, boiling: Interval, never_clear: Bools, doubt_K: Array
) -> Reach:
    """By one scheme, from flash and boiling points at its standard pressure, K.

    `never_clear` marks blends that no number makes "clear"; `doubt_K` is a 90 % half-width that is
    taken in quadrature with each side of the flash point's interval.
    """
    rows = limits(scheme)
    bounds_K = lower_bounds_K(flash, doubt_K), upper_bounds_K(flash, doubt_K)
    flash_C, bound_C, upper_C, boiling_C, low_C, high_C = rounded_C(
        np.stack([flash.value, *bounds_K, boiling.value, boiling.low, boiling.high])
    )
    with np.errstate(invalid="ignore"):
        category = categories(rows, flash_C, boiling_C)
        reach = [
            row.is_near(flash_C, bound_C)
            & row.holds_boiling(low_C, np.minimum(bound_C, flash_C - row.margin_K))
            for row in rows
        ]
        mildest = categories(rows, upper_C, high_C)
        counts_low = np.isnan(boiling_C)
        if counts_low.any():
            counts_low &= category != categories(rows, flash_C, np.full(flash_C.shape, NO_NUMBER_C))
    worst = _most_hazardous(rows, reach)
    treat_as = np.where(worst == NO_CLASS, category, worst).astype(object)
    near = (treat_as != category) | (mildest != category) | counts_low | never_clear
    standing = np.where(near, "too_near", "clear").astype(object)
    nothing, beyond = flash.status == "not_applicable", flash.status == "out_of_range"
    standing[nothing] = np.where(never_clear[nothing], "too_near", "clear")
    standing[beyond] = "too_near"
    category[nothing], treat_as[nothing] = NO_CLASS, NO_CLASS
    if beyond.any():
        above_all = categories(rows, np.array([NO_NUMBER_C]), np.array([np.nan]))[0]
        category[beyond], treat_as[beyond] = above_all, above_all
    unknown = flash.status == "unknown"
    category[unknown], treat_as[unknown], standing[unknown] = "unknown", "unknown", "unknown"
    return Reach(treat_as, category, standing, mildest, counts_low, flash_C, bound_C, upper_C)


def category_of(flash_C: float, boiling_C: float | None, scheme: str = "ghs") -> str:
    """The category of exact values; an unknown boiling point counts as low.

    >>> category_of(22.9, 77.0), category_of(23.0, 77.0), category_of(60.0, 90.0)
    ('2', '3', '3')
    >>> category_of(60.0, 90.0, "un"), category_of(60.0, 90.0, "nfpa30")
    ('PG III', 'IIIA')
    """
    boils_C = np.nan if boiling_C is None else boiling_C
    found = categories(limits(scheme), np.array([float(flash_C)]), np.array([float(boils_C)]))
    return str(found[0])


def categories(rows: Sequence[Limit], flash_C: Array, boiling_C: Array) -> NDArray[Any]:
    """The category of exact values, of a scheme of these rows."""
    return _most_hazardous(rows, [row.holds(flash_C, boiling_C) for row in rows])


def _most_hazardous(rows: Sequence[Limit], holds: Sequence[Bools]) -> NDArray[Any]:
    """The first category that holds, or "none"."""
    table = np.array(holds)
    names = np.array([row.category for row in rows], dtype=object)
    found = names[np.argmax(table, axis=0)]
    return np.asarray(np.where(table.any(axis=0), found, NO_CLASS).astype(object))


def rounded_C(kelvin: Array) -> Array:
    return np.asarray(np.round(to_celsius(kelvin), ROUNDED_TO))
