"""Observations in an assessment: the same blend, its like, a stranger; and the safe side."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from blendwright import Assessment, Formula, assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.weighing import weigh
from blendwright.observations import KINDS, MeasuredBlend, Observation, measured_blend
from blendwright.verdict.dissolution_and_layers import SURELY_CLEAR_BELOW
from blendwright.verdict.flammability import Classing
from tests.conftest import ESTER_RICH_CONCENTRATE, formula
from tests.schemas import validator

PEAR = formula(("ethyl butyrate", 1.6), ("vanillin", 0.9), ("propylene glycol", 7.5))
NEARLY = formula(("ethyl butyrate", 1.63), ("vanillin", 0.9), ("propylene glycol", 7.47))
STRANGER = formula(("limonene", 2.0), ("tricaprin", 8.0))
ESTERS = formula(*ESTER_RICH_CONCENTRATE)
CARRIER = formula(("triethyl citrate", 10.0), ("benzyl alcohol", 40.0))
DAY = date(2026, 11, 20)


def saw(of: Formula, question: str, value: float, half: float | None = None) -> Observation:
    blend = measured_blend(weigh(of, default_catalogue()).composition)
    at_K = 293.15 if question == "density" else None
    half = half or KINDS[question].half
    return Observation(question, value, half, DAY, blend, of.name, 101325.0, at_K, id=1)


def number(made: Assessment, name: str) -> tuple[float, float, float]:
    return made.estimates[name].interval()


FLASH, BOILING, DENSITY = (
    "flash_point_closed_cup", "initial_boiling_point", "density",
)  # fmt: skip
CRYSTALS, CLOUD = "dissolution_temperature", "cloud_temperature"
NUMBERS = (
    ("flash_point", FLASH, 12.0), ("flash_point", FLASH, -12.0),
    ("boiling_point", BOILING, 10.0), ("boiling_point", BOILING, -10.0),
    ("density", DENSITY, 4.0), ("crystals_gone", CRYSTALS, 8.0),
)  # fmt: skip


def test_without_observations_nothing_changes_to_the_last_digit() -> None:
    plain = json.dumps(assess(PEAR).to_dict())
    assert json.dumps(assess(PEAR, observations=()).to_dict()) == plain
    far = saw(STRANGER, "flash_point", 300.0)
    assert json.dumps(assess(PEAR, observations=[far]).to_dict()) == plain
    assert "observations" not in json.loads(plain)


@pytest.mark.parametrize(("question", "name", "off"), NUMBERS)
def test_a_measurement_of_the_same_blend_nearly_decides(
    question: str, name: str, off: float
) -> None:
    at_K = 293.15 if question == "density" else 298.15
    alone = number(assess(PEAR, at_K), name)
    measured = saw(PEAR, question, alone[0] + off, KINDS[question].least_half)
    after = number(assess(PEAR, at_K, observations=[measured]), name)
    assert after[0] == pytest.approx(alone[0] + off, abs=0.15 * abs(off))
    assert after[2] - after[1] < 0.6 * (alone[2] - alone[1])


@pytest.mark.parametrize(("question", "name", "off"), NUMBERS)
def test_nearly_the_same_blend_moves_less_but_the_same_way(
    question: str, name: str, off: float
) -> None:
    at_K = 293.15 if question == "density" else 298.15
    alone_there, alone = (number(assess(of, at_K), name) for of in (PEAR, NEARLY))
    measured = saw(PEAR, question, alone_there[0] + off)
    moved = number(assess(NEARLY, at_K, observations=[measured]), name)[0] - alone[0]
    if question == "crystals_gone":  # the excess energy of the very pair moved: nearly as far
        assert moved == pytest.approx(off, rel=0.1)
    else:
        assert 0.0 < moved / off < 1.0


def test_the_note_says_what_the_model_alone_said() -> None:
    made = assess(PEAR, observations=[saw(PEAR, "flash_point", 310.15)])
    notes = " ".join(made.estimates[FLASH].notes)
    assert "model alone" in notes
    assert "flash point 37 ± 6 °C (2026-11-20, same blend)" in notes
    assert "yours: measurement 1 of 2026-11-20" in made.estimates[FLASH].sources


def test_findings_and_json_show_what_was_seen() -> None:
    alone = number(assess(PEAR), FLASH)
    inside, outside = (saw(PEAR, "flash_point", alone[0] + off) for off in (3.0, 60.0))
    calm = assess(PEAR, observations=[inside])
    codes = {f.code: f.severity for f in calm.findings}
    assert codes["OBSERVED"] == "info"
    assert "OBSERVED-DISAGREES" not in codes
    loud = assess(PEAR, observations=[outside])
    assert {f.code: f.severity for f in loud.findings}["OBSERVED-DISAGREES"] == "caution"
    for made in (calm, loud):
        data = json.loads(json.dumps(made.to_dict(), allow_nan=False))
        validator().validate(data)
        assert data["observations"][0]["similarity"] == "same blend"


def test_classes_follow_from_the_adjusted_flash_point() -> None:
    """A low flash point measured of a like blend moves the class to the more hazardous."""
    alone = assess(CARRIER)
    assert alone.flammability.category == "none"
    low = saw(CARRIER, "flash_point", 273.15 + 50.0, 2.0)
    assert assess(CARRIER, observations=[low]).flammability.category == "3"


def test_only_the_same_blend_can_clear_a_class_and_it_says_whose_word_that_is() -> None:
    heavy = formula(("benzyl alcohol", 40.0), ("triethyl citrate", 10.0))
    like = formula(("benzyl alcohol", 40.4), ("triethyl citrate", 9.6))
    alone = assess(heavy)
    assert alone.flammability.standing == "too_near"
    same = assess(heavy, observations=[saw(heavy, "flash_point", 273.15 + 110.0, 2.0)])
    near = assess(heavy, observations=[saw(like, "flash_point", 273.15 + 110.0, 2.0)])
    assert same.flammability.standing == "clear"
    assert "your measurement" in same.flammability.basis
    assert "your measurement of 2026-11-20" in same.flammability.line()
    assert "OBSERVED-CLEARS" in {f.code for f in same.findings}
    assert near.flammability.standing == "too_near"
    assert number(near, FLASH)[0] > number(alone, FLASH)[0]


def test_the_more_cautious_of_measured_and_modelled_leads_and_both_are_named() -> None:
    """The model's best estimate is category 3, 30 °C, with 2 in reach: a milder measurement doesn't
    lead, a more hazardous one does; one in category 3 takes away what only the interval held."""
    thin = formula(("ethyl butyrate", 0.7), ("propylene glycol", 9.3))
    like = formula(("ethyl butyrate", 0.78), ("propylene glycol", 9.22))

    def with_flash(of: Formula, celsius: float) -> Classing:
        seen = [saw(of, "flash_point", 273.15 + celsius, 2.0)]
        return assess(thin, observations=seen).flammability

    alone = assess(thin).flammability
    assert (alone.category, alone.treat_as) == ("3", "2")
    mild = with_flash(thin, 75.0)
    assert (mild.category, mild.treat_as, mild.standing) == ("4", "3", "too_near")
    assert mild.headline().startswith("treat as GHS category 3 (by the model alone: category 3; ")
    same = with_flash(thin, 41.0)
    assert (same.category, same.treat_as, same.standing) == ("3", "3", "clear")
    grave = with_flash(thin, 10.0)
    assert (grave.category, grave.treat_as) == ("2", "2")
    assert grave.headline().startswith("GHS category 2 (with your measurements: category 2, ")
    near = with_flash(like, 41.0)
    assert (near.treat_as, near.standing) == ("2", "too_near")


def test_no_observation_lifts_what_forbids_clear() -> None:
    """A natural oil varies; clear to the eye and dissolved at 5 °C change nothing in that."""
    oily = formula(("cardamom oil", 0.2), ("benzyl alcohol", 10.0), ("triethyl citrate", 40.0))
    seen = [
        saw(oily, "flash_point", 400.0, 2.0), saw(oily, "clear", 278.15),
        saw(oily, "crystals_gone", 278.15),
    ]  # fmt: skip
    made = assess(oily, observations=seen)
    assert all(c.standing != "clear" for c in made.classings)
    assert all(reason in made.flammability.reasons for reason in _never(oily))


def _never(of: Formula) -> tuple[str, ...]:
    from blendwright.verdict.blend import Blend

    return Blend(weigh(of, default_catalogue()), 298.15, 101325.0).never_clear


@pytest.mark.parametrize("off", [-25.0, -5.0])
def test_a_lower_flash_point_of_a_like_blend_counts_in_full(off: float) -> None:
    there, alone = number(assess(PEAR), FLASH), number(assess(NEARLY), FLASH)
    low = number(
        assess(NEARLY, observations=[saw(PEAR, "flash_point", there[0] + off, 2.0)]), FLASH
    )
    high = number(
        assess(NEARLY, observations=[saw(PEAR, "flash_point", there[0] - off, 2.0)]), FLASH
    )
    assert alone[0] - low[0] > high[0] - alone[0] > 0.0
    assert alone[0] - low[0] == pytest.approx(-off, rel=0.15)


@pytest.mark.parametrize(("grams", "most"), [(0.2, 0.1), (0.6, 0.0)])
def test_a_new_light_part_makes_it_another_blend_for_fire(grams: float, most: float) -> None:
    """2 % of ethyl acetate drives the flash point: the old measurement says next to nothing of it,
    of a blend with 6 % nothing at all, though 94 % of both are the same."""
    light = formula(
        ("ethyl acetate", grams), ("ethyl butyrate", 1.6), ("vanillin", 0.9), ("PG", 7.5 - grams)
    )
    off = 20.0
    high = number(assess(PEAR), FLASH)[0] + off
    made = assess(light, observations=[saw(PEAR, "flash_point", high, 2.0)])
    assert 0.0 <= number(made, FLASH)[0] - number(assess(light), FLASH)[0] <= most * off


def test_a_flash_point_is_believed_where_the_model_has_none_because_nothing_burns() -> None:
    water = formula(("water", 10.0))
    made = assess(water, observations=[saw(water, "flash_point", 320.0)])
    assert number(made, FLASH)[0] == 320.0
    assert made.flammability.category == "3"
    assert made.flammability.standing != "clear"


def test_an_unknown_flash_point_stays_unknown() -> None:
    """Without an estimate beside it a bench test is no reason to stop treating it as flammable."""
    from blendwright.catalogue.material import Material

    base = Material("house base", "substance", "", "", "", "", "liquid", "", (), "", "", (), (), {})
    catalogue = default_catalogue().extended([base], {}, "x")
    made = formula(("house base", 5.0), ("propylene glycol", 5.0))
    blend = measured_blend(weigh(made, catalogue).composition)
    seen = replace(saw(PEAR, "flash_point", 350.0), blend=blend)
    after = assess(made, catalogue=catalogue, observations=[seen])
    assert after.flammability.category == "unknown"
    assert any(f.code == "OBSERVED" and "not counted" in f.message for f in after.findings)


# Looks


def test_seen_clear_lowers_the_chance_of_layers_seen_cloudy_raises_it() -> None:
    at_K = 298.15
    alone = assess(ESTERS, at_K).chance_of_layers
    assert alone is not None
    clear = assess(ESTERS, at_K, observations=[saw(ESTERS, "clear", 295.15)])
    cloudy = assess(ESTERS, at_K, observations=[saw(ESTERS, "cloudy", 300.15)])
    assert clear.chance_of_layers is not None
    assert cloudy.chance_of_layers is not None
    assert clear.chance_of_layers < alone < cloudy.chance_of_layers
    assert cloudy.liquid in ("may_cloud", "splits")


def test_clear_at_22_says_nothing_of_5() -> None:
    seen = [saw(ESTERS, "clear", 295.15)]
    cold = 278.15
    alone = assess(ESTERS, cold)
    assert assess(ESTERS, cold, observations=seen).chance_of_layers == (alone.chance_of_layers)
    warm = assess(ESTERS, 303.15, observations=seen).chance_of_layers
    before = assess(ESTERS, 303.15).chance_of_layers
    assert warm is not None
    assert before is not None
    assert warm < before


def test_cloudy_at_5_and_clear_at_22_place_the_cloud_temperature_between() -> None:
    seen = [
        saw(ESTERS, "clear", 295.15),
        saw(ESTERS, "cloudy", 278.15),
    ]
    value, low, high = number(assess(ESTERS, observations=seen), CLOUD)
    assert 278.15 - 0.6 <= value <= 295.15 + 0.6
    assert low <= value <= high


def test_a_cloud_point_places_it_within_its_error() -> None:
    seen = [saw(ESTERS, "cloud_point", 285.15)]
    value, _, _ = number(assess(ESTERS, observations=seen), CLOUD)
    assert value == pytest.approx(285.15, abs=2.6)


def test_the_flash_point_counts_layers_that_either_expects() -> None:
    """Seen clear does not take the layers out of the flash point's cautious end."""
    split = formula(("limonene", 50.0), ("propylene glycol", 50.0))
    seen = assess(split, observations=[saw(split, "clear", 295.15)])
    assert number(seen, FLASH) == number(assess(split), FLASH)
    assert seen.flammability.standing != "clear"


