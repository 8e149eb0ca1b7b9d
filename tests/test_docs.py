"""The README shows what the program prints now; the docs name what the program has."""

from __future__ import annotations

import json
import re
import runpy
import subprocess
import tomllib
from importlib.resources import files
from pathlib import Path

from typer.main import get_command

from blendwright.app.cli.main import app
from blendwright.catalogue import default_catalogue

ROOT = Path(__file__).parent.parent


def test_readme_is_fresh() -> None:
    refreshed = runpy.run_path(str(ROOT / "docs" / "refresh.py"))["refreshed"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert refreshed(readme) == readme, "run: python docs/refresh.py"


def test_the_readme_is_read_in_one_sitting() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8").splitlines()) <= 120


def test_the_pictures_of_the_docs_are_there() -> None:
    for page in (ROOT / "README.md", *(ROOT / "docs").glob("*.md")):
        for picture in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / picture).is_file(), f"{page.name}: {picture}"


def test_ci_runs_the_two_commands_of_the_readme_as_they_stand_there() -> None:
    done = subprocess.run(
        ["bash", str(ROOT / ".ci" / "readme-commands")], check=True, capture_output=True, text=True
    )
    commands = done.stdout.splitlines()
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(commands) == 2
    assert all(f"```sh\n{command}\n```" in readme for command in commands)
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    steps = [line for line in ci if "newcomer" in line or "install --quiet" in line]
    assert "newcomer" in steps[0], "something is installed before the README's commands run"


def test_no_test_is_left_out_for_want_of_a_package_of_our_own_extras() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert "blendwright[all]" in project["optional-dependencies"]["test"]
    skipping = "importor" + "skip("
    for path in (ROOT / "tests").rglob("*.py"):
        for line in path.read_text(encoding="utf-8").splitlines():
            assert skipping not in line, f"{path}: {line}"


def test_catalogue_page_is_fresh() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "refresh.py"))["catalogue_page"]
    text = (ROOT / "docs" / "catalogue.md").read_text(encoding="utf-8")
    assert page() == text, "run: python docs/refresh.py"


def test_no_page_shows_the_machine_that_made_it() -> None:
    """Neither a temporary folder nor the port of a server that ran for a moment."""
    of_the_machine = re.compile(r"/tmp/|127\.0\.0\.1:\d")
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        assert not of_the_machine.search(page.read_text(encoding="utf-8")), page.name


def test_every_command_answers_a_question_of_the_how_to() -> None:
    text = (ROOT / "docs" / "how-to.md").read_text(encoding="utf-8")
    for name in get_command(app).commands:  # type: ignore[attr-defined]
        assert f"blendwright {name}" in text, name


def test_the_page_of_materials_has_every_material_with_its_sources() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "material_pages.py"))["materials_page"]()
    catalogue = default_catalogue()
    assert page.count("<tr><td>") == len(catalogue)
    for name in ("gamma-decalactone", "cardamom oil", "propylene glycol"):
        assert f"<tr><td>{name}<" in page
    explained = set(re.findall(r'<dt id="source-([^"]+)">', page))
    assert set(re.findall(r'href="#source-([^"]+)"', page)) <= explained
    assert "not in the bibliography" not in page


def test_every_field_of_the_json_contract_is_explained() -> None:
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    schema = json.loads(
        (files("blendwright.report") / "schemas" / "assessment.schema.json").read_text(
            encoding="utf-8"
        )
    )
    for name in (*schema["properties"], *schema["properties"]["estimates"]["properties"]):
        assert f"`{name}`" in text, name


def test_every_finding_code_is_explained() -> None:
    import re

    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    code = re.compile(r'"([A-Z]+(?:-[A-Z]+)+|FLAMMABLE|DISSOLVES|SPLITS|EVAPORATES)"')
    package = ROOT / "src" / "blendwright"
    found = {
        match
        for path in (package / "assess.py", *(package / "verdict").glob("*.py"))
        for match in code.findall(path.read_text(encoding="utf-8"))
    }
    assert len(found) > 15
    assert {name for name in found if f"`{name}`" not in text} == set()


def test_no_page_publishes_where_a_server_happened_to_run() -> None:
    import re

    by_chance = re.compile(r"/tmp/|/var/folders/|127\.0\.0\.1:(?!8765\b)\d+")
    for page in (ROOT / "README.md", *(ROOT / "docs").rglob("*.md")):
        assert not by_chance.search(page.read_text(encoding="utf-8")), page


def test_every_learned_table_that_the_docs_name_is_shipped() -> None:
    text = (ROOT / "docs" / "learned-tables.md").read_text(encoding="utf-8")
    cells = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    for cell in cells:
        first, *others = re.findall(r"`([^`]+)`", cell)
        folder = (ROOT / "src" / "blendwright" / first).parent
        assert all((folder / Path(name).name).is_file() for name in (first, *others)), cell
