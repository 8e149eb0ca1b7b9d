"""The search for layers in machine code: `mixture.liquid_split` for blocks, many times as fast.

Equations, starts, steps and tolerances are those, one blend after the other and eight starts side
by side, compiled by numba (extra `batch`). The search has two stages: every start goes on until its
steps are below PARKED, where the tangent-plane distance, flat at a stationary point, is known far
better than its composition; only those that may be the lowest then go all the way to `CONVERGED`. A
start that nears the blend itself, or slows down, is never parked.

Compiled on the first call (some 18 s), then read from the user's cache of compiled code.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np

from blendwright.mixture.liquid_split import (
    ABSENT_LN,
    ANDERSON_RIDGE,
    CONVERGED,
    CYCLING_AFTER,
    GROWN,
    MAY_BE_LOWEST,
    MOST_CHANGE_LN,
    MOST_ITERATIONS,
    MOST_LN_K,
    NEAR_LN,
    PARKED,
    PARKED_APART,
    PARKED_SLOWING,
    PURE_STARTS,
    RACHFORD_RICE_ITERATIONS,
    RACHFORD_RICE_TOLERANCE,
    ROUNDING,
    SAME_DISTANCE,
    SAME_RIVAL,
    SETTLED,
    SMALLEST_FRACTION,
    SPLIT_CONVERGED,
    SPLIT_ITERATIONS,
    START_PURITY,
    TRIVIAL_DISTANCE,
    WAITING_TURNS,
    BlockLayers,
    BlockModel,
    Search,
    Stabilities,
)
from blendwright.mixture.machine.activity import (
    CompiledModel,
    for_machine_code,
    gathered,
    ln_gamma,
    no_temperature,
)
from blendwright.mixture.machine.lanes import (
    LANES,
    add_product,
    cleared,
    difference,
    exps,
    lanes_of,
    largest_apart,
    logs,
    machine_code,
    product,
    quotient,
    sum_of_products,
)
from blendwright.mixture.parameter_sets import Array

MOST_LN = 50.0

GONE, ARRIVED, WAITING, LOST = 0, 1, 2, 3

# Where things are in the array of lanes of one blend: a row for each component of
ROWS = 15
OWN, D, W, LN_W, CHANGE, FIRST, SECOND, ZEROS, ONES = range(9)
TOTAL, STEP = 9, 12  # and the two before, of each
# and after those, one row of
LANE_ROWS = 11
SUMMED, AGAIN, INNER, LARGEST, APART, CHANGED, AA = range(7)  # AA: and four more


class SearchedModel(BlockModel, CompiledModel, Protocol):
    """A block's model that the plain search takes too."""


def stabilities(model: SearchedModel, x: Array) -> Stabilities:
    """`liquid_split.stabilities`."""
    found = Stabilities.none_yet(x)
    _search(
        for_machine_code(x), model.blends, model.tables,
        found.distance, found.rival, found.has_rival, found.settled,
    )  # fmt: skip
    return found


def layers(model: SearchedModel, z: Array, ln_k: Array, secants: Array) -> BlockLayers:
    """`liquid_split.block_layers`, without secants of another search."""
    found = BlockLayers.none_yet(z, ln_k, secants)
    _part(
        for_machine_code(z), model.blends, model.tables,
        found.first, found.second, found.fraction, found.parted, found.ln_k, found.converged,
    )  # fmt: skip
    return found


COMPILED = Search(stabilities, layers, 0)  # type: ignore[arg-type]  # the engine's models tell their sets


@machine_code
def _search(x, blends, tables, distance, rival, has_rival, settled):
    at = no_temperature(tables)
    for b in range(len(x)):
        here = np.flatnonzero(x[b] > 0.0)
        n = here.size
        if n < 2:
            continue
        model = gathered(b, here, blends, tables, at)
        own = x[b][here]
        lowest, best, settled[b] = _rival(own, model)
        if lowest < np.inf:
            has_rival[b] = True
            distance[b] = lowest
            for i in range(n):
                rival[b, here[i]] = best[i]