# Crystals


def test_what_lies_undissolved_follows_the_measured_temperature() -> None:
    """The last crystals were seen to go at 40 °C: some lie there at 25 °C."""
    made = assess(PEAR, observations=[saw(PEAR, "crystals_gone", 313.15)])
    assert made.dissolution == "needs_warming"
    assert made.solids[0].undissolved_here_g > 0.0
    assert number(made, "dissolved_share")[0] < 1.0
    assert made.solids[0].dissolves.interval() == made.estimates[CRYSTALS].interval()


VANILLIN = formula(("vanillin", 1.0), ("propylene glycol", 9.0))
GONE_K = 291.15


def test_where_the_last_crystals_dissolved_is_what_the_answer_says() -> None:
    """10 % vanillin in propylene glycol, fully dissolved at 18 °C: the largest amount that stays
    dissolved there is what was weighed."""
    made = assess(VANILLIN, observations=[saw(VANILLIN, "crystals_gone", GONE_K)])
    value, low, high = number(made, CRYSTALS)
    assert value == pytest.approx(GONE_K, abs=0.3)
    assert GONE_K - 4.0 < low < value < high < GONE_K + 4.0
    _, model_low, model_high = number(assess(VANILLIN), CRYSTALS)
    assert high - low < 0.1 * (model_high - model_low)
    most = made.solids[0].most_20C.interval()[0] * 1e3
    assert 1.0 < most < 1.2


