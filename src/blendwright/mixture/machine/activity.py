"""ln gamma in machine code: `mixture.activity` for eight compositions of one blend at once.

Only the components and groups that a blend has are summed (`gathered`). Compositions and what comes
of them are rows of an array of lanes (`mixture/machine/lanes.py`), a row for each component.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.activity import LYNGBY_REFERENCE_K, Layout
from blendwright.mixture.excess.form import (
    INVERSE_TEMPERATURE_SCALE,
    REFERENCE_K,
    SCREENING,
)
from blendwright.mixture.excess.parts import LIKENESS, LearnedTerms
from blendwright.mixture.machine.lanes import (
    LANES,
    add_weighted,
    cleared,
    difference,
    exps,
    lanes_of,
    logs,
    machine_code,
    product,
    quotient,
)
from blendwright.mixture.parameter_sets import Array, GroupArrays
from blendwright.pure.roots import Ints

TERM_ROWS = 10  # of each component, for the learned terms
F, PSI, OF_C, OF_D, OF_A, OF_T, OF_U, LIKE, BACK, SCALED = range(TERM_ROWS)
SCALAR_ROWS = 1
KINDS = LIKENESS // 2  # of coefficients
MOST_EXPONENT = 700.0


class Tables(NamedTuple):
    """The parameter sets of a list of substances as one stack, whose weighted mean is ln gamma, and
    the learned terms on top (`mixture.excess`).

    weights (sets,); groups (sets,) how many each has; is_lyngby (sets,) by which law psi changes
    with temperature; inward (sets, substances, most groups + 2) and outward (sets, substances, most
    groups + 5) as in `activity.Layout`; interactions (sets, 3, most groups, most groups), a, b and
    c; mean, deviations and marks as in `LearnedTerms`.
    """

    weights: Array
    groups: Ints
    is_lyngby: NDArray[np.bool_]
    inward: Array
    outward: Array
    interactions: Array
    mean: Array
    deviations: NDArray[np.float32]
    marks: Array


class Blends(NamedTuple):
    """The substances' numbers (blends, components) and temperature of each, and the draw of the
    learned terms, the mean where it is negative."""

    substances: Ints
    kelvin: Array
    draws: Ints


class CompiledModel(Protocol):
    """A block's model that can tell its arrays."""

    @property
    def blends(self) -> Blends: ...

    @property
    def tables(self) -> Tables: ...


def tables_of(
    weights: Sequence[float],
    sets: Sequence[tuple[GroupArrays, Layout]],
    learned: LearnedTerms,
) -> Tables:
    """Tables of the parameter sets whose mean is the base, and of the learned terms."""
    groups = np.array([len(arrays.a) for arrays, _ in sets])
    count, most, size = len(sets), int(groups.max()), len(learned.marks)
    inward = np.zeros((count, size, most + 2))
    outward = np.zeros((count, size, most + 5))
    interactions = np.zeros((count, 3, most, most))
    for k, (arrays, plan) in enumerate(sets):
        g = int(groups[k])
        inward[k, :, : g + 2] = plan.inward
        outward[k, :, : g + 5] = plan.outward.T
        interactions[k, :, :g, :g] = arrays.a, arrays.b, arrays.c
    laws = [arrays.parameter_set.temperature_law == "lyngby" for arrays, _ in sets]
    return Tables(
        np.array(weights), groups, np.array(laws), inward, outward, interactions,
        learned.mean, learned.deviations, learned.marks,
    )  # fmt: skip


def ln_gammas(model: CompiledModel, x: Array) -> Array:
    """ln gamma (blends, rows, components) at compositions x."""
    found = np.empty(x.shape)
    _ln_gammas(np.ascontiguousarray(x), model.blends, model.tables, found)
    return found


def draw_shifts(model: CompiledModel, x: Array, weights: Array) -> Array:
    """`PairTerms.draw_shifts` (blends, draws), at the model's temperatures."""
    found = np.zeros((len(x), model.tables.deviations.shape[-1]))
    _draw_shifts(
        np.ascontiguousarray(x), np.ascontiguousarray(weights), model.blends, model.tables, found
    )
    return found


@machine_code
def _is_alike(blends, one, other):
    """Whether two blends have the same model."""
    if blends.kelvin[one] != blends.kelvin[other] or blends.draws[one] != blends.draws[other]:
        return False
    for i in range(blends.substances.shape[1]):
        if blends.substances[one, i] != blends.substances[other, i]:
            return False
    return True


