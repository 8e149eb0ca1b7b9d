"""Help with examples, completion, NO_COLOR, doctor, the manual page."""

from __future__ import annotations

import json
import os
import re
import runpy
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from blendwright import __version__
from blendwright.app.cli.examples import EXAMPLES
from blendwright.app.cli.main import app

ROOT = Path(__file__).parents[3]
COMMANDS = runpy.run_path(str(ROOT / "docs" / "commands.py"))
NAMES = [name for name, _ in COMMANDS["commands"]()]
runner = CliRunner()


def run(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The program as a process of its own."""
    code = (
        "import sys; sys.argv[0] = 'blendwright'; from blendwright.app.cli.main import main; main()"
    )
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, **environment},
        check=False,
    )


@pytest.mark.parametrize("path", COMMANDS["PAGES"])
def test_generated_pages_are_fresh(path: str) -> None:
    made = COMMANDS["PAGES"][path]()
    assert (ROOT / path).read_text(encoding="utf-8") == made, "run: python docs/commands.py"


@pytest.mark.parametrize("name", NAMES)
def test_every_command_has_examples_in_its_help(name: str) -> None:
    assert name in EXAMPLES, "add it to app/cli/examples.py"
    shown = runner.invoke(app, [*name.split(), "--help"]).stdout
    for line in EXAMPLES[name]:
        assert f"blendwright {line}" in shown, "does it fit one line?"


def test_every_command_has_a_page_of_its_own_in_the_reference() -> None:
    assert set(EXAMPLES) == set(NAMES)
    assert len(NAMES) >= len(get_command(app).commands)  # type: ignore[attr-defined]


def test_version_and_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "blendwright", "--version"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout == f"blendwright {__version__}\n"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_script(shell: str) -> None:
    done = run(_BLENDWRIGHT_COMPLETE=f"source_{shell}")
    assert done.returncode == 0
    assert "_BLENDWRIGHT_COMPLETE" in done.stdout
    assert "python" not in done.stdout


def test_completion_offers_commands_and_options() -> None:
    words = {"_BLENDWRIGHT_COMPLETE": "complete_bash", "COMP_CWORD": "1"}
    assert "assess" in run(COMP_WORDS="blendwright as", **words).stdout.split()
    words["COMP_CWORD"] = "2"
    offered = run(COMP_WORDS="blendwright assess --te", **words).stdout.split()
    assert "--temperature-C" in offered


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_completion_installs_into_a_home_of_its_own(tmp_path: Path) -> None:
    script = tmp_path / "blendwright"
    script.write_text(f"#!{sys.executable}\nfrom blendwright.app.cli.main import main\nmain()\n")
    script.chmod(0o755)
    for option in ("--show-completion", "--install-completion"):
        done = subprocess.run(
            ["bash", "-c", f"{script} {option}; exit $?"],
            capture_output=True, text=True, check=False,
            env={**os.environ, "HOME": str(tmp_path)},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    installed = [path for path in tmp_path.rglob("*") if path.is_file() and path != script]
    assert any("_BLENDWRIGHT_COMPLETE" in path.read_text() for path in installed)


def test_no_colour_when_asked() -> None:
    colour = re.compile(r"\x1b\[[\d;]*3\d")
    words = ("assess", "--row", "ethyl acetate=1")
    assert colour.search(run(*words, FORCE_COLOR="1", TERM="xterm").stdout)
    quiet = run(*words, FORCE_COLOR="1", TERM="xterm", NO_COLOR="1").stdout
    assert "WARNING" in quiet
    assert not colour.search(quiet)


def test_doctor_finds_this_installation_sound() -> None:
    done = runner.invoke(app, ["doctor", "--json"])
    made = json.loads(done.stdout)
    assert done.exit_code == 0
    assert made["sound"] is True
    names = {check["name"] for check in made["checks"]}
    assert {"Python", "thermo", "catalogue", "models", "data folder", "terminal"} <= names
    assert all(check["action"] for check in made["checks"] if check["state"] != "ok")


def test_doctor_says_what_to_do_about_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from blendwright.app import doctor

    monkeypatch.setattr(doctor, "EXTRAS", (("nothing", ("no_such_module",), "a test"),))
    monkeypatch.setattr(doctor, "NEEDED", ("no-such-library",))
    monkeypatch.setattr(doctor, "BROWSERS", ())
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    own = tmp_path / "blendwright" / "materials.csv"
    own.parent.mkdir()
    own.write_text("material,property,value\nethyl butyrate,flash_point,hot\n")
    done = runner.invoke(app, ["doctor"])
    assert done.exit_code == 2
    for told in ("pip install no-such-library", "blendwright[nothing]", "no Chromium"):
        assert told in done.stdout
    assert "materials.csv" in done.stdout
    assert "row 2" in done.stdout


def test_an_old_terminal_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from blendwright.app import doctor

    monkeypatch.setattr(doctor.locale, "getencoding", lambda: "ascii")
    terminal = next(check for check in doctor.examine() if check.name == "terminal")
    assert terminal.state == "note"
    assert "UTF-8" in terminal.action


@pytest.mark.skipif(shutil.which("groff") is None, reason="no groff here")
def test_the_manual_page_has_no_faults() -> None:
    done = subprocess.run(
        ["groff", "-man", "-Tutf8", "-ww", "-K", "utf8", str(ROOT / "docs/man/blendwright.1")],
        capture_output=True, text=True, encoding="utf-8", check=True,
    )  # fmt: skip
    assert done.stderr == ""
    assert "EXIT STATUS" in re.sub(r".\x08|\x1b\[\d+m", "", done.stdout)


def test_public_names_are_there_and_documented() -> None:
    import blendwright

    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
    for name in blendwright.__all__:
        assert getattr(blendwright, name) is not None
        assert name == "__version__" or re.search(rf"^::: \S+\.{name}$", page, re.MULTILINE), name
    modules = {path.stem for path in Path(blendwright.__file__).parent.glob("*.py")}
    assert not modules & set(blendwright._LATER)


def test_a_first_import_leaves_the_heavy_ones_out() -> None:
    code = (
        "import sys, blendwright\n"
        "late = ('rdkit', 'pandas', 'scipy', 'matplotlib', 'typer', 'rich',\n"
        "        'blendwright.questions.drink.dosing', 'blendwright.questions.comparing',\n"
        "        'blendwright.report.notebook')\n"
        "assert not [name for name in late if name in sys.modules]\n"
        "assert blendwright.compare; blendwright.assess(blendwright.Formula.of({'PG': 1}))"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
