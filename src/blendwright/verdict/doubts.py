"""What forbids the standing "clear of the limit", and how much natural oils widen a flash point.

GHS 2.6.4.2 lets a calculated flash point stand for a test only of one homogeneous liquid of known
composition: a natural oil's is not known, where the oils have more than WEIGHTY_FLASH_SHARE of what
flashes. Crystals and layers count as at 20 °C.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools
from blendwright.verdict.finding import listed

WEIGHTY_FLASH_SHARE = 0.1  # of Liaw's sum: an oil or an estimated input with more is "important"
NAMED_OIL_SHARE = 0.01  # of Liaw's sum: an oil with less is not named as a doubt
OIL_SPREAD_K = 10.0  # 90 %, between lots of one oil by itself (common practice, no source)


@dataclass(frozen=True, eq=False)
class DoubtFacts:
    """For each blend the natural oils' share of Liaw's sum at the flash point, the largest share of
    an input that rests on an estimate, its words at 20 °C, and what could not be counted."""

    oil_flash_share: Array
    estimated_flash_share: Array
    burns_in_layers: Bools
    liquid_20C: NDArray[Any]
    dissolution_20C: NDArray[Any]
    without_groups: Bools
    lacks_vapour_data: Bools

    @property
    def flash_K(self) -> Array:
        """How much it widens the flash point, a 90 % half-width. Written rule for natural oils: one
        by itself may flash OIL_SPREAD_K off its typical composition, and in a blend as much less as
        its share of Liaw's sum is."""
        return np.asarray(OIL_SPREAD_K * np.minimum(1.0, self.oil_flash_share))

    @cached_property
    def never_clear(self) -> Bools:
        return np.asarray(np.any([reason.holds(self) for reason in REASONS], axis=0))


@dataclass(frozen=True)
class OneDoubt:
    """What the words name of one blend: each oil's share of Liaw's sum, that of each input that
    rests on an estimate, and what was left out or can't be counted."""

    facts: DoubtFacts
    oils: Mapping[str, float]
    estimated: Mapping[str, float]
    notes: Sequence[str]
    without_vapour_data: Sequence[str]

    def oils_vary(self) -> str:
        named = [oil for oil, share in self.oils.items() if share >= NAMED_OIL_SHARE]
        return f"natural oils vary in composition ({listed(named)})"

    def rests_on_an_estimate(self) -> str:
        named = [name for name, share in self.estimated.items() if share > WEIGHTY_FLASH_SHARE]
        return f"an important input is estimated ({listed(named)})"

    def left_out(self) -> str:
        return "; ".join(self.notes)

    def can_not_be_counted(self) -> str:
        return f"unknown composition: {listed(self.without_vapour_data)}"

    def reasons(self) -> tuple[str, ...]:
        """What forbids the standing "clear" of this blend."""
        return tuple(reason.words(self) for reason in REASONS if reason.holds(self.facts)[0])


@dataclass(frozen=True)
class Reason:
    """One thing that forbids the standing "clear", over blends, and its words for one of them."""

    holds: Callable[[DoubtFacts], Bools]
    words: Callable[[OneDoubt], str]


REASONS = (
    Reason(lambda facts: facts.oil_flash_share > WEIGHTY_FLASH_SHARE, OneDoubt.oils_vary),
    Reason(
        lambda facts: facts.estimated_flash_share > WEIGHTY_FLASH_SHARE,
        OneDoubt.rests_on_an_estimate,
    ),
    Reason(
        lambda facts: facts.burns_in_layers | (facts.liquid_20C == "unknown"),
        lambda _: "it may not be one homogeneous liquid",
    ),
    Reason(
        lambda facts: facts.dissolution_20C != "dissolves",
        lambda _: "crystals may stay undissolved",
    ),
    Reason(lambda facts: facts.without_groups, OneDoubt.left_out),
    Reason(lambda facts: facts.lacks_vapour_data, OneDoubt.can_not_be_counted),
)
