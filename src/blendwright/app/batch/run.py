"""One run from a source to OUT: resume, reckon the lots that are missing, assemble.

    lots -> reckon (here, or on workers) -> parts on disk -> ids checked -> OUT

A kill at any point costs the lots at work, no more: finished ones are complete files, and OUT
appears at one stroke at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from blendwright.app.batch.assembly import SUFFIXES, in_order, marks, refused_twins, write
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.evaluate import Asked, evaluated
from blendwright.app.batch.lots import LOT_SIZE, Lot
from blendwright.app.batch.parts import Parts
from blendwright.app.batch.reading import Source
from blendwright.app.batch.repeated import repeated
from blendwright.app.batch.schema import schema_of
from blendwright.app.batch.shelf import Shelf
from blendwright.app.batch.summary import Summary
from blendwright.catalogue import Catalogue
from blendwright.version import __version__

Reckon = Callable[[Iterable[Lot]], Iterator[tuple[Lot, pa.Table]]]
Told = Callable[[int, float | None], None]  # formulas finished just now, share of the input


@dataclass(frozen=True)
class Order:
    """What is to be done: from where, where to, what is asked, and how the work is cut."""

    source: Source
    out: Path
    asked: Asked
    catalogue: Catalogue
    lot_size: int = LOT_SIZE
    varied: tuple[pa.Field, ...] = ()

    def identity(self) -> dict[str, object]:
        """All that decides the numbers: two runs with one identity may share their parts."""
        return {
            "input": self.source.fingerprint(),
            "asked": self.asked.to_dict(),
            "version": __version__,
            "data_version": self.catalogue.version(),
            "lot_size": self.lot_size,
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
    if out.exists() and not fresh and not Parts(out).exists():
        raise BatchError(f"{out} is there already; name another file, or give --force")


def in_process(order: Order) -> Reckon:
    """Lots one after the other, here."""
    shelf = Shelf(order.catalogue, order.asked.drop_mL)

    def reckon(lots: Iterable[Lot]) -> Iterator[tuple[Lot, pa.Table]]:
        for lot in lots:
            yield lot, evaluated(lot, shelf, order.asked)

    return reckon


def run(order: Order, reckon: Reckon, told: Told, fresh: bool = False) -> Summary:
    """Do it, or go on with it. Raises BatchError or FormulaError; finished parts stay then."""
    parts = Parts(order.out)
    try:
        parts.begin(order.identity(), fresh)
        finished = parts.numbers()
        for lot, table in reckon(_missing(order, parts, finished, told)):
            parts.write(lot.number, table)
            told(lot.count, lot.share)
        if not parts.numbers():
            raise BatchError(f"{order.source.name} holds no formulas: a header and no rows")
        summary = _assembled(order, parts)
        parts.remove()
        return summary
    finally:
        parts.release()


def _missing(order: Order, parts: Parts, finished: set[int], told: Told) -> Iterator[Lot]:
    """The lots that no part holds yet."""
    last = 0
    for lot in order.source.lots(order.lot_size):
        last = lot.number
        if lot.number not in finished:
            yield lot
        elif parts.rows(lot.number) != lot.count:
            raise BatchError(f"part {lot.number} doesn't fit the input; start again with --force")
        else:
            told(lot.count, lot.share)
    if finished and max(finished) > last:
        raise BatchError("there are more parts than the input has; start again with --force")


def _assembled(order: Order, parts: Parts) -> Summary:
    summary = Summary()
    repeats = {}
    if order.source.ids_may_return:
        count = sum(parts.rows(number) for number in parts.numbers())
        ids = (table.column("formula") for table in parts.tables(["formula"]))
        repeats = repeated(ids, count, parts.folder)

    def written(path: Path) -> None:
        tables = summary.counted(refused_twins(in_order(parts.tables()), repeats))
        said = marks(order.asked, order.catalogue.version())
        schema = schema_of(order.asked.only, order.varied)
        write(path, order.out.suffix.casefold(), schema, tables, said)

    parts.publish(written)
    return summary
