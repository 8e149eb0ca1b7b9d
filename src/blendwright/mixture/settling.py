"""How much of each crystal stays dissolved: every amount moves until nothing moves any more.

A solid's dissolved amount n follows ln n -> ln n - (ln(x gamma) - sought) / slope, between next to
nothing and all of it, the slope of ln(x gamma) in ln n being that of its last two amounts (secant),
or FIRST_SLOPE. `mixture/machine/crystals.py` says so in machine code.
"""

from __future__ import annotations

import numpy as np

from blendwright.mixture.liquid_split import WORTH_SORTING, BlockModel
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools

ROUNDS = 1000
SETTLED_LN = 1e-12
FIRST_SLOPE = 1.0 / 0.7  # above 1: damps the solids' pull on one another
SLOPES = 0.25, 4.0  # of a secant that is taken for one
SECANT_ROUNDS = 60  # then FIRST_SLOPE throughout
MOST_STEP_LN = 2.0
LEAST_DISSOLVED = 1e-60  # of the whole: where all is solid nothing stays liquid


def settled(
    total: Array, dissolved: Array, sought: Array, model: BlockModel
) -> tuple[Array, Bools]:
    """Move the dissolved amounts until nothing moves any more.

    Parameters
    ----------
    total, dissolved : arrays (blends, components), (blends, z, components)
        Moles: of all, and of what is dissolved to begin with, at each z.
    sought : array (blends, z, components)
        ln(x gamma) at saturation; not finite for what is no crystal.
    model : BlockModel

    Returns
    -------
    dissolved : array (blends, z, components)
        Moles.
    converged : array (blends,)
        Which blends came so far.
    """
    result = dissolved.copy()
    total = total[:, None, :]
    is_solid = np.isfinite(sought)
    blends = np.arange(len(result))
    converged = np.ones(len(result), dtype=bool)
    last, way = np.zeros_like(result), np.zeros_like(result)  # excess before, and the way since
    for turn in range(ROUNDS):
        x = dissolved / dissolved.sum(axis=2, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            excess = np.where(is_solid, np.log(x) + model.ln_gamma(x) - sought, 0.0)
            slope = (excess - last) / way if turn < SECANT_ROUNDS else np.zeros_like(excess)
            good = (slope > SLOPES[0]) & (slope < SLOPES[1])
            step = excess / np.where(good, slope, FIRST_SLOPE)
            step = np.clip(step, -MOST_STEP_LN, MOST_STEP_LN)
            new = np.clip(dissolved * np.exp(-step), LEAST_DISSOLVED * total, total)
            last, way = excess, np.log(np.where(is_solid, new / dissolved, 1.0))
        moved = np.abs(way).max(axis=(1, 2))
        dissolved = np.where(is_solid, new, dissolved)
        still = moved >= SETTLED_LN
        if still.sum() < WORTH_SORTING * still.size:
            done = ~still
            result[blends[done]] = dissolved[done]
            blends, dissolved, is_solid = blends[still], dissolved[still], is_solid[still]
            total, sought = total[still], sought[still]
            last, way = last[still], way[still]
            model = model.only(still)
        if not still.any():
            break
    else:
        converged[blends] = ~still if still.size == blends.size else False
    result[blends] = dissolved
    return result, converged
