"""What the commands share: their options, and how a formula is read or refused."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.exit_on_error import print_json, stop
from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula, read_formula, read_formula_bytes
from blendwright.formula.numbers import parse_batch_g
from blendwright.mixture.weighing import with_name_problems
from blendwright.verdict.as_read import as_read

if TYPE_CHECKING:
    from rich.console import Console

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
        size = None if batch_g is None else _batch_size(batch_g)
        if file == "-":
            return read_formula_bytes(sys.stdin.buffer.read(), "standard input", size)
        if file:
            return read_formula(file, size)
        if rows:
            return Formula.from_rows([_typed(text) for text in rows], "typed rows", size)
        raise FormulaError(
            "command line", [Problem('give a formula file, - or --row "material=grams"')]
        )

    try:
        return read()
    except FormulaError as error:
        stop(str(with_name_problems(error, catalogue)))


def _batch_size(text: str) -> float:
    problems: list[Problem] = []
    size = parse_batch_g(text, problems)
    if size is None:
        raise FormulaError("--batch-g", problems)
    return size


def print_answer(
    formula: Formula,
    as_json: bool,
    data: Callable[[], dict[str, object]],
    printed: Callable[[Console], None],
) -> None:
    """An answer under what reading the formula left open; in JSON that leads the findings."""
    from blendwright.report.terminal import console, print_findings

    if not as_json:
        out = console()
        print_findings(as_read(formula.notices), out)
        printed(out)
        return
    schema, *rest = data().items()
    made = dict([schema, *([] if "findings" in dict(rest) else [("findings", [])]), *rest])
    findings = made["findings"]
    assert isinstance(findings, list)
    read = [finding.to_dict() for finding in as_read(formula.notices)]
    print_json({**made, "findings": [*read, *(f for f in findings if f not in read)]})


def print_as_read(formula: Formula) -> None:
    """What reading the formula left open, on standard error: the answer goes into a file."""
    from blendwright.report.terminal import console, print_findings

    print_findings(as_read(formula.notices), console(stderr=True))


def _typed(text: str) -> dict[str, object]:
    name, equals, amount = text.rpartition("=")
    if not equals:
        raise FormulaError("--row", [Problem(f"{text!r} needs an equals sign: material=grams")])
    return {"material": name, "grams": amount}


def check_range(option: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        stop(f"{option} {value:g} is outside {low:g} to {high:g}")


def check_conditions(temperature_C: float, pressure_kPa: float) -> None:
    """The bench and the air of a command: what the engine answers for."""
    check_range("--temperature-C", temperature_C, -40.0, 150.0)
    check_range("--pressure-kPa", pressure_kPa, 10.0, 120.0)
