"""What every command leans on: run or stop with a plain message, print JSON, open the catalogue."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import NoReturn, TypeVar

import typer

from blendwright.app.settings import own_file
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import BlendwrightError

EXIT_UNUSABLE = 2
Result = TypeVar("Result")


def exit_on_error(compute: Callable[[], Result]) -> Result:
    """Run, or stop with a plain message and exit code 2."""
    try:
        return compute()
    except BlendwrightError as error:
        fail(str(error))


def fail(message: str) -> NoReturn:
    """Say what is wrong on standard error and exit with 2."""
    typer.echo(message, err=True)
    raise typer.Exit(EXIT_UNUSABLE)


def print_json(data: object) -> None:
    """One JSON object on standard output."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def catalogue_with(materials: str | None) -> Catalogue:
    """Our catalogue with the person's own over it: the kept file first, then the one given."""
    catalogue = default_catalogue()
    for path in (own_file(), Path(materials) if materials else None):
        if path is not None and (path.is_file() or str(path) == materials):
            from blendwright.questions.materials.own import read_own_materials

            catalogue = exit_on_error(partial(read_own_materials, path, catalogue))
    return catalogue
