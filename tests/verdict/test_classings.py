"""The class by every scheme: where the limits lie, what "clear" takes, what is only pointed to."""

from __future__ import annotations

import csv
import math
from importlib.resources import files
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Assessment, assess
from blendwright.catalogue import Catalogue
from blendwright.estimate import Estimate
from blendwright.report.assessment import print_assessment
from blendwright.report.terminal import console
from blendwright.verdict.classes import category_of
from blendwright.verdict.flammability import (
    ASK,
    Classing,
    Doubts,
    classing,
    classings,
    lower_bound_K,
)
from blendwright.verdict.limits import limits, pointers, rank, schemes
from tests.conftest import formula

SCHEMES = ("ghs", "clp", "un", "us", "nfpa30")
DATA_FILES = ("limits.csv", "pointers.csv")


def estimate(value_C: float, half_K: float = 3.0) -> Estimate:
    kelvin = value_C + 273.15
    return Estimate.ok(kelvin, kelvin - half_K, kelvin + half_K, "K", "test")


HOT = estimate(120.0, 1.0)  # a boiling point far from every limit
UNKNOWN = Estimate.unknown("K", "no data")


def of(scheme: str, found: tuple[Classing, ...]) -> Classing:
    return next(c for c in found if c.scheme == scheme)


@pytest.mark.parametrize(
    ("scheme", "flash_C", "boiling_C", "category"),
    [
        # GHS rev. 9, table 2.6.1: < 23, 23 to 60, > 60 to 93; boiling <= 35
        ("ghs", 22.99, 35.0, "1"), ("ghs", 22.99, 35.01, "2"), ("ghs", 23.0, 35.0, "3"),
        ("ghs", 60.0, 120, "3"), ("ghs", 60.01, 120, "4"), ("ghs", 93.0, 200, "4"),
        ("ghs", 93.01, 200, "none"),
        # CLP annex I, table 2.6.1: as GHS, without category 4
        ("clp", 22.99, 35.0, "1"), ("clp", 22.99, 35.01, "2"), ("clp", 23.0, 35.0, "3"),
        ("clp", 60.0, 120, "3"), ("clp", 60.01, 120, "none"),
        # UN 2.3.2.6: packing group I by the boiling point alone
        ("un", 22.99, 35.0, "PG I"), ("un", 34.0, 35.0, "PG I"), ("un", 22.99, 35.01, "PG II"),
        ("un", 23.0, 35.01, "PG III"), ("un", 60.0, 120, "PG III"), ("un", 60.01, 120, "none"),
        ("un", 60.0, 35.0, "PG I"), ("un", 60.01, 35.0, "none"),
        # 49 CFR 173.120, 173.121: combustible above 60 and below 93
        ("us", 22.99, 35.0, "PG I"), ("us", 22.99, 35.01, "PG II"), ("us", 23.0, 120, "PG III"),
        ("us", 60.0, 120, "PG III"), ("us", 60.01, 120, "combustible"),
        ("us", 92.99, 120, "combustible"), ("us", 93.0, 200, "none"),
        ("us", 60.0, 35.0, "PG I"), ("us", 60.01, 35.0, "combustible"),
        # NFPA 30: flash < 22.8, < 37.8, < 60, < 93; boiling < 37.8
        ("nfpa30", 22.79, 37.79, "IA"), ("nfpa30", 22.79, 37.8, "IB"),
        ("nfpa30", 22.8, 37.7, "IC"), ("nfpa30", 37.79, 120, "IC"), ("nfpa30", 37.8, 120, "II"),
        ("nfpa30", 59.99, 120, "II"), ("nfpa30", 60.0, 120, "IIIA"),
        ("nfpa30", 92.99, 200, "IIIA"), ("nfpa30", 93.0, 200, "IIIB"),
    ],
)  # fmt: skip
def test_each_side_of_each_limit(
    scheme: str, flash_C: float, boiling_C: float, category: str
) -> None:
    assert category_of(flash_C, boiling_C, scheme) == category
    found = classing(scheme, estimate(flash_C), estimate(boiling_C))
    assert found.category == category  # kelvin and back does not move a limit


def test_ghs_comes_first_and_every_scheme_is_there() -> None:
    assert schemes() == SCHEMES
    assert tuple(c.scheme for c in classings(estimate(30.0), HOT)) == SCHEMES


