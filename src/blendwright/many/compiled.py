"""The search for layers in machine code: `mixture.liquid_split` for blocks, several times as fast.

The same equations, starts, steps and tolerances, one blend after the other, compiled by numba
(extra `batch`). Only the groups that a blend has are summed, its trial compositions go side by side
(last axis), and the search has two stages: every start goes on until its steps are below PARKED,
where the tangent-plane distance, flat at a stationary point, is known far better than its
composition; only those that may be the lowest then go all the way to `CONVERGED`. A start that
nears the blend itself, or slows down, is never parked.

Compiled on the first call (some 15 s), then read from the user's cache of compiled code.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blendwright.mixture.liquid_split import (
    ABSENT_LN,
    ANDERSON_RIDGE,
    CONVERGED,
    GROWN,
    MOST_CHANGE_LN,
    MOST_ITERATIONS,
    NEAR_LN,
    RACHFORD_RICE_ITERATIONS,
    RACHFORD_RICE_TOLERANCE,
    ROUNDING,
    SETTLED,
    SMALLEST_FRACTION,
    SPLIT_CONVERGED,
    SPLIT_ITERATIONS,
    START_PURITY,
    TRIVIAL_DISTANCE,
    BlockLayers,
    BlockModel,
    Search,
    Stabilities,
)
from blendwright.mixture.parameter_sets import Array

PARKED = 1e-3  # of ln W; the distance is then known to its square
PARKED_SLOWING = 0.5  # step over the last step: a start that slows down more goes on
PARKED_APART = 0.02  # mole fraction from the blend
MAY_BE_LOWEST = 1e-3  # RT above the lowest distance seen
SAME_RIVAL = 1e-2  # mole fraction
SAME_DISTANCE = 1e-5

ALIVE, GONE, ARRIVED, WAITING = 0, 1, 2, 3


@dataclass(frozen=True)
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


class CompiledModel(BlockModel, Protocol):
    """A block's model that can tell its sets."""

    def sets(self) -> Sets: ...


def stabilities(model: CompiledModel, x: Array) -> Stabilities:
    """`liquid_split.stabilities`."""
    found = Stabilities(np.zeros(len(x)), np.zeros_like(x), np.zeros(len(x), dtype=bool))
    _search(  # type: ignore[call-arg]  # numba's type says nothing of the arguments
        np.ascontiguousarray(x), *model.sets().arrays, found.distance, found.rival, found.has_rival
    )
    return found


def layers(model: CompiledModel, z: Array, ln_k: Array) -> BlockLayers:
    """`liquid_split.block_layers`."""
    size = len(z)
    found = BlockLayers(
        z.copy(), z.copy(), np.full(size, 0.5), np.zeros(size, dtype=bool), ln_k * (z > 0.0)
    )
    _part(  # type: ignore[call-arg]
        np.ascontiguousarray(z), *model.sets().arrays,
        found.first, found.second, found.fraction, found.parted, found.ln_k,
    )  # fmt: skip
    return found


COMPILED = Search(stabilities, layers)  # type: ignore[arg-type]  # many's models tell their sets


@njit(cache=True, error_model="numpy", nogil=True)
def _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol):
    """One blend's arrays: only the components and groups that it has."""
    n = here.size
    count = weights.size
    most = 0
    for k in range(count):
        g_all = groups[k]
        m = 0
        for g in range(g_all):
            for i in here:
                if inward[k, b, i, g] > 0.0:
                    m += 1
                    break
        most = max(most, m)
    area = np.zeros((count, n, most))
    power = np.empty((count, n))
    size = np.empty((count, n))
    back = np.zeros((count, most + 5, n))
    pairs = np.ones((count, most, most))  # of a group that isn't there: its sum is 1, its ln 0
    present = np.empty(most, dtype=np.int64)
    for k in range(count):
        g_all = groups[k]
        m = 0
        for g in range(g_all):
            for i in here:
                if inward[k, b, i, g] > 0.0:
                    present[m] = g
                    m += 1
                    break
        level = b if psi.shape[1] > 1 else 0
        for i in range(n):
            at = here[i]
            for g in range(m):
                area[k, i, g] = inward[k, b, at, present[g]]
                back[k, g, i] = weights[k] * outward[k, b, present[g], at]
            power[k, i] = inward[k, b, at, g_all]
            size[k, i] = inward[k, b, at, g_all + 1]
            for j in range(5):
                back[k, most + j, i] = weights[k] * outward[k, b, g_all + j, at]
        for g in range(m):
            for j in range(m):
                pairs[k, g, j] = psi[k, level, present[g], present[j]]
    over = np.zeros((2, n))
    if terms.size:
        for i in range(n):
            over[0, i] = terms[b, here[i]]
            over[1, i] = is_glycol[b, here[i]]
    return area, power, size, back, pairs, over


