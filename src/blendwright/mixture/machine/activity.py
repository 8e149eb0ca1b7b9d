"""ln gamma in machine code: `mixture.activity` for eight compositions of one blend at once.

Only the components and groups that a blend has are summed (`gathered`). Compositions and what comes
of them are rows of an array of lanes (`mixture/machine/lanes.py`), a row for each component.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

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
    add_product,
    add_weighted,
    added,
    cleared,
    difference,
    exps,
    lanes_of,
    logs,
    machine_code,
    product,
    quotient,
    sum_of_products,
)
from blendwright.mixture.parameter_sets import Array, GroupArrays
from blendwright.pure.roots import Ints

# The learned terms' array of lanes: a row for each component of
TERM_ROWS = 11
F, PSI, BY_C, BY_D, BY_A, SCALED, SLOPE, SIZE, HYDROXYLIC, OIL, WATER = range(TERM_ROWS)
# and after those, one row of
SCALAR_ROWS = 9
ONE, SUMMED, ENERGY, PAIRS, SKEW, IN_A, BONDED, SCREEN, DROP = range(SCALAR_ROWS)
BY_PHI = 4  # what is multiplied with phi: likeness, c, d, a, in the order of PSI to BY_A
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


class AtOne(NamedTuple):
    """What the substances have at one temperature, for blends that share it: psi (sets, most
    groups, most groups) and the pure substances' residual (sets, substances), NaN where nobody
    asked for it yet."""

    kelvin: Array  # one number, NaN before the first temperature
    psi: Array
    pure: Array


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
        for_machine_code(learned.mean), for_machine_code(learned.deviations),
        for_machine_code(learned.marks),
    )  # fmt: skip


def for_machine_code(array: NDArray[Any]) -> NDArray[Any]:
    """The array, contiguous and writable: for one of another kind all would be compiled again."""
    if array.flags.c_contiguous and array.flags.writeable:
        return array
    return np.require(array, requirements=("C", "W"))


def ln_gammas(model: CompiledModel, x: Array) -> Array:
    """ln gamma (blends, rows, components) at compositions x."""
    found = np.empty(x.shape)
    _ln_gammas(for_machine_code(x), model.blends, model.tables, found)
    return found


def at_nodes(model: CompiledModel, x: Array, temperatures_K: Array) -> Array:
    """`Liquid.at_nodes` (blends, temperatures, components)."""
    found = np.empty((len(x), len(temperatures_K), x.shape[1]))
    turns = -(-len(temperatures_K) // LANES)
    kelvin = np.resize(temperatures_K, turns * LANES)
    kelvin[len(temperatures_K) :] = temperatures_K[-1]
    _at_nodes(for_machine_code(x), model.blends.substances, model.tables, kelvin, found)
    return found


def draw_shifts(model: CompiledModel, x: Array, weights: Array) -> Array:
    """`PairTerms.draw_shifts` (blends, draws), at the model's temperatures."""
    found = np.zeros((len(x), model.tables.deviations.shape[-1]))
    _draw_shifts(for_machine_code(x), for_machine_code(weights), model.blends, model.tables, found)
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
    at = no_temperature(tables)
    b = 0
    while b < len(x):
        end = b + 1
        while end < len(x) and _is_alike(blends, b, end):
            end += 1
        model = gathered(b, here, blends, tables, at)
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
    """`activity.interaction_terms` of the groups there, into `pairs`, zero before; 1 for a group
    that isn't there, whose sum is then 1, its ln 0."""
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
def no_temperature(tables):
    """An `AtOne` to be filled by `gathered`."""
    sets, _, most, _ = tables.interactions.shape
    return AtOne(
        np.full(1, np.nan), np.zeros((sets, most, most)), np.empty((sets, tables.inward.shape[1]))
    )


@machine_code
def _is_shared(at, blends, b):
    """Whether a blend's temperature is that of `at` or of the next blend."""
    kelvin = blends.kelvin[b]
    return at.kelvin[0] == kelvin or (b + 1 < len(blends.kelvin) and blends.kelvin[b + 1] == kelvin)


