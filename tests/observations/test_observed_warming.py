"""Observations in warming: the numbers of `assess`, and a window on the safe side of them."""

from __future__ import annotations

import json
import math
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendwright import Assessment, Formula, WarmBath, Warming, assess, warm
from blendwright.catalogue import default_catalogue
from blendwright.estimate import Estimate
from blendwright.mixture.weighing import weigh
from blendwright.observations import Observation
from blendwright.observations.observed_blend import ObservedBlend
from blendwright.questions.flash_drivers import flash_drivers
from blendwright.report.warming import verdict_sentence
from blendwright.verdict.blend import Blend
from blendwright.verdict.warming import LowEnd, window
from tests.conftest import formula
from tests.observations.test_observed_blend import NEARLY, PEAR, STRANGER, saw

PLAIN = formula(("ethyl butyrate", 4.0), ("propylene glycol", 96.0))
NEARLY_PLAIN = formula(("ethyl butyrate", 4.1), ("propylene glycol", 95.9))
HAZY = formula(("isoamyl acetate", 10.0), ("propylene glycol", 90.0))
CRYSTALS = formula(("ethyl butyrate", 4.0), ("vanillin", 35.0), ("propylene glycol", 61.0))
LIKE_CRYSTALS = formula(("ethyl butyrate", 4.1), ("vanillin", 35.0), ("propylene glycol", 60.9))
FLASH, DISSOLUTION = "flash_point_closed_cup", "dissolution_temperature"


@cache
def alone(of: str) -> Warming:
    return warm({"PLAIN": PLAIN, "CRYSTALS": CRYSTALS, "PEAR": PEAR}[of])


@cache
def flash_K(of: str) -> tuple[float, float, float]:
    """By the model."""
    made = assess({"PLAIN": PLAIN, "CRYSTALS": CRYSTALS, "PEAR": PEAR}[of])
    return made.estimates[FLASH].interval()


def both(of: Formula, *seen: Observation) -> tuple[Assessment, Warming]:
    return assess(of, observations=seen), warm(of, observations=seen)


def most_K(made: Warming) -> float:
    """The most that keeps the margin."""
    assert made.window.highest_K is not None
    return made.window.highest_K


def codes(made: Warming) -> set[str]:
    return {finding.code for finding in made.findings}


# Numbers are the assessment's


def test_without_observations_nothing_changes_to_the_last_digit() -> None:
    plain = json.dumps(alone("PEAR").to_dict())
    assert json.dumps(warm(PEAR, observations=()).to_dict()) == plain
    far = saw(STRANGER, "flash_point", 300.0)
    assert json.dumps(warm(PEAR, observations=[far]).to_dict()) == plain
    assert "observations" not in json.loads(plain)


@pytest.mark.parametrize("off", [-25.0, -3.0, 0.0, 12.0])
@pytest.mark.parametrize("of", [PLAIN, NEARLY_PLAIN])
def test_the_flash_point_is_that_of_the_assessment(of: Formula, off: float) -> None:
    assessed, warmed = both(of, saw(PLAIN, "flash_point", flash_K("PLAIN")[0] + off, 4.0))
    assert warmed.window.flash == assessed.estimates[FLASH]
    assert warmed.observations == assessed.observations


def test_crystals_density_and_boiling_point_are_those_of_the_assessment() -> None:
    """The boiling point is told where it may boil."""
    seen = [
        saw(CRYSTALS, "crystals_gone", 325.15),
        saw(CRYSTALS, "density", 1050.0, 1.0),
        saw(CRYSTALS, "boiling_point", 347.15, 2.0),
    ]
    made = warm(CRYSTALS, WarmBath(to_K=353.15), observations=seen)
    here, hot = assess(CRYSTALS, observations=seen), assess(CRYSTALS, 353.15, observations=seen)
    assert made.window.dissolution == here.estimates[DISSOLUTION]
    assert made.volume == hot.estimates["volume"]
    assert "WARM-BOILS" in codes(made)
    assert "WARM-BOILS" not in codes(warm(CRYSTALS, WarmBath(to_K=353.15)))


def test_crystals_seen_to_go_warmer_ask_for_more_warmth() -> None:
    made = warm(CRYSTALS, observations=[saw(CRYSTALS, "crystals_gone", 330.15)])
    before = alone("CRYSTALS").window.target_K
    assert made.window.target_K is not None
    assert before is not None
    assert made.window.target_K > before


# The window


