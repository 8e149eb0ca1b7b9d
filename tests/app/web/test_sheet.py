"""The grid's formula without a browser: cells, undo, paste, files and back."""

from __future__ import annotations

from blendwright.app.web.pasting import pasted
from blendwright.app.web.sheet import History, Line, Sheet, csv_text, workbook_bytes
from blendwright.formula import read_formula, read_formula_bytes

EXAMPLE = "examples/orchard-pear-cardamom.csv"
AWKWARD = Sheet(
    'a "name", with marks',
    "50",
    (
        Line('<script>alert("x")</script>', "1,5"),
        Line("ethanol", strength_pct="96 % vol", mL="3"),
        Line("=1+1", "2", note="looks like a spreadsheet's own formula"),
        Line("vanillin", drops="4", role="sweet", cas="121-33-5"),
        Line("water", "q.s."),
    ),
).tidied()


def test_the_example_survives_csv_and_workbook_unchanged():
    sheet = Sheet.from_formula(read_formula(EXAMPLE))
    assert len(sheet.written) == 16
    for content, name in (
        (csv_text(sheet).encode(), "x.csv"),
        (workbook_bytes(sheet), "x.xlsx"),
    ):
        assert Sheet.from_formula(read_formula_bytes(content, name)) == sheet


def test_awkward_texts_survive_csv_workbook_and_json():
    assert Sheet.from_dict(AWKWARD.to_dict()) == AWKWARD
    from_csv = read_formula_bytes(csv_text(AWKWARD).encode(), "x.csv")
    from_workbook = read_formula_bytes(workbook_bytes(AWKWARD), "x.xlsx")
    assert from_csv.rows == from_workbook.rows
    assert [row.material for row in from_csv.rows] == [ln.material for ln in AWKWARD.written]


def test_no_cell_of_an_exported_workbook_is_a_formula():
    import io

    from openpyxl import load_workbook

    page = load_workbook(io.BytesIO(workbook_bytes(AWKWARD))).active
    kinds = {cell.data_type for row in page.iter_rows() for cell in row if cell.value is not None}
    assert kinds == {"s"}


def test_there_is_always_one_empty_row_at_the_end():
    sheet = Sheet().tidied().with_cell(0, "material", "vanillin")
    assert [line.material for line in sheet.lines] == ["vanillin", ""]
    assert len(sheet.with_cell(0, "material", "").lines) == 1


def test_one_amount_at_a_time():
    sheet = Sheet().tidied().with_cell(0, "grams", "2").with_cell(0, "mL", "3")
    assert (sheet.lines[0].grams, sheet.lines[0].mL) == ("", "3")


def test_keystrokes_in_one_cell_are_undone_together_and_other_cells_apart():
    history = History(Sheet().tidied())
    for at, text in enumerate(("v", "va", "van")):
        history.change(history.now.with_cell(0, "material", text), "0/material", at * 0.1)
    history.change(history.now.with_cell(0, "grams", "1"), "0/grams", 0.4)
    assert history.undo()
    assert history.now.lines[0] == Line("van")
    assert history.undo()
    assert history.now == Sheet().tidied()
    assert not history.undo()
    assert history.redo()
    assert history.redo()
    assert history.now.lines[0] == Line("van", "1")


def test_rows_pasted_with_and_without_a_header():
    assert pasted("vanillin\t0.9\tx\n\nwater\t2").rows == (
        {"material": "vanillin", "grams": "0.9", "strength_pct": "x"},
        {"material": "water", "grams": "2"},
    )
    assert pasted("Weight [g]\n1\n").rows[0] == {"material": "Weight [g]"}
    assert pasted("grams\tmaterial\n1\tvanillin").rows == ({"grams": "1", "material": "vanillin"},)
    assert pasted("0,9\tvanillin").rows == ({"grams": "0,9", "material": "vanillin"},)
    assert pasted("").rows == ()


def test_scaling_multiplies_every_amount_and_keeps_what_is_no_number():
    sheet = Sheet("", "50", (Line("a", "1,5"), Line("b", "q.s."), Line("c", drops="4"))).times(2)
    assert [line.grams for line in sheet.written] == ["3", "q.s.", ""]
    assert (sheet.lines[2].drops, sheet.batch_g) == ("8", "100")


def test_only_one_row_makes_up_to_weight():
    sheet = Sheet("", "50", (Line("a", "q.s."), Line("b", "1"))).made_up_with(1)
    assert [line.grams for line in sheet.written] == ["", "q.s."]


def test_moving_a_row_keeps_the_others_in_order():
    sheet = Sheet("", "", tuple(Line(name, "1") for name in "abc")).tidied().moved(0, 2)
    assert [line.material for line in sheet.written] == ["b", "c", "a"]
