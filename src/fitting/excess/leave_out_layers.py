"""What the second stage is worth on layers that it did not see.

Saturation curves: with 15 % less alcohol than on the measured curve there are certainly two
liquids, with 15 % more certainly one. The hydrocarbon is left out of both stages, or the system out
of the second. Clear limits: the strength at which the second liquid ends, less the published limit,
each material left out of the second stage.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from blendwright.mixture.parameter_sets import Array
from fitting.excess.fit import Fit
from fitting.excess.layers import (
    SPIRITS,
    ClearLimit,
    Learned,
    SaturationPoint,
    curve_points,
    incipient,
    limits,
)
from fitting.excess.rows import FitRow
from fitting.excess.shipped import Posterior, posterior, weights
from fitting.excess.stages import Three, three_of

LESS, MORE = 0.85, 1.15
LEAST_ALCOHOL = 0.3  # mass fraction; with less, 15 % of it is too little to be certain
FORGOTTEN = 1e4  # noise of a row that is left out


@dataclass(frozen=True)
class Curves:
    """Points of known state near measured curves."""

    question: str
    count: int
    right: int
    certain_two: int
    two_called_clear: int
    certain_one: int
    one_called_two: int

    def __str__(self) -> str:
        return (
            f"{self.question}: {self.right} of {self.count} right; {self.two_called_clear} of "
            f"{self.certain_two} with two liquids called clear; {self.one_called_two} of "
            f"{self.certain_one} with one called two"
        )


def curves(
    question: str, without: Callable[[SaturationPoint], tuple[str, ...]],
    learned_without: Callable[[tuple[str, ...]], Learned],
) -> Curves:  # fmt: skip
    """Every point of ethanol and isopropanol, with what `without` says left out."""
    outcome: list[tuple[bool, bool]] = []
    points = [
        p for p in curve_points() if p.many.names[0] in SPIRITS and p.mass[0] >= LEAST_ALCOHOL
    ]
    points.sort(key=lambda p: (without(p), p.many.names, round(p.kelvin, 1)))
    for out, group in groupby(points, key=without):
        learned = learned_without(out)
        for (_, kelvin), same in groupby(group, key=lambda p: (p.many.names, round(p.kelvin, 1))):
            here = list(same)
            many = here[0].many
            terms = learned.terms(many).at(kelvin).one(0)
            for share in (LESS, MORE):
                x = np.array([p.x * np.where(np.arange(3) == 0, share, 1.0) for p in here])
                distance, _ = incipient(many, terms, x / x.sum(axis=1, keepdims=True), kelvin)
                outcome += [(share == LESS, bool(d < 0.0)) for d in distance]
    two = [said for truly, said in outcome if truly]
    one = [said for truly, said in outcome if not truly]
    return Curves(
        question, len(outcome), sum(t == s for t, s in outcome), len(two),
        sum(not s for s in two), len(one), sum(one),
    )  # fmt: skip


def without_hydrocarbon(
    pairs: Fit, three: Three, prior: Mapping[str, float]
) -> Callable[[tuple[str, ...]], Learned]:
    """Learned terms when all rows that hold a substance are left out of both stages."""

    def learned(names: tuple[str, ...]) -> Learned:
        (name,) = names
        held = np.array([name in r.names for r in pairs.design.rows])
        fit = replace(pairs, noise=np.where(held, FORGOTTEN, pairs.noise))
        first = posterior(fit)
        rows = [r for r in three.rows if name not in r.names]
        return second_stage(first, rows, prior)

    return learned


def second_stage(first: Posterior, rows: Sequence[FitRow], prior: Mapping[str, float]) -> Learned:
    known = dict(prior)
    before = Learned(weights([first]), known, without_three=True)
    made = three_of(rows, before, prior)
    return Learned(weights([first, made.posterior()]), known)


def cloud_strength_pct(limit: ClearLimit, learned: Learned) -> float:
    """The highest strength at which the blend of a limit has two liquids; 0 where none has."""
    grid = np.arange(97.0, 2.0, -1.0)
    for strength in grid:
        blend = limit.blend(float(strength))
        if blend is None:
            return float("nan")
        many, x = blend
        distance, _ = incipient(many, learned.terms(many).at(limit.kelvin).one(0), x, limit.kelvin)
        if distance[0] < 0.0:
            return float(strength)
    return 0.0


def strengths(
    first: Posterior, three: Three, prior: Mapping[str, float]
) -> list[tuple[ClearLimit, float]]:
    """Each limit's cloud strength, its own row left out of the second stage."""
    return [
        (
            limit,
            cloud_strength_pct(
                limit,
                second_stage(
                    first,
                    [r for r in three.rows if r.details.get("about") != limit.material],
                    prior,
                ),
            ),
        )
        for limit in limits()
    ]


def summary(found: Sequence[tuple[ClearLimit, float]]) -> str:
    lines = []
    for label, is_oil in (("single substances", False), ("oils", True)):
        off: Array = np.array([s - w.strength_pct for w, s in found if w.is_oil == is_oil])
        clear = int((off <= 0.0).sum())
        lines.append(
            f"{label}: cloud strength less the published limit {off.mean():.1f} +- {off.std():.1f} "
            f"% alcohol; clear at the limit {clear} of {len(off)}"
        )
    return "\n".join(lines)
