"""`blendwright volumes`: the pipetting sheet, the batch's size, the balance, the bottles."""

from __future__ import annotations

from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    EXIT_WARNING,
    AsJson,
    BatchG,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    Strict,
    check_range,
    print_answer,
    read_or_stop,
)
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.questions.volumes.drops import DropCount
from blendwright.questions.volumes.filling import Bottles
from blendwright.questions.volumes.volumes import BenchOrder, BenchSheet, bench_sheet

PipetteC = Annotated[
    float, typer.Option("--temperature-C", help="Where rows are pipetted, -40 to 150 °C.")
]
FillC = Annotated[
    float | None,
    typer.Option(
        "--fill-temperature-C",
        help="Where bottles are filled, °C; where rows are pipetted, if unset.",
    ),
]
DropML = Annotated[float | None, typer.Option("--drop-mL", help="Volume of one drop, mL.")]
DropsPerML = Annotated[
    float | None, typer.Option("--drops-per-mL", help="Your own drops to the millilitre.")
]
Drops = Annotated[
    float | None, typer.Option("--drops", help="So many drops of it, with --drops-weigh-g.")
]
DropsWeigh = Annotated[
    float | None, typer.Option("--drops-weigh-g", help="What those drops weigh together.")
]
DoseML = Annotated[
    float | None, typer.Option("--dose-mL", help="A dose of the concentrate, told in drops.")
]
ScaleG = Annotated[float | None, typer.Option("--scale-to-g", help="Make so many grams.")]
ScaleML = Annotated[
    float | None, typer.Option("--scale-to-mL", help="Make so many mL at the fill temperature.")
]
BottlesText = Annotated[
    str | None, typer.Option("--bottles", help='Make enough for bottles, "24x30": count x mL.')
]
BrimML = Annotated[
    float | None, typer.Option("--brim-mL", help="What one bottle holds to the brim.")
]
LossPct = Annotated[
    float, typer.Option("--loss-pct", help="More to make, for what stays in beakers, %.")
]
BalanceG = Annotated[
    float | None, typer.Option("--balance-g", help="Round to your balance's division, g.")
]


def volumes_command(
    file: FormulaFile = None,
    row: Rows = None,
    temperature_C: PipetteC = BENCH_C,
    fill_temperature_C: FillC = None,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    scale_to_g: ScaleG = None,
    scale_to_mL: ScaleML = None,
    bottles: BottlesText = None,
    brim_mL: BrimML = None,
    loss_pct: LossPct = 0.0,
    balance_g: BalanceG = None,
    drop_mL: DropML = None,
    drops_per_mL: DropsPerML = None,
    drops: Drops = None,
    drops_weigh_g: DropsWeigh = None,
    dose_mL: DoseML = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Turn grams into millilitres and drops; scale, round to a balance, order, fill bottles."""
    from blendwright.report.volumes import print_volumes

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_range("--temperature-C", temperature_C, -40.0, 150.0)
    fill_C = temperature_C if fill_temperature_C is None else fill_temperature_C
    check_range("--fill-temperature-C", fill_C, -40.0, 150.0)
    check_range("--pressure-kPa", pressure_kPa, 10.0, 120.0)
    seen = counted_observations(kept, no_observations)
    if bottles is None and (brim_mL is not None or loss_pct):
        stop('--brim-mL and --loss-pct belong to --bottles "24x30"')

    def laid_out() -> BenchSheet:
        order = BenchOrder(
            temperature_K=temperature_C + 273.15,
            fill_K=fill_C + 273.15,
            pressure_Pa=pressure_kPa * 1e3,
            scale_to_g=scale_to_g,
            scale_to_mL=scale_to_mL,
            bottles=Bottles.parse(bottles, brim_mL, loss_pct / 100.0) if bottles else None,
            balance_g=balance_g,
            drop=DropCount(drop_mL, drops_per_mL, drops, drops_weigh_g),
            dose_mL=dose_mL,
        )
        return bench_sheet(formula, order, catalogue=catalogue, observations=seen)

    sheet = usable(laid_out)
    print_answer(formula, as_json, sheet.to_dict, lambda out: print_volumes(sheet, out))
    if strict and sheet.has_warning:
        raise typer.Exit(EXIT_WARNING)
