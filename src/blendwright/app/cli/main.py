"""The command line: sub-commands named by the question that the person asks."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.app.cli.accuracy import accuracy_command
from blendwright.app.cli.advice import advise_command, carriers_command
from blendwright.app.cli.batch import batch_command
from blendwright.app.cli.doctor import doctor_command
from blendwright.app.cli.dose import dose_command
from blendwright.app.cli.examples import add_examples
from blendwright.app.cli.exit_on_error import catalogue_with, print_json, stop, usable
from blendwright.app.cli.material import material_app
from blendwright.app.cli.number_options import take_decimal_commas
from blendwright.app.cli.observe import (
    Kept,
    NoObservations,
    counted_observations,
    observations_app,
    observe_command,
)
from blendwright.app.cli.options import (
    EXIT_WARNING,
    AsJson,
    BatchG,
    DropML,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    Strict,
    TemperatureC,
    check_conditions,
    check_range,
    read_or_stop,
)
from blendwright.app.cli.report import report_command
from blendwright.app.cli.serve import serve_command
from blendwright.app.cli.settings import settings_app
from blendwright.app.cli.sources_option import FORMS, Sources, WithSources
from blendwright.app.cli.sweep import sweep_command
from blendwright.app.cli.volumes import volumes_command
from blendwright.app.cli.warm import flash_command, warm_command
from blendwright.app.settings import read_settings
from blendwright.assess import Assessment, assess
from blendwright.catalogue import Catalogue
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.mixture.weighing import DROP_mL
from blendwright.version import __version__

app = typer.Typer(
    add_completion=True,
    no_args_is_help=True,
    help="From a flavour formula in grams to an honest assessment: does it dissolve, does it "
    "burn, how many millilitres is it, and how far can each number be trusted.",
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def print_version(asked: bool) -> None:
    if asked:
        typer.echo(f"blendwright {__version__}")
        raise typer.Exit


Version = Annotated[
    bool,
    typer.Option(
        "--version", help="Print the version and stop.", is_eager=True, callback=print_version
    ),
]
WITHOUT_SETTINGS = ("settings", "doctor", "schema")  # they work where the settings are broken


@app.callback()
def defaults(
    context: typer.Context,
    version: Version = False,
) -> None:
    if context.invoked_subcommand not in WITHOUT_SETTINGS:
        commands = list(context.command.commands)  # type: ignore[attr-defined]  # it is a group
        context.default_map = {**usable(read_settings).defaults(commands)}


app.add_typer(material_app, name="material")
app.add_typer(settings_app, name="settings")
app.command("doctor")(doctor_command)
app.command("advise")(advise_command)
app.command("carriers")(carriers_command)
app.command("accuracy")(accuracy_command)
app.command("dose")(dose_command)
app.command("volumes")(volumes_command)
app.command("observe")(observe_command)
app.add_typer(observations_app, name="observations")
app.command("batch")(batch_command)
app.command("sweep")(sweep_command)
app.command("serve")(serve_command)


@app.command("assess", cls=WithSources)
def assess_command(
    file: FormulaFile = None,
    row: Rows = None,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    sources: Sources = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Assess a formula: dissolving, layers, flash point, boiling point, density, volumes."""
    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_conditions(temperature_C, pressure_kPa)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    if sources is not None and sources not in FORMS:
        stop(f"--sources {sources!r} is none of {', '.join(FORMS)}")
    seen = counted_observations(kept, no_observations)
    result = usable(
        lambda: assess(
            formula,
            temperature_C + 273.15,
            pressure_kPa * 1e3,
            catalogue=catalogue,
            drop_mL=drop_mL,
            observations=seen,
        )
    )
    assert isinstance(result, Assessment)
    if sources is not None:
        _print_sources(result, catalogue, sources, as_json)
    elif as_json:
        print_json(result.to_dict())
    else:
        from blendwright.report.terminal import console, print_assessment

        print_assessment(result, console())
    if strict and result.has_warning:
        raise typer.Exit(EXIT_WARNING)


def _print_sources(result: Assessment, catalogue: Catalogue, form: str, as_json: bool) -> None:
    from blendwright.report.bibliography import bibliography_text, bibtex, csl_json
    from blendwright.report.sources import bibliography

    entries = usable(lambda: bibliography(result, catalogue))
    if as_json:
        listed = [entry.to_dict() for entry in entries]
        print_json({**result.to_dict(), "bibliography": listed})
    elif form == "bibtex":
        sys.stdout.write(bibtex(entries))
    elif form == "csl":
        sys.stdout.write(csl_json(entries))
    else:
        sys.stdout.write(bibliography_text(result.weighing.formula.name, entries))


app.command("warm")(warm_command)
app.command("flash")(flash_command)
app.command("report")(report_command)


@app.command()
def schema() -> None:
    """Print the JSON Schema of the assessment."""
    from blendwright.report.schema import schema_text

    sys.stdout.write(schema_text())


add_examples(app)  # after the last command
take_decimal_commas(app)


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
