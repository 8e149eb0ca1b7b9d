"""A block says of each blend what `assess` says of it, to 1e-9, whatever else is in the block."""

from __future__ import annotations

import gc
import math
import weakref
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendwright import Assessment, Formula, assess
from blendwright.app.batch.answer_table import QUESTIONS, BlockAnswers, columns
from blendwright.catalogue import default_catalogue
from blendwright.estimate import display_name
from blendwright.formula.conditions import BENCH_K, ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.block import Block
from blendwright.mixture.liquid import Liquid, LiquidAt
from blendwright.mixture.liquid_split import PLAIN, START_PURITY, TRIVIAL_DISTANCE
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.questions.materials.own import read_own_materials

ALL = frozenset(QUESTIONS)
RELATIVE = 1e-9
NAMES = list(default_catalogue().names())
CARRIERS = ["propylene glycol", "ethanol", "water", "glycerol", "triacetin"]

Rows = Sequence[tuple[str, float]]


def formula(rows: Rows) -> Formula:
    return Formula.from_rows({"material": name, "grams": repr(grams)} for name, grams in rows)


def weighed(rows: Rows) -> Weighing:
    return weigh(formula(rows), default_catalogue())


def said(made: Assessment) -> dict[str, object]:
    """What an assessment says, in the block's columns."""
    found: dict[str, object] = {
        "mass_g": made.weighing.total_g,
        "chance_of_crystals": math.nan
        if made.chance_of_crystals is None
        else made.chance_of_crystals,
        "chance_of_layers": math.nan if made.chance_of_layers is None else made.chance_of_layers,
        "liquid": made.liquid,
        "dissolution": made.dissolution,
        "ghs_category": made.flammability.category,
        "ghs_standing": made.flammability.standing,
        "ghs_treat_as": made.flammability.treat_as,
        "findings": ";".join(finding.code for finding in made.findings),
        "has_warning": made.has_warning,
    }
    for quantity, estimate in made.estimates.items():
        name, edge = display_name(quantity), estimate.in_display_units()
        ends = edge.interval() if edge.is_ok else (math.nan,) * 3
        found[f"{name}_status"] = edge.status
        for end, number in zip(("", "_low", "_high"), ends, strict=True):
            found[name + end] = number
    return found


def agree(name: str, here: object, there: object) -> bool:
    """Words equal; numbers to RELATIVE, temperatures as kelvin."""
    if not isinstance(there, float):
        return str(here) == str(there)
    assert isinstance(here, float)
    if math.isnan(there):
        return math.isnan(here)
    zero = 273.15 if "_C" in name else 0.0
    return abs(here - there) <= RELATIVE * abs(there + zero)


def assert_as_assess(
    blends: Sequence[Rows], temperature_K: float = ROOM_K, pressure_Pa: float = ATMOSPHERE_Pa
) -> None:
    found = columns([weighed(rows) for rows in blends], temperature_K, pressure_Pa, ALL)
    for number, rows in enumerate(blends):
        expected = said(assess(formula(rows), temperature_K, pressure_Pa))
        assert found.keys() == expected.keys()
        wrong = {
            name: (found[name][number], value)
            for name, value in expected.items()
            if not agree(name, found[name][number], value)
        }
        assert not wrong, (rows, wrong)


@st.composite
def blends(draw: st.DrawFn) -> Rows:
    """Anything of the catalogue in any amount, mostly in some carrier, at times with a trace."""
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=7, unique=True))
    exponents = draw(st.lists(st.floats(-3.0, 2.0), min_size=len(names), max_size=len(names)))
    rows = {name: 10.0**exponent for name, exponent in zip(names, exponents, strict=True)}
    for carrier in draw(st.lists(st.sampled_from(CARRIERS), max_size=2, unique=True)):
        rows[carrier] = 10.0 ** draw(st.floats(0.0, 3.0))
    if draw(st.booleans()):
        rows[names[0]] = 1e-12
        rows.setdefault("propylene glycol", 10.0)
    return tuple(rows.items())


@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.lists(blends(), min_size=1, max_size=3))
def test_any_blends_at_the_bench_are_as_assessed(found: list[Rows]) -> None:
    assert_as_assess(found)


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])
@given(blends(), st.sampled_from([253.15, 278.15, 293.15, 333.15]), st.sampled_from([80e3, 105e3]))
def test_any_blend_in_cold_and_heat_is_as_assessed(
    found: Rows, temperature_K: float, pressure_Pa: float
) -> None:
    assert_as_assess([found], temperature_K, pressure_Pa)


