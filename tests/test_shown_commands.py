"""Every command that the README, the docs and the help show runs, in a copy of the examples."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from blendwright.app.cli.main import app
from tests.shown_commands import Shown, left_out, prepare, shown

SHOWN = shown()
ANSWERS = {"material add": "my ester\nmy balance\nA1\n0.9\n26" + "\n" * 8}


@pytest.mark.parametrize("command", SHOWN, ids=lambda c: f"{c.page}: {c.text}"[:90])
def test_a_shown_command_runs(
    command: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prepare(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    answers = next((a for start, a in ANSWERS.items() if command.text.startswith(start)), None)
    done = CliRunner().invoke(app, list(command.words), input=answers)
    assert done.exit_code == 0, f"{command.page}: blendwright {command.text}\n{done.output}"
    assert done.stdout or "-o" in command.words


def test_the_pages_show_commands_and_say_why_some_are_not_run() -> None:
    assert len(SHOWN) > 30
    assert all(len(reason) > 10 for _, reason in left_out())
