"""What lies in the vessel at a temperature: one liquid or two, and crystals, of least Gibbs energy.

Crystals are taken out where the liquid is supersaturated with them (`dissolution`), and the liquid
that is left is split where it is unstable (`layered`); where both happen they are solved together.
Vapour, flash and boiling points are those of this state, by the posterior mean of the liquid model;
it knows no bench and no question.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.mixture.dissolution import is_supersaturated, undissolved
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid import Liquid, search_for_layers
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.roots import Bools, Ints
from blendwright.mixture.substances import Substances

LEAST_LEFT = 1e-9  # of a component: what is all crystals keeps a trace in the liquid


@dataclass(frozen=True, eq=False)
class State:
    """Of blends, arrays (blends, components): the composition `x` of the liquid that the vapour
    stands over and its ln gamma; `second` is the composition of the other liquid and `in_second`
    the share of each component that is there (zeros where it is one liquid). `has_split` and
    `has_crystals` tell what it is, `converged` whether that is sure."""

    x: Array
    ln_gamma: Array
    second: Array
    in_second: Array
    has_split: Bools
    has_crystals: Bools
    converged: Bools

    def draw_shifts(self, liquid: Liquid, weights: Array, temperatures_K: float | Array) -> Array:
        """By how much sum_i weights_i ln a_i differs in each draw (blends, draws), each component
        counted in the liquids by its amounts there."""
        found = liquid.draw_shifts(self.x, weights * (1.0 - self.in_second), temperatures_K)
        where = np.flatnonzero(self.has_split)
        if where.size:
            own = temperatures_K if isinstance(temperatures_K, float) else temperatures_K[where]
            found[where] += liquid.only(where).draw_shifts(
                self.second[where], (weights * self.in_second)[where], own
            )
        return found


def state(substances: Substances, part: Part, liquid: Liquid, temperatures_K: Array) -> State:
    """Of each blend of a part at its own temperature, K."""
    x, is_solid, converged = part.x, np.zeros(len(part), dtype=bool), np.ones(len(part), dtype=bool)
    model = liquid.at_each(temperatures_K)
    with_crystals = np.flatnonzero(is_supersaturated(substances, part, model, temperatures_K))
    if with_crystals.size:
        some = part.only(with_crystals)
        left, sure = _without_crystals(substances, some, temperatures_K[with_crystals], False)
        x = x.copy()
        x[with_crystals] = left.x
        is_solid[with_crystals], converged[with_crystals] = True, sure

    def model_at(_: Array, blends: Ints):  # type: ignore[no-untyped-def]
        return model.only(blends)

    layered = Layered(model_at, x, search_for_layers())
    every = np.arange(len(part))
    found, ln_gamma = layered.liquid(temperatures_K, every)
    both = np.flatnonzero(layered.parted & is_solid)
    if both.size:
        left, sure = _without_crystals(substances, part.only(both), temperatures_K[both], True)
        layered.x[both] = left.x
        found[both], ln_gamma[both] = layered.liquid(temperatures_K[both], both)
        converged[both] = sure
    second, in_second = layered.second(found)
    return State(
        found,
        ln_gamma,
        second,
        in_second,
        layered.parted.copy(),
        is_solid,
        converged & layered.converged,
    )


def _without_crystals(
    substances: Substances, part: Part, temperatures_K: Array, layers: bool
) -> tuple[Part, Bools]:
    """The liquid that the crystals leave."""
    share, sure = undissolved(substances, part, temperatures_K, layers, best_only=True)
    return part.times(np.maximum(1.0 - np.nan_to_num(share[0]), LEAST_LEFT)), sure