HOSTILE: Mapping[str, Rows] = {
    "one substance": (("ethyl butyrate", 3.0),),
    "water alone": (("water", 100.0),),
    "one crystal": (("vanillin", 1.0),),
    "crystals alone": (("vanillin", 5.0), ("menthol", 5.0), ("camphor", 2.0)),
    "a natural oil in spirit": (("cardamom oil", 2.0), ("ethanol", 60.0), ("water", 40.0)),
    "a trace of a natural oil": (("sweet orange oil", 0.01), ("triacetin", 100.0)),
    "a natural oil of weight": (("sweet orange oil", 0.1), ("triacetin", 100.0)),
    "oil and glycol part": (("limonene", 50.0), ("propylene glycol", 50.0)),
    "crystals and layers": (
        ("menthol", 20.0),
        ("limonene", 30.0),
        ("ethanol", 30.0),
        ("water", 20.0),
    ),
    "a trace": (("limonene", 1e-12), ("ethanol", 20.0), ("water", 80.0)),
    "nothing that burns but a trace": (("ethanol", 1e-9), ("water", 100.0)),
    "liquid as sold": (("MCT oil", 50.0), ("ethyl butyrate", 5.0)),
    "maltol in glycol": (("maltol", 1.0), ("ethyl butyrate", 2.0), ("propylene glycol", 97.0)),
}


def test_hostile_blends_in_one_block_are_as_assessed() -> None:
    assert_as_assess(list(HOSTILE.values()))


def test_a_diluted_oil_is_classed_as_assessed() -> None:
    """What carries it is no oil."""
    oil = {"material": "cardamom oil", "grams": "2", "strength_pct": "10", "carrier": "ethanol"}
    made = Formula.from_rows([oil, {"material": "triacetin", "grams": "98"}])
    found = columns([weigh(made, default_catalogue())], ROOM_K, ATMOSPHERE_Pa, ALL)
    expected = said(assess(made, ROOM_K))
    assert not [name for name, v in expected.items() if not agree(name, found[name][0], v)]


def test_a_base_that_nobody_discloses_bounds_the_flash_point(
    write: Callable[[str, bytes | str], Path],
) -> None:
    """It has no groups: no vapour, and a bounded flash point."""
    path = write(
        "own.csv",
        "material,property,value,unit,temperature_C,uncertainty,source,cas,smiles,note\n"
        "pear base,density,0.98,,,,sheet,,,\npear base,flash_point,71,,,,sheet,,,\n"
        "pear base,solvent,propylene glycol,,,,,,,\n",
    )
    catalogue = read_own_materials(path, default_catalogue())
    for carrier in ("propylene glycol", "ethyl acetate"):
        rows = (("pear base", 20.0), (carrier, 80.0))
        one = weigh(formula(rows), catalogue)
        found = columns([one, weighed((("ethanol", 1.0),))], ROOM_K, ATMOSPHERE_Pa, ALL)
        expected = said(assess(formula(rows), ROOM_K, catalogue=catalogue))
        assert not [n for n, v in expected.items() if not agree(n, found[n][0], v)]


