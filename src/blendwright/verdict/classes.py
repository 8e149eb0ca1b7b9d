"""GHS category and standing of many blends: `verdict.flammability.classing` as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.flammability import (
    NO_CLASS,
    NO_NUMBER_C,
    ONE_SIDED_99_OVER_90_INTERVAL,
    ROUNDED_TO,
    Limit,
    limits,
)

Ends = tuple[Array, Array, Array]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class GHSClasses:
    """What to treat each blend as, the category of its best estimate, and its standing."""

    treat_as: NDArray[Any]
    category: NDArray[Any]
    standing: NDArray[Any]


def ghs_classes(
    flash_K: Ends, status: NDArray[Any], boiling_K: Ends, never_clear: Bools, doubt_K: Array
) -> GHSClasses:
    """From value, low and high end of both; a boiling point of NaN is unknown and counts as low.

    `never_clear` and `doubt_K` are `verdict.flammability.Doubts`.
    """
    rows = limits("ghs")
    value, low, high = flash_K
    flash_C = _celsius(value)
    bound_C = _celsius(value - np.hypot(value - low, doubt_K) * ONE_SIDED_99_OVER_90_INTERVAL)
    upper_C = _celsius(value + np.hypot(high - value, doubt_K) * ONE_SIDED_99_OVER_90_INTERVAL)
    boiling_C, boiling_low_C, boiling_high_C = (_celsius(end) for end in boiling_K)
    category = _of_values(rows, flash_C, boiling_C)
    reach = []
    for row in rows:
        near = _flash(row, bound_C) | (flash_C < row.flash_to_C + row.margin_K)
        lowest = np.minimum(bound_C, flash_C - row.margin_K)
        reach.append(near & _boiling(row, boiling_low_C, lowest))
    worst = _first(rows, reach)
    treat_as = np.where(worst == NO_CLASS, category, worst).astype(object)
    no_boiling = np.full(flash_C.shape, NO_NUMBER_C)
    counted_low = np.isnan(boiling_C) & (category != _of_values(rows, flash_C, no_boiling))
    near = (treat_as != category) | (_of_values(rows, upper_C, boiling_high_C) != category)
    standing = np.where(near | counted_low | never_clear, "too_near", "clear").astype(object)
    nothing = status == "not_applicable"
    standing[nothing] = np.where(never_clear[nothing], "too_near", "clear")
    beyond = status == "out_of_range"
    standing[beyond] = "too_near"
    category[nothing | beyond], treat_as[nothing | beyond] = NO_CLASS, NO_CLASS
    unknown = status == "unknown"
    category[unknown], treat_as[unknown], standing[unknown] = "unknown", "unknown", "unknown"
    return GHSClasses(treat_as, category, standing)


def _of_values(rows: tuple[Limit, ...], flash_C: Array, boiling_C: Array) -> NDArray[Any]:
    """`verdict.flammability.category_of`."""
    return _first(rows, [_flash(r, flash_C) & _boiling(r, boiling_C, flash_C) for r in rows])


def _first(rows: tuple[Limit, ...], holds: list[NDArray[np.bool_]]) -> NDArray[Any]:
    """The most hazardous category that holds, or "none"."""
    table = np.array(holds)
    names = np.array([row.category for row in rows], dtype=object)
    found = names[np.argmax(table, axis=0)]
    return np.asarray(np.where(table.any(axis=0), found, NO_CLASS).astype(object))


def _flash(row: Limit, flash_C: Array) -> NDArray[np.bool_]:
    under = flash_C < row.flash_to_C
    return under | (flash_C == row.flash_to_C) if row.flash_to_included else under


def _boiling(row: Limit, boiling_C: Array, flash_C: Array) -> NDArray[np.bool_]:
    if row.boiling_to_C is None:
        return np.ones(flash_C.shape, dtype=bool)
    lowest = np.where(np.isnan(boiling_C), flash_C, boiling_C)
    under = lowest < row.boiling_to_C
    return under | (lowest == row.boiling_to_C) if row.boiling_to_included else under


def _celsius(kelvin: Array) -> Array:
    return np.round(kelvin - 273.15, ROUNDED_TO)
