"""The search for layers in machine code: `mixture.liquid_split` for blocks, several times as fast.

The same equations, starts, steps and tolerances, one blend and one start after the other, compiled
by numba (extra `batch`). Only the groups that a blend has are summed, and the search has two
stages: every start goes on until its steps are below PARKED, where the tangent-plane distance, flat
at a stationary point, is known far better than its composition; only those that may be the lowest
then go all the way to `CONVERGED`. A start that nears the blend itself, or slows down, is never
parked.

Compiled on the first call (some 20 s), then read from the user's cache of compiled code.
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

GONE, ARRIVED, WAITING = 0, 1, 2

# sums may be taken in another order, as the processor likes them
machine_code = njit(cache=True, error_model="numpy", nogil=True, fastmath={"reassoc", "contract"})


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
def _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol):
    """One blend's arrays: only the components and groups that it has."""
    n = here.size
    count = weights.size
    present = np.empty(groups.max(), dtype=np.int64)
    most = 0
    for k in range(count):
        most = max(most, _groups_there(b, here, groups, inward, k, present))
    area = np.zeros((count, n, most))
    power = np.empty((count, n))
    size = np.empty((count, n))
    back = np.zeros((count, most + 5, n))
    pairs = np.ones((count, most, most))  # of a group that isn't there: its sum is 1, its ln 0
    for k in range(count):
        g_all = groups[k]
        m = _groups_there(b, here, groups, inward, k, present)
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


@machine_code
def _search(x, weights, groups, inward, outward, psi, terms, is_glycol, distance, rival, has_rival):
    for b in range(len(x)):
        here = np.flatnonzero(x[b] > 0.0)
        n = here.size
        if n < 2:
            continue
        model = _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol)
        own = x[b][here]
        d = np.empty(n)
        theta, scratch = _room(model)
        _ln_gamma(own, model, theta, scratch, d)
        for i in range(n):
            d[i] += np.log(own[i])
        lowest, best = _rival(own, d, model)
        if lowest < np.inf:
            has_rival[b] = True
            distance[b] = lowest
            for i in range(n):
                rival[b, here[i]] = best[i]


@machine_code
def _room(model):
    most = model[0].shape[2]
    return np.empty(most), np.empty(most)


@machine_code
def _ln_gamma(w, model, theta, terms, ln_gamma):
    """ln gamma of a composition w; theta and terms are scratch."""
    area, power, size, back, pairs, over = model
    count, n, m = area.shape
    total = 0.0
    glycols = 0.0
    for i in range(n):
        total += w[i] * over[0, i]
        glycols += w[i] * over[1, i]
    for i in range(n):
        ln_gamma[i] = over[0, i] * glycols + over[1, i] * total - glycols * total
    for k in range(count):
        r_power = 0.0
        r = 0.0
        for g in range(m):
            theta[g] = 0.0
        for i in range(n):
            for g in range(m):
                theta[g] += w[i] * area[k, i, g]
            r_power += w[i] * power[k, i]
            r += w[i] * size[k, i]
        surface = 0.0
        for g in range(m):
            surface += theta[g]
            terms[g] = 0.0
        for g in range(m):
            theta[g] /= surface
            for j in range(m):
                terms[j] += theta[g] * pairs[k, g, j]
        for g in range(m):
            theta[g] /= terms[g]
            terms[g] = 1.0 - np.log(terms[g])
        for g in range(m):
            spread = 0.0
            for j in range(m):
                spread += theta[j] * pairs[k, g, j]
            terms[g] -= spread
        ratio = surface / r
        one, two, three, four = np.log(r_power), 1.0 / r_power, np.log(ratio), ratio
        for i in range(n):
            ln_gamma[i] += (
                back[k, m, i]
                + one * back[k, m + 1, i]
                + two * back[k, m + 2, i]
                + three * back[k, m + 3, i]
                + four * back[k, m + 4, i]
            )
        for g in range(m):
            for i in range(n):
                ln_gamma[i] += terms[g] * back[k, g, i]


@machine_code
def _rival(x, d, model):
    """The lowest distance (infinite without a rival) and its composition."""
    n = x.size
    rows = n + 2
    starts = np.empty((rows, n))
    inverse = 0.0
    for i in range(n):
        inverse += 1.0 / np.sqrt(max(x[i], 1e-6))
    for i in range(n):
        for k in range(n):
            starts[k, i] = (1.0 - START_PURITY) * x[i]
        starts[i, i] += START_PURITY
        starts[n, i] = 1.0 / n
        starts[n + 1, i] = 1.0 / np.sqrt(max(x[i], 1e-6)) / inverse
    ln_w = np.log(starts)
    state = np.full(rows, WAITING)
    found = np.zeros(rows)
    room = np.empty((8, n))
    lowest = np.inf
    best = np.zeros(n)
    chosen = np.arange(rows)
    count = rows
    parked = PARKED
    while True:
        for c in range(count):
            r = chosen[c]
            state[r], found[r] = _run(x, d, model, starts[r], ln_w[r], room, parked)
            if state[r] == ARRIVED and found[r] < lowest:
                lowest = found[r]
                for i in range(n):
                    best[i] = starts[r, i]
        parked = 0.0
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
                        apart = max(apart, abs(starts[r, i] - starts[other, i]))
                    twin = twin or apart < SAME_RIVAL
            if twin:
                state[r] = GONE
            else:
                chosen[count] = r
                count += 1
        if count == 0:
            return lowest, best


