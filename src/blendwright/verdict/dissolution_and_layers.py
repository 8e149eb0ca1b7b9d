"""The plain answers in one word: will it dissolve, is the liquid one.

Their thresholds are here, named, with where they come from; the findings that follow stand in
`crystal_findings` and `layer_findings`.
"""

from __future__ import annotations

from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import Estimate, to_celsius, to_kelvin
from blendwright.mixture.answers import LAYERS_COUNT_FROM
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array

DissolutionWord = Literal["dissolves", "needs_warming", "undissolved", "unknown"]
LiquidWord = Literal["clear", "may_cloud", "splits", "unknown"]

WARMEST_SENSIBLE_K = 343.15  # 70 °C: hotter drives the top-notes off (common practice, no source)
WARMING_MARGIN_K = 5.0  # warm a little past the last crystal (common practice, no source)
COLD_K = 278.15  # fridge
CLEAR_BELOW = 0.4  # chance of a split; what is published as just clear has about 0.3
SURELY_CLEAR_BELOW = LAYERS_COUNT_FROM  # above it the person is told
SPLITS_ABOVE = 0.8


def dissolution_word(last: Estimate, temperature_K: float) -> DissolutionWord:
    """`dissolution_words` of one blend."""
    value = np.nan if last.value is None else last.value
    found = dissolution_words(np.array([value]), np.array([last.status]), temperature_K)
    return cast(DissolutionWord, found[0])


def dissolution_words(last_K: Array, status: NDArray[Any], temperature_K: float) -> NDArray[Any]:
    """The verdict on the crystals at a temperature, from where the last one dissolves."""
    with np.errstate(invalid="ignore"):
        warm = np.where(last_K <= WARMEST_SENSIBLE_K, "needs_warming", "undissolved")
        word = np.where(last_K <= temperature_K, "dissolves", warm).astype(object)
    word[status != "ok"] = "unknown"
    word[status == "not_applicable"] = "dissolves"
    return word


def liquid_word(chance_of_split: float | None) -> LiquidWord:
    """`liquid_words` of one blend; None where the chance can't be told."""
    chance = np.nan if chance_of_split is None else chance_of_split
    return cast(LiquidWord, liquid_words(np.array([chance]))[0])


def liquid_words(chance: Array) -> NDArray[Any]:
    """The verdict on the layers, from their chance (NaN where it can't be told)."""
    with np.errstate(invalid="ignore"):
        word = np.where(chance > SPLITS_ABOVE, "splits", "may_cloud").astype(object)
        word[chance < CLEAR_BELOW] = "clear"
    word[np.isnan(chance)] = "unknown"
    return word


def warm_to_K(last: Estimate, temperature_K: float) -> float | None:
    """The temperature to warm to, in whole 5 °C steps; None where no warming is called for."""
    if dissolution_word(last, temperature_K) != "needs_warming":
        return None
    celsius = to_celsius(last.interval()[0] + WARMING_MARGIN_K)
    return to_kelvin(5.0 * -(-celsius // 5.0))


def needed_K(last: Interval, temperature_K: float) -> Array:
    """What the last crystals need by the best estimate; NaN where they need no warming."""
    word = dissolution_words(last.value, last.status, temperature_K)
    return np.where(word == "needs_warming", last.value + WARMING_MARGIN_K, np.nan)
