"""What the formula's fields show, and what is made of them when they are handed back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.app.web.fields import (
    CELLS,
    Head,
    Shown,
    shown_cell,
    with_head,
    with_shown,
    with_typed,
)
from blendwright.app.web.sheet import Line, Sheet

SHEET = Sheet(
    "pear",
    "50",
    (
        Line("ethyl butyrate", "1.60", role="fruit"),
        Line("linalool", mL="2", note="the new lot"),
        Line("vanillin", "0.9", cas="121-33-5", smiles="COc1cc(C=O)ccc1O"),
        Line("propylene glycol", "q.s."),
    ),
    bench_C=18.3,
    pressure_kPa=93.87654,
).tidied()


def fields_of(sheet: Sheet) -> Shown:
    """The fields as a window shows them."""
    rows = tuple({cell: shown_cell(line, cell) for cell in CELLS} for line in sheet.lines)
    return Shown(Head.of(sheet), rows)


def retyped(shown: Shown, row: int, **cells: str) -> Shown:
    rows = list(shown.rows)
    rows[row] = {**rows[row], **cells}
    return replace(shown, rows=tuple(rows))


words = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=12)
amounts = st.one_of(st.just(""), st.just("q.s."), st.floats(1e-4, 1e4).map(lambda x: f"{x:.6g}"))
one_amount = st.one_of(
    st.builds(lambda text: {"grams": text}, amounts),
    st.builds(lambda text: {"mL": text}, amounts),
    st.builds(lambda text: {"drops": text}, amounts),
)
lines = st.builds(
    lambda amount, **cells: Line(**cells, **amount), one_amount,
    material=words, strength_pct=words, carrier=words, role=words, smiles=words,
)  # fmt: skip
sheets = st.builds(
    lambda rows, bench, kPa: Sheet("pear", "50", tuple(rows), bench, kPa).tidied(),
    st.lists(lines, max_size=6), st.floats(-40, 150), st.floats(10, 120),
)  # fmt: skip


@given(sheets)
def test_fields_that_nobody_touched_leave_the_sheet_as_it_is(sheet: Sheet):
    assert with_shown(sheet, fields_of(sheet)) == sheet


@given(sheets, sheets)
def test_the_sheet_shows_afterwards_what_the_fields_showed(kept: Sheet, seen: Sheet):
    shown = fields_of(seen)
    again = fields_of(with_shown(kept, shown))
    for row, before in zip(again.rows, shown.rows, strict=False):
        for cell in ("material", "strength_pct", "carrier"):
            assert row[cell] == before[cell]


def test_what_was_typed_in_one_cell_changes_that_cell_alone():
    shown = retyped(fields_of(SHEET), 0, grams="2,5")
    assert with_shown(SHEET, shown) == SHEET.with_cell(0, "grams", "2,5")


def test_a_new_amount_clears_the_other_one_as_it_does_while_one_types():
    shown = retyped(fields_of(SHEET), 1, grams="3")  # its 2 mL still stand beside it
    assert with_shown(SHEET, shown).lines[1] == Line("linalool", "3", note="the new lot")


def test_a_row_that_is_renamed_or_moved_keeps_only_what_is_its_own():
    shown = fields_of(SHEET)
    renamed = with_shown(SHEET, retyped(shown, 1, material="geraniol"))
    assert renamed.lines[1] == Line("geraniol", mL="2", note="the new lot")
    gone = replace(shown, rows=(shown.rows[0], *shown.rows[2:]))
    assert with_shown(SHEET, gone) == SHEET.without(1)
    assert with_shown(SHEET, gone).lines[1].smiles == SHEET.lines[2].smiles


@pytest.mark.parametrize("drops", ["3", "3 drops"])
def test_drops_of_a_file_are_shown_as_drops_and_stay_so(drops: str):
    line = Line("linalool", drops=drops)
    assert shown_cell(line, "volume") == "3 drops"
    assert with_typed(line, "volume", "3 drops").drops == "3 drops"
    assert with_typed(line, "volume", "0.5") == Line("linalool", mL="0.5")
    assert with_typed(line, "volume", "") == Line("linalool")


def test_a_condition_that_cannot_be_read_leaves_the_one_before_in_force():
    head = Head.of(SHEET)
    for bench in ("", "warm", "200"):
        made, wrong = with_head(SHEET, replace(head, bench=bench))
        assert (made.bench_C, wrong) == (18.3, ("bench",))
    made, wrong = with_head(SHEET, replace(head, pressure_kPa="0", name="quince"))
    assert (made.name, made.pressure_kPa, wrong) == ("quince", 93.87654, ("pressure",))
    assert with_head(SHEET, replace(head, bench="21,5"))[0].bench_C == 21.5


@pytest.mark.parametrize("data", [None, [], {}, {"head": 1, "rows": 2},
                                  {"head": {}, "rows": [{}]}])  # fmt: skip
def test_what_is_no_window_is_refused(data: object):
    with pytest.raises(ValueError, match="not the fields"):
        Shown.from_data(data)


def test_a_windows_json_is_read():
    row = dict.fromkeys(CELLS, "") | {"material": "vanillin", "grams": "1"}
    head = {"name": "a", "batch": "", "bench": "25", "pressure": "101.325"}
    shown = Shown.from_data({"head": head, "rows": [row]})
    assert with_shown(Sheet().tidied(), shown).written == (Line("vanillin", "1"),)
