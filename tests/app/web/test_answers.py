"""What the page says of a sheet: problems on their rows, amounts, and the same assessment."""

from __future__ import annotations

from dataclasses import replace

import pytest

from blendwright import assess, read_formula
from blendwright.app.web.answers import Request, amounts, assessment_data, everything, glance
from blendwright.app.web.apply_advice import with_way
from blendwright.app.web.sheet import Line, Sheet
from blendwright.errors import FormulaError
from blendwright.formula import Row, Strength
from blendwright.formula.numbers import Amount
from blendwright.report.answers_at_a_glance import at_a_glance

EXAMPLE = "examples/orchard-pear-cardamom.csv"


@pytest.fixture
def sheet() -> Sheet:
    return Sheet.from_formula(read_formula(EXAMPLE))


def test_the_page_says_what_the_command_says(sheet: Sheet):
    expected = assess(read_formula(EXAMPLE))
    found = everything(Request(sheet))
    assert found is not None
    assert found.findings == expected.findings
    assert found.estimates == expected.estimates
    second = glance(Request(sheet))
    assert second is not None
    assert second.answers == at_a_glance(expected).answers
    assert second.thermometer.flash.estimate == expected.estimates["flash_point_closed_cup"]
    data = assessment_data(Request(sheet))
    assert data == expected.to_dict()


def test_grams_and_shares_add_up(sheet: Sheet):
    found = amounts(Request(sheet))
    assert sum(row.grams for row in found.rows) == pytest.approx(50.0)
    assert sum(row.share_pct for row in found.rows) == pytest.approx(100.0)


def test_twin_rows_keep_their_own_grams():
    lines = (Line("vanillin", "1"), Line("vanillin", "2"), Line("water", "7"))
    found = amounts(Request(Sheet("", "", lines).tidied()))
    assert [row.grams for row in found.rows] == [1.0, 2.0, 7.0]


def test_every_problem_sits_on_its_row(sheet: Sheet):
    wrong = sheet.with_cell(0, "material", "vannilin").with_cell(1, "grams", "x")
    wrong = wrong.with_cell(6, "strength_pct", "150")
    found = amounts(Request(wrong)).problems
    assert {(problem.row, problem.column) for problem in found} == {
        (0, "material"),
        (1, "grams"),
        (6, "strength_pct"),
    }
    assert "vanillin" in found[0].instead


def test_a_row_without_an_amount_waits_and_is_told(sheet: Sheet):
    found = amounts(Request(sheet.with_cell(2, "grams", "")))
    assert found.waiting == (2,)
    assert not found.problems


def test_a_name_still_being_typed_is_no_mistake_yet(sheet: Sheet):
    typing = sheet.with_cell(0, "material", "ethyl ace")
    assert amounts(Request(typing, typing=0)).waiting == (0,)
    assert amounts(Request(typing)).problems[0].row == 0


def test_an_ambiguous_name_offers_the_choice(sheet: Sheet):
    found = amounts(Request(sheet.with_cell(0, "material", "ionone"))).problems
    assert found[0].instead == ("alpha-ionone", "beta-ionone")


def test_a_sheet_with_problems_has_no_assessment(sheet: Sheet):
    with pytest.raises(FormulaError, match="row 2"):
        assessment_data(Request(sheet.with_cell(1, "grams", "x")))
    with pytest.raises(FormulaError, match="no rows"):
        assessment_data(Request(Sheet().tidied()))


def test_a_way_keeps_the_made_up_row_and_moves_the_batch(sheet: Sheet):
    found = amounts(Request(sheet))
    rows = [(row.label, row.grams) for row in found.rows if row.label != "eugenol"]
    rows[0] = (rows[0][0], 0.6)
    rows.append(("triacetin", 5.0))
    tried = with_way(sheet, found, rows)
    assert tried.lines[0].grams == "0.6"
    assert "eugenol" not in {line.material for line in tried.lines}
    assert tried.written[-1] == Line("triacetin", "5")
    again = amounts(Request(tried))
    expected = dict(rows)
    for row in again.rows:
        assert row.grams == pytest.approx(expected[row.label], rel=1e-3)


def test_a_way_that_brings_in_a_dilution_reads_back_alike(sheet: Sheet) -> None:
    """With its strength and carrier in their own cells."""
    found = amounts(Request(sheet))
    label = "ethyl butyrate 20 % in triacetin"
    rows = [*((row.label, row.grams) for row in found.rows), (label, 2.0)]
    written = [*(Row(row.label, Amount(row.grams, "g")) for row in found.rows)]
    written.append(Row("ethyl butyrate", Amount(2.0, "g"), Strength(20.0, "mass"), "triacetin"))
    tried = with_way(sheet, found, rows, written)
    again = amounts(Request(tried))
    assert not again.problems
    assert tried.written[-1].strength_pct == "20"
    assert {row.label: row.grams for row in again.rows}[label] == 2.0


def test_the_volume_of_the_whole_stands_at_the_temperature_of_the_rows(sheet: Sheet):
    for bench_C in (4.0, 20.0, 40.0):
        found = amounts(Request(replace(sheet, bench_C=bench_C)))
        assert found.volume is not None
        assert found.volume_20C is not None
        rows = sum(row.mL or 0.0 for row in found.rows)
        assert found.volume_20C.interval()[0] * 1e6 == pytest.approx(rows, rel=1e-3)
        warmer = found.volume.interval()[0] - found.volume_20C.interval()[0]
        assert warmer * (bench_C - 20.0) >= 0.0
        assert (warmer == 0.0) == (bench_C == 20.0)


def test_a_dilution_says_what_it_is_in_written_or_not():
    lines = (
        Line("vanillin", "1", strength_pct="10"),
        Line("ethanol", "1", strength_pct="96 % vol"),
        Line("linalool", "1", strength_pct="10", carrier="triacetin"),
        Line("benzaldehyde", "1"),
    )
    found = amounts(Request(Sheet("", "", lines).tidied()))
    assert [row.carrier for row in found.rows] == ["propylene glycol", "water", "triacetin", ""]


def test_a_batch_size_counts_only_where_a_row_is_made_up_to_it(sheet: Sheet):
    assert not amounts(Request(sheet)).is_batch_idle
    assert not amounts(Request(Sheet("", "", (Line("water", "1"),)).tidied())).is_batch_idle
    assert amounts(Request(Sheet("", "50", (Line("water", "1"),)).tidied())).is_batch_idle
