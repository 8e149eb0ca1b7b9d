"""`blendwright batch`: many formulas from one table or folder into one table."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, print_json, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    EXIT_WARNING,
    AsJson,
    BatchG,
    DropML,
    Materials,
    PressureKPa,
    Strict,
    TemperatureC,
    check_conditions,
    check_range,
)
from blendwright.errors import Problem
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.formula.numbers import parse_batch_g
from blendwright.mixture.weighing import DROP_mL

if TYPE_CHECKING:
    from blendwright.app.batch.evaluate import Request
    from blendwright.app.batch.run import Order
    from blendwright.app.batch.summary import Summary

EXIT_INTERRUPTED = 130  # as shells do for Ctrl-C
MOST_WORKERS = 1024
MOST_LOT_SIZE = 100_000

Only = Annotated[
    str | None,
    typer.Option("--only", help="Ask only this: density,vapour,boiling,flash,crystals,layers,..."),
]
Workers = Annotated[
    int | None, typer.Option("--workers", help="So many processes here; one, this one, if unset.")
]
Scheduler = Annotated[
    str | None, typer.Option("--scheduler", help="A running Dask scheduler: tcp://host:8786.")
]
WorkerMemory = Annotated[
    str, typer.Option("--worker-memory", help="Of each process of --workers, at most.")
]
LotSize = Annotated[
    int, typer.Option("--lot-size", help="Formulas reckoned together and lost at most by a kill.")
]
Fresh = Annotated[
    bool, typer.Option("--fresh", help="Start again; replace what a former run left.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress bar.")]


def batch_command(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="CSV, XLSX, Parquet, or a folder of formula files.")
    ],
    out: Annotated[str, typer.Argument(metavar="OUT", help="A .parquet or .csv file.")],
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
    """Assess many formulas into one table, a row for each; a killed run goes on where it was."""
    begin_batch()
    from blendwright.app.batch.reading import source_of
    from blendwright.app.batch.run import Order, check_out

    asked = asked_of(only, temperature_C, pressure_kPa, drop_mL, batch_g)
    asked = replace(asked, observations=counted_observations(kept, no_observations))
    check_range("--lot-size", lot_size, 1, MOST_LOT_SIZE)
    usable(lambda: check_out(Path(out), Path(source), fresh))
    catalogue = catalogue_with(materials)
    order = usable(lambda: Order(source_of(source), Path(out), asked, catalogue, lot_size))
    carry_out(
        order,
        Hands(workers, scheduler, worker_memory),
        Manner(fresh, quiet, as_json, strict, f"blendwright batch {source} {out}"),
    )


class Hands:
    """Who does the work: this process, so many here, or a scheduler's workers."""

    def __init__(self, workers: int | None, scheduler: str | None, memory: str) -> None:
        if workers is not None and scheduler is not None:
            stop("give --workers or --scheduler, not both")
        if workers is not None:
            check_range("--workers", workers, 1, MOST_WORKERS)
        self.workers = workers
        self.scheduler = scheduler
        self.memory = memory

    @contextmanager
    def reckon(self, order: Order) -> Iterator[Callable[..., Iterator[object]]]:
        if self.workers is None and self.scheduler is None:
            from blendwright.app.batch.run import in_process

            yield in_process(order)
            return
        from blendwright.app.batch.errors import needs_distributed

        needs_distributed()
        from blendwright.app.batch.cluster import local_cluster, on_workers, scheduler_at

        if self.scheduler is not None:
            with scheduler_at(self.scheduler) as client:
                yield on_workers(order, client)
        else:
            assert self.workers is not None
            with local_cluster(self.workers, self.memory) as client:
                yield on_workers(order, client)


@dataclass(frozen=True)
class Manner:
    """How a run is begun and told of; `words` are the command that goes on with it."""

    fresh: bool
    quiet: bool
    as_json: bool
    strict: bool
    words: str


def begin_batch() -> None:
    """Stop with a plain message where the extra isn't installed."""
    from blendwright.app.batch.errors import needs_pyarrow

    usable(needs_pyarrow)


def asked_of(
    only: str | None, temperature_C: float, pressure_kPa: float, drop_mL: float, batch_g: str | None
) -> Request:
    """The options of a batch in SI, or a plain message."""
    from blendwright.app.batch.evaluate import Request
    from blendwright.app.batch.schema import questions

    check_conditions(temperature_C, pressure_kPa)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    try:
        words = None if only is None else [w.strip() for w in only.split(",") if w.strip()]
        wanted = questions(words)
    except ValueError as error:
        stop(f"--only: {error}")
    size = None
    if batch_g is not None:
        problems: list[Problem] = []
        size = parse_batch_g(batch_g, problems)
        if size is None:
            stop(f"--batch-g: {problems[0]}")
    return Request(temperature_C + 273.15, pressure_kPa * 1e3, wanted, drop_mL, size)


def carry_out(
    order: Order, hands: Hands, manner: Manner, then: Callable[[], None] = lambda: None
) -> None:
    """Run it, tell what came of it, do what follows, and exit as the other commands do."""
    from blendwright.app.batch.progress import shown
    from blendwright.app.batch.run import run

    begun = time.perf_counter()

    def go() -> Summary:
        with hands.reckon(order) as reckon, shown(manner.quiet) as told:
            return run(order, reckon, told, manner.fresh)  # type: ignore[arg-type]

    try:
        summary = usable(go)
    except KeyboardInterrupt:
        typer.echo(
            f"stopped; finished parts are kept. The same command goes on: {manner.words} ...",
            err=True,
        )
        raise typer.Exit(EXIT_INTERRUPTED) from None
    _tell(order, summary, time.perf_counter() - begun, manner)
    then()
    if summary.refused == summary.formulas:
        stop(f"none of the {summary.formulas:,} formulas could be used; {order.out} says why")
    if manner.strict and (summary.refused or summary.warnings):
        raise typer.Exit(EXIT_WARNING)


def _tell(order: Order, summary: Summary, seconds: float, manner: Manner) -> None:
    from blendwright.app.batch.summary import SUMMARY_SCHEMA, print_summary
    from blendwright.report.terminal import console
    from blendwright.version import __version__

    if not manner.as_json:
        print_summary(summary, str(order.out), console())
        return
    print_json(
        {
            "schema": SUMMARY_SCHEMA,
            "version": __version__,
            "data_version": order.catalogue.version(),
            "out": str(order.out),
            "asked": order.request.to_dict(),
            **summary.to_dict(),
            "seconds": round(seconds, 3),
        }
    )
