"""One bracketing solver finds every root in few looks, and says when it did not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.pure import roots
from blendwright.pure.roots import (
    TEMPERATURE_TOLERANCE_K,
    Array,
    Ints,
    roots_between,
    temperatures_where_zero,
)

MOST_LOOKS = 24
LOWEST_K, HIGHEST_K = 150.0, 750.0


@given(
    st.floats(200.0, 700.0), st.floats(200.0, 700.0), st.floats(2000.0, 9000.0),
    st.floats(-60.0, 0.0),
)  # fmt: skip
def test_a_vapour_curve_is_solved_in_few_looks_from_anywhere(
    root_K: float, start_K: float, slope_K: float, antoine_c_K: float
) -> None:
    """ln P = A - B / (T + C), zero at the root."""
    looks = 0

    def above(kelvin: Array, _: Ints) -> Array:
        nonlocal looks
        looks += 1
        return slope_K / (root_K + antoine_c_K) - slope_K / (kelvin + antoine_c_K)

    found = temperatures_where_zero(above, np.array([start_K]), LOWEST_K, HIGHEST_K)
    assert found.converged.all()
    assert abs(found.root[0] - root_K) <= 2.0 * TEMPERATURE_TOLERANCE_K
    assert looks <= MOST_LOOKS


@given(st.lists(st.floats(-0.9, 0.9), min_size=1, max_size=9), st.integers(1, 9))
def test_many_functions_at_once_have_the_roots_of_each_alone(
    zeros: list[float], power: int
) -> None:
    """(x - z)^p of an odd power: flat at the root where the power is high."""
    place = np.array(zeros)
    odd = 2 * (power // 2) + 1

    def of(where: Array) -> roots.Roots:
        return roots_between(
            lambda x, which: (x - where[which]) ** odd,
            np.full(len(where), -1.0),
            np.full(len(where), 1.0),
            1e-9,
        )

    together = of(place)
    assert together.converged.all()
    assert np.abs(together.root - place).max() < 2e-9
    alone = np.concatenate([of(place[i : i + 1]).root for i in range(len(place))])
    assert (together.root == alone).all()


@given(st.floats(-0.99, 0.99))
def test_a_function_of_signs_only_is_halved(edge: float) -> None:
    looks = 0

    def over(x: Array, _: Ints) -> Array:
        nonlocal looks
        looks += 1
        return np.where(x > edge, 1.0, -1.0)

    ends = np.array([-1.0]), np.array([1.0])
    found = roots_between(over, *ends, 2.0**-7, -np.ones(1), np.ones(1))
    assert found.converged.all()
    assert found.low[0] <= edge <= found.high[0]
    assert looks == 8


def test_what_is_infinite_at_one_end_is_still_solved() -> None:
    found = temperatures_where_zero(
        lambda kelvin, _: np.where(kelvin > 400.0, np.inf, kelvin - 345.0),
        np.array([300.0]), LOWEST_K, HIGHEST_K,
    )  # fmt: skip
    assert found.root[0] == pytest.approx(345.0, abs=1e-8)


@pytest.mark.parametrize("root_K", [LOWEST_K - 1.0, HIGHEST_K + 1.0])
def test_what_crosses_nowhere_in_range_has_no_root_and_that_is_sure(root_K: float) -> None:
    found = temperatures_where_zero(
        lambda kelvin, _: kelvin - root_K, np.array([300.0]), LOWEST_K, HIGHEST_K
    )
    assert not found.crosses[0]
    assert not found.converged[0]
    assert np.isnan(found.root[0])


@pytest.mark.parametrize("start_K", [270.0, 285.0, 300.0, 330.0])
def test_what_has_no_value_on_the_way_is_passed_over(start_K: float) -> None:
    """It was taken for the end of a bracket, and the function for one that crosses nowhere."""
    found = temperatures_where_zero(
        lambda kelvin, _: np.where(np.abs(kelvin - 285.0) < 7.0, np.nan, (kelvin - 310.0) / 20.0),
        np.array([start_K]), LOWEST_K, HIGHEST_K,
    )  # fmt: skip
    assert found.root[0] == pytest.approx(310.0, abs=1e-8)


@given(st.floats(LOWEST_K, HIGHEST_K), st.floats(LOWEST_K, HIGHEST_K), st.floats(1.0, 300.0))
def test_without_a_value_somewhere_no_crossing_is_never_sure(
    start_K: float, gap_K: float, width_K: float
) -> None:
    """A flash point that isn't found is not one out of range."""
    asked = []

    def value(kelvin: Array, _: Ints) -> Array:
        asked.append(np.abs(kelvin - gap_K) < width_K)
        return np.where(asked[-1], np.nan, 1.0)

    found = temperatures_where_zero(value, np.array([start_K]), LOWEST_K, HIGHEST_K)
    assert not found.converged[0]
    assert found.crosses[0] == np.any(asked)


def test_a_search_that_ends_early_has_no_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(roots, "MOST_STEPS", 1)
    found = roots_between(lambda x, _: np.exp(x) - 2.0, np.array([-5.0]), np.array([5.0]), 1e-12)
    assert found.crosses[0]
    assert not found.converged[0]
    assert np.isnan(found.root[0])


def test_a_function_without_a_value_ends_the_search_without_a_root() -> None:
    found = roots_between(
        lambda x, _: np.where(np.abs(x) < 2.0, np.nan, x), np.array([-5.0]), np.array([4.0]), 1e-9
    )
    assert found.crosses[0]
    assert not found.converged[0]


def test_an_exact_zero_leaves_no_bracket() -> None:
    found = roots_between(lambda x, _: x - 0.5, np.array([0.0]), np.array([1.0]), 1e-3)
    assert found.low[0] == found.root[0] == found.high[0] == 0.5
