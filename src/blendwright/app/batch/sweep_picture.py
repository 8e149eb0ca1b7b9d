"""From a sweep's table to its picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq

from blendwright.app.batch.sweep import Axis, Sweep
from blendwright.report.pictures.sweep import (
    Quantity,
    SweepCurve,
    SweepCurves,
    SweepMap,
    curves,
    value_map,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WORDS = {
    "density_g_mL": "density, g/mL",
    "volume_mL": "volume, mL",
    "vapour_pressure_kPa": "vapour pressure, kPa",
    "initial_boiling_point_C": "initial boiling point, °C",
    "flash_point_closed_cup_C": "flash point, closed cup, °C",
    "dissolved_share": "share of the crystals dissolved, %",
    "dissolution_temperature_C": "fully dissolved above, °C",
    "cloud_temperature_C": "clouds below, °C",
    "lower_flammable_limit_vol_pct": "lower flammable limit, vol %",
}
FLASH_LIMITS_C = (23.0, 60.0, 93.0)  # GHS 2.6, closed cup; verdict/limits.csv has them in full


def swept(sweep: Sweep, path: Path, column: str) -> Figure:
    """One varied thing: a curve with its interval. Two: a map, or a curve for each carrier."""
    table = _read(path, [*(field.name for field in sweep.fields), *_ends(column)])
    value, low, high = (_numbers(table, name) for name in _ends(column))
    limits = FLASH_LIMITS_C if column == "flash_point_closed_cup_C" else ()
    quantity = Quantity(WORDS[column], limits)
    axes = sweep.plan.axes
    along = [axis for axis in axes if not axis.is_carrier]
    if len(along) == 2:
        x, y = (_numbers(table, axis.field.name) for axis in along)
        found = SweepMap(x, y, value, _words(along[0]), _words(along[1]))
        return value_map(found, quantity, sweep.name)
    groups = _groups(table, axes)
    if along:
        x, words = _numbers(table, along[0].field.name), _words(along[0])
        made = [
            SweepCurve(name, x[rows], value[rows], low[rows], high[rows]) for name, rows in groups
        ]
    else:
        made = [
            SweepCurve(name, np.full(int(rows.sum()), float(n)), value[rows], low[rows], high[rows])
            for n, (name, rows) in enumerate(groups)
        ]
        words = ""
    return curves(SweepCurves(tuple(made), words), quantity, sweep.name)


def _read(path: Path, columns: list[str]) -> pa.Table:
    if path.suffix.casefold() == ".csv":
        options = pyarrow.csv.ConvertOptions(include_columns=columns)
        return pyarrow.csv.read_csv(path, convert_options=options)
    return pq.read_table(path, columns=columns)


def _ends(column: str) -> list[str]:
    return [column, f"{column}_low", f"{column}_high"]


def _numbers(table: pa.Table, name: str) -> np.ndarray[Any, Any]:
    return np.array([np.nan if v is None else v for v in table.column(name).to_pylist()], float)


def _words(axis: Axis) -> str:
    return f"{axis.name}, g"


def _groups(table: pa.Table, axes: tuple[Axis, ...]) -> list[tuple[str, np.ndarray[Any, Any]]]:
    carrier = next((axis for axis in axes if axis.is_carrier), None)
    if carrier is None:
        return [("", np.ones(len(table), dtype=bool))]
    held = np.array(table.column(carrier.field.name).to_pylist())
    return [(str(name), held == name) for name in dict.fromkeys(map(str, carrier.values))]
