"""A number means what it says, or it is asked about: nothing is guessed."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from blendwright.errors import Problem
from blendwright.formula import Amount, Strength
from blendwright.formula.numbers import (
    COMMAS,
    POINTS,
    choices,
    number_between,
    number_text,
    parse_amount,
    parse_dilution,
    parse_number,
    readings,
    signs_shown,
    with_unit,
)

numbers = st.floats(0.0, 1e8, allow_subnormal=False)


def grouped(whole: int, by: str) -> str:
    return f"{whole:,}".replace(",", by)


@given(numbers)
def test_a_number_as_it_is_written_back_is_that_number_beside_any_other(value: float) -> None:
    for around in (frozenset(), COMMAS, POINTS, COMMAS | POINTS):
        assert readings(number_text(value), around) == (value,)


@given(st.integers(0, 10**7), st.text("0123456789", min_size=1, max_size=6))
def test_comma_and_point_are_one_number(whole: int, part: str) -> None:
    value = float(f"{whole}.{part}")
    assert value in readings(f"{whole},{part}")
    assert readings(f"{whole}.{part}") == (value,)
    assert readings(f"{whole},{part}", COMMAS) == (value,)


@given(st.integers(1000, 10**9), st.sampled_from([" ", "'", "\u00a0", "\u202f"]))
def test_blanks_and_apostrophes_group_thousands(whole: int, by: str) -> None:
    assert readings(grouped(whole, by)) == (float(whole),)
    assert readings(f"{grouped(whole, by)},5") == (whole + 0.5,)


@given(st.integers(1000, 10**9), st.sampled_from([(",", "."), (".", ",")]))
def test_of_two_signs_the_last_is_the_decimal_one(whole: int, signs: tuple[str, str]) -> None:
    group, decimal = signs
    assert readings(f"{grouped(whole, group)}{decimal}5") == (whole + 0.5,)


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_lone_comma_before_three_digits_has_two_readings(whole: int, part: int) -> None:
    text = f"{whole},{part:03}"
    both = (float(f"{whole}.{part:03}"), float(whole * 1000 + part))
    assert readings(text) == both
    assert parse_number(text) is None
    assert readings(text, COMMAS) == both[:1]
    assert readings(text, POINTS) == both  # never thousands unasked
    assert readings(text.replace(",", ".")) == both[:1]
    assert readings(text.replace(",", "."), COMMAS) == both


@given(st.integers(1, 999), st.integers(0, 999), st.sampled_from(["", " g", " mg", " kg"]))
def test_either_choice_offered_is_taken_as_it_is_meant(whole: int, part: int, unit: str) -> None:
    text = f"{whole},{part:03}{unit}"
    problems: list[Problem] = []
    assert parse_amount(text, "grams", 1, problems) is None
    assert problems[0].instead == choices(text)
    found = [parse_amount(t, "grams", 1, []) for t in problems[0].instead]
    assert [f.number for f in found if f] == sorted(f.number for f in found if f)
    assert len({f.number for f in found if f}) == 2


@pytest.mark.parametrize(
    "text", ["1 25", "1,25,000", "1,2,3", "1.5,", "", "-", "x", "nan", "inf", "1e999", "1'2"]
)
def test_what_is_no_number_is_none(text: str) -> None:
    assert readings(text) == ()


@pytest.mark.parametrize(
    ("text", "value"),
    [("0,250", 0.25), ("1250,500", 1250.5), ("1,250,000", 1.25e6), ("1.250.000,5", 1250000.5),
     ("−4,5", -4.5), ("5.", 5.0), (".5", 0.5), ("1,250e3", 1250.0)],
)  # fmt: skip
def test_what_can_be_one_thing_only_is_read(text: str, value: float) -> None:
    assert readings(text) == (value,)


def test_a_range_settles_which_number_is_meant() -> None:
    assert number_between("101,325", 10.0, 120.0) == 101.325
    assert number_between("1,250", 0.0, 5000.0) is None
    assert number_between("7", 10.0, 120.0) is None


@given(st.lists(st.sampled_from(["0,5", "1,25 g", "1250,5 mg", "1.250,5"]), min_size=1))
def test_commas_show_themselves(texts: list[str]) -> None:
    assert signs_shown([*texts, "1,250", "7", "q.s.", ""]) == COMMAS


@pytest.mark.parametrize(
    ("text", "strength", "carrier"),
    [
        ("10 % in ethanol", Strength(10.0, "mass"), "ethanol"),
        ("96 Vol.-%", Strength(96.0, "vol", True), ""),
        ("12,345 %", Strength(12.345, "mass"), ""),  # 12345 % is none
        ("neat", None, ""),
        ("unverdünnt", None, ""),
        ("–", None, ""),
    ],
)
def test_strengths_as_they_are_written(text: str, strength: Strength | None, carrier: str) -> None:
    problems: list[Problem] = []
    assert parse_dilution(text, 1, problems) == (strength, carrier)
    assert problems == []


@given(numbers.filter(lambda v: v > 1e-9), st.sampled_from(["mg", "kg", "oz", "lb", "g"]))
def test_a_unit_of_the_heading_is_that_of_the_cell(value: float, unit: str) -> None:
    assume(value < 1e5)
    text = number_text(value)
    here = parse_amount(with_unit(text, unit), "grams", 1, [])
    there = parse_amount(f"{text} {unit}", "grams", 1, [])
    assert here == there
    assert isinstance(here, Amount)
