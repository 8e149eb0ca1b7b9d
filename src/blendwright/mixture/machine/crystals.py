"""The solid equilibrium in machine code: the rounds of `dissolution.settled`, blend by blend.

The levels of a blend's interval go side by side.
"""

from __future__ import annotations

import numpy as np

from blendwright.mixture.machine.activity import (
    CompiledModel,
    for_machine_code,
    gathered,
    ln_gamma,
    no_temperature,
)
from blendwright.mixture.machine.lanes import (
    LANES,
    exps,
    lanes_of,
    logs,
    machine_code,
    product,
    quotient,
    sum_of_products,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.settling import (
    FIRST_SLOPE,
    LEAST_DISSOLVED,
    MOST_STEP_LN,
    ROUNDS,
    SECANT_ROUNDS,
    SETTLED_LN,
    SLOPES,
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
    result = np.array(dissolved, order="C")
    total, sought = for_machine_code(total), for_machine_code(sought)
    converged = np.zeros(len(result), dtype=bool)
    _settle(total, result, sought, model.blends, model.tables, converged)
    return result, converged


@machine_code
def _settle(total, dissolved, sought, blends, tables, converged):
    levels = dissolved.shape[1]
    at = no_temperature(tables)
    for b in range(len(total)):
        here = np.flatnonzero(total[b] > 0.0)
        n = here.size
        model = gathered(b, here, blends, tables, at)
        solid = _that_crystallise(sought[b], here)
        # rows: moles, mole fractions, ln gamma and ones of each component; of a solid a step, its
        # excess before and the way since; the sum and its inverse
        room = lanes_of(4 * n + 3 * solid.size + 2)
        moles, x, gamma, ones, step = 0, n, 2 * n, 3 * n, 4 * n
        last, way, summed = step + solid.size, step + 2 * solid.size, step + 3 * solid.size
        inverse = summed + 1
        steps = room.reshape(-1)[step * LANES : last * LANES]
        for k in range(n):
            for lane in range(LANES):
                room[ones + k, lane] = 1.0
                room[moles + k, lane] = dissolved[b, min(lane, levels - 1), here[k]]
        for turn in range(ROUNDS):
            sum_of_products(room, summed, room, moles, room, ones, n)
            quotient(room, inverse, room, ones, room, summed)
            for k in range(n):
                product(room, x + k, room, moles + k, room, inverse)
            ln_gamma(room, x, model, gamma)
            for s in range(solid.size):
                product(room, step + s, room, x + solid[s], room, ones)
            logs(steps)
            for s in range(solid.size):
                k = solid[s]
                for lane in range(levels):
                    excess = room[step + s, lane] + room[gamma + k, lane]
                    excess -= sought[b, lane, here[k]]  # infinite: all of it dissolved
                    slope = FIRST_SLOPE
                    if turn < SECANT_ROUNDS and room[way + s, lane] != 0.0:
                        secant = (excess - room[last + s, lane]) / room[way + s, lane]
                        if SLOPES[0] < secant < SLOPES[1]:
                            slope = secant
                    room[last + s, lane] = excess
                    less = min(max(excess / slope, -MOST_STEP_LN), MOST_STEP_LN)
                    room[step + s, lane] = -less
                for lane in range(levels, LANES):
                    room[step + s, lane] = 0.0
            exps(steps, -MOST_STEP_LN, MOST_STEP_LN)
            moved = 0.0
            for s in range(solid.size):
                k = solid[s]
                whole = total[b, here[k]]
                for lane in range(levels):
                    if np.isfinite(sought[b, lane, here[k]]):
                        old = room[moles + k, lane]
                        new = min(max(old * room[step + s, lane], LEAST_DISSOLVED * whole), whole)
                        room[way + s, lane] = np.log(new / old)
                        moved = max(moved, abs(room[way + s, lane]))
                        room[moles + k, lane] = new
            if moved < SETTLED_LN:
                converged[b] = True
                break
        for k in range(n):
            for lane in range(levels):
                dissolved[b, lane, here[k]] = room[moles + k, lane]


@machine_code
def _that_crystallise(sought, here):
    """Which of a blend's components can crystallise at any level."""
    found = np.empty(here.size, dtype=np.int64)
    count = 0
    for k in range(here.size):
        if np.isfinite(sought[:, here[k]]).any():
            found[count] = k
            count += 1
    return found[:count]
