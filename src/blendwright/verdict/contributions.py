"""What each row adds to the vapour over the blend and to its flammability."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.blend import Blend


@dataclass(frozen=True)
class Contribution:
    """What one row adds to the vapour and to the flammability, per cent."""

    material: str
    vapour_pct: float
    flammability_pct: float


def contributions(blend: Blend) -> tuple[Contribution, ...]:
    """One a row; zeros where the vapour or the flash point can't be told."""
    vapour: Array = np.zeros(len(blend.modelled_components.substances))
    if blend.headspace is not None and blend.headspace.pressures_Pa.sum() > 0.0:
        vapour = blend.headspace.pressures_Pa / blend.headspace.pressures_Pa.sum()
    by_vapour = blend.modelled_components.row_shares(vapour) * 100.0
    by_flash = blend.modelled_components.row_shares(blend.flash.shares) * 100.0
    return tuple(
        Contribution(row.label, float(v), float(f))
        for row, v, f in zip(blend.weighing.rows, by_vapour, by_flash, strict=True)
    )
