"""A knob stops at the first point that does, or where it comes nearest without losing anything."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.mixture.weighing import Weighing
from blendwright.questions.advice import knobs
from blendwright.questions.advice.goals import Goal
from blendwright.questions.advice.knobs import Aim, turned

Margin = Callable[[float], float]
MISSED, KEPT = Goal("flash", 313.15), Goal("stays", 293.15)
AIM = Aim((MISSED, KEPT), (False, True))


class Law:
    """Margins as plain functions of the knob's turn, in the place of the models."""

    def __init__(self, missed: Margin, kept: Margin, monkeypatch: pytest.MonkeyPatch) -> None:
        self.of = {MISSED: missed, KEPT: kept}
        monkeypatch.setattr(knobs, "margin", lambda goal, turn: self.of[goal](turn))
        monkeypatch.setattr(
            knobs, "worst_margin", lambda goals, turn: min(self.of[g](turn) for g in goals)
        )

    @staticmethod
    def knob(turn: float) -> Weighing:
        class Made:
            composition = turn

        return Made()  # type: ignore[return-value]


@given(where=st.floats(0.01, 0.99), slope=st.floats(0.1, 30.0))
def test_it_stops_where_the_goal_is_first_met(where: float, slope: float) -> None:
    with pytest.MonkeyPatch.context() as patch:
        law = Law(lambda t: slope * (t - where), lambda t: 1.0, patch)
        found = turned(law.knob, AIM)
        assert found is not None
        assert found.meets
        assert where <= found.turn <= where + 3e-3


@given(top=st.floats(-5.0, -0.1), where=st.floats(0.2, 0.9))
def test_it_stays_where_it_comes_nearest(top: float, where: float) -> None:
    """A margin with a summit below zero: the best scanned turn, or one that is nearly as good."""
    with pytest.MonkeyPatch.context() as patch:
        law = Law(lambda t: top - 20.0 * abs(t - where), lambda t: 1.0, patch)
        found = turned(law.knob, AIM)
        assert found is not None
        assert not found.meets
        scanned = [(i / knobs.SCAN) ** 2 for i in range(knobs.SCAN + 1)]
        best = max(law.of[MISSED](t) for t in scanned)
        assert found.nearness >= best - knobs.NEARLY_AS_NEAR


@given(edge=st.floats(0.1, 0.9))
def test_no_goal_that_is_met_is_lost_for_another(edge: float) -> None:
    """The flash point rises all the way, but beyond the edge the blend clouds."""
    with pytest.MonkeyPatch.context() as patch:
        law = Law(lambda t: t - 2.0, lambda t: edge - t, patch)
        found = turned(law.knob, AIM)
        assert found is not None
        assert found.turn <= edge


def test_a_knob_that_does_not_help_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    law = Law(lambda t: -1.0 - t, lambda t: 1.0, monkeypatch)
    assert turned(law.knob, AIM) is None
    law = Law(lambda t: t - 2.0, lambda t: -t, monkeypatch)
    assert turned(law.knob, AIM) is None
