"""What must hold of every answer because one Gibbs energy stands behind all of them.

Formulas are drawn from what makers weigh: light esters, aldehydes, terpenes, oils and crystals in
one or two carriers, watery or not.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.answers import Answers
from blendwright.mixture.block import Block
from blendwright.mixture.composition import substances_of
from blendwright.mixture.dissolution import solids_at, solids_of
from blendwright.mixture.interval import Interval
from blendwright.mixture.liquid import Liquid
from blendwright.mixture.part import Part
from blendwright.mixture.state import State, state
from blendwright.mixture.weighing import weigh
from blendwright.verdict.classes import category_of
from blendwright.verdict.dissolution_and_layers import (
    CLEAR_BELOW,
    SURELY_CLEAR_BELOW,
    liquid_word,
)
from tests.conftest import formula

LIGHT = ("ethyl acetate", "ethyl butyrate", "isoamyl acetate", "hexanal", "ethyl isovalerate")
HEAVY = (
    "linalool",
    "limonene",
    "benzaldehyde",
    "eugenol",
    "gamma-decalactone",
    "citral",
    "anethole",
)
CRYSTALS = ("vanillin", "camphor", "menthol", "thymol", "ethyl maltol", "coumarin")
OILS = ("orange oil", "cardamom oil", "peppermint oil")
CARRIERS = ("propylene glycol", "ethanol", "triacetin", "glycerol", "water", "benzyl alcohol")
TRACE_g = 1e-6
SAME_K = 2e-3  # a trace may move a temperature by this
SLOPES = 512

Rows = tuple[tuple[str, float], ...]


@st.composite
def formulas(draw: st.DrawFn, crystals: bool = True, oils: bool = True) -> Rows:
    """One to five materials in one or two carriers."""
    kinds = [*LIGHT, *HEAVY, *(CRYSTALS if crystals else ()), *(OILS if oils else ())]
    names = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=5, unique=True))
    carriers = draw(st.lists(st.sampled_from(CARRIERS), min_size=1, max_size=2, unique=True))
    grams = [draw(st.sampled_from((0.1, 0.5, 2.0, 5.0, 12.0))) for _ in names]
    more = [draw(st.sampled_from((10.0, 30.0, 60.0))) for _ in carriers]
    return (*zip(names, grams, strict=True), *zip(carriers, more, strict=True))


def block_of(*many: Rows) -> Block:
    return Block.from_weighings([weigh(formula(*rows), default_catalogue()) for rows in many])


def answers(*many: Rows, temperature_K: float = BENCH_K) -> Answers:
    return Answers(block_of(*many), temperature_K, ATMOSPHERE_Pa)


def states(block: Block, temperature_K: float) -> list[tuple[Part, State]]:
    found = []
    for part in block.parts:
        kelvin = np.full(len(part), temperature_K)
        liquid = Liquid(block.substances, part.index)
        found.append((part, state(block.substances, part, liquid, kelvin)))
    return found


def same(one: Interval, other: Interval, within: float) -> None:
    assert one.status.tolist() == other.status.tolist()
    for name in ("value", "low", "high"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=0, atol=within)


def temperatures(found: Answers) -> dict[str, Interval]:
    return {
        "flash point": found.flash,
        "boiling point": found.boiling,
        "dissolution temperature": found.last_crystal,
    }


# one liquid with all dissolved isn't supersaturated here, one of its layers is
OUT_OF_LAYERS: list[tuple[Rows, float]] = [
    (
        (
            ("vanillin", 2.0), ("orange oil", 0.1), ("ethyl acetate", 0.5),
            ("ethyl butyrate", 0.5), ("propylene glycol", 10.0), ("water", 30.0),
        ),
        277.15,
    ),
    (
        (
            ("ethyl acetate", 0.1), ("orange oil", 2.0), ("thymol", 0.1), ("menthol", 2.0),
            ("propylene glycol", 10.0),
        ),
        255.15,
    ),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "temperature_K"), OUT_OF_LAYERS)
def test_crystals_fall_out_of_layers(rows: Rows, temperature_K: float) -> None:
    """They are told where one asks for crystals, too."""
    found = answers(rows, temperature_K=temperature_K).dissolved_share
    assert found.is_ok.all()
    assert found.value[0] < 0.99


@example(*OUT_OF_LAYERS[0])
@example(*OUT_OF_LAYERS[1])
@given(formulas(), st.sampled_from((255.15, 277.15, 293.15, 323.15)))
def test_no_activity_is_above_one_nor_above_the_crystals(rows: Rows, temperature_K: float) -> None:
    block = block_of(rows)
    for part, found in states(block, temperature_K):
        if not found.converged.all():
            continue
        activity = found.x * np.exp(found.ln_gamma)
        assert (activity[part.there] <= 1.0 + 1e-7).all()
        which = solids_at(block.substances, part, temperature_K)
        if which.any():
            solids = solids_of(block.substances, part, which)
            kelvin = np.full((1, len(solids.row)), temperature_K)
            most = np.exp(solids.ln_targets(kelvin, np.zeros(1))[0])
            assert (activity[solids.row, solids.column] <= most * (1.0 + 1e-5)).all()


@given(formulas(), st.sampled_from((277.15, 293.15, 323.15)))
def test_activities_are_equal_in_both_layers_and_the_lever_rule_holds(
    rows: Rows, temperature_K: float
) -> None:
    block = block_of(rows)
    for part, found in states(block, temperature_K):
        if not (found.has_split & found.converged).any() or found.has_crystals.any():
            continue
        model = Liquid(block.substances, part.index).at(temperature_K)
        second = found.second
        ln_gamma = model.ln_gamma(second[:, None, :])[:, 0, :]
        there = part.there & (found.x > 1e-9) & (second > 1e-9)
        first_a, second_a = found.x * np.exp(found.ln_gamma), second * np.exp(ln_gamma)
        np.testing.assert_allclose(first_a[there], second_a[there], rtol=1e-6)
        moles = (part.x * found.in_second).sum(axis=1, keepdims=True)
        np.testing.assert_allclose(
            (1.0 - moles) * found.x + moles * second, part.x, rtol=0, atol=1e-8
        )


@given(formulas(), st.sampled_from((277.15, 293.15, 323.15)))
def test_no_partial_pressure_is_above_the_pure_liquids(rows: Rows, temperature_K: float) -> None:
    found = answers(rows, temperature_K=temperature_K)
    for vapour, (_, pressures) in zip(found.vapour, found.headspaces, strict=True):
        index = vapour.part.index
        pure = np.exp(found.substances.curves.ln_pressures(temperature_K))[index]
        known = np.isfinite(pressures)
        assert (pressures[known] <= pure[known] * (1.0 + 1e-7)).all()


@given(formulas(), st.sampled_from((258.15, 278.15, 308.15, 333.15)))
def test_flash_boiling_and_dissolution_know_no_bench(rows: Rows, bench_K: float) -> None:
    here, there = temperatures(answers(rows)), temperatures(answers(rows, temperature_K=bench_K))
    for name, one in here.items():
        same(one, there[name], 1e-9)


@given(formulas(), st.sampled_from((0.01, 3.0, 1e4)))
def test_scale_row_order_and_company_change_nothing(rows: Rows, factor: float) -> None:
    scaled = tuple((name, grams * factor) for name, grams in reversed(rows))
    alone = answers(rows)
    among = answers(scaled, rows, (("water", 10.0), ("limonene", 1.0)))
    for name, one in temperatures(alone).items():
        for number in (0, 1):
            other = temperatures(among)[name].only(np.array([number]))
            same(one, other, 1e-6)
    np.testing.assert_allclose(alone.chance[0], among.chance[:2], rtol=0, atol=1e-6)


@given(formulas(crystals=False), st.sampled_from((*LIGHT, *HEAVY, "vanillin", "propylene glycol")))
def test_a_trace_of_anything_changes_nothing(rows: Rows, trace: str) -> None:
    if trace in dict(rows):
        return
    before, after = answers(rows), answers((*rows, (trace, TRACE_g)))
    same(before.flash, after.flash, SAME_K)
    same(before.boiling, after.boiling, SAME_K)
    np.testing.assert_allclose(before.chance, after.chance, rtol=0, atol=1e-3)
    # a millionth of a gram of the lightest adds its own few thousandths of a pascal
    np.testing.assert_allclose(before.vapour_pressure.value, after.vapour_pressure.value, rtol=1e-3)


@given(formulas(), st.sampled_from((*HEAVY, "vanillin", "ethanol")))
def test_a_trace_does_not_move_where_crystals_dissolve(rows: Rows, trace: str) -> None:
    if trace in dict(rows):
        return
    before, after = answers(rows), answers((*rows, (trace, TRACE_g)))
    if before.last_crystal.is_ok.all():
        same(before.last_crystal, after.last_crystal, SAME_K)


@settings(max_examples=12)
@given(formulas(oils=False), st.sampled_from(OILS), st.sampled_from((0.5, 5.0)))
def test_a_mixture_and_its_constituents_are_one_blend(rows: Rows, oil: str, grams: float) -> None:
    """An oil by its name, and opened into what it holds."""
    catalogue = default_catalogue()
    opened = tuple(
        (material.name, grams * share)
        for material, share in substances_of(catalogue.find(oil), catalogue.material)
    )
    named, apart = answers((*rows, (oil, grams))), answers((*rows, *opened))
    same(named.flash, apart.flash, 1e-6)
    same(named.boiling, apart.boiling, 1e-6)
    same(named.vapour_pressure, apart.vapour_pressure, 1e-6)
    np.testing.assert_allclose(named.chance, apart.chance, rtol=0, atol=1e-6)


@given(formulas(), st.sampled_from((255.15, 277.15, 293.15, 323.15)))
def test_what_lies_as_crystals_and_what_is_liquid_is_what_was_weighed(
    rows: Rows, temperature_K: float
) -> None:
    """Every crystal's share lies between none and all, and the liquid left is saturated with it."""
    found = answers(rows, temperature_K=temperature_K)
    for part, (share, sure) in zip(
        found.block.parts, found.crystals_at(temperature_K), strict=True
    ):
        lying = share[:, sure]
        assert ((lying >= 0.0) & (lying <= 1.0)).all()
        assert (lying[:, ~part.there[sure]] == 0.0).all()
        assert (lying[1] <= lying[0] + 1e-12).all()
        assert (lying[0] <= lying[2] + 1e-12).all()


