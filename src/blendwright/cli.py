"""The command line: sub-commands named by the question that the person asks."""

from __future__ import annotations

import sys

import typer

from blendwright.accuracy_command import accuracy_command
from blendwright.advice_commands import advise_command, carriers_command
from blendwright.assess import Assessment, assess
from blendwright.command_options import (
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
    check_range,
    read_or_stop,
)
from blendwright.conditions import ATMOSPHERE_Pa
from blendwright.dose_command import dose_command
from blendwright.material_commands import material_app
from blendwright.report_command import report_command
from blendwright.usable import catalogue_with, print_json, usable
from blendwright.volumes_command import volumes_command
from blendwright.warm_command import flash_command, warm_command
from blendwright.weighing import DROP_mL

app = typer.Typer(
    add_completion=True,
    no_args_is_help=True,
    help="From a flavour formula in grams to an honest assessment: does it dissolve, does it "
    "burn, how many millilitres is it, and how far can each number be trusted.",
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.add_typer(material_app, name="material")
app.command("advise")(advise_command)
app.command("carriers")(carriers_command)
app.command("accuracy")(accuracy_command)
app.command("dose")(dose_command)
app.command("volumes")(volumes_command)


@app.command("assess")
def assess_command(
    file: FormulaFile = None,
    row: Rows = None,
    temperature_C: TemperatureC = 25.0,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Assess a formula: dissolving, layers, flash point, boiling point, density, volumes."""
    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_range("--temperature-C", temperature_C, -40.0, 150.0)
    check_range("--pressure-kPa", pressure_kPa, 10.0, 120.0)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    result = usable(
        lambda: assess(
            formula,
            temperature_C + 273.15,
            pressure_kPa * 1e3,
            catalogue=catalogue,
            drop_mL=drop_mL,
        )
    )
    assert isinstance(result, Assessment)
    if as_json:
        print_json(result.to_dict())
    else:
        from blendwright.report.terminal import console, print_assessment

        print_assessment(result, console())
    if strict and result.has_warning:
        raise typer.Exit(EXIT_WARNING)


app.command("warm")(warm_command)
app.command("flash")(flash_command)
app.command("report")(report_command)


@app.command()
def schema() -> None:
    """Print the JSON Schema of the assessment."""
    from blendwright.report.schema import schema_text

    sys.stdout.write(schema_text())


def main() -> None:
    """Entry point of the command `blendwright`."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        app()
    except BrokenPipeError:
        sys.exit(0)


if __name__ == "__main__":
    main()
