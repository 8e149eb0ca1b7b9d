"""One list of formulas through `blendwright batch`'s own machinery, in a process of its own.

The list and the result lie in a temporary folder that goes when the run ends, however it ends. The
process tells how far it is through a pipe; when the server dies, its next word has nowhere to go
and it ends too. Stopping it is ending the process.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import signal
import tempfile
import time
import zipfile
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING

from blendwright.app.web.worker_pool import RefusedError
from blendwright.errors import BlendwrightError
from blendwright.formula.table_files import MOST_UNPACKED_BYTES, unpacked_bytes

if TYPE_CHECKING:
    import pyarrow as pa

    from blendwright.app.batch.run import Order
    from blendwright.app.batch.summary import Summary

SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".parquet")
RESULTS = (".csv", ".parquet")
MOST_FORMULAS = 50_000
LOT_SIZE = 200  # small: the bar moves, and a stop is quick
MOST_RUNS = 2  # at once, of one server
MOST_SHOWN = 10  # refused formulas
MOST_MEMORY_BYTES = 6 << 30  # of addresses: a packed list that unfolds without end stops here
POLL_s = 0.2


@dataclass(frozen=True)
class ListRequest:
    """A list, and what is asked of every formula in it. `only` empty is everything."""

    name: str
    content: bytes
    result: str
    temperature_K: float
    pressure_Pa: float
    drop_mL: float
    batch_g: float | None = None
    only: tuple[str, ...] = ()
    materials: str = ""
    observations: str = ""


@dataclass(frozen=True)
class Progress:
    """How far a run is."""

    finished: int
    total: int
    seconds: float

    @property
    def share(self) -> float:
        return self.finished / self.total if self.total else 0.0

    @property
    def per_second(self) -> float:
        return self.finished / self.seconds if self.seconds > 0.0 else 0.0

    @property
    def seconds_left(self) -> float | None:
        """None before anything is finished."""
        if not self.finished:
            return None
        return (self.total - self.finished) / self.per_second


@dataclass(frozen=True)
class BatchResult:
    """What came of a list: the counts, the first refused formulas with why, and the table."""

    summary: dict[str, object]
    refused: tuple[tuple[str, str], ...]
    content: bytes


@dataclass
class BatchRuns:
    """The runs of one server that are under way."""

    under_way: int = 0


RUNS = BatchRuns()


@dataclass
class BatchRun:
    """One run, to be followed and to be stopped."""

    request: ListRequest
    is_stopped: bool = False
    _process: BaseProcess | None = field(default=None, repr=False)

    async def follow(self) -> AsyncIterator[Progress | BatchResult]:
        """Begin; tell how far it is, at last what came of it. Raises RefusedError.

        A run that was stopped ends without a result.
        """
        if RUNS.under_way >= MOST_RUNS:
            raise RefusedError("other lists are being worked through here; try again in a while")
        RUNS.under_way += 1
        try:
            with tempfile.TemporaryDirectory(prefix="blendwright-") as folder:
                async for told in self._follow_in(Path(folder)):
                    yield told
        finally:
            RUNS.under_way -= 1

    async def _follow_in(self, folder: Path) -> AsyncIterator[Progress | BatchResult]:
        source = folder / f"list{Path(self.request.name).suffix.casefold()}"
        out = folder / f"result{self.request.result}"
        source.write_bytes(self.request.content)
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe(duplex=False)
        process = context.Process(target=work, args=(self.request, source, out, there), daemon=True)
        self._process = process
        began = time.monotonic()
        process.start()
        there.close()
        finished = total = 0
        try:
            while not self.is_stopped:
                word = await asyncio.to_thread(_heard, here)
                match word:
                    case ("total", int(count)):
                        total = count
                    case ("finished", int(count)):
                        finished += count
                    case ("refused", str(words)):
                        raise RefusedError(words.replace(source.name, self.request.name))
                    case ("came", dict(summary), tuple(refused)):
                        yield BatchResult(summary, refused, out.read_bytes())
                        return
                    case "over":
                        break
                yield Progress(finished, total, time.monotonic() - began)
            if not self.is_stopped:
                raise RefusedError("the list was too much for this computer; cut it, and try again")
        finally:
            process.terminate()
            await asyncio.to_thread(process.join, 10.0)
            here.close()

    def stop(self) -> None:
        """End it now."""
        self.is_stopped = True
        if self._process is not None:
            self._process.terminate()


def _heard(here: Connection) -> object:
    """The next word of the process, None while it has none, "over" when it has ended."""
    try:
        return here.recv() if here.poll(POLL_s) else None
    except (EOFError, OSError):
        return "over"


# In the process


def work(request: ListRequest, source: Path, out: Path, say: Connection) -> None:
    """The whole run; words for the person go through the pipe."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server
    _bound_memory()
    try:
        summary, refused = _worked(request, source, out, say)
    except (BlendwrightError, ValueError) as error:
        say.send(("refused", str(error)))
    except MemoryError:
        say.send(("refused", "the list unfolds to more than the memory here holds; cut it"))
    else:
        say.send(("came", summary.to_dict(), refused))
    finally:
        say.close()