@machine_code
def _run(x, d, model, w, ln_w, room, parked):
    """Substitution of one trial composition w and its ln W (changed in place), as
    `liquid_split._iterate`; room is scratch.

    ARRIVED, GONE (to the blend itself, or nowhere) or WAITING (its step is below `parked`); and -ln
    of the sum.
    """
    n = x.size
    theta, terms = _room(model)
    ln_gamma, change = room[0], room[1]
    total, total_1, total_2 = room[2], room[3], room[4]
    step, step_1, step_2 = room[5], room[6], room[7]
    summed = 1.0
    tangent = np.inf
    mixed = False
    waits = 0
    last = np.inf
    for iteration in range(MOST_ITERATIONS):
        _ln_gamma(w, model, theta, terms, ln_gamma)
        product = 0.0
        for i in range(n):
            total[i] = d[i] - ln_gamma[i]
            step[i] = total[i] - ln_w[i]
            product += w[i] * step[i]
        odd = iteration % 2 == 1
        if iteration:
            new = 1.0 - summed - summed * product
            if odd and mixed and new > tangent + ROUNDING:
                for i in range(n):
                    total[i] = total_1[i]
                    step[i] = step_1[i]
                waits = 2
            tangent = new
        largest = 0.0
        for i in range(n):
            largest = max(largest, abs(step[i]))
            ln_w[i] = total[i]
        if iteration >= 2 and not odd:
            waits -= 1
            mixed = waits <= 0
            if mixed:
                _mix(w, step, step_1, step_2, total, total_1, total_2, change)
                for i in range(n):
                    ln_w[i] -= change[i]
        step_2, step_1, step = step_1, step, step_2
        total_2, total_1, total = total_1, total, total_2
        summed = 0.0
        for i in range(n):
            w[i] = np.exp(min(max(ln_w[i], ABSENT_LN), 50.0))
            summed += w[i]
        again = 0.0
        for i in range(n):
            w[i] = max(w[i] / summed, SMALLEST_FRACTION)
            again += w[i]
        apart = 0.0
        for i in range(n):
            w[i] /= again
            apart = max(apart, abs(w[i] - x[i]))
        if apart < TRIVIAL_DISTANCE:
            return GONE, -np.log(summed)
        if largest < CONVERGED:
            return ARRIVED, -np.log(summed)
        if (
            iteration > 1
            and largest < parked
            and largest < PARKED_SLOWING * last
            and apart > PARKED_APART
        ):
            return WAITING, -np.log(summed)
        last = largest
    return ARRIVED if last < SETTLED else GONE, -np.log(summed)


@machine_code
def _mix(w, step, step_1, step_2, total, total_1, total_2, change):
    """What to take from `total`: `liquid_split.anderson` of one row; w weighs the components."""
    n = w.size
    aa = ab = af = bb = bf = 0.0
    for i in range(n):
        first = step[i] - step_1[i]
        second = step_1[i] - step_2[i]
        aa += w[i] * first * first
        ab += w[i] * first * second
        af += w[i] * first * step[i]
        bb += w[i] * second * second
        bf += w[i] * second * step[i]
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
        change[i] = a * (total[i] - total_1[i]) + b * (total_1[i] - total_2[i])
        largest = max(largest, abs(change[i]))
    if largest > MOST_CHANGE_LN:
        for i in range(n):
            change[i] *= MOST_CHANGE_LN / largest


@machine_code
def _part(
    z, weights, groups, inward, outward, psi, terms, is_glycol, first, second, share, parted, ln_k
):
    """`liquid_split.block_layers`, blend by blend."""
    for b in range(len(z)):
        here = np.flatnonzero(z[b] > 0.0)
        n = here.size
        model = _gathered(b, here, weights, groups, inward, outward, psi, terms, is_glycol)
        theta, scratch = _room(model)
        own = z[b][here]
        value = ln_k[b][here]
        room = np.zeros((12, n))
        one, two, mean, k = room[0], room[1], room[2], room[3]
        gamma_one, gamma_two, change = room[4], room[5], room[11]
        new, new_1, new_2 = room[6], room[7], room[8]
        step, step_1 = room[9], room[10]
        step_2 = np.zeros(n)
        b_share = 0.5
        largest = np.inf
        for turn in range(SPLIT_ITERATIONS):
            for i in range(n):
                k[i] = np.exp(min(max(value[i], -40.0), 40.0))
            b_share = _second_share(own, k, b_share)
            sum_one = sum_two = 0.0
            for i in range(n):
                one[i] = max(own[i] / (1.0 + b_share * (k[i] - 1.0)), SMALLEST_FRACTION)
                two[i] = max(k[i] * one[i], SMALLEST_FRACTION)
                sum_one += one[i]
                sum_two += two[i]
            apart = 0.0
            for i in range(n):
                one[i] /= sum_one
                two[i] /= sum_two
                apart = max(apart, abs(one[i] - two[i]))
                mean[i] = np.sqrt(one[i] * two[i])
            _ln_gamma(one, model, theta, scratch, gamma_one)
            _ln_gamma(two, model, theta, scratch, gamma_two)
            last = largest
            largest = 0.0
            for i in range(n):
                new[i] = gamma_one[i] - gamma_two[i]
                step[i] = new[i] - value[i]
                largest = max(largest, abs(step[i]))
                value[i] = new[i]
            alike = apart < TRIVIAL_DISTANCE
            if largest < SPLIT_CONVERGED or alike or turn == SPLIT_ITERATIONS - 1:
                parted[b] = not alike and 0.0 < b_share < 1.0
                share[b] = b_share
                for i in range(n):
                    first[b, here[i]] = one[i]
                    second[b, here[i]] = two[i]
                    ln_k[b, here[i]] = new[i]
                break
            if turn >= 2 and largest < GROWN * last and largest < NEAR_LN:
                _mix(mean, step, step_1, step_2, new, new_1, new_2, change)
                for i in range(n):
                    value[i] -= change[i]
            step_2, step_1, step = step_1, step, step_2
            new_2, new_1, new = new_1, new, new_2


@machine_code
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
