"""`blendwright batch`: many formulas from one table or folder into one table."""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.answer import EXIT_WARNING, print_object
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    STANDARD,
    Bench,
    Making,
    ObservationOptions,
    Output,
    Printed,
    check_range,
)

if TYPE_CHECKING:
    from blendwright.app.batch.evaluate import BatchRequest
    from blendwright.app.batch.run import Order
    from blendwright.app.batch.summary import Summary
    from blendwright.observations import Observation

EXIT_INTERRUPTED = 130  # as shells do for Ctrl-C
MOST_WORKERS = 1024
MOST_CHUNK_SIZE = 100_000
# how a table from standard input begins, and the form that it then has
BEGINNINGS = ((b"PK\x03\x04", ".xlsx"), (b"PAR1", ".parquet"), (b"", ".csv"))

Only = Annotated[
    str | None,
    typer.Option(
        "--only",
        metavar="NAMES",
        help="Ask only this: density,vapour,boiling,flash,crystals,layers,...",
    ),
]


@dataclass(frozen=True)
class Work:
    """Who does the work and in which pieces: this process, so many here, or a scheduler's."""

    workers: int | None = option(
        "--workers", "So many processes here; 1 is this one. Every core for many, unless given."
    )
    scheduler: str | None = option(
        "--scheduler", "A running Dask scheduler: tcp://host:8786.", metavar="ADDRESS"
    )
    worker_memory: str = option(
        "--worker-memory", "The most for each of --workers.", "1 GiB", metavar="SIZE"
    )
    chunk_size: int = option(
        "--chunk-size", "Formulas calculated together; an interruption loses so many.", 2000
    )
    quiet: bool = option("--quiet", "No progress bar.", False)

    def __post_init__(self) -> None:
        check_range("--chunk-size", self.chunk_size, 1, MOST_CHUNK_SIZE)
        if self.workers is not None and self.scheduler is not None:
            fail("give --workers or --scheduler, not both")
        if self.workers is not None:
            check_range("--workers", self.workers, 1, MOST_WORKERS)

    @contextmanager
    def evaluator(self, order: Order) -> Iterator[Callable[..., Iterator[object]]]:
        from blendwright.app.batch.errors import has_distributed, needs_distributed
        from blendwright.app.batch.run import in_process

        left_to_us = self.workers is None and self.scheduler is None
        if self.workers == 1 or (left_to_us and not has_distributed()):
            yield in_process(order)
            return
        if not left_to_us:
            needs_distributed()
        from blendwright.app.batch.cluster import (
            local_cluster,
            on_all_cores,
            on_workers,
            scheduler_at,
        )

        if self.scheduler is not None:
            with scheduler_at(self.scheduler) as client:
                yield on_workers(order, client)
        elif self.workers is not None:
            with local_cluster(self.workers, self.worker_memory) as client:
                yield on_workers(order, client)
        else:
            yield on_all_cores(order, self.worker_memory)


@dataclass(frozen=True)
class Run:
    """A run as it is begun and reported; `command` is what goes on with it."""

    work: Work
    printed: Printed
    force: bool
    command: str


@with_nouns
def batch_command(
    output: Output,
    source: Annotated[
        str,
        typer.Argument(
            metavar="INPUT",
            help="CSV, XLSX, Parquet, a folder of formula files, or - for standard input.",
        ),
    ],
    making: Making,
    bench: Bench,
    observed: ObservationOptions,
    work: Work,
    printed: Printed,
    only: Only = None,
) -> None:
    """Assess many formulas into one table, a row for each."""
    begin_batch()
    from blendwright.app.batch.reading import source_of
    from blendwright.app.batch.run import Order, check_out

    asked = asked_of(only, bench, making, observed.read())
    catalogue = making.catalogue()
    with table_at(output.output) as out:
        kept = None if source != STANDARD else kept_input(out)
        path = Path(source) if kept is None else kept
        exit_on_error(lambda: check_out(out, path, output.force))
        order = exit_on_error(
            lambda: Order(source_of(path), out, asked, catalogue, work.chunk_size)
        )
        command = f"blendwright batch {source} -o {output.output}"
        carry_out(order, Run(work, printed, output.force, command), output.output)
        if kept is not None:
            kept.unlink(missing_ok=True)