@machine_code
def _ln_gammas(x, blends, tables, found):
    rows, n = x.shape[1], x.shape[2]
    here = np.arange(n)
    b = 0
    while b < len(x):
        end = b + 1
        while end < len(x) and _is_alike(blends, b, end):
            end += 1
        model = gathered(b, here, blends, tables)
        room = lanes_of(2 * n)
        total = (end - b) * rows
        for first in range(0, total, LANES):
            count = min(LANES, total - first)
            for lane in range(LANES):
                row = first + min(lane, count - 1)
                for i in range(n):
                    room[i, lane] = x[b + row // rows, row % rows, i]
            ln_gamma(room, 0, model, n)
            for lane in range(count):
                row = first + lane
                for i in range(n):
                    found[b + row // rows, row % rows, i] = room[n + i, lane]
        b = end


@machine_code
def _warmth(kelvin):
    """`excess.form.inverse_temperature`."""
    return INVERSE_TEMPERATURE_SCALE * (REFERENCE_K / kelvin - 1.0)


@machine_code
def _pair(one, other):
    """The number of two different substances' pair in `LearnedTerms`."""
    later = max(one, other)
    return later * (later - 1) // 2 + min(one, other)


@machine_code
def _groups_there(tables, k, substances, present):
    """How many groups of a set a blend has; their numbers go into `present`."""
    m = 0
    for g in range(tables.groups[k]):
        for i in range(substances.size):
            if tables.inward[k, substances[i], g] > 0.0:
                present[m] = g
                m += 1
                break
    return m


@machine_code
def _psi(tables, k, kelvin, present, pairs):
    """`activity.interaction_terms` of the groups there; 1 for a group that isn't there, whose sum
    is then 1, its ln 0."""
    if tables.is_lyngby[k]:
        above = kelvin - LYNGBY_REFERENCE_K
        level, slope = 1.0 / kelvin, above / kelvin
        curve = np.log(LYNGBY_REFERENCE_K / kelvin) + above / kelvin
    else:
        level, slope, curve = 1.0 / kelvin, 1.0, kelvin
    for g in range(present.size):
        for j in range(present.size):
            at, other = present[g], present[j]
            pairs[g, j] = -(
                tables.interactions[k, 0, at, other] * level
                + tables.interactions[k, 1, at, other] * slope
                + tables.interactions[k, 2, at, other] * curve
            )
    exps(pairs.reshape(-1), -MOST_EXPONENT, MOST_EXPONENT)


@machine_code
def _pure_residual(area, psi, own):
    """`activity.pure_residual` of one component, from its groups' surfaces; `own` is scratch."""
    count = 0
    surface = 0.0
    for g in range(area.size):
        if area[g] > 0.0:
            own[count] = g
            count += 1
            surface += area[g]
    found = 0.0
    for one in range(count):
        summed = 0.0
        for m in range(count):
            summed += area[own[m]] * psi[own[m], own[one]]
        summed /= surface
        found += area[own[one]] * (1.0 - np.log(summed))
        share = area[own[one]] / (surface * summed)
        for other in range(count):
            found -= area[own[other]] * psi[own[other], own[one]] * share
    return found


@machine_code
def _learned(b, substances, blends, tables, terms, mask):
    """The learned terms' coefficients of each pair and the marks of one blend."""
    n = substances.size
    warmth, draw = _warmth(blends.kelvin[b]), blends.draws[b]
    for i in range(n):
        for m in range(tables.marks.shape[1]):
            mask[m, i] = tables.marks[substances[i], m]
        terms[KINDS, i, i] = 1.0
        for j in range(i):
            if substances[i] == substances[j]:
                terms[KINDS, i, j] = terms[KINDS, j, i] = 1.0
                continue
            pair = _pair(substances[i], substances[j])
            for kind in range(KINDS):
                value = tables.mean[pair, 2 * kind] + warmth * tables.mean[pair, 2 * kind + 1]
                if draw >= 0:
                    value += tables.deviations[pair, kind, 0, draw]
                    value += warmth * tables.deviations[pair, kind, 1, draw]
                terms[kind, i, j] = terms[kind, j, i] = value
            if substances[i] < substances[j]:
                terms[1, j, i] = -terms[1, j, i]
            else:
                terms[1, i, j] = -terms[1, i, j]
            terms[KINDS, i, j] = terms[KINDS, j, i] = tables.mean[pair, 2 * KINDS]


@machine_code
def gathered(b, here, blends, tables):
    """One blend's arrays: only the components and groups that it has, at its temperature.

    into (sets, components, groups + 3), pairs and their transposed with a minus (sets, groups,
    groups), back (sets, groups + 5, components), the learned terms' coefficients (kinds,
    components, components) and masks (4, components), and scratch for both.
    """
    n = here.size
    substances = blends.substances[b][here]
    count = tables.weights.size
    wide = tables.outward.shape[2] - 5
    present = np.empty((count, wide), dtype=np.int64)
    met = np.empty(count, dtype=np.int64)
    most = 0
    for k in range(count):
        met[k] = _groups_there(tables, k, substances, present[k])
        most = max(most, met[k])
    into = np.zeros((count, n, most + 3))
    back = np.zeros((count, most + 5, n))
    pairs = np.zeros((count, most, most))
    across = np.zeros((count, most, most))
    own = np.empty(most, dtype=np.int64)
    for k in range(count):
        m, g_all, weight = met[k], tables.groups[k], tables.weights[k]
        _psi(tables, k, blends.kelvin[b], present[k, :m], pairs[k])
        for i in range(n):
            at = substances[i]
            for g in range(m):
                area = tables.inward[k, at, present[k, g]]
                into[k, i, g] = area
                into[k, i, most + 2] += area
                back[k, g, i] = weight * tables.outward[k, at, present[k, g]]
            into[k, i, most] = tables.inward[k, at, g_all]
            into[k, i, most + 1] = tables.inward[k, at, g_all + 1]
            for j in range(5):
                back[k, most + j, i] = weight * tables.outward[k, at, g_all + j]
            back[k, most, i] -= weight * _pure_residual(into[k, i, :m], pairs[k], own)
        for g in range(m):
            for j in range(m):
                across[k, j, g] = -pairs[k, g, j]
    terms = np.zeros((KINDS + 1, n, n))
    mask = np.empty((tables.marks.shape[1], n))
    _learned(b, substances, blends, tables, terms, mask)
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


@machine_code
def _draw_shifts(x, weights, blends, tables, found):
    """`PairTerms.draw_shifts`; each pair's counts as in `PairTerms._counts`, both orders
    together."""
    n = x.shape[1]
    draws = found.shape[1]
    phi, own, psi, alike = np.empty(n), np.empty(n), np.empty(n), np.empty(n)
    counts = np.empty(KINDS)
    for b in range(len(x)):
        substances = blends.substances[b]
        warmth = _warmth(blends.kelvin[b])
        amount = total = 0.0
        for i in range(n):
            size = tables.marks[substances[i], 0]
            phi[i] = x[b, i] * size
            own[i] = weights[b, i] * size
            amount += phi[i]
            total += own[i]
        bonded = oils = water = of_bonded = of_oils = of_water = 0.0
        for i in range(n):
            phi[i] /= amount
            s = substances[i]
            bonded += phi[i] * tables.marks[s, 1]
            of_bonded += own[i] * tables.marks[s, 1]
            oils += phi[i] * tables.marks[s, 2]
            of_oils += own[i] * tables.marks[s, 2]
            water += phi[i] * tables.marks[s, 3]
            of_water += own[i] * tables.marks[s, 3]
        kinds = KINDS if water > 0.0 else 3
        for i in range(n):
            psi[i] = alike[i] = 0.0
            for j in range(n):
                like = 1.0
                if substances[i] != substances[j]:
                    like = tables.mean[_pair(substances[i], substances[j]), 2 * KINDS]
                psi[i] += like * phi[j]
                alike[i] += like * own[j]
        screen = 1.0 / (1.0 + SCREENING * bonded)
        drop = SCREENING * screen * screen
        of_a = total * (drop * bonded - screen) - drop * of_bonded
        of_t = of_water - 2.0 * total * water
        of_u = of_water * oils + water * of_oils - 3.0 * total * water * oils
        for i in range(n):
            for j in range(i):
                if substances[i] == substances[j]:
                    continue
                if (phi[i] == 0.0 and own[i] == 0.0) or (phi[j] == 0.0 and own[j] == 0.0):
                    continue
                pair = _pair(substances[i], substances[j])
                first, second = (i, j) if substances[i] < substances[j] else (j, i)
                both = own[i] * phi[j] + own[j] * phi[i]
                square = phi[i] * phi[j]
                counts[0] = both - total * square
                counts[1] = (
                    (own[first] * psi[first] + phi[first] * alike[first]) * phi[second]
                    - (own[second] * psi[second] + phi[second] * alike[second]) * phi[first]
                    - own[first] * phi[second] * psi[second]
                    + own[second] * phi[first] * psi[first]
                    - 2.0 * total * square * (psi[first] - psi[second])
                )
                counts[2] = screen * both + square * of_a
                counts[3] = water * both + square * of_t
                counts[4] = water * oils * both + square * of_u
                for kind in range(kinds):
                    level, slope = counts[kind], warmth * counts[kind]
                    for k in range(draws):
                        found[b, k] += (
                            level * tables.deviations[pair, kind, 0, k]
                            + slope * tables.deviations[pair, kind, 1, k]
                        )