@given(formulas(crystals=False, oils=False), st.sampled_from(LIGHT))
def test_more_of_the_lightest_never_raises_the_flash_point(rows: Rows, light: str) -> None:
    """The lightest has the lowest flash point of what burns; Liaw's sum then falls only with T."""
    steps = [0.05, 0.5, 2.0, 6.0, 20.0]
    rest = tuple((n, g) for n, g in rows if n not in LIGHT and n != "ethanol")
    if not rest:
        return
    found = answers(*(((light, grams), *rest) for grams in steps)).flash
    value = found.value[found.is_ok]
    assert (np.diff(value) <= 1e-6).all(), value


@given(formulas(crystals=False, oils=False), st.sampled_from(CRYSTALS))
def test_more_crystal_never_dissolves_colder(rows: Rows, crystal: str) -> None:
    steps = [0.05, 0.3, 1.0, 4.0, 15.0, 40.0]
    rows = tuple(
        (name, grams) for name, grams in rows if name != "anethole"
    )  # a crystal of its own
    found = answers(*(((crystal, grams), *rows) for grams in steps)).last_crystal
    value = found.value[found.is_ok]
    assert (np.diff(value) >= -1e-3).all(), value


@given(formulas(crystals=False), st.sampled_from(CRYSTALS))
def test_the_dissolved_share_never_falls_on_warming(rows: Rows, crystal: str) -> None:
    block = block_of(((crystal, 8.0), *rows))
    shares = []
    for kelvin in np.linspace(258.15, 318.15, 7):
        dissolved = Answers(block, float(kelvin), ATMOSPHERE_Pa).dissolved_share
        if dissolved.is_ok.all():
            shares.append(float(dissolved.value[0]))
    assert (np.diff(shares) >= -1e-5).all(), shares