@pytest.mark.parametrize(
    "other",
    [
        formula(("vanillin", 0.4), ("propylene glycol", 9.6)),
        formula(("vanillin", 2.0), ("propylene glycol", 8.0)),
        formula(("vanillin", 0.7), ("ethyl butyrate", 2.0), ("propylene glycol", 7.3)),
        formula(("vanillin", 1.5), ("isoamyl acetate", 0.5), ("linalool", 0.5),
                ("propylene glycol", 7.5)),
    ],
    ids=["less", "more", "with an ester", "a concentrate"],
)  # fmt: skip
def test_neighbouring_formulas_profit_from_a_measured_crystal(other: Formula) -> None:
    """The model knows no solubility of vanillin in propylene glycol; now it knows one."""
    before, after = (
        assess(other, observations=seen).solids[0].most_20C.interval()
        for seen in ((), [saw(VANILLIN, "crystals_gone", GONE_K)])
    )
    assert after[0] < before[0]  # the model dissolves too much
    assert after[2] / after[1] < 0.3 * before[2] / before[1]


def test_another_carrier_learns_little_and_another_crystal_nothing() -> None:
    seen = [saw(VANILLIN, "crystals_gone", GONE_K)]
    in_ethanol = formula(("vanillin", 3.0), ("ethanol", 7.0))
    before, after = (assess(in_ethanol, observations=o) for o in ((), seen))
    assert after.observations[0].similarity == "another blend"
    assert after.observations[0].correlation < 0.5
    assert number(after, CRYSTALS)[0] == pytest.approx(number(before, CRYSTALS)[0], abs=2.0)
    camphor = formula(("camphor", 3.0), ("propylene glycol", 7.0))
    assert assess(camphor, observations=seen).to_dict() == assess(camphor).to_dict()


