"""The answer to its question stands in the first three lines of every command, in 80 columns."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from blendwright.app.cli.main import app
from tests.app.cli.test_command_line import LIBRARY

ROOT = Path(__file__).parents[3]
PEAR = str(ROOT / "examples" / "orchard-pear-cardamom.csv")
MINE = "material,property,value,unit,source\nethyl butyrate,flash_point,26,°C,my sheet (invented)\n"
# what is typed, and what the first three lines must say
ANSWERS: dict[str, tuple[str, str]] = {
    "assess": ("assess {pear}", r"Dissolves\? .* One liquid\? "),
    "warm": ("warm {pear}", r"[Ww]arm"),
    "dose": ("dose {pear} --into water --dose-drops 2", r"Clear\? +(clear|\w)"),
    "flash": ("flash {pear}", r"flash point \d+ °C .* one extra gram: ethyl acetate"),
    "advise": ("advise {pear} --flash-above-C 60", r"1\. add triethyl citrate"),
    "carriers": ("carriers {pear} --in triacetin", r"Clear and dissolved at .* in: triacetin"),
    "sweep": ("sweep {pear} --vary vanillin=0.5,1 -o s.csv --quiet", r"2 formulas .* 2 answered"),
    "volumes": ("volumes {pear}", r"It fills [\d.]+ mL at 20 °C"),
    "report": ("report {pear} -o p.md", r"wrote p\.md"),
    "batch": ("batch library.csv -o b.csv --quiet", r"2 formulas .* 2 answered"),
    "accuracy": ("accuracy", r"Off on average: flash points of mixtures [\d.]+ °C"),
    "material show": ("material show vanillin", r"flash point 147\.0 °C, boils at 285"),
    "material find": ("material find acet", r"flash °C .* ethyl|acet"),
    "material check": ("material check mine.csv", r"mine\.csv: 1 materials, nothing is off"),
    "material audit": ("material audit --summary", r"materials +\d+"),
    "observe": ("observe {pear} --clear-at-C 22 --observations o.db", r"1: clear at 22 °C"),
    "observations list": ("observations list --observations o.db", r"no observations"),
    "observations export": (
        "observations export -o - --observations o.db",
        r"id,date,question,value",
    ),
    "observations forget": ("observations forget --all --yes --observations o.db", r"0 .*forg"),
    "settings show": ("settings show", r"temperature_C"),
    "settings set": ("settings set drop_mL 0.04", r"drop_mL is 0\.04"),
    "settings path": ("settings path", r"\.toml"),
    "doctor": ("doctor", r"This installation"),
    "schema": ("schema dose", r"schema"),
}
ASKS_OR_RUNS_ON = {"material add", "serve"}  # no answer: one asks questions, one serves a page


def commands() -> Iterator[str]:
    def walk(group: Any, before: str) -> Iterator[str]:
        for name, command in group.commands.items():
            if hasattr(command, "commands"):
                yield from walk(command, f"{before}{name} ")
            else:
                yield f"{before}{name}"

    return walk(get_command(app), "")


def test_every_command_is_asked_here() -> None:
    assert set(commands()) == set(ANSWERS) | ASKS_OR_RUNS_ON


@pytest.mark.parametrize("name", ANSWERS)
def test_the_answer_stands_in_the_first_three_lines(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(tmp_path / "s.toml"))
    Path("library.csv").write_text(LIBRARY)
    Path("mine.csv").write_text(MINE)
    words, answer = ANSWERS[name]
    done = CliRunner().invoke(app, [part.replace("{pear}", PEAR) for part in words.split()])
    assert done.exit_code == 0, done.output
    first = " ".join(" ".join(done.output.splitlines()[:3]).split())
    assert re.search(answer, first), first
