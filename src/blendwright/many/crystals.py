"""The crystals of whole parts: `mixture.dissolution` as arrays.

What lies undissolved at a temperature, and where each blend's last crystal goes. `layers` asks for
the liquid in layers where the sets say so, of all blends of the part.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from blendwright.conditions import ROOM_K
from blendwright.many.rows import Part
from blendwright.many.substances import Bools, Ints, Picked, Substances
from blendwright.many.voices import AtTemperature, Voice, complete, search_for_layers
from blendwright.mixture.dissolution import (
    LAYER_NODES,
    LAYER_ROUNDS,
    LEAST_DISSOLVED,
    LOWEST_K,
    MOST_STEP_LN,
    ROUNDS,
    SETTLED_LN,
    SETTLED_OFFSET_LN,
    SLOW,
    STEP_SHARE,
    Z_ENDS,
    fusion_ln_sd,
    next_offset,
    saturation_between,
)
from blendwright.mixture.ensemble import rules
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid_split import WORTH_SORTING
from blendwright.mixture.measured_solubility import (
    Fit,
    anchor_points,
    anchor_weights,
    shift_at,
    spreads_of,
    widenings,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.fusion import ideal_ln_activity

if TYPE_CHECKING:
    from blendwright.many.machine.activity import Sets

NODES = 20  # of ln(x gamma) in 1/T between these temperatures
NODES_LOW_K, NODES_HIGH_K = LOWEST_K, 520.0


Points = tuple[tuple[Fit, float, float], ...]


@dataclass(frozen=True, eq=False)
class Solids:
    """Everything that could crystallise in a part: one entry per blend and solid.

    `row` and `column` place it in the part; `points` number the shifts of its measurements.
    """

    row: Ints
    column: Ints
    melting_K: Array
    heat_J_mol: Array
    ln_sd: Array
    weights: list[tuple[Ints, Points, Array]]  # entries of one substance, its points, (entries, k)

    def ln_targets(self, temperature_K: Array, z: Array) -> Array:
        """ln(x gamma) at saturation (z, entries) at temperatures (z, entries)."""
        ideal = ideal_ln_activity(self.heat_J_mol, self.melting_K, temperature_K)
        shift = np.zeros_like(ideal)
        for entries, points, weights in self.weights:
            shifts = shift_at(points, temperature_K[:, entries])  # (z, entries, points)
            shift[:, entries] = (shifts * weights).sum(axis=-1)
        return np.asarray(ideal - shift - z[:, None] * self.ln_sd)


def can_crystallise(substances: Substances, temperature_K: float) -> Bools:
    """Per substance, whether it is a solid by itself at a temperature and not slow to set."""

    def made() -> Bools:
        return np.array(
            [
                s.fusion is not None
                and (s.fusion.melting.value or 0.0) > temperature_K
                and s.name not in SLOW
                for s in substances.pures
            ]
        )

    return substances.once(("crystallises", temperature_K), made)


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


def solids_at(substances: Substances, part: Part, temperature_K: float) -> Bools:
    """Which components of each blend can crystallise at a temperature (blends, components)."""
    return can_crystallise(substances, temperature_K)[part.index] & part.there & ~part.as_sold


def solids_of(substances: Substances, part: Part, which: Bools) -> Solids:
    """The components marked (blends, components) with what measurements say of each."""
    row, column = np.nonzero(which)
    index = part.index[row, column]
    melts = np.array(
        [
            s.fusion is not None and (s.fusion.melting.value or 0.0) > ROOM_K
            for s in substances.pures
        ]
    )
    liquid = np.where(melts[part.index], 0.0, part.mass_kg)
    total = liquid.sum(axis=1, keepdims=True)
    share = liquid / np.where(total > 0.0, total, 1.0)
    squares = (share**2).sum(axis=1)
    melting, heat, sd = np.zeros(len(row)), np.zeros(len(row)), np.zeros(len(row))
    weights: list[tuple[Ints, Points, Array]] = []
    for number in np.unique(index).tolist():
        pure = substances.pures[number]
        assert pure.fusion is not None
        entries = np.flatnonzero(index == number)
        blends = row[entries]
        melting[entries] = pure.fusion.melting.interval()[0]
        heat[entries] = pure.fusion.heat.interval()[0]
        spread = spreads_of(pure.material)
        of_solid = spread.solid**2 + fusion_ln_sd(pure.fusion) ** 2
        prior = of_solid + spread.carrier**2 * squares[blends]
        points = anchor_points(pure.material)
        factor = _widenings(substances, number)
        counted = np.where(total[blends] > 0.0, share[blends] * factor[part.index[blends]], 0.0)
        widening = np.where(total[blends, 0] > 0.0, counted.sum(axis=1), 1.0)
        if not points:
            sd[entries] = widening * np.sqrt(prior)
            continue
        carriers = [substances.named(fit.solvent) for fit, _, _ in points]
        shares = np.stack(
            [
                (share[blends] * (part.index[blends] == c) * part.there[blends]).sum(axis=1)
                for c in carriers
            ],
            axis=1,
        )
        own, left = anchor_weights(spread, of_solid, prior, shares)
        sd[entries] = widening * np.sqrt(left)
        weights.append((entries, points, own))
    return Solids(row, column, melting, heat, sd, weights)


def _widenings(substances: Substances, number: int) -> Array:
    """`measured_solubility.widenings` of one solid in each of the substances."""
    points = anchor_points(substances.pures[number].material)
    return substances.once(("widenings", number), lambda: widenings(substances.names, points))


class LiquidModel:
    """The mean of the sets for solids (`Ensemble.mean`), for blends that have the same of them."""

    def __init__(self, voices: list[tuple[float, Voice]]) -> None:
        self.voices = voices

    def at(self, temperature_K: float) -> MeanAt:
        return MeanAt([(weight, voice.at(temperature_K)) for weight, voice in self.voices])

    def at_own(self, temperatures_K: Array) -> MeanAt:
        return MeanAt([(weight, voice.at_own(temperatures_K)) for weight, voice in self.voices])

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        return np.asarray(
            sum(weight * voice.at_nodes(x, temperatures_K) for weight, voice in self.voices)
        )


class MeanAt:
    """The mean of some sets at a temperature, or at each blend's own."""

    def __init__(self, voices: list[tuple[float, AtTemperature]]) -> None:
        self.voices = voices

    def only(self, keep: Picked) -> MeanAt:
        return MeanAt([(weight, at.only(keep)) for weight, at in self.voices])

    def ln_gamma(self, x: Array) -> Array:
        return np.asarray(sum(weight * at.ln_gamma(x) for weight, at in self.voices))

    def sets(self) -> Sets:
        """For machine code."""
        from blendwright.many.machine.activity import mean_of

        weights = [weight for weight, _ in self.voices]
        return mean_of(weights, [at.sets() for _, at in self.voices])


