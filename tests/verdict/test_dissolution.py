"""The word for crystals and their chance agree, and agree with the word for layers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import assess
from blendwright.app.batch import assess_many
from blendwright.estimate import Estimate
from blendwright.mixture.interval import Interval
from blendwright.verdict.dissolution_and_layers import (
    CLEAR_BELOW,
    WARMEST_SENSIBLE_K,
    chance_of_crystals,
    chances_of_crystals,
    dissolution_word,
    liquid_word,
    warm_to_K,
)
from tests.conftest import formula

sides_K = st.floats(0.0, 80.0)
kelvins = st.floats(233.15, 353.15)


def last(value: float, below: float, above: float) -> Estimate:
    return Estimate.ok(value, value - below, value + above, "K", "test")


@given(kelvins, sides_K, sides_K, kelvins)
def test_dissolves_is_said_just_where_clear_would_be(
    value: float, below: float, above: float, at_K: float
) -> None:
    found = last(value, below, above)
    chance = chance_of_crystals(found, at_K)
    assert chance is not None
    if abs(chance - CLEAR_BELOW) < 1e-9:
        return
    assert (dissolution_word(found, at_K) == "dissolves") == (liquid_word(chance) == "clear")


@given(kelvins, sides_K, sides_K)
def test_the_chance_of_crystals_falls_on_warming_from_certain_to_none(
    value: float, below: float, above: float
) -> None:
    grid = np.linspace(value - 400.0, value + 400.0, 81)
    one = Interval.from_estimate(last(value, below, above))
    chances = [float(chances_of_crystals(one, float(kelvin))[0]) for kelvin in grid]
    assert (np.diff(chances) <= 1e-12).all()
    assert chances[0] > 0.99
    assert chances[-1] == 0.01  # an estimate is never certain
    assert float(chances_of_crystals(one, value)[0]) == pytest.approx(0.5)


@given(kelvins, st.floats(1.0, 80.0), st.floats(1.0, 80.0))
def test_the_ends_of_the_interval_are_chances_of_one_in_twenty(
    value: float, below: float, above: float
) -> None:
    found = last(value, below, above)
    assert chance_of_crystals(found, value + above) == pytest.approx(0.05, abs=0.01)
    assert chance_of_crystals(found, value - below) == pytest.approx(0.95, abs=0.01)


@given(kelvins, sides_K, sides_K, kelvins)
def test_where_it_is_warmed_to_it_dissolves(
    value: float, below: float, above: float, at_K: float
) -> None:
    found = last(value, below, above)
    target = warm_to_K(found, at_K)
    if target is not None:
        assert at_K < target <= WARMEST_SENSIBLE_K + 10.0
        assert dissolution_word(found, target) == "dissolves"


@pytest.mark.parametrize(
    "rows",
    [
        (("vanillin", 1.0), ("propylene glycol", 9.0)),
        (("camphor", 3.0), ("ethanol", 7.0)),
        (("vanillin", 4.0), ("propylene glycol", 6.0)),
        (("linalool", 1.0), ("ethanol", 9.0)),
    ],
)  # fmt: skip
def test_assessment_json_first_screen_and_batch_say_one_chance(
    rows: tuple[tuple[str, float], ...],
) -> None:
    from blendwright.report.answers_at_a_glance import at_a_glance

    made = assess(formula(*rows))
    chance = made.chance_of_crystals
    assert chance is not None
    assert made.to_dict()["chance_of_crystals"] == chance
    assert assess_many([formula(*rows)]).to_pylist()[0]["chance_of_crystals"] == pytest.approx(
        chance, abs=1e-6
    )
    said = at_a_glance(made).dissolves.in_full
    if made.solids:
        assert "chance of crystals" in said
    else:
        assert chance == 0.0
        assert "no crystals in it" in said


def test_a_flash_point_above_the_boiling_point_says_that_it_boils_first() -> None:
    from blendwright.report.answers_at_a_glance import at_a_glance

    made = assess(formula(("tricaprin", 20.0), ("water", 80.0)))
    assert "boils first at 100 °C" in at_a_glance(made).burns.sentence
    flash = made.estimates["flash_point_closed_cup"]
    assert any("boils first" in note for note in flash.notes)
    boiling = made.estimates["initial_boiling_point"]
    assert any(note.startswith("boils first: water 100 %") for note in boiling.notes)
    spirit = at_a_glance(assess(formula(("linalool", 1.0), ("ethanol", 9.0))))
    assert "boils first" not in spirit.burns.sentence


def test_of_layers_the_boiling_point_names_what_boils_first() -> None:
    made = assess(formula(("limonene", 30.0), ("water", 70.0)))
    notes = made.estimates["initial_boiling_point"].notes
    assert any("boils first: water" in note and "limonene" in note for note in notes)
