"""How does a person's own measurement enter? As one more linear row of the fit, at once.

A measurement says y = h + noise of a quantity h that is linear in the terms: with v the variance of
h over the draws and r the measurement's standard deviation, every term q that belongs to the
measured substance moves by its gain g = cov(q, h) / (v + r^2):

    mean:   q0 += g (y - h0)
    draws:  (q - q0) -= a g (h - h0),   a = 1 / (1 + sqrt(r^2 / (v + r^2)))

(square-root form of the ensemble Kalman update: Whitaker, Hamill 2002, doi:10.1175/
1520-0493(2002)130<1913:EDAWPO>2.0.CO;2). It needs no random numbers, the variance of h falls to
v r^2 / (v + r^2), and no term's variance ever rises.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from blendwright.mixture.excess.form import COEFFICIENTS, ExcessTerms
from blendwright.mixture.parameter_sets import Array


@dataclass(frozen=True, eq=False)
class Measurement:
    """sum_i weights_i ln gamma_i(learned terms, x, T) - (factor - 1) ln a(ideal) = value + noise.

    `substance` numbers whose measurement it is. For a crystal's solubility `weights` is 1 for the
    crystal, `ideal_ln_activity` is ln a(ideal) < 0 at this temperature, and the value is
    ln a(ideal) - ln x - ln gamma(base); for what is no crystal it is 0. `noise` is the standard
    deviation of the value.
    """

    substance: int
    mole_fractions: Array
    temperature_K: float
    weights: Array
    value: float
    noise: float
    ideal_ln_activity: float = 0.0

    def predicted(self, terms: ExcessTerms, fusion_factors: Array) -> Array:
        """The value that each set of coefficients says, (K,)."""
        ln_gamma = terms.at(self.temperature_K).ln_gamma(self.mole_fractions) @ self.weights
        over = fusion_factors[:, self.substance] - 1.0
        return np.asarray(ln_gamma - over * self.ideal_ln_activity)


def with_measurement(
    terms: ExcessTerms, fusion_factors: Array, measurement: Measurement
) -> tuple[ExcessTerms, Array]:
    """Terms (K, n, n) and crystals' factors (K, n) given one measurement.

    Only the coefficients of the measured substance's pairs and its own factor change. Set 0 is the
    mean, the others are draws.
    """
    predicted = measurement.predicted(terms, fusion_factors)
    k = measurement.substance
    changed = {}
    for name in (f"{q}{number}" for q in COEFFICIENTS for number in (0, 1)):
        square = getattr(terms, name).copy()
        for place in (np.s_[:, k, :], np.s_[:, :, k]):
            old = getattr(terms, name)[place]
            square[place] = updated(old, predicted, measurement.value, measurement.noise)
        changed[name] = square
    factors = fusion_factors.copy()
    if measurement.ideal_ln_activity:
        factors[:, k] = updated(
            fusion_factors[:, k : k + 1], predicted, measurement.value, measurement.noise
        )[:, 0]
    return replace(terms, **changed), factors


def updated(terms: Array, predicted: Array, value: float, noise: float) -> Array:
    """Terms (K, m) given a measurement of what they predict, (K,); see the module."""
    off = terms[1:] - terms[:1]
    spread = predicted[1:] - predicted[0]
    variance = float(spread @ spread) / len(spread)
    if variance <= 0.0:
        return terms
    total = variance + noise**2
    gain = (spread @ off) / len(spread) / total
    share = 1.0 / (1.0 + math.sqrt(noise**2 / total))
    mean = terms[:1] + gain * (value - predicted[0])
    return np.vstack([mean, mean + off - share * spread[:, None] * gain])
