"""One line of the accuracy table: how wrong, how biased, and does the interval hold?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

COVERAGE = 0.90
CONFIDENCE = 0.95
FEWEST_JUDGED = 20  # a kind with fewer points is not judged by itself
NEARLY_ALL = 0.8
ROUNDING = 1e-9
NAIVE = "(naive)"  # marks the title of a baseline that is no published model


@dataclass(frozen=True)
class Case:
    """One comparison: what was measured, what we say, and our 90 % half-width (None: no claim).

    `group` is the kind whose interval it has; `substance` is what was left out as new (the name,
    if not told). `others` holds the errors of a naive baseline and of single published models by
    title. `measured` is the published number, for the plot.
    """

    name: str
    error: float
    half_width: float | None
    group: str = "all"
    others: tuple[tuple[str, float], ...] = ()
    substance: str = ""
    measured: float | None = None

    @property
    def unit(self) -> str:
        """Points of one unit aren't independent."""
        return self.substance or self.name


@dataclass(frozen=True)
class Beside:
    """A naive baseline or a single published model on the cases that it can answer.

    `quantile` is the 90 % quantile of its own absolute errors: the half-width that it would need.
    """

    title: str
    n: int
    mean_absolute: float
    root_mean_square: float
    quantile: float

    def to_dict(self) -> dict[str, object]:
        return {
            "model": self.title,
            "n": self.n,
            "mean_absolute_error": self.mean_absolute,
            "root_mean_square": self.root_mean_square,
            "error_90_quantile": self.quantile,
        }


@dataclass(frozen=True)
class Coverage:
    """How often the 90 % intervals of one kind hold, and how wide they are.

    `share` counts points; `by_substance` gives each substance the same weight, which is what the
    acceptance region of n = `substances` draws is for. `best` is the single published model with
    the least error on nearly all cases of the kind, `quantile` what it would need.
    """

    kind: str
    n: int
    substances: int
    share: float
    by_substance: float
    mean_half_width: float
    best: str
    quantile: float | None

    @property
    def accepted(self) -> bool:
        low, high = acceptance(self.substances)
        return low - ROUNDING <= self.by_substance <= high + ROUNDING

    @property
    def width_ratio(self) -> float | None:
        """Our mean half-width over what the best single model would need."""
        return self.mean_half_width / self.quantile if self.quantile else None

    def to_dict(self) -> dict[str, object]:
        low, high = acceptance(self.substances)
        return {
            "kind": self.kind,
            "n": self.n,
            "substances": self.substances,
            "coverage": self.share,
            "coverage_by_substance": self.by_substance,
            "acceptance": [low, high],
            "accepted": self.accepted,
            "mean_half_width": self.mean_half_width,
            "best_single_model": self.best or None,
            "its_error_90_quantile": self.quantile,
            "width_ratio": self.width_ratio,
        }


@dataclass(frozen=True)
class Figures:
    """Statistics of the errors in one unit. `coverage` is empty where no interval is claimed;
    else all cases first, then the kinds with FEWEST_JUDGED points."""

    question: str
    unit: str
    n: int
    mean_absolute: float
    bias: float
    root_mean_square: float
    worst: tuple[tuple[str, float], ...]
    coverage: tuple[Coverage, ...]
    others: tuple[Beside, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "question": self.question,
            "unit": self.unit,
            "n": self.n,
            "mean_absolute_error": self.mean_absolute,
            "bias": self.bias,
            "root_mean_square": self.root_mean_square,
            "worst": [{"name": name, "error": error} for name, error in self.worst],
            "interval_90": [c.to_dict() for c in self.coverage],
            "beside": [other.to_dict() for other in self.others],
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
    order = np.argsort(-np.abs(errors))[:worst]
    titles = dict.fromkeys(title for c in cases for title, _ in c.others)
    return Figures(
        question=question,
        unit=unit,
        n=len(cases),
        mean_absolute=float(np.abs(errors).mean()),
        bias=float(errors.mean()),
        root_mean_square=_rms(errors),
        worst=tuple((cases[i].name, float(errors[i])) for i in order),
        coverage=_coverages(cases),
        others=tuple(_beside(title, cases) for title in titles),
    )


def _rms(errors: np.ndarray) -> float:
    return float(np.sqrt((errors**2).mean()))


def _beside(title: str, cases: Sequence[Case]) -> Beside:
    found = np.array([e for c in cases for t, e in c.others if t == title])
    size = np.abs(found)
    return Beside(
        title, len(found), float(size.mean()), _rms(found), float(np.quantile(size, COVERAGE))
    )


def _coverages(cases: Sequence[Case]) -> tuple[Coverage, ...]:
    claimed = [c for c in cases if c.half_width is not None]
    if not claimed:
        return ()
    kinds = dict.fromkeys(sorted(c.group for c in claimed))
    found = [coverage("all", claimed)]
    if len(kinds) > 1:
        by_kind = {kind: [c for c in claimed if c.group == kind] for kind in kinds}
        found += [coverage(k, own) for k, own in by_kind.items() if len(own) >= FEWEST_JUDGED]
    return tuple(found)


def coverage(kind: str, cases: Sequence[Case]) -> Coverage:
    """Coverage of cases that all claim an interval."""
    inside = np.array([abs(c.error) <= (c.half_width or 0.0) for c in cases])
    points: dict[str, int] = {}
    for case in cases:
        points[case.unit] = points.get(case.unit, 0) + 1
    weights = np.array([1.0 / points[c.unit] for c in cases])
    best = _best_single(cases)
    return Coverage(
        kind=kind,
        n=len(cases),
        substances=len(points),
        share=float(inside.mean()),
        by_substance=float(weights @ inside / weights.sum()),
        mean_half_width=float(np.mean([c.half_width for c in cases])),
        best=best.title if best else "",
        quantile=best.quantile if best else None,
    )


def _best_single(cases: Sequence[Case]) -> Beside | None:
    """The published model with the least error among those that answer nearly all cases."""
    titles = dict.fromkeys(t for c in cases for t, _ in c.others if NAIVE not in t)
    found = [_beside(title, cases) for title in titles]
    nearly_all = [b for b in found if b.n >= NEARLY_ALL * len(cases)]
    return min(nearly_all, key=lambda b: b.root_mean_square, default=None)


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
