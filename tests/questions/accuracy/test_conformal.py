"""Intervals that hold nine in ten of what was never seen."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.pure.intervals import FEW, interval_factor
from blendwright.questions.accuracy.conformal import (
    FEW_WIDENING,
    FEWEST_SUBSTANCES,
    Score,
    factor,
    left_out,
    quantile,
)
from blendwright.questions.accuracy.table_lines import Case, acceptance, coverage


def scores(ratios: list[float], kind: str = "ester", points: int = 1) -> list[Score]:
    return [Score(f"{kind} {i}", kind, r) for i, r in enumerate(ratios) for _ in range(points)]


def test_a_new_substance_is_held_nine_times_in_ten_whatever_the_errors() -> None:
    """Heavy tails, several points a substance that share its error: the guarantee is of ranks."""
    random = np.random.default_rng(7)
    held = []
    for _ in range(400):
        own = np.abs(random.standard_t(2.0, size=41))
        known = [Score(i, "all", float(r * s)) for i, r in enumerate(own[:40]) for s in (0.9, 1.0)]
        held.append(own[40] <= quantile(known))
    low, high = acceptance(len(held))
    assert low <= np.mean(held) <= high + 0.02  # the quantile errs on the wide side


def test_a_substance_with_many_points_weighs_no_more_than_another() -> None:
    few = scores([0.1 * i for i in range(1, 20)])
    many = [*few, *(Score("ester 0", "ester", 0.1) for _ in range(500))]
    assert quantile(many) == quantile(few)


def test_too_few_substances_teach_no_quantile() -> None:
    assert math.isinf(quantile(scores([1.0] * (FEWEST_SUBSTANCES - 1))))
    assert math.isfinite(quantile(scores([1.0] * FEWEST_SUBSTANCES)))


def test_a_kind_with_few_points_is_widened() -> None:
    plenty = scores([0.5] * 40)
    rare = scores([0.4, 0.6], "phenol")
    assert factor(plenty + rare, "ester") == pytest.approx(0.5)
    assert factor(plenty + rare, "phenol") == pytest.approx(FEW_WIDENING * 0.58, abs=0.01)
    bad = scores([2.0, 3.0], "phenol")
    assert factor(plenty + bad, "phenol") > FEW_WIDENING * 2.0
    assert factor(plenty, "never seen") == pytest.approx(FEW_WIDENING * 0.5)
    assert factor(scores([0.1] * 5), "ester") == 1.0  # so few don't narrow an interval


@given(st.lists(st.floats(0.0, 10.0), min_size=25, max_size=60))
def test_no_substance_speaks_for_itself(ratios: list[float]) -> None:
    """However wrong one substance is, the factor that judges it doesn't know."""
    before = left_out(scores(ratios))[0]
    after = left_out(scores([1e6, *ratios[1:]]))[0]
    assert before == after


def test_an_unknown_kind_takes_the_widened_line() -> None:
    assert interval_factor("density, published", "never seen") == interval_factor(
        "density, published", FEW
    )
    with pytest.raises(KeyError):
        interval_factor("the weather", "ester")  # type: ignore[arg-type]


def test_coverage_counts_points_and_substances_apart() -> None:
    held = Case("a, 20 °C", 0.5, 1.0, substance="a")
    missed = Case("b", 2.0, 1.0)
    found = coverage("all", [held, held, held, missed])
    assert found.share == pytest.approx(0.75)
    assert found.by_substance == pytest.approx(0.5)
    assert found.substances == 2


def test_the_width_stands_beside_what_the_best_single_model_needs() -> None:
    cases = [
        Case(str(i), 0.1, 1.0, others=(("good", 0.5), ("bad", 5.0), ("guess (naive)", 0.0)))
        for i in range(10)
    ]
    found = coverage("all", cases)
    assert (found.best, found.quantile, found.width_ratio) == ("good", 0.5, 2.0)
