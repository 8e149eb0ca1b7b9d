"""`assess_many`: formulas in, one table out, in this process."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TypeAlias

import pyarrow as pa

from blendwright.app.batch.assembly import marks, refused_twins
from blendwright.app.batch.evaluate import Asked, evaluated
from blendwright.app.batch.lots import LOT_SIZE, Lot, formula_lots
from blendwright.app.batch.reading import ArrowTable, source_of
from blendwright.app.batch.repeated import repeated
from blendwright.app.batch.schema import questions, schema_of
from blendwright.app.batch.shelf import Shelf
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
    asked = Asked(temperature_K, pressure_Pa, questions(only), observations=observations)
    shelf = Shelf(catalogue, DROP_mL)
    lots, ids_may_return = _lots(formulas)
    tables = [evaluated(lot, shelf, asked) for lot in lots]
    if ids_may_return:
        ids = [table.column("formula") for table in tables]
        repeats = repeated(ids, sum(map(len, tables)))
        tables = list(refused_twins(tables, repeats))
    schema = schema_of(asked.only).with_metadata(marks(asked, catalogue.version()))
    joined = pa.concat_tables(tables) if tables else schema.empty_table()
    return joined.combine_chunks().replace_schema_metadata(schema.metadata)


def _lots(formulas: Formulas) -> tuple[Iterator[Lot], bool]:
    if isinstance(formulas, pa.Table):
        table = ArrowTable(formulas)
        return table.lots(LOT_SIZE), True
    if isinstance(formulas, str | Path):
        source = source_of(formulas)
        return source.lots(LOT_SIZE), source.ids_may_return
    return iter(formula_lots(list(formulas))), False
