"""One line of the accuracy table: how wrong, how biased, and does the interval hold?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

SINGLE_SETS = ("dortmund", "dortmund2", "nist", "unifac2", "original", "liquid_liquid")
"""The parameter sets that stand beside blendwright's own answer, each as published."""
COVERAGE = 0.90
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Case:
    """One comparison: what was measured, what we say, and our 90 % half-width (None: no claim).

    `others` holds the errors of a naive baseline and of single published models by title.
    """

    name: str
    error: float
    half_width: float | None
    group: str = "all"
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Figures:
    """Statistics of the errors in one unit. `coverage` is None where no interval is claimed."""

    question: str
    unit: str
    n: int
    mean_absolute: float
    bias: float
    root_mean_square: float
    worst: tuple[tuple[str, float], ...]
    coverage: float | None
    mean_half_width: float | None
    others: tuple[tuple[str, int, float, float], ...]  # title, n, mean absolute, root mean square

    def to_dict(self) -> dict[str, object]:
        return {
            "question": self.question,
            "unit": self.unit,
            "n": self.n,
            "mean_absolute_error": self.mean_absolute,
            "bias": self.bias,
            "root_mean_square": self.root_mean_square,
            "worst": [{"name": name, "error": error} for name, error in self.worst],
            "interval_90_coverage": self.coverage,
            "interval_90_mean_half_width": self.mean_half_width,
            "beside": [
                {"model": title, "n": n, "mean_absolute_error": mean, "root_mean_square": square}
                for title, n, mean, square in self.others
            ],
        }


@dataclass(frozen=True)
class Counted:
    """How often a yes-or-no check holds, beside its target share, and which missed."""

    question: str
    hits: int
    n: int
    target: float
    missed: tuple[str, ...]

    @property
    def share(self) -> float:
        return self.hits / self.n

    def to_dict(self) -> dict[str, object]:
        return {
            "question": self.question,
            "hits": self.hits,
            "n": self.n,
            "target_share": self.target,
            "missed": list(self.missed),
        }


def figures(question: str, unit: str, cases: Sequence[Case], worst: int = 5) -> Figures:
    """The table's line; raises ValueError for no cases."""
    if not cases:
        raise ValueError(f"nothing to compare for {question}")
    errors = np.array([c.error for c in cases])
    claimed = [c for c in cases if c.half_width is not None]
    inside = [abs(c.error) <= (c.half_width or 0.0) for c in claimed]
    order = np.argsort(-np.abs(errors))[:worst]
    titles = dict.fromkeys(title for c in cases for title, _ in c.others)
    others = []
    for title in titles:
        found = np.array([e for c in cases for t, e in c.others if t == title])
        others.append((title, len(found), float(np.abs(found).mean()), _rms(found)))
    return Figures(
        question=question,
        unit=unit,
        n=len(cases),
        mean_absolute=float(np.abs(errors).mean()),
        bias=float(errors.mean()),
        root_mean_square=_rms(errors),
        worst=tuple((cases[i].name, float(errors[i])) for i in order),
        coverage=float(np.mean(inside)) if claimed else None,
        mean_half_width=float(np.mean([c.half_width for c in claimed])) if claimed else None,
        others=tuple(others),
    )


def _rms(errors: np.ndarray) -> float:
    return float(np.sqrt((errors**2).mean()))


def acceptance(n: int) -> tuple[float, float]:
    """The central 95 % binomial region of the share inside true 90 % intervals.

    >>> tuple(round(x, 2) for x in acceptance(100))
    (0.84, 0.95)
    """
    tail = (1.0 - CONFIDENCE) / 2.0
    return (
        float(binom.ppf(tail, n, COVERAGE)) / n,
        float(binom.ppf(1.0 - tail, n, COVERAGE)) / n,
    )
