"""What do measurements of the same and of similar blends say about a number here?

The model's error of a blend is taken as normal with the two sides that its 90 % interval shows
(a split normal): sd = (high - value) / 1.645 above, (value - low) / 1.645 below. In units of the
side that it falls on, the error of the present blend and those of the measured ones are jointly
normal with variance 1 and correlation rho (`similarity`). With the residuals

    z_i = (measured_i - estimated_i) / sd_i,      noise_i = (half-width_i / 1.645 / sd_i)^2

conditioning (a Gaussian process; Rasmussen and Williams 2006, eq. 2.22-2.24, from memory) gives

    shift  = sd * k' (K + diag(noise))^-1 z
    width *= sqrt(1 - k' (K + diag(noise))^-1 k)

with k the correlations to the present blend and K those among the measured ones; sd is of the side
that the shift points to. The whole interval moves by the shift and both its sides shrink by the
same factor, so observations never widen it. What lies beyond REACH is left out: it changes nothing.
A blend that was itself measured well takes nearly the measured value.

A residual beyond the model's 90 % interval shows that the interval was too narrow there. For the
shift the model's error is then taken as large as was seen, sd_i = |residual_i| / 1.645 at least, so
that the answer for the same blend goes to the measured value and doesn't stop half-way. The width
is the narrower one without it. For a flash or boiling point this holds of lower values alone.

Caution, for the flash point and the boiling point (`low_counts_fully`): a measured value below its
estimate counts in full wherever it is in reach, as if it were of the same blend,

    shift <= residual_i / (1 + noise_i)    (noise as for the shift)

so the lowest measurement rules; a higher one counts only by its correlation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.estimate import NORMAL_90, Estimate
from blendwright.mixture.parameter_sets import Array

SMALLEST_SD = 1e-6  # an interval of no width: the model gives a bound, and nothing is learned


@dataclass(frozen=True)
class Residual:
    """A measured value, its 90 % half-width, and the model's estimate for the measured blend."""

    measured: float
    half_width: float
    estimated: Estimate
    correlation: float

    @property
    def off(self) -> float:
        """Measured less estimated."""
        return self.measured - self.estimated.interval()[0]

    @property
    def sd(self) -> float:
        """The model's deviation there, on the side of the measured value."""
        return side_sd(self.estimated, self.off)

    @property
    def noise(self) -> float:
        return (self.half_width / NORMAL_90 / self.sd) ** 2

    @property
    def noise_of_shift(self) -> float:
        """With the model's error taken at least as large as was seen."""
        seen_sd = max(self.sd, abs(self.off) / NORMAL_90)
        return (self.half_width / NORMAL_90 / seen_sd) ** 2

    @property
    def is_of_use(self) -> bool:
        return self.estimated.is_ok and self.sd > SMALLEST_SD and self.correlation > 0.0

    @property
    def disagrees(self) -> bool:
        """The measured value lies outside the model's 90 % interval."""
        _, low, high = self.estimated.interval()
        return not low <= self.measured <= high


def side_sd(estimate: Estimate, towards: float) -> float:
    """Standard deviation of the split normal on one side: above for a positive `towards`."""
    value, low, high = estimate.interval()
    return (high - value if towards > 0.0 else value - low) / NORMAL_90


def adjusted(
    prior: Estimate,
    residuals: Sequence[Residual],
    among: Array,
    low_counts_fully: bool = False,
) -> tuple[float, float, float]:
    """(value, low, high) after the observations.

    `among` are the correlations of the measured blends with each other, in the same order.
    """
    value, low, high = prior.interval()
    useful = [i for i, r in enumerate(residuals) if r.is_of_use]
    if not useful:
        return value, low, high
    used = [residuals[i] for i in useful]
    towards = np.array([r.correlation for r in used])
    among_used = among[np.ix_(useful, useful)]
    noise = [r.noise if low_counts_fully else r.noise_of_shift for r in used]
    towards_shift = np.linalg.solve(among_used + np.diag(noise), towards)
    pull = float(towards_shift @ np.array([r.off / r.sd for r in used]))
    shift = pull * side_sd(prior, pull)
    if low_counts_fully:
        low_ones = (r.off / (1.0 + r.noise_of_shift) for r in used if r.off < 0.0)
        shift = min(shift, *low_ones, math.inf)
    weights = np.linalg.solve(among_used + np.diag([r.noise for r in used]), towards)
    left = math.sqrt(max(0.0, 1.0 - float(weights @ towards)))
    moved = value + shift
    return moved, moved - left * (value - low), moved + left * (high - value)