@machine_code
def _warm(at, tables, kelvin):
    """`at` filled for a temperature."""
    if at.kelvin[0] == kelvin:
        return
    at.kelvin[0] = kelvin
    at.psi[:] = 0.0
    at.pure[:] = np.nan
    for k in range(len(at.psi)):
        _psi(tables, k, kelvin, np.arange(tables.groups[k]), at.psi[k])


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
def _learned(kelvin, draw, substances, tables, own):
    """The learned terms' coefficients of one blend's pairs, each (1, components, columns): those
    that are multiplied with phi (likeness, c, d, a side by side), the likeness, d, and those with
    water (t and u, none without water). The marks and a one go into `own`."""
    n = substances.size
    warmth = _warmth(kelvin)
    watery = False
    for i in range(n):
        for m in range(tables.marks.shape[1]):
            for lane in range(LANES):
                own[(SIZE + m) * n + i, lane] = tables.marks[substances[i], m]
        watery = watery or tables.marks[substances[i], 3] > 0.0
    for lane in range(LANES):
        own[TERM_ROWS * n + ONE, lane] = 1.0
    kinds = KINDS if watery else KINDS - 2
    of_phi = np.zeros((1, n, BY_PHI * n))
    of_like, of_d = np.empty((1, n, n)), np.zeros((1, n, n))
    of_water = np.zeros((1, n, 2 * n if watery else 0))
    value = np.empty(KINDS)
    for i in range(n):
        of_phi[0, i, i] = of_like[0, i, i] = 1.0
        for j in range(i):
            if substances[i] == substances[j]:
                of_phi[0, i, j] = of_phi[0, j, i] = of_like[0, i, j] = of_like[0, j, i] = 1.0
                continue
            pair = _pair(substances[i], substances[j])
            like = tables.mean[pair, 2 * KINDS]
            of_phi[0, i, j] = of_phi[0, j, i] = of_like[0, i, j] = of_like[0, j, i] = like
            for kind in range(kinds):
                value[kind] = tables.mean[pair, 2 * kind] + warmth * tables.mean[pair, 2 * kind + 1]
                if draw >= 0:
                    value[kind] += tables.deviations[pair, kind, 0, draw]
                    value[kind] += warmth * tables.deviations[pair, kind, 1, draw]
            c, d, a = value[0], value[1], value[2]
            if substances[i] > substances[j]:
                d = -d
            of_phi[0, i, n + j] = of_phi[0, j, n + i] = c
            of_phi[0, i, 2 * n + j] = of_d[0, i, j] = d
            of_phi[0, j, 2 * n + i] = of_d[0, j, i] = -d
            of_phi[0, i, 3 * n + j] = of_phi[0, j, 3 * n + i] = a
            if watery:
                of_water[0, i, j] = of_water[0, j, i] = value[3]
                of_water[0, i, n + j] = of_water[0, j, n + i] = value[4]
    return of_phi, of_like, of_d, of_water


@machine_code
def _groups_of(substances, tables):
    """The groups that some substances have: their numbers (sets, most groups) and how many of each
    set; into (sets, components, groups + 3) and back (sets, groups + 5, components) as in
    `gathered`, without the pure substances' residual."""
    n, count = substances.size, tables.weights.size
    present = np.empty((count, tables.outward.shape[2] - 5), dtype=np.int64)
    met = np.empty(count, dtype=np.int64)
    most = 0
    for k in range(count):
        met[k] = _groups_there(tables, k, substances, present[k])
        most = max(most, met[k])
    into = np.zeros((count, n, most + 3))
    back = np.zeros((count, most + 5, n))
    for k in range(count):
        m, g_all, weight = met[k], tables.groups[k], tables.weights[k]
        own_groups, forth = present[k], back[k]
        for i in range(n):
            s = substances[i]
            row, inward, outward = into[k, i], tables.inward[k, s], tables.outward[k, s]
            surface = 0.0
            for g in range(m):
                area = inward[own_groups[g]]
                row[g] = area
                surface += area
                forth[g, i] = weight * area
            row[most] = inward[g_all]
            row[most + 1] = inward[g_all + 1]
            row[most + 2] = surface
            for j in range(5):
                forth[most + j, i] = weight * outward[g_all + j]
    return present, met, into, back


