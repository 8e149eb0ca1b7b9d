"""The cautious side leads: what a liquid is treated as, and how a doubt counts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, assess
from blendwright.catalogue import default_catalogue
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.interval import Interval
from blendwright.mixture.weighing import weigh
from blendwright.report.answers_at_a_glance import ShortAnswer, burns
from blendwright.report.thermometer import Mark
from blendwright.verdict.blend import Blend
from blendwright.verdict.classes import category_of, classes, upper_bounds_K
from blendwright.verdict.doubts import OIL_SPREAD_K, WEIGHTY_FLASH_SHARE
from blendwright.verdict.flammability import (
    Doubts,
    classing,
    lower_bound_K,
    with_measured_category,
)
from blendwright.verdict.limits import NO_CLASS, flash_range, graver, rank, schemes
from blendwright.verdict.plastics import ATTACKER_SHARE, NAMED_SHARE, OneContact
from tests.conftest import formula

SCHEMES = schemes()
ZERO_C = 273.15


def kelvin(value_C: float, low_C: float, high_C: float) -> Estimate:
    return Estimate.ok(value_C + ZERO_C, low_C + ZERO_C, high_C + ZERO_C, "K", "test")


def around(value_C: float, half_K: float) -> Estimate:
    return kelvin(value_C, value_C - half_K, value_C + half_K)


HOT = around(120.0, 1.0)
flashes = st.builds(
    lambda value, below, above: kelvin(value, value - below, value + above),
    st.floats(-60, 150), st.floats(0.1, 30), st.floats(0.1, 30),
)  # fmt: skip
boilings = st.builds(around, st.floats(-20, 300), st.floats(0.1, 10)) | st.just(
    Estimate.unknown("K", "no data")
)
doubts = st.builds(
    Doubts, st.sampled_from([(), ("it may not be one homogeneous liquid",)]), st.floats(0, 20)
)


# What it is treated as


@pytest.mark.parametrize(
    ("flash", "treat_as", "category", "standing"),
    [
        # the 99 % bound lies 1.414 times the interval's half below
        (around(31.0, 5.7), "2", "3", "too_near"), (around(31.1, 5.7), "3", "3", "clear"),
        (around(27.9, 0.1), "2", "3", "too_near"), (around(28.0, 0.1), "3", "3", "clear"),  # 5 °C
        (around(64.9, 0.1), "3", "4", "too_near"), (around(65.0, 0.1), "4", "4", "clear"),
        (around(93.1, 0.1), "4", "none", "too_near"), (around(93.2, 0.1), "none", "none", "clear"),
        # and as far above: a milder category in reach is not clear either, and never leads
        (around(14.9, 5.7), "2", "2", "clear"), (around(15.0, 5.7), "2", "2", "too_near"),
        (around(59.9, 0.1), "3", "3", "too_near"), (around(92.9, 0.1), "4", "4", "too_near"),
        (kelvin(21.0, 15.0, 27.0), "2", "2", "too_near"),  # ethyl butyrate
    ],
)  # fmt: skip
def test_each_side_of_each_limit(
    flash: Estimate, treat_as: str, category: str, standing: str
) -> None:
    found = classing("ghs", flash, HOT)
    assert (found.treat_as, found.category, found.standing) == (treat_as, category, standing)


def test_ethyl_butyrate_at_21_is_too_near_to_call_against_23() -> None:
    """Flash point 21 °C (IEC 60079-20-1), interval 15 to 27."""
    made = assess(formula(("ethyl butyrate", 10.0))).flammability
    assert (made.category, made.treat_as, made.standing) == ("2", "2", "too_near")
    assert any("category 3 is in reach too" in reason for reason in made.reasons)


@given(
    scheme=st.sampled_from(SCHEMES), flash=flashes, boiling=boilings, doubt=doubts,
    flash_at=st.floats(0, 1), boiling_at=st.floats(0, 1),
)  # fmt: skip
def test_the_headline_is_never_milder_than_any_category_within_the_interval(
    scheme: str, flash: Estimate, boiling: Estimate, doubt: Doubts, flash_at: float,
    boiling_at: float,
) -> None:  # fmt: skip
    found = classing(scheme, flash, boiling, doubt)
    low_C = lower_bound_K(flash, doubt.flash_K) - ZERO_C
    upper_K = upper_bounds_K(Interval.from_estimate(flash), np.array([doubt.flash_K]))
    high_C = float(upper_K[0]) - ZERO_C
    there_C = low_C + flash_at * (high_C - low_C)
    boils_C = None
    if boiling.is_ok:
        _, low, high = boiling.interval()
        boils_C = low - ZERO_C + boiling_at * (high - low)
    assert rank(scheme, found.treat_as) <= rank(scheme, category_of(there_C, boils_C, scheme))
    assert rank(scheme, found.treat_as) <= rank(scheme, found.category)
    if found.standing == "clear":
        assert category_of(there_C, boils_C, scheme) == found.category == found.treat_as
    else:
        assert found.reasons


@given(
    scheme=st.sampled_from(SCHEMES), flash=flashes, boiling=boilings, doubt=doubts,
    more_K=st.floats(0, 20),
)  # fmt: skip
def test_more_doubt_never_makes_it_milder_or_clearer(
    scheme: str, flash: Estimate, boiling: Estimate, doubt: Doubts, more_K: float
) -> None:
    less = classing(scheme, flash, boiling, doubt)
    more = classing(scheme, flash, boiling, Doubts(doubt.never_clear, doubt.flash_K + more_K))
    assert rank(scheme, more.treat_as) <= rank(scheme, less.treat_as)
    assert more.standing == "too_near" or less.standing == "clear"
    wider = classing(scheme, flash, boiling, Doubts((*doubt.never_clear, "x"), doubt.flash_K))
    assert wider.standing == "too_near"
    assert wider.treat_as == less.treat_as


@given(
    scheme=st.sampled_from(SCHEMES),
    blends=st.lists(st.tuples(flashes, boilings, doubts), min_size=1, max_size=6),
)
def test_a_block_classes_each_blend_as_if_alone(
    scheme: str, blends: list[tuple[Estimate, Estimate, Doubts]]
) -> None:
    def block(estimates: list[Estimate]) -> Interval:
        ones = [Interval.from_estimate(estimate) for estimate in estimates]
        columns = ([getattr(one, end)[0] for one in ones] for end in ("value", "low", "high"))
        status = np.array([one.status[0] for one in ones], dtype=object)
        return Interval.of(*(np.array(column) for column in columns), status)

    made = classes(
        scheme,
        block([flash for flash, _, _ in blends]),
        block([boiling for _, boiling, _ in blends]),
        np.array([bool(doubt.never_clear) for _, _, doubt in blends]),
        np.array([doubt.flash_K for _, _, doubt in blends]),
    )
    for i, blend in enumerate(blends):
        one = classing(scheme, *blend)
        assert (made.treat_as[i], made.category[i], made.standing[i]) == (
            one.treat_as, one.category, one.standing,
        )  # fmt: skip
        assert (one.standing == "too_near") == bool(one.reasons)


@given(scheme=st.sampled_from(SCHEMES), flash=flashes, boiling=boilings, doubt=doubts)
def test_words_begin_with_what_to_treat_it_as(
    scheme: str, flash: Estimate, boiling: Estimate, doubt: Doubts
) -> None:
    found = classing(scheme, flash, boiling, doubt)
    said = found.headline()
    assert found.to_dict()["treat_as"] == found.treat_as
    if found.treat_as == NO_CLASS:
        assert said.startswith("not classed by")
        return
    lead = f"{found.title} {found.treat_as_name}"
    assert said.startswith(lead if found.standing == "clear" else f"treat as {lead}")
    if found.treat_as != found.category:
        assert said.index(found.treat_as_name) < said.index("(estimate: ")
    assert found.line().startswith(said)


def burning(flash: Estimate) -> ShortAnswer:
    return burns(classing("ghs", flash, HOT), flash, HOT, Mark("flash point", flash))


def test_the_headline_in_words() -> None:
    found = burning(around(25.0, 4.0))
    assert found.word == "Yes, category 2"
    assert found.detail == "treat as GHS category 2 (estimate: category 3)"
    found = burning(around(42.0, 4.0))
    assert found.word == "Yes, category 3"
    assert found.detail == "GHS category 3 (estimate: well inside its limits)"
    found = burning(around(95.0, 4.0))
    assert found.word == "Yes, category 4"
    assert found.detail == "treat as GHS category 4 (estimate: not classed)"
    found = burning(Estimate.unknown("K", "no data"))
    assert found.word == "Unknown"
    assert "treat it as highly flammable" in found.in_full


# An own measurement


@given(flash=flashes, measured=st.sampled_from(["1", "2", "3", "4", NO_CLASS]))
def test_the_more_cautious_of_measured_and_modelled_leads(flash: Estimate, measured: str) -> None:
    model = classing("ghs", flash, HOT)
    found = with_measured_category(model, measured)
    assert found.treat_as == graver("ghs", measured, model.category)
    if found.treat_as != NO_CLASS:
        said = found.headline()
        measured_at, model_at = said.index("with your measurements"), said.index("by the model")
        if measured != model.category:
            assert (measured_at < model_at) == (found.treat_as == measured)


def test_a_measurement_of_what_the_model_can_not_tell_stands_alone() -> None:
    unknown = classing("ghs", Estimate.unknown("K", "no data"), HOT)
    assert with_measured_category(unknown, "3").treat_as == "3"


def test_ranges_of_flash_points_in_words() -> None:
    assert [flash_range("ghs", c) for c in ("1", "2", "3", "4", NO_CLASS)] == [
        "below 23 °C", "below 23 °C", "23 to 60 °C", "60 to 93 °C", "above 93 °C",
    ]  # fmt: skip


# A natural oil's doubt


def blend(*rows: tuple[str, float]) -> Blend:
    return Blend(weigh(formula(*rows), default_catalogue()), ROOM_K, ATMOSPHERE_Pa)


def in_triacetin(oil: str, grams: float) -> Blend:
    return blend(("triacetin", 100.0), *([(oil, grams)] if grams else []))


@pytest.mark.parametrize("oil", ["sweet orange oil", "clove bud oil", "cardamom oil"])
def test_a_trace_of_an_oil_in_triacetin_blocks_no_verdict(oil: str) -> None:
    """0.01 g in 100 g of triacetin, flash point 138 °C."""
    traced = in_triacetin(oil, 0.01)
    assert {c.standing for c in traced.classings} == {
        c.standing for c in in_triacetin(oil, 0.0).classings
    }
    assert traced.classings[0].standing == "clear"


@pytest.mark.parametrize(
    ("oil", "carrier", "to_the_end"),
    [
        ("clove bud oil", "triacetin", True),
        ("cardamom oil", "triethyl citrate", True),
        ("cardamom oil", "triacetin", False),  # flashes lowest with a third of the oil
    ],
)
def test_an_oil_counts_the_more_the_more_of_it_there_is_and_never_jumps(
    oil: str, carrier: str, to_the_end: bool
) -> None:
    """Halving the step halves the largest jump of the doubt; it grows from nothing to its whole,
    and where a blend flashes below its oil, it grows until there."""

    def along(points: int) -> tuple[list[float], list[float]]:
        grams = np.geomspace(1e-4, 1e3, points)
        made = [blend((carrier, 100.0), (oil, float(g))) for g in grams]
        flashes = [one.flash.estimate.interval()[0] for one in made]
        return [one.doubts.flash_K for one in made], flashes

    (coarse, _), (fine, flash_K) = along(15), along(29)
    lowest = len(fine) - 1 if to_the_end else int(np.argmin(flash_K))
    assert lowest > 20  # 20 g and more in 100 g of carrier
    assert fine[: lowest + 1] == sorted(fine[: lowest + 1])
    assert min(fine[lowest:]) >= 0.999 * fine[lowest]
    assert fine[0] < 0.02
    assert fine[-1] == pytest.approx(OIL_SPREAD_K, rel=0.01)
    assert max(np.diff(fine)) < 0.65 * max(np.diff(coarse))


def test_an_oil_of_weight_is_never_clear_and_one_without_may_be() -> None:
    for grams in (0.001, 0.01, 0.03, 0.1, 1.0, 10.0):
        made = in_triacetin("sweet orange oil", grams)
        share = sum(made.oil_flash_shares.values())
        named = any("natural oils vary" in reason for reason in made.never_clear)
        assert named == (share > WEIGHTY_FLASH_SHARE)


def test_a_diluted_oil_counts_as_the_oil_that_is_in_it() -> None:
    """1 g at 10 % in triethyl citrate is 0.1 g: the carrier is no oil."""
    oil = {"material": "clove bud oil", "grams": 1.0, "strength_pct": 10}
    rows = [{**oil, "carrier": "triethyl citrate"}, {"material": "triacetin", "grams": 99.0}]
    diluted = Blend(weigh(Formula.from_rows(rows), default_catalogue()), ROOM_K, ATMOSPHERE_Pa)
    plain = blend(("clove bud oil", 0.1), ("triethyl citrate", 0.9), ("triacetin", 99.0))
    assert diluted.oil_flash_shares["clove bud oil"] == pytest.approx(
        plain.oil_flash_shares["clove bud oil"]
    )


# Plastics


def test_a_trace_is_not_blamed_for_what_triacetin_does_to_plastics() -> None:
    found = assess(formula(("triacetin", 100.0), ("sweet orange oil", 0.01))).findings
    made = {finding.code: finding for finding in found}
    assert made["PLASTIC-ATTACK"].materials == ("triacetin",)
    assert "limonene" not in made["PLASTIC-ATTACK"].message


def test_a_trace_in_a_carrier_without_values_is_not_taken_for_the_blend() -> None:
    """MCT oil has no Hansen parameters here: what it does to plastics is unknown."""
    codes = {f.code for f in assess(formula(("MCT oil", 100.0), ("limonene", 0.01))).findings}
    assert "PLASTIC-ATTACK" not in codes
    assert "PLASTIC-UNKNOWN" in codes


ATTACKERS = ("ethyl acetate", "limonene", "triacetin", "propylene glycol")
ALONE = {
    name: {c.polymer for c in OneContact.of({name: 1.0}).polymers if c.attackers}
    for name in ATTACKERS
}


@given(st.lists(st.floats(1e-6, 1.0), min_size=4, max_size=4))
def test_who_attacks_a_plastic_is_named_by_how_much_it_counts(shares: list[float]) -> None:
    """The largest always, the others from a tenth of all that attacks it."""
    total = sum(shares)
    by_name = {name: share / total for name, share in zip(ATTACKERS, shares, strict=True)}
    for contact in OneContact.of(by_name).polymers:
        alone = {n: share for n, share in by_name.items() if contact.polymer in ALONE[n]}
        every = sum(alone.values())
        if every < ATTACKER_SHARE:
            assert contact.attackers == ()
            continue
        assert contact.attackers[0] == max(alone, key=lambda name: alone[name])
        expected = {n for n in alone if alone[n] >= NAMED_SHARE * every}
        assert set(contact.attackers) == expected | {contact.attackers[0]}


# A pure substance


@pytest.mark.parametrize("name", ["ethyl butyrate", "ethanol", "limonene", "water"])
def test_a_single_substance_has_no_chance_of_layers(name: str) -> None:
    made = assess(formula((name, 10.0)))
    assert made.chance_of_layers == 0.0
    assert made.liquid == "clear"
