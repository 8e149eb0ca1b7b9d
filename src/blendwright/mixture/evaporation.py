"""What is lost into the air while an open beaker is stirred?

Mass transfer over an open surface (Mackay and Matsugu 1973):

    k = 0.0292 U^0.78 X^-0.11 Sc^-0.67     (m/h; U air speed m/h, X diameter m)
    n_i = k A t p_i / (R T)

with the loss drawn down as first order, so that never more than all is lost. Sc = 1.5, mid of
organic vapours in air (common practice, no source). Within about a factor 2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.conditions import GAS_CONSTANT_J_mol_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array

SCHMIDT = 1.5


@dataclass(frozen=True)
class OpenBeaker:
    """An open vessel: diameter m, air speed over it m/s, time s."""

    diameter_m: float = 0.06
    air_speed_m_s: float = 0.15
    time_s: float = 1200.0

    @property
    def area_m2(self) -> float:
        return float(np.pi / 4.0 * self.diameter_m**2)

    @property
    def coefficient_m_s(self) -> float:
        per_hour = (
            0.0292 * (self.air_speed_m_s * 3600.0) ** 0.78 * self.diameter_m**-0.11 * SCHMIDT**-0.67
        )
        return float(per_hour / 3600.0)


def share_lost(
    composition: Composition, pressures_Pa: Array, temperature_K: float, beaker: OpenBeaker
) -> Array:
    """Share of each substance that leaves, 0 to 1, from its partial pressure over the blend."""
    rate = (
        beaker.coefficient_m_s
        * beaker.area_m2
        * pressures_Pa
        / (GAS_CONSTANT_J_mol_K * temperature_K)
    )
    return np.asarray(1.0 - np.exp(-rate * beaker.time_s / composition.moles))
