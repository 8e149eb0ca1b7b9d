"""ln gamma in machine code: `mixture.activity` for eight compositions of one blend at once.

Only the components and groups that a blend has are summed (`gathered`). Compositions and what comes
of them are rows of an array of lanes (`mixture/machine/lanes.py`), a row for each component.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.excess.form import SCREENING
from blendwright.mixture.machine.lanes import (
    LANES,
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

if TYPE_CHECKING:
    from blendwright.mixture.excess import ExcessAt
    from blendwright.mixture.liquid import SetAt

TERM_ROWS = 10  # of each component, for the learned terms
F, PSI, OF_C, OF_D, OF_A, OF_T, OF_U, LIKE, BACK, SCALED = range(TERM_ROWS)
SCALAR_ROWS = 1


@dataclass(frozen=True, eq=False)
class Sets:
    """The parameter sets of a block's model as one stack, whose weighted mean is ln gamma, and the
    learned terms on top (`mixture.excess`).

    weights (sets,); groups (sets,) how many each has; inward (sets, blends, components, most groups
    + 2), outward (sets, blends, most groups + 5, components) as in `activity.Layout`, with the pure
    components' residual; psi (sets, 1 or blends, most groups, most groups); pairs (kinds of terms,
    blends, components, components) and masks (4, blends, components) as in `ExcessAt`.
    """

    weights: Array
    groups: NDArray[np.int64]
    inward: Array
    outward: Array
    psi: Array
    pairs: Array
    masks: Array

    @property
    def arrays(self) -> tuple[Any, ...]:
        parts = (self.inward, self.outward, self.psi, self.pairs, self.masks)
        return (self.weights, self.groups, *(np.ascontiguousarray(part) for part in parts))


def sets_of(weights: Sequence[float], base: Sequence[SetAt], excess: ExcessAt) -> Sets:
    """Of the parameter sets whose mean is the base, and the learned terms."""
    groups = np.array([one.psi.shape[-1] for one in base])
    most = int(groups.max())
    levels = max(1 if one.psi.ndim == 2 else len(one.psi) for one in base)
    blends, parts, _ = base[0].inward.shape
    inward = np.zeros((len(base), blends, parts, most + 2))
    outward = np.zeros((len(base), blends, most + 5, parts))
    psi = np.zeros((len(base), levels, most, most))
    for k, one in enumerate(base):
        g = int(groups[k])
        inward[k, :, :, : g + 2] = one.inward
        outward[k, :, : g + 5] = one.outward
        psi[k, :, :g, :g] = one.psi
    symmetric = (one + np.swapaxes(one, -1, -2) for one in (excess.a, excess.t, excess.u))
    pairs = np.stack([excess.c, excess.d, *symmetric, excess.likeness])
    masks = np.stack([excess.size, excess.hydroxylic, excess.oil, excess.water])
    return Sets(np.array(weights), groups, inward, outward, psi, pairs, masks)


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
def gathered(b, here, weights, groups, inward, outward, psi, pairs_of, masks):
    """One blend's arrays: only the components and groups that it has.

    into (sets, components, groups + 3), pairs and their transposed with a minus (sets, groups,
    groups), back (sets, groups + 5, components), the learned terms' coefficients (kinds,
    components, components) and masks (4, components), and scratch for both.
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
    terms = np.empty((pairs_of.shape[0], n, n))
    mask = np.empty((masks.shape[0], n))
    for i in range(n):
        for k in range(masks.shape[0]):
            mask[k, i] = masks[k, b, here[i]]
        for j in range(n):
            for k in range(pairs_of.shape[0]):
                terms[k, i, j] = pairs_of[k, b, here[i], here[j]]
    room = lanes_of(TERM_ROWS * n + SCALAR_ROWS)
    return into, pairs, across, back, terms, mask, room, lanes_of(2 * most + 8)


@machine_code
def add_learned_terms(room, w, terms, mask, own, out):
    """`excess.ExcessAt.ln_gamma` of LANES compositions, added to `out`."""
    n = mask.shape[1]
    f, psi, of_c, of_d, of_a = F * n, PSI * n, OF_C * n, OF_D * n, OF_A * n
    of_t, of_u, like, back, scaled = OF_T * n, OF_U * n, LIKE * n, BACK * n, SCALED * n
    watery = False
    for i in range(n):
        watery = watery or mask[3, i] > 0.0
    total = TERM_ROWS * n
    cleared(own, total, total + 1)
    for i in range(n):
        for lane in range(LANES):
            own[f + i, lane] = mask[0, i] * room[w + i, lane]
            own[total, lane] += own[f + i, lane]
    for i in range(n):
        quotient(own, f + i, own, f + i, own, total)
    cleared(own, psi, scaled)
    add_weighted(own, psi, terms, 5, own, f)
    add_weighted(own, of_c, terms, 0, own, f)
    # d is antisymmetric and `add_weighted` sums over its first index: these two are negative
    add_weighted(own, of_d, terms, 1, own, f)
    for i in range(n):
        product(own, scaled + i, own, f + i, own, of_d + i)
    add_weighted(own, like, terms, 5, own, scaled)
    for i in range(n):
        product(own, scaled + i, own, f + i, own, psi + i)
    add_weighted(own, back, terms, 1, own, scaled)
    add_weighted(own, of_a, terms, 2, own, f)
    if watery:
        add_weighted(own, of_t, terms, 3, own, f)
        add_weighted(own, of_u, terms, 4, own, f)
    for lane in range(LANES):
        c = d = a = t = u = hydroxylic = oils = water = 0.0
        for i in range(n):
            share = own[f + i, lane]
            c += share * own[of_c + i, lane]
            d -= own[scaled + i, lane] * own[of_d + i, lane]
            a += share * own[of_a + i, lane]
            t += share * own[of_t + i, lane]
            u += share * own[of_u + i, lane]
            hydroxylic += share * mask[1, i]
            oils += share * mask[2, i]
            water += share * mask[3, i]
        c, a, t, u = 0.5 * c, 0.5 * a, 0.5 * t, 0.5 * u
        screen = 1.0 / (1.0 + SCREENING * hydroxylic)
        energy = c + d + a * screen + water * (t + oils * u)
        drop = SCREENING * a * screen * screen
        summed = 0.0
        for i in range(n):
            slope = own[of_c + i, lane] - own[psi + i, lane] * own[of_d + i, lane]
            slope += own[back + i, lane] - own[like + i, lane]
            slope += screen * own[of_a + i, lane] - drop * mask[1, i]
            slope += mask[3, i] * (t + oils * u)
            slope += water * (own[of_t + i, lane] + oils * own[of_u + i, lane] + u * mask[2, i])
            own[scaled + i, lane] = slope
            summed += own[f + i, lane] * slope
        for i in range(n):
            room[out + i, lane] += mask[0, i] * (energy + own[scaled + i, lane] - summed)


@machine_code
def ln_gamma(room, w, model, out):
    """ln gamma of LANES compositions into `out`; both are first rows in `room`."""
    into, pairs, across, back, learned, mask, own, sums = model
    count, n, wide = into.shape
    m = wide - 3
    # rows of sums: each group's share of the surface, sum of x r^p, of x r, the surface; and what
    # goes back: each group's term, 1, ln and inverse of the sum of x r^p, ln and ratio of surface
    # to size
    power, size, surface, terms = m, m + 1, m + 2, m + 3
    one = terms + m
    ln_power, inverse, ln_ratio, ratio = one + 1, one + 2, one + 3, one + 4
    cleared(room, out, out + n)
    add_learned_terms(room, w, learned, mask, own, out)
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
