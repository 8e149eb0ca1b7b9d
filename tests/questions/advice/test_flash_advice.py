"""Lifting a flash point as a maker would: carriers first, then aromatics, and always the nearest.

The formulas are invented.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from functools import cache

import pytest

from blendwright import Assessment, Formula, assess, default_catalogue
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.observations import KINDS, Observation, measured_blend
from blendwright.pure.constants import pure_constants
from blendwright.questions.advice.advise import Advice, Way, advise
from blendwright.questions.advice.less_volatile import less_volatile_relatives
from blendwright.questions.advice.strength import SameStrength, strength_words
from blendwright.questions.advice.trials import rank_of
from tests.conftest import formula

BENCH_K = 293.15
FORMULAS: dict[str, Formula] = {
    "strawberry": formula(
        ("ethyl butyrate", 3),
        ("ethyl hexanoate", 2),
        ("furaneol", 1.5),
        ("vanillin", 1),
        ("ethanol", 20),
        ("propylene glycol", 72.5),
    ),
    "pear": formula(
        ("ethyl butyrate", 10),
        ("isoamyl acetate", 5),
        ("vanillin", 2),
        ("ethanol", 20),
        ("propylene glycol", 63),
    ),
    "in a dilution": Formula.from_rows(
        [
            {"material": "ethyl butyrate", "grams": 2},
            {"material": "maltol", "grams": 20, "strength_pct": "10", "carrier": "ethanol"},
            {"material": "propylene glycol", "grams": 78},
        ]
    ),
    "a little ethanol": formula(("ethyl acetate", 1), ("ethanol", 8), ("propylene glycol", 91)),
    "an oil in spirit": formula(("sweet orange oil", 15), ("ethanol 96 %", 85)),
    "no carrier": formula(("ethyl butyrate", 5), ("isoamyl acetate", 5)),
    "mostly light": formula(
        ("ethyl butyrate", 30),
        ("isoamyl acetate", 30),
        ("ethyl acetate", 10),
        ("propylene glycol", 30),
    ),
}
ASKED = (
    ("strawberry", 40.0),
    ("strawberry", 60.0),
    ("pear", 40.0),
    ("in a dilution", 45.0),
    ("a little ethanol", 40.0),
    ("an oil in spirit", 60.0),
    ("no carrier", 60.0),
    ("mostly light", 90.0),
    ("pear", 120.0),
)
GRAMS = re.compile(r"(\d[\d.]*(?:e[+-]\d+)?) g(?![\w/])")


@cache
def asked(name: str, celsius: float) -> Advice:
    return advise(FORMULAS[name], flash_above_K=celsius + 273.15)


def told(made: Advice) -> Iterator[Way]:
    """Every change that is told, whether it reaches the goals or comes nearest."""
    return (way for way in (*made.ways, *made.nearest) if way.kind != "two_bottles")


def flash_K(made: Assessment) -> float:
    return made.estimates["flash_point_closed_cup"].interval()[0]


every_question = pytest.mark.parametrize(("name", "celsius"), ASKED)


@every_question
def test_the_grams_in_the_text_are_those_of_the_rows(name: str, celsius: float) -> None:
    """Every row that differs is named with its new grams, and no other grams are."""
    before = {row.label: row.grams for row in weigh(FORMULAS[name], default_catalogue()).rows}
    for way in told(asked(name, celsius)):
        after = dict(way.rows)
        changed = {label for label in {*before, *after} if before.get(label) != after.get(label)}
        assert changed
        for label in changed:
            new = f"{label} {after[label]:.4g} g" if label in after else f"no {label} (was "
            assert new in way.words, way.words
        numbers = {f"{grams:.4g}" for label in changed for grams in (before.get(label, 0.0),)}
        numbers |= {f"{after[label]:.4g}" for label in changed if label in after}
        assert set(GRAMS.findall(way.words)) <= numbers, way.words


@every_question
def test_every_change_assessed_anew_is_what_it_claims(name: str, celsius: float) -> None:
    made = asked(name, celsius)
    for way in told(made):
        (new,) = way.formulas
        again = assess(new, BENCH_K)
        assert flash_K(again) == pytest.approx(way.state.flash_K, abs=1e-6)
        assert again.chance_of_layers == pytest.approx(way.state.chance_of_layers, abs=1e-9)
        assert [row.label for row in again.weighing.rows] == [label for label, _ in way.rows]
    for way in made.ways:
        for new in way.formulas:
            assert flash_K(assess(new, BENCH_K)) >= celsius + 273.15


@every_question
def test_what_is_clear_stays_clear(name: str, celsius: float) -> None:
    if assess(FORMULAS[name], BENCH_K).liquid != "clear":
        pytest.skip("it is not clear as it is")
    for way in told(asked(name, celsius)):
        again = assess(way.formulas[0], BENCH_K)
        assert again.liquid == "clear", way.words
        assert again.dissolution == "dissolves", way.words


@every_question
def test_the_nearest_is_told_where_nothing_reaches_it(name: str, celsius: float) -> None:
    """It lifts the flash point, and says how far."""
    made = asked(name, celsius)
    assert bool(made.ways) != bool(made.nearest)
    for way in made.nearest:
        assert way.state.flash_K is not None
        assert made.now.flash_K is not None
        assert made.now.flash_K + 1.0 < way.state.flash_K < celsius + 273.15


def test_out_of_reach_is_said_with_what_is_nearest() -> None:
    made = asked("pear", 120.0)
    assert made.ways == ()
    assert any("comes nearest" in note for note in made.notes)


@every_question
def test_carriers_are_changed_before_aromatics_are_cut(name: str, celsius: float) -> None:
    ranks = [rank_of(way.kinds) for way in asked(name, celsius).ways]
    assert ranks == sorted(ranks)


def test_the_light_carrier_goes_first() -> None:
    """Rather than a seventeenth of the ester."""
    first = asked("strawberry", 40.0).ways[0]
    assert first.kind == "swap"
    grams = dict(first.rows)
    assert "ethanol" not in grams
    for label in ("ethyl butyrate", "ethyl hexanoate", "furaneol", "vanillin"):
        assert grams[label] == dict(asked("strawberry", 60.0).ways[0].rows)[label]


def test_what_is_on_the_shelf_already_goes_before_what_is_not() -> None:
    first = asked("a little ethanol", 40.0).ways[0]
    assert first.kind == "swap"
    assert set(dict(first.rows)) == {"ethyl acetate", "ethanol", "propylene glycol"}


def test_the_light_carrier_of_a_dilution_is_found() -> None:
    first = asked("in a dilution", 45.0).ways[0]
    assert first.kind == "swap"
    assert "maltol 10 % in propylene glycol" in dict(first.rows)
    assert all(one.factor == pytest.approx(1.0) for one in first.same_strength)


def test_two_natural_changes_go_together_where_one_is_not_enough() -> None:
    kinds = {way.kind for way in asked("strawberry", 60.0).ways}
    assert {"swap+more_carrier", "swap+relative", "swap+dilution"} <= kinds


@every_question
def test_the_same_strength_brings_as_much_of_each_material(name: str, celsius: float) -> None:
    """So many times the dose, by weight, brings what one dose of the formula brought."""
    before = weigh(FORMULAS[name], default_catalogue())
    held = active_shares(before)
    for way in told(asked(name, celsius)):
        after = active_shares(weigh(way.formulas[0], default_catalogue()))
        assert way.same_strength
        for one in way.same_strength:
            if one.factor is None:
                assert one.material not in after
            else:
                assert after[one.material] * one.factor == pytest.approx(held[one.material])
            assert one.material in way.strength or way.strength.startswith("every material")
        solvents = {"ethanol", "ethanol 96 %", "propylene glycol"}
        assert {one.material for one in way.same_strength} == set(held) - solvents


def active_shares(weighing: Weighing) -> dict[str, float]:
    """Mass share of each material without the carriers of its dilutions."""
    shares: dict[str, float] = {}
    for row in weighing.rows:
        fraction = 1.0 if row.strength is None else row.strength.percent / 100.0
        name = row.material.name
        shares[name] = shares.get(name, 0.0) + row.grams * fraction / weighing.total_g
    return shares


def test_strengths_in_words() -> None:
    one, two = SameStrength("vanillin", 1.5), SameStrength("linalool", 1.501)
    assert strength_words([one, two]) == (
        "every material keeps its strength at 1.5 times the dose, by weight"
    )
    gone, thin = SameStrength("eugenol", None), SameStrength("citral", 20.0)
    assert strength_words([one, gone, thin]) == (
        "to keep its strength, by weight: vanillin at 1.5 times the dose; citral at 20 times the "
        "dose; no dose brings back eugenol"
    )
    assert strength_words([gone]) == "no dose brings back eugenol"
    assert strength_words([]) == ""


@pytest.mark.parametrize("name", ["ethyl butyrate", "isoamyl acetate", "ethyl 2-methylbutyrate"])
def test_relatives_flash_higher_and_share_acid_or_alcohol(name: str) -> None:
    catalogue = default_catalogue()
    material = catalogue.material(name)
    own = pure_constants(material).flash.interval()[0]
    found = less_volatile_relatives(material, catalogue)
    assert found
    for other in found:
        assert pure_constants(other).flash.interval()[0] >= own + 10.0
        parts = set(other.name.split()) & set(name.split())
        assert parts


def test_what_is_no_ester_has_no_relatives_here() -> None:
    catalogue = default_catalogue()
    assert less_volatile_relatives(catalogue.material("limonene"), catalogue) == ()


def test_the_air_pressure_counts() -> None:
    """At 80 kPa it flashes some 5 °C lower, and so do the answers."""
    blend, limit_K = FORMULAS["strawberry"], 313.15
    made = advise(blend, flash_above_K=limit_K, pressure_Pa=80e3)
    assert made.ways
    for way in made.ways:
        assert flash_K(assess(way.formulas[0], BENCH_K, 80e3)) >= limit_K


def test_what_the_bench_saw_counts() -> None:
    """It flashed 6 °C lower than the model says; the ways hold with that counted."""
    blend, limit_K = FORMULAS["strawberry"], 313.15
    seen = [saw_flash(blend, flash_K(assess(blend, BENCH_K)) - 6.0)]
    made = advise(blend, flash_above_K=limit_K, observations=seen)
    assert made.now.flash_K == pytest.approx(
        flash_K(assess(blend, BENCH_K, observations=seen)), abs=1e-6
    )
    assert made.ways
    for way in made.ways:
        for new in way.formulas:
            assert flash_K(assess(new, BENCH_K, observations=seen)) >= limit_K


def saw_flash(of: Formula, value_K: float) -> Observation:
    blend = measured_blend(weigh(of, default_catalogue()).composition)
    half = KINDS["flash_point"].least_half
    return Observation(
        "flash_point", value_K, half, date(2026, 11, 20), blend, of.name, 101325.0, None, id=1
    )


def test_two_bottles_hold_the_formula_and_each_flashes_high_enough() -> None:
    """A terpene and an ester drive each other out of a citrate that holds little of the terpene."""
    blend = formula(("ethyl butyrate", 4.0), ("limonene", 12.0), ("triethyl citrate", 84.0))
    made = advise(blend, flash_above_K=316.15, most_ways=20)
    assert not made.is_met
    (way,) = (way for way in made.ways if way.kind == "two_bottles")
    assert len(way.bottles) == 2
    total: dict[str, float] = {}
    for label, grams in way.rows:
        total[label] = total.get(label, 0.0) + grams
    assert total == pytest.approx({r.material: r.amount.number for r in blend.rows}, rel=1e-3)
    for number, (new, state) in enumerate(zip(way.formulas, way.states, strict=True), start=1):
        is_clear = assess(new, BENCH_K).liquid == "clear"
        assert any(f"bottle {number}: chance of layers" in said for said in way.price) != is_clear
        assert flash_K(assess(new, BENCH_K)) == pytest.approx(state.flash_K, abs=1e-6)
        assert flash_K(assess(new, BENCH_K)) >= 316.15