def test_sixty_rows_are_as_assessed() -> None:
    picked = NAMES[:: len(NAMES) // 60][:60]
    rows = [(name, 0.1 + 0.05 * (i % 7)) for i, name in enumerate(picked)]
    found = columns([weighed([*rows, ("ethanol", 200.0)])], ROOM_K, ATMOSPHERE_Pa, ALL)
    expected = said(assess(formula([*rows, ("ethanol", 200.0)]), ROOM_K))
    assert not [name for name, v in expected.items() if not agree(name, found[name][0], v)]


# Blocks

SIBLINGS = [
    [(name, 0.3 + 0.2 * ((3 * k + i) % 5)) for i, name in enumerate(names)]
    + [(CARRIERS[k % len(CARRIERS)], 40.0)]
    for k, names in enumerate(NAMES[(37 * j) % 300 : (37 * j) % 300 + 4 + j % 5] for j in range(16))
]


@pytest.fixture(scope="module")
def siblings() -> list[Weighing]:
    return [weighed(list(dict(rows).items())) for rows in SIBLINGS]


def assert_same(first: Mapping[str, np.ndarray], second: Mapping[str, np.ndarray]) -> None:
    assert first.keys() == second.keys()
    for name, values in first.items():
        for here, there in zip(values.tolist(), second[name].tolist(), strict=True):
            assert agree(name, here, there), (name, here, there)


def test_the_size_of_the_block_changes_nothing(siblings: list[Weighing]) -> None:
    whole = columns(siblings, ROOM_K, ATMOSPHERE_Pa, ALL)
    parts = [
        columns(siblings[i : i + 7], ROOM_K, ATMOSPHERE_Pa, ALL) for i in range(0, len(siblings), 7)
    ]
    assert_same(whole, {name: np.concatenate([p[name] for p in parts]) for name in whole})


def test_the_order_of_the_blends_changes_nothing(siblings: list[Weighing]) -> None:
    order = np.random.default_rng(3).permutation(len(siblings))
    straight = columns(siblings, ROOM_K, ATMOSPHERE_Pa, ALL)
    mixed = columns([siblings[i] for i in order], ROOM_K, ATMOSPHERE_Pa, ALL)
    assert_same({name: values[order] for name, values in straight.items()}, mixed)


def test_a_question_alone_is_answered_as_among_all(siblings: list[Weighing]) -> None:
    whole = columns(siblings[:10], ROOM_K, ATMOSPHERE_Pa, ALL)
    for question in QUESTIONS:
        alone = columns(siblings[:10], ROOM_K, ATMOSPHERE_Pa, frozenset({question}))
        assert_same({name: whole[name] for name in alone}, alone)


def test_a_long_table_gives_the_same_as_weighings(siblings: list[Weighing]) -> None:
    templates, number, blend, grams = [], {}, [], []
    for k, one in enumerate(siblings):
        for row in one.rows:
            if row.label not in number:
                number[row.label] = len(templates)
                templates.append(row)
            blend.append(k)
            grams.append((number[row.label], row.grams))
    block = Block.from_long(
        np.array(blend), np.array([g[0] for g in grams]), np.array([g[1] for g in grams]), templates
    )
    made = BlockAnswers(block, ROOM_K, ATMOSPHERE_Pa, ALL).columns()
    assert_same(columns(siblings, ROOM_K, ATMOSPHERE_Pa, ALL), made)


def test_twin_rows_of_a_long_table_are_added_up_and_said_so() -> None:
    templates = weighed((("ethanol", 1.0), ("water", 1.0))).rows
    block = Block.from_long(
        np.array([0, 0, 0, 1, 1]), np.array([0, 1, 0, 0, 1]), np.array([1.0, 4.0, 2.0, 3.0, 4.0]),
        templates,
    )  # fmt: skip
    made = BlockAnswers(block, ROOM_K, ATMOSPHERE_Pa, ALL).columns()
    assert made["density_g_mL"][0] == pytest.approx(made["density_g_mL"][1], rel=1e-14)
    assert "ROWS-SUMMED" in made["findings"][0]
    assert "ROWS-SUMMED" not in made["findings"][1]


def test_an_empty_block_and_a_wrong_question() -> None:
    assert all(len(values) == 0 for values in columns([], ROOM_K, ATMOSPHERE_Pa, ALL).values())
    with pytest.raises(ValueError, match="no such question"):
        columns([], ROOM_K, ATMOSPHERE_Pa, frozenset({"taste"}))


# No split is missed


def lowest_by_plain_substitution(model: LiquidAt, x: Array) -> float:
    """The lowest tangent-plane distance, every start by itself and without mixing of steps."""
    d = np.log(x) + model.ln_gamma(x[None, None, :])[0, 0]
    starts = (1.0 - START_PURITY) * x + START_PURITY * np.eye(len(x))
    w = np.vstack([starts, np.full(len(x), 1.0 / len(x))])
    for _ in range(600):
        total = np.exp(d - model.ln_gamma(w[None])[0])
        w = np.maximum(total / total.sum(axis=1, keepdims=True), 1e-14)
    away = np.abs(w - x).max(axis=1) > TRIVIAL_DISTANCE
    return float(min((-np.log(total.sum(axis=1)))[away], default=0.0))


def test_no_split_is_missed_by_mixing_steps(siblings: list[Weighing]) -> None:
    """A distance as low as plain substitution finds from every start, for blends of all kinds."""
    seen = 0
    for one in siblings:
        composition = one.composition.only(lambda s: bool(s.groups))
        if len(composition.substances) < 2:
            continue
        part = composition.part
        for kelvin in (ROOM_K, 273.15):
            model = Liquid(composition.table, part.index).at(kelvin)
            plain = lowest_by_plain_substitution(model, part.x[0])
            found = PLAIN.stabilities(model, part.x)
            assert found.distance[0] <= plain + 1e-8 or plain > 0.0
            seen += plain < -1e-7
    assert seen >= 4


def test_a_block_that_is_answered_leaves_nothing_behind(siblings: list[Weighing]) -> None:
    """At 20 °C, where labels stand, the answers are their own answers at 20 °C: kept by themselves
    they would hold every lot of a run until the collector's rarest round."""
    block = Block.from_weighings(siblings)
    gone = weakref.ref(block)
    gc.collect()
    gc.disable()
    try:
        BlockAnswers(block, BENCH_K, ATMOSPHERE_Pa, frozenset(QUESTIONS)).columns()
        del block
        assert gone() is None
    finally:
        gc.enable()