@machine_code
def _rival(x, model):
    """The lowest distance (infinite without a rival), its composition, and whether all starts
    settled."""
    n = x.size
    room = lanes_of(ROWS * n + LANE_ROWS)
    for i in range(n):
        for lane in range(LANES):
            room[ONES * n + i, lane] = 1.0
            room[OWN * n + i, lane] = room[W * n + i, lane] = x[i]
    ln_gamma(room, W * n, model, D * n)
    ln_x = x.copy()
    logs(ln_x)
    for i in range(n):
        for lane in range(LANES):
            room[D * n + i, lane] += ln_x[i]
    ln_activity = np.empty(n)
    for i in range(n):
        ln_activity[i] = room[D * n + i, 0]
    starts = _starts(x, ln_activity)
    rows = len(starts)
    ln_w = starts.copy()
    logs(ln_w.reshape(-1))
    state = np.full(rows, WAITING)
    found = np.zeros(rows)
    lowest = np.inf
    best = np.zeros(n)
    chosen = np.arange(rows)
    count = rows
    parked = PARKED
    while True:
        _run(model, room, starts, ln_w, chosen[:count], parked, state, found)
        for r in chosen[:count]:
            if state[r] == ARRIVED and found[r] < lowest:
                lowest = found[r]
                best[:] = starts[r]
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
            return lowest, best, not (state == LOST).any()


@machine_code
def _starts(x, ln_activity):
    """`liquid_split._starts` of one blend: those that count."""
    n = x.size
    pure = min(n, PURE_STARTS)
    starts = np.empty((pure + 2, n))
    inverse = 0.0
    for i in range(n):
        inverse += 1.0 / np.sqrt(max(x[i], 1e-6))
    left = ln_activity.copy()
    for k in range(pure):
        chosen = np.argmax(left)
        left[chosen] = -np.inf
        for i in range(n):
            starts[k, i] = (1.0 - START_PURITY) * x[i]
        starts[k, chosen] += START_PURITY
    for i in range(n):
        starts[pure, i] = 1.0 / n
        starts[pure + 1, i] = 1.0 / np.sqrt(max(x[i], 1e-6)) / inverse
    return starts


@machine_code
def _run(model, room, starts, ln_starts, chosen, parked, state, found):
    """Substitution from the chosen starts, as `liquid_split._iterate`: LANES at once, and the next
    into a lane when one is done.

    Leaves the composition and ln W of each where it was left, its state (ARRIVED; GONE to the blend
    itself; LOST: it had not settled when the search ended; or WAITING: its step is below `parked`)
    and -ln of the sum.
    """
    n = starts.shape[1]
    own, d, w, ln_w, change = OWN * n, D * n, W * n, LN_W * n, CHANGE * n
    total, total_1, total_2 = TOTAL * n, (TOTAL + 1) * n, (TOTAL + 2) * n
    step, step_1, step_2 = STEP * n, (STEP + 1) * n, (STEP + 2) * n
    lanes = ROWS * n
    zeros, summed, inner = ZEROS * n, lanes + SUMMED, lanes + INNER
    largest, apart = lanes + LARGEST, lanes + APART
    flat = room.reshape(-1)
    row = np.full(LANES, -1)
    age, waits = np.zeros(LANES, dtype=np.int64), np.zeros(LANES, dtype=np.int64)
    mixed = np.zeros(LANES, dtype=np.bool_)
    damping = np.ones(LANES)
    tangent, last = np.full(LANES, np.inf), np.full(LANES, np.inf)
    next_one = busy = turn = 0
    while True:
        odd = turn % 2 == 1
        turn += 1
        for lane in range(0 if odd or next_one == chosen.size else LANES):
            if row[lane] < 0 and next_one < chosen.size:
                r = row[lane] = chosen[next_one]
                next_one += 1
                busy += 1
                age[lane] = waits[lane] = 0
                mixed[lane] = False
                damping[lane] = 1.0
                tangent[lane] = last[lane] = np.inf
                for i in range(n):
                    room[w + i, lane], room[ln_w + i, lane] = starts[r, i], ln_starts[r, i]
        if busy == 0:
            return
        ln_gamma(room, w, model, total)
        for i in range(n):
            difference(room, total + i, room, d + i, room, total + i)
            difference(room, step + i, room, total + i, room, ln_w + i)
        sum_of_products(room, inner, room, w, room, step, n)
        mixing = False
        for lane in range(LANES):
            if age[lane] > 0:
                new = 1.0 - room[summed, lane] * (1.0 + room[inner, lane])
                if odd and mixed[lane] and new > tangent[lane] + ROUNDING:
                    for i in range(n):
                        room[total + i, lane] = room[total_1 + i, lane]
                        room[step + i, lane] = room[step_1 + i, lane]
                    waits[lane] = 2
                tangent[lane] = new
            if age[lane] >= 2 and not odd:
                waits[lane] -= 1
                mixed[lane] = waits[lane] <= 0 and damping[lane] == 1.0
                mixing = mixing or mixed[lane]
        largest_apart(room, largest, room, step, room, zeros, n)
        taken = zeros
        if mixing:
            _mix(room, n, (w, step, step_1, step_2, total, total_1, total_2), mixed)
            taken = change
        for lane in range(LANES):
            if age[lane] in CYCLING_AFTER and room[largest, lane] > NEAR_LN:
                damping[lane] *= 0.5
            if damping[lane] < 1.0 and row[lane] >= 0:
                if taken == zeros:
                    cleared(room, change, change + n)
                    taken = change
                for i in range(n):
                    room[change + i, lane] = (1.0 - damping[lane]) * room[step + i, lane]
        for i in range(n):
            difference(room, ln_w + i, room, total + i, room, taken + i)
        step_2, step_1, step = step_1, step, step_2
        total_2, total_1, total = total_1, total, total_2
        _fractions(room, flat, n)
        largest_apart(room, apart, room, w, room, own, n)
        for lane in range(LANES):
            r = row[lane]
            if r < 0:
                continue
            size, away = room[largest, lane], room[apart, lane]
            if away < TRIVIAL_DISTANCE:
                state[r] = GONE
            elif size < CONVERGED:
                state[r] = ARRIVED
            elif (
                age[lane] > 1
                and size < parked
                and size < PARKED_SLOWING * last[lane]
                and away > PARKED_APART
            ):
                state[r] = WAITING
            elif age[lane] == MOST_ITERATIONS - 1:
                state[r] = ARRIVED if size < SETTLED else LOST
            else:
                age[lane] += 1
                last[lane] = size
                continue
            found[r] = -np.log(room[summed, lane])
            for i in range(n):
                starts[r, i], ln_starts[r, i] = room[w + i, lane], room[ln_w + i, lane]
            row[lane] = -1
            age[lane] = 0
            busy -= 1