@given(
    scheme=st.sampled_from(SCHEMES),
    flash_C=st.floats(-60, 150),
    lower_by_K=st.floats(0, 100),
    boiling_C=st.none() | st.floats(-20, 300),
)
def test_a_lower_flash_point_is_never_less_hazardous(
    scheme: str, flash_C: float, lower_by_K: float, boiling_C: float | None
) -> None:
    lower = category_of(flash_C - lower_by_K, boiling_C, scheme)
    assert rank(scheme, lower) <= rank(scheme, category_of(flash_C, boiling_C, scheme))


@given(
    scheme=st.sampled_from(SCHEMES),
    flash_C=st.floats(-60, 150),
    boiling_C=st.floats(-20, 300),
    lower_by_K=st.floats(0, 100),
)
def test_a_lower_or_unknown_boiling_point_is_never_less_hazardous(
    scheme: str, flash_C: float, boiling_C: float, lower_by_K: float
) -> None:
    known = rank(scheme, category_of(flash_C, boiling_C, scheme))
    assert rank(scheme, category_of(flash_C, boiling_C - lower_by_K, scheme)) <= known
    if boiling_C >= flash_C:  # no liquid flashes above its boiling point
        assert rank(scheme, category_of(flash_C, None, scheme)) <= known


@given(
    scheme=st.sampled_from(SCHEMES),
    flash_C=st.floats(-60, 150),
    half_K=st.floats(0.1, 30),
    boiling_C=st.floats(0, 200),
    boiling_half_K=st.floats(0.1, 10),
)
def test_clear_means_that_no_more_hazardous_category_is_in_reach(
    scheme: str, flash_C: float, half_K: float, boiling_C: float, boiling_half_K: float
) -> None:
    """The class at the 99 % bound and at the boiling point's low end is the class said."""
    flash = estimate(flash_C, half_K)
    found = classing(scheme, flash, estimate(boiling_C, boiling_half_K))
    bound_C = lower_bound_K(flash) - 273.15
    worst = category_of(bound_C, boiling_C - boiling_half_K, scheme)
    if found.standing == "clear":
        assert rank(scheme, worst) == rank(scheme, found.category)
        assert found.reasons == ()
    else:
        assert found.reasons


@pytest.mark.parametrize("scheme", SCHEMES)
def test_an_unknown_flash_point_is_unknown_never_none(scheme: str) -> None:
    for boiling in (HOT, UNKNOWN, estimate(30.0)):
        found = classing(scheme, UNKNOWN, boiling)
        assert (found.category, found.standing) == ("unknown", "unknown")
        assert found.reasons == ("no data",)
        assert "clear" not in found.line()


@pytest.mark.parametrize(
    ("scheme", "flash_C", "half_K", "standing"),
    [
        ("ghs", 27.9, 0.1, "too_near"), ("ghs", 28.0, 0.1, "clear"),  # 5 °C at 23
        ("ghs", 64.9, 0.1, "too_near"), ("ghs", 65.0, 0.1, "clear"),  # 5 °C at 60
        ("clp", 64.9, 0.1, "too_near"), ("un", 64.9, 0.1, "too_near"),
        ("us", 64.9, 0.1, "too_near"), ("us", 65.0, 0.1, "clear"),
        ("nfpa30", 64.9, 0.1, "too_near"), ("nfpa30", 65.0, 0.1, "clear"),
        ("ghs", 94.0, 0.1, "clear"), ("us", 93.5, 0.1, "clear"),  # no 5 °C at 93
        ("nfpa30", 38.5, 0.1, "clear"), ("nfpa30", 23.5, 0.1, "clear"),  # nor at 22.8, 37.8
        ("ghs", 94.0, 1.0, "too_near"), ("nfpa30", 38.5, 1.0, "too_near"),  # the 99 % bound
        ("nfpa30", 23.5, 1.0, "too_near"), ("us", 93.5, 1.0, "too_near"),
        ("un", 70.0, 9.0, "too_near"), ("un", 70.0, 6.0, "clear"),
    ],
)  # fmt: skip
def test_the_wider_of_5_K_and_the_99_per_cent_bound(
    scheme: str, flash_C: float, half_K: float, standing: str
) -> None:
    """GHS 2.6.4.2 asks 5 °C at 23 and 60 °C; elsewhere the bound alone decides."""
    assert classing(scheme, estimate(flash_C, half_K), HOT).standing == standing


