"""The person's own defaults: bench, altitude, drop and balance, in one small TOML file.

    temperature_C = 22.0     # the bench
    altitude_m = 640         # the usual air pressure there
    drop_mL = 0.04           # one drop of your dropper
    balance_g = 0.01         # what your balance can tell apart

Only the commands read it; Python calls say what they mean. An option typed on the command line wins
over the file, the file over the program's own defaults. The air pressure at an altitude is that of
the standard atmosphere (ISO 2533:1975, equation of the layer from 0 to 11 km; constants from
memory), so it is the usual one: weather moves it by about 3 kPa (common knowledge, no source).
"""

from __future__ import annotations

import os
import re
import tomllib
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path

from blendwright.errors import BlendwrightError
from blendwright.formula.conditions import ATMOSPHERE_Pa
from blendwright.formula.numbers import readings, why_no_number

WHERE = "BLENDWRIGHT_SETTINGS"  # an environment variable that names another file
OWN_MATERIALS_FILE = "materials.csv"
SEA_LEVEL_K = 288.15  # ISO 2533
LAPSE_K_m = 0.0065  # ISO 2533
EXPONENT = 5.25588  # g M / (R L) of ISO 2533
# what each may be; the bench's and the drop's are those of the command's options
RANGES: dict[str, tuple[float, float]] = {
    "temperature_C": (-40.0, 150.0),
    "altitude_m": (-430.0, 5500.0),  # the lowest shore and the highest towns
    "drop_mL": (0.001, 1.0),
    "balance_g": (1e-6, 100.0),
}
MEANING = {
    "temperature_C": "bench temperature, °C",
    "altitude_m": "altitude, m: gives the air pressure",
    "drop_mL": "volume of one drop, mL",
    "balance_g": "smallest step of the balance, g",
}
# commands whose --temperature-C is the bench's; elsewhere it is the drink's or a density's
AT_THE_BENCH = (
    "assess", "warm", "flash", "advise", "carriers", "volumes", "report", "batch", "sweep", "serve",
)  # fmt: skip


class SettingsError(BlendwrightError):
    """A settings file that can't be used: which line or key, and what it may be."""


@dataclass(frozen=True)
class Settings:
    """None: not set, the program's own default holds."""

    temperature_C: float | None = None
    altitude_m: float | None = None
    drop_mL: float | None = None
    balance_g: float | None = None

    @property
    def pressure_kPa(self) -> float | None:
        """The air pressure at the altitude."""
        if self.altitude_m is None:
            return None
        return standard_pressure_Pa(self.altitude_m) / 1e3

    def defaults(self, commands: list[str]) -> dict[str, dict[str, float]]:
        """For each command, the options that the file sets, by parameter name."""
        everywhere = {
            name: value
            for name in ("drop_mL", "balance_g", "pressure_kPa")
            if (value := getattr(self, name)) is not None
        }
        bench = {} if self.temperature_C is None else {"temperature_C": self.temperature_C}
        return {
            name: {**everywhere, **bench} if name in AT_THE_BENCH else everywhere
            for name in commands
        }


KEYS = tuple(field.name for field in fields(Settings))
_COMMA = re.compile(rf"(?m)^(\s*(?:{'|'.join(KEYS)})\s*=\s*)([+-]?\d+,\d+)(?=\s*(?:#.*)?$)")


def standard_pressure_Pa(altitude_m: float) -> float:
    """p = p0 (1 - L h / T0)^(g M / (R L)), ISO 2533, up to 11 km.

    >>> round(standard_pressure_Pa(1000.0))  # the standard's table: 89874.6 Pa
    89875
    """
    return ATMOSPHERE_Pa * float((1.0 - LAPSE_K_m * altitude_m / SEA_LEVEL_K) ** EXPONENT)


def own_file() -> Path:
    """Where the person's own materials are kept between runs."""
    from platformdirs import user_data_path

    return user_data_path("blendwright", appauthor=False) / OWN_MATERIALS_FILE


