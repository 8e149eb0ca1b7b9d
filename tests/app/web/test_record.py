"""Observations on the page: kept as `observe` keeps them, counted in as `assess` counts them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from blendwright import assess, read_formula
from blendwright.app.web import figures
from blendwright.app.web.answers import Request, amounts, assessment_data, everything, glance
from blendwright.app.web.observation_files import file_age, observation_file
from blendwright.app.web.record import Note, delete_observation, record_observation, recorded
from blendwright.app.web.sheet import Line, Sheet
from blendwright.errors import FormulaError
from blendwright.observations import read_observations
from blendwright.observations.observation import Typed

DAY = date(2026, 11, 20)
SHEET = Sheet("pear", "", (Line("ethyl butyrate", "1.6"), Line("propylene glycol", "8.4")))


def request_with(file: Path, sheet: Sheet = SHEET) -> Request:
    path, age = file_age(file)
    return Request(sheet.tidied(), observations=path, observations_age_ns=age)


def test_the_page_counts_observations_as_the_command_does(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    alone = everything(request_with(file))
    record_observation(
        request_with(file), Note(Typed("flash_point", "44", "3"), DAY, "twice"), str(file)
    )
    record_observation(
        request_with(file), Note(Typed("density", "1.01", None, 295.15), DAY), str(file)
    )
    record_observation(request_with(file), Note(Typed("clear", "20"), DAY), str(file))
    request = request_with(file)
    formula = tmp_path / "pear.csv"
    formula.write_text("material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n")
    expected = assess(read_formula(formula), observations=read_observations(file))
    found, second, first = everything(request), glance(request), amounts(request)
    assert found is not None
    assert second is not None
    assert alone is not None
    assert found.estimates == expected.estimates
    assert found.findings == expected.findings
    assert found.observations == expected.observations
    assert found.estimates != alone.estimates
    assert second.thermometer.flash.estimate == expected.estimates["flash_point_closed_cup"]
    assert first.density == expected.estimates["density"]
    assert assessment_data(request) == expected.to_dict()


def test_what_is_taken_back_counts_no_more(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    before = everything(request_with(file))
    record_observation(request_with(file), Note(Typed("flash_point", "60"), DAY), str(file))
    (one,) = recorded(file)
    assert one.formula == "pear"
    assert one.id is not None
    assert delete_observation(str(file), one.id) == 1
    assert recorded(file) == ()
    after = everything(request_with(file))
    assert before is not None
    assert after is not None
    assert after.estimates == before.estimates


def test_a_formula_with_a_problem_has_nothing_to_observe(tmp_path: Path):
    wrong = Sheet("pear", "", (Line("vannilin", "1"),))
    with pytest.raises(FormulaError, match="vannilin"):
        record_observation(
            Request(wrong.tidied()), Note(Typed("flash_point", "60"), DAY), str(tmp_path / "seen")
        )
    assert not (tmp_path / "seen").exists()


def test_a_damaged_file_is_told_and_stops_the_answer(tmp_path: Path):
    file = tmp_path / "observations.sqlite"
    file.write_bytes(b"no database at all" * 100)
    found = amounts(request_with(file))
    assert found.rows == ()
    assert "damaged" in found.problems[0].message


def test_on_one_computer_one_file_with_others_let_in_one_each(tmp_path: Path):
    assert observation_file(tmp_path, "") == tmp_path / "observations.sqlite"
    anna, ben = observation_file(tmp_path, "anna"), observation_file(tmp_path, "ben/../..")
    assert anna != ben
    assert {anna.parent, ben.parent} == {tmp_path}


def test_the_thermometer_shows_what_the_answer_says(tmp_path: Path):
    from blendwright.app.web.drawing import thermometer

    file = tmp_path / "observations.sqlite"
    record_observation(request_with(file), Note(Typed("flash_point", "44", "3"), DAY), str(file))
    request = request_with(file)
    found = glance(request)
    assert found is not None
    _, words, data = thermometer(request)
    flash = found.thermometer.flash.estimate
    value, span = figures.cells(flash)
    assert f"flash point, closed cup: {value} ({span})" in words
    assert f"{flash.in_display_units().value:.4g}" in data


def test_warming_is_asked_anew_when_something_is_written_down_or_taken_back(tmp_path: Path):
    """The window follows the measurement, and goes back with it; and so does what makes it burn."""
    from blendwright.app.web.jobs import drivers, warming
    from blendwright.questions.warming import WarmBath, warm

    file = tmp_path / "observations.sqlite"
    nothing = request_with(file)
    before, burned = warming(nothing, WarmBath()), drivers(nothing)
    one = record_observation(nothing, Note(Typed("flash_point", "5", "3"), DAY), str(file))
    request = request_with(file)
    assert request != nothing
    found, expected = warming(request, WarmBath()), everything(request)
    assert expected is not None
    assert found.window.flash == expected.estimates["flash_point_closed_cup"]
    assert found.observations == expected.observations
    assert drivers(request).flash == found.window.flash
    assert found.window.highest_K is not None
    assert before.window.highest_K is not None
    assert found.window.highest_K < before.window.highest_K
    formula = tmp_path / "pear.csv"
    formula.write_text("material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n")
    by_hand = warm(read_formula(formula), observations=read_observations(file))
    assert {**found.to_dict(), "formula": None} == {**by_hand.to_dict(), "formula": None}
    assert one.id is not None
    delete_observation(str(file), one.id)
    again = request_with(file)
    assert again != request
    assert warming(again, WarmBath()).to_dict() == before.to_dict()
    assert drivers(again).to_dict() == burned.to_dict()
