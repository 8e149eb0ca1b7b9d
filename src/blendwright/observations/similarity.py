"""How alike are two blends, for one question?

Each blend is a vector: its mass fractions and, where a few parts decide the answer, a second set
of shares that sum to 1: each substance's share of Liaw's sum for the flash point and the boiling
point (the light parts decide). The distance is the total variation,

    d = 1/2 sum_i |w_i - v_i|  +  1/2 sum_i |s_i - t_i|

0 for the same blend, up to 1 (or 2) for blends with nothing in common. The model's errors for the
two are taken to correlate as

    rho = exp(-d / LENGTH)

The exponential of a total-variation distance is positive definite whatever the blends, so that
conditioning on many observations is sound; the exponential of its square is not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.blend import Blend

LENGTH = 0.10  # a tenth of the mass exchanged: rho 0.37 (common practice, no source)
REACH = 0.30  # beyond, rho is below 0.05 and counts as none (common practice, no source)
LOOKS_REACH = 0.60  # what was seen of layers fades from REACH to here (common practice, no source)
SAME_DISTANCE = 0.005  # what weighing leaves between two makings (common practice, no source)
DISTANCE_DIGITS = 9  # what is less is rounding
NEARLY_DISTANCE = 0.05  # only a word for the report


@dataclass(frozen=True)
class Features:
    """A blend as a vector: mass fractions, and the shares that decide a question."""

    masses: Mapping[str, float] = field(hash=False)
    deciding: Mapping[str, float] = field(hash=False)

    def distance(self, other: Features) -> float:
        apart = _total_variation(self.masses, other.masses)
        apart += _total_variation(self.deciding, other.deciding)
        return round(apart, DISTANCE_DIGITS)


def _total_variation(first: Mapping[str, float], second: Mapping[str, float]) -> float:
    names = sorted({*first, *second})
    return 0.5 * sum(abs(first.get(name, 0.0) - second.get(name, 0.0)) for name in names)


def correlation(distance: float) -> float:
    """rho; 0 beyond REACH.

    >>> correlation(0.0), round(correlation(0.1), 2), correlation(0.31)
    (1.0, 0.37, 0.0)
    """
    return math.exp(-distance / LENGTH) if distance <= REACH else 0.0


def reach_of(question: str) -> float:
    """The distance beyond which an observation of this question counts for nothing."""
    return LOOKS_REACH if question in ("clear", "cloudy", "cloud_point") else REACH


def fading(distance: float) -> float:
    """1 up to REACH, 0 beyond LOOKS_REACH: sixteen draws tell of unlike blends by chance too."""
    return min(max((LOOKS_REACH - distance) / (LOOKS_REACH - REACH), 0.0), 1.0)


def correlations(features: Sequence[Features]) -> Array:
    """rho of every pair, without the cut at REACH (which could spoil positive definiteness)."""
    return np.array([[math.exp(-a.distance(b) / LENGTH) for b in features] for a in features])


def similarity_word(distance: float) -> str:
    """ "same blend", "nearly the same blend", "similar blend" or "another blend"."""
    if distance <= SAME_DISTANCE:
        return "same blend"
    if distance <= NEARLY_DISTANCE:
        return "nearly the same blend"
    return "similar blend" if distance <= REACH else "another blend"


def features_of(blend: Blend, question: str) -> Features:
    """Where a blend lies for one question."""
    return Features(mass_shares(blend), _deciding(blend, question))


def features_of_liquid(liquid: Composition, flash_shares: Array) -> Features:
    """Where a liquid lies for the flash point, by its substances' shares of Liaw's sum."""
    return Features(_by_name(liquid, liquid.mass_fractions), _by_name(liquid, flash_shares))


def mass_shares(blend: Blend) -> dict[str, float]:
    return _by_name(blend.all_components, blend.all_components.mass_fractions)


def _by_name(composition: Composition, shares: Array) -> dict[str, float]:
    return {name: float(w) for name, w in zip(composition.names, shares, strict=True)}


def _deciding(blend: Blend, question: str) -> dict[str, float]:
    if question in ("flash_point", "boiling_point"):
        return _by_name(blend.modelled_components, blend.flash.shares)
    return {}
