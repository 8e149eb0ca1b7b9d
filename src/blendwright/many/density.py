"""Density of every blend of a block: `mixture.density` over pairs of blend and substance."""

from __future__ import annotations

import numpy as np

from blendwright.many.rows import Block
from blendwright.mixture.density import excess_pairs, mixing_spread, pair_excess_m3_mol
from blendwright.mixture.parameter_sets import Array


def block_density(block: Block, temperature_K: float) -> tuple[Array, Array]:
    """Density and half of its interval, kg/m3; not a number where one substance's is unknown."""
    own = block.substances
    density, half = own.densities(temperature_K)
    sub, w = block.pair_sub, block.pair_mass_share
    pair_moles = block.pair_kg / own.molar_mass_kg_mol[sub]
    x = pair_moles / block.per_blend(pair_moles)[block.pair_blend]
    mean_mass = block.per_blend(x * own.molar_mass_kg_mol[sub])
    excess = np.zeros(block.size)
    known = np.zeros(block.size, dtype=bool)
    for (first, second), (coefficients, _) in excess_pairs().items():
        a, b = block.amount_of(first, x), block.amount_of(second, x)
        both = (a > 0.0) & (b > 0.0)
        known |= both
        excess[both] += pair_excess_m3_mol(coefficients, a[both], b[both])
    parts = w / density[sub]
    specific = block.per_blend(parts) + excess / mean_mass
    share = parts / specific[block.pair_blend]
    inputs = np.sqrt(block.per_blend((half[sub] / density[sub] * share) ** 2))
    value = 1.0 / specific
    mixing = mixing_spread(block.per_blend(x**2), known)
    return value, value * np.hypot(inputs, mixing)