@njit(cache=True, error_model="numpy", nogil=True)
def _search(x, weights, groups, inward, outward, psi, terms, is_glycol, distance, rival, has_rival):
    for b in range(len(x)):
        here = np.flatnonzero(x[b] > 0.0)
        n = here.size
        if n < 2:
            continue
        model = _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol)
        own = x[b][here]
        w = own.copy().reshape((n, 1))
        ln_gamma = np.empty((n, 1))
        rows = w.shape[1]  # numba would compile all anew for a constant
        theta, group_terms = _room(model, rows)
        _ln_gamma(w, model, theta, group_terms, ln_gamma, rows)
        d = np.log(own) + ln_gamma[:, 0]
        lowest, best = _rival(own, d, model)
        if lowest < np.inf:
            has_rival[b] = True
            distance[b] = lowest
            for i in range(n):
                rival[b, here[i]] = best[i]


@njit(cache=True, error_model="numpy", nogil=True)
def _room(model, rows):
    most = model[0].shape[2]
    return np.empty((most, rows)), np.empty((most + 5, rows))


@njit(cache=True, error_model="numpy", nogil=True)
def _ln_gamma(w, model, theta, terms, ln_gamma, rows):
    """ln gamma of the first `rows` columns of w; theta and terms are scratch."""
    area, power, size, back, pairs, over = model
    count, n, _ = area.shape
    for r in range(rows):
        total = 0.0
        glycols = 0.0
        for i in range(n):
            total += w[i, r] * over[0, i]
            glycols += w[i, r] * over[1, i]
        for i in range(n):
            ln_gamma[i, r] = over[0, i] * glycols + over[1, i] * total - glycols * total
    for k in range(count):
        _add_ln_gamma(
            w, area[k], power[k], size[k], back[k], pairs[k], theta, terms, ln_gamma, rows
        )


@njit(cache=True, error_model="numpy", nogil=True)
def _add_ln_gamma(w, area, power, size, back, pairs, theta, terms, ln_gamma, rows):
    """One set's part (its weight stands in `back`)."""
    n, m = area.shape
    for g in range(m):
        for r in range(rows):
            theta[g, r] = 0.0
    for r in range(rows):
        terms[m, r] = 0.0
        terms[m + 1, r] = 0.0
        terms[m + 2, r] = 0.0
    for i in range(n):
        for g in range(m):
            a = area[i, g]
            if a != 0.0:
                for r in range(rows):
                    theta[g, r] += a * w[i, r]
        for r in range(rows):
            terms[m + 1, r] += power[i] * w[i, r]
            terms[m + 2, r] += size[i] * w[i, r]
    for g in range(m):
        for r in range(rows):
            terms[m, r] += theta[g, r]  # the whole surface
    for g in range(m):
        for r in range(rows):
            theta[g, r] /= terms[m, r]
    for g in range(m):
        for r in range(rows):
            terms[g, r] = 0.0
        for k in range(m):
            p = pairs[k, g]
            for r in range(rows):
                terms[g, r] += theta[k, r] * p
    for g in range(m):
        for r in range(rows):
            s = terms[g, r]
            theta[g, r] /= s
            terms[g, r] = 1.0 - np.log(s)
    for g in range(m):
        for k in range(m):
            p = pairs[g, k]
            for r in range(rows):
                terms[g, r] -= theta[k, r] * p
    for r in range(rows):
        ratio = terms[m, r] / terms[m + 2, r]
        r_power = terms[m + 1, r]
        terms[m, r] = 1.0
        terms[m + 1, r] = np.log(r_power)
        terms[m + 2, r] = 1.0 / r_power
        terms[m + 3, r] = np.log(ratio)
        terms[m + 4, r] = ratio
    for i in range(n):
        for g in range(m + 5):
            o = back[g, i]
            if o != 0.0:
                for r in range(rows):
                    ln_gamma[i, r] += terms[g, r] * o


