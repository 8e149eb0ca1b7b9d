"""What the bench saw counts in advice, carriers, doses, volumes and batches, as in `assess`."""

from __future__ import annotations

import pytest

from blendwright import Formula, assess, bench_sheet, compare_carriers, dose
from blendwright.app.batch import assess_many
from blendwright.estimate import display_name, to_celsius
from blendwright.questions.advice.advise import Way, advise
from blendwright.questions.advice.carrier_map import carrier_map
from blendwright.questions.drink.dosing import Dose
from blendwright.verdict.dosing import OBSERVED_CONCENTRATE
from tests.conftest import formula
from tests.observations.test_observed_blend import (
    CRYSTALS,
    FLASH,
    PEAR,
    STRANGER,
    number,
    saw,
)

MODEL_K = number(assess(PEAR), FLASH)[0]
LOWER = saw(PEAR, "flash_point", MODEL_K - 12.0, 2.0)
HIGHER = saw(PEAR, "flash_point", MODEL_K + 12.0, 2.0)


def as_formula(way: Way) -> Formula:
    return way.formulas[0]


def test_a_goal_is_met_where_the_measurement_meets_it() -> None:
    wanted = MODEL_K + 5.0
    assert not advise(PEAR, flash_above_K=wanted).is_met
    made = advise(PEAR, flash_above_K=wanted, observations=[HIGHER])
    assert made.is_met
    assert any("your own observations count" in note for note in made.notes)
    assert not advise(PEAR, flash_above_K=MODEL_K - 5.0, observations=[LOWER]).is_met


@pytest.mark.parametrize("seen", [LOWER, HIGHER], ids=["lower", "higher"])
def test_every_way_meets_its_goal_when_assessed_with_what_was_seen(seen) -> None:
    wanted = MODEL_K + 18.0
    made = advise(PEAR, flash_above_K=wanted, observations=[seen])
    ways = [way for way in made.ways if way.kind != "two_bottles"]
    assert ways
    for way in ways:
        then = number(assess(as_formula(way), observations=[seen]), FLASH)[0]
        assert then == pytest.approx(way.state.flash_K, abs=1e-6)
        assert then > wanted - 0.3, way.words


def test_a_batch_counts_them_in_the_rows_they_reach_and_in_no_other() -> None:
    seen = [LOWER, saw(PEAR, "density", 1031.0)]
    made = assess_many([PEAR, STRANGER, PEAR], observations=seen).to_pylist()
    for row, one in zip(made, (PEAR, STRANGER, PEAR), strict=True):
        there = assess(one, observations=seen)
        for quantity, estimate in there.estimates.items():
            name, edge = display_name(quantity), estimate.in_display_units()
            assert row[f"{name}_status"] == edge.status
            assert row[name] == (None if edge.value is None else pytest.approx(edge.value))
        assert row["ghs_category"] == there.flammability.category
        assert row["findings"] == ";".join(f.code for f in there.findings)
    alone = assess_many([PEAR, STRANGER]).to_pylist()
    assert made[1] == alone[1]
    assert made[0][display_name(FLASH)] < alone[0][display_name(FLASH)]
    assert "OBSERVED" in made[0]["findings"].split(";")


def test_a_batch_counts_a_crystals_solubility_in_every_row_that_holds_it() -> None:
    seen = [saw(PEAR, "crystals_gone", 313.15)]
    far = formula(("vanillin", 1.0), ("triacetin", 4.0), ("propylene glycol", 5.0))
    made = assess_many([far, STRANGER], observations=seen).to_pylist()
    there = assess(far, observations=seen)
    name = display_name("dissolution_temperature")
    assert made[0][name] == pytest.approx(to_celsius(there.estimates[CRYSTALS].interval()[0]))
    assert made[0]["findings"] == ";".join(f.code for f in there.findings)
    plain = assess_many([far, STRANGER]).to_pylist()
    assert made[0][name] > plain[0][name]
    assert made[1] == plain[1]


def test_advice_for_crystals_meets_its_goal_with_what_was_seen() -> None:
    """The model dissolves it at 5 °C, what was measured doesn't; every way then does."""
    seen = [saw(PEAR, "crystals_gone", 303.15)]
    assert number(assess(PEAR), CRYSTALS)[0] < 278.15
    made = advise(PEAR, clear_at_K=278.15, observations=seen)
    assert not made.is_met
    ways = [way for way in made.ways if way.kind not in ("two_bottles", "warming")]
    assert ways
    for way in ways:
        then = assess(as_formula(way), 278.15, observations=seen)
        assert number(then, CRYSTALS)[0] < 278.15 + 0.1, way.words


def test_carriers_and_map_count_them() -> None:
    seen = [HIGHER, saw(PEAR, "cloudy", 300.0)]
    own, other = compare_carriers(PEAR, ["triacetin"], observations=seen)
    alone, other_alone = compare_carriers(PEAR, ["triacetin"])
    there = assess(PEAR, observations=seen)
    assert own.flash == there.estimates[FLASH]
    assert own.bench_chance == there.chance_of_layers
    assert own.flash != alone.flash
    assert own.counted
    assert other == other_alone  # too far from what was seen
    assert not other.counted
    plain, drawn = (
        carrier_map(PEAR, "propylene glycol", "triacetin", 293.15, 4, observations=o)
        for o in ((), seen)
    )
    near = drawn.chance != plain.chance
    assert near.any()
    assert not near.all()


def test_the_measured_density_counts_in_volumes_and_doses_and_looks_do_not() -> None:
    seen = [saw(PEAR, "density", 1031.0), saw(PEAR, "cloudy", 300.0)]
    there = assess(PEAR, observations=seen).estimates
    sheet = bench_sheet(PEAR, observations=seen)
    assert sheet.density == there["density"]
    assert sheet.total.interval() == pytest.approx(there["volume"].interval())
    amount = Dose.of(mL=0.1, per_mL=100.0)
    plain = dose(PEAR, "water", amount)
    dosed = dose(PEAR, "water", amount, observations=seen)
    ratio = dosed.dose_mass.interval()[0] / plain.dose_mass.interval()[0]
    assert ratio == pytest.approx(
        there["density"].interval()[0] / assess(PEAR).estimates["density"].interval()[0]
    )
    assert dosed.word == plain.word
    assert OBSERVED_CONCENTRATE in dosed.said
    assert OBSERVED_CONCENTRATE not in plain.said