def kept_input(out: Path) -> Path:
    """Standard input, kept in a hidden file beside the result until that is complete.

    An interrupted run goes on when it is given once more.
    """
    data = sys.stdin.buffer.read()
    suffix = next(suffix for start, suffix in BEGINNINGS if data.startswith(start))
    path = out.with_name(f".{out.name}.input{suffix}")
    try:
        if not path.is_file() or path.read_bytes() != data:
            path.write_bytes(data)
    except OSError as error:
        fail(f"standard input can't be kept in {path} ({error.strerror})")
    return path


@contextmanager
def table_at(output: str) -> Iterator[Path]:
    """The file that a table is written to; one for -o - goes to standard output as CSV."""
    if output != STANDARD:
        yield Path(output)
        return
    with tempfile.TemporaryDirectory(prefix="blendwright-") as folder:
        made = Path(folder) / "table.csv"
        yield made
        if made.is_file():
            with made.open("rb") as table:
                shutil.copyfileobj(table, sys.stdout.buffer)


def begin_batch() -> None:
    """Stop with a plain message where the extra isn't installed."""
    from blendwright.app.batch.errors import needs_pyarrow

    exit_on_error(needs_pyarrow)


def asked_of(
    only: str | None, bench: Bench, making: Making, observations: tuple[Observation, ...]
) -> BatchRequest:
    """What is asked of every formula, in SI, or a plain message."""
    from blendwright.app.batch.evaluate import BatchRequest
    from blendwright.app.batch.schema import questions

    try:
        words = None if only is None else [w.strip() for w in only.split(",") if w.strip()]
        wanted = questions(words)
    except ValueError as error:
        fail(f"--only: {error}")
    return BatchRequest(
        bench.temperature_K,
        bench.pressure_Pa,
        wanted,
        making.one_drop_mL,
        exit_on_error(making.size_g),
        observations,
    )


def carry_out(order: Order, run: Run, output: str, then: Callable[[], None] = lambda: None) -> None:
    """Run it, say what came of it, do what follows, and exit as the other commands do."""
    from blendwright.app.batch.progress import shown
    from blendwright.app.batch.run import run as run_order

    begun = time.perf_counter()

    def go() -> Summary:
        with run.work.evaluator(order) as evaluate, shown(run.work.quiet) as progress:
            return run_order(order, evaluate, progress, run.force)  # type: ignore[arg-type]

    try:
        summary = exit_on_error(go)
    except KeyboardInterrupt:
        typer.echo(
            "interrupted; the finished parts are kept, and the same command goes on: "
            f"{run.command} ...",
            err=True,
        )
        raise typer.Exit(EXIT_INTERRUPTED) from None
    _report(order, summary, time.perf_counter() - begun, run.printed, output)
    then()
    if summary.refused == summary.formulas:
        fail(f"none of the {summary.formulas:,} formulas could be used; {output} says why")
    if run.printed.strict and (summary.refused or summary.warnings):
        raise typer.Exit(EXIT_WARNING)


def _report(order: Order, summary: Summary, seconds: float, printed: Printed, output: str) -> None:
    from blendwright.app.batch.summary import SUMMARY_SCHEMA, print_summary
    from blendwright.report.terminal import console

    if not printed.as_json:
        print_summary(summary, output, console(stderr=output == STANDARD))
        return
    print_object(
        {
            "schema": SUMMARY_SCHEMA,
            "out": output,
            "asked": order.request.to_dict(),
            **summary.to_dict(),
            "seconds": round(seconds, 3),
        },
        order.catalogue,
    )
