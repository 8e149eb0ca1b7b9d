"""One command line: one name for one thing, exit codes told, `-` for the screen, nothing written
over unasked; and every object that --json prints has a schema of its own."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from typer.main import get_command
from typer.testing import CliRunner

from blendwright.app.cli.examples import EXAMPLES
from blendwright.app.cli.main import EXIT_CODES, PANELS, app, application
from blendwright.report.accuracy import LEADING, shipped
from blendwright.report.schema import ADDRESS, names
from tests.schemas import validator

runner = CliRunner()
ROOT = Path(__file__).parents[3]
PEAR = str(ROOT / "examples" / "orchard-pear-cardamom.csv")
FILES = {
    "--output",
    "--plot",
    "--bibtex",
    "--csl",
    "--materials",
    "--observations",
}  # what names a file
WRITTEN = {"--output", "--plot", "--bibtex", "--csl"}
# one place says "bench", another "drink": the thing is the temperature that the answer stands at
TEMPERATURES_OF = {"dose"}
# one thing each, of which every command says what it does with it
SAID_FOR_EACH = {"--date", "--output", "--materials", "--clear-at-C", "--pressure-kPa"}
LIBRARY = "formula,material,grams\none,ethyl butyrate,1\none,PG,9\ntwo,hexanal,1\ntwo,triacetin,9\n"


def commands() -> Iterator[tuple[str, Any]]:
    def walk(group: Any, before: str) -> Iterator[tuple[str, Any]]:
        for name, command in group.commands.items():
            if hasattr(command, "commands"):
                yield from walk(command, f"{before}{name} ")
            else:
                yield f"{before}{name}", command

    return walk(get_command(app), "")


def options() -> Iterator[tuple[str, Any]]:
    for name, command in commands():
        for parameter in command.params:
            if parameter.param_type_name == "option":
                yield name, parameter


# Help


def test_help_groups_the_commands_and_tells_the_exit_codes() -> None:
    text = runner.invoke(app, ["--help"]).stdout
    places = [text.index(f"─ {panel} ─") for panel in PANELS]
    assert places == sorted(places)
    assert {name for panel in PANELS.values() for name in panel} == set(get_command(app).commands)
    for code, words in EXIT_CODES:
        assert f"{code} " in text
        assert words.split(";")[0] in text


def test_a_command_made_alone_is_that_of_the_whole_program() -> None:
    """The program makes only the command that is asked for, as the others take time."""
    for name, whole in get_command(app).commands.items():
        alone = get_command(application(name))
        assert list(alone.commands) == [name]
        below = [[], *([part] for part in getattr(whole, "commands", ()))]
        for words in ([name, *part, "--help"] for part in below):
            texts = [runner.invoke(one, words).stdout for one in (app, application(name))]
            assert texts[0] == texts[1]
            assert "Usage" in texts[0]


def test_types_are_one_word_in_capitals() -> None:
    for name, option in options():
        if not option.is_flag and option.name != "help":
            shown = option.make_metavar(None) if option.metavar is None else option.metavar
            assert re.fullmatch(r"[A-Z]+", shown or ""), (name, option.opts, shown)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_command_shows_its_examples(name: str) -> None:
    text = " ".join(runner.invoke(app, [*name.split(), "--help"]).stdout.split())
    assert f"blendwright {EXAMPLES[name][0]}"[:40] in text


# One name for one thing


def test_no_two_commands_name_one_thing_twice() -> None:
    """A parameter has one spelling in every command, a spelling one meaning, a meaning one
    spelling."""
    spelling: dict[str, tuple[str, ...]] = {}
    meaning: dict[str, tuple[str, str]] = {}
    said: dict[str, str] = {}
    for name, option in options():
        longest = max(option.opts, key=len)
        assert spelling.setdefault(option.name, tuple(option.opts)) == tuple(option.opts), name
        if longest == "--temperature-C" and name in TEMPERATURES_OF:
            continue
        told = (option.name, option.help)
        if longest not in SAID_FOR_EACH:
            assert meaning.setdefault(longest, told) == told, (name, longest)
        assert said.setdefault(option.help, longest) == longest, (name, option.help)


def test_the_reader_of_these_tests_can_fail() -> None:
    assert ("find", "--flash-below-C") in {
        (name.split()[-1], max(option.opts, key=len)) for name, option in options()
    }


def test_temperatures_end_in_C() -> None:
    for name, option in options():
        longest = max(option.opts, key=len)
        about = f"{option.name} {option.help}".casefold()
        if option.metavar == "FLOAT" and (
            "temperature" in about or "°c" in about or "point" in about
        ):
            assert longest.endswith(("-C", "-mL")), (name, longest)
        assert longest.endswith("-C") == option.name.endswith("_C"), (name, longest)


def test_what_is_written_is_output_plot_or_bibtex_and_force_writes_over_it() -> None:
    for name, command in commands():
        own = {max(p.opts, key=len): p for p in command.params if p.param_type_name == "option"}
        assert not set(own) & {"--out", "--picture", "--fresh", "--overwrite", "--sources"}, name
        for option, parameter in own.items():
            assert (parameter.metavar == "FILE") == (option in FILES), (name, option)
        assert bool(set(own) & WRITTEN) == ("--force" in own), name
        if "--output" in own:
            assert "-o" in own["--output"].opts


def test_strict_stands_wherever_a_warning_can_be_raised() -> None:
    strict = {name for name, option in options() if "--strict" in option.opts}
    assert strict == {"assess", "warm", "dose", "volumes", "report", "batch", "sweep"}


# Standard input and output


FROM_STANDARD_INPUT: dict[str, str] = {
    "assess": "",
    "volumes": "",
    "warm": "",
    "flash": "",
    "dose": "--into water --dose-drops 2",
    "advise": "--flash-above-C 30",
    "carriers": "--in triacetin",
    "observe": "--clear-at-C 20 --observations own.db",
    "report": "-o -",
    "sweep": "--vary PG=80..90/2 -o - --only flash --quiet",
}


@pytest.mark.parametrize("name", FROM_STANDARD_INPUT)
def test_a_formula_comes_from_standard_input(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    taking = {n for n, c in commands() if "row" in {p.name for p in c.params}}
    assert taking == set(FROM_STANDARD_INPUT)
    words = [name, "-", *FROM_STANDARD_INPUT[name].split()]
    done = runner.invoke(app, words, input="material,grams\nethyl butyrate,10\nPG,90\n")
    assert done.exit_code == 0, done.output


def test_a_batch_comes_from_standard_input_and_goes_to_standard_output() -> None:
    done = runner.invoke(app, ["batch", "-", "-o", "-", "--only", "density", "--quiet"],
                         input=LIBRARY)  # fmt: skip
    assert done.exit_code == 0, done.output
    head, *rows = done.stdout.splitlines()
    assert head.split(",")[:2] == ['"number"', '"formula"']
    assert [row.split(",")[1] for row in rows] == ['"one"', '"two"']
    assert "2 formulas in -" in done.stderr


def test_a_batch_from_standard_input_keeps_it_only_until_the_table_is_there(
    tmp_path: Path,
) -> None:
    out = tmp_path / "a.csv"
    done = runner.invoke(
        app, ["batch", "-", "-o", str(out), "--only", "density", "--quiet"], input=LIBRARY
    )
    assert done.exit_code == 0, done.output
    assert os.listdir(tmp_path) == ["a.csv"]


@pytest.mark.parametrize(
    "words",
    [
        "report {formula} -o {there}.md",
        "report {formula} -o {there}.html --no-pictures",
        "material find acet -o {there}.csv",
        "observations export -o {there}.csv",
        "batch {library} -o {there}.csv --only density --quiet",
        "sweep {formula} --vary vanillin=0.5,1 -o {there}.csv --only density --quiet",
        "warm {formula} --plot {there}.svg",
        "flash {formula} --plot {there}.svg",
        "assess {formula} --bibtex {there}.bib",
    ],
)
def test_nothing_is_written_over_unasked(
    words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("library.csv").write_text(LIBRARY)
    typed = words.format(formula=PEAR, library="library.csv", there="there").split()
    target = next(Path(word) for word in typed if word.startswith("there"))
    target.write_text("mine", encoding="utf-8")
    refused = runner.invoke(app, typed)
    assert refused.exit_code == 2, refused.output
    assert "--force" in refused.stderr
    assert target.read_text(encoding="utf-8") == "mine"
    assert runner.invoke(app, [*typed, "--force"]).exit_code == 0
    assert target.read_bytes() != b"mine"
    assert not [left for left in tmp_path.iterdir() if left.name.startswith(".there")]


@pytest.mark.parametrize("number", ["5,5", "5.5"])
@pytest.mark.parametrize(
    "words",
    [
        "assess {pear} --temperature-C {n}",
        "warm {pear} --minutes {n}",
        "dose {pear} --into water --dose-mL {n}",
        "advise {pear} --clear-at-C {n}",
        "volumes {pear} --dose-mL {n}",
        "material find --flash-above-C {n}",
        "settings set temperature_C {n}",
        "observe {pear} --clear-at-C {n} --observations o.db",
    ],
)
def test_a_number_has_a_decimal_point_or_comma(
    words: str, number: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(tmp_path / "s.toml"))
    done = runner.invoke(app, words.format(pear=PEAR, n=number).split())
    assert done.exit_code == 0, done.output


# JSON


AS_JSON: dict[str, tuple[str, str]] = {
    "assess": ("assess {pear} --show sources", "assessment"),
    "warm": ("warm {pear} --to-C 40", "warming"),
    "flash": ("flash {pear}", "flash-drivers"),
    "dose": ("dose {pear} --into water --dose-drops 2", "dose"),
    "advise": ("advise {pear} --clear-at-C 5", "advice"),
    "carriers": ("carriers {pear} --in triacetin", "carriers"),
    "sweep": ("sweep {pear} --vary vanillin=0.5,1 -o s.csv --quiet --only flash", "batch-summary"),
    "volumes": ("volumes {pear} --bottles 24x30 --brim-mL 33 --balance-g 0.01", "volumes"),
    "batch": ("batch library.csv -o b.csv --quiet", "batch-summary"),
    "accuracy": ("accuracy", "accuracy"),
    "material show": ("material show vanillin", "material"),
    "material find": ("material find acet", "found"),
    "material audit": ("material audit --summary", "audit"),
    "observe": ("observe {pear} --clear-at-C 22 --observations o.db", "observations"),
    "observations list": ("observations list --observations o.db", "observations"),
    "settings show": ("settings show", "settings"),
    "doctor": ("doctor", "doctor"),
}
WITHOUT_COMMAND = {"comparison", "formula", "report"}  # made from Python, and files


def test_every_json_object_of_a_command_is_asked_here_and_has_a_schema() -> None:
    with_json = {name for name, option in options() if "--json" in option.opts}
    assert with_json == set(AS_JSON)
    assert {schema for _, schema in AS_JSON.values()} | WITHOUT_COMMAND == set(names())


@pytest.mark.parametrize("name", AS_JSON)
def test_a_json_object_keeps_to_its_schema(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("library.csv").write_text(LIBRARY)
    words, schema = AS_JSON[name]
    done = runner.invoke(app, [*words.format(pear=PEAR).split(), "--json"])
    assert done.exit_code == 0, done.output
    made = json.loads(done.stdout)
    assert made["schema"] == f"blendwright/{schema}/1"
    assert {"version", "data_version"} <= made.keys()
    validator(schema).validate(made)


@pytest.mark.parametrize("name", names())
def test_a_schema_has_an_absolute_address_of_its_own_and_forbids_what_it_does_not_name(
    name: str,
) -> None:
    schema = json.loads(runner.invoke(app, ["schema", name]).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$id"] == f"{ADDRESS}{name}/1"
    assert schema["$id"].startswith("https://")
    assert schema["properties"]["schema"] == {"const": f"blendwright/{name}/1"}
    assert schema["additionalProperties"] is False
    if name not in WITHOUT_COMMAND:
        assert {"schema", "version", "data_version"} <= set(schema["required"])


def test_every_schema_that_the_program_names_is_listed() -> None:
    listed = runner.invoke(app, ["schema"]).stdout.split()
    assert listed == list(names())
    named = {
        match
        for path in (ROOT / "src").rglob("*.py")
        for match in re.findall(r'"blendwright/([a-z-]+)/\d+"', path.read_text(encoding="utf-8"))
    }
    assert named - set(listed) == {"batch", "batch-run"}  # a table's metadata, a run's own notes
    assert runner.invoke(app, ["schema", "nothing"]).exit_code == 2


# Accuracy


def test_a_question_without_an_error_leads_with_how_many_targets_are_met() -> None:
    done = runner.invoke(app, ["accuracy", "materials"])
    assert done.exit_code == 0
    assert done.output.startswith("Compared with published measurements")
    assert "odorants found by name alone" in done.output


def test_accuracy_prints_the_shipped_figures_in_sentences_and_leads_with_the_answer() -> None:
    done = runner.invoke(app, ["accuracy"])
    assert done.exit_code == 0
    first = " ".join(done.stdout.splitlines()[:3])
    assert "Off on average: flash points of mixtures" in first
    assert "|" not in done.stdout
    asked = {a["question"] for found in shipped()["questions"].values() for a in found}
    assert {question for question, _ in LEADING} <= asked
