"""Does the liquid stay one, or does it part into layers?

Tangent-plane stability (Michelsen 1982): a liquid of composition x is stable at T unless some
trial composition w lies below its tangent plane,

    tpd(w) = sum_i w_i (ln w_i + ln gamma_i(w) - ln x_i - ln gamma_i(x)) < 0.

Stationary points are found by successive substitution W_i = exp(d_i - ln gamma_i(w)) from a start
near every pure component and from a few blends; at one of them tpd = -ln(sum W). Where it is
unstable the two layers follow from equal activities and the mass balance (Rachford-Rice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.mixture.activity import LnGamma
from blendwright.mixture.parameter_sets import Array

START_PURITY = 0.98
MOST_ITERATIONS = 400
CONVERGED = 1e-10
TRIVIAL_DISTANCE = 1e-4
UNSTABLE = -1e-7
SMALLEST_FRACTION = 1e-14
SPLIT_ITERATIONS = 2000
SPLIT_CONVERGED = 1e-10
RACHFORD_RICE_ITERATIONS = 60
RACHFORD_RICE_TOLERANCE = 1e-13


@dataclass(frozen=True)
class Stability:
    """The lowest tangent-plane distance found (in RT), and the composition that has it.

    `distance` is 0 where every start falls back to the blend itself: stable, with no rival.
    """

    distance: float
    rival: Array | None

    @property
    def splits(self) -> bool:
        return self.distance < UNSTABLE


@dataclass(frozen=True)
class Layers:
    """Two liquid layers: `fraction` of the moles are in `second`."""

    first: Array
    second: Array
    fraction: float


def _starts(x: Array) -> Array:
    n = len(x)
    near_pure = (1.0 - START_PURITY) * x + START_PURITY * np.eye(n)
    inverse = (1.0 / np.maximum(x, 1e-6)) ** 0.5
    blends = [np.full(n, 1.0 / n), inverse / inverse.sum()]
    return np.vstack([near_pure, *blends])


def stability(model: LnGamma, mole_fractions: Array, temperature_K: float) -> Stability:
    """Stability of one blend (shape (components,), all fractions above zero) at one temperature."""
    x = np.asarray(mole_fractions, dtype=float)
    if len(x) == 1:
        return Stability(0.0, None)
    d = np.log(x) + model.ln_gamma(x, temperature_K)
    w = _starts(x)
    best = Stability(0.0, None)
    previous_ln = np.log(w)
    previous_step: Array | None = None
    for iteration in range(MOST_ITERATIONS):
        total_ln = d - model.ln_gamma(w, temperature_K)
        step = total_ln - previous_ln
        size = np.abs(step).max(axis=1)
        # dominant-eigenvalue acceleration (Orbach and Crowe 1971) on every fifth step
        if previous_step is not None and iteration % 5 == 4:
            ratio = (step * previous_step).sum(axis=1) / np.maximum(
                (previous_step * previous_step).sum(axis=1), 1e-300
            )
            gain = np.where((ratio > 0.0) & (ratio < 0.95), ratio / (1.0 - ratio), 0.0)
            total_ln = total_ln + gain[:, None] * step
        previous_step = step
        previous_ln = total_ln
        totals = np.exp(np.clip(total_ln, -700.0, 50.0))
        sums = totals.sum(axis=1)
        w = np.maximum(totals / sums[:, None], SMALLEST_FRACTION)
        w /= w.sum(axis=1, keepdims=True)
        distances = np.abs(w - x).max(axis=1)
        done = (size < CONVERGED) | (distances < TRIVIAL_DISTANCE)
        settled = (size < 1e-6) & (distances >= TRIVIAL_DISTANCE)
        if settled.any():
            index = int(np.argmax(np.where(settled, sums, -1.0)))
            best = _lower(best, Stability(-float(np.log(sums[index])), w[index]))
        if done.any():
            keep = ~done
            if not keep.any():
                break
            w, previous_ln, previous_step = w[keep], previous_ln[keep], previous_step[keep]
    return best


def _lower(first: Stability, second: Stability) -> Stability:
    if first.rival is None:
        return second
    return second if second.distance < first.distance else first


def _second_share(z: Array, k: Array, start: float) -> float:
    """Rachford-Rice: the share b of the second layer with sum z (K-1) / (1 + b (K-1)) = 0.

    Newton steps inside a bracket; the sum falls with b.
    """
    excess = k - 1.0
    low, high, share = 0.0, 1.0, min(max(start, 1e-6), 1.0 - 1e-6)
    for _ in range(RACHFORD_RICE_ITERATIONS):
        terms = excess / (1.0 + share * excess)
        value = float(z @ terms)
        if value > 0.0:
            low = share
        else:
            high = share
        step = value / float(z @ (terms * terms))
        new = share + step
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - share) < RACHFORD_RICE_TOLERANCE:
            return new
        share = new
    return share


def layers(
    model: LnGamma, mole_fractions: Array, temperature_K: float, rival: Array
) -> Layers | None:
    """The two layers of an unstable blend, started from a rival composition of `stability`.

    None where the iteration falls back to one liquid.
    """
    z = np.asarray(mole_fractions, dtype=float)
    ln_k = model.ln_gamma(z, temperature_K) - model.ln_gamma(rival, temperature_K)
    first, second, share = z, rival, 0.5
    for _ in range(SPLIT_ITERATIONS):
        k = np.exp(np.clip(ln_k, -40.0, 40.0))
        share = _second_share(z, k, share)
        first = np.maximum(z / (1.0 + share * (k - 1.0)), SMALLEST_FRACTION)
        second = np.maximum(k * first, SMALLEST_FRACTION)
        first, second = first / first.sum(), second / second.sum()
        gammas = model.ln_gamma(np.vstack([first, second]), temperature_K)
        new = gammas[0] - gammas[1]
        change = float(np.abs(new - ln_k).max())
        ln_k = new
        if change < SPLIT_CONVERGED:
            break
    if float(np.abs(first - second).max()) < TRIVIAL_DISTANCE or not 0.0 < share < 1.0:
        return None
    return Layers(first, second, share)
