"""Which rows lose a good part of themselves while the beaker stands open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blendwright.estimate import per_cent
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools, Ints
from blendwright.verdict.rule import CAUTION, Rule, Rules, Words, when

STRONG_LOSS = 0.05  # of a row, in 20 minutes' stirring in an open beaker
MOST_SHOWN = 5
STIRRED_s = 1200.0  # 20 minutes


@dataclass(frozen=True, eq=False)
class RowLosses:
    """For each row of some blends the share that is lost, and whether it is water, which nobody
    misses; which blend it is of, and how many blends there are."""

    share: Array
    is_water: Bools
    row_blend: Ints
    size: int

    @cached_property
    def strong(self) -> Bools:
        return np.asarray((self.share > STRONG_LOSS) & ~self.is_water)

    @cached_property
    def some_strong(self) -> Bools:
        return np.bincount(self.row_blend, weights=self.strong, minlength=self.size) > 0.0


@dataclass(frozen=True)
class Loss:
    """What one row loses: grams, and the share of the row."""

    material: str
    grams: float
    share: float
    is_water: bool = False


@dataclass(frozen=True)
class OneLoss:
    """What each row of one blend loses."""

    losses: Sequence[Loss]

    @property
    def facts(self) -> RowLosses:
        return RowLosses(
            np.array([loss.share for loss in self.losses], dtype=float),
            np.array([loss.is_water for loss in self.losses], dtype=bool),
            np.zeros(len(self.losses), dtype=np.int64),
            1,
        )

    def strong(self) -> Words:
        """The worst first."""
        rows = [self.losses[i] for i in np.flatnonzero(self.facts.strong).tolist()]
        rows = sorted(rows, key=lambda loss: -loss.share)
        shown = ", ".join(
            f"{loss.material} {per_cent(loss.share)} ({loss.grams:.2g} g)"
            for loss in rows[:MOST_SHOWN]
        )
        return (
            f"20 minutes' stirring in an open 6 cm beaker loses about, within a factor 2: {shown}.",
            "Cover it; add the light materials last and cold.",
            tuple(loss.material for loss in rows),
        )


EVAPORATION: Rules[RowLosses, OneLoss] = (
    Rule("EVAPORATES", lambda facts: when(facts.some_strong, CAUTION), OneLoss.strong),
)
