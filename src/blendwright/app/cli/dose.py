"""`blendwright dose`: a concentrate into a drink."""

from __future__ import annotations

from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    AsJson,
    BatchG,
    DropML,
    FormulaFile,
    Materials,
    Rows,
    Strict,
    check_range,
    print_answer,
    read_or_stop,
)
from blendwright.formula.conditions import BENCH_C
from blendwright.mixture.weighing import DROP_mL

EXIT_WARNING = 1

Into = Annotated[
    str,
    typer.Option(
        "--into", help='The drink: "water", "10 % sugar", "soda", "wine 13 %", "40 % vol".'
    ),
]
Drops = Annotated[float | None, typer.Option("--drops", help="Drops of concentrate.")]
MilliLitres = Annotated[float | None, typer.Option("--mL", help="Millilitres of concentrate.")]
PerML = Annotated[float, typer.Option("--per-mL", help="Millilitres of drink it goes into.")]
DrinkC = Annotated[float, typer.Option("--temperature-C", help="Where it stands, 0 to 60 °C.")]


def dose_command(
    into: Into,
    file: FormulaFile = None,
    row: Rows = None,
    drops: Drops = None,
    mL: MilliLitres = None,
    per_mL: PerML = 100.0,
    drop_mL: DropML = DROP_mL,
    temperature_C: DrinkC = BENCH_C,
    batch_g: BatchG = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Dose a concentrate into a drink: clear or not, the most that stays clear, mg/kg of each."""
    from blendwright.questions.drink.dosing import Dose, dose
    from blendwright.report.dose import print_dose

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_range("--temperature-C", temperature_C, 0.0, 60.0)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    seen = counted_observations(kept, no_observations)
    result = usable(
        lambda: dose(
            formula,
            into,
            Dose.of(drops, mL, per_mL, drop_mL),
            temperature_C + 273.15,
            catalogue=catalogue,
            observations=seen,
        )
    )
    print_answer(formula, as_json, result.to_dict, lambda out: print_dose(result, out))
    if strict and result.has_warning:
        raise typer.Exit(EXIT_WARNING)
