"""`assess_many`: formulas in, one table out, in this process."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import pyarrow as pa

from blendwright.app.batch.assembly import metadata, refused_twins
from blendwright.app.batch.chunks import CHUNK_SIZE, Chunk, formula_chunks
from blendwright.app.batch.duplicate_ids import duplicate_ids
from blendwright.app.batch.evaluate import BatchRequest, evaluated
from blendwright.app.batch.reading import ArrowTable, source_of
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.schema import schema_of
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.formula import Formula, check_is_formula
from blendwright.formula.conditions import check_conditions
from blendwright.formula.numbers import cell_text

if TYPE_CHECKING:
    from pandas import DataFrame

Formulas: TypeAlias = "Iterable[Formula] | pa.Table | DataFrame | str | Path"


def assessed(
    formulas: Formulas, request: BatchRequest, catalogue: Catalogue | None
) -> pa.Table | DataFrame:
    """See `blendwright.app.batch.assess_many`."""
    check_conditions(request.temperature_K, request.pressure_Pa)
    catalogue = catalogue or default_catalogue()
    row_cache = RowCache(catalogue, request.drop_mL)
    frame = formulas if _is_frame(formulas) else None
    if frame is not None:
        formulas = _arrow(frame)
    chunks, ids_may_return = _chunks(formulas)
    tables = [evaluated(chunk, row_cache, request) for chunk in chunks]
    if ids_may_return:
        ids = [table.column("formula") for table in tables]
        repeats = duplicate_ids(ids, sum(map(len, tables)))
        tables = list(refused_twins(tables, repeats))
    schema = schema_of(request.only).with_metadata(metadata(request, catalogue.version()))
    joined = pa.concat_tables(tables) if tables else schema.empty_table()
    made = joined.combine_chunks().replace_schema_metadata(schema.metadata)
    return made if frame is None else made.to_pandas()


def _is_frame(formulas: object) -> bool:
    """Whether it is a pandas DataFrame, without importing pandas."""
    kind = type(formulas)
    return kind.__module__.partition(".")[0] == "pandas" and kind.__name__ == "DataFrame"


def _arrow(frame: Any) -> pa.Table:
    """A DataFrame as an Arrow table; a column of numbers and texts ("q.s.") becomes texts."""
    table = frame.reset_index() if frame.index.names != [None] else frame
    columns = {}
    for name in table.columns:
        column = table[name]
        if column.dtype == object:
            missing = column.isna()
            column = [
                None if gone else cell_text(cell)
                for cell, gone in zip(column, missing, strict=True)
            ]
        columns[str(name)] = pa.array(column, from_pandas=True)
    return pa.table(columns)


def _chunks(formulas: Formulas) -> tuple[Iterator[Chunk], bool]:
    if isinstance(formulas, pa.Table):
        table = ArrowTable(formulas)
        return table.chunks(CHUNK_SIZE), True
    if isinstance(formulas, str | Path):
        source = source_of(formulas)
        return source.chunks(CHUNK_SIZE), source.ids_may_return
    if isinstance(formulas, Formula | Mapping) or not hasattr(formulas, "__iter__"):
        raise TypeError(
            "assess_many takes formulas, a table or a file; for one formula: assess_many([formula])"
        )
    listed = list(formulas)
    for formula in listed:
        check_is_formula(formula)
    return iter(formula_chunks(listed)), False
