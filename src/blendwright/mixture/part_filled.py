"""What stays liquid in a closed vessel that is only partly filled?

The vapour space holds what has left the liquid. At equilibrium, with V the vapour space,

    n_i (liquid) = n_i / (1 + x_i gamma_i Psat_i V / (R T n_i (liquid)))

solved by repeating it until nothing moves. Ideal vapour; the air's own pressure doesn't matter
(no Poynting term). The lightest parts go first, so the liquid that is left flashes higher; the
vapour space itself holds what has gone and burns as before.
"""

from __future__ import annotations

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.formula.conditions import GAS_CONSTANT_J_mol_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.liquid import NO_GROUPS
from blendwright.mixture.vapour import partial_pressures_Pa

ROUNDS = 100
SETTLED = 1e-9  # of each substance's moles
DAMPING = 0.7


def liquid_in_closed_vessel(
    composition: Composition, temperature_K: float, vapour_space_m3: float
) -> Composition:
    """The liquid at equilibrium with a vapour space, by the liquid model.

    Raises ValueError where the model does not cover the blend, or for a negative space;
    NotConvergedError.
    """
    if vapour_space_m3 < 0.0:
        raise ValueError("the vapour space must not be negative")
    if not composition.is_covered:
        raise ValueError(NO_GROUPS)
    total = composition.moles
    per_Pa = vapour_space_m3 / (GAS_CONSTANT_J_mol_K * temperature_K)
    share = np.ones(len(total))
    for _ in range(ROUNDS):
        liquid = composition.times(share)
        p = partial_pressures_Pa(liquid, temperature_K)
        new = 1.0 / (1.0 + p * per_Pa / (total * share))
        moved = float(np.abs(new - share).max())
        share = share * (new / share) ** DAMPING
        if moved < SETTLED:
            return composition.times(share)
    raise NotConvergedError("liquid in a part-filled vessel")
