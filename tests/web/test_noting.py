"""Observations on the page: kept as `observe` keeps them, counted in as `assess` counts them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from blendwright import assess, read_formula
from blendwright.app.web.answers import Asked, amounts, assessment_data, everything, verdicts
from blendwright.app.web.noting import Note, kept, note_down, take_back
from blendwright.app.web.seen import seen_file, stamp_of
from blendwright.app.web.state import Line, Sheet
from blendwright.app.web.units import Units
from blendwright.errors import FormulaError
from blendwright.observations import read_observations
from blendwright.observations.observation import Typed

DAY = date(2026, 11, 20)
SHEET = Sheet("pear", "", (Line("ethyl butyrate", "1.6"), Line("propylene glycol", "8.4")))


def seen_by(file: Path, sheet: Sheet = SHEET) -> Asked:
    path, age = stamp_of(file)
    return Asked(sheet.tidied(), observations=path, seen=age)


def test_the_page_counts_observations_as_the_command_does(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    alone = everything(seen_by(file))
    note_down(seen_by(file), Note(Typed("flash_point", "44", "3"), DAY, "twice"), str(file))
    note_down(seen_by(file), Note(Typed("density", "1.01", None, 295.15), DAY), str(file))
    note_down(seen_by(file), Note(Typed("clear", "20"), DAY), str(file))
    asked = seen_by(file)
    formula = tmp_path / "pear.csv"
    formula.write_text("material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n")
    expected = assess(read_formula(formula), observations=read_observations(file))
    found, second, first = everything(asked), verdicts(asked), amounts(asked)
    assert found is not None
    assert second is not None
    assert alone is not None
    assert found.estimates == expected.estimates
    assert found.findings == expected.findings
    assert found.observations == expected.observations
    assert found.estimates != alone.estimates
    assert second.flash == expected.estimates["flash_point_closed_cup_C"]
    assert first.density == expected.estimates["density_g_mL"]
    assert assessment_data(asked) == expected.to_dict()


def test_what_is_taken_back_counts_no_more(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    before = everything(seen_by(file))
    note_down(seen_by(file), Note(Typed("flash_point", "60"), DAY), str(file))
    (one,) = kept(file)
    assert one.formula == "pear"
    assert one.id is not None
    assert take_back(str(file), one.id) == 1
    assert kept(file) == ()
    after = everything(seen_by(file))
    assert before is not None
    assert after is not None
    assert after.estimates == before.estimates


def test_a_formula_with_a_problem_has_nothing_to_observe(tmp_path: Path):
    wrong = Sheet("pear", "", (Line("vannilin", "1"),))
    with pytest.raises(FormulaError, match="vannilin"):
        note_down(
            Asked(wrong.tidied()), Note(Typed("flash_point", "60"), DAY), str(tmp_path / "seen")
        )
    assert not (tmp_path / "seen").exists()


def test_a_damaged_file_is_told_and_stops_the_answer(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    file.write_bytes(b"no database at all" * 100)
    found = amounts(seen_by(file))
    assert found.rows == ()
    assert "damaged" in found.problems[0].message


def test_on_one_computer_one_file_with_others_let_in_one_each(tmp_path: Path):
    assert seen_file(tmp_path, "") == tmp_path / "observations.sqlite"
    anna, ben = seen_file(tmp_path, "anna"), seen_file(tmp_path, "ben/../..")
    assert anna != ben
    assert {anna.parent, ben.parent} == {tmp_path}


def test_the_thermometer_shows_what_the_answer_says(tmp_path: Path):
    from blendwright.app.web.drawing import thermometer

    file = tmp_path / "observations.sqlite"
    note_down(seen_by(file), Note(Typed("flash_point", "44", "3"), DAY), str(file))
    asked = seen_by(file)
    found = verdicts(asked)
    assert found is not None
    _, words, data = thermometer(asked)
    value, span = Units().cells(found.flash)
    assert f"flash point, closed cup: {value} ({span})" in words
    assert f"{found.flash.at_the_edge().value:.4g}" in data


def test_warming_is_asked_anew_when_something_is_written_down_or_taken_back(tmp_path: Path):
    """The window follows the measurement, and goes back with it; and so does what makes it burn."""
    from blendwright.app.web.jobs import drivers, warming
    from blendwright.questions.warming import WarmBath, warm

    file = tmp_path / "observations.sqlite"
    nothing = seen_by(file)
    before, burned = warming(nothing, WarmBath()), drivers(nothing)
    one = note_down(nothing, Note(Typed("flash_point", "5", "3"), DAY), str(file))
    asked = seen_by(file)
    assert asked != nothing
    found, expected = warming(asked, WarmBath()), everything(asked)
    assert expected is not None
    assert found.window.flash == expected.estimates["flash_point_closed_cup_C"]
    assert found.observations == expected.observations
    assert drivers(asked).flash == found.window.flash
    assert found.window.highest_K is not None
    assert before.window.highest_K is not None
    assert found.window.highest_K < before.window.highest_K
    formula = tmp_path / "pear.csv"
    formula.write_text("material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n")
    by_hand = warm(read_formula(formula), observations=read_observations(file))
    assert {**found.to_dict(), "formula": None} == {**by_hand.to_dict(), "formula": None}
    assert one.id is not None
    take_back(str(file), one.id)
    again = seen_by(file)
    assert again != asked
    assert warming(again, WarmBath()).to_dict() == before.to_dict()
    assert drivers(again).to_dict() == burned.to_dict()
