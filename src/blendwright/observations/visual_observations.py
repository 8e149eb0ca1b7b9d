"""What do "it was clear" and "it was cloudy" say about the chance of layers here?

The model's chance p that a blend parts is read as a hidden normal number: it parts where
a + e > 0, with a = Phi^-1(p) and e the model's error, standard normal. The errors of the measured
and of the present blend correlate with rho (`layer_correlation`), so that having seen the one clear
gives the other's odds the likelihood ratio

    LR = P(seen clear | this one parts) / P(seen clear | this one stays clear)

from the bivariate normal, with LOOKED_WRONG of all looks taken as mistaken (haze overlooked, or
a bubble taken for haze). Without correlation LR is 1. A blend that the model itself calls clear
says little by being clear, one that it calls split says much.

Temperature: blends are taken to clear on warming. "Clear at 22 °C" counts at 22 °C and warmer and
says nothing of 5 °C; "cloudy at 5 °C" counts at 5 °C and colder. A cloud point measured on cooling
is both, its half-width above and below.

Among several looks the strongest for clear and the strongest for cloudy count, once each: ten looks
at one bottle are no ten proofs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

LOOKED_WRONG = 0.05  # common practice, no source; no look weighs more than 19 to 1
ONE_AND_THE_SAME = 1.0 - 1e-6  # from this correlation on, one hidden number stands for both
LEAST_CHANCE = 1e-6
SURPRISED_BELOW = 0.1  # a look that the model gave less than this chance disagrees with it


@dataclass(frozen=True)
class VisualObservation:
    """Seen clear or cloudy at a temperature: the model's chance of layers for that blend there."""

    is_clear: bool
    temperature_K: float
    chance_there: float
    correlation: float

    def speaks_at(self, temperature_K: float) -> bool:
        if self.is_clear:
            return temperature_K >= self.temperature_K
        return temperature_K <= self.temperature_K

    @property
    def disagrees(self) -> bool:
        """The model gave what was seen less than a chance of 10 %."""
        seen = 1.0 - self.chance_there if self.is_clear else self.chance_there
        return seen < SURPRISED_BELOW


def likelihood_ratio(look: VisualObservation, chance: float) -> float:
    """By how much the odds of layers are multiplied.

    >>> round(likelihood_ratio(VisualObservation(True, 295.0, 0.5, 0.0), 0.5), 6)
    1.0
    """
    from scipy.special import ndtri  # a second of importing, which most assessments don't need

    there, here = _inside(look.chance_there), _inside(chance)
    both_part = _both_below(float(ndtri(there)), float(ndtri(here)), look.correlation)
    parts_here_clear_there = max(here - both_part, 0.0)
    parts_there_clear_here = max(there - both_part, 0.0)
    both_clear = max(1.0 - there - here + both_part, 0.0)
    seen_if_parts, seen_if_clear = (
        (parts_here_clear_there / here, both_clear / (1.0 - here))
        if look.is_clear
        else (both_part / here, parts_there_clear_here / (1.0 - here))
    )
    return _mistaken(seen_if_parts) / _mistaken(seen_if_clear)


def chance_after(chance: float, looks: Sequence[VisualObservation], temperature_K: float) -> float:
    """The chance of layers at a temperature, with what was seen."""
    speaking = [look for look in looks if look.correlation > 0.0 and look.speaks_at(temperature_K)]
    if not speaking:
        return chance
    ratios = [(look, likelihood_ratio(look, chance)) for look in speaking]
    for_clear = min((ratio for look, ratio in ratios if look.is_clear), default=1.0)
    for_cloudy = max((ratio for look, ratio in ratios if not look.is_clear), default=1.0)
    inside = _inside(chance)
    odds = inside / (1.0 - inside) * min(for_clear, 1.0) * max(for_cloudy, 1.0)
    return odds / (1.0 + odds)


def _both_below(first: float, second: float, rho: float) -> float:
    """P(X < first, Y < second), standard normals with correlation rho."""
    from scipy.special import ndtr
    from scipy.stats import multivariate_normal

    if rho <= 0.0:
        return float(ndtr(first) * ndtr(second))
    if rho >= ONE_AND_THE_SAME:
        return float(ndtr(min(first, second)))
    return float(multivariate_normal.cdf([first, second], cov=[[1.0, rho], [rho, 1.0]]))


def _mistaken(probability: float) -> float:
    return LOOKED_WRONG + (1.0 - 2.0 * LOOKED_WRONG) * min(max(probability, 0.0), 1.0)


def _inside(chance: float) -> float:
    return min(max(chance, LEAST_CHANCE), 1.0 - LEAST_CHANCE)
