"""Flammable limits of blends, and where the saturated vapour stands against them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.flammable_limit import (
    blend_lower_limit,
    blend_upper_limit,
    headspace_over_limit,
    lower_limit_temperature,
)
from blendwright.mixture.flash_point import blend_flash_point
from blendwright.mixture.part_filled import liquid_in_closed_vessel
from blendwright.mixture.vapour import headspace, partial_pressures_Pa, saturation_Pa
from blendwright.pure.flammable_limit import (
    lower_flammable_limit,
    upper_at_temperature,
    upper_flammable_limit,
)


def blend(*rows: tuple[str, float]) -> Composition:
    find = default_catalogue().find
    return compose([(find(name), grams / 1e3, i) for i, (name, grams) in enumerate(rows)])


def ratio(composition: Composition, temperature_K: float) -> float:
    space = headspace(composition, temperature_K)
    assert space is not None
    return headspace_over_limit(composition, space, temperature_K).interval()[0]


@pytest.mark.parametrize(
    ("name", "flash_C"),
    [("ethanol", 13.0), ("ethyl acetate", -4.0), ("limonene", 48.0), ("isoamyl acetate", 25.0)],
)
def test_saturated_vapour_reaches_the_limit_near_the_flash_point(name: str, flash_C: float) -> None:
    """Closed-cup flash points as on data sheets (from memory). Ethanol: lower limit 3.3 vol %."""
    found = lower_limit_temperature(blend((name, 10.0)))
    assert found.interval()[0] - 273.15 == pytest.approx(flash_C, abs=5.0)


@pytest.mark.parametrize(
    "rows",
    [
        (("ethanol", 10.0),),
        (("ethanol", 40.0), ("water", 60.0)),
        (("ethyl butyrate", 15.0), ("propylene glycol", 85.0)),
    ],
)
def test_ratio_is_1_at_that_temperature(rows: tuple[tuple[str, float], ...]) -> None:
    made = blend(*rows)
    value, low, high = lower_limit_temperature(made).interval()
    assert ratio(made, value) == pytest.approx(1.0, abs=1e-5)
    assert ratio(made, low) < 1.0 < ratio(made, high)


def test_at_half_the_air_pressure_the_limit_is_reached_sooner() -> None:
    made = blend(("ethanol", 10.0))
    high = lower_limit_temperature(made).interval()[0]
    low = lower_limit_temperature(made, ATMOSPHERE_Pa / 2.0).interval()[0]
    assert low < high - 5.0


def test_water_has_no_limit() -> None:
    made = blend(("water", 10.0))
    assert lower_limit_temperature(made).status == "not_applicable"
    assert blend_upper_limit(made, saturation_Pa(made, ROOM_K), ROOM_K).status == "not_applicable"


@pytest.mark.parametrize(("name", "vol_pct"), [("ethanol", 19.0), ("ethyl acetate", 11.5)])
def test_upper_limits_as_published(name: str, vol_pct: float) -> None:
    """NFPA 325 values, from memory; the highest published is kept."""
    value = upper_flammable_limit(default_catalogue().find(name)).interval()[0] * 100.0
    assert vol_pct <= value <= 1.6 * vol_pct


def test_upper_limit_lies_above_the_lower_for_every_material_that_has_both() -> None:
    count = 0
    for name in default_catalogue().names():
        material = default_catalogue().material(name)
        upper = upper_flammable_limit(material)
        if upper.is_ok:
            count += 1
            assert upper.interval()[0] > lower_flammable_limit(material).interval()[0], name
    assert count > 20


def test_upper_limit_rises_with_temperature_and_never_passes_all_vapour() -> None:
    assert upper_at_temperature(0.1, 348.15) == pytest.approx(0.1 * (1 + 0.000721 * 50))
    assert upper_at_temperature(0.1, 263.15) == 0.1
    assert upper_at_temperature(0.99, 500.0) == 1.0


def test_upper_limit_of_a_blend_by_le_chatelier() -> None:
    made = blend(("ethanol", 10.0), ("ethyl acetate", 10.0))
    pressures = saturation_Pa(made, ROOM_K)
    whole = blend_upper_limit(made, pressures, ROOM_K).interval()[0]
    first, second = (s.upper_limit.interval()[0] for s in made.substances)
    share = pressures[0] / pressures.sum()
    assert whole == pytest.approx(1.0 / (share / first + (1.0 - share) / second))
    assert whole > blend_lower_limit(made, pressures, ROOM_K).interval()[0]


def test_upper_limit_is_unknown_where_a_vapour_of_weight_has_none() -> None:
    made = blend(("ethanol", 50.0), ("ethyl butyrate", 50.0))
    assert upper_flammable_limit(made.substances[1].material).status == "unknown"
    found = blend_upper_limit(made, saturation_Pa(made, ROOM_K), ROOM_K)
    assert found.status == "unknown"
    assert "ethyl butyrate" in found.notes[0]
    trace = blend(("ethanol", 99.9), ("ethyl butyrate", 0.1))
    space = headspace(trace, ROOM_K)
    assert space is not None
    named = blend_upper_limit(trace, space.pressures_Pa, ROOM_K)
    assert named.is_ok
    assert "ethyl butyrate" in named.notes[0]


# A heavier part, and a part-filled vessel


@given(st.floats(0.5, 50.0), st.floats(0.5, 50.0))
def test_a_heavier_carrier_never_lowers_the_flash_point(grams: float, more: float) -> None:
    """Two esters, nearly ideal: isoamyl acetate thinned with triethyl citrate."""

    def flash(carrier: float) -> float:
        made = blend(("isoamyl acetate", 10.0), ("triethyl citrate", carrier))
        return blend_flash_point(made).estimate.interval()[0]

    assert flash(grams + more) >= flash(grams)


CONCENTRATE = blend(("ethyl acetate", 3.0), ("ethyl butyrate", 5.0), ("propylene glycol", 92.0))


def test_no_vapour_space_takes_nothing() -> None:
    left = liquid_in_closed_vessel(CONCENTRATE, ROOM_K, 0.0)
    assert left.mass_kg == pytest.approx(CONCENTRATE.mass_kg)


@pytest.mark.parametrize("space_m3", [1e-4, 1e-2, 1.0])
def test_what_left_the_liquid_fills_the_space_at_its_own_pressure(space_m3: float) -> None:
    left = liquid_in_closed_vessel(CONCENTRATE, ROOM_K, space_m3)
    pressures = partial_pressures_Pa(left, ROOM_K)
    gone = CONCENTRATE.moles - left.moles
    held = pressures * space_m3 / (GAS_CONSTANT_J_mol_K * ROOM_K)
    assert gone == pytest.approx(held, rel=1e-5)
    assert gone[0] / CONCENTRATE.moles[0] > gone[2] / CONCENTRATE.moles[2]


def test_more_space_depletes_more_and_the_rest_flashes_higher() -> None:
    flashes = [
        blend_flash_point(liquid_in_closed_vessel(CONCENTRATE, ROOM_K, space)).estimate.interval()[
            0
        ]
        for space in (0.0, 1e-3, 1e-2)
    ]
    assert flashes == sorted(flashes)
    assert flashes[-1] > flashes[0] + 1.0


def test_refused_space() -> None:
    with pytest.raises(ValueError, match="negative"):
        liquid_in_closed_vessel(CONCENTRATE, ROOM_K, -1.0)
