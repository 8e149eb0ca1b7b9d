"""The README shows what the program prints now; the docs name what the program has."""

from __future__ import annotations

import json
import re
import runpy
from importlib.resources import files
from pathlib import Path

from blendwright.cli import app

ROOT = Path(__file__).parent.parent


def test_readme_is_fresh() -> None:
    refreshed = runpy.run_path(str(ROOT / "docs" / "refresh.py"))["refreshed"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert refreshed(readme) == readme, "run: python docs/refresh.py"


def test_catalogue_page_is_fresh() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "refresh.py"))["catalogue_page"]
    text = (ROOT / "docs" / "catalogue.md").read_text(encoding="utf-8")
    assert page() == text, "run: python docs/refresh.py"


def test_no_page_shows_the_machine_that_made_it() -> None:
    """Neither a temporary folder nor the port of a server that ran for a moment."""
    of_the_machine = re.compile(r"/tmp/|127\.0\.0\.1:\d")
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        assert not of_the_machine.search(page.read_text(encoding="utf-8")), page.name


def test_every_command_is_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in app.registered_commands:
        assert command.callback is not None
        name = command.name or command.callback.__name__
        assert f"blendwright {name}" in readme, name


def test_every_field_of_the_json_contract_is_explained() -> None:
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    schema = json.loads(
        (files("blendwright.report") / "assessment.schema.json").read_text(encoding="utf-8")
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
