"""`blendwright settings`: the person's own defaults."""

from __future__ import annotations

from typing import Annotated

import typer

from blendwright.app.cli.answer import print_object
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.options import AsJson
from blendwright.app.settings import (
    KEYS,
    MEANING,
    Settings,
    read_settings,
    settings_file,
    write_setting,
)

settings_app = typer.Typer(
    no_args_is_help=True,
    help="Your own defaults: bench, altitude, drop, balance.",
)


@settings_app.command()
def show(as_json: AsJson = False) -> None:
    """Show what is set, and where."""
    found = exit_on_error(read_settings)
    if as_json:
        values = {key: getattr(found, key) for key in KEYS}
        made = {**values, "pressure_kPa": found.pressure_kPa}
        print_object({"schema": "blendwright/settings/1", "file": str(settings_file()), **made})
    else:
        _print(found)


@settings_app.command("set", context_settings={"ignore_unknown_options": True})  # -5 is a value
def set_(
    key: Annotated[str, typer.Argument(metavar="NAME", help=f"One of {', '.join(KEYS)}.")],
    value: Annotated[
        str, typer.Argument(metavar="VALUE", help="A number, or default to take it out.")
    ],
) -> None:
    """Set one default; the word default takes it out again."""
    settings = exit_on_error(lambda: write_setting(key, value))
    kept = getattr(settings, key)
    typer.echo(f"{key} is {'no longer set' if kept is None else f'{kept:g} from now on'}.")
    _print(settings)


@settings_app.command()
def path() -> None:
    """Print where the settings file is; the variable BLENDWRIGHT_SETTINGS names another."""
    typer.echo(str(settings_file()))


def _print(settings: Settings) -> None:
    from rich.text import Text

    from blendwright.report.terminal import console, numbers_table

    table = numbers_table(("Setting", "value", ""))
    for key in KEYS:
        value = getattr(settings, key)
        table.add_row(key, "not set" if value is None else f"{value:g}", Text(MEANING[key]))
    out = console()
    out.print(table)
    if settings.pressure_kPa is not None:
        out.print(f"Air pressure at that altitude, ISO 2533: {settings.pressure_kPa:.1f} kPa.")
    out.print("Options typed on the command line win over these.")
    out.print(Text(f"File: {settings_file()}", overflow="fold"))