def liquid_models(substances: Substances, part: Part) -> list[tuple[Ints, LiquidModel]]:
    """Blends by which sets are complete for them; those without any are in no group."""
    known = [r for r in rules() if r.question == "solid" and r.is_set]
    speaks = np.array([complete(substances, rule.parameter_set, part) for rule in known])
    code = (speaks * (2 ** np.arange(len(known)))[:, None]).sum(axis=0)
    made = []
    for one in np.unique(code[code > 0]).tolist():
        where = np.flatnonzero(code == one)
        here = part.only(where)
        heard = [rule for i, rule in enumerate(known) if one >> i & 1]
        total = sum(rule.weight for rule in heard)
        voices = [
            (rule.weight / total, Voice(substances, rule.parameter_set, here)) for rule in heard
        ]
        made.append((where, LiquidModel(voices)))
    return made


def undissolved(
    substances: Substances, part: Part, temperature_K: float, layers: bool = False
) -> tuple[Array, Bools]:
    """Share of each component that lies as crystals: value, low, high (3, blends, components), and
    which blends have a model and converged (the others are NaN)."""
    share = np.zeros((3, *part.index.shape))
    speaks = np.zeros(len(part), dtype=bool)
    which = solids_at(substances, part, temperature_K)
    bare = np.flatnonzero(~which.any(axis=1))
    if bare.size:
        any_set = [
            complete(substances, r.parameter_set, part.only(bare))
            for r in rules()
            if r.question == "solid" and r.is_set
        ]
        speaks[bare] = np.any(any_set, axis=0)
    rest = np.flatnonzero(which.any(axis=1))
    if rest.size:
        here = part.only(rest)
        for where, model in liquid_models(substances, here):
            some = here.only(where)
            solids = solids_of(substances, some, which[rest[where]])
            (low, value, high), converged = _undissolved(
                some, solids, model.at(temperature_K), temperature_K, layers
            )
            at = rest[where]
            share[0, at] = value
            share[1, at] = np.minimum(low, value)
            share[2, at] = np.maximum(high, value)
            speaks[at] = converged
    share[:, ~speaks] = np.nan
    return share, speaks


