"""How large a drop is, and how many make a dose."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.estimate import Estimate
from blendwright.questions.drink.dosing import Dose, dose
from blendwright.questions.volumes.drops import DropCount, DropError, drop_dose, drops_per_mL
from blendwright.verdict.dosing import FIRST_TASTING
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

WATER_LIKE = Estimate.ok(1000.0, 999.0, 1001.0, "kg/m3", "for the test")
DENSE = Estimate.ok(1260.0, 1250.0, 1270.0, "kg/m3", "for the test")


def millilitres(drop: Estimate) -> float:
    return drop.interval()[0] * 1e6


def test_the_usual_drop_is_a_twentieth_of_a_millilitre() -> None:
    """Common practice, no source."""
    assert millilitres(DropCount().volume(None)) == pytest.approx(0.05)


def test_counted_drops() -> None:
    assert millilitres(DropCount(drops_per_mL=32).volume(None)) == pytest.approx(1 / 32)


@pytest.mark.parametrize(("density", "drop_mL"), [(WATER_LIKE, 0.022), (DENSE, 0.022 / 1.26)])
def test_weighed_drops_follow_through_the_density(density: Estimate, drop_mL: float) -> None:
    """50 drops weigh 1.1 g: 0.022 g each, over 1.000 or 1.260 g/mL."""
    found = DropCount(drops=50, drops_weigh_g=1.1).volume(density)
    assert millilitres(found) == pytest.approx(drop_mL)


@given(per_mL=st.floats(2, 500))
def test_drops_and_their_count_to_the_millilitre_are_inverse(per_mL: float) -> None:
    drop = DropCount(drops_per_mL=per_mL).volume(None)
    value, low, high = drops_per_mL(drop).interval()
    assert value == pytest.approx(per_mL)
    assert low < value < high


@given(drops=st.integers(10, 500), drop_mL=st.floats(0.01, 0.1), density=st.floats(700, 1300))
def test_a_calibration_gives_back_the_drop_that_was_weighed(
    drops: int, drop_mL: float, density: float
) -> None:
    rho = Estimate.ok(density, density, density, "kg/m3", "for the test")
    weighed_g = drops * drop_mL * density / 1e3
    found = DropCount(drops=drops, drops_weigh_g=weighed_g).volume(rho)
    assert millilitres(found) == pytest.approx(drop_mL)


def test_few_drops_make_a_poor_mean_and_are_told_so() -> None:
    assert DropCount(drops=3, drops_weigh_g=0.15).volume(WATER_LIKE).notes
    assert not DropCount(drops=50, drops_weigh_g=2.5).volume(WATER_LIKE).notes


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"drops": 50}, "both numbers"),
        ({"drops_weigh_g": 1.1}, "both numbers"),
        ({"drop_mL": 0.05, "drops_per_mL": 20}, "in one way"),
        ({"drops_per_mL": 0}, "no drop"),
        ({"drop_mL": -1}, "no drop"),
    ],
)
def test_what_is_no_calibration_is_refused(given: dict[str, float], message: str) -> None:
    with pytest.raises(DropError, match=message):
        DropCount(**given)


def test_a_drop_that_no_dropper_gives_is_refused() -> None:
    with pytest.raises(DropError, match="count and weigh again"):
        DropCount(drops=2, drops_weigh_g=50).volume(WATER_LIKE)
    with pytest.raises(DropError, match="density"):
        DropCount(drops=50, drops_weigh_g=1).volume(Estimate.unknown("kg/m3", "none"))


def test_the_first_tasting_dose_is_two_drops_in_100_mL_of_sugar_water() -> None:
    """Two drops in 100 mL of 10 % sugar solution: common practice, no source."""
    ours = drop_dose(DropCount().volume(None), WATER_LIKE)
    assert ours.is_first_tasting
    assert ours.drops.value == 2.0
    assert ours.volume.interval()[0] * 1e6 == pytest.approx(Dose.of(drops=2, per_mL=100).mL)
    assert "Two drops in 100 mL of 10 % sugar solution" in FIRST_TASTING
    dosed = dose(formula(*ESTER_RICH_CONCENTRATE), "10 % sugar", Dose.of(drops=2))
    assert FIRST_TASTING in dosed.said


def test_a_dose_in_millilitres_told_in_drops() -> None:
    ours = drop_dose(DropCount(drops_per_mL=32).volume(None), WATER_LIKE, dose_mL=0.25)
    assert ours.drops.value == pytest.approx(8.0)
    assert ours.mass.in_display_units().value == pytest.approx(0.25)
