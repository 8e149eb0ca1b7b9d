"""Own materials as the page edits them: a form a material, its rows in the person's table."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from blendwright.app.web.jobs import check_own_materials
from blendwright.app.web.own_table import (
    FIELDS,
    field_of,
    form_of,
    own_materials,
    read_table,
    replaced,
    rows_of_form,
    without,
    write_table,
)
from blendwright.errors import Problem
from blendwright.questions.materials.own import COLUMNS

DAY = date(2026, 11, 28)
BLANK = dict.fromkeys(FIELDS, "")
BASE = {**BLANK, "name": "house base", "source": "sheet of May", "lot": "7", "density": "0.95",
        "flash_point": "31"}  # fmt: skip
MIX = {**BLANK, "name": "spirit", "constituents": "ethanol 90; water 10"}
VAPOUR = {**dict.fromkeys(COLUMNS, ""), "material": "house base", "property": "vapour_pressure",
          "value": "1.2", "unit": "kPa", "temperature_C": "25"}  # fmt: skip


def test_a_form_makes_rows_and_rows_the_same_form():
    for answers in (BASE, MIX):
        (found,) = own_materials(rows_of_form(answers, DAY))
        assert form_of(found) == answers


def test_a_material_is_listed_with_what_was_entered():
    (base, mix) = own_materials([*rows_of_form(BASE, DAY), *rows_of_form(MIX, DAY)])
    assert base.words == "density 0.95 g/mL, flash point 31 °C; sheet of May, lot 7"
    assert mix.words == "ethanol 90 %, water 10 %"


def test_an_edit_replaces_what_the_form_shows_and_keeps_the_rest():
    rows = [*rows_of_form(BASE, DAY), VAPOUR, *rows_of_form(MIX, DAY)]
    edited = rows_of_form({**BASE, "name": "pear base", "flash_point": ""}, DAY)
    made = {one.name: one for one in own_materials(replaced(rows, "house base", edited))}
    assert set(made) == {"pear base", "spirit"}
    told = {row["property"]: row["value"] for row in made["pear base"].rows}
    assert told == {"density": "0.95", "vapour_pressure": "1.2"}


def test_a_deleted_material_leaves_the_others():
    rows = [*rows_of_form(BASE, DAY), *rows_of_form(MIX, DAY)]
    assert [one.name for one in own_materials(without(rows, "house base"))] == ["spirit"]


def test_the_table_survives_the_disk(tmp_path: Path):
    rows = [*rows_of_form(BASE, DAY), VAPOUR]
    write_table(tmp_path / "own.csv", rows)
    assert read_table(tmp_path / "own.csv") == rows


def test_a_problem_is_said_at_its_field(tmp_path: Path):
    for answers, field in (
        ({**BASE, "density": "heavy"}, "density"),
        ({**BASE, "flash_point": ""}, "flash_point"),  # a base of undisclosed composition needs it
        ({**BASE, "cas": "1-2-3"}, "cas"),
        ({**MIX, "constituents": "ethanol 50"}, "constituents"),
        ({**MIX, "constituents": "no such thing 100"}, "constituents"),
    ):
        rows = rows_of_form(answers, DAY)
        write_table(tmp_path / "own.csv", rows)
        checked = check_own_materials(str(tmp_path / "own.csv"))
        assert {field_of(one, rows, answers["name"]) for one in checked.problems} == {field}


def test_another_materials_problem_is_said_at_no_field():
    rows = [*rows_of_form(MIX, DAY), *rows_of_form(BASE, DAY)]
    assert field_of(Problem("wrong", 2, "value"), rows, "house base") == ""
