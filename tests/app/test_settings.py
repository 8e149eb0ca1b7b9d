"""The person's own defaults: options win over the file, the file over the program's."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from blendwright.app.cli.main import app
from blendwright.app.settings import (
    AT_THE_BENCH,
    KEYS,
    MEANING,
    RANGES,
    Settings,
    SettingsError,
    parse_settings,
    standard_pressure_Pa,
    with_setting,
)

runner = CliRunner()
ROWS = ["--row", "ethyl butyrate=1", "--row", "PG=9"]


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "folder" / "settings.toml"
    path.parent.mkdir()
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(path))
    return path


# ISO 2533:1975, table 5: geopotential altitude, m, and pressure, Pa (from memory)
@pytest.mark.parametrize(
    ("altitude_m", "pressure_Pa"),
    [(0, 101325.0), (1000, 89874.6), (2000, 79495.2), (3000, 70108.5), (5000, 54019.9)],
)
def test_the_standard_atmosphere(altitude_m: float, pressure_Pa: float) -> None:
    assert standard_pressure_Pa(altitude_m) == pytest.approx(pressure_Pa, rel=1e-5)


def conditions(*options: str, command: str = "assess") -> dict[str, float]:
    done = runner.invoke(app, [command, *ROWS, "--json", *options])
    assert done.exit_code == 0, done.output
    found: dict[str, float] = json.loads(done.stdout)["conditions"]
    return found


def test_option_over_file_over_program(file: Path) -> None:
    assert conditions() == pytest.approx({"temperature_C": 20.0, "pressure_kPa": 101.325})
    file.write_text("temperature_C = 18\naltitude_m = 1000\n")
    assert conditions() == pytest.approx({"temperature_C": 18.0, "pressure_kPa": 89.8746}, rel=1e-5)
    typed = conditions("--temperature-C", "30", "--pressure-kPa", "100")
    assert typed == pytest.approx({"temperature_C": 30.0, "pressure_kPa": 100.0})
    assert conditions(command="warm")["bench_C"] == pytest.approx(18.0)


def test_the_bench_is_not_the_drink_but_the_drop_is_the_drop(file: Path) -> None:
    file.write_text("temperature_C = 18\ndrop_mL = 0.04\n")
    done = runner.invoke(app, ["dose", *ROWS, "--into", "water", "--dose-drops", "2", "--json"])
    made = json.loads(done.stdout)
    assert made["temperature_C"] == pytest.approx(20.0)
    assert made["dose"]["mL"] == pytest.approx(0.08)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("temperature_C = 20\ndrop = 0.05\n", "line 2: there is no setting 'drop'"),
        ("# mine\ndrop_mL = 'big'\n", "line 2: drop_mL must be a number, not 'big'"),
        ("drop_mL = true\n", "drop_mL must be a number"),
        ("altitude_m = 9000\n", "line 1: altitude_m = 9000 is outside -430 to 5500"),
        ("altitude_m = nan\n", "is outside"),
        ("[bench]\ndrop_mL = 1\n", "line 1: there is no setting 'bench'"),
        ("drop_mL 0.04\n", "not TOML"),
        ("drop_mL = 1\ndrop_mL = 1\n", "line 2"),
    ],
)
def test_a_wrong_file_stops_with_its_line_and_no_traceback(
    file: Path, text: str, message: str
) -> None:
    file.write_text(text)
    for command in (["assess", *ROWS], ["settings", "show"]):
        done = runner.invoke(app, command)
        assert done.exit_code == 2
        assert message in done.stderr
        assert str(file) in done.stderr
    doctor = runner.invoke(app, ["doctor", "--json"])
    assert doctor.exit_code == 2
    assert json.loads(doctor.stdout)["sound"] is False
    assert runner.invoke(app, ["schema"]).exit_code == 0


def test_set_show_and_take_out_again(file: Path) -> None:
    file.parent.rmdir()  # the folder is made when needed
    assert runner.invoke(app, ["settings", "set", "temperature_C", "-5"]).exit_code == 0
    assert runner.invoke(app, ["settings", "set", "altitude_m", "640"]).exit_code == 0
    shown = json.loads(runner.invoke(app, ["settings", "show", "--json"]).stdout)
    assert shown["temperature_C"] == -5.0
    assert shown["pressure_kPa"] == pytest.approx(93.87, abs=0.01)
    assert runner.invoke(app, ["settings", "set", "temperature_C", "default"]).exit_code == 0
    assert file.read_text() == "altitude_m = 640.0\n"
    assert runner.invoke(app, ["settings", "path"]).stdout.strip() == str(file)


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("drop", "1", "no setting 'drop'"),
        ("drop_mL", "x", "a number or default"),
        ("drop_mL", "7", "outside"),
    ],
)
def test_a_wrong_setting_changes_nothing(file: Path, key: str, value: str, message: str) -> None:
    done = runner.invoke(app, ["settings", "set", key, value])
    assert done.exit_code == 2
    assert message in done.stderr
    assert not file.exists()


@given(st.sampled_from(KEYS), st.floats(0.01, 1.0))
def test_setting_one_keeps_comments_and_the_others(key: str, value: float) -> None:
    text = "# my bench\ndrop_mL = 0.04  # brown dropper\n\naltitude_m = 640\n"
    changed = with_setting(text, key, value)
    assert getattr(parse_settings(changed, "f"), key) == value
    assert "# my bench" in changed
    assert "# brown dropper" in changed
    assert with_setting(with_setting(text, "balance_g", value), "balance_g", None) == text


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("altitude_m = 640", "altitude_m = 640\ndrop_mL = 0.05\n"),
        ("drop_mL = 0,04  # mine\n", "drop_mL = 0.05  # mine\n"),
        ("temperature_C = 22,5\n", "temperature_C = 22.5\ndrop_mL = 0.05\n"),
        ("'drop_mL' = 'big'\r\nbalance_g = 1\r\n", "'drop_mL' = 0.05\r\nbalance_g = 1\r\n"),
    ],
)
def test_whatever_way_a_line_is_written_one_setting_changes(before: str, after: str) -> None:
    assert with_setting(before, "drop_mL", 0.05) == after
    assert parse_settings(after, "f").drop_mL == 0.05


def test_what_is_not_toml_is_not_written_over(file: Path) -> None:
    file.write_text("drop_mL 0.04\n")
    done = runner.invoke(app, ["settings", "set", "balance_g", "0.01"])
    assert done.exit_code == 2
    assert f"{file}: not TOML" in done.stderr
    assert file.read_text() == "drop_mL 0.04\n"


def test_every_setting_is_explained() -> None:
    page = (Path(__file__).parents[2] / "docs" / "settings.md").read_text(encoding="utf-8")
    assert set(KEYS) == set(RANGES) == set(MEANING)
    assert all(f"| `{key}` |" in page for key in KEYS)


def test_nothing_set_changes_nothing() -> None:
    assert parse_settings("", "f") == Settings()
    assert not any(Settings().defaults(["assess", "dose"]).values())
    assert {"assess", "warm", "flash"} <= set(AT_THE_BENCH)
    with pytest.raises(SettingsError):
        parse_settings("x", "f")