@pytest.mark.parametrize("off", [-35.0, -25.0])
@pytest.mark.parametrize(
    ("of", "seen"),
    [
        ("PLAIN", PLAIN),
        ("PLAIN", NEARLY_PLAIN),
        ("CRYSTALS", CRYSTALS),
        ("CRYSTALS", LIKE_CRYSTALS),
    ],
)
def test_a_lower_measured_flash_point_lowers_the_warming_window(
    of: str, seen: Formula, off: float
) -> None:
    """For that blend and its like, by nearly as much as it lies below the model's low end."""
    low = saw(seen, "flash_point", flash_K(of)[0] + off, 2.0)
    made = warm({"PLAIN": PLAIN, "CRYSTALS": CRYSTALS}[of], observations=[low])
    assert most_K(made) < most_K(alone(of))
    assert most_K(made) <= low.value - made.window.margin_K
    assert made.keeps_margin is False or made.at_K <= most_K(made)


def test_where_the_measured_flash_point_takes_the_window_away_it_says_so() -> None:
    blend = formula(("ethyl butyrate", 0.5), ("vanillin", 30.0), ("propylene glycol", 69.5))
    asked = WarmBath(to_K=308.15)
    before = warm(blend, asked)
    made = warm(blend, asked, observations=[saw(blend, "flash_point", 303.15, 2.0)])
    assert before.keeps_margin is True
    assert made.keeps_margin is False
    assert made.has_warning


@given(
    off=st.floats(-60.0, 80.0),
    half=st.floats(2.0, 20.0),
    of=st.sampled_from([("PLAIN", PLAIN), ("CRYSTALS", CRYSTALS)]),
    like=st.booleans(),
)
@settings(max_examples=12)
def test_the_window_never_goes_above_a_low_end_less_the_margin(
    off: float, half: float, of: tuple[str, Formula], like: bool
) -> None:
    """Not above that of the flash point told; and above the model's own only by a measurement of
    this very blend, up to that measurement's low end."""
    name, blend = of
    other = {"PLAIN": NEARLY_PLAIN, "CRYSTALS": LIKE_CRYSTALS}[name]
    value = flash_K(name)[0] + off
    made = warm(blend, observations=[saw(other if like else blend, "flash_point", value, half)])
    margin = made.window.margin_K
    assert most_K(made) <= made.window.flash.interval()[1] - margin
    is_same = made.observations[0].is_same_blend
    by_bench = min(value - half - margin, most_K(alone(name)) + 1.0 + off)  # in whole degrees
    assert most_K(made) <= max(most_K(alone(name)), by_bench + 1e-6 if is_same else -math.inf)


@given(off=st.floats(-60.0, 60.0), more=st.floats(0.0, 30.0), half=st.floats(2.0, 20.0))
@settings(max_examples=12)
def test_a_higher_measurement_never_gives_a_smaller_window_nor_a_lower_one_a_larger(
    off: float, more: float, half: float
) -> None:
    value = flash_K("PLAIN")[0] + off
    first, second = (
        most_K(warm(PLAIN, observations=[saw(PLAIN, "flash_point", value + extra, half)]))
        for extra in (0.0, more)
    )
    assert first <= second
    if off <= 0.0:
        assert first <= most_K(alone("PLAIN"))


def test_a_measurement_that_only_agrees_with_the_model_widens_nothing() -> None:
    """It narrows the interval; that alone is no reason to warm further."""
    made = warm(PLAIN, observations=[saw(PLAIN, "flash_point", flash_K("PLAIN")[0], 2.0)])
    assert made.window.flash.interval()[1] > flash_K("PLAIN")[1] + 5.0
    assert most_K(made) == most_K(alone("PLAIN"))
    assert "the low end by the model alone" in verdict_sentence(made)


def test_only_the_same_blend_lets_it_be_warmed_further_and_it_says_so() -> None:
    """As only the same blend clears a class."""
    unlike = formula(("ethyl butyrate", 4.9), ("propylene glycol", 95.1))
    high = flash_K("PLAIN")[0] + 30.0
    same = warm(PLAIN, observations=[saw(PLAIN, "flash_point", high, 2.0)])
    like = warm(PLAIN, observations=[saw(unlike, "flash_point", high, 2.0)])
    assert not like.observations[0].is_same_blend
    assert like.window.flash.interval()[1] > flash_K("PLAIN")[1]  # as the assessment has it
    assert most_K(like) == most_K(alone("PLAIN"))
    assert like.window.held is not None
    assert like.window.held.kelvin == pytest.approx(flash_K("PLAIN")[1])
    assert "only similar blends were measured" in verdict_sentence(like)
    assert like.to_dict()["held_low_end_C"] == pytest.approx(flash_K("PLAIN")[1] - 273.15)
    assert most_K(same) > most_K(alone("PLAIN"))
    assert "WARM-MEASURED" in codes(same)
    assert "WARM-MEASURED" not in codes(like)
    (said,) = (f for f in same.findings if f.code == "WARM-MEASURED")
    assert "your measurement of 2026-11-20" in said.message