@machine_code
def gathered(b, here, blends, tables, at):
    """One blend's arrays: only the components and groups that it has, at its temperature.

    into (sets, components, groups + 3), pairs and their transposed with a minus (sets, groups,
    groups), back (sets, groups + 5, components), the learned terms' coefficients (`_learned`), and
    an array of lanes for each of both. `at` keeps what blends of one temperature share.
    """
    n = here.size
    substances = blends.substances[b][here]
    present, met, into, back = _groups_of(substances, tables)
    count, most = len(met), into.shape[2] - 3
    across = np.zeros((count, most, most))
    scratch = np.empty(present.shape[1], dtype=np.int64)
    shared = _is_shared(at, blends, b)
    if shared:
        _warm(at, tables, blends.kelvin[b])
    pairs = np.full((count, most, most), 1.0 if shared else 0.0)
    for k in range(count):
        m, weight = met[k], tables.weights[k]
        own_groups, own_pairs = present[k], pairs[k]
        if shared:
            psi = at.psi[k]
            for g in range(m):
                row = psi[own_groups[g]]
                for j in range(m):
                    own_pairs[g, j] = row[own_groups[j]]
        else:
            _psi(tables, k, blends.kelvin[b], own_groups[:m], own_pairs)
        for i in range(n):
            if not shared:
                pure = _pure_residual(into[k, i, :m], own_pairs, scratch)
            else:
                s = substances[i]
                pure = at.pure[k, s]
                if np.isnan(pure):
                    all_groups = tables.inward[k, s, : tables.groups[k]]
                    pure = _pure_residual(all_groups, at.psi[k], scratch)
                    at.pure[k, s] = pure
            back[k, most, i] -= weight * pure
        reverse = across[k]
        for g in range(m):
            for j in range(m):
                reverse[j, g] = -own_pairs[g, j]
    own = lanes_of(TERM_ROWS * n + SCALAR_ROWS)
    terms = _learned(blends.kelvin[b], blends.draws[b], substances, tables, own)
    return into, pairs, across, back, terms, own, lanes_of(2 * most + 8)


@machine_code
def add_learned_terms(room, w, terms, own, out):
    """`excess.ExcessAt.ln_gamma` of LANES compositions, added to `out`."""
    of_phi, of_like, of_d, of_water = terms
    n = of_like.shape[1]
    f, scaled, slope = F * n, SCALED * n, SLOPE * n
    psi, by_c, by_d, by_a = PSI * n, BY_C * n, BY_D * n, BY_A * n
    size, hydroxylic = SIZE * n, HYDROXYLIC * n
    rows = TERM_ROWS * n
    energy, pairs, skew, summed = rows + ENERGY, rows + PAIRS, rows + SKEW, rows + SUMMED
    in_others, bonded, screen, drop = rows + IN_A, rows + BONDED, rows + SCREEN, rows + DROP
    for i in range(n):
        product(own, f + i, own, size + i, room, w + i)
    sum_of_products(own, summed, own, size, room, w, n)
    quotient(own, summed, own, rows + ONE, own, summed)
    for i in range(n):
        product(own, f + i, own, f + i, own, summed)
    # d is antisymmetric and `add_weighted` sums over its first index: by_d, skew and slope's part
    # of it are negative
    cleared(own, psi, by_a + n)
    add_weighted(own, psi, of_phi, 0, own, f)
    sum_of_products(own, pairs, own, f, own, by_c, n)
    sum_of_products(own, in_others, own, f, own, by_a, n)
    sum_of_products(own, bonded, own, f, own, hydroxylic, n)
    for i in range(n):
        product(own, scaled + i, own, f + i, own, psi + i)
    sum_of_products(own, skew, own, scaled, own, by_d, n)
    cleared(own, slope, slope + n)
    add_weighted(own, slope, of_d, 0, own, scaled)
    for i in range(n):
        product(own, scaled + i, own, f + i, own, by_d + i)
        product(own, by_d + i, own, by_d + i, own, psi + i)
    cleared(own, psi, psi + n)
    add_weighted(own, psi, of_like, 0, own, scaled)
    for lane in range(LANES):
        screened = 1.0 / (1.0 + SCREENING * own[bonded, lane])
        half = 0.5 * own[in_others, lane]
        own[screen, lane] = screened
        own[drop, lane] = SCREENING * half * screened * screened
        own[energy, lane] = 0.5 * own[pairs, lane] - own[skew, lane] + half * screened
    for i in range(n):
        difference(own, slope + i, own, slope + i, own, psi + i)
        difference(own, slope + i, own, slope + i, own, by_d + i)
        added(own, slope + i, own, slope + i, own, by_c + i)
        add_product(own, slope + i, own, by_a + i, own, screen)
        product(own, scaled + i, own, hydroxylic + i, own, drop)
        difference(own, slope + i, own, slope + i, own, scaled + i)
    if of_water.shape[2] > 0:
        _add_three_bodies(own, of_water, n)
    # ln gamma_i = size_i (energy + slope_i - sum of f slope)
    sum_of_products(own, summed, own, f, own, slope, n)
    difference(own, energy, own, energy, own, summed)
    for i in range(n):
        added(own, slope + i, own, slope + i, own, energy)
        add_product(room, out + i, own, size + i, own, slope + i)


