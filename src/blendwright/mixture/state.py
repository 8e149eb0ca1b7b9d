"""What lies in the vessel at a temperature: one liquid or two, and crystals, of least Gibbs energy.

Crystals are taken out where the liquid is supersaturated with them (`dissolution`), and the liquid
that is left is split where it is unstable (`layered`). Vapour, flash and boiling points are those
of this state, by the posterior mean of the liquid model; it knows no bench and no question. A
single substance counts as its liquid, molten or not: of that its vapour pressure and flash point
were measured, and over the crystal they are lower and higher.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.dissolution import (
    Saturations,
    ln_saturation,
    solids_at,
    undissolved,
)
from blendwright.mixture.layered import KnownLayers, Layered
from blendwright.mixture.liquid import Liquid, LiquidAt, is_covered, search_for_layers
from blendwright.mixture.liquid_split import Stabilities
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.rows import Picked, picked
from blendwright.mixture.substances import Substances
from blendwright.mixture.survey import stabilities
from blendwright.pure.roots import Bools, Ints

LEAST_LEFT = 1e-9  # of a component: what is all crystals keeps a trace in the liquid


@dataclass(frozen=True, eq=False)
class State:
    """Arrays (blends, components): the composition `x` of the liquid that the vapour
    stands over and its ln gamma; `second` is the composition of the other liquid and `in_second`
    the share of each component that is there (zeros where it is one liquid), `layers` where a
    search near by begins. `has_split` and `has_crystals` tell what it is, `converged` whether that
    is sure."""

    x: Array
    ln_gamma: Array
    second: Array
    in_second: Array
    has_crystals: Bools
    converged: Bools
    layers: KnownLayers

    @property
    def has_split(self) -> Bools:
        return self.layers.parted

    def only(self, keep: Picked) -> State:
        """Some blends'."""
        return State(
            picked(self.x, keep),
            picked(self.ln_gamma, keep),
            picked(self.second, keep),
            picked(self.in_second, keep),
            picked(self.has_crystals, keep),
            picked(self.converged, keep),
            self.layers.only(keep),
        )

    def put(self, where: Ints, some: State) -> None:
        """Some blends' from another."""
        self.x[where], self.ln_gamma[where] = some.x, some.ln_gamma
        self.second[where], self.in_second[where] = some.second, some.in_second
        self.has_crystals[where], self.converged[where] = some.has_crystals, some.converged
        self.layers.put(where, some.layers)

    def draw_shifts(self, liquid: Liquid, weights: Array, temperatures_K: float | Array) -> Array:
        """By how much sum_i weights_i ln a_i differs in each draw (blends, draws), each component
        counted in the liquids by its amounts there."""
        found = liquid.draw_shifts(self.x, weights * (1.0 - self.in_second), temperatures_K)
        where = np.flatnonzero(self.has_split)
        if where.size:
            own = temperatures_K if isinstance(temperatures_K, float) else temperatures_K[where]
            found[where] += liquid.only(where).draw_shifts(
                self.second[where], (weights * self.in_second)[where], own
            )
        return found


def state(
    substances: Substances,
    part: Part,
    liquid: Liquid,
    temperatures_K: Array,
    near: KnownLayers | None = None,
) -> State:
    """Find the state of least Gibbs energy of each blend of a part.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    liquid : Liquid
        Of these blends.
    temperatures_K : array (blends,)
    near : KnownLayers, optional
        Layers at temperatures near by, from which the search begins.

    Returns
    -------
    State
    """
    model = liquid.at(temperatures_K)
    ln_gamma = model.ln_gamma(part.x[:, None, :])[:, 0, :]
    several = part.there.sum(axis=1) > 1  # a single substance's data are those of its liquid
    most = ln_saturation(substances, part, temperatures_K)
    is_solid = (_ln(part.x) + ln_gamma > most).any(axis=1) & several
    found = _state(substances, part, model, ln_gamma, is_solid, near)
    late = np.flatnonzero(found.has_split & several & ~is_solid)
    if late.size:  # what one liquid would keep dissolved may fall out of its layers
        late = late[(_ln(found.x[late]) + found.ln_gamma[late] > most[late]).any(axis=1)]
    if late.size:
        begin = None if near is None else near.only(late)
        every = np.ones(late.size, dtype=bool)
        some = part.only(late)
        again = _state(substances, some, model.only(late), ln_gamma[late], every, begin)
        found.put(late, again)
    return found


def _ln(x: Array) -> Array:
    """ln of fractions; zero in the padding."""
    return np.asarray(np.log(np.where(x > 0.0, x, 1.0)))


def _state(
    substances: Substances,
    part: Part,
    model: LiquidAt,
    ln_gamma: Array,
    is_solid: Bools,
    near: KnownLayers | None,
) -> State:
    """The state, where it is known of which blends crystals fall out; `ln_gamma` is that of one
    liquid with all dissolved."""
    left, converged = part, np.ones(len(part), dtype=bool)
    supersaturated = np.flatnonzero(is_solid)
    if supersaturated.size:
        some, kelvin = part.only(supersaturated), model.temperatures_K[supersaturated]
        share, sure = crystals(substances, some, kelvin, best_only=True)
        factors = np.ones_like(part.x)
        factors[supersaturated] = _left(share)
        left, converged[supersaturated] = part.times(factors), sure
    layered = _layered(left, model)
    if near is not None:
        layered.begin_with(near)
    found = layered.composition(model.temperatures_K, np.arange(len(part)))
    ln_gamma = ln_gamma.copy()
    other = np.flatnonzero(is_solid | layered.parted)
    if other.size:
        ln_gamma[other] = model.only(other).ln_gamma(found[other][:, None, :])[:, 0, :]
    second = layered.second * layered.parted[:, None]
    return State(
        found, ln_gamma, second, layered.in_second(), is_solid, converged & layered.converged,
        layered.known,
    )  # fmt: skip