def test_a_low_end_that_holds_is_what_the_margin_is_taken_from() -> None:
    flash = Estimate.ok(353.15, 344.15, 360.15, "K", "test")
    crystals = Estimate.ok(313.15, 308.15, 323.15, "K", "test")
    free = window(crystals, flash, False, 298.15, LowEnd(350.15, "another"))
    held = window(crystals, flash, False, 298.15, LowEnd(340.15, "a lower one"))
    assert free == window(crystals, flash, False, 298.15)
    assert free.highest_K == pytest.approx(329.15)
    assert held.highest_K == pytest.approx(325.15)
    assert (free.word, held.word) == ("safe window", "narrow")


# What is told beyond the assessment


def test_what_hardly_loses_anything_flashes_as_the_blend() -> None:
    """Covered for a minute it is the measured blend still; what is lost raises it by the model's
    difference."""
    minute = WarmBath(to_K=300.15, minutes=1.0)
    before, low, high = (
        warm(PLAIN, minute, observations=seen)
        for seen in (
            [],
            [saw(PLAIN, "flash_point", flash_K("PLAIN")[0] - 20.0, 2.0)],
            [saw(PLAIN, "flash_point", flash_K("PLAIN")[0] + 20.0, 2.0)],
        )
    )
    covered = [made.beakers[0].flash_after for made in (before, low, high)]
    for made, after in zip((before, low, high), covered, strict=True):
        assert after.interval()[0] == pytest.approx(made.window.flash.interval()[0], abs=0.1)
        assert made.shift_K(after) == pytest.approx(before.shift_K(covered[0]), abs=1e-6)
    assert covered[1].interval()[1] < low.window.flash.interval()[1]
    assert covered[2].interval()[1] < high.window.flash.interval()[1]


def test_a_low_measurement_lowers_every_flash_point_a_high_one_no_low_end_more_than_its_due() -> (
    None
):
    """Left open a day it is another liquid: its low end takes less of a high measurement."""
    low, high = (
        warm(PLAIN, observations=[saw(PLAIN, "flash_point", flash_K("PLAIN")[0] + off, 2.0)])
        for off in (-20.0, 20.0)
    )
    before = alone("PLAIN")

    def told(made: Warming) -> list[Estimate]:
        after = [beaker.flash_after for beaker in made.beakers]
        return [*after, made.bottle_flash_after, made.part_filled_flash]

    shift = high.window.flash.interval()[0] - before.window.flash.interval()[0]
    for plain, lower, higher in zip(told(before), told(low), told(high), strict=True):
        ends = zip(plain.interval(), lower.interval(), higher.interval(), strict=True)
        (v, lower_v, higher_v), (e, lower_e, higher_e), _ = ends
        assert lower_v < v - 15.0
        assert lower_e < e - 15.0
        assert higher_v == pytest.approx(v + shift)
        assert e <= higher_e <= e + shift + 1e-9
    unlike = formula(("ethyl butyrate", 4.9), ("propylene glycol", 95.1))
    value = flash_K("PLAIN")[0] + 20.0
    like = warm(PLAIN, observations=[saw(unlike, "flash_point", value, 2.0)])
    for plain, higher in zip(told(before), told(like), strict=True):
        assert higher.interval()[1] == pytest.approx(plain.interval()[1])


def test_measured_to_flash_lower_its_vapour_counts_as_warmer_measured_higher_as_before() -> None:
    before = alone("PLAIN")
    low, high = (
        warm(PLAIN, observations=[saw(PLAIN, "flash_point", flash_K("PLAIN")[0] + off, 2.0)])
        for off in (-15.0, 15.0)
    )
    shift = low.window.flash.interval()[0] - before.window.flash.interval()[0]
    warmer = warm(PLAIN, bench_K=before.bench_K - shift).at_bench.ratio
    assert low.at_bench.ratio.interval() == pytest.approx(warmer.interval())
    assert low.at_bench.ratio.interval()[0] > before.at_bench.ratio.interval()[0]
    assert low.reaches_lower_limit.interval() == pytest.approx(
        [end + shift for end in before.reaches_lower_limit.interval()]
    )
    assert low.at_bench.lower_limit == before.at_bench.lower_limit
    assert low.beakers[1].rows == before.beakers[1].rows
    assert high.at_bench == before.at_bench
    assert high.reaches_lower_limit == before.reaches_lower_limit
    assert any("as if" in note for note in low.notes)
    assert not any("as if" in note for note in high.notes)


