"""`assess_many`: formulas in, one table out, in this process."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TypeAlias

import pyarrow as pa

from blendwright.app.batch.assembly import metadata, refused_twins
from blendwright.app.batch.chunks import CHUNK_SIZE, Chunk, formula_chunks
from blendwright.app.batch.duplicate_ids import duplicate_ids
from blendwright.app.batch.evaluate import Request, evaluated
from blendwright.app.batch.reading import ArrowTable, source_of
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.schema import questions, schema_of
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.formula import Formula
from blendwright.formula.conditions import check_conditions
from blendwright.mixture.weighing import DROP_mL
from blendwright.observations import Observation

Formulas: TypeAlias = "Iterable[Formula] | pa.Table | str | Path"


def assessed(
    formulas: Formulas,
    temperature_K: float,
    pressure_Pa: float,
    only: Iterable[str] | None,
    catalogue: Catalogue | None,
    observations: tuple[Observation, ...] = (),
) -> pa.Table:
    """See `blendwright.app.batch.assess_many`."""
    check_conditions(temperature_K, pressure_Pa)
    catalogue = catalogue or default_catalogue()
    request = Request(temperature_K, pressure_Pa, questions(only), observations=observations)
    row_cache = RowCache(catalogue, DROP_mL)
    chunks, ids_may_return = _chunks(formulas)
    tables = [evaluated(chunk, row_cache, request) for chunk in chunks]
    if ids_may_return:
        ids = [table.column("formula") for table in tables]
        repeats = duplicate_ids(ids, sum(map(len, tables)))
        tables = list(refused_twins(tables, repeats))
    schema = schema_of(request.only).with_metadata(metadata(request, catalogue.version()))
    joined = pa.concat_tables(tables) if tables else schema.empty_table()
    return joined.combine_chunks().replace_schema_metadata(schema.metadata)


def _chunks(formulas: Formulas) -> tuple[Iterator[Chunk], bool]:
    if isinstance(formulas, pa.Table):
        table = ArrowTable(formulas)
        return table.chunks(CHUNK_SIZE), True
    if isinstance(formulas, str | Path):
        source = source_of(formulas)
        return source.chunks(CHUNK_SIZE), source.ids_may_return
    return iter(formula_chunks(list(formulas))), False