def _bound_memory() -> None:
    with suppress(ImportError, ValueError, OSError):  # no such bound on some systems
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))


def _worked(
    request: ListRequest, source: Path, out: Path, say: Connection
) -> tuple[Summary, tuple[tuple[str, str], ...]]:
    from blendwright.app.batch.errors import needs_pyarrow

    needs_pyarrow()
    from blendwright.app.batch.run import in_process, run

    order = _order(request, source, out)
    say.send(("total", _count(order)))
    summary = run(order, in_process(order), lambda count, _: say.send(("finished", count)))
    return summary, _refused(out)


def _order(request: ListRequest, source: Path, out: Path) -> Order:
    from blendwright.app.batch.evaluate import BatchRequest
    from blendwright.app.batch.reading import source_of
    from blendwright.app.batch.run import Order
    from blendwright.app.batch.schema import questions
    from blendwright.catalogue import default_catalogue
    from blendwright.observations import read_observations
    from blendwright.questions.materials.own import read_own_materials

    _check_workbook(source)
    catalogue = default_catalogue()
    if request.materials:
        catalogue = read_own_materials(Path(request.materials), catalogue)
    wanted = questions(request.only or None)
    seen = read_observations(request.observations) if request.observations else ()
    every = BatchRequest(
        request.temperature_K, request.pressure_Pa, wanted, request.drop_mL, request.batch_g, seen
    )
    return Order(source_of(source), out, every, catalogue, LOT_SIZE)


def _check_workbook(source: Path) -> None:
    """Raises ValueError for a workbook that unfolds to far more than it weighs."""
    if not zipfile.is_zipfile(source) or source.suffix != ".xlsx":
        return
    if unpacked_bytes(source) > MOST_UNPACKED_BYTES:
        raise ValueError(
            f"{source.name}: the workbook unfolds to more than "
            f"{MOST_UNPACKED_BYTES // 1_000_000} MB; cut it, or save it as CSV"
        )


def _count(order: Order) -> int:
    """How many formulas there are. Raises ValueError for more than the page takes."""
    count = 0
    for chunk in order.source.chunks(LOT_SIZE):
        count += chunk.count
        if count > MOST_FORMULAS:
            raise ValueError(
                f"more than {MOST_FORMULAS:,} formulas: too many for the page; "
                "use blendwright batch"
            )
    return count


def _refused(out: Path) -> tuple[tuple[str, str], ...]:
    """The first formulas that were refused, and why."""
    import pyarrow.compute as pc

    table = _table(out).select(["formula", "error"])
    table = table.filter(pc.is_valid(table.column("error"))).slice(0, MOST_SHOWN)
    return tuple((str(row["formula"]), str(row["error"])) for row in table.to_pylist())


def _table(out: Path) -> pa.Table:
    if out.suffix == ".csv":
        import pyarrow as pa
        from pyarrow import csv

        texts = {name: pa.string() for name in ("formula", "error", "error_kind")}
        options = csv.ConvertOptions(
            include_columns=["formula", "error"], column_types=texts, strings_can_be_null=True
        )
        return csv.read_csv(
            out, parse_options=csv.ParseOptions(newlines_in_values=True), convert_options=options
        )
    import pyarrow.parquet as pq

    return pq.read_table(out, columns=["formula", "error"])
