"""Many formulas from one table or folder, streamed, into one table with a row for each.

Reading, cutting into chunks, checkpoints, workers and the summary are here; what the blends do is
asked of `batch.answer_table`. Needs the extra `batch` (pyarrow, and dask.distributed for workers).
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from blendwright.catalogue import Catalogue
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.weighing import DROP_mL
from blendwright.observations import Observation

if TYPE_CHECKING:
    import pyarrow as pa
    from pandas import DataFrame


def assess_many(
    formulas: Iterable[Formula] | pa.Table | DataFrame | str | Path,
    temperature_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    only: Iterable[str] | None = None,
    catalogue: Catalogue | None = None,
    drop_mL: float = DROP_mL,
    observations: Iterable[Observation] = (),
) -> Any:
    """One row for each formula, in the order of the input; a bad formula is a row with its error.

    `formulas` are Formula objects, a table in the long form (columns formula, material, grams and
    the others of docs/batch.md; a pandas DataFrame or an Arrow table), or a file or folder that
    `blendwright batch` takes. A DataFrame is answered by a DataFrame, all else by an Arrow table.
    Conditions and drops are those of `assess`. `only` names
    questions of `blendwright.app.batch.schema.QUESTIONS`; all of them unless given.
    `observations` are the person's own and count as in `assess`; none are read unless given.
    Columns are those of docs/batch.md, in °C, kPa, g/mL, mL, vol %; null where there is no number.

    Raises MissingBatchExtraError without pyarrow, TypeError for a single formula, a mapping or a
    Series, FormulaError for an input that can't be read,
    ValueError for conditions out of range (-40 to 150 °C, 10 to 120 kPa) or an unknown question.
    """
    from blendwright.app.batch.errors import needs_pyarrow

    needs_pyarrow()
    from blendwright.app.batch.evaluate import BatchRequest
    from blendwright.app.batch.in_memory import assessed
    from blendwright.app.batch.schema import questions

    conditions = BatchRequest(
        temperature_K, pressure_Pa, questions(only), drop_mL, None, tuple(observations)
    )
    return assessed(formulas, conditions, catalogue)