def _undissolved(
    part: Part, solids: Solids, model: MeanAt, temperature_K: float, layers: bool
) -> tuple[Array, Bools]:
    """(z, blends, components): every solid's dissolved amount is moved until nothing moves. And
    which blends came so far."""
    levels, width = len(Z_ENDS), part.index.shape[1]
    kelvin = np.full((levels, len(solids.row)), temperature_K)
    sought = np.full((len(part), levels, width), np.inf)
    sought[solids.row, :, solids.column] = solids.ln_targets(kelvin, Z_ENDS).T
    dissolved = np.repeat(part.moles[:, None, :], levels, axis=1)
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
        latest = liquid.ln_offsets(np.full(len(rows), temperature_K), rows).reshape(here.shape)
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


def _settling() -> Callable[[Array, Array, Array, MeanAt], tuple[Array, Bools]]:
    """In machine code where numba is installed (extra `batch`)."""
    if find_spec("numba") is None:
        return settled
    from blendwright.many.machine import crystals

    return crystals.settled


def settled(total: Array, dissolved: Array, sought: Array, model: MeanAt) -> tuple[Array, Bools]:
    """The dissolved moles (blends, z, components) at which nothing moves any more, and which
    blends came so far."""
    result = dissolved.copy()
    total = total[:, None, :]
    is_solid = np.isfinite(sought)
    blends = np.arange(len(result))
    converged = np.ones(len(result), dtype=bool)
    for _ in range(ROUNDS):
        x = dissolved / dissolved.sum(axis=2, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            excess = np.log(x) + model.ln_gamma(x) - sought
            step = np.clip(
                STEP_SHARE * np.where(is_solid, excess, 0.0), -MOST_STEP_LN, MOST_STEP_LN
            )
            new = np.clip(dissolved * np.exp(-step), LEAST_DISSOLVED * total, total)
            ratio = np.where(is_solid, new / dissolved, 1.0)
        moved = np.abs(np.log(ratio)).max(axis=(1, 2))
        dissolved = np.where(is_solid, new, dissolved)
        still = moved >= SETTLED_LN
        if still.sum() < WORTH_SORTING * still.size:
            done = ~still
            result[blends[done]] = dissolved[done]
            blends, dissolved, is_solid = blends[still], dissolved[still], is_solid[still]
            total, sought = total[still], sought[still]
            model = model.only(still)
        if not still.any():
            break
    else:
        converged[blends] = ~still if still.size == blends.size else False
    result[blends] = dissolved
    return result, converged


def _as_one(part: Part, solids: Solids, model: LiquidModel) -> Array:
    """Where each solid just dissolves (z, solids), the liquid being one."""
    cold, warm = 1.0 / NODES_LOW_K, 1.0 / NODES_HIGH_K
    place = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    kelvin = 1.0 / (0.5 * (cold + warm) + 0.5 * (cold - warm) * place)
    ln_gamma = model.at_nodes(part.x, kelvin)[solids.row, :, solids.column]
    ln_a = ln_gamma + np.log(part.x[solids.row, solids.column])[:, None]
    return saturation_between(cold, warm, ln_a.T, solids.melting_K, solids.ln_targets)


def _in_layers(part: Part, solids: Solids, model: LiquidModel) -> Array:
    """The same over the layers, each blend with temperatures of its own to look at."""
    highest = np.zeros(len(part))
    np.maximum.at(highest, solids.row, solids.melting_K)
    cold, warm = 1.0 / LOWEST_K, 1.0 / highest
    liquid = Layered(lambda kelvin, blends: _at(model, kelvin, blends), part.x, search_for_layers())
    every = np.arange(len(part))
    values = []
    for place in np.linspace(-1.0, 1.0, LAYER_NODES):
        kelvin = 1.0 / (0.5 * (cold + warm) + 0.5 * (cold - warm) * place)
        ln_gamma = model.at_own(kelvin).ln_gamma(part.x[:, None, :])[:, 0, :]
        own = ln_gamma + liquid.ln_offsets(kelvin, every)
        own[~liquid.converged] = np.nan
        at = solids.row, solids.column
        values.append(np.log(part.x[at]) + own[at])
    return saturation_between(
        cold, warm[solids.row], np.array(values), solids.melting_K, solids.ln_targets, straight=True
    )


def _at(model: LiquidModel, temperatures_K: Array, blends: Ints) -> MeanAt:
    return LiquidModel([(w, v.only(blends)) for w, v in model.voices]).at_own(temperatures_K)


@dataclass(frozen=True, eq=False)
class Saturations:
    """Of the last crystal, K (NaN where there is none or no model), and of every solid its high
    end: `highest_K` (blends, components), NaN for no solid."""

    value: Array
    low: Array
    high: Array
    each_high: Array
    speaks: Bools

    def with_some(self, where: Ints, other: Saturations) -> Saturations:
        """Some blends' from another."""

        def changed(own: NDArray[Any], theirs: NDArray[Any]) -> NDArray[Any]:
            made = own.copy()
            made[where] = theirs
            return made

        return Saturations(
            changed(self.value, other.value),
            changed(self.low, other.low),
            changed(self.high, other.high),
            changed(self.each_high, other.each_high),
            changed(self.speaks, other.speaks),
        )


def saturations(
    substances: Substances, part: Part, solid_below_K: float, layers: bool = False
) -> Saturations:
    """`dissolution` of each blend that has solids."""
    size, width = part.index.shape
    value, low, high = (np.full(size, np.nan) for _ in range(3))
    each_high = np.full((size, width), np.nan)
    speaks = np.zeros(size, dtype=bool)
    which = solids_at(substances, part, solid_below_K)
    rest = np.flatnonzero(which.any(axis=1))
    if not rest.size:
        return Saturations(value, low, high, each_high, speaks)
    here = part.only(rest)
    for where, model in liquid_models(substances, here):
        some = here.only(where)
        solids = solids_of(substances, some, which[rest[where]])
        found = _in_layers(some, solids, model) if layers else _as_one(some, solids, model)
        lows, values, highs = (
            np.minimum(found[0], found[1]),
            found[1],
            np.maximum(found[2], found[1]),
        )
        at = rest[where]
        unsure = np.zeros(len(some), dtype=bool)
        np.logical_or.at(unsure, solids.row, np.isnan(found).any(axis=0))
        speaks[at] = ~unsure
        each_high[at[solids.row], solids.column] = highs
        grid = np.full((3, len(some), width), -np.inf)
        grid[:, solids.row, solids.column] = values, lows, highs
        last = np.argmax(grid[0], axis=1)
        rows = np.arange(len(some))
        value[at], low[at] = grid[0, rows, last], grid[1, rows, last]
        high[at] = grid[2].max(axis=1)
    return Saturations(value, low, high, each_high, speaks)
