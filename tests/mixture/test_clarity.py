"""The chance of layers: at several temperatures at once, and beside a level."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright.catalogue import default_catalogue
from blendwright.mixture.clarity import (
    AS_LIKELY_AS_NOT,
    chances,
    clarity,
    cloud_temperature,
)
from blendwright.mixture.composition import Composition
from blendwright.mixture.weighing import weigh
from tests.conftest import formula

KELVINS = [353.15, 320.0, 298.15, 277.15, 253.15]
BLENDS = {
    "esters in glycol": (("ethyl butyrate", 5), ("hexyl acetate", 3), ("propylene glycol", 60)),
    "much ester in glycol": (("hexyl butyrate", 30), ("propylene glycol", 70)),
    "terpene in glycol": (("limonene", 8), ("ethanol", 30), ("propylene glycol", 60)),
    "terpene in spirit": (("limonene", 1), ("ethanol", 60), ("water", 40)),
    "oil on water": (("linalool", 2), ("ethyl acetate", 1), ("water", 97)),
    "oils alone": (("limonene", 5), ("linalool", 5)),
}


def composition(name: str) -> Composition:
    return weigh(formula(*BLENDS[name]), default_catalogue()).composition


def chances_of_split(
    blend: Composition, temperatures_K: list[float], level: float | None = None
) -> list[float]:
    """As many chances of one blend, each at a temperature of its own."""
    part = blend.part.only(np.zeros(len(temperatures_K), dtype=np.int64))
    return chances(blend.table, part, np.array(temperatures_K), level).value.tolist()


@pytest.mark.parametrize("name", list(BLENDS))
def test_several_temperatures_at_once_give_what_each_gives_alone(name: str) -> None:
    blend = composition(name)
    alone = [clarity(blend, kelvin) for kelvin in KELVINS]
    found = chances_of_split(blend, KELVINS)
    assert found == pytest.approx([one.chance_of_split for one in alone if one], rel=1e-9)


@pytest.mark.parametrize("name", list(BLENDS))
@pytest.mark.parametrize("level", [0.2, AS_LIKELY_AS_NOT, 0.8])
def test_the_draws_left_out_could_not_have_tipped_it(name: str, level: float) -> None:
    blend = composition(name)
    full, quick = chances_of_split(blend, KELVINS), chances_of_split(blend, KELVINS, level)
    assert [c > level for c in quick] == [c > level for c in full]


def test_both_sides_of_even_are_among_these_blends() -> None:
    found = [chances_of_split(composition(name), KELVINS) for name in BLENDS]
    over = np.array(found) > AS_LIKELY_AS_NOT
    assert over.any()
    assert not over.all()


@pytest.mark.parametrize("name", list(BLENDS))
def test_a_split_is_as_likely_as_not_at_the_cloud_temperature(name: str) -> None:
    blend = composition(name)
    cloud = cloud_temperature(blend)
    found = chances_of_split(blend, [353.15, 253.15])
    if cloud.value is None:
        assert cloud.status == ("out_of_range" if found[0] > AS_LIKELY_AS_NOT else "not_applicable")
        return
    warmer, colder = chances_of_split(blend, [cloud.value + 1.0, cloud.value - 1.0])
    assert warmer <= AS_LIKELY_AS_NOT < colder