@machine_code
def _add_three_bodies(own, of_water, n):
    """The terms with water, added to the energy and its slopes."""
    f, slope = F * n, SLOPE * n
    oil, water = OIL * n, WATER * n
    by_t, by_u = BY_C * n, BY_D * n
    rows = TERM_ROWS * n
    energy, in_t, in_u = rows + ENERGY, rows + PAIRS, rows + SKEW
    oils, waters, three = rows + IN_A, rows + BONDED, rows + SCREEN
    cleared(own, by_t, by_u + n)
    add_weighted(own, by_t, of_water, 0, own, f)
    sum_of_products(own, in_t, own, f, own, by_t, n)
    sum_of_products(own, in_u, own, f, own, by_u, n)
    sum_of_products(own, oils, own, f, own, oil, n)
    sum_of_products(own, waters, own, f, own, water, n)
    for lane in range(LANES):
        own[in_u, lane] *= 0.5
        own[three, lane] = 0.5 * own[in_t, lane] + own[oils, lane] * own[in_u, lane]
        own[energy, lane] += own[waters, lane] * own[three, lane]
    for i in range(n):
        add_product(own, by_t + i, own, by_u + i, own, oils)
        add_product(own, by_t + i, own, oil + i, own, in_u)
        add_product(own, slope + i, own, by_t + i, own, waters)
        add_product(own, slope + i, own, water + i, own, three)


