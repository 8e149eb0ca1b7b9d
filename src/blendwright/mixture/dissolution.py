"""Which crystals go, at what temperature the last one does, and what comes back in the cold.

A solid is in equilibrium with the liquid where

    ln(x_i gamma_i) = -(H_i / R) (1 / T - 1 / Tm_i) + (f_i - 1) shape_i(T)

with gamma by the liquid model (`liquid`), f_i learned with its terms from measured solubilities, 1
where there is none, and the shape as `pure.fusion.correction_shape` has it. The last crystal
dissolves at the highest T_i at which a solid, all else being dissolved, just fits. Below it, all
solids at once: each is either wholly dissolved or at equilibrium with the liquid that is left,
which may itself lie in layers.

Pure crystals only: no hydrates, no mixed crystals; of several crystal forms the stable one, whose
solubility is the lowest. What melts in the range but is slow to crystallise (`SLOW`) is not
counted as crystals.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.formula.conditions import BENCH_K, ROOM_K
from blendwright.mixture import machine
from blendwright.mixture.activity import product_in_order
from blendwright.mixture.composition import Composition
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid import (
    NO_GROUPS,
    SOURCES,
    TITLE,
    Liquid,
    LiquidAt,
    is_covered,
    search_for_layers,
)
from blendwright.mixture.liquid_split import Stabilities, anderson
from blendwright.mixture.measured_solubility import measured_sources, where_known
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.settling import settled
from blendwright.mixture.substances import Substances, made_once
from blendwright.mixture.survey import stabilities
from blendwright.pure.fusion import Fusion, ideal_ln_activity, shape_by_ideal, shape_ends
from blendwright.pure.roots import Bools, Ints, roots_between

LOWEST_K = 233.15  # -40 °C; below it the answer is "at or below"
SLOW = frozenset(
    {
        "propylene glycol",
        "1,3-propanediol",
        "dipropylene glycol",
        "glycerol",
        "triacetin",
        "triethyl citrate",
        "tributyrin",
        "diethyl phthalate",
        "benzyl benzoate",
    }
)  # set to a glass or stay liquid for months unless seeded (common practice, no source)
VARIANCES = "variances of solids"  # kept with their part
Z_ENDS = np.array([-NORMAL_90, 0.0, NORMAL_90])  # of the anchors: most soluble, best, least
NODES = 20  # of ln(x gamma) in 1/T between these temperatures
NODES_LOW_K, NODES_HIGH_K = LOWEST_K, 520.0
TOLERANCE_K = 1e-10
LAYERED_TOLERANCE_K = 1e-4  # where the liquid lies in layers
LOGIT_TOLERANCE = 1e-10  # of ln n
LN_ZERO, LAYERED_LN_ZERO = 1e-13, 1e-7  # of ln(x gamma): far within these tolerances
LOGIT_STEPS = 13
LEAST_LOGIT, MOST_LOGIT = -25.0, 12.0  # ln of a solid's moles over the others'
DRY = 1e-6  # share dissolved where a search begins with all crystals out
LAYER_ROUNDS = 60
SETTLED_OFFSET_LN = 1e-6
MOST_TO_REST = 10.0  # kg of a crystal to one of the rest (common practice, no source)
NO_SOLIDS = "nothing in it is a solid by itself"


def crystallises(fusion: Fusion | None, temperature_K: float) -> bool:
    """True for what is a solid by itself at this temperature."""
    return fusion is not None and (fusion.melting.value or 0.0) > temperature_K


def saturation_between(
    cold_inverse: float,
    warm_inverse: float,
    ln_a: Array,
    melting_K: Array,
    sought: Callable[[Array, Array], Array],
) -> Array:
    """Find where each solid's ln(x gamma) meets the one sought, from -40 °C to melting.

    Parameters
    ----------
    cold_inverse, warm_inverse : float
        1/T between which the nodes stand, 1/K.
    ln_a : array (nodes, solids)
        ln(x gamma) at Chebyshev nodes between them.
    melting_K : array (solids,)
    sought : callable
        ln(x gamma) at saturation (z, solids), from temperatures (z, solids) and z.

    Returns
    -------
    array (z, solids)
        K; NaN where the search did not converge.
    """
    middle = 0.5 * (cold_inverse + warm_inverse)
    half = 0.5 * (cold_inverse - warm_inverse)
    count, levels = len(ln_a), len(Z_ENDS)
    angles = np.pi * (np.arange(count) + 0.5) / count
    matrix = 2.0 / count * np.cos(np.outer(np.arange(count), angles))
    matrix[0] *= 0.5
    coefficients = product_in_order(matrix, ln_a)
    order = np.arange(count)
    column = np.tile(np.arange(ln_a.shape[1]), levels)
    level = np.repeat(np.arange(levels), ln_a.shape[1])

    def over(t: Array, which: Ints) -> Array:
        """Above zero where it does not all dissolve."""
        own = column[which]
        grid = np.full((levels, ln_a.shape[1]), ROOM_K)
        grid[level[which], own] = t
        wanted = sought(grid, Z_ENDS)[level[which], own]
        angle = np.arccos(np.clip((1.0 / t - middle) / half, -1.0, 1.0))
        found = np.cos(angle[:, None] * order) * coefficients[:, own].T
        return np.asarray(found.sum(axis=1) - wanted)

    every = np.arange(len(column))
    low = np.full(len(column), LOWEST_K)
    high = melting_K[column]
    f_low, f_high = over(low, every), over(high, every)
    found = roots_between(over, low, high, TOLERANCE_K, f_low, f_high, LN_ZERO)
    never = (f_low > 0.0) & (f_high > 0.0)  # never before it melts
    root = np.where(f_low <= 0.0, low, np.where(never, high, found.root))
    return np.asarray(root.reshape(levels, -1))


@dataclass(frozen=True, eq=False)
class Solids:
    """Everything that could crystallise in a part: one entry per blend and solid.

    `row` and `column` place it in the part; `factor` is what was learned on its ideal activity.
    """

    substances: Substances
    part: Part
    row: Ints
    column: Ints
    melting_K: Array
    heat_J_mol: Array
    factor: Array

    @cached_property
    def _variances(self) -> tuple[Array, Array, Array]:
        """The draws' variance of ln gamma, its covariance with the factor, and the factor's."""
        whole, rows = self.part.origin
        row = rows[self.row]
        if (row < 0).any():
            found = _variances(self.substances, self.part, self.row, self.column)
        else:  # the same at any temperature, and for any of its solids
            key = VARIANCES, *map(id, self.substances.shifts)
            kept = made_once(whole.kept, key, lambda: np.full((3, *whole.index.shape), np.nan))
            missing = np.zeros(whole.index.shape, dtype=bool)
            missing[row, self.column] = np.isnan(kept[0, row, self.column])
            new = np.nonzero(missing)
            if new[0].size:
                kept[:, new[0], new[1]] = _variances(self.substances, whole, *new)
            found = kept[:, row, self.column]
        activity, both, factors = found
        return activity, both, factors

    @cached_property
    def _unshifted(self) -> Solids | None:
        """These solids before any measurement of blends; None where there is none."""
        if not self.substances.shifts:
            return None
        return replace(self, substances=self.substances.unshifted)

    @cached_property
    def _shape_ends(self) -> tuple[Array, Array]:
        return shape_ends(self.heat_J_mol, self.melting_K)

    def _variance(self, shape: Array) -> Array:
        activity, both, factors = self._variances
        return np.asarray(activity + shape * (shape * factors - 2.0 * both))

    def ln_targets(self, temperature_K: Array, z: Array) -> Array:
        """ln(x gamma) at saturation (z, entries) at temperatures (z, entries)."""
        ideal = ideal_ln_activity(self.heat_J_mol, self.melting_K, temperature_K)
        shape = shape_by_ideal(ideal, *self._shape_ends)
        best = ideal + (self.factor - 1.0) * shape
        if not z.any():
            return np.asarray(best + np.zeros((len(z), 1)))
        variance = self._variance(shape)
        if self._unshifted is not None:  # what was measured elsewhere makes nothing less certain
            variance = np.minimum(variance, self._unshifted._variance(shape))
        sd = np.sqrt(np.maximum(variance, 0.0))
        return np.asarray(best - z[:, None] * sd)


def _variances(substances: Substances, part: Part, row: Ints, column: Ints) -> Array:
    """`Solids._variances` (3, entries) of these components of these blends."""
    own = np.zeros((len(row), part.index.shape[1]))
    own[np.arange(len(row)), column] = 1.0
    activity = Liquid(substances, part.index[row]).draw_shifts(part.x[row], own, ROOM_K)
    factors = substances.excess.fusion_shifts(part.index[row, column])
    return np.stack(
        [(activity**2).mean(axis=1), (activity * factors).mean(axis=1), (factors**2).mean(axis=1)]
    )


def melting_points_K(substances: Substances) -> Array:
    """Melting points of what may crystallise; minus infinity for what has none or sets slowly."""

    def made() -> Array:
        return np.array(
            [
                -np.inf
                if s.fusion is None or s.name in SLOW
                else float(s.fusion.melting.value or -np.inf)
                for s in substances.pures
            ]
        )

    return substances.once(("melting",), made)


def hidden_solids(substances: Substances, temperature_K: float) -> Bools:
    """Per substance without groups, whether it is a solid by itself."""
    return np.array(
        [
            not s.groups
            and s.fusion is not None
            and (s.fusion.melting.value or 0.0) > temperature_K
            for s in substances.pures
        ]
    )


def solids_at(substances: Substances, part: Part, temperature_K: float | Array) -> Bools:
    """Which components of each blend can crystallise, at one temperature or at each blend's own
    (blends, components)."""
    kelvin = temperature_K if np.ndim(temperature_K) == 0 else np.asarray(temperature_K)[:, None]
    melts_above = melting_points_K(substances)[part.index] > kelvin
    return np.asarray(melts_above & part.there & ~part.as_sold)


def solids_of(substances: Substances, part: Part, which: Bools) -> Solids:
    """The components marked (blends, components) with what was learned of each."""
    row, column = np.nonzero(which)
    index = part.index[row, column]
    pures = [substances.pures[number].fusion for number in index.tolist()]
    melting = np.array([f.melting.value if f else np.nan for f in pures], dtype=float)
    heat = np.array([f.heat.value if f else np.nan for f in pures], dtype=float)
    factor = substances.excess.fusion_factors[0, index]
    return Solids(substances, part, row, column, melting, heat, factor)


def liquid_models(substances: Substances, part: Part) -> list[tuple[Ints, Liquid]]:
    """The blends that the liquid model covers, and it."""
    where = np.flatnonzero(is_covered(substances, part))
    return [(where, Liquid(substances, part.only(where).index))] if where.size else []


def ln_saturation(substances: Substances, part: Part, temperatures_K: Array) -> Array:
    """ln(x gamma) (blends, components) above which each component falls out as crystals, at each
    blend's own temperature; infinite for what is no crystal there."""
    found = np.full(part.index.shape, np.inf)
    which = solids_at(substances, part, temperatures_K)
    where = np.flatnonzero(which.any(axis=1))
    if where.size:
        solids = solids_of(substances, part.only(where), which[where])
        kelvin = temperatures_K[where][solids.row][None, :]
        found[where[solids.row], solids.column] = solids.ln_targets(kelvin, np.zeros(1))[0]
    return found


