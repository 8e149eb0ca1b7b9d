"""How full a bottle may be, and how hard it presses on its cap."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.catalogue import default_catalogue
from blendwright.estimate import Estimate
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.density import blend_density
from blendwright.mixture.storage import (
    GAS_LIMIT_K,
    ClosedBottle,
    adr_fill_limit,
    adr_fill_pct,
    expansion,
    liquid_full_at_55C,
    pressure_in_bottle,
    vapour_pressure_at_50C,
    volume_shares,
)
from tests.conftest import ESTER_RICH_CONCENTRATE

NO_VAPOUR = Estimate.ok(0.0, 0.0, 0.0, "Pa", "none, for the test")


def blend(*rows: tuple[str, float]) -> Composition:
    find = default_catalogue().find
    return compose([(find(name), grams / 1e3, i) for i, (name, grams) in enumerate(rows)])


ETHANOL = blend(("ethanol", 100.0))
CONCENTRATE = blend(*ESTER_RICH_CONCENTRATE)


def test_the_formula_of_adr_4_1_1_4_by_hand() -> None:
    """d15 0.906, d50 0.864: alpha = 0.042 / (35 x 0.864) = 0.0013889; 98 / 1.041667 = 94.08 %."""
    assert adr_fill_pct(0.906 / 0.864, 293.15) == pytest.approx(94.08, abs=0.005)


def test_filled_at_50_degrees_it_may_be_98_per_cent_full() -> None:
    assert adr_fill_limit(CONCENTRATE, 323.15).interval()[0] == pytest.approx(98.0)


def test_fill_limit_of_ethanol_from_published_densities() -> None:
    """Ethanol (from memory, CRC Handbook): 0.7936 g/mL at 15 °C, 0.7631 at 50 °C."""
    expected = adr_fill_pct(0.7936 / 0.7631, BENCH_K)
    assert adr_fill_limit(ETHANOL).interval()[0] == pytest.approx(expected, abs=0.3)


@pytest.mark.parametrize("liquid", [ETHANOL, CONCENTRATE], ids=["ethanol", "concentrate"])
def test_just_full_at_55_degrees_is_just_full(liquid: Composition) -> None:
    fill = liquid_full_at_55C(liquid).interval()[0] / 100.0
    cold, warm = (blend_density(liquid, t).interval()[0] for t in (BENCH_K, 328.15))
    assert fill * cold / warm == pytest.approx(1.0)


def test_the_adr_limit_leaves_room_at_55_degrees() -> None:
    for liquid in (ETHANOL, CONCENTRATE, blend(("ethyl acetate", 1.0)), blend(("water", 1.0))):
        pairs = zip(
            adr_fill_limit(liquid).interval(), liquid_full_at_55C(liquid).interval(), strict=True
        )
        assert all(adr < full for adr, full in pairs)  # one error of expansion moves both


def test_vapour_pressure_of_ethanol_at_50_degrees() -> None:
    """From memory, CRC Handbook: 29.5 kPa."""
    assert vapour_pressure_at_50C(ETHANOL).interval()[0] == pytest.approx(29.5e3, rel=0.02)


def test_a_nearly_empty_bottle_follows_gay_lussac() -> None:
    bottle = ClosedBottle(fill=1e-6)
    found = pressure_in_bottle(ETHANOL, bottle, GAS_LIMIT_K, NO_VAPOUR).interval()[0]
    assert found == pytest.approx(ATMOSPHERE_Pa * 323.15 / 293.15, rel=1e-4)


def test_at_the_temperature_of_closing_only_the_vapour_adds() -> None:
    vapour = Estimate.ok(5e3, 4e3, 6e3, "Pa", "for the test")
    found = pressure_in_bottle(CONCENTRATE, ClosedBottle(), BENCH_K, vapour)
    assert found.interval() == pytest.approx((ATMOSPHERE_Pa + 5e3, 105325.0, 107325.0))


@given(low=st.floats(0.0, 0.9), more=st.floats(0.001, 0.06), warm_C=st.floats(25, 60))
def test_pressure_rises_with_fill_and_warmth(low: float, more: float, warm_C: float) -> None:
    def pressure(fill: float, celsius: float) -> float:
        bottle = ClosedBottle(fill=fill)
        found = pressure_in_bottle(ETHANOL, bottle, celsius + 273.15, NO_VAPOUR)
        return found.interval()[0] if found.is_ok else float("inf")

    assert pressure(low, warm_C) <= pressure(low + more, warm_C)
    assert pressure(low, warm_C) < pressure(low, warm_C + 5.0)


def test_a_brimful_bottle_is_liquid_full_when_warm() -> None:
    found = pressure_in_bottle(ETHANOL, ClosedBottle(fill=0.99), GAS_LIMIT_K, NO_VAPOUR)
    assert found.status == "out_of_range"
    assert "liquid-full at 50 °C" in found.notes[0]


def test_an_unknown_vapour_pressure_is_unknown_here_too() -> None:
    unknown = Estimate.unknown("Pa", "no vapour pressure")
    found = pressure_in_bottle(ETHANOL, ClosedBottle(), GAS_LIMIT_K, unknown)
    assert found.status == "unknown"
    assert "no vapour pressure" in found.notes


def test_an_unknown_density_leaves_the_fill_unknown() -> None:
    sugar = default_catalogue().find("ethanol")
    bare = replace(sugar, name="a bought base", formula="", data=(), curves=())
    liquid = compose([(bare, 1.0, 0)])
    assert expansion(liquid, 288.15, 323.15).status == "unknown"
    assert adr_fill_limit(liquid).status == "unknown"
    assert liquid_full_at_55C(liquid).status == "unknown"


def test_volume_shares_add_up_to_one() -> None:
    shares = volume_shares(CONCENTRATE)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["ethyl acetate"] > 0.03
