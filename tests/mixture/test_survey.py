"""A survey says what a search at each temperature says, and only of what has not changed."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.block import Block
from blendwright.mixture.composition import substances_of
from blendwright.mixture.liquid import Liquid, search_for_layers
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.survey import (
    COLDEST_K,
    WARMEST_K,
    make_survey,
    stabilities,
)
from blendwright.mixture.weighing import WeighedRow
from blendwright.pure.fusion import melting_point
from tests.conftest import formula
from tests.mixture.test_stability import MATERIALS

BLENDS = 300


def templates(names: tuple[str, ...]) -> list[WeighedRow]:
    """A row of each material."""
    catalogue = default_catalogue()
    rows = []
    for name in names:
        material = catalogue.find(name)
        parts = tuple(substances_of(material, catalogue.material))
        rows.append(WeighedRow(name, material, None, None, 1.0, parts, "", "", ()))
    return rows


@lru_cache
def block() -> Block:
    """Random blends of two to seven materials."""
    seed = np.random.default_rng(20261129)
    number, chosen, grams = [], [], []
    for blend in range(BLENDS):
        size = int(seed.integers(2, 8))
        number += [blend] * size
        chosen += seed.choice(len(MATERIALS), size=size, replace=False).tolist()
        grams += np.maximum(100.0 * seed.dirichlet(np.full(size, 0.6)), 0.01).tolist()
    return Block.from_long(
        np.array(number), np.array(chosen), np.array(grams), templates(MATERIALS)
    )


def fresh(part: Part) -> Part:
    """These blends anew, as nothing is known of them yet."""
    return Part(part.blends, part.index, part.mass_kg, part.moles, part.as_sold, part.pair)


@lru_cache
def surveyed() -> tuple[Substances, tuple[Part, ...]]:
    found = block()
    parts = tuple(fresh(part) for part in found.parts)
    for part in parts:
        make_survey(found.substances, part)
    return found.substances, parts


@given(st.floats(COLDEST_K - 20.0, WARMEST_K + 60.0))
def test_at_any_temperature_a_blend_lies_on_the_side_that_a_search_finds(kelvin: float) -> None:
    substances, parts = surveyed()
    for part in parts:
        model = Liquid(substances, part.index).at(kelvin)
        searched = search_for_layers().stabilities(model, part.x)
        sides = stabilities(part, model, only_sides=True)
        assert (sides.unstable == searched.unstable).all()
        found = stabilities(part, model)
        assert (found.has_rival == searched.has_rival).all()
        assert found.distance == pytest.approx(searched.distance, abs=1e-12)
        assert found.rival == pytest.approx(searched.rival, abs=1e-12)


def test_much_is_settled_and_much_is_not() -> None:
    """Else the test above would say little."""
    substances, parts = surveyed()
    surveys = [make_survey(substances, part) for part in parts]
    for marks in ("is_far", "is_bare"):
        share = sum(getattr(one, marks).sum() for one in surveys) / BLENDS
        assert 0.1 < share < 0.9, marks


def test_what_has_changed_is_looked_at_afresh() -> None:
    """Ethanol taken from a clear blend of limonene, ethanol and water makes it split."""
    grams = np.array([2.0, 95.0, 3.0])
    blend = Block.from_long(
        np.zeros(3, dtype=int), np.arange(3), grams, templates(("limonene", "ethanol", "water"))
    )
    (part,) = blend.parts
    survey = make_survey(blend.substances, part)
    assert survey.is_far[0]
    less = part.times(np.where(part.index == blend.substances.named("ethanol"), 0.05, 1.0))
    model = Liquid(blend.substances, less.index).at(293.15)
    assert stabilities(less, model, only_sides=True).unstable[0]
    same = part.times(np.ones_like(part.x))
    assert not stabilities(same, model, only_sides=True).unstable[0]


def test_a_temperature_is_searched_once(monkeypatch: pytest.MonkeyPatch) -> None:
    found = block()
    part = fresh(found.parts[0])
    survey = make_survey(found.substances, part)
    model = Liquid(found.substances, part.index).at(300.0)
    first = stabilities(part, model)

    def none() -> None:
        raise AssertionError("searched again")

    monkeypatch.setattr("blendwright.mixture.survey.search_for_layers", none)
    again = stabilities(part, model)
    assert (again.distance == first.distance).all()
    some = np.arange(0, len(part), 2)
    of_some = stabilities(part.only(some), model.only(some))
    assert (of_some.distance == first.distance[some]).all()
    assert make_survey(found.substances, part) is survey


def test_a_formula_of_a_hundred_crystals_is_surveyed() -> None:
    """Each of them asks at a temperature of its own."""
    catalogue = default_catalogue()
    every = [catalogue.find(name) for name in catalogue.names()]
    solids = [m.name for m in every if m.groups and (melting_point(m).value or 0.0) > 300.0]
    assert len(solids) > 100
    made = assess(formula(*((name, 0.1) for name in solids[:100]), ("propylene glycol", 90)))
    assert made.estimates["flash_point_closed_cup"].status in ("ok", "unknown")