def undissolved(
    substances: Substances,
    part: Part,
    temperature_K: float | Array,
    layers: bool = False,
    best_only: bool = False,
    from_dry: bool = False,
) -> tuple[Array, Bools]:
    """Find what lies as crystals, the liquid being one or lying in layers.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    temperature_K : float or array (blends,)
    layers : bool
        Whether the liquid may lie in layers.
    best_only : bool
        The ends are then the value.
    from_dry : bool
        The search begins with all crystals out, instead of with all dissolved.

    Returns
    -------
    share : array (3, blends, components)
        Of each component, 0 to 1: value, low and high end; NaN where it is not sure.
    sure : array (blends,)
        Which blends have a model and converged.
    """
    share = np.zeros((3, *part.index.shape))
    covered = np.zeros(len(part), dtype=bool)
    which = solids_at(substances, part, temperature_K)
    bare = np.flatnonzero(~which.any(axis=1))
    covered[bare] = is_covered(substances, part.only(bare))
    z = np.zeros(1) if best_only else Z_ENDS
    kelvin = np.broadcast_to(np.asarray(temperature_K, dtype=float), (len(part),))
    rest = np.flatnonzero(which.any(axis=1))
    if rest.size:
        here = part.only(rest)
        for where, model in liquid_models(substances, here):
            some = here.only(where)
            solids = solids_of(substances, some, which[rest[where]])
            at = rest[where]
            shares, converged = _undissolved(
                some, solids, model.at(kelvin[at]), kelvin[at], layers, z, from_dry
            )
            low, value, high = shares[0], shares[len(z) // 2], shares[-1]
            share[0, at] = value
            share[1, at] = np.minimum(low, value)
            share[2, at] = np.maximum(high, value)
            covered[at] = converged
    share[:, ~covered] = np.nan
    return share, covered


def _undissolved(
    part: Part,
    solids: Solids,
    model: LiquidAt,
    temperature_K: Array,
    layers: bool,
    z: Array,
    from_dry: bool,
) -> tuple[Array, Bools]:
    """(z, blends, components): every solid's dissolved amount is moved until nothing moves. And
    which blends came so far."""
    levels, width = len(z), part.index.shape[1]
    kelvin = np.broadcast_to(temperature_K[solids.row], (levels, len(solids.row)))
    sought = np.full((len(part), levels, width), np.inf)
    sought[solids.row, :, solids.column] = solids.ln_targets(kelvin, z).T
    dissolved = np.repeat(part.moles[:, None, :], levels, axis=1)
    if from_dry:
        dissolved = np.where(np.isfinite(sought), DRY * dissolved, dissolved)
    offset = np.zeros_like(dissolved)
    blend_of = np.repeat(np.arange(len(part)), levels)
    liquid = Layered(
        lambda _, rows: model.only(blend_of[rows]),
        dissolved.reshape(-1, width),
        search_for_layers(),
    )
    open_ = np.arange(len(part))
    converged = np.zeros(len(part), dtype=bool)
    moves: list[Array] = []  # of all blends, the latest of each that is open
    values: list[Array] = []
    settled = _settling()
    for _ in range(LAYER_ROUNDS if layers else 1):
        dissolved[open_], converged[open_] = settled(
            part.moles[open_], dissolved[open_], sought[open_] - offset[open_], model.only(open_)
        )
        if not layers:
            break
        rows = (open_[:, None] * levels + np.arange(levels)).ravel()
        here = dissolved[open_]
        liquid.x[rows] = (here / here.sum(axis=2, keepdims=True)).reshape(-1, width)
        latest = liquid.ln_offsets(temperature_K[blend_of[rows]], rows).reshape(here.shape)
        converged[open_] &= liquid.converged.reshape(-1, levels)[open_].all(axis=1)
        move, value = np.zeros_like(offset), np.zeros_like(offset)
        move[open_], value[open_] = latest - offset[open_], latest
        moves, values = [move, *moves[:2]], [value, *values[:2]]
        moved = np.abs(move[open_]).max(axis=(1, 2)) >= SETTLED_OFFSET_LN
        open_ = open_[moved]
        if not open_.size:
            break
        flat = [[a[open_].reshape(-1, width) for a in some] for some in (moves, values)]
        offset[open_] = next_offset(*flat).reshape(len(open_), levels, width)
    else:
        converged[open_] = False
    is_solid = np.isfinite(sought)
    with np.errstate(divide="ignore", invalid="ignore"):
        lying = np.where(is_solid, 1.0 - dissolved / part.moles[:, None, :], 0.0)
    return np.asarray(lying.transpose(1, 0, 2)), converged


def _settling() -> Callable[[Array, Array, Array, LiquidAt], tuple[Array, Bools]]:
    """In machine code where that is ready."""
    if not machine.is_ready():
        return settled
    from blendwright.mixture.machine import crystals

    return crystals.settled


def _as_one(part: Part, solids: Solids, model: Liquid) -> Array:
    """Where each solid just dissolves (z, solids), the liquid being one."""
    cold, warm = 1.0 / NODES_LOW_K, 1.0 / NODES_HIGH_K
    place = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    kelvin = 1.0 / (0.5 * (cold + warm) + 0.5 * (cold - warm) * place)
    ln_gamma = model.at_nodes(part.x, kelvin)[solids.row, :, solids.column]
    ln_a = ln_gamma + np.log(part.x[solids.row, solids.column])[:, None]
    return saturation_between(cold, warm, ln_a.T, solids.melting_K, solids.ln_targets)


def _unstable_there(part: Part, solids: Solids, model: Liquid, temperature_K: Array) -> Ints:
    """The blends whose liquid is unstable where its last solid dissolves as one liquid."""
    last = np.full(len(part), LOWEST_K)
    np.maximum.at(last, solids.row, np.nan_to_num(temperature_K, nan=LOWEST_K))
    return np.flatnonzero(stabilities(part, model.at(last), only_sides=True).unstable)


def _in_layers(part: Part, solids: Solids, model: Liquid) -> Array:
    """As `_as_one`, over the layers at each temperature itself."""
    count, levels = len(solids.row), len(Z_ENDS)
    entry, level = np.tile(np.arange(count), levels), np.repeat(np.arange(levels), count)
    rows, columns = solids.row[entry], solids.column[entry]
    every = np.arange(len(rows))

    def layered(blends: Ints) -> Layered:
        def at(kelvin: Array, which: Ints) -> LiquidAt:
            return model.only(blends[which]).at(kelvin)

        def look(some: LiquidAt, which: Ints) -> Stabilities:
            return stabilities(part.only(blends[which]), some, only_sides=True)

        return Layered(at, part.x[blends], search_for_layers(), look)

    def above(ln_a: Array, kelvin: Array, which: Ints) -> Array:
        """Above zero where it does not all dissolve."""
        grid = np.full((levels, count), ROOM_K)
        grid[level[which], entry[which]] = kelvin
        return np.asarray(ln_a - solids.ln_targets(grid, Z_ENDS)[level[which], entry[which]])

    coldest, blends = layered(np.arange(len(part))), np.arange(len(part))  # alike for all solids
    ln_a = coldest.ln_activity(np.full(len(part), LOWEST_K), blends)
    ln_a[~coldest.converged] = np.nan
    low, high = np.full(len(rows), LOWEST_K), solids.melting_K[entry]
    f_low = above(ln_a[rows, columns], low, every)
    liquid = layered(rows)

    def over(kelvin: Array, which: Ints) -> Array:
        ln_a = liquid.ln_activity(kelvin, which)[np.arange(len(which)), columns[which]]
        return np.where(liquid.converged[which], above(ln_a, kelvin, which), np.nan)

    found = np.where(f_low <= 0.0, LOWEST_K, np.nan)
    lying = np.flatnonzero(f_low > 0.0)
    f_high = over(high[lying], lying)
    found[lying[f_high > 0.0]] = high[lying[f_high > 0.0]]  # never before it melts
    inside = lying[f_high <= 0.0]
    liquid.begin_with(coldest.known.only(rows))
    roots = roots_between(
        lambda kelvin, which: over(kelvin, inside[which]),
        low[inside],
        high[inside],
        LAYERED_TOLERANCE_K,
        f_low[inside],
        f_high[f_high <= 0.0],
        LAYERED_LN_ZERO,
    )
    found[inside] = roots.root
    return np.asarray(found.reshape(levels, count))


def next_offset(moves: list[Array], values: list[Array]) -> Array:
    """What the layers do to ln(x gamma), from the last three rounds (blends, components), newest
    first: the latest as it is, or by Anderson's mixing."""
    if len(moves) < 3:
        return values[0]
    steps, points = ([a[:, None, :] for a in some] for some in (moves, values))
    weights = np.ones_like(steps[0])
    mixed = anderson(steps, points, weights, np.ones(weights.shape[:2], dtype=bool))
    return np.asarray(values[0] - mixed[:, 0, :])


@dataclass(frozen=True, eq=False)
class Saturations:
    """Where the last crystal of each blend dissolves, K (NaN where there is none, no model, or the
    search did not converge), and every solid: `each` (3, blends, components) value, low and high
    end, NaN for no solid."""

    value: Array
    low: Array
    high: Array
    each: Array
    covered: Bools
    converged: Bools

    def with_some(self, where: Ints, other: Saturations) -> Saturations:
        """Some blends' from another."""

        def changed(own: NDArray[Any], theirs: NDArray[Any]) -> NDArray[Any]:
            made = own.copy()
            made[..., where] = theirs
            return made

        each = self.each.copy()
        each[:, where] = other.each
        return Saturations(
            changed(self.value, other.value),
            changed(self.low, other.low),
            changed(self.high, other.high),
            each,
            changed(self.covered, other.covered),
            changed(self.converged, other.converged),
        )


def saturations(substances: Substances, part: Part, solid_below_K: float) -> Saturations:
    """Find where the solids of each blend dissolve, over its layers where the liquid is unstable
    there.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    solid_below_K : float
        A substance counts as a solid when it melts above it.

    Returns
    -------
    Saturations
        K, from LOWEST_K to the melting points.
    """
    key = "saturations", substances, solid_below_K
    return made_once(part.kept, key, lambda: _saturations(substances, part, solid_below_K))


def _saturations(substances: Substances, part: Part, solid_below_K: float) -> Saturations:
    size, width = part.index.shape
    value, low, high = (np.full(size, np.nan) for _ in range(3))
    each = np.full((3, size, width), np.nan)
    covered, converged = np.zeros(size, dtype=bool), np.ones(size, dtype=bool)
    which = solids_at(substances, part, solid_below_K)
    rest = np.flatnonzero(which.any(axis=1))
    here = part.only(rest)
    for where, model in liquid_models(substances, here) if rest.size else ():
        some = here.only(where)
        solids = solids_of(substances, some, which[rest[where]])
        found = _as_one(some, solids, model)
        layered = _unstable_there(some, solids, model, found[1])
        if layered.size:
            marks = np.isin(solids.row, layered)
            few = some.only(layered)
            own = solids_of(substances, few, which[rest[where[layered]]])
            found[:, marks] = _in_layers(few, own, model.only(layered))
        lows, values, highs = (
            np.minimum(found[0], found[1]),
            found[1],
            np.maximum(found[2], found[1]),
        )
        at = rest[where]
        unsure = np.zeros(len(some), dtype=bool)
        np.logical_or.at(unsure, solids.row, np.isnan(found).any(axis=0))
        covered[at], converged[at] = True, ~unsure
        each[:, at[solids.row], solids.column] = values, lows, highs
        grid = np.full((3, len(some), width), -np.inf)
        grid[:, solids.row, solids.column] = values, lows, highs
        last = np.argmax(grid[0], axis=1)
        rows = np.arange(len(some))
        value[at], low[at] = grid[0, rows, last], grid[1, rows, last]
        high[at] = grid[2].max(axis=1)
        for values in (value, low, high):
            values[at[unsure]] = np.nan
        each[:, at[unsure]] = np.nan
    return Saturations(value, low, high, each, covered, converged)


def undersaturations(composition: Composition, temperature_K: float, z: float = 0.0) -> Array:
    """Tell how far each solid of a blend is from falling out, all being dissolved.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 430 K, as the liquid model.
    z : float
        By the best estimate, or z standard deviations less soluble.

    Returns
    -------
    array (solids,)
        ln of sought over present x gamma, negative where it falls out; empty without solids or a
        complete set.
    """
    found = _solids_of_one(composition, temperature_K)
    if found is None:
        return np.zeros(0)
    solids, model = found
    part = composition.part
    ln_gamma = model.at(temperature_K).ln_gamma(part.x[:, None, :])[0, 0, solids.column]
    ln_a = np.log(part.x[0, solids.column]) + ln_gamma
    kelvin = np.full((1, len(solids.row)), temperature_K)
    return np.asarray(solids.ln_targets(kelvin, np.array([z]))[0] - ln_a)


def most_dissolved_kg(part: Part, solids: Solids, model: LiquidAt, masses_kg_mol: Array) -> Array:
    """Find the largest mass of each solid that stays dissolved, the rest being as it is.

    Looked for from the lean side of any gap, in steps of its share of the moles.

    Parameters
    ----------
    part : Part
    solids : Solids
        Entries, each a solid of one of the blends.
    model : LiquidAt
        Each blend at its temperature.
    masses_kg_mol : array (substances,)

    Returns
    -------
    array (3, entries)
        Least, best and most, kg; NaN where the search did not converge.
    """
    z = -Z_ENDS
    total = part.moles[solids.row].sum(axis=1)
    own = part.moles[solids.row, solids.column]
    rest = np.maximum(total - own, 1e-12 * total)
    entries = len(solids.row)
    kelvin = np.broadcast_to(model.temperatures_K[solids.row], (len(z), entries))
    sought = solids.ln_targets(kelvin, z)
    each = np.arange(entries)
    entry, level = np.repeat(each, len(z)), np.tile(np.arange(len(z)), entries)

    def ln_a(logit: Array, here: Ints) -> Array:
        """ln(x gamma) of some entries, so much of each being dissolved."""
        count = np.arange(len(here))
        moles = part.moles[solids.row[here]]
        moles[count, solids.column[here]] = rest[here] * np.exp(logit)
        x = moles / moles.sum(axis=1, keepdims=True)
        with np.errstate(divide="ignore"):
            ln_gamma = model.only(solids.row[here]).ln_gamma(x[:, None, :])[:, 0, :]
            return np.asarray((np.log(x) + ln_gamma)[count, solids.column[here]])

    def over(logit: Array, which: Ints) -> Array:
        """Above zero where it is too much."""
        return ln_a(logit, entry[which]) - sought[level[which], entry[which]]

    every = np.arange(len(entry))
    steps = np.linspace(LEAST_LOGIT, MOST_LOGIT, LOGIT_STEPS)
    at_steps = ln_a(np.tile(steps, entries), np.repeat(each, LOGIT_STEPS)).reshape(entries, -1)
    values = at_steps[entry] - sought[level, entry][:, None]
    above = values > 0.0
    first = np.where(above.any(axis=1), np.argmax(above, axis=1), LOGIT_STEPS)
    right = np.clip(first, 1, LOGIT_STEPS - 1)
    found = roots_between(
        over,
        steps[right - 1],
        steps[right],
        LOGIT_TOLERANCE,
        values[every, right - 1],
        values[every, right],
        LN_ZERO,
    )
    logit = np.where(first == 0, LEAST_LOGIT, found.root)
    logit = np.where(first == LOGIT_STEPS, MOST_LOGIT, logit)
    moles = rest * np.exp(logit.reshape(entries, len(z)).T)
    return np.sort(moles * masses_kg_mol[part.index[solids.row, solids.column]], axis=0)


# One blend


@dataclass(frozen=True)
class Saturation:
    """One solid: the temperature where it just dissolves in the finished blend."""

    index: int
    name: str
    temperature: Estimate


@dataclass(frozen=True)
class Dissolution:
    """The last crystal's temperature and every solid's own."""

    last: Estimate
    solids: tuple[Saturation, ...]


@dataclass(frozen=True, eq=False)
class Crystals:
    """What lies undissolved at one temperature: share of each substance, 0 to 1, with 90 % ends.

    `solids` are the indices of what is a solid by itself at 20 °C, dissolved or not.
    """

    temperature_K: float
    names: tuple[str, ...]
    value: Array
    low: Array
    high: Array
    mass_kg: Array
    solids: tuple[int, ...]
    sources: tuple[str, ...]

    @property
    def converged(self) -> bool:
        return not bool(np.isnan(self.value).any())

    @property
    def dissolved_share(self) -> Estimate:
        """Share of the mass of all that is a solid by itself at 20 °C; "not_applicable" without
        solids."""
        if not self.converged:
            return Estimate.unknown("1", str(NotConvergedError("crystals")))
        if not self.solids:
            return Estimate.absent("1", "not_applicable", NO_SOLIDS)
        total = float(self.mass_kg[list(self.solids)].sum())
        own = list(self.solids)
        mass_kg = self.mass_kg[own]
        left = [float((s[own] * mass_kg).sum()) / total for s in (self.low, self.value, self.high)]
        return Estimate.ok(
            1.0 - left[1],
            1.0 - left[2],
            1.0 - left[0],
            "1",
            "solid-liquid equilibrium, all solids",
            self.sources,
        )


def _model_of_one(composition: Composition) -> Liquid | None:
    if not composition.substances:
        return None

    def made() -> Liquid | None:
        found = liquid_models(composition.table, composition.part)
        return found[0][1] if found else None

    return composition.once("solids", made)


def _solids_of_one(composition: Composition, temperature_K: float) -> tuple[Solids, Liquid] | None:
    """What can crystallise, and the liquid's model; None without either."""
    model = _model_of_one(composition)
    if model is None:
        return None
    which = solids_at(composition.table, composition.part, temperature_K)
    if not which.any():
        return None
    return solids_of(composition.table, composition.part, which), model


def dissolution(composition: Composition, solid_below_K: float) -> Dissolution:
    """Find the temperatures at which the solids of this blend dissolve.

    Parameters
    ----------
    composition : Composition
        One blend.
    solid_below_K : float
        A substance counts as a solid when it melts above it.

    Returns
    -------
    Dissolution
        K; "not_applicable" where there is no solid, "unknown" where the model does not cover it or
        the search did not converge.
    """
    table, part = composition.table, composition.part
    columns = np.flatnonzero(solids_at(table, part, solid_below_K)[0])
    if not columns.size:
        return Dissolution(Estimate.absent("K", "not_applicable", NO_SOLIDS), ())
    if not composition.is_covered:
        return Dissolution(Estimate.unknown("K", NO_GROUPS), ())
    found = saturations(table, part, solid_below_K)
    if not found.converged[0]:
        return Dissolution(Estimate.unknown("K", str(NotConvergedError("crystals"))), ())
    each = [_saturation(composition, int(i), found.each[:, 0, i].tolist()) for i in columns]
    last = max(each, key=lambda s: s.temperature.interval()[0])
    estimate = replace(last.temperature, high=float(found.high[0]))
    return Dissolution(estimate.with_notes(f"the last to go: {last.name}"), tuple(each))


def _saturation(composition: Composition, index: int, ends: list[float]) -> Saturation:
    substance = composition.substances[index]
    melt, known = substance.fusion, where_known(substance.material)
    assert melt is not None
    value, low, high = ends
    notes = list(melt.heat.notes)
    if known:
        notes.append(f"solubility of {substance.name}: {known}")
    if substance.material.is_analogue:
        notes.append(f"{substance.name}: {substance.material.groups_assigned_by}")
    if value <= LOWEST_K + 0.1:
        notes.append("at or below -40 °C")
    measured = measured_sources(substance.material)
    estimate = Estimate.ok(
        value,
        low,
        high,
        "K",
        f"solid-liquid equilibrium with {TITLE}",
        (
            *SOURCES,
            *melt.melting.sources,
            *melt.heat.sources,
            *dict.fromkeys(measured),
        ),
        notes,
    )
    return Saturation(index, substance.name, estimate)


def crystals_of(composition: Composition, temperature_K: float, share: Array) -> Crystals:
    """From the shares that lie as crystals: value, low and high of each substance."""
    value, low, high = share
    solids = solids_at(composition.table, composition.part, BENCH_K)[0]
    return Crystals(
        temperature_K,
        composition.names,
        value,
        low,
        high,
        composition.mass_kg,
        tuple(np.flatnonzero(solids).tolist()),
        SOURCES,
    )


def most_dissolved(
    composition: Composition, solids: list[int], temperatures_K: Sequence[float]
) -> list[tuple[Estimate, ...]]:
    """The largest mass of each solid that stays dissolved at each temperature, the rest as it is,
    kg.

    Written rule: any amount ("not_applicable") where it melts below that temperature, or where more
    than MOST_TO_REST times what all the rest weighs stays dissolved: that is no longer this blend,
    but the molten crystal with a little of it. No interval reaches beyond. "unknown" without a
    complete set, or without anything else to dissolve in.
    """
    if not composition.is_covered:
        return [tuple(Estimate.unknown("kg", NO_GROUPS) for _ in solids) for _ in temperatures_K]
    kelvin = np.array(temperatures_K, dtype=float)
    table, part = composition.table, composition.part.only(np.zeros(kelvin.size, dtype=np.int64))
    which = solids_at(table, part, kelvin)
    masses: dict[tuple[int, int], list[float]] = {}
    if which.any():
        own, model = solids_of(table, part, which), Liquid(table, part.index).at(kelvin)
        each = most_dissolved_kg(part, own, model, table.molar_mass_kg_mol)
        at = zip(own.row.tolist(), own.column.tolist(), strict=True)
        masses = dict(zip(at, each.T.tolist(), strict=True))
    return [
        tuple(_most_dissolved(composition, i, masses.get((row, i))) for i in solids)
        for row in range(kelvin.size)
    ]


def _most_dissolved(composition: Composition, index: int, masses: list[float] | None) -> Estimate:
    if masses is None:
        reason = "a liquid by itself at this temperature"
        return Estimate.absent("kg", "not_applicable", reason)
    if any(map(math.isnan, masses)):
        return Estimate.unknown("kg", str(NotConvergedError("crystals")))
    rest_kg = float(np.delete(composition.mass_kg, index).sum())
    return _most_of(masses, MOST_TO_REST * rest_kg)


def _most_of(masses: list[float], most_kg: float) -> Estimate:
    """The largest amount from its low end, best estimate and high end, by the rule above."""
    low, value, high = masses
    if not most_kg > 0.0:
        return Estimate.unknown("kg", "nothing else is in it to dissolve in")
    method = f"solid-liquid equilibrium with {TITLE}"
    if value > most_kg:
        reason = f"any amount: more than {MOST_TO_REST:g} times what all the rest weighs"
        return Estimate.absent("kg", "not_applicable", reason, method)
    notes = [f"the high end is more than {MOST_TO_REST:g} times the rest"] if high > most_kg else []
    return Estimate.ok(value, low, min(high, most_kg), "kg", method, SOURCES, notes)
