"""The triangle of aromatics and two carriers says what the assessment says, point by point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from blendwright import assess
from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError, UnknownMaterialError
from blendwright.questions.advice.carrier_map import CarrierMap, carrier_map, triangle
from tests.conftest import formula

ROOM_K = 298.15
PEAR = formula(
    ("hexyl acetate", 6.0), ("isoamyl acetate", 10.0), ("linalool", 4.0), ("propylene glycol", 80.0)
)


def at(found: CarrierMap, *share: float) -> int:
    return int(np.argmin(np.abs(found.shares - np.array(share)).sum(axis=1)))


@pytest.fixture(scope="module")
def in_water() -> CarrierMap:
    return carrier_map(PEAR, "propylene glycol", "water", ROOM_K, steps=5)


def test_the_triangle_holds_every_step_once() -> None:
    grid = triangle(10)
    assert len(grid) == 66
    assert grid.min() >= 0.0
    assert np.allclose(grid.sum(axis=1), 1.0)
    assert len({tuple(row) for row in grid.round(9)}) == 66


def test_the_formulas_own_point_is_assessed_as_by_the_one_road(in_water: CarrierMap) -> None:
    assert in_water.own == pytest.approx((0.2, 0.8, 0.0))
    told = assess(PEAR, ROOM_K).chance_of_layers
    assert in_water.chance[at(in_water, 0.2, 0.8, 0.0)] == pytest.approx(told, rel=1e-6)


def test_a_blend_of_both_carriers_is_assessed_as_by_the_one_road(in_water: CarrierMap) -> None:
    rows = [("hexyl acetate", 6.0), ("isoamyl acetate", 10.0), ("linalool", 4.0)]
    mixed = formula(*rows, ("propylene glycol", 40.0), ("water", 40.0))
    told = assess(mixed, ROOM_K).chance_of_layers
    assert in_water.chance[at(in_water, 0.2, 0.4, 0.4)] == pytest.approx(told, rel=1e-6)


def test_esters_part_from_water_and_glycol_mixes_with_it(in_water: CarrierMap) -> None:
    assert in_water.chance[at(in_water, 0.2, 0.0, 0.8)] > 0.8
    edge = in_water.shares[:, 0] == 0.0
    assert in_water.chance[edge].max() < 0.2
    assert in_water.chance[at(in_water, 0.0, 1.0, 0.0)] == 0.0  # nothing to part from
    assert (in_water.undissolved == 0.0).all()


def test_vanillin_lies_at_the_bottom_of_water_and_not_of_glycol() -> None:
    sweet = formula(("vanillin", 5.0), ("propylene glycol", 95.0))
    found = carrier_map(sweet, "water", "propylene glycol", ROOM_K, steps=5)
    assert found.undissolved[at(found, 0.2, 0.8, 0.0)] > 0.15
    assert found.undissolved[at(found, 1.0, 0.0, 0.0)] == pytest.approx(1.0, abs=1e-6)


def test_a_carrier_that_is_neither_of_the_two_is_replaced_and_named() -> None:
    found = carrier_map(PEAR, "triacetin", "ethanol", ROOM_K, steps=2)
    assert found.own is None
    assert found.replaced == ("propylene glycol",)


def test_a_little_triethyl_citrate_is_a_fixative_and_much_a_carrier() -> None:
    little = formula(("hexyl acetate", 18.0), ("triethyl citrate", 2.0), ("propylene glycol", 80.0))
    much = formula(("hexyl acetate", 18.0), ("triethyl citrate", 30.0), ("propylene glycol", 52.0))
    found = carrier_map(little, "propylene glycol", "ethanol", ROOM_K, steps=2)
    assert found.own == pytest.approx((0.2, 0.8, 0.0))
    found = carrier_map(much, "propylene glycol", "ethanol", ROOM_K, steps=2)
    assert found.replaced == ("triethyl citrate",)


def test_spirit_is_known_by_what_it_holds() -> None:
    spirit = formula(("hexyl acetate", 10.0), ("ethanol", 90.0, "96 % vol"))
    found = carrier_map(spirit, "ethanol 96 %", "propylene glycol", ROOM_K, steps=2)
    assert found.own == pytest.approx((0.1, 0.9, 0.0))


def test_what_cannot_be_mapped_is_refused(catalogue: Catalogue) -> None:
    with pytest.raises(BlendwrightError, match="same carrier"):
        carrier_map(PEAR, "propylene glycol", "57-55-6", ROOM_K)
    with pytest.raises(BlendwrightError, match="nothing but carriers"):
        carrier_map(formula(("water", 1.0)), "water", "ethanol", ROOM_K)
    with pytest.raises(UnknownMaterialError):
        carrier_map(PEAR, "moon dew", "ethanol", ROOM_K, catalogue=catalogue)
    with pytest.raises(ValueError, match="steps"):
        carrier_map(PEAR, "water", "ethanol", ROOM_K, steps=1)


def test_what_has_no_groups_makes_it_unknown_and_never_clear(catalogue: Catalogue) -> None:
    base = replace(catalogue.material("hexyl acetate"), name="house base", groups={})
    own = formula(("house base", 10.0), ("linalool", 10.0), ("propylene glycol", 80.0))
    mine = catalogue.extended([base], {}, "test")
    found = carrier_map(own, "propylene glycol", "ethanol", ROOM_K, 5, mine)
    assert np.isnan(found.chance[at(found, 0.2, 0.8, 0.0)])
    assert np.isnan(found.chance[at(found, 1.0, 0.0, 0.0)])
    assert found.chance[at(found, 0.0, 0.6, 0.4)] < 0.2
