"""The command line: sub-commands named by the question that the person asks."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.assess import Assessment, assess
from blendwright.catalogue import Catalogue
from blendwright.conditions import ATMOSPHERE_Pa
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula, read_formula, read_formula_bytes
from blendwright.material_commands import material_app
from blendwright.usable import catalogue_with, print_json, stop, usable
from blendwright.weighing import DROP_mL, with_name_problems

EXIT_WARNING = 1

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

FormulaFile = Annotated[
    str | None,
    typer.Argument(help="A formula file (CSV, TSV or XLSX), or - for standard input."),
]
Rows = Annotated[
    list[str] | None,
    typer.Option("--row", help='A row typed here, "material=grams"; may be given again.'),
]
TemperatureC = Annotated[
    float, typer.Option("--temperature-C", help="Bench temperature, -40 to 150 °C.")
]
PressureKPa = Annotated[float, typer.Option("--pressure-kPa", help="Air pressure, 10 to 120 kPa.")]
BatchG = Annotated[
    str | None, typer.Option("--batch-g", help="Batch size that q.s. rows are made up to.")
]
DropML = Annotated[float, typer.Option("--drop-mL", help="Volume of one drop, mL.")]
Materials = Annotated[
    str | None,
    typer.Option("--materials", help="Your own materials (CSV or XLSX); they win over ours."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
Strict = Annotated[bool, typer.Option("--strict", help="Exit with 1 if a warning was raised.")]


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
    formula = _formula(file, row, batch_g, catalogue)
    _check_range("--temperature-C", temperature_C, -40.0, 150.0)
    _check_range("--pressure-kPa", pressure_kPa, 10.0, 120.0)
    _check_range("--drop-mL", drop_mL, 0.001, 1.0)
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


@app.command()
def volumes(
    file: FormulaFile = None,
    row: Rows = None,
    temperature_C: TemperatureC = 20.0,
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    as_json: AsJson = False,
) -> None:
    """Turn grams into millilitres and drops, row by row and in total."""
    from blendwright.report.terminal import console
    from blendwright.report.volumes import print_volumes, volumes_dict

    catalogue = catalogue_with(materials)
    formula = _formula(file, row, batch_g, catalogue)
    temperature_K = temperature_C + 273.15
    _check_range("--temperature-C", temperature_C, -40.0, 150.0)
    _check_range("--drop-mL", drop_mL, 0.001, 1.0)
    if as_json:
        print_json(usable(lambda: volumes_dict(formula, temperature_K, drop_mL, catalogue)))
    else:
        usable(lambda: print_volumes(formula, temperature_K, drop_mL, catalogue, console()))


@app.command()
def schema() -> None:
    """Print the JSON Schema of the assessment."""
    from blendwright.report.schema import schema_text

    sys.stdout.write(schema_text())


def _formula(
    file: str | None, rows: list[str] | None, batch_g: str | None, catalogue: Catalogue
) -> Formula:
    def read() -> Formula:
        if file and rows:
            raise FormulaError("command line", [Problem("give a file or --row, not both")])
        if file == "-":
            formula = read_formula_bytes(sys.stdin.buffer.read(), "standard input")
        elif file:
            formula = read_formula(file)
        elif rows:
            formula = Formula.from_rows([_typed(text) for text in rows], name="typed rows")
        else:
            raise FormulaError(
                "command line", [Problem('give a formula file, - or --row "material=grams"')]
            )
        if batch_g is None:
            return formula
        from blendwright.formula.numbers import parse_batch_g

        problems: list[Problem] = []
        size = parse_batch_g(batch_g, problems)
        if size is None:
            raise FormulaError("--batch-g", problems)
        return formula.with_batch_g(size)

    try:
        return read()
    except FormulaError as error:
        stop(str(with_name_problems(error, catalogue)))


def _typed(text: str) -> dict[str, object]:
    name, equals, amount = text.rpartition("=")
    if not equals:
        raise FormulaError("--row", [Problem(f"{text!r} needs an equals sign: material=grams")])
    return {"material": name, "grams": amount}


def _check_range(option: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        stop(f"{option} {value:g} is outside {low:g} to {high:g}")


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
