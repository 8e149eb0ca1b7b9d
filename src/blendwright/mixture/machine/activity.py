"""ln gamma in machine code: `mixture.activity` for eight compositions of one blend at once.

Only the components and groups that a blend has are summed (`gathered`). Compositions and what comes
of them are rows of an array of lanes (`mixture/machine/lanes.py`), a row for each component.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.machine.lanes import (
    LANES,
    add_product,
    add_weighted,
    cleared,
    difference,
    lanes_of,
    logs,
    machine_code,
    product,
    quotient,
)
from blendwright.mixture.parameter_sets import Array


@dataclass(frozen=True, eq=False)
class Sets:
    """The parameter sets of a block's model as one stack: ln gamma is their weighted mean, and what
    was learned of it over glycols on top (`vapour_correction.glycol_ln_gamma`).

    weights (sets,); groups (sets,) how many each has; inward (sets, blends, components, most groups
    + 2), outward (sets, blends, most groups + 5, components) as in `activity.Layout`, with the pure
    components' residual; psi (sets, 1 or blends, most groups, most groups); terms and is_glycol
    (blends, components), or (0, 0) without any.
    """

    weights: Array
    groups: NDArray[np.int64]
    inward: Array
    outward: Array
    psi: Array
    terms: Array
    is_glycol: Array

    @property
    def arrays(self) -> tuple[Any, ...]:
        parts = (self.inward, self.outward, self.psi, self.terms, self.is_glycol)
        return (self.weights, self.groups, *(np.ascontiguousarray(part) for part in parts))


NO_TERMS = np.zeros((0, 0))


def one_set(inward: Array, outward: Array, psi: Array) -> Sets:
    """Of one set, nothing copied."""
    groups = np.array([psi.shape[-1]])
    levels = psi[None, None] if psi.ndim == 2 else psi[None]
    return Sets(np.ones(1), groups, inward[None], outward[None], levels, NO_TERMS, NO_TERMS)


def mean_of(weights: Sequence[float], sets: Sequence[Sets]) -> Sets:
    """The mean of several single sets."""
    groups = np.concatenate([s.groups for s in sets])
    most, levels = int(groups.max()), max(s.psi.shape[1] for s in sets)
    _, blends, parts, _ = sets[0].inward.shape
    inward = np.zeros((len(sets), blends, parts, most + 2))
    outward = np.zeros((len(sets), blends, most + 5, parts))
    psi = np.zeros((len(sets), levels, most, most))
    for k, one in enumerate(sets):
        g = int(groups[k])
        inward[k, :, :, : g + 2] = one.inward[0]
        outward[k, :, : g + 5] = one.outward[0]
        psi[k, :, :g, :g] = one.psi[0]
    return Sets(np.array(weights), groups, inward, outward, psi, NO_TERMS, NO_TERMS)


class CompiledModel(Protocol):
    """A block's model that can tell its sets."""

    def sets(self) -> Sets: ...


@machine_code
def _groups_there(b, here, groups, inward, k, present):
    """How many groups of a set one blend has; their numbers go into `present`."""
    m = 0
    for g in range(groups[k]):
        for i in here:
            if inward[k, b, i, g] > 0.0:
                present[m] = g
                m += 1
                break
    return m


@machine_code
def gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol):
    """One blend's arrays: only the components and groups that it has.

    into (sets, components, groups + 3), pairs and their transposed with a minus (sets, groups,
    groups), back (sets, groups + 5, components), over glycols and back (1, components, 2) and
    (1, 3, components), or of no components, and scratch for `ln_gamma`.
    """
    n = here.size
    count = weights.size
    present = np.empty(groups.max(), dtype=np.int64)
    most = 0
    for k in range(count):
        most = max(most, _groups_there(b, here, groups, inward, k, present))
    into = np.zeros((count, n, most + 3))
    back = np.zeros((count, most + 5, n))
    pairs = np.ones((count, most, most))  # of a group that isn't there: its sum is 1, its ln 0
    across = np.zeros((count, most, most))
    for k in range(count):
        g_all = groups[k]
        m = _groups_there(b, here, groups, inward, k, present)
        level = b if psi.shape[1] > 1 else 0
        for i in range(n):
            at = here[i]
            for g in range(m):
                into[k, i, g] = inward[k, b, at, present[g]]
                into[k, i, most + 2] += into[k, i, g]
                back[k, g, i] = weights[k] * outward[k, b, present[g], at]
            into[k, i, most] = inward[k, b, at, g_all]
            into[k, i, most + 1] = inward[k, b, at, g_all + 1]
            for j in range(5):
                back[k, most + j, i] = weights[k] * outward[k, b, g_all + j, at]
        for g in range(m):
            for j in range(m):
                pairs[k, g, j] = psi[k, level, present[g], present[j]]
                across[k, j, g] = -pairs[k, g, j]
    over = np.zeros((1, n if terms.size else 0, 2))
    over_back = np.zeros((1, 3, over.shape[1]))
    for i in range(over.shape[1]):
        over[0, i, 0] = over_back[0, 1, i] = terms[b, here[i]]
        over[0, i, 1] = over_back[0, 0, i] = is_glycol[b, here[i]]
        over_back[0, 2, i] = -1.0
    return into, pairs, across, back, over, over_back, lanes_of(2 * most + 8)


@machine_code
def ln_gamma(room, w, model, out):
    """ln gamma of LANES compositions into `out`; both are first rows in `room`."""
    into, pairs, across, back, over, over_back, sums = model
    count, n, wide = into.shape
    m = wide - 3
    # rows of sums: each group's share of the surface, sum of x r^p, of x r, the surface; and what
    # goes back: each group's term, 1, ln and inverse of the sum of x r^p, ln and ratio of surface
    # to size
    power, size, surface, terms = m, m + 1, m + 2, m + 3
    one = terms + m
    ln_power, inverse, ln_ratio, ratio = one + 1, one + 2, one + 3, one + 4
    cleared(room, out, out + n)
    if over.shape[1]:  # `vapour_correction.glycol_ln_gamma`
        cleared(sums, 0, 3)
        add_weighted(sums, 0, over, 0, room, w)
        add_product(sums, 2, sums, 0, sums, 1)
        add_weighted(room, out, over_back, 0, sums, 0)
    flat = sums.reshape(-1)
    for k in range(count):
        cleared(sums, 0, one)
        add_weighted(sums, 0, into, k, room, w)
        for lane in range(LANES):
            sums[one, lane] = 1.0
        quotient(sums, inverse, sums, one, sums, power)
        quotient(sums, ratio, sums, surface, sums, size)
        product(sums, ln_power, sums, one, sums, power)
        product(sums, ln_ratio, sums, one, sums, ratio)
        quotient(sums, surface, sums, one, sums, surface)
        for g in range(m):
            product(sums, g, sums, g, sums, surface)
        add_weighted(sums, terms, pairs, k, sums, 0)
        for g in range(m):
            quotient(sums, g, sums, g, sums, terms + g)
        logs(flat[terms * LANES : one * LANES])
        logs(flat[ln_power * LANES : inverse * LANES])
        logs(flat[ln_ratio * LANES : ratio * LANES])
        for g in range(m):
            difference(sums, terms + g, sums, one, sums, terms + g)
        add_weighted(sums, terms, across, k, sums, 0)
        add_weighted(room, out, back, k, sums, terms)