@machine_code
def _fractions(room, flat, n):
    """W and its sum from ln W: mole fractions, none below SMALLEST_FRACTION."""
    w, ln_w, zeros, ones = W * n, LN_W * n, ZEROS * n, ONES * n
    summed, again = ROWS * n + SUMMED, ROWS * n + AGAIN
    fractions = flat[w * LANES : (w + n) * LANES]
    for i in range(n):
        difference(room, w + i, room, ln_w + i, room, zeros)
    exps(fractions, ABSENT_LN, MOST_LN)
    sum_of_products(room, summed, room, w, room, ones, n)
    quotient(room, again, room, ones, room, summed)
    for i in range(n):
        product(room, w + i, room, w + i, room, again)
    for j in range(fractions.size):
        fractions[j] = max(fractions[j], SMALLEST_FRACTION)
    sum_of_products(room, again, room, w, room, ones, n)
    quotient(room, again, room, ones, room, again)
    for i in range(n):
        product(room, w + i, room, w + i, room, again)


@machine_code
def _mix(room, n, places, wanted):
    """What to take from `total`, into the rows CHANGE: `liquid_split.anderson` of each lane that is
    wanted; w weighs the components."""
    w, step, step_1, step_2, total, total_1, total_2 = places
    change, first, second, lanes = CHANGE * n, FIRST * n, SECOND * n, ROWS * n
    aa, ab, af, bb, bf = (
        lanes + AA,
        lanes + AA + 1,
        lanes + AA + 2,
        lanes + AA + 3,
        lanes + AA + 4,
    )
    largest = lanes + CHANGED
    for i in range(n):
        difference(room, first + i, room, step + i, room, step_1 + i)
        difference(room, second + i, room, step_1 + i, room, step_2 + i)
        product(room, change + i, room, w + i, room, first + i)
    sum_of_products(room, aa, room, change, room, first, n)
    sum_of_products(room, ab, room, change, room, second, n)
    sum_of_products(room, af, room, change, room, step, n)
    for i in range(n):
        product(room, change + i, room, w + i, room, second + i)
    sum_of_products(room, bb, room, change, room, second, n)
    sum_of_products(room, bf, room, change, room, step, n)
    for lane in range(LANES):
        ridge = (room[aa, lane] + room[bb, lane]) * ANDERSON_RIDGE + 1e-280
        one, two, both = room[aa, lane] + ridge, room[bb, lane] + ridge, room[ab, lane]
        determinant = one * two - both * both
        a = (two * room[af, lane] - both * room[bf, lane]) / determinant
        b = (one * room[bf, lane] - both * room[af, lane]) / determinant
        good = wanted[lane] and np.isfinite(a) and np.isfinite(b)
        room[aa, lane], room[bb, lane] = (a, b) if good else (0.0, 0.0)
    for i in range(n):
        difference(room, first + i, room, total + i, room, total_1 + i)
        difference(room, second + i, room, total_1 + i, room, total_2 + i)
        product(room, change + i, room, aa, room, first + i)
        add_product(room, change + i, room, bb, room, second + i)
    largest_apart(room, largest, room, change, room, ZEROS * n, n)
    for lane in range(LANES):
        if room[largest, lane] > MOST_CHANGE_LN:
            for i in range(n):
                room[change + i, lane] *= MOST_CHANGE_LN / room[largest, lane]


