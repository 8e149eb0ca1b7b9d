"""`blendwright sweep`: a formula with some of its rows varied, into one table and a picture."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.batch import (
    MOST_LOT_SIZE,
    Fresh,
    Hands,
    LotSize,
    Manner,
    Only,
    Quiet,
    Scheduler,
    WorkerMemory,
    Workers,
    asked_of,
    begin_batch,
    carry_out,
)
from blendwright.app.cli.exit_on_error import catalogue_with, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
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
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.mixture.weighing import DROP_mL

if TYPE_CHECKING:
    from blendwright.app.batch.sweep import Sweep

MOST_PLOTTED = 20_000
FLASH = "flash_point_closed_cup_C"


def sweep_command(
    file: FormulaFile = None,
    row: Rows = None,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            "--vary",
            help='"ethyl butyrate=0..3 g/7", "vanillin=0.5,1,2 g" or '
            '"carrier=propylene glycol,triacetin"; may be given again.',
        ),
    ] = None,
    hypercube: Annotated[
        int | None,
        typer.Option("--latin-hypercube", help="So many points spread evenly, not the grid."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Of the Latin hypercube.")] = 0,
    to_weight: Annotated[
        bool,
        typer.Option("--to-weight", help="The main carrier takes up what a varied row gives."),
    ] = False,
    output: Annotated[
        str, typer.Option("-o", "--output", help="A .parquet or .csv file.")
    ] = "sweep.parquet",
    plot: Annotated[
        str | None,
        typer.Option("--plot", help="Draw it too: a .png or .svg file (extra pictures)."),
    ] = None,
    plot_of: Annotated[
        str, typer.Option("--plot-of", help="Which estimate is drawn, by its column.")
    ] = FLASH,
    only: Only = None,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    workers: Workers = None,
    scheduler: Scheduler = None,
    worker_memory: WorkerMemory = "1 GiB",
    lot_size: LotSize = 2000,
    fresh: Fresh = False,
    quiet: Quiet = False,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Vary some rows of a formula, or its carrier, and assess every point of the grid."""
    begin_batch()
    from blendwright.app.batch.run import Order, check_out
    from blendwright.app.batch.schema import estimates_of
    from blendwright.app.batch.sweep import MOST_POINTS, Hypercube, Sweep, planned

    if not vary:
        stop('give at least one --vary "material=low..high g/count"')
    asked = asked_of(only, temperature_C, pressure_kPa, drop_mL, None)
    asked = replace(asked, observations=counted_observations(kept, no_observations))
    check_range("--lot-size", lot_size, 1, MOST_LOT_SIZE)
    if hypercube is not None:
        check_range("--latin-hypercube", hypercube, 1, MOST_POINTS)
    usable(lambda: check_out(Path(output), Path(file) if file and file != "-" else None, fresh))
    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    sampling = None if hypercube is None else Hypercube(hypercube, seed)
    sweep = usable(lambda: Sweep(planned(formula, vary, catalogue, to_weight), sampling))
    if plot is not None:
        if plot_of not in estimates_of(asked.only):
            stop(f"--plot-of {plot_of}: not asked; asked are {', '.join(estimates_of(asked.only))}")
        _check_plot(plot, sweep)
    order = Order(sweep, Path(output), asked, catalogue, lot_size, sweep.fields)
    words = f"blendwright sweep {file or ''} -o {output}"
    carry_out(
        order,
        Hands(workers, scheduler, worker_memory),
        Manner(fresh, quiet, as_json, strict, words),
        lambda: None if plot is None else _draw(plot, plot_of, sweep, Path(output)),
    )


def _check_plot(plot: str, sweep: Sweep) -> None:
    """Said before the work is done, not after."""
    if not plot.endswith((".png", ".svg")):
        stop(f"--plot {plot}: a picture is a .png or a .svg file")
    if len(sweep.plan.axes) > 2:
        stop("--plot draws one or two varied things, not more")
    if sweep.count > MOST_PLOTTED:
        stop(f"--plot draws {MOST_PLOTTED:,} points at most")
    from blendwright.report.pictures.canvas import drawing

    def can_draw() -> None:
        with drawing():
            pass

    usable(can_draw)


def _draw(plot: str, column: str, sweep: Sweep, table: Path) -> None:
    from blendwright.app.batch.sweep_picture import swept
    from blendwright.report.pictures import save

    usable(lambda: save(swept(sweep, table, column), Path(plot)))
    typer.echo(f"drew {plot}", err=True)
