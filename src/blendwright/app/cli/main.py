"""The command line: sub-commands named by the question that the person asks."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from blendwright.app.cli.accuracy import accuracy_command
from blendwright.app.cli.advice import advise_command, carriers_command
from blendwright.app.cli.assess import assess_command
from blendwright.app.cli.batch import batch_command
from blendwright.app.cli.doctor import doctor_command
from blendwright.app.cli.dose import dose_command
from blendwright.app.cli.examples import add_examples
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.flash import flash_command
from blendwright.app.cli.material import material_app
from blendwright.app.cli.number_options import type_options
from blendwright.app.cli.observations import observations_app
from blendwright.app.cli.observe import observe_command
from blendwright.app.cli.report import report_command
from blendwright.app.cli.schema import schema_command
from blendwright.app.cli.serve import serve_command
from blendwright.app.cli.settings import settings_app
from blendwright.app.cli.sweep import sweep_command
from blendwright.app.cli.volumes import volumes_command
from blendwright.app.cli.warm import warm_command
from blendwright.app.settings import read_settings
from blendwright.version import __version__

EXIT_CODES = (
    ("0", "answered"),
    ("1", "a warning was raised, and --strict was given"),
    ("2", "the input can't be used; the message says where and what to do"),
    ("130", "interrupted; a batch goes on when it is given once more"),
)
# each panel of the help, and its commands: what they are called and what they do
PANELS: dict[str, dict[str, Any]] = {
    "Ask": {
        "assess": assess_command,
        "warm": warm_command,
        "dose": dose_command,
        "flash": flash_command,
    },
    "Change": {
        "advise": advise_command,
        "carriers": carriers_command,
        "sweep": sweep_command,
    },
    "Make": {"volumes": volumes_command, "report": report_command},
    "Many": {"batch": batch_command},
    "Know": {"material": material_app, "accuracy": accuracy_command},
    "Mine": {
        "observe": observe_command,
        "observations": observations_app,
        "settings": settings_app,
    },
    "Here": {"serve": serve_command, "doctor": doctor_command, "schema": schema_command},
}
WITHOUT_SETTINGS = ("settings", "doctor", "schema")  # they work where the settings are broken

app = typer.Typer(
    add_completion=True,
    no_args_is_help=True,
    help="From a flavour formula in grams to an honest assessment: does it dissolve, does it "
    "burn, how many millilitres is it, and how far can each number be trusted.",
    epilog="\n".join(["Exit codes:", *(f"  {code:<4} {words}" for code, words in EXIT_CODES)]),
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)


def print_version(asked: bool) -> None:
    if asked:
        typer.echo(f"blendwright {__version__}")
        raise typer.Exit


Version = Annotated[
    bool,
    typer.Option(
        "--version",
        metavar="",
        help="Print the version and stop.",
        is_eager=True,
        callback=print_version,
    ),
]


@app.callback()
def defaults(
    context: typer.Context,
    version: Version = False,
) -> None:
    if context.invoked_subcommand not in WITHOUT_SETTINGS:
        commands = list(context.command.commands)  # type: ignore[attr-defined]  # it is a group
        context.default_map = {**exit_on_error(read_settings).defaults(commands)}


for panel, commands in PANELS.items():
    for name, command in commands.items():
        if isinstance(command, typer.Typer):
            app.add_typer(command, name=name, rich_help_panel=panel)
        else:
            app.command(name, rich_help_panel=panel)(command)
add_examples(app)  # after the last command
type_options(app)


def main() -> None:
    """Entry point of the command `blendwright`."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        app(prog_name="blendwright")
    except BrokenPipeError:
        sys.exit(0)


if __name__ == "__main__":
    main()