def test_repeated_measurements_narrow_and_their_order_changes_nothing() -> None:
    one, other = (replace(saw(VANILLIN, "crystals_gone", k), id=n)
                  for n, k in enumerate((GONE_K, GONE_K + 3.0)))  # fmt: skip
    widths = []
    for seen in ([one], [one, replace(one, id=5)]):
        _, low, high = number(assess(VANILLIN, observations=seen), CRYSTALS)
        widths.append(high - low)
    assert widths[1] < 0.85 * widths[0]
    forwards, backwards = (
        number(assess(VANILLIN, observations=seen), CRYSTALS)
        for seen in ([one, other], [other, one])
    )
    assert forwards == backwards
    assert GONE_K < forwards[0] < GONE_K + 3.0


def test_a_measurement_far_from_the_model_is_believed_within_its_own_error() -> None:
    far_K = number(assess(VANILLIN), CRYSTALS)[2] + 10.0
    made = assess(VANILLIN, observations=[saw(VANILLIN, "crystals_gone", far_K)])
    value, low, high = number(made, CRYSTALS)
    assert value == pytest.approx(far_K, abs=2.0)
    assert 3.0 < high - low < 8.0
    assert "OBSERVED-DISAGREES" in {f.code for f in made.findings}


def test_two_crystals_are_both_dissolved_where_the_last_was_seen_to_go() -> None:
    both = formula(("vanillin", 2.0), ("coumarin", 1.0), ("propylene glycol", 7.0))
    cold_K = number(assess(both), CRYSTALS)[0] - 15.0
    made = assess(both, observations=[saw(both, "crystals_gone", cold_K)])
    assert number(made, CRYSTALS)[0] == pytest.approx(cold_K, abs=1.5)