@given(formulas())
def test_ends_hold_the_value(rows: Rows) -> None:
    found = answers(rows)
    every = (*temperatures(found).values(), found.vapour_pressure, found.density, found.cloud)
    for one in every:
        ok = one.is_ok
        assert (one.low[ok] <= one.value[ok]).all()
        assert (one.value[ok] <= one.high[ok]).all()
    assert ((found.chance >= 0.0) & (found.chance <= 1.0) | np.isnan(found.chance)).all()


@pytest.mark.parametrize("name", CRYSTALS)
def test_a_pure_crystal_melts_at_its_melting_point(name: str) -> None:
    found = answers(((name, 100.0), ("ethanol", 1e-5)))
    part = found.block.parts[0]
    substance = found.substances.pures[found.substances.named(name)]
    assert substance.fusion is not None
    assert found.last_crystal.value[0] == pytest.approx(substance.fusion.melting.value, abs=0.2)
    assert len(part) == 1


@pytest.mark.parametrize("name", [*LIGHT, "limonene", "ethanol", "linalool"])
def test_a_pure_liquid_flashes_and_boils_as_it_does_by_itself(name: str) -> None:
    found = answers(((name, 10.0),))
    own = found.substances.pures[0]
    assert found.flash.value[0] == pytest.approx(own.flash.value, abs=1e-3)
    assert own.vapour is not None
    assert own.vapour.pressure_Pa(float(found.boiling.value[0])) == pytest.approx(
        ATMOSPHERE_Pa, rel=1e-6
    )


