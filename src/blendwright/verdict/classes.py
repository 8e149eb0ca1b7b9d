"""GHS category and standing of many blends: `verdict.flammability.classing` as arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.flammability import (
    NO_NUMBER_C,
    ONE_SIDED_99_OVER_90_INTERVAL,
    ROUNDED_TO,
    Limit,
    limits,
)


def ghs_classes(
    flash_K: Array,
    flash_low_K: Array,
    status: NDArray[Any],
    boiling_K: Array,
    boiling_low_K: Array,
    never_clear: NDArray[np.bool_],
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Category and standing; a boiling point of NaN is unknown and counts as low."""
    rows = limits("ghs")
    flash_C, bound_C = (
        _celsius(flash_K),
        _celsius(flash_K - (flash_K - flash_low_K) * ONE_SIDED_99_OVER_90_INTERVAL),
    )
    boiling_C, boiling_low_C = _celsius(boiling_K), _celsius(boiling_low_K)
    category = _first(rows, [_flash(r, flash_C) & _boiling(r, boiling_C, flash_C) for r in rows])
    reach = []
    for row in rows:
        near = _flash(row, bound_C) | (flash_C < row.flash_to_C + row.margin_K)
        lowest = np.minimum(bound_C, flash_C - row.margin_K)
        reach.append(near & _boiling(row, boiling_low_C, lowest))
    worst = _first(rows, reach)
    near = (worst != "none") & (worst != category)
    no_boiling = np.full(flash_C.shape, NO_NUMBER_C)
    high = _first(rows, [_flash(r, flash_C) & _boiling(r, no_boiling, flash_C) for r in rows])
    counted_low = np.isnan(boiling_C) & (category != high)
    standing = np.where(near | counted_low | never_clear, "too_near", "clear").astype(object)
    nothing = status == "not_applicable"
    category[nothing] = "none"
    standing[nothing] = np.where(never_clear[nothing], "too_near", "clear")
    beyond = status == "out_of_range"
    category[beyond], standing[beyond] = "none", "too_near"
    unknown = status == "unknown"
    category[unknown], standing[unknown] = "unknown", "unknown"
    return category, standing


def _first(rows: tuple[Limit, ...], holds: list[NDArray[np.bool_]]) -> NDArray[Any]:
    """The most hazardous category that holds, or "none"."""
    table = np.array(holds)
    names = np.array([row.category for row in rows], dtype=object)
    found = names[np.argmax(table, axis=0)]
    return np.asarray(np.where(table.any(axis=0), found, "none").astype(object))


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
