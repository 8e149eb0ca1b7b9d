"""Formulas built and changed in code: every change is a new formula, and grams add up."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, FormulaError, assess

PEAR = Formula.of({"isoamyl acetate": 1.2, "vanillin": 0.2, "PG": "q.s."}, "pear", batch_g=20)
amounts = st.dictionaries(
    st.sampled_from(["vanillin", "linalool", "ethyl butyrate", "PG", "triacetin"]),
    st.floats(1e-6, 1e4),
    min_size=1,
)


def test_a_change_leaves_the_old_formula_as_it_was() -> None:
    before = PEAR.to_rows()
    PEAR.with_row("linalool", 0.1).with_grams("vanillin", 1).without("isoamyl acetate").scaled(3)
    assert PEAR.to_rows() == before


def test_the_make_up_row_takes_up_the_difference() -> None:
    assert PEAR.made_up().rows[2].amount.number == pytest.approx(18.6)
    assert PEAR.without("vanillin").made_up().rows[1].amount.number == pytest.approx(18.8)
    assert PEAR.without("vanillin").total_g == PEAR.total_g


@given(amounts, st.floats(1e-3, 1e3))
def test_scaling_keeps_every_share(grams: dict[str, float], factor: float) -> None:
    made = Formula.of(grams)
    scaled = made.scaled(factor)
    assert scaled.total_g == pytest.approx(made.total_g * factor)
    for old, new in zip(made.rows, scaled.rows, strict=True):
        assert new.amount.number / scaled.total_g == pytest.approx(old.amount.number / made.total_g)


@given(amounts, amounts, st.floats(0.1, 1e3), st.floats(0.1, 1e3))
def test_blending_adds_up_and_does_not_mind_the_order(
    one: dict[str, float], two: dict[str, float], grams: float, other_grams: float
) -> None:
    first, second = Formula.of(one, "a"), Formula.of(two, "b")
    there = first.blended_with(second, grams=grams, other_grams=other_grams)
    back = second.blended_with(first, grams=other_grams, other_grams=grams)
    assert there.total_g == pytest.approx(grams + other_grams)
    by_name = {row.material: row.amount.number for row in back.rows}
    assert {r.material: pytest.approx(r.amount.number) for r in there.rows} == by_name
    assert len(there.rows) == len({*one, *two})


def test_dilutions_of_different_strength_stay_apart_when_blended() -> None:
    weak = Formula.of({"PG": 1}).with_row("vanillin", 1, strength_pct=10)
    strong = Formula.of({"PG": 1}).with_row("vanillin", 1, strength_pct=20)
    assert len(weak.blended_with(strong).rows) == 3


@given(amounts)
def test_rows_make_the_round_trip(grams: dict[str, float]) -> None:
    made = Formula.of(grams).with_row(
        "ethanol", 3, strength_pct="96 % vol", role="solvent", note="=1+1"
    )
    again = Formula.from_rows(made.to_rows())
    assert again.rows == made.rows


def test_to_grams_assesses_the_same() -> None:
    small, large = assess(PEAR), assess(PEAR.to_grams(500))
    assert large.weighing.total_g == pytest.approx(500.0)
    flash = "flash_point_closed_cup"
    assert large.estimates[flash].value == pytest.approx(small.estimates[flash].value)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda: PEAR.without("vannilin"), "did you mean 'vanillin'"),
        (lambda: PEAR.without("isoamyl acetate", "vanillin", "PG"), "no row would be left"),
        (lambda: PEAR.with_grams("PG", "heaps"), "is not a number"),
        (lambda: PEAR.with_row("linalool", 1, strenght=10), "no column 'strenght'"),
        (lambda: PEAR.scaled(0), "can't be scaled by 0"),
        (lambda: PEAR.scaled(float("nan")), "can't be scaled"),
        (lambda: PEAR.with_grams("vanillin", 30).total_g, "more than 20 g"),
        (lambda: Formula.of({"PG": "q.s."}).total_g, "q.s. needs a batch size"),
        (
            lambda: Formula.from_rows([{"material": "PG", "drops": 2}]).to_grams(5),
            "PG is in drops",
        ),
        (lambda: PEAR.with_row("vanillin", 1).with_grams("vanillin", 2), "2 rows are named"),
        (lambda: Formula.of({}), "no rows"),
    ],
)
def test_what_cannot_be_done_is_said(change: object, message: str) -> None:
    with pytest.raises(FormulaError, match=message.replace(".", r"\.")):
        change()  # type: ignore[operator]
