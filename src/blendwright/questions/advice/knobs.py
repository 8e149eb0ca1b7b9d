"""Turning one knob of a formula to the first point where the goals are met, or as near as it gets.

The knob is scanned for a bracket, then `pure.roots` finds where the worst margin is zero. Where it
never is, the knob stays where the missed goals come nearest, while no goal that is met now is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.mixture.weighing import Weighing
from blendwright.pure.roots import Array, Ints, roots_between
from blendwright.questions.advice.goals import Goal, margin, worst_margin

SCAN = 8
SMALLEST_TURN = 1e-3  # of the knob's range
NEARLY_AS_NEAR = 0.1  # of a margin: 1 °C of flash point
LEAST_GAIN = 0.02  # of a margin: less is no help
WORST = float("-inf")


@dataclass(frozen=True)
class Aim:
    """The goals that a search goes for, and which of them the formula meets already."""

    goals: tuple[Goal, ...]
    kept: tuple[bool, ...]

    @classmethod
    def of(cls, goals: tuple[Goal, ...], weighing: Weighing) -> Aim:
        return cls(goals, tuple(margin(goal, weighing.composition) >= 0.0 for goal in goals))

    @property
    def missed(self) -> tuple[Goal, ...]:
        """The goals that the formula does not meet yet."""
        return tuple(g for g, kept in zip(self.goals, self.kept, strict=True) if not kept)

    def worst_margin(self, weighing: Weighing) -> float:
        """The least of all goals' margins."""
        return worst_margin(self.goals, weighing.composition)

    def distance(self, weighing: Weighing) -> float:
        """How far the missed goals are still off: 0 where they are met, else their worst margin."""
        return min(0.0, worst_margin(self.missed, weighing.composition)) if self.missed else 0.0

    def keeps(self, weighing: Weighing) -> bool:
        """Whether no goal is lost that was met."""
        return all(
            margin(goal, weighing.composition) >= 0.0
            for goal, kept in zip(self.goals, self.kept, strict=True)
            if kept
        )

    def nearness(self, weighing: Weighing) -> float:
        """`distance`, or WORST where a goal is lost that was met."""
        return self.distance(weighing) if self.keeps(weighing) else WORST


@dataclass(frozen=True)
class Turned:
    """Where a knob was left: how far it was turned, what it makes, and how near that is."""

    turn: float
    weighing: Weighing
    nearness: float

    @property
    def meets(self) -> bool:
        return self.nearness >= 0.0


def turned(knob: Callable[[float], Weighing], aim: Aim, most: float = 1.0) -> Turned | None:
    """A knob turned from 0 to at most `most`; None where it brings nothing nearer."""
    seen: list[Turned] = []  # `nearness` without the goals that must be kept: they take longer
    for i in range(SCAN + 1):
        turn = most * (i / SCAN) ** 2
        made = knob(turn)
        seen.append(Turned(turn, made, aim.distance(made)))
        if seen[-1].meets and aim.keeps(made):
            return _first(knob, aim, seen[-2:])
    return _nearest(seen, aim)


def _first(knob: Callable[[float], Weighing], aim: Aim, last: Sequence[Turned]) -> Turned:
    """Where the worst margin passes zero, between a turn that misses and one that meets."""
    high = last[-1]
    if len(last) == 1:
        return high

    def worst(turns: Array, _: Ints) -> Array:
        return np.array([aim.worst_margin(knob(float(turn))) for turn in turns])

    low, range_ = last[0].turn, high.turn - last[0].turn
    ends = worst(np.array([low, high.turn]), np.arange(2))
    if ends[0] >= 0.0 or ends[1] < 0.0:  # a matter of the last digit
        return high
    found = roots_between(
        worst,
        np.array([low]),
        np.array([high.turn]),
        SMALLEST_TURN * range_,
        ends[:1],
        ends[1:],
    )
    turn = float(found.high[0])  # the root's upper side meets, converged or not
    return Turned(turn, knob(turn), 0.0)


def _nearest(seen: list[Turned], aim: Aim) -> Turned | None:
    """The smallest turn that is nearly as near as the best, of those that keep what is met."""
    helps = [one for one in seen if one.nearness > seen[0].nearness + LEAST_GAIN]
    by_distance = sorted(helps, key=lambda one: -one.nearness)
    best = next((one for one in by_distance if aim.keeps(one.weighing)), None)
    if best is None:
        return None
    near = (one for one in helps if one.nearness >= best.nearness - NEARLY_AS_NEAR)
    return next(one for one in near if one is best or aim.keeps(one.weighing))
