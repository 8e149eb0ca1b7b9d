"""The eight SIMD lanes of machine code give what NumPy does."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright.mixture.machine import lanes

ROUNDING = 5e-16


def test_exp_is_numpys_over_all_that_a_search_asks() -> None:
    numbers = np.linspace(-707.0, 708.0, 100_003)
    found = numbers.copy()
    lanes.exps(found, -707.0, 708.0)
    assert np.abs(found / np.exp(numbers) - 1.0).max() < ROUNDING


def test_exp_of_what_lies_outside_is_that_of_the_end() -> None:
    numbers = np.array([-1e9, -700.0, 0.0, 50.0, 1e9])
    lanes.exps(numbers, -700.0, 50.0)
    assert numbers[0] == numbers[1] > 0.0
    assert numbers[2] == 1.0
    assert numbers[4] == numbers[3]


def test_ln_is_numpys_from_the_smallest_to_the_largest() -> None:
    numbers = np.exp(np.linspace(-708.0, 709.0, 100_003))
    found = numbers.copy()
    lanes.logs(found)
    assert np.abs(found - np.log(numbers)).max() < ROUNDING * 709.0


def test_ln_near_one_keeps_its_digits() -> None:
    numbers = 1.0 + np.concatenate([-np.geomspace(1e-15, 0.3), np.geomspace(1e-15, 0.4)])
    found = numbers.copy()
    lanes.logs(found)
    assert np.abs(found / np.log(numbers) - 1.0).max() < ROUNDING


def test_rows_begin_at_a_line_of_the_cache() -> None:
    for rows in (1, 7, 30):
        made = lanes.lanes_of(rows)
        assert made.shape == (rows, lanes.LANES)
        assert made.ctypes.data % (8 * lanes.LANES) == 0
        assert not made.any()


def test_operations_on_rows_are_those_of_arrays() -> None:
    rng = np.random.default_rng(3)
    a = rng.uniform(-2.0, 2.0, (20, lanes.LANES))

    @lanes.machine_code
    def all_of_them(rows):  # type: ignore[no-untyped-def]
        lanes.product(rows, 10, rows, 0, rows, 1)
        lanes.difference(rows, 11, rows, 0, rows, 1)
        lanes.quotient(rows, 12, rows, 0, rows, 1)
        lanes.add_product(rows, 13, rows, 0, rows, 1)
        lanes.sum_of_products(rows, 14, rows, 0, rows, 5, 5)
        lanes.largest_apart(rows, 15, rows, 0, rows, 5, 5)
        lanes.cleared(rows, 16, 18)

    found = a.copy()
    all_of_them(found)
    assert np.allclose(found[10], a[0] * a[1], rtol=ROUNDING, atol=0.0)
    assert np.allclose(found[11], a[0] - a[1], rtol=ROUNDING, atol=0.0)
    assert np.allclose(found[12], a[0] / a[1], rtol=ROUNDING, atol=0.0)
    assert np.allclose(found[13], a[13] + a[0] * a[1], rtol=1e-14, atol=1e-15)
    assert np.allclose(found[14], (a[:5] * a[5:10]).sum(axis=0), rtol=1e-14, atol=1e-14)
    assert (found[15] == np.abs(a[:5] - a[5:10]).max(axis=0)).all()
    assert not found[16:18].any()
    untouched = [*range(10), 18, 19]
    assert (found[untouched] == a[untouched]).all()


@pytest.mark.parametrize("rows", range(1, 10))
def test_weighted_rows_are_a_product_of_matrices(rows: int) -> None:
    rng = np.random.default_rng(rows)
    coefficients = rng.uniform(-1.0, 1.0, (2, 6, rows))
    a = rng.uniform(-1.0, 1.0, (8, lanes.LANES))
    out = np.ones((12, lanes.LANES))
    lanes.add_weighted(out, 1, coefficients, 1, a, 2)
    assert np.allclose(out[1 : 1 + rows], 1.0 + coefficients[1].T @ a[2:8], rtol=0.0, atol=1e-14)
    assert (out[0] == 1.0).all()
    assert (out[1 + rows :] == 1.0).all()
