"""The command line: exit codes, messages, and honest output when piped."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner

from blendwright.app.cli.main import app

Write = Callable[[str, bytes | str], Path]
EXAMPLE = str(Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv")
runner = CliRunner()


def test_assess_prints_verdicts_first_in_80_columns_without_colour() -> None:
    done = runner.invoke(app, ["assess", EXAMPLE])
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert "\x1b[" not in done.stdout
    where = {word: done.stdout.index(word) for word in ("Dissolves?", "WARNING", "Boiling from")}
    assert where["Dissolves?"] < where["WARNING"] < where["Boiling from"]


def test_json_is_one_object_of_the_printed_schema() -> None:
    schema = json.loads(runner.invoke(app, ["schema", "assessment"]).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    made = json.loads(runner.invoke(app, ["assess", EXAMPLE, "--json"]).stdout)
    jsonschema.validate(made, schema)
    assert made["schema"] == "blendwright/assessment/1"


def test_strict_exits_with_1_on_a_warning() -> None:
    assert runner.invoke(app, ["assess", EXAMPLE, "--strict"]).exit_code == 1
    calm = ["assess", "--row", "triethyl citrate=1", "--strict"]
    assert runner.invoke(app, calm).exit_code == 0


def test_rows_typed_and_standard_input() -> None:
    typed = runner.invoke(app, ["assess", "--row", "ethyl butyrate=1.6", "--row", "PG=8.4"])
    assert typed.exit_code == 0
    text = "material,grams\nethyl butyrate,1.6\nPG,8.4\n"
    piped = runner.invoke(app, ["assess", "-"], input=text)
    assert piped.exit_code == 0
    assert "10 g" in piped.stdout


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["assess"], "give a formula file"),
        (["assess", "missing.csv"], "no such file"),
        (["assess", "--row", "ethyl butyrate"], "needs an equals sign"),
        (["assess", "--row", "vannilin=1"], "the closest names are vanillin"),
        (["assess", "--row", "water=-1"], "negative"),
        (["assess", "--row", "water=1", "--temperature-C", "900"], "outside -40 to 150"),
        (["assess", "--row", "PG=q.s."], "--batch-g"),
        (["assess", "--row", "PG=q.s.", "--batch-g", "heaps"], "not a batch size"),
        (["material", "unobtainium oil"], "unknown material"),
        (["volumes", EXAMPLE, "--row", "PG=1"], "not both"),
    ],
    ids=lambda value: " ".join(value)[:40] if isinstance(value, list) else "",
)
def test_unusable_input_exits_with_2_and_no_traceback(arguments: list[str], message: str) -> None:
    done = runner.invoke(app, arguments)
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output


def test_batch_size_on_the_command_line() -> None:
    rows = ["--row", "vanillin=1", "--row", "PG=q.s."]
    done = runner.invoke(app, ["assess", *rows, "--batch-g", "20 g", "--json"])
    assert json.loads(done.stdout)["formula"]["total_g"] == pytest.approx(20.0)


def test_volumes_agree_with_the_assessment() -> None:
    volumes = json.loads(runner.invoke(app, ["volumes", EXAMPLE, "--json"]).stdout)
    made = json.loads(runner.invoke(app, ["assess", EXAMPLE, "--json"]).stdout)
    assert volumes["total_volume_mL"]["value"] == pytest.approx(
        made["estimates"]["volume_mL"]["value"]
    )
    assert "fills" in runner.invoke(app, ["volumes", EXAMPLE]).stdout


@pytest.mark.parametrize("name", ["linalool", "aldehyde C-16", "clove bud oil", "64-17-5"])
def test_material_shows_values_losers_and_sources(name: str) -> None:
    done = runner.invoke(app, ["material", name])
    assert done.exit_code == 0
    assert "Sources" in done.stdout
    data = json.loads(runner.invoke(app, ["material", name, "--json"]).stdout)
    assert data["schema"] == "blendwright/material/1"
    assert data["sources"]


def test_a_row_of_nonsense_does_not_hide_the_others(write: Write) -> None:
    path = write("f.csv", "material,grams\nvanillin,x\nunobtainium oil,1\nwater,-3\n")
    done = runner.invoke(app, ["assess", str(path)])
    assert done.exit_code == 2
    for place in ("row 2, column grams", "row 3, column material", "row 4, column grams"):
        assert place in done.stderr