def test_what_was_seen_of_crystals_moves_no_flash_point_nor_vapour() -> None:
    seen = assess(PEAR, observations=[saw(PEAR, "crystals_gone", 313.15)])
    alone = assess(PEAR)
    for name in (FLASH, BOILING, "vapour_pressure", "lower_flammable_limit"):
        assert number(seen, name) == number(alone, name)


def test_a_blend_of_other_crystals_says_nothing_of_these() -> None:
    menthol = formula(("ethyl butyrate", 1.6), ("menthol", 0.9), ("propylene glycol", 7.5))
    made = assess(PEAR, observations=[saw(menthol, "crystals_gone", 320.0)])
    assert number(made, CRYSTALS) == number(assess(PEAR), CRYSTALS)


# What was kept and is no longer known


def test_a_measured_blend_with_a_material_nobody_knows_is_shown_not_counted() -> None:
    shares = (("ethyl butyrate", 0.16), ("vanillin", 0.09), ("propylene glycol", 0.74),
              ("a base that was deleted", 0.01))  # fmt: skip
    seen = replace(saw(PEAR, "flash_point", 340.0), blend=MeasuredBlend(shares))
    made = assess(PEAR, observations=[seen])
    assert number(made, FLASH) == number(assess(PEAR), FLASH)
    assert "unknown material" in made.observations[0].why_not


def test_seen_clear_and_dissolved_lift_no_reason_against_clear() -> None:
    """The layers and crystals that the model alone expects stay counted for the flash point."""
    hazy = formula(("isoamyl acetate", 1.5), ("propylene glycol", 8.5))
    alone = assess(hazy, 293.15)
    assert alone.chance_of_layers is not None
    assert alone.chance_of_layers >= SURELY_CLEAR_BELOW
    seen = assess(hazy, 293.15, observations=[saw(hazy, "clear", 293.15)])
    assert seen.chance_of_layers is not None
    assert seen.chance_of_layers < SURELY_CLEAR_BELOW
    assert "it may not be one homogeneous liquid" in seen.flammability.reasons
    assert seen.flammability == alone.flammability
    assert seen.estimates[FLASH] == alone.estimates[FLASH]
    assert seen.estimates[BOILING] == alone.estimates[BOILING]
    loaded = formula(("vanillin", 4.5), ("benzyl alcohol", 1.0), ("propylene glycol", 7.5))
    stays = "crystals may stay undissolved"
    assert stays in assess(loaded).flammability.reasons
    gone = assess(loaded, observations=[saw(loaded, "crystals_gone", 278.15)])
    assert gone.dissolution == "dissolves"
    assert stays in gone.flammability.reasons