@pytest.mark.parametrize(
    ("scheme", "limit_C", "low", "high"),
    [
        ("ghs", 35.0, "1", "2"), ("clp", 35.0, "1", "2"), ("un", 35.0, "PG I", "PG II"),
        ("us", 35.0, "PG I", "PG II"), ("nfpa30", 37.8, "IA", "IB"),
    ],
)  # fmt: skip
def test_the_boiling_limit_has_standing_too(
    scheme: str, limit_C: float, low: str, high: str
) -> None:
    """By both ends of the boiling interval: the milder side is as near as the graver one."""
    flash = estimate(-10.0)
    near = classing(scheme, flash, estimate(limit_C + 1.0, 2.0))
    assert (near.category, near.standing) == (high, "too_near")
    assert any("boiling" in reason for reason in near.reasons)
    far = classing(scheme, flash, estimate(limit_C + 3.0, 2.0))
    assert (far.category, far.standing) == (high, "clear")
    under = classing(scheme, flash, estimate(limit_C - 0.1, 2.0))
    assert (under.category, under.standing, under.treat_as) == (low, "too_near", low)
    deep = classing(scheme, flash, estimate(limit_C - 3.0, 2.0))
    assert (deep.category, deep.standing) == (low, "clear")
    dark = classing(scheme, flash, UNKNOWN)
    assert (dark.category, dark.standing) == (low, "too_near")
    assert any("boiling point is unknown" in reason for reason in dark.reasons)


def test_an_unknown_boiling_point_lies_above_the_flash_point() -> None:
    """A liquid that flashes at 50 °C does not boil at 35: packing group I is out of reach."""
    found = classing("un", estimate(50.0), UNKNOWN)
    assert (found.category, found.standing) == ("PG III", "clear")


def test_nothing_that_burns_and_a_flash_point_out_of_range() -> None:
    nothing = Estimate.absent("K", "not_applicable", "nothing in it burns")
    for found in classings(nothing, HOT):
        assert (found.category, found.standing) == ("none", "clear")
    for found in classings(nothing, HOT, Doubts(("may part",))):
        assert found.standing == "too_near"
    beyond = Estimate.absent("K", "out_of_range", "above 350 °C, if at all")
    assert {c.standing for c in classings(beyond, HOT)} == {"too_near"}
    assert of("nfpa30", classings(beyond, HOT)).category == "IIIB"


@pytest.mark.parametrize(
    "rows",
    [
        [("clove bud oil", 1.0)],  # a natural oil
        [("limonene", 30.0), ("propylene glycol", 70.0)],  # layers
    ],
)
def test_an_oil_or_a_split_is_never_clear(rows: list[tuple[str, float]]) -> None:
    made = assess(formula(*rows))
    assert len(made.classings) == len(SCHEMES)
    assert {c.standing for c in made.classings} == {"too_near"}
    assert all(c.reasons for c in made.classings)


def test_ethanol_is_classed_as_the_lists_class_it() -> None:
    """Ethanol, flash point 13 °C, boiling 78: GHS 2, UN 1170 PG II, NFPA IB."""
    made = assess(formula(("ethanol", 1)))
    assert [c.category for c in made.classings] == ["2", "2", "PG II", "PG II", "IB"]
    assert made.classings[0].label == "Danger, H225"
    assert made.flammability is made.classings[0]


def test_acetaldehyde_is_in_the_worst_class_of_each() -> None:
    """Flash point -38 °C, boiling 20: UN 1089 PG I, H224, NFPA IA."""
    made = assess(formula(("acetaldehyde", 1)))
    assert [c.category for c in made.classings] == ["1", "1", "PG I", "PG I", "IA"]


