"""Boiling blends, and what is in the headspace."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import assess
from blendwright.mixture.vapour import (
    HIGHEST_K,
    LOWEST_K,
    TEMPERATURE_TOLERANCE_K,
    solve_rising,
    solve_rising_many,
)
from blendwright.reference import reference
from tests.conftest import formula

AZEOTROPES = reference("azeotropes.csv")


def boiling_error_K(row: dict[str, str]) -> float:
    share = float(row["mass_pct_a"])
    made = assess(formula((row["a"], share), (row["b"], 100 - share)))
    boiling_C = made.estimates["initial_boiling_point_C"].interval()[0] - 273.15
    return boiling_C - float(row["boiling_point_C_101kPa"])


@pytest.mark.parametrize("row", AZEOTROPES, ids=lambda r: f"{r['a']} + {r['b']}")
def test_azeotrope_boils_within_2_degrees(row: dict[str, str]) -> None:
    """azeotropes.csv (from memory: CRC Handbook, Horsley's table)."""
    assert abs(boiling_error_K(row)) <= 2.0


def test_eight_of_nine_azeotropes_boil_within_1_5_degrees() -> None:
    """azeotropes.csv (from memory: CRC Handbook, Horsley's table)."""
    assert sum(abs(boiling_error_K(row)) <= 1.5 for row in AZEOTROPES) >= 8


def test_a_fifth_of_propylene_glycol_breaks_the_azeotrope() -> None:
    """Fluid Phase Equilib. 130 (1997) 243: ethyl acetate stays the more volatile at every ratio."""
    from blendwright.catalogue import default_catalogue
    from blendwright.mixture.composition import compose
    from blendwright.mixture.vapour import bubble_temperature_K, partial_pressures_Pa

    catalogue = default_catalogue()
    for ester in np.linspace(0.05, 0.9, 12):
        blend = compose(
            [
                (catalogue.find("ethyl acetate"), 0.8 * ester, 0),
                (catalogue.find("ethanol"), 0.8 * (1 - ester), 0),
                (catalogue.find("propylene glycol"), 0.2, 0),
            ]
        )
        model = blend.ensemble.voices("vapour")[0].model
        boiling = bubble_temperature_K(model, blend, 101325.0, may_split=False)
        assert boiling is not None
        ratio = partial_pressures_Pa(model, blend, boiling, False) / blend.mole_fractions
        assert ratio[0] > ratio[1], ester


def test_a_pure_substance_boils_at_its_boiling_point() -> None:
    for name, boiling_C in (("water", 100.0), ("ethanol", 78.3), ("ethyl acetate", 77.1)):
        found = assess(formula((name, 1))).estimates["initial_boiling_point_C"].interval()[0]
        assert found - 273.15 == pytest.approx(boiling_C, abs=0.5)


def test_boiling_point_falls_with_pressure() -> None:
    blend = formula(("ethyl butyrate", 10), ("propylene glycol", 90))
    found = [
        assess(blend, pressure_Pa=p).estimates["initial_boiling_point_C"].interval()[0]
        for p in (60e3, 80e3, 101.325e3)
    ]
    assert found == sorted(found)


def test_shares_of_vapour_and_flammability_add_up_to_all() -> None:
    made = assess(formula(("ethyl acetate", 3), ("clove bud oil", 2), ("propylene glycol", 95)))
    assert sum(c.vapour_pct for c in made.contributions) == pytest.approx(100)
    assert sum(c.flammability_pct for c in made.contributions) == pytest.approx(100)


def test_ethyl_acetate_needs_about_two_per_cent_in_air() -> None:
    """IEC 60079-20-1: lower flammable limit of ethyl acetate 2.0 vol %."""
    made = assess(formula(("ethyl acetate", 1)))
    limit = made.estimates["lower_flammable_limit_vol_pct"].at_the_edge()
    assert limit.value == pytest.approx(2.0, abs=0.05)


# The temperature where a pressure is reached

MOST_LOOKS = 20


@given(
    st.floats(200.0, 700.0), st.floats(200.0, 700.0), st.floats(2000.0, 9000.0),
    st.floats(-60.0, 0.0),
)  # fmt: skip
def test_a_vapour_curve_is_solved_in_few_looks_from_anywhere(
    root_K: float, start_K: float, slope_K: float, antoine_c_K: float
) -> None:
    """ln P = A - B / (T + C), zero at the root: no look is wasted on what is met but for
    rounding, and many curves at once give what one gives."""
    looks = 0

    def above(kelvin: float) -> float:
        nonlocal looks
        looks += 1
        return slope_K / (root_K + antoine_c_K) - slope_K / (kelvin + antoine_c_K)

    found = solve_rising(above, start_K)
    assert found is not None
    assert abs(found - root_K) <= TEMPERATURE_TOLERANCE_K
    assert looks <= MOST_LOOKS
    many = solve_rising_many(
        lambda kelvins, _: np.array([above(kelvin) for kelvin in kelvins]),
        np.array([start_K]),
        np.array([above(start_K)]),
    )
    assert abs(many[0] - root_K) <= TEMPERATURE_TOLERANCE_K


def test_what_is_infinite_at_one_end_is_still_solved() -> None:
    def above(kelvin: float) -> float:
        return math.inf if kelvin > 400.0 else kelvin - 345.0

    found = solve_rising(above, 300.0)
    assert found == pytest.approx(345.0, abs=1e-8)


def test_what_crosses_nowhere_in_range_has_no_temperature() -> None:
    assert solve_rising(lambda kelvin: kelvin - HIGHEST_K - 1.0, 300.0) is None
    assert solve_rising(lambda kelvin: kelvin - LOWEST_K + 1.0, 300.0) is None
