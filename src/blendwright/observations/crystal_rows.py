"""A measured "fully dissolved at" as rows of the fit of the liquid model (`excess.measurement`).

At that temperature the last crystal of the measured blend is in equilibrium with the liquid: one
row. The last is the one that the model says; where with that row another would still be
undissolved there, that one gives a row too. Where the liquid lies in layers, the crystal's activity
is that over the layers.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from blendwright.mixture.composition import Composition
from blendwright.mixture.dissolution import dissolution, undersaturations
from blendwright.mixture.excess.measurement import (
    Measurement,
    Shift,
    crystal_measurement,
    shifts_of,
    terms_with,
)
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid import Liquid, search_for_layers

DISSOLVED_LN = -0.01  # of ln x: what is less supersaturated counts as dissolved


def crystal_rows(
    measured: Composition, temperature_K: float, half_width_K: float
) -> tuple[Measurement, ...]:
    """The rows of one measurement of a blend that the liquid model covers. Raises ValueError where
    nothing of it is a crystal there."""
    found = dissolution(measured, temperature_K).solids
    if not found:
        raise ValueError("nothing in the measured blend is a crystal at that temperature")
    offsets = _ln_offsets(measured, temperature_K)
    left = {solid.index: solid.temperature.interval()[0] for solid in found}
    rows: list[Measurement] = []
    last = max(left, key=lambda index: left[index])
    while True:
        del left[last]
        rows.append(
            crystal_measurement(
                measured.substances, measured.mole_fractions, last, temperature_K, half_width_K,
                ln_offset=float(offsets[last]),
            )
        )  # fmt: skip
        if not left:
            return tuple(rows)
        with_rows = measured.given(tuple(shifts_of(rows)))
        under = undersaturations(with_rows, temperature_K)
        by_index = dict(zip((s.index for s in found), under.tolist(), strict=True))
        last = min(left, key=lambda index: by_index[index])
        if by_index[last] >= DISSOLVED_LN:
            return tuple(rows)


def _ln_offsets(measured: Composition, temperature_K: float) -> np.ndarray:
    """ln(x gamma) over layers less that of the one liquid; zeros where it is one."""
    model = Liquid(measured.table, measured.part.index).at(temperature_K)
    layered = Layered(lambda _, blends: model.only(blends), measured.part.x, search_for_layers())
    found = layered.ln_offsets(np.array([temperature_K]), np.arange(1))[0]
    return found if layered.converged[0] else np.zeros_like(found)


@lru_cache(maxsize=64)
def shifts_by(rows: tuple[Measurement, ...]) -> tuple[Shift, ...]:
    """What all rows do together."""
    return tuple(shifts_of(rows))


def model_correlation(row: Measurement, here: Composition) -> float:
    """Correlation over the draws of the model's errors in the measured crystal's solubility there
    and here; from 0 to 1."""
    number = here.names.index(row.pures[row.crystal].name)
    try:
        own = crystal_measurement(here.substances, here.mole_fractions, number, row.temperature_K)
    except ValueError:
        return 0.0
    first, second = (one.spread(*terms_with(one.pures)) for one in (row, own))
    size = float(np.sqrt((first @ first) * (second @ second)))
    return min(max(float(first @ second) / size, 0.0), 1.0) if size > 0.0 else 0.0


def in_order(rows: Sequence[tuple[tuple[object, ...], Measurement]]) -> tuple[Measurement, ...]:
    """By their keys, so that the order in which observations are kept changes nothing."""
    return tuple(row for _, row in sorted(rows, key=lambda pair: repr(pair[0])))