@pytest.mark.parametrize("name", DATA_FILES)
def test_every_row_has_edition_and_clause(name: str) -> None:
    text = (files("blendwright.verdict") / name).read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert {row["scheme"] for row in rows} == set(SCHEMES)
    for row in rows:
        assert row["edition"].strip(), row
        assert row["clause"].strip(), row
        assert None not in row.values(), row  # too few fields
        assert None not in row, row  # too many


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_rows_leave_no_gap_and_rise(scheme: str) -> None:
    rows = limits(scheme)
    plain = [row for row in rows if row.boiling_to_C is None]
    assert plain[0].flash_from_C is None
    for before, after in pairwise(plain):
        assert after.flash_from_C == before.flash_to_C
    assert len({row.category for row in rows}) == len(rows)
    for row in rows:
        assert row.margin_K == (5.0 if row.flash_to_C in (23.0, 60.0) else 0.0)
    assert (plain[-1].flash_to_C == math.inf) == (scheme == "nfpa30")


@pytest.mark.parametrize("scheme", SCHEMES)
def test_pointers_name_categories_that_exist(scheme: str) -> None:
    known = {limit.category for limit in limits(scheme)} | {"none"}
    assert [p.kind for p in pointers(scheme)].count("tests") == 1
    for pointer in pointers(scheme):
        assert pointer.kind in ("tests", "pointer")
        assert set(pointer.categories) <= known


ALL_KINDS = [
    classings(flash, boiling)
    for flash in (*(estimate(t) for t in (-20, 22, 30, 36, 45, 58, 70, 120)), UNKNOWN)
    for boiling in (HOT, UNKNOWN, estimate(36.0))
]


def test_every_line_ends_with_the_ask_and_names_tests() -> None:
    assert ASK == "measure, and ask a qualified person before storing or shipping."
    for found in ALL_KINDS:
        for c in found:
            assert c.line().endswith(ASK)
            assert c.edition in c.line()
            assert c.clause in c.line()
            assert "the text names tests" in c.line()
            assert "ISO" in c.tests or "ASTM" in c.tests
            assert c.to_dict()["line"] == c.line()


def pointed(scheme: str, flash_C: float) -> str:
    return " ".join(classing(scheme, estimate(flash_C), HOT).pointers)


def test_ways_out_are_pointed_to_and_never_taken() -> None:
    """Sustained combustion from above 35 °C, beverages, 38 °C, hot carriage, limited quantities."""
    for scheme in ("ghs", "clp", "un", "us"):
        assert "35 °C" in pointed(scheme, 35.1)
        assert "35 °C" not in pointed(scheme, 35.0)
        assert classing(scheme, estimate(45.0), HOT).category != "none"
    assert "2.3.1.3" in pointed("un", 45.0)
    assert "SP 144, 145" in pointed("un", 30.0)
    assert "173.150(d)" in pointed("us", 30.0)
    assert "173.120(b)(2)" in pointed("us", 38.0)
    assert "173.120(b)(2)" not in pointed("us", 37.9)
    assert "173.120(b)(2)" not in pointed("us", 61.0)
    assert "UN 1197" in pointed("un", 30.0)
    assert "a question for a qualified person" in pointed("un", 30.0)
    assert "column 7a" in pointed("un", 30.0)
    assert "at or above its flash point it is class 3" in pointed("un", 70.0)
    assert "at or above its flash point it is class 3" in pointed("us", 70.0)
    assert "no category 4" in pointed("clp", 70.0)
    assert "no category 4" not in pointed("clp", 50.0)


def shown(made: Assessment) -> list[str]:
    out = console()
    with out.capture() as capture:
        print_assessment(made, out, ["classes"])
    lines = [line.rstrip() for line in capture.get().splitlines()]
    start = next(i for i, line in enumerate(lines) if line.startswith("Classes"))
    return lines[start:]


def test_the_report_has_one_line_a_scheme_and_the_ask() -> None:
    block = shown(assess(formula(("ethanol", 1))))
    assert max(map(len, block)) <= 80
    assert [line.split("  ")[0] for line in block[1:6]] == ["GHS", "CLP", "UN", "US", "NFPA 30"]
    assert "Danger, H225" in block[1]
    closing = " ".join(block[6:])
    assert "transport texts name tests" in closing
    assert closing.endswith(ASK)


def test_the_report_says_unknown_for_each_scheme(with_house_powder: Catalogue) -> None:
    made = assess(formula(("house powder", 1)), catalogue=with_house_powder)
    assert [c.category for c in made.classings] == ["unknown"] * len(SCHEMES)
    assert all("unknown" in line for line in shown(made)[1:6])
