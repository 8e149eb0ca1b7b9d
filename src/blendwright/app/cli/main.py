"""The command line: sub-commands named by the question that the person asks.

A command's module is imported when the command is asked for: with all of them, the imports alone
would take longer than a small assessment.
"""

from __future__ import annotations

import gc
import sys
from functools import cache
from importlib import import_module
from typing import Annotated, Any

import typer

from blendwright.app.cli.examples import add_examples
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.number_options import type_options
from blendwright.app.settings import read_settings
from blendwright.version import __version__

EXIT_CODES = (
    ("0", "answered"),
    ("1", "a warning was raised, and --strict was given"),
    ("2", "the input can't be used; the message says where and what to do"),
    ("130", "interrupted; a batch goes on when it is given once more"),
)
# each panel of the help, and its commands: what they are called, and the module and what in it does
PANELS: dict[str, dict[str, tuple[str, str]]] = {
    "Ask": {
        "assess": ("assess", "assess_command"),
        "warm": ("warm", "warm_command"),
        "dose": ("dose", "dose_command"),
        "flash": ("flash", "flash_command"),
    },
    "Change": {
        "advise": ("advice", "advise_command"),
        "carriers": ("advice", "carriers_command"),
        "sweep": ("sweep", "sweep_command"),
    },
    "Make": {
        "volumes": ("volumes", "volumes_command"),
        "report": ("report", "report_command"),
    },
    "Many": {"batch": ("batch", "batch_command")},
    "Know": {
        "material": ("material", "material_app"),
        "accuracy": ("accuracy", "accuracy_command"),
    },
    "Mine": {
        "observe": ("observe", "observe_command"),
        "observations": ("observations", "observations_app"),
        "settings": ("settings", "settings_app"),
    },
    "Here": {
        "serve": ("serve", "serve_command"),
        "doctor": ("doctor", "doctor_command"),
        "schema": ("schema", "schema_command"),
    },
}
WITHOUT_SETTINGS = ("settings", "doctor", "schema")  # they work where the settings are broken


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


def defaults(
    context: typer.Context,
    version: Version = False,
) -> None:
    if context.invoked_subcommand not in WITHOUT_SETTINGS:
        commands = list(context.command.commands)  # type: ignore[attr-defined]  # it is a group
        context.default_map = {**exit_on_error(read_settings).defaults(commands)}


@cache
def application(only: str | None = None) -> typer.Typer:
    """The program with all its commands, or with one alone."""
    made = typer.Typer(
        add_completion=True,
        no_args_is_help=True,
        help="From a flavour formula in grams to an honest assessment: does it dissolve, does it "
        "burn, how many millilitres is it, and how far can each number be trusted.",
        epilog="\n".join(["Exit codes:", *(f"  {code:<4} {words}" for code, words in EXIT_CODES)]),
        context_settings={"help_option_names": ["-h", "--help"]},
        pretty_exceptions_enable=False,
        rich_markup_mode="rich",
    )
    made.callback()(defaults)
    for panel, commands in PANELS.items():
        for name, (module, what) in commands.items():
            if only in (None, name):
                command = getattr(import_module(f"blendwright.app.cli.{module}"), what)
                if isinstance(command, typer.Typer):
                    made.add_typer(command, name=name, rich_help_panel=panel)
                else:
                    made.command(name, rich_help_panel=panel)(command)
    add_examples(made)  # after the last command
    type_options(made)
    return made


def __getattr__(name: str) -> Any:
    if name == "app":  # the whole program
        return application()
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def main() -> None:
    """Entry point of the command `blendwright`."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    if not gc.get_freeze_count():  # once: what is thrown away later has to be found
        gc.freeze()  # what is imported stays, and is looked through for garbage no more
    names = {name for commands in PANELS.values() for name in commands}
    asked = next((word for word in sys.argv[1:2] if word in names), None)
    try:
        application(asked)(prog_name="blendwright")
    except BrokenPipeError:
        sys.exit(0)


if __name__ == "__main__":
    main()