@njit(cache=True, error_model="numpy", nogil=True)
def _rival(x, d, model):
    """The lowest distance (infinite without a rival) and its composition."""
    n = x.size
    starts = np.empty((n, n + 2))
    inverse = 0.0
    for i in range(n):
        inverse += 1.0 / np.sqrt(max(x[i], 1e-6))
    for i in range(n):
        for k in range(n):
            starts[i, k] = (1.0 - START_PURITY) * x[i]
        starts[i, i] += START_PURITY
        starts[i, n] = 1.0 / n
        starts[i, n + 1] = 1.0 / np.sqrt(max(x[i], 1e-6)) / inverse
    rows = n + 2
    ln_w = np.log(starts)
    state = np.full(rows, WAITING)
    found = np.zeros(rows)
    lowest = np.inf
    best = np.zeros(n)
    chosen = np.arange(rows)
    count = rows
    parked = PARKED
    while True:
        w = np.empty((n, count))
        ln_own = np.empty((n, count))
        for c in range(count):
            for i in range(n):
                w[i, c] = starts[i, chosen[c]]
                ln_own[i, c] = ln_w[i, chosen[c]]
        ended, distance = _run(x, d, model, w, ln_own, parked)
        parked = 0.0
        for c in range(count):
            r = chosen[c]
            state[r], found[r] = ended[c], distance[c]
            for i in range(n):
                starts[i, r], ln_w[i, r] = w[i, c], ln_own[i, c]
            if ended[c] == ARRIVED and distance[c] < lowest:
                lowest = distance[c]
                for i in range(n):
                    best[i] = w[i, c]
        # next: the parked ones that may be lowest, each rival once
        least = lowest
        for r in range(rows):
            if state[r] == WAITING and found[r] < least:
                least = found[r]
        count = 0
        for r in range(rows):
            if state[r] != WAITING or found[r] > least + MAY_BE_LOWEST:
                continue
            twin = False
            for c in range(count):
                other = chosen[c]
                if abs(found[r] - found[other]) < SAME_DISTANCE:
                    apart = 0.0
                    for i in range(n):
                        apart = max(apart, abs(starts[i, r] - starts[i, other]))
                    twin = twin or apart < SAME_RIVAL
            if twin:
                state[r] = GONE
            else:
                chosen[count] = r
                count += 1
        if count == 0:
            return lowest, best


