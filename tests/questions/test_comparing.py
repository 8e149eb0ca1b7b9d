"""Two assessments side by side."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, assess, compare
from blendwright.estimate import Estimate
from blendwright.questions.comparing import Difference

PG = Formula.of({"PG": 10}, "carrier")
FRUIT = Formula.of({"ethyl acetate": 3, "PG": 7}, "fruit")


def test_a_formula_against_itself_differs_in_nothing() -> None:
    made = assess(FRUIT)
    same = compare(made, made)
    assert not any(verdict.changed for verdict in same.verdicts)
    assert all(d.change in (0.0, None) for d in same.differences)
    assert not any(d.beyond_intervals for d in same.differences)
    assert same.findings_gone == same.findings_new == same.notes == ()


def test_a_volatile_ester_lowers_the_flash_point_beyond_the_intervals() -> None:
    made = compare(assess(PG, temperature_K=298.15), assess(FRUIT, temperature_K=293.15))
    flash = next(d for d in made.differences if d.what == "flash_point_closed_cup")
    assert flash.change is not None
    assert flash.change < -30.0
    assert flash.beyond_intervals is True
    assert "FLASH-AT-BENCH" in made.findings_new
    assert "25 °C" in made.notes[0]
    assert "20 °C" in made.notes[0]
    back = compare(assess(FRUIT, temperature_K=293.15), assess(PG, temperature_K=298.15))
    assert back.findings_gone == made.findings_new
    assert made.to_dict()["schema"] == "blendwright/comparison/1"


spans = st.lists(st.floats(-50, 50), min_size=3, max_size=3).map(sorted)


@given(spans, spans)
def test_beyond_means_that_the_intervals_are_apart(one: list[float], two: list[float]) -> None:
    made = [Estimate.ok(x[1], x[0], x[2], "K", "test") for x in (one, two)]
    there, back = Difference("x", *made), Difference("x", made[1], made[0])
    assert there.beyond_intervals == back.beyond_intervals
    assert there.change == pytest.approx(-(back.change or 0.0))
    assert there.beyond_intervals == (max(one[0], two[0]) > min(one[2], two[2]))


def test_unknown_is_never_a_difference() -> None:
    unknown = Estimate.unknown("K", "no data")
    made = Difference("x", unknown, Estimate.ok(1.0, 0.0, 2.0, "K", "test"))
    assert made.change is None
    assert made.beyond_intervals is None
