"""GHS categories and when a category is clear."""

from __future__ import annotations

import pytest

from blendwright import assess
from blendwright.estimate import Estimate
from blendwright.verdict.classes import category_of
from blendwright.verdict.flammability import Doubts, classing, lower_bound_K
from tests.conftest import formula


def flash(value_C: float, half_K: float = 3.0) -> Estimate:
    kelvin = value_C + 273.15
    return Estimate.ok(kelvin, kelvin - half_K, kelvin + half_K, "K", "test")


BOILING = flash(78.0, 1.0)


@pytest.mark.parametrize(
    ("flash_C", "boiling_C", "category"),
    [
        (-20, 30, "1"), (-20, 35, "1"), (-20, 35.1, "2"), (22.9, 78, "2"), (23, 78, "3"),
        (60, 150, "3"), (60.1, 150, "4"), (93, 190, "4"), (93.1, 190, "none"), (-20, None, "1"),
    ],
)  # fmt: skip
def test_limits_of_ghs_chapter_2_6(flash_C: float, boiling_C: float | None, category: str) -> None:
    """GHS rev. 9, table 2.6.1: below 23, 23 to 60, above 60 to 93 °C; boiling at or below 35."""
    assert category_of(flash_C, boiling_C) == category


@pytest.mark.parametrize(
    ("flash_C", "half_K", "category", "standing"),
    [
        (70.0, 3.0, "4", "clear"),
        (64.9, 1.0, "4", "too_near"),  # within 5 °C of 60 (GHS 2.6.4.2)
        (65.5, 1.0, "4", "clear"),
        (75.0, 12.0, "4", "too_near"),  # the 99 % bound reaches below 60
        (30.0, 3.0, "3", "clear"),
        (26.0, 3.0, "3", "too_near"),
        (10.0, 3.0, "2", "clear"),  # no more hazardous category is in reach: it boils at 78 °C
    ],
)
def test_standing_is_clear_only_when_worse_is_out_of_reach(
    flash_C: float, half_K: float, category: str, standing: str
) -> None:
    found = classing("ghs", flash(flash_C, half_K), BOILING)
    assert (found.category, found.standing) == (category, standing)


def test_what_forbids_clear_makes_it_too_near() -> None:
    found = classing("ghs", flash(80.0), BOILING, Doubts(("natural oils vary",)))
    assert found.standing == "too_near"


def test_unknown_is_unknown_never_safe() -> None:
    found = classing("ghs", Estimate.unknown("K", "no data"), BOILING)
    assert (found.category, found.standing) == ("unknown", "unknown")


def test_the_one_sided_99_per_cent_bound() -> None:
    assert flash(70.0, 5.0).interval()[0] - lower_bound_K(flash(70.0, 5.0)) == pytest.approx(
        7.07, abs=0.01
    )


def test_a_natural_oil_or_a_split_is_never_clear() -> None:
    assert assess(formula(("clove bud oil", 1))).flammability.standing != "clear"
    split = assess(formula(("limonene", 30), ("propylene glycol", 70)))
    assert split.liquid == "splits"
    assert split.flammability.standing != "clear"


def test_warming_over_the_flash_point_is_warned_of() -> None:
    made = assess(formula(("vanillin", 40), ("ethanol", 20), ("propylene glycol", 20)))
    codes = {f.code for f in made.findings}
    assert made.dissolution == "needs_warming"
    assert "FLASH-BELOW-WARMING" in codes