@njit(cache=True, error_model="numpy", nogil=True)
def _run(x, d, model, w_all, ln_all, parked):
    """Substitution of all columns of w_all and ln_all (changed in place), as
    `liquid_split._iterate`.

    Of each: ARRIVED, GONE (to the blend itself, or nowhere) or WAITING (its step is below
    `parked`); and -ln of the sum.
    """
    n, rows = w_all.shape
    state = np.zeros(rows, dtype=np.int64)
    distance = np.full(rows, np.inf)
    at = np.arange(rows)  # where each working column belongs
    w = w_all.copy()
    ln_w = ln_all.copy()
    theta, terms = _room(model, rows)
    ln_gamma = np.empty((n, rows))
    total = np.empty((n, rows))
    step = np.empty((n, rows))
    total_1 = np.zeros((n, rows))
    total_2 = np.zeros((n, rows))
    step_1 = np.zeros((n, rows))
    step_2 = np.zeros((n, rows))
    sums = np.ones(rows)
    tangent = np.full(rows, np.inf)
    mixed = np.zeros(rows, dtype=np.bool_)
    waits = np.zeros(rows, dtype=np.int64)
    last = np.full(rows, np.inf)
    largest = np.empty(rows)
    alive = rows
    iteration = 0
    while alive:
        _ln_gamma(w, model, theta, terms, ln_gamma, alive)
        for r in range(alive):
            largest[r] = 0.0
        for i in range(n):
            for r in range(alive):
                total[i, r] = d[i] - ln_gamma[i, r]
                step[i, r] = total[i, r] - ln_w[i, r]
        odd = iteration % 2 == 1
        if iteration:
            for r in range(alive):
                product = 0.0
                for i in range(n):
                    product += w[i, r] * step[i, r]
                new = 1.0 - sums[r] - sums[r] * product
                if odd and mixed[r] and new > tangent[r] + ROUNDING:
                    for i in range(n):
                        total[i, r] = total_1[i, r]
                        step[i, r] = step_1[i, r]
                    waits[r] = 2
                tangent[r] = new
        for i in range(n):
            for r in range(alive):
                largest[r] = max(largest[r], abs(step[i, r]))
        mixing = iteration >= 2 and not odd
        for r in range(alive):
            if mixing:
                waits[r] -= 1
                mixed[r] = waits[r] <= 0
            if mixing and mixed[r]:
                _mixed_step(r, w, step, step_1, step_2, total, total_1, total_2, ln_w)
            else:
                for i in range(n):
                    ln_w[i, r] = total[i, r]
        step_2, step_1, step = step_1, step, step_2
        total_2, total_1, total = total_1, total, total_2
        iteration += 1
        ended = iteration >= MOST_ITERATIONS
        kept = 0
        for r in range(alive):
            summed = 0.0
            for i in range(n):
                value = np.exp(min(max(ln_w[i, r], ABSENT_LN), 50.0))
                w[i, r] = value
                summed += value
            again = 0.0
            for i in range(n):
                w[i, r] = max(w[i, r] / summed, SMALLEST_FRACTION)
                again += w[i, r]
            apart = 0.0
            for i in range(n):
                w[i, r] /= again
                apart = max(apart, abs(w[i, r] - x[i]))
            sums[r] = summed
            end = ALIVE
            if apart < TRIVIAL_DISTANCE:
                end = GONE
            elif largest[r] < CONVERGED or (ended and largest[r] < SETTLED):
                end = ARRIVED
            elif ended:
                end = GONE
            elif (
                iteration > 2
                and largest[r] < parked
                and largest[r] < PARKED_SLOWING * last[r]
                and apart > PARKED_APART
            ):
                end = WAITING
            last[r] = largest[r]
            if end != ALIVE:
                state[at[r]] = end
                distance[at[r]] = -np.log(summed)
                for i in range(n):
                    w_all[i, at[r]] = w[i, r]
                    ln_all[i, at[r]] = ln_w[i, r]
                continue
            if kept != r:  # those still alive stand together
                for i in range(n):
                    w[i, kept] = w[i, r]
                    ln_w[i, kept] = ln_w[i, r]
                    step_1[i, kept] = step_1[i, r]
                    step_2[i, kept] = step_2[i, r]
                    total_1[i, kept] = total_1[i, r]
                    total_2[i, kept] = total_2[i, r]
                sums[kept], tangent[kept], last[kept] = sums[r], tangent[r], last[r]
                mixed[kept], waits[kept], at[kept] = mixed[r], waits[r], at[r]
            kept += 1
        alive = kept
    return state, distance


@njit(cache=True, error_model="numpy", nogil=True)
def _mixed_step(r, w, step, step_1, step_2, total, total_1, total_2, ln_w):
    """`liquid_split.anderson` of one column; w weighs the components."""
    n = w.shape[0]
    aa = ab = af = bb = bf = 0.0
    for i in range(n):
        first = step[i, r] - step_1[i, r]
        second = step_1[i, r] - step_2[i, r]
        aa += w[i, r] * first * first
        ab += w[i, r] * first * second
        af += w[i, r] * first * step[i, r]
        bb += w[i, r] * second * second
        bf += w[i, r] * second * step[i, r]
    ridge = (aa + bb) * ANDERSON_RIDGE + 1e-280
    aa += ridge
    bb += ridge
    determinant = aa * bb - ab * ab
    a = (bb * af - ab * bf) / determinant
    b = (aa * bf - ab * af) / determinant
    if not (np.isfinite(a) and np.isfinite(b)):
        a = b = 0.0
    largest = 0.0
    for i in range(n):
        change = a * (total[i, r] - total_1[i, r]) + b * (total_1[i, r] - total_2[i, r])
        largest = max(largest, abs(change))
    tamed = MOST_CHANGE_LN / largest if largest > MOST_CHANGE_LN else 1.0
    for i in range(n):
        change = a * (total[i, r] - total_1[i, r]) + b * (total_1[i, r] - total_2[i, r])
        ln_w[i, r] = total[i, r] - tamed * change


