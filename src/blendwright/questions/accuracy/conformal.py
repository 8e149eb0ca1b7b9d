"""How wide must an interval be to hold 90 % of what was never seen?

Split conformal prediction on normalised scores, s = |error| / half-width claimed so far (Vovk,
Gammerman and Shafer 2005; Lei et al. 2018). The points of one substance aren't independent, so the
unit is the substance: each of K substances weighs 1 / (K + 1), shared evenly by its points, and
1 / (K + 1) lies at infinity; the factor is the 90 % quantile of that distribution. For a substance
drawn like the K the widened interval then holds a point of it with probability 0.90 or more,
whatever the distribution of the errors (hierarchical conformal prediction: Lee, Barber and Willett
2023, arXiv:2306.06342; Dunn, Wasserman and Ramdas 2023).

By kind (Mondrian): a kind with FEWEST_JUDGED points and enough substances for a finite quantile has
a factor of its own. Others take, as the written rule for few data,

    FEW_WIDENING x the larger of the pooled factor and the 90 % quantile of the kind's own scores

There the pooled factor, too, is the plain quantile of all scores if there are fewer than
FEWEST_SUBSTANCES in all, and then it is never less than 1: so few don't narrow an interval.

mapie and crepes were looked at: neither counts by substance within kinds, and what is needed here
is a sorted sum.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from blendwright.pure.intervals import FEW
from blendwright.questions.accuracy.table_lines import COVERAGE, FEWEST_JUDGED, Case

FEWEST_SUBSTANCES = 10  # with nine the quantile would be the largest score of all
FEW_WIDENING = 1.25  # common practice, no source


@dataclass(frozen=True)
class Score:
    """One point: whose it is, of which kind, and |error| over the half-width before the factor."""

    substance: Hashable
    kind: str
    ratio: float


def quantile(scores: Sequence[Score], coverage: float = COVERAGE) -> float:
    """The conformal quantile by substance; infinite where there are too few substances.

    >>> quantile([Score(str(i), "all", float(i)) for i in range(1, 20)])
    18.0
    """
    points: dict[Hashable, int] = {}
    for score in scores:
        points[score.substance] = points.get(score.substance, 0) + 1
    if len(points) < FEWEST_SUBSTANCES:
        return math.inf
    total = 1.0 / (len(points) + 1.0)
    reached = 0.0
    for score in sorted(scores, key=lambda s: s.ratio):
        reached += total / points[score.substance]
        if reached >= coverage - 1e-12:
            return score.ratio
    return math.inf


def factor(scores: Sequence[Score], kind: str) -> float:
    """What the scores teach for one kind, by the rule above."""
    own = [s for s in scores if s.kind == kind]
    learned = quantile(own) if len(own) >= FEWEST_JUDGED else math.inf
    if math.isfinite(learned):
        return learned
    pooled = quantile(scores)
    if math.isfinite(pooled):
        return FEW_WIDENING * max(pooled, _plain(own))
    return max(1.0, FEW_WIDENING * max(_plain(scores), _plain(own)))


def _plain(scores: Sequence[Score]) -> float:
    return float(np.quantile([s.ratio for s in scores], COVERAGE)) if scores else 0.0


def left_out(scores: Sequence[Score]) -> list[float]:
    """For each score the factor that the other substances teach for its kind."""
    return [factor([s for s in scores if s.substance != one.substance], one.kind) for one in scores]


def scores_of(cases: Sequence[Case]) -> list[Score]:
    """Scores of cases whose half-widths are those before any factor."""
    made = []
    for case in cases:
        assert case.half_width is not None
        made.append(Score(case.unit, case.group, abs(case.error) / case.half_width))
    return made


def calibrated(cases: Sequence[Case]) -> list[Case]:
    """The cases with each half-width times the factor that the other substances teach."""
    return [
        replace(case, half_width=factor * (case.half_width or 0.0))
        for case, factor in zip(cases, left_out(scores_of(cases)), strict=True)
    ]


def table(question: str, scores: Sequence[Score]) -> list[str]:
    """The lines of interval_factors.csv for one question."""
    lines = []
    for kind in [*sorted({s.kind for s in scores}), FEW]:
        own = [s for s in scores if s.kind == kind]
        lines.append(
            f'"{question}","{kind}",{len(own)},{len({s.substance for s in own})},'
            f"{factor(scores, kind):.3f}"
        )
    return lines