@machine_code
def ln_gamma(room, w, model, out):
    """ln gamma of LANES compositions into `out`; both are first rows in `room`."""
    into, pairs, across, back, learned, own, sums = model
    count, n, wide = into.shape
    m = wide - 3
    # rows of sums: each group's share of the surface, sum of x r^p, of x r, the surface; and what
    # goes back: each group's term, 1, ln and inverse of the sum of x r^p, ln and ratio of surface
    # to size
    power, size, surface, terms = m, m + 1, m + 2, m + 3
    one = terms + m
    ln_power, inverse, ln_ratio, ratio = one + 1, one + 2, one + 3, one + 4
    cleared(room, out, out + n)
    add_learned_terms(room, w, learned, own, out)
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
def _psi_at_nodes(tables, kelvin, psi, pure):
    """`AtOne` for LANES temperatures at once: lanes of psi, in the order (sets, temperatures over
    LANES, groups, groups), and NaN for each set's and substance's residual."""
    sets, _, most, _ = tables.interactions.shape
    turns = kelvin.size // LANES
    one = np.empty((most, most))
    for k in range(sets):
        for node in range(kelvin.size):
            one[:] = 0.0
            _psi(tables, k, kelvin[node], np.arange(tables.groups[k]), one)
            first = (k * turns + node // LANES) * most * most
            for g in range(most):
                for j in range(most):
                    psi[first + g * most + j, node % LANES] = one[g, j]
    pure[:] = np.nan


@machine_code
def _pure_at_nodes(tables, k, s, first, psi, pure, at):
    """The residual of one pure substance times its set's weight, as lanes `at` of `pure`; `first`
    is where the lanes of psi begin."""
    most = tables.interactions.shape[2]
    groups = np.flatnonzero(tables.inward[k, s, : tables.groups[k]] > 0.0)
    area, one = np.empty(groups.size), np.empty((groups.size, groups.size))
    scratch = np.empty(groups.size, dtype=np.int64)
    for g in range(groups.size):
        area[g] = tables.inward[k, s, groups[g]]
    for lane in range(LANES):
        for g in range(groups.size):
            for j in range(groups.size):
                one[g, j] = psi[first + groups[g] * most + groups[j], lane]
        pure[at, lane] = tables.weights[k] * _pure_residual(area, one, scratch)


@machine_code
def _at_nodes(x, substances, tables, kelvin, found):
    """ln gamma of each blend at all temperatures, LANES of them at once; `kelvin` is filled up to
    whole turns."""
    width, size = x.shape[1], tables.inward.shape[1]
    sets, _, most, _ = tables.interactions.shape
    turns, nodes = kelvin.size // LANES, found.shape[1]
    psi = lanes_of(sets * turns * most * most)
    pure = lanes_of(sets * turns * size)
    _psi_at_nodes(tables, kelvin, psi, pure)
    cold, warm = kelvin[0], kelvin[nodes - 1]
    warmth = np.empty(kelvin.size)
    for node in range(kelvin.size):
        warmth[node] = (_warmth(kelvin[node]) - _warmth(cold)) / (_warmth(warm) - _warmth(cold))
    learned, room = lanes_of(TERM_ROWS * width + SCALAR_ROWS), lanes_of(3 * width)
    out = lanes_of(turns * width)
    for b in range(len(x)):
        here = substances[b]
        present, met, into, back = _groups_of(here, tables)
        cleared(out, 0, turns * width)
        for k in range(sets):
            m = met[k]
            count = into.shape[2] - 3
            # rows: share of each group, its sum, minus their quotient; what goes back, and a zero
            rows = lanes_of(4 * count + 7)
            share, summed, part, term = 0, count, 2 * count, 3 * count
            one, nothing = term + count, term + count + 5
            power = amount = surface = 0.0
            for i in range(width):
                power += x[b, i] * into[k, i, count]
                amount += x[b, i] * into[k, i, count + 1]
                surface += x[b, i] * into[k, i, count + 2]
            for g in range(m):
                area = 0.0
                for i in range(width):
                    area += x[b, i] * into[k, i, g]
                for lane in range(LANES):
                    rows[share + g, lane] = area / surface
            for lane in range(LANES):
                rows[one, lane] = 1.0
                rows[one + 1, lane] = np.log(power)
                rows[one + 2, lane] = 1.0 / power
                rows[one + 3, lane] = np.log(surface / amount)
                rows[one + 4, lane] = surface / amount
            for turn in range(turns):
                first = (k * turns + turn) * most * most
                cleared(rows, summed, summed + m)
                for g in range(m):
                    for j in range(m):
                        pair = first + present[k, g] * most + present[k, j]
                        add_product(rows, summed + j, rows, share + g, psi, pair)
                for g in range(m):
                    quotient(rows, part + g, rows, share + g, rows, summed + g)
                    difference(rows, part + g, rows, nothing, rows, part + g)
                logs(rows.reshape(-1)[summed * LANES : (summed + m) * LANES])
                for g in range(m):
                    difference(rows, term + g, rows, one, rows, summed + g)
                    for j in range(m):
                        pair = first + present[k, g] * most + present[k, j]
                        add_product(rows, term + g, rows, part + j, psi, pair)
                add_weighted(out, turn * width, back, k, rows, term)
                for i in range(width):
                    own = (k * turns + turn) * size + here[i]
                    if np.isnan(pure[own, 0]):
                        _pure_at_nodes(tables, k, here[i], first, psi, pure, own)
                    difference(out, turn * width + i, out, turn * width + i, pure, own)
        for i in range(width):
            for lane in range(LANES):
                room[i, lane] = x[b, i]
        cleared(room, width, 3 * width)
        for end in range(2):
            terms = _learned(warm if end else cold, -1, here, tables, learned)
            add_learned_terms(room, 0, terms, learned, (1 + end) * width)
        for node in range(nodes):
            for i in range(width):
                at_cold, at_warm = room[width + i, 0], room[2 * width + i, 0]
                own = out[(node // LANES) * width + i, node % LANES]
                found[b, node, i] = own + at_cold + warmth[node] * (at_warm - at_cold)


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