def test_a_flash_point_of_what_does_not_burn_by_the_model_leaves_its_vapour_unknown() -> None:
    """Nothing of the model's is told of a vapour that it does not know to burn."""
    water = formula(("water", 10.0))
    made = warm(water, observations=[saw(water, "flash_point", 320.0, 4.0)])
    assert most_K(made) <= 316.0 - made.window.margin_K
    assert made.at_bench.ratio.status == "unknown"
    assert made.reaches_lower_limit.status == "unknown"
    assert made.bottle_flash_after.status == "unknown"
    assert {f.severity for f in made.findings if f.code == "WARM-IGNITION"} == {"warning"}


def test_layers_seen_are_counted_for_the_flash_point() -> None:
    """Seen clear takes no layers out of the window's low end."""
    split = formula(("limonene", 50.0), ("propylene glycol", 50.0))
    seen = warm(split, observations=[saw(split, "clear", 295.15)])
    assert seen.window.flash == warm(split).window.flash
    assert seen.window.highest_K == warm(split).window.highest_K


def test_with_layers_seen_the_flash_point_is_the_same_whatever_is_asked_first() -> None:
    """Seen cloudy, it may part though the model alone does not expect it; the flash point moves by
    what was measured of it, and by no look."""
    by_model_K = assess(HAZY).estimates[FLASH].interval()[0]
    cloudy = saw(HAZY, "cloudy", 300.15)
    measured = saw(HAZY, "flash_point", by_model_K - 20, 2.0)
    seen = [cloudy, measured]
    catalogue = default_catalogue()

    def observed() -> ObservedBlend:
        weighing = weigh(HAZY, catalogue)
        return ObservedBlend(Blend(weighing, 298.15, 101325.0), seen, catalogue)

    first, second = observed(), observed()
    assert first.may_split
    assert not first.alone.may_split
    assert first.flash_shift_K < -15.0
    assert first.flash.estimate == second.flash.estimate
    assert second.flash_shift_K == first.flash_shift_K
    assert warm(HAZY, observations=seen).window.flash == first.flash.estimate
    assert warm(HAZY, observations=[measured]).window.flash == first.flash.estimate
    assert warm(HAZY, observations=[cloudy]).window.flash == warm(HAZY).window.flash
    assert first.burns_in_layers


def test_crystals_seen_to_be_gone_do_not_lift_the_low_end() -> None:
    """What the model alone leaves over its crystals stays counted for the flash point."""
    made = warm(CRYSTALS, observations=[saw(CRYSTALS, "crystals_gone", 283.15)])
    assert made.window.word == "not needed"
    assert made.window.highest_K == alone("CRYSTALS").window.highest_K


def test_the_carrier_alone_is_another_blend() -> None:
    """A flash point measured of the whole says nothing of the crystals and their carrier, one
    measured of these says it of them."""
    first = formula(("vanillin", 35.0), ("propylene glycol", 61.0))
    whole = warm(CRYSTALS, observations=[saw(CRYSTALS, "flash_point", 300.15, 2.0)])
    measured = warm(CRYSTALS, observations=[saw(first, "flash_point", 340.15, 2.0)])
    before = alone("CRYSTALS").carrier_first
    assert before is not None
    assert whole.carrier_first == before
    assert measured.carrier_first is not None
    assert measured.carrier_first.window.highest_K is not None
    assert measured.carrier_first.window.highest_K <= 340.15 - 15.0
    assert measured.window == alone("CRYSTALS").window


def test_the_findings_are_those_of_the_assessment_word_for_word() -> None:
    assessed, warmed = both(PEAR, saw(PEAR, "flash_point", flash_K("PEAR")[0] - 30.0, 2.0))
    told = [[f for f in made.findings if f.code.startswith("OBSERVED")] for made in
            (assessed, warmed)]  # fmt: skip
    assert {f.code for f in told[0]} == {"OBSERVED", "OBSERVED-DISAGREES"}
    assert told[0] == told[1]


# What drives the flash point


def test_drivers_start_at_the_flash_point_of_the_assessment() -> None:
    low = saw(PEAR, "flash_point", flash_K("PEAR")[0] - 20.0, 2.0)
    made, plain = flash_drivers(PEAR, observations=[low]), flash_drivers(PEAR)
    assert made.flash == assess(PEAR, observations=[low]).estimates[FLASH]
    assert made.curve[0].flash == made.flash
    assert made.sensitivities == plain.sensitivities
    assert made.flash.interval()[0] < plain.flash.interval()[0] - 15.0
    near = flash_drivers(NEARLY, observations=[low])
    assert near.flash == assess(NEARLY, observations=[low]).estimates[FLASH]


def test_drivers_without_observations_do_not_change_to_the_last_digit() -> None:
    plain = json.dumps(flash_drivers(PEAR).to_dict())
    far = saw(STRANGER, "flash_point", 300.0)
    assert json.dumps(flash_drivers(PEAR, observations=[far]).to_dict()) == plain
    assert "observations" not in json.loads(plain)
