"""The JSON Schema of every object that a command prints with --json, as they ship in the package.

Every object names its schema, the program's version and the version of the data behind it.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.version import __version__

FOLDER = "schemas"
SUFFIX = ".schema.json"
ADDRESS = "https://blendwright.invalid/schemas/"  # a name, not a page: .invalid leads nowhere


def names() -> tuple[str, ...]:
    """Every schema that there is, by name: "assessment", "dose", ..."""
    folder = files("blendwright.report") / FOLDER
    found = [file.name.removesuffix(SUFFIX) for file in folder.iterdir()]
    return tuple(sorted(found))


def schema_text(name: str = "assessment") -> str:
    """The text of one schema. Raises KeyError for a name that there is not."""
    if name not in names():
        raise KeyError(name)
    return (files("blendwright.report") / FOLDER / f"{name}{SUFFIX}").read_text(encoding="utf-8")


def identified(data: Mapping[str, Any], catalogue: Catalogue | None = None) -> dict[str, Any]:
    """An object with the versions of program and data behind its schema, which stands first."""
    catalogue = catalogue or default_catalogue()
    versions = {"version": __version__, "data_version": catalogue.version()}
    return {"schema": data["schema"], **{**versions, **data}}
