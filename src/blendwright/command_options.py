"""What the commands share: their options, and how a formula is read or refused."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula, read_formula, read_formula_bytes
from blendwright.usable import stop
from blendwright.weighing import with_name_problems

EXIT_WARNING = 1

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


def read_or_stop(
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


def check_range(option: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        stop(f"{option} {value:g} is outside {low:g} to {high:g}")
