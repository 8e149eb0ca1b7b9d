"""What is pasted into the grid is the formula that the text means, or the person is told."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.app.web.answers import Request, amounts, formula_of
from blendwright.app.web.apply_advice import with_way
from blendwright.app.web.pasting import pasted, put_in
from blendwright.app.web.sheet import Line, Sheet
from blendwright.errors import FormulaError
from blendwright.formula import Notice, UnusedColumn, read_formula_bytes
from blendwright.formula.numbers import number_text

EMPTY = Sheet().tidied()
HEADS = ["Ingredient\tWeight (g)\tDilution\tSolvent\tSupplier", "material\tg\tstrength\tin\tlot",
         "Zutat\tMenge [g]\tVerdünnung\tLösungsmittel\tLieferant",
         "Matière\tPoids, g\tTitre, %\tdans\tfournisseur"]  # fmt: skip
cells = st.floats(1e-3, 1e3).map(number_text)
lines = st.lists(
    st.tuples(
        st.sampled_from(["vanillin", "PG", "hexanal"]),
        cells,
        st.sampled_from([("", ""), ("10", "ethanol"), ("5 %", "PG")]),
        st.sampled_from(["", "x"]),
    ),
    min_size=1,
    max_size=6,
)


@given(st.sampled_from(HEADS), lines)
def test_pasted_rows_are_the_formula_that_the_text_is_as_a_file(
    head: str, rows: list[tuple[str, str, tuple[str, str], str]]
) -> None:
    text = "\n".join([head, *("\t".join((m, g, *d, s)) for m, g, d, s in rows)])
    sheet = put_in(EMPTY, 0, pasted(text))
    formula = formula_of(Request(sheet))
    there = read_formula_bytes(text.encode(), "x.tsv")
    assert [(r.material, r.amount, r.strength, r.carrier) for r in formula.rows] == [
        (r.material, r.amount, r.strength, r.carrier) for r in there.rows
    ]
    assert formula.notices == there.notices
    held = sum(s != "" for *_, s in rows)
    assert [c.cells for c in formula.unused_columns] == ([held] if held else [])


def test_cells_keep_their_text_with_the_unit_of_the_heading() -> None:
    found = pasted("Zutat\tMenge (mg)\nvanillin\t250,5\nPG\t1 g\n")
    assert [row["grams"] for row in found.rows] == ["250,5 mg", "1 g"]


def test_shares_become_grams_of_the_pages_batch() -> None:
    text = "ingredient\t%\nvanillin\t2\nPG\t98\nTotal\t100"
    sheet = put_in(Sheet("", "50").tidied(), 0, pasted(text, 50.0))
    assert [line.grams for line in sheet.written] == ["1", "49"]
    assert [notice.code for notice in sheet.notices] == ["AMOUNTS-BY-SHARE"]
    sheet = put_in(EMPTY, 0, pasted(text))
    assert [line.grams for line in sheet.written] == ["2", "98"]


def test_name_batch_and_total_are_taken_where_the_page_has_none() -> None:
    text = "# name Pear\nmaterial\tgrams\nvanillin\t1\nPG\tq.s.\nSum\t50"
    sheet = put_in(EMPTY, 0, pasted(text))
    assert (sheet.name, sheet.batch_g) == ("Pear", "50")
    assert amounts(Request(sheet)).total_g == pytest.approx(50.0)
    kept = put_in(Sheet("Mine", "80").tidied(), 0, pasted(text.replace("Sum", "# batch 50 g\nSum")))
    assert (kept.name, kept.batch_g) == ("Mine", "80")
    assert "BATCH-NOT-TAKEN" in [notice.code for notice in kept.notices]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("material\tgrams\t%\nhexanal\t5\t12\nPG\t45\t88", "is 10 % of the formula"),
        ("material\tWeight (g)\tQty\nhexanal\t5\t12", "grams is there twice"),
        ("material\t%\nhexanal\tlots\nPG\t45", "'lots' is not a number"),
        ("material\tgrams\nTotal\t5\nPG\t45", "reads like a total"),
        ("material\tgrams\tDilution in PG\nhexanal\t5\t10", "speaks of a strength"),
    ],
)
def test_a_table_that_means_two_things_is_not_pasted(text: str, words: str) -> None:
    with pytest.raises(FormulaError, match=words):
        pasted(text)


def test_what_is_wrong_in_a_cell_is_pasted_and_told_in_its_row() -> None:
    sheet = put_in(EMPTY, 0, pasted("material\tgrams\nvanillin\t1,250\nPG\tlots"))
    found = amounts(Request(sheet)).problems
    assert [(p.row, p.column, p.instead) for p in found] == [
        (0, "grams", ("1.25", "1250")),
        (1, "grams", ()),
    ]


def test_the_other_numbers_of_the_page_settle_what_a_comma_is() -> None:
    lines = (Line("vanillin", "1,250"), Line("PG", "8,5"))
    found = amounts(Request(Sheet("", "", lines).tidied()))
    assert [row.grams for row in found.rows] == [1.25, 8.5]
    doubtful = Sheet("", "", (*lines, Line("water", "1.250"))).tidied()
    assert [p.row for p in amounts(Request(doubtful)).problems] == [2]


def test_cells_without_a_heading_and_rows_without_a_header() -> None:
    found = pasted("vanillin\t0.9\t\tx\nPG\t9\t\t")
    assert found.notices[0].columns == (UnusedColumn("column 4 (no heading)", 1),)


def test_a_long_cell_is_cut_and_said() -> None:
    (notice,) = pasted(f"material\tgrams\tnote\nvanillin\t1\t{'x' * 500}").notices
    assert notice.code == "CELLS-CUT"


def test_notices_are_kept_with_the_formula_and_go_with_a_new_one() -> None:
    text = "material\tgrams\tlot\nvanillin\t1\t7"
    sheet = put_in(EMPTY, 0, pasted(text))
    assert Sheet.from_dict(sheet.to_dict()) == sheet
    assert put_in(sheet, 1, pasted(text)).notices == sheet.notices
    assert put_in(Sheet("", "", (), notices=(Notice("X", "info", "", ""),)), 0,
                  pasted(text)).notices == sheet.notices  # fmt: skip


@given(cells, st.sampled_from(["", " g", " mg"]), st.floats(0.1, 10.0))
def test_scaling_keeps_units_and_never_makes_a_doubtful_number(
    number: str, unit: str, factor: float
) -> None:
    sheet = Sheet("", "", (Line("a", f"{number}{unit}"), Line("b", "0,5"))).times(factor)
    cell, other = (line.grams for line in sheet.written)
    assert cell.endswith(unit)
    assert float(cell.removesuffix(unit)) == pytest.approx(float(number) * factor, rel=1e-5)
    assert float(other) == pytest.approx(0.5 * factor, rel=1e-5)


def test_ounces_that_can_be_two_numbers_stay_ounces() -> None:
    sheet = Sheet("", "", (Line("PG", "1,250 oz"),)).tidied()
    (problem,) = amounts(Request(sheet)).problems
    assert problem.instead == ("1.25 oz", "1250 oz")
    assert amounts(Request(sheet.with_cell(0, "grams", "1.25 oz"))).total_g == pytest.approx(
        1.25 * 28.349523125
    )


def test_advice_put_into_a_page_with_decimal_commas_is_never_doubtful() -> None:
    sheet = Sheet("", "", (Line("ethyl butyrate", "2,5"), Line("PG", "7,5"))).tidied()
    found = amounts(Request(sheet))
    tried = with_way(sheet, found, [("ethyl butyrate", 1.125), ("propylene glycol", 8.125)])
    assert [row.grams for row in amounts(Request(tried)).rows] == [1.125, 8.125]
