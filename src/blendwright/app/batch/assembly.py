"""From the finished parts to OUT: in order, complete, with doubtful ids refused."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq

from blendwright.app.batch.checkpoint import COMPRESSION
from blendwright.app.batch.duplicate_ids import Repeats
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.evaluate import BatchRequest
from blendwright.app.batch.schema import SCHEMA, without_answers
from blendwright.version import __version__

SUFFIXES = (".parquet", ".pq", ".csv")
GROUP_ROWS = 50_000  # of a row group of OUT
DUPLICATE = "duplicate id"


def metadata(request: BatchRequest, data_version: str) -> dict[str, str]:
    """What a Parquet file says of itself."""
    return {
        "blendwright.schema": SCHEMA,
        "blendwright.version": __version__,
        "blendwright.data_version": data_version,
        "blendwright.conditions": json.dumps(request.to_dict()),
    }


def refused_twins(tables: Iterable[pa.Table], repeats: Repeats) -> Iterator[pa.Table]:
    """The tables with every formula whose id isn't its own turned into an error."""
    for table in tables:
        numbers = table.column("number").to_pylist()
        rows = np.array([number in repeats for number in numbers], dtype=bool)
        if repeats and rows.any():
            ids = table.column("formula").to_pylist()
            table = without_answers(table, rows)
            kinds = table.column("error_kind").to_pylist()
            texts = table.column("error").to_pylist()
            for place in np.flatnonzero(rows).tolist():
                other = repeats[numbers[place]]
                kinds[place] = DUPLICATE
                texts[place] = (
                    f"the id {ids[place]!r} is used again by formula number {other}; keep the rows "
                    "of one formula together, and give each formula its own id"
                )
            for name, values in (("error_kind", kinds), ("error", texts)):
                at = table.schema.get_field_index(name)
                table = table.set_column(at, table.schema.field(at), pa.array(values, pa.string()))
        yield table


def in_order(tables: Iterable[pa.Table]) -> Iterator[pa.Table]:
    """These tables again; raises BatchError unless they number every formula once, from 1."""
    expected = 1
    for table in tables:
        numbers = table.column("number").to_numpy()
        if not np.array_equal(numbers, np.arange(expected, expected + len(numbers))):
            raise BatchError(
                f"the finished parts don't fit together at formula {expected}; start again with "
                "--force"
            )
        expected += len(numbers)
        yield table


def write(
    path: Path, suffix: str, schema: pa.Schema, tables: Iterable[pa.Table], said: Mapping[str, str]
) -> None:
    """All tables into one file, Parquet or CSV by its suffix."""
    schema = schema.with_metadata(dict(said))
    if suffix == ".csv":
        with pyarrow.csv.CSVWriter(path, schema) as out:
            for table in tables:
                out.write_table(table.replace_schema_metadata(schema.metadata))
        return
    with pq.ParquetWriter(path, schema, compression=COMPRESSION) as out:
        for table in _grouped(tables):
            out.write_table(table.replace_schema_metadata(schema.metadata))


def _grouped(tables: Iterable[pa.Table]) -> Iterator[pa.Table]:
    """Joined to row groups of a useful size."""
    held: list[pa.Table] = []
    for table in tables:
        held.append(table)
        if sum(map(len, held)) >= GROUP_ROWS:
            yield pa.concat_tables(held).combine_chunks()
            held = []
    if held:
        yield pa.concat_tables(held).combine_chunks()
