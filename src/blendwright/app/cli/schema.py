"""`blendwright schema`: the JSON Schema of what --json prints."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import fail


def schema_command(
    name: Annotated[
        str | None,
        typer.Argument(metavar="NAME", help="Which object; their names are listed unless given."),
    ] = None,
) -> None:
    """The JSON Schema of what --json prints."""
    from blendwright.report.schema import names, schema_text

    if name is None:
        typer.echo("\n".join(names()))
        return
    if name not in names():
        fail(f"there is no schema {name!r}; there are {', '.join(names())}")
    sys.stdout.write(schema_text(name))