def _layered(part: Part, model: LiquidAt) -> Layered:
    """The blends of a part, each at its temperature, and the layers in which they may lie."""

    def model_at(_: Array, blends: Ints) -> LiquidAt:
        return model.only(blends)

    def look(some: LiquidAt, blends: Ints) -> Stabilities:
        return stabilities(part.only(blends), some, only_sides=True)

    return Layered(model_at, part.x, search_for_layers(), look)


def crystals(
    substances: Substances,
    part: Part,
    temperatures_K: float | Array,
    best_only: bool = False,
    surely_none: Bools | None = None,
) -> tuple[Array, Bools]:
    """Find what lies as crystals in the state of least Gibbs energy.

    Solved first in one liquid. Where that liquid is unstable or not found, or crystals would fall
    out of the layers of what it keeps dissolved, again from all crystals out, which finds the
    liquid beyond the gap; where that one is unstable too, with two liquids.

    Parameters
    ----------
    substances : Substances
        The list that `part.index` numbers.
    part : Part
        Blends, arrays (blends, components).
    temperatures_K : float or array (blends,)
    best_only : bool
        The ends are then the value.
    surely_none : array (blends,), optional
        Where nothing is known to lie, over layers either (`none_lies`).

    Returns
    -------
    share : array (3, blends, components)
        Of each component, 0 to 1: value, low and high end, as `dissolution.undissolved`.
    sure : array (blends,)
        Which blends have a model and converged.
    """
    share, sure = undissolved(substances, part, temperatures_K, best_only=best_only)
    share, sure = share.copy(), sure.copy()
    kelvin = np.broadcast_to(np.asarray(temperatures_K, dtype=float), (len(part),))
    wrong = ~sure & is_covered(substances, part)
    lying = np.flatnonzero(sure & (share[0] > 0.0).any(axis=1))
    wrong[lying] = _is_unstable(substances, part.only(lying), share[:, lying], kelvin[lying])
    clear = sure & ~(share[0] > 0.0).any(axis=1) & solids_at(substances, part, kelvin).any(axis=1)
    clear &= part.there.sum(axis=1) > 1
    if surely_none is not None:
        clear &= ~surely_none
    dissolved = np.flatnonzero(clear)
    wrong[dissolved] = _fall_out_of_layers(substances, part.only(dissolved), kelvin[dissolved])
    where = np.flatnonzero(wrong)
    for layers in (False, True):
        if not where.size:
            break
        some, own = part.only(where), kelvin[where]
        found, settled = undissolved(substances, some, own, layers, best_only, from_dry=not layers)
        if layers:
            share[:, where], sure[where] = found, settled
            break
        stable = settled & ~_is_unstable(substances, some, found, own)
        share[:, where[stable]], sure[where[stable]] = found[:, stable], True
        where = where[~stable]
    return share, sure


def none_lies(
    substances: Substances, part: Part, last: Saturations, temperatures_K: Array
) -> Bools:
    """Whether nothing lies as crystals at temperatures (rows, blends), as the last one dissolves
    below; not told where something else melts between there and 20 °C."""
    with np.errstate(invalid="ignore"):
        found = last.converged & (last.value < temperatures_K)
    usual = solids_at(substances, part, BENCH_K)
    for row, kelvin in enumerate(temperatures_K):
        found[row] &= ~(solids_at(substances, part, kelvin) & ~usual).any(axis=1)
    return np.asarray(found)


def _is_unstable(substances: Substances, part: Part, share: Array, kelvin: Array) -> Bools:
    """Whether the liquid that the crystals leave is in layers."""
    if not len(part):
        return np.zeros(0, dtype=bool)
    left = liquid_left(part, share)
    model = Liquid(substances, left.index).at(kelvin)
    return stabilities(left, model, only_sides=True).unstable


def _fall_out_of_layers(substances: Substances, part: Part, kelvin: Array) -> Bools:
    """Whether crystals fall out of the layers in which a blend lies, all being dissolved."""
    if not len(part):
        return np.zeros(0, dtype=bool)
    model = Liquid(substances, part.index).at(kelvin)
    layered = _layered(part, model)
    over = layered.ln_activity(kelvin, np.arange(len(part)))
    over -= ln_saturation(substances, part, kelvin)
    return np.asarray(layered.parted & (over > 0.0).any(axis=1))


def liquid_left(part: Part, share: Array) -> Part:
    """What the crystals leave of a part."""
    return part.times(_left(share))


def _left(share: Array) -> Array:
    return np.asarray(np.maximum(1.0 - np.nan_to_num(share[0]), LEAST_LEFT))
