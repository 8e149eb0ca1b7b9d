"""What reading a formula left open is told above the answer, on every road to one; and a number may
have a decimal comma wherever one is typed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.main import get_command
from typer.testing import CliRunner

from blendwright import Formula, assess
from blendwright.app.cli.main import app
from blendwright.app.cli.number_options import decimal_number
from blendwright.app.settings import SettingsError, parse_settings
from blendwright.mixture.drink import parse_drink
from blendwright.questions.advice.carriers import parse_carriers
from blendwright.questions.volumes.filling import Bottles
from blendwright.report.notebook import assessment_html
from blendwright.report.papers import make_papers
from blendwright.report.papers.dossier import gather
from blendwright.report.papers.label import parse_size_mm
from blendwright.verdict.as_read import as_read

runner = CliRunner()
TABLE = "Ingredient,Weight (g),Dilution,Solvent,Supplier\nhexanal,10,10 %,ethanol,Nord\nPG,90,,,\n"
CODE, NAMED = "COLUMN-UNUSED", "'Supplier'"
# how each command that takes a formula is asked, and words of its answer; {out} is a file to write
ASKED = {
    "assess": ("", "Dissolves?"),
    "volumes": ("", "Weigh in this order"),
    "warm": ("", "Cautions"),
    "flash": ("", "flash point"),
    "dose": ("--into water --dose-drops 2", "Clear?"),
    "advise": ("--flash-above-C 30", "As it is"),
    "carriers": ("--in triacetin", "the same aromatics"),
    "observe": ("--clear-at-C 20 --observations {out}.db", "kept in"),
    "report": ("-o {out}.md", "wrote"),
    "sweep": ("--vary PG=80..90/2 -o {out}.csv --only flash --quiet", "GHS by the estimate"),
}
WITHOUT_JSON = ("report",)


def commands() -> Iterator[tuple[str, Any]]:
    def walk(group: Any, before: str) -> Iterator[tuple[str, Any]]:
        for name, command in group.commands.items():
            if hasattr(command, "commands"):
                yield from walk(command, f"{before}{name} ")
            else:
                yield f"{before}{name}", command

    return walk(get_command(app), "")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "f.csv"
    path.write_text(TABLE)
    return path


def test_every_command_that_takes_a_formula_is_asked_here() -> None:
    taking = {name for name, command in commands() if "row" in {p.name for p in command.params}}
    assert taking == set(ASKED)


@pytest.mark.parametrize("command", ASKED)
def test_an_unused_column_is_named_above_the_answer(
    command: str, file: Path, tmp_path: Path
) -> None:
    options, answer = ASKED[command]
    words = options.format(out=tmp_path / "out").split()
    done = runner.invoke(app, [command, str(file), *words])
    assert done.exit_code == 0, done.output
    shown = " ".join(done.output.split())
    assert answer in shown
    assert NAMED in shown.partition(answer)[0]


@pytest.mark.parametrize("command", [c for c in ASKED if c not in WITHOUT_JSON])
def test_an_unused_column_is_named_in_json(command: str, file: Path, tmp_path: Path) -> None:
    words = ASKED[command][0].format(out=tmp_path / "out").split()
    done = runner.invoke(app, [command, str(file), *words, "--json"])
    assert done.exit_code == 0, done.output
    made = json.loads(done.stdout)
    if command == "sweep":
        assert made["unused_columns"] == {"Supplier": 2}
        assert made["reading"] == {CODE: 2}
        return
    assert [f["code"] for f in made["findings"]].count(CODE) == 1


def test_papers_and_notebook_name_it_first(file: Path) -> None:
    rows = [{"Zutat": "vanillin", "Menge (g)": 1, "Lieferant": "Nord"}, {"Zutat": "PG",
            "Menge (g)": 9}]  # fmt: skip
    found = assess(Formula.from_rows(rows))
    assert CODE in [finding.code for finding in found.findings]
    html = assessment_html(found)
    assert html.count("Lieferant") == 1
    assert html.index("Lieferant") < html.index("Dissolves?")
    for paper in make_papers(
        gather(found, date(2026, 11, 25)), ["bench", "technical", "data-sheet"], with_pictures=False
    ):
        first, *others = paper.blocks  # type: ignore[union-attr]  # no label is among them
        assert first.name == "as read"
        assert "Lieferant" in str(first)
        assert "Lieferant" not in str(others)


def test_nothing_is_said_of_a_table_that_is_read_whole() -> None:
    plain = Formula.of({"vanillin": 1, "PG": 9})
    assert as_read(plain.notices) == []
    paper = make_papers(gather(assess(plain), date(2026, 11, 25)), ["bench"])[0]
    assert "as read" not in [block.name for block in paper.blocks]  # type: ignore[union-attr]  # no label


# Numbers that are typed


def test_every_number_among_the_options_takes_a_decimal_comma() -> None:
    asked = 0
    for name, command in commands():
        for parameter in command.params:
            default = parameter.default
            is_number = isinstance(default, float) or "_C" in str(parameter.name)
            if not is_number or name == "observe":  # that one keeps its texts
                continue
            context = command.make_context(name, [], resilient_parsing=True)
            assert parameter.process_value(context, "4,5") == 4.5, (name, parameter.name)
            asked += 1
    assert asked > 20


@given(st.floats(-1e4, 1e4))
def test_an_option_reads_what_was_written_with_either_sign(value: float) -> None:
    text = f"{value:.4f}"
    assert decimal_number(text) == decimal_number(text.replace(".", ",")) == float(text)


def test_an_option_that_can_be_two_numbers_is_refused(file: Path) -> None:
    done = runner.invoke(app, ["assess", str(file), "--pressure-kPa", "101,325"])
    assert done.exit_code == 2
    assert "can be 101.3250 or 101325" in done.output


def test_settings_take_a_decimal_comma() -> None:
    text = "temperature_C = 22,5 # the bench\ndrop_mL = '0,04'\naltitude_m = 1,250\n"
    with pytest.raises(SettingsError, match=r"line 3: altitude_m: '1,250' can be 1.25 or 1250"):
        parse_settings(text, "settings")
    found = parse_settings(text.replace("1,250", "640"), "settings")
    assert (found.temperature_C, found.drop_mL, found.altitude_m) == (22.5, 0.04, 640.0)


def test_words_with_numbers_in_them_take_a_decimal_comma() -> None:
    assert parse_carriers("triacetin 62,5 + ethanol 37,5") == [
        ("triacetin", 62.5), ("ethanol", 37.5)
    ]  # fmt: skip
    assert parse_drink("10,5 % sugar").sugar_pct_mass == 10.5
    assert Bottles.parse("24x12,5").fill_mL == 12.5
    assert parse_size_mm("64,5x34") == (64.5, 34.0)