@given(st.sampled_from((*LIGHT, "limonene", "linalool")), st.floats(0.001, 0.95))
def test_in_a_carrier_that_hardly_burns_none_flashes_below_itself(name: str, share: float) -> None:
    """Its activity is at most 1, and triethyl citrate adds next to nothing."""
    found = answers(((name, 100.0 * share), ("triethyl citrate", 100.0 * (1.0 - share))))
    own = found.substances.pures[found.substances.named(name)].flash.value
    assert own is not None
    assert found.flash.value[0] >= own - 0.01


def smooth(value: np.ndarray, coarse_step: float, floor: float) -> None:
    """No step of SLOPES finer ones is larger than its share, but for a floor."""
    assert np.abs(np.diff(value)).max() <= max(30.0 * coarse_step / SLOPES, floor)


@settings(max_examples=8)
@given(formulas(oils=False), st.sampled_from(LIGHT))
def test_answers_are_continuous_in_grams(rows: Rows, name: str) -> None:
    """A step 512 times finer makes no larger a jump than its share, but for a floor."""
    rest = tuple((n, g) for n, g in rows if n != name)
    coarse = np.linspace(1.0, 9.0, 5)
    found = answers(*(((name, float(g)), *rest) for g in coarse))
    fine: Answers | None = None
    at = -1
    for question in ("flash", "boiling", "last_crystal"):
        one: Interval = getattr(found, question)
        if not one.is_ok.all():
            continue
        steps = np.abs(np.diff(one.value))
        if int(np.argmax(steps)) != at or fine is None:
            at = int(np.argmax(steps))
            grid = np.linspace(coarse[at], coarse[at + 1], SLOPES + 1)
            fine = answers(*(((name, float(g)), *rest) for g in grid))
        close: Interval = getattr(fine, question)
        known = close.value[close.is_ok]
        # ice and two liquids at one point may stay unknown, and say so
        assert len(known) >= SLOPES - 2
        smooth(known, float(steps[at]), 0.05)


@settings(max_examples=6)
@given(formulas(), st.sampled_from((258.15, 278.15, 298.15)))
def test_vapour_and_dissolved_share_are_continuous_in_temperature(
    rows: Rows, kelvin: float
) -> None:
    block = block_of(rows)
    grid = np.linspace(kelvin, kelvin + 1.0, 65)
    found = [Answers(block, float(t), ATMOSPHERE_Pa) for t in grid]
    for question, floor in (("vapour_pressure", 2e-3), ("dissolved_share", 2e-3)):
        every = [getattr(one, question) for one in found]
        if all(one.is_ok.all() for one in every):
            value = np.array([float(one.value[0]) for one in every])
            if question == "vapour_pressure":
                value = np.log(value)
            smooth(value, abs(value[-1] - value[0]), floor * 5.0)


@settings(max_examples=12)
@given(formulas(), st.sampled_from((278.15, 293.15, 313.15)))
def test_words_chances_classes_and_findings_agree(rows: Rows, temperature_K: float) -> None:
    made = assess(formula(*rows), temperature_K)
    codes = {finding.code for finding in made.findings}
    if made.chance_of_layers is not None:
        assert made.liquid == liquid_word(made.chance_of_layers)
        assert ("SPLITS" in codes) == (made.liquid == "splits")
        assert ("MAY-CLOUD" in codes) == (made.liquid == "may_cloud")
        assert bool(made.layers) <= (made.chance_of_layers >= SURELY_CLEAR_BELOW)
    crystals = made.estimates["dissolution_temperature"]
    if crystals.is_ok:
        assert made.chance_of_crystals is not None
        assert (made.dissolution == "dissolves") == (made.chance_of_crystals < CLEAR_BELOW)
        assert ("NEEDS-WARMING" in codes) == (made.dissolution == "needs_warming")
        assert ("WONT-DISSOLVE" in codes) == (made.dissolution == "undissolved")
    assert (made.warming.word == "not needed") == (made.dissolution == "dissolves")
    flash = made.estimates["flash_point_closed_cup"]
    if flash.is_ok and made.flammability.category != "unknown":
        boiling = made.estimates["initial_boiling_point"].value
        own = category_of(flash.interval()[0] - 273.15, boiling and boiling - 273.15)
        assert made.flammability.category == own


@settings(max_examples=10)
@given(
    formulas(),
    st.sampled_from((233.15, 263.15, 373.15, 423.15)),
    st.sampled_from((10e3, 60e3, 120e3)),
)
def test_nothing_crashes_at_the_edges(rows: Rows, temperature_K: float, pressure_Pa: float) -> None:
    found = Answers(block_of(rows), temperature_K, pressure_Pa)
    for one in (*temperatures(found).values(), found.vapour_pressure, found.dissolved_share):
        assert (one.is_ok | np.isnan(one.value)).all()
    assert np.isnan(found.chance).any() or (found.chance >= 0.0).all()