def settings_file() -> Path:
    """Where the settings are: BLENDWRIGHT_SETTINGS, else the user's configuration folder."""
    from platformdirs import user_config_path

    named = os.environ.get(WHERE, "")
    return (
        Path(named)
        if named
        else user_config_path("blendwright", appauthor=False) / ("settings.toml")
    )


def read_settings() -> Settings:
    """The settings file, or nothing set where there is none. Raises SettingsError."""
    path = settings_file()
    if not path.exists():
        return Settings()
    return parse_settings(_text_of(path), str(path))


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not UTF-8 text"
        raise SettingsError(f"{path}: can't be read ({why})") from None


def parse_settings(text: str, source: str) -> Settings:
    """Settings from TOML, decimal commas taken too. Raises SettingsError with every line that is
    wrong."""
    try:
        found = tomllib.loads(_COMMA.sub(_quoted, text))
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{source}: not TOML: {error}") from None
    made: dict[str, float] = {}
    problems = []
    for key, value in found.items():
        try:
            made[key] = _checked(key, value)
        except SettingsError as problem:
            problems.append(f"{source}, line {_line_of(key, text)}: {problem}")
    if problems:
        raise SettingsError("\n".join(problems))
    return Settings(**made)


def _quoted(line: re.Match[str]) -> str:
    """A setting's line with its number as a text: TOML knows no decimal comma."""
    return f'{line.group(1)}"{line.group(2)}"'


def _checked(key: str, value: object) -> float:
    """A setting's number. Raises SettingsError with what is wrong with it."""
    if key not in KEYS:
        raise SettingsError(f"there is no setting {key!r}; there are {', '.join(KEYS)}")
    low, high = RANGES[key]
    if isinstance(value, str) and (found := readings(value)):
        inside = [number for number in found if low <= number <= high]
        if len(inside) > 1:
            raise SettingsError(f"{key}: {why_no_number(value)}")
        value = (*inside, *found)[0]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SettingsError(f"{key} must be a number, not {value!r}")
    if not low <= value <= high:
        raise SettingsError(f"{key} = {value:g} is outside {low:g} to {high:g}")
    return float(value)


def _line_of(key: str, text: str) -> int:
    """The line that begins with the key, bare or quoted, as a value or a table."""
    pattern = re.compile(rf"^\s*\[*\s*[\"']?{re.escape(key)}\b")
    lines = enumerate(text.splitlines(), start=1)
    return next((number for number, line in lines if pattern.match(line)), 1)


def with_setting(text: str, key: str, value: float | None) -> str:
    """The file's text with one setting changed, added, or (None) taken out; comments stay, and a
    decimal comma becomes a point. Raises SettingsError for what isn't TOML."""
    import tomlkit  # only `settings set` needs it
    from tomlkit.exceptions import TOMLKitError

    try:
        file = tomlkit.parse(_COMMA.sub(_quoted, text))
    except TOMLKitError as error:
        raise SettingsError(f"not TOML: {error}") from None
    for name, written in list(file.items()):
        if isinstance(written, str):
            with suppress(SettingsError):  # what is wrong is said when the file is read again
                file[name] = _checked(name, str(written))
    if value is not None:
        file[key] = value
    elif key in file:
        file.remove(key)
    return tomlkit.dumps(file)


def write_setting(key: str, text: str) -> Settings:
    """Set one, or take it out with "default". Raises SettingsError and then changes nothing."""
    path = settings_file()
    if key in KEYS and text != "default" and not readings(text):
        raise SettingsError(f"{key} must be a number or default, not {text!r}")
    value = None if key in KEYS and text == "default" else _checked(key, text)
    before = _text_of(path) if path.exists() else ""
    try:
        after = with_setting(before, key, value)
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from None
    made = parse_settings(after, str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(after, encoding="utf-8")
    except OSError as error:
        raise SettingsError(f"{path}: can't be written ({error.strerror})") from None
    return made
