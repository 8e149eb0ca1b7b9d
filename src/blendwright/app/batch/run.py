"""One run from a source to OUT: resume, compute the chunks that are missing, assemble.

    chunks -> compute (here, or on workers) -> parts on disk -> ids checked -> OUT

A kill at any point costs the chunks at work, no more: finished ones are complete files, and OUT
appears at one stroke at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from blendwright.app.batch.assembly import SUFFIXES, in_order, metadata, refused_twins, write
from blendwright.app.batch.checkpoint import Checkpoint
from blendwright.app.batch.chunks import CHUNK_SIZE, Chunk
from blendwright.app.batch.duplicate_ids import duplicate_ids
from blendwright.app.batch.engine import Answered
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.evaluate import BatchRequest, evaluated
from blendwright.app.batch.reading import ChunkSource
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.schema import schema_of
from blendwright.app.batch.summary import Summary
from blendwright.catalogue import Catalogue
from blendwright.version import __version__

Compute = Callable[[Iterable[Chunk], Answered], Iterator[tuple[Chunk, pa.Table]]]
ReportProgress = Callable[
    [int, float | None], None
]  # formulas finished just now, share of the input


@dataclass(frozen=True)
class Order:
    """What is to be done: from where, where to, what is asked, and how the work is cut."""

    source: ChunkSource
    out: Path
    request: BatchRequest
    catalogue: Catalogue
    chunk_size: int = CHUNK_SIZE
    varied: tuple[pa.Field, ...] = ()

    def identity(self) -> dict[str, object]:
        """All that decides the numbers: two runs with one identity may share their parts."""
        return {
            "input": self.source.fingerprint(),
            "asked": self.request.to_dict(),
            "version": __version__,
            "data_version": self.catalogue.version(),
            "chunk_size": self.chunk_size,
        }


def check_out(out: Path, source: Path | None, fresh: bool) -> None:
    """Raises BatchError for an OUT that can't be, isn't to be, or is the input."""
    if out.suffix.casefold() not in SUFFIXES:
        raise BatchError(f"{out}: the table is written as {', '.join(SUFFIXES)}")
    if out.is_dir():
        raise BatchError(f"{out} is a folder; name a file in it")
    if not out.parent.is_dir():
        raise BatchError(f"{out}: there is no folder {out.parent}")
    if source is not None and out.exists() and source.exists() and out.samefile(source):
        raise BatchError(f"{out} is the input; the result goes into another file")
    if out.exists() and not fresh and not Checkpoint(out).exists():
        raise BatchError(f"{out} is there already; name another file, or give --force")


def in_process(order: Order) -> Compute:
    """Chunks one after the other, here."""
    row_cache = RowCache(order.catalogue, order.request.drop_mL)

    def compute(chunks: Iterable[Chunk], answered: Answered) -> Iterator[tuple[Chunk, pa.Table]]:
        for chunk in chunks:
            yield chunk, evaluated(chunk, row_cache, order.request, answered)

    return compute


def run(
    order: Order, compute: Compute, report_progress: ReportProgress, fresh: bool = False
) -> Summary:
    """Do it, or go on with it. Raises BatchError or FormulaError; finished parts stay then."""
    checkpoint = Checkpoint(order.out)
    try:
        checkpoint.begin(order.identity(), fresh)
        finished = checkpoint.numbers()
        told = 0  # of the chunk at work

        def answered(count: int) -> None:
            nonlocal told
            told += count
            report_progress(count, None)

        missing = _missing(order, checkpoint, finished, report_progress)
        for chunk, table in compute(missing, answered):
            checkpoint.write(chunk.number, table)
            report_progress(chunk.count - told, chunk.share)
            told = 0
        if not checkpoint.numbers():
            raise BatchError(f"{order.source.name} holds no formulas: a header and no rows")
        summary = _assembled(order, checkpoint)
        checkpoint.remove()
        return summary
    finally:
        checkpoint.release()


def _missing(
    order: Order, checkpoint: Checkpoint, finished: set[int], report_progress: ReportProgress
) -> Iterator[Chunk]:
    """The chunks that no part holds yet."""
    last = 0
    for chunk in order.source.chunks(order.chunk_size):
        last = chunk.number
        if chunk.number not in finished:
            yield chunk
        elif checkpoint.rows(chunk.number) != chunk.count:
            raise BatchError(f"part {chunk.number} doesn't fit the input; start again with --force")
        else:
            report_progress(chunk.count, chunk.share)
    if finished and max(finished) > last:
        raise BatchError("there are more parts than the input has; start again with --force")


def _assembled(order: Order, checkpoint: Checkpoint) -> Summary:
    summary = Summary()
    repeats = {}
    if order.source.ids_may_return:
        count = sum(checkpoint.rows(number) for number in checkpoint.numbers())
        ids = (table.column("formula") for table in checkpoint.tables(["formula"]))
        repeats = duplicate_ids(ids, count, checkpoint.folder)

    def written(path: Path) -> None:
        tables = summary.counted(refused_twins(in_order(checkpoint.tables()), repeats))
        said = metadata(order.request, order.catalogue.version())
        schema = schema_of(order.request.only, order.varied)
        write(path, order.out.suffix.casefold(), schema, tables, said)

    checkpoint.publish(written)
    return summary
