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
    """Assess many formulas: one row each, in the order of the input; a bad formula is a row with
    its error.

    Parameters
    ----------
    formulas : iterable of Formula, table, DataFrame, str or Path
        Formulas, a table in the long form (columns formula, material, grams and the others of
        docs/batch.md; a pandas DataFrame or an Arrow table), or a file or folder that
        `blendwright batch` takes.
    temperature_K, pressure_Pa, drop_mL : float
        As in `assess`.
    only : iterable of str, optional
        Questions of `blendwright.app.batch.schema.QUESTIONS`; all of them unless given.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.
        They count as in `assess`.

    Returns
    -------
    DataFrame or pyarrow.Table
        A DataFrame for a DataFrame, an Arrow table for all else; columns are those of
        docs/batch.md, in °C, kPa, g/mL, mL, vol %, null where there is no number.

    Raises
    ------
    MissingBatchExtraError
        Without pyarrow.
    TypeError
        For a single formula, a mapping or a Series.
    FormulaError
        For an input that can't be read.
    ValueError
        For conditions out of range or an unknown question.
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
