"""`observe` and `observations` on the command line, and the estimates that follow."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from blendwright.app.cli.main import app

EXAMPLE = str(Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv")
BLEND = ["--row", "ethyl butyrate=1.6", "--row", "propylene glycol=8.4"]
runner = CliRunner()


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "observations.sqlite"
    monkeypatch.setenv("BLENDWRIGHT_OBSERVATIONS", str(path))
    return path


def run(*arguments: str, code: int = 0, given: str | None = None) -> str:
    done = runner.invoke(app, arguments, input=given)
    assert done.exit_code == code, done.output
    return done.output


def flash_C(*arguments: str) -> float:
    data = json.loads(run("assess", *BLEND, "--json", *arguments))
    return float(data["estimates"]["flash_point_closed_cup_C"]["value"])


def test_recorded_shown_counted_left_out_and_forgotten(kept: Path) -> None:
    before = run("assess", *BLEND, "--json")
    said = run("observe", *BLEND, "--flash-C", "45", "--flash-pm-C", "2", "--date", "2026-11-20")
    assert "1: flash point 45 ± 2 °C, 2026-11-20" in said
    assert str(kept) in said
    assert flash_C() == pytest.approx(45.0, abs=2.0)
    assert "1 of your observations counted" in run("assess", *BLEND)
    report = run("assess", *BLEND, "--show", "numbers")
    assert "flash point 45 ± 2 °C" in report
    assert "same blend, 100 %" in report
    assert max(map(len, report.splitlines())) <= 80
    assert run("assess", *BLEND, "--json", "--no-observations") == before
    run("observations", "forget", "1", "--yes")
    assert run("assess", *BLEND, "--json") == before


def test_every_option_is_recorded_with_its_circumstances(kept: Path) -> None:
    run(
        "observe", EXAMPLE, "--clear-at-C", "22", "--cloudy-at-C", "-5", "--flash-C", "27,5",
        "--density", "1.011", "--density-at-C", "21", "--boiling-C", "120",
        "--dissolved-at-C", "12",
        "--note", "second making", "--date", "2026-11-20", "--pressure-kPa", "100",
    )  # fmt: skip
    data = json.loads(run("observations", "list", "--json"))
    assert data["schema"] == "blendwright/observations/1"
    found = {one["question"]: one for one in data["observations"]}
    assert set(found) == {
        "clear", "cloudy", "flash_point", "density", "boiling_point", "crystals_gone",
    }  # fmt: skip
    assert found["cloudy"]["value"] == -5.0
    assert found["flash_point"]["value"] == 27.5
    assert found["density"]["at_C"] == 21.0
    assert found["density"]["plus_or_minus"] == pytest.approx(0.001)
    assert found["boiling_point"]["pressure_kPa"] == 100.0
    assert {one["note"] for one in found.values()} == {"second making"}
    assert sum(found["clear"]["mass_fractions"].values()) == pytest.approx(1.0)
    assert "linalool" in found["clear"]["mass_fractions"]
    assert "27.5" in run("observations", "list")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "nothing was observed"),
        (["--flash-C", "warm"], "--flash-C: 'warm' is not a number"),
        (["--flash-C", "nan"], "--flash-C: 'nan' is not a number"),
        (["--flash-C", "inf"], "is not a number"),
        (["--flash-C", "1e300"], "must lie between -60 and 350 °C"),
        (["--clear-at-C", "-300"], "must lie between -40 and 150 °C"),
        (["--density", "1021"], "must lie between 0.5 and 2 g/mL"),
        (["--flash-C", "41", "--flash-pm-C", "0"], "must lie between 2 and 40"),
        (["--flash-pm-C", "3"], "a ± is given"),
        (["--density-at-C", "20", "--clear-at-C", "20"], "but no --density"),
        (["--density", "1", "--density-at-C", "hot"], "--density-at-C: 'hot' is not a number"),
        (["--clear-at-C", "5", "--cloudy-at-C", "22"], "one of the two is a slip"),
        (["--flash-C", "41", "--date", "20.11.2026"], "is not a day"),
        (["--flash-C", "41", "--date", "2999-01-01"], "lies in the future"),
        (["--flash-C", "41", "--note", "x" * 501], "longer than 500"),
        (["--flash-C", "41", "--pressure-kPa", "1"], "--pressure-kPa 1 is outside"),
        (["--flash-C", "41", "--row", "vannilin=1"], "the closest names are vanillin"),
    ],
)
def test_odd_input_is_refused_in_plain_words(kept: Path, arguments: list[str], words: str) -> None:
    said = run("observe", *BLEND, *arguments, code=2)
    assert words in " ".join(said.split())
    assert not kept.exists()


def test_all_problems_come_at_once(kept: Path) -> None:
    said = run("observe", *BLEND, "--flash-C", "x", "--density", "y", code=2)
    assert "--flash-C" in said
    assert "--density" in said


@pytest.mark.parametrize("name", ["seen.csv", "seen.json"])
def test_export_never_writes_over_a_file_unasked(kept: Path, tmp_path: Path, name: str) -> None:
    run("observe", *BLEND, "--density", "1.021")
    out = tmp_path / name
    run("observations", "export", "-o", str(out))
    text = out.read_text(encoding="utf-8")
    assert "ethyl butyrate" in text
    out.write_text("mine", encoding="utf-8")
    assert "there already" in run("observations", "export", "-o", str(out), code=2)
    assert out.read_text(encoding="utf-8") == "mine"
    run("observations", "export", "-o", str(out), "--force")
    assert out.read_text(encoding="utf-8") == text
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([name, kept.name])
    assert "ends in .csv or .json" in run("observations", "export", "-o", "seen.txt", code=2)


def test_forgetting_asks_first(kept: Path) -> None:
    run("observe", *BLEND, "--density", "1.021", "--flash-C", "45")
    assert "nothing was forgotten" in run("observations", "forget", "--all", code=2, given="n\n")
    assert len(json.loads(run("observations", "list", "--json"))["observations"]) == 2
    run("observations", "forget", "7", "--yes", code=2)
    run("observations", "forget", code=2)
    run("observations", "forget", "1", "--all", code=2)
    assert "2 observations forgotten" in run("observations", "forget", "--all", given="y\n")
    assert "no observations" in run("observations", "list")


def test_a_damaged_file_stops_with_a_way_on(kept: Path) -> None:
    kept.write_bytes(b"not a database at all" * 50)
    said = run("assess", *BLEND, code=2)
    assert "--no-observations" in said
    run("assess", *BLEND, "--no-observations")


@pytest.mark.parametrize("command", ["warm", "flash"])
def test_warming_and_drivers_count_what_was_recorded_until_it_is_forgotten(
    kept: Path, tmp_path: Path, command: str
) -> None:
    before, text = run(command, *BLEND, "--json"), run(command, *BLEND)
    assert "You saw" not in text
    run("observe", *BLEND, "--flash-C", "5", "--flash-pm-C", "2", "--date", "2026-11-20")
    assessed = json.loads(run("assess", *BLEND, "--json"))
    data = json.loads(run(command, *BLEND, "--json"))
    flash = assessed["estimates"]["flash_point_closed_cup_C"]
    assert data["flash_point_closed_cup_C"] == flash
    assert data["observations"] == assessed["observations"]
    assert flash["value"] < json.loads(before)["flash_point_closed_cup_C"]["value"] - 10.0
    report = run(command, *BLEND)
    assert "flash point 5 ± 2 °C  2026-11-20  same blend, 100 %" in report
    assert max(map(len, report.splitlines())) <= 80
    assert run(command, *BLEND, "--json", "--no-observations") == before
    elsewhere = str(tmp_path / "other.sqlite")
    assert run(command, *BLEND, "--json", "--observations", elsewhere) == before
    run("observations", "forget", "1", "--yes")
    assert run(command, *BLEND, "--json") == before
    assert run(command, *BLEND) == text


def test_drivers_say_what_the_observations_do_not_move(kept: Path) -> None:
    words = "°C per extra gram are the model's: your observations don't change them."
    assert words not in run("flash", *BLEND)
    run("observe", *BLEND, "--flash-C", "15")
    assert words in run("flash", *BLEND)


@pytest.mark.parametrize("command", ["warm", "flash"])
def test_a_damaged_file_stops_warming_too(kept: Path, command: str) -> None:
    kept.write_bytes(b"not a database at all" * 50)
    assert "--no-observations" in run(command, *BLEND, code=2)
    run(command, *BLEND, "--no-observations")


def test_the_library_reads_no_file_unless_asked(kept: Path) -> None:
    from blendwright import assess, read_observations
    from tests.conftest import formula

    blend = formula(("ethyl butyrate", 1.6), ("propylene glycol", 8.4))
    before = assess(blend).to_dict()
    run("observe", *BLEND, "--flash-C", "45")
    assert assess(blend).to_dict() == before
    assert assess(blend, observations=read_observations(kept)).to_dict() != before
