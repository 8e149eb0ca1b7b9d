"""The plain answers in one word: will it dissolve, is the liquid one.

Their thresholds are here, named, with where they come from; the findings that follow stand in
`crystal_findings` and `layer_findings`.
"""

from __future__ import annotations

import math
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import NORMAL_90, Estimate, to_celsius, to_kelvin
from blendwright.mixture.answers import LAYERS_COUNT_FROM
from blendwright.mixture.clarity import LOGISTIC_TO_NORMAL, SETTLED_CHANCE, normal_share
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
LIKELY_Z = math.log(1.0 / CLEAR_BELOW - 1.0) / LOGISTIC_TO_NORMAL  # a chance of CLEAR_BELOW
LIKELY_SIDE = LIKELY_Z / NORMAL_90  # the same over half of a 90 % interval
LEAST_SIDE_K = 0.01


def dissolution_word(last: Estimate, temperature_K: float) -> DissolutionWord:
    """`dissolution_words` of one blend."""
    found = dissolution_words(Interval.from_estimate(last), temperature_K)
    return cast(DissolutionWord, found[0])


def dissolution_words(last: Interval, temperature_K: float) -> NDArray[Any]:
    """The verdict on the crystals at a temperature, from where the last one dissolves: "dissolves"
    where the chance of crystals is below CLEAR_BELOW."""
    likely_K = likely_dissolved_K(last)
    with np.errstate(invalid="ignore"):
        warm = np.where(likely_K <= WARMEST_SENSIBLE_K, "needs_warming", "undissolved")
        word = np.where(likely_K <= temperature_K, "dissolves", warm).astype(object)
    word[last.status != "ok"] = "unknown"
    word[last.status == "not_applicable"] = "dissolves"
    return word


def chances_of_crystals(last: Interval, temperature_K: float) -> Array:
    """The chance that crystals stay at a temperature: where the last one dissolves is a normal
    number with a side of its own above and below, each half of the 90 % interval over 1.645. 0
    without crystals, NaN where it can't be told; else, as of layers, never below SETTLED_CHANCE."""
    off = last.value - temperature_K
    side = np.where(off > 0.0, last.value - last.low, last.high - last.value)
    chance = normal_share(off / np.maximum(side / NORMAL_90, LEAST_SIDE_K))
    return np.where(last.status == "not_applicable", 0.0, np.maximum(chance, SETTLED_CHANCE))


def chance_of_crystals(last: Estimate, temperature_K: float) -> float | None:
    """`chances_of_crystals` of one blend; None where it can't be told."""
    found = float(chances_of_crystals(Interval.from_estimate(last), temperature_K)[0])
    return None if np.isnan(found) else found


def likely_dissolved_K(last: Interval) -> Array:
    """From where on the chance of crystals is below CLEAR_BELOW."""
    return last.value + LIKELY_SIDE * np.maximum(last.high - last.value, NORMAL_90 * LEAST_SIDE_K)


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
    likely_K = float(likely_dissolved_K(Interval.from_estimate(last))[0])
    celsius = to_celsius(likely_K + WARMING_MARGIN_K)
    return to_kelvin(5.0 * -(-celsius // 5.0))


def needed_K(last: Interval, temperature_K: float) -> Array:
    """What the last crystals need to be likely dissolved; NaN where they need no warming."""
    word = dissolution_words(last, temperature_K)
    return np.where(word == "needs_warming", likely_dissolved_K(last) + WARMING_MARGIN_K, np.nan)
