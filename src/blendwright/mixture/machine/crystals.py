"""The solid equilibrium in machine code: the rounds of `dissolution.settled`, blend by blend.

The levels of a blend's interval go side by side.
"""

from __future__ import annotations

import numpy as np

from blendwright.mixture.machine.activity import CompiledModel, gathered, ln_gamma
from blendwright.mixture.machine.lanes import LANES, lanes_of, machine_code
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.settling import (
    LEAST_DISSOLVED,
    MOST_STEP_LN,
    ROUNDS,
    SETTLED_LN,
    STEP_SHARE,
)
from blendwright.pure.roots import Bools


def settled(
    total: Array, dissolved: Array, sought: Array, model: CompiledModel
) -> tuple[Array, Bools]:
    """The dissolved moles (blends, levels, components) at which nothing moves any more, and which
    blends came so far.

    total (blends, components), moles; dissolved, where to begin, and sought, ln(x gamma) of what
    can crystallise and infinite for what can't, as the result. LANES levels at most.
    """
    result = np.ascontiguousarray(dissolved).copy()
    total, sought = np.ascontiguousarray(total), np.ascontiguousarray(sought)
    converged = np.zeros(len(result), dtype=bool)
    _settle(total, result, sought, model.blends, model.tables, converged)
    return result, converged


@machine_code
def _settle(total, dissolved, sought, blends, tables, converged):
    levels = dissolved.shape[1]
    for b in range(len(total)):
        here = np.flatnonzero(total[b] > 0.0)
        n = here.size
        model = gathered(b, here, blends, tables)
        room = lanes_of(2 * n)  # mole fractions, ln gamma
        for k in range(n):
            for lane in range(LANES):
                room[k, lane] = 1.0 / n
        for _ in range(ROUNDS):
            for level in range(levels):
                summed = 0.0
                for k in range(n):
                    room[k, level] = dissolved[b, level, here[k]]
                    summed += room[k, level]
                for k in range(n):
                    room[k, level] /= summed
            ln_gamma(room, 0, model, n)
            moved = 0.0
            for k in range(n):
                i = here[k]
                for level in range(levels):
                    if not np.isfinite(sought[b, level, i]):
                        continue
                    excess = np.log(room[k, level]) + room[n + k, level] - sought[b, level, i]
                    step = min(max(STEP_SHARE * excess, -MOST_STEP_LN), MOST_STEP_LN)
                    old = dissolved[b, level, i]
                    new = min(max(old * np.exp(-step), LEAST_DISSOLVED * total[b, i]), total[b, i])
                    moved = max(moved, abs(np.log(new / old)))
                    dissolved[b, level, i] = new
            if moved < SETTLED_LN:
                converged[b] = True
                break