@machine_code
def _part(z, blends, tables, first, second, share, parted, ln_k, converged):
    """`liquid_split.block_layers`, blend by blend; its two layers are two lanes."""
    wanted = np.zeros(LANES, dtype=np.bool_)
    wanted[0] = True
    at = no_temperature(tables)
    for b in range(len(z)):
        here = np.flatnonzero(z[b] > 0.0)
        n = here.size
        model = gathered(b, here, blends, tables, at)
        own = z[b][here]
        value = ln_k[b][here]
        k = np.empty(n)
        room = lanes_of(ROWS * n + LANE_ROWS)
        flat = room.reshape(-1)
        for i in range(n):
            for lane in range(LANES):
                room[W * n + i, lane] = room[ONES * n + i, lane] = 1.0
        w, mean, gamma, change = W * n, OWN * n, LN_W * n, CHANGE * n
        ln_w, ones = D * n, ONES * n
        total, total_1, total_2 = TOTAL * n, (TOTAL + 1) * n, (TOTAL + 2) * n
        step, step_1, step_2 = STEP * n, (STEP + 1) * n, (STEP + 2) * n
        plain = np.empty(n)  # ln_k to go on from without mixing
        b_share = 0.5
        largest = energy = np.inf
        mixed = False
        waits = 0
        for turn in range(SPLIT_ITERATIONS):
            k[:] = value
            exps(k, -MOST_LN_K, MOST_LN_K)
            b_share = _second_share(own, k, b_share)
            sum_one = sum_two = 0.0
            for i in range(n):
                one = own[i] / (1.0 + b_share * (k[i] - 1.0))
                two = max(k[i] * one, SMALLEST_FRACTION)  # however little the first holds of it
                one = max(one, SMALLEST_FRACTION)
                sum_one += one
                sum_two += two
                room[w + i, 0], room[w + i, 1] = one, two
            apart = 0.0
            for i in range(n):
                room[w + i, 0] /= sum_one
                room[w + i, 1] /= sum_two
                apart = max(apart, abs(room[w + i, 0] - room[w + i, 1]))
                room[mean + i, 0] = np.sqrt(room[w + i, 0] * room[w + i, 1])
                product(room, ln_w + i, room, w + i, room, ones)
            logs(flat[ln_w * LANES : (ln_w + n) * LANES])
            ln_gamma(room, w, model, gamma)
            last, last_energy = largest, energy
            largest = energy = 0.0
            for i in range(n):
                new = room[gamma + i, 0] - room[gamma + i, 1]
                room[total + i, 0], room[step + i, 0] = new, new - value[i]
                largest = max(largest, abs(new - value[i]))
                value[i] = new
                one, two = room[w + i, 0], room[w + i, 1]
                energy += (1.0 - b_share) * one * (room[ln_w + i, 0] + room[gamma + i, 0])
                energy += b_share * two * (room[ln_w + i, 1] + room[gamma + i, 1])
            worse = mixed and energy > last_energy + ROUNDING
            alike = apart < TRIVIAL_DISTANCE and not worse
            arrived = largest < SPLIT_CONVERGED and not worse
            if arrived or alike or turn == SPLIT_ITERATIONS - 1:
                parted[b] = not alike and 0.0 < b_share < 1.0
                converged[b] = arrived or alike or largest < SETTLED
                share[b] = b_share
                for i in range(n):
                    first[b, here[i]] = room[w + i, 0]
                    second[b, here[i]] = room[w + i, 1]
                    ln_k[b, here[i]] = value[i]
                break
            if worse:  # back to the last point, and on from it without mixing for a while
                energy, largest = last_energy, last
                waits = WAITING_TURNS
                for i in range(n):
                    value[i] = room[total + i, 0] = plain[i]
                    room[step + i, 0] = room[step_1 + i, 0]
            plain[:] = value
            mixed = turn >= 2 and largest < GROWN * last and largest < NEAR_LN and waits <= 0
            if mixed:
                _mix(room, n, (mean, step, step_1, step_2, total, total_1, total_2), wanted)
                for i in range(n):
                    value[i] -= room[change + i, 0]
            waits -= 1
            step_2, step_1, step = step_1, step, step_2
            total_2, total_1, total = total_1, total, total_2


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
