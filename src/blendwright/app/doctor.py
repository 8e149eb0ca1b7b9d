"""Is this installation sound: versions, shipped data, own files, extras, folders, terminal?

A fault is something that makes answers wrong or impossible; a note is something that only some
commands need. Each says what to do.
"""

from __future__ import annotations

import locale
import os
import platform
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from blendwright.errors import BlendwrightError
from blendwright.version import __version__

State = Literal["ok", "note", "fault"]
NEEDED = ("thermo", "chemicals", "numpy", "scipy", "pandas", "typer", "rich", "openpyxl")
# extra, the modules it brings, what it is for
EXTRAS = (
    ("structures", ("rdkit", "ugropy"), "materials from a structure alone"),
    ("pictures", ("matplotlib",), "pictures"),
    ("page", ("nicegui",), "the page in a browser"),
    ("batch", ("pyarrow", "dask"), "large batches"),
)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "msedge")
SIGNS = "°C ³ γ ≤ × é"  # what our texts hold beyond ASCII


@dataclass(frozen=True)
class Check:
    """One thing looked at: what was found, and what to do if it isn't fine."""

    name: str
    state: State
    found: str
    action: str = ""

    def to_dict(self) -> dict[str, object]:
        told = {"name": self.name, "state": self.state}
        return {**told, "found": self.found, "action": self.action}


def data_version() -> str | None:
    """The version of the shipped data; None where they can't be read."""
    from blendwright.catalogue import default_catalogue

    try:
        return default_catalogue().version()
    except (BlendwrightError, OSError, ValueError):
        return None


def examine() -> tuple[Check, ...]:
    """Look at everything. Never raises: what fails is a fault."""
    looks: tuple[tuple[str, Callable[[], Iterator[Check]]], ...] = (
        ("versions", _versions),
        ("shipped data", _data),
        ("settings", _settings),
        ("own materials", _own_materials),
        ("extras", _extras),
        ("data folder", _data_folder),
        ("terminal", _terminal),
        ("browser", _browser),
    )
    found: list[Check] = []
    for name, look in looks:
        try:
            found.extend(look())
        except BlendwrightError as error:
            found.append(Check(name, "fault", str(error), "Mend what it names."))
        except Exception as error:  # whatever it is, the person should read of it here
            told = f"{type(error).__name__}: {error}"
            found.append(Check(name, "fault", told, "Install blendwright anew."))
    return tuple(found)


def _versions() -> Iterator[Check]:
    yield Check("blendwright", "ok", __version__)
    old = sys.version_info < (3, 11)
    python = f"{platform.python_version()}, {platform.system()} {platform.machine()}"
    yield Check("Python", "fault" if old else "ok", python, "Use 3.11 or newer." if old else "")
    for name in NEEDED:
        try:
            yield Check(name, "ok", version(name))
        except PackageNotFoundError:
            yield Check(name, "fault", "missing", f"pip install {name}")


def _data() -> Iterator[Check]:
    """Every table is read, and a known blend answered from end to end."""
    from blendwright.assess import assess
    from blendwright.catalogue import default_catalogue
    from blendwright.formula import Formula

    catalogue = default_catalogue()
    materials = [catalogue.material(name) for name in catalogue.names()]
    said = f"{len(materials):,} materials, {len(catalogue.sources)} sources, {catalogue.version()}"
    yield Check("catalogue", "ok", said)
    blend = Formula.of({"ethyl butyrate": 1, "vanillin": 0.1, "propylene glycol": 9})
    made = assess(blend, catalogue=catalogue)
    unknown = [name for name, e in made.estimates.items() if e.status == "unknown"]
    if unknown:
        said = f"unknown for a plain blend: {', '.join(unknown)}"
        yield Check("models", "fault", said, "Install blendwright anew.")
    else:
        yield Check("models", "ok", "a plain blend is answered")


def _settings() -> Iterator[Check]:
    from blendwright.app.settings import read_settings, settings_file

    read_settings()
    there = settings_file().exists()
    yield Check("settings", "ok", str(settings_file()) if there else "none set")


def _own_materials() -> Iterator[Check]:
    from blendwright.app.settings import own_file
    from blendwright.catalogue import default_catalogue
    from blendwright.questions.materials.own import read_own_materials

    path = own_file()
    if not path.is_file():
        yield Check("own materials", "ok", "none kept")
        return
    names = read_own_materials(path, default_catalogue()).own_names()
    yield Check("own materials", "ok", f"{len(names):,} in {path}")


def _extras() -> Iterator[Check]:
    for extra, modules, purpose in EXTRAS:
        missing = [name for name in modules if find_spec(name) is None]
        if missing:
            said = f"{', '.join(missing)} not installed; for {purpose}"
            action = f"If you want it: pip install 'blendwright[{extra}]'"
            yield Check(f"extra {extra}", "note", said, action)
        else:
            said = ", ".join(f"{name} {version(name)}" for name in modules)
            yield Check(f"extra {extra}", "ok", said)


def _data_folder() -> Iterator[Check]:
    from blendwright.app.settings import own_file

    folder = own_file().parent
    there = next(path for path in (folder, *folder.parents) if path.exists())
    if _can_write(there):
        yield Check("data folder", "ok", f"{folder} can be written")
    else:
        action = "`material add` needs it; give it a --file, or set XDG_DATA_HOME elsewhere."
        yield Check("data folder", "note", f"{folder} can't be written", action)


def _can_write(folder: Path) -> bool:
    try:
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _terminal() -> Iterator[Check]:
    encoding = locale.getencoding()
    try:
        SIGNS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        action = "Set LANG=C.UTF-8 (Windows: chcp 65001), or signs such as ° may look odd."
        yield Check("terminal", "note", f"its encoding is {encoding}", action)
    else:
        plain = ", NO_COLOR is set" if os.environ.get("NO_COLOR") else ""
        yield Check("terminal", "ok", f"{encoding}{plain}")


def _browser() -> Iterator[Check]:
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found:
        yield Check("browser", "ok", found)
    else:
        yield Check("browser", "note", "no Chromium found", "Print a report from any browser.")