@njit(cache=True, error_model="numpy", nogil=True)
def _part(
    z, weights, groups, inward, outward, psi, terms, is_glycol, first, second, share, parted, ln_k
):
    """`liquid_split.block_layers`, blend by blend."""
    for b in range(len(z)):
        here = np.flatnonzero(z[b] > 0.0)
        n = here.size
        model = _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol)
        own = z[b][here]
        value = ln_k[b][here].reshape((n, 1)).copy()
        both = np.empty((n, 2))
        rows = both.shape[1]
        theta, scratch = _room(model, rows)
        ln_gamma = np.empty((n, 2))
        mean = np.empty((n, 1))
        new, step = np.empty((n, 1)), np.empty((n, 1))
        new_1, step_1 = np.zeros((n, 1)), np.zeros((n, 1))
        new_2, step_2 = np.zeros((n, 1)), np.zeros((n, 1))
        k = np.empty(n)
        b_share = 0.5
        largest = np.inf
        for turn in range(SPLIT_ITERATIONS):
            for i in range(n):
                k[i] = np.exp(min(max(value[i, 0], -40.0), 40.0))
            b_share = _second_share(own, k, b_share)
            one = two = 0.0
            for i in range(n):
                both[i, 0] = max(own[i] / (1.0 + b_share * (k[i] - 1.0)), SMALLEST_FRACTION)
                both[i, 1] = max(k[i] * both[i, 0], SMALLEST_FRACTION)
                one += both[i, 0]
                two += both[i, 1]
            apart = 0.0
            for i in range(n):
                both[i, 0] /= one
                both[i, 1] /= two
                apart = max(apart, abs(both[i, 0] - both[i, 1]))
                mean[i, 0] = np.sqrt(both[i, 0] * both[i, 1])
            _ln_gamma(both, model, theta, scratch, ln_gamma, rows)
            last = largest
            largest = 0.0
            for i in range(n):
                new[i, 0] = ln_gamma[i, 0] - ln_gamma[i, 1]
                step[i, 0] = new[i, 0] - value[i, 0]
                largest = max(largest, abs(step[i, 0]))
            alike = apart < TRIVIAL_DISTANCE
            if largest < SPLIT_CONVERGED or alike or turn == SPLIT_ITERATIONS - 1:
                parted[b] = not alike and 0.0 < b_share < 1.0
                share[b] = b_share
                for i in range(n):
                    first[b, here[i]] = both[i, 0]
                    second[b, here[i]] = both[i, 1]
                    ln_k[b, here[i]] = new[i, 0]
                break
            if turn >= 2 and largest < GROWN * last and largest < NEAR_LN:
                _mixed_step(rows - 2, mean, step, step_1, step_2, new, new_1, new_2, value)
            else:
                for i in range(n):
                    value[i, 0] = new[i, 0]
            step_2, step_1, step = step_1, step, step_2
            new_2, new_1, new = new_1, new, new_2


@njit(cache=True, error_model="numpy", nogil=True)
def _second_share(z, k, start):
    """`liquid_split._second_shares` of one blend."""
    low, high = 0.0, 1.0
    share = min(max(start, 1e-6), 1.0 - 1e-6)
    for _ in range(RACHFORD_RICE_ITERATIONS):
        value = slope = 0.0
        for i in range(z.size):
            term = (k[i] - 1.0) / (1.0 + share * (k[i] - 1.0))
            value += z[i] * term
            slope += z[i] * term * term
        if value > 0.0:
            low = share
        else:
            high = share
        new = share + value / (slope if slope > 0.0 else 1.0)
        if not low < new < high:
            new = 0.5 * (low + high)
        moved = abs(new - share)
        share = new
        if moved < RACHFORD_RICE_TOLERANCE:
            break
    return share
