"""Does the liquid stay one, or does it part into layers?

Tangent-plane stability (Michelsen 1982): a liquid of composition x is stable at T unless some
trial composition w lies below its tangent plane,

    tpd(w) = sum_i w_i (ln w_i + ln gamma_i(w) - ln x_i - ln gamma_i(x)) < 0.

Stationary points are found by successive substitution W_i = exp(d_i - ln gamma_i(w)) from starts
near the PURE_STARTS components of the highest activity, which are nearest to leaving, and from two
blends; at one of them tpd = -ln(sum W). Starts that have come to the same one go on as one. Where
the blend is unstable the two layers follow from equal activities and the mass balance
(Rachford-Rice).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.activity import LnGamma
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.rows import picked

START_PURITY = 0.98
PURE_STARTS = 6  # with all of them no other split was found in 3,284 blends (measured)
MOST_ITERATIONS = 1000  # where a phase is just about to appear or go, substitution is slow
ANDERSON_RIDGE = 1e-10
GROWN = 1.5
MOST_CHANGE_LN = 6.0
MIXED_EVERY = 2  # steps
SECANTS = 5  # of two layers that are mixed with the newest step
ROUNDING = 1e-13
NEAR_LN = 0.1  # layers are mixed only with smaller steps: further off it can leave the gap
SLICE_NUMBERS = 30_000  # blends times components squared: stays in one core's cache (measured)
FEW_LEFT = 0.3
CYCLING_AFTER = (100, 200)  # iterations: steps beyond NEAR_LN are then halved, and halved again
CONVERGED = 1e-11
SETTLED = 1e-6  # counts as converged after the last iteration
PARKED = 1e-3  # of ln W; the distance is then known to its square
PARKED_SLOWING = 0.5  # step over the last step: a start that slows down more goes on
PARKED_APART = 0.02  # mole fraction from the blend
MAY_BE_LOWEST = 1e-3  # RT above the lowest distance seen
SAME_RIVAL = 1e-2  # mole fraction
SAME_DISTANCE = 1e-5
TWINS_AFTER = 4  # iterations
UNKNOWN_DISTANCE = 1e9  # RT
WORTH_PACKING = 0.6
WORTH_SORTING = 0.75  # of the rows alive: with fewer the finished ones are taken out
ABSENT_LN = -700.0  # of what is not in a blend
TRIVIAL_DISTANCE = 1e-4
UNSTABLE = -1e-7
SMALLEST_FRACTION = 1e-40
SPLIT_ITERATIONS = 1000
MOST_LN_K = 90.0  # of the ratio of a component's fractions in two layers
SPLIT_CONVERGED = 1e-12
WAITING_TURNS = 3  # without mixing after a mixed step that was taken back
RACHFORD_RICE_ITERATIONS = 40
RACHFORD_RICE_TOLERANCE = 1e-12
NEWTON_TOLERANCE = 1e-8  # of a Newton step: what is left goes with its square
LEAST_SLOPE = 1e-300


@dataclass(frozen=True, eq=False)
class Stability:
    """The lowest tangent-plane distance found (in RT), and the composition that has it.

    `distance` is 0 where every start falls back to the blend itself: stable, with no rival. It is
    not `converged` where it looks stable, but a start had not settled when the search ended.
    """

    distance: float
    rival: Array | None
    converged: bool = True

    @property
    def splits(self) -> bool:
        return self.distance < UNSTABLE


@dataclass(frozen=True, eq=False)
class Layers:
    """Two liquid layers: `fraction` of the moles are in `second`."""

    first: Array
    second: Array
    fraction: float


class BlockModel(Protocol):
    """ln gamma of several blends, each with rows of its own."""

    def ln_gamma(self, x: Array) -> Array:
        """x and the result are (blends, rows, components)."""
        ...

    def only(self, keep: NDArray[Any]) -> BlockModel:
        """For some of the blends."""
        ...


@dataclass(frozen=True)
class OneBlend:
    """A single blend's model as a block, of one or of rows of that blend."""

    model: LnGamma
    temperature_K: float

    def ln_gamma(self, x: Array) -> Array:
        flat = self.model.ln_gamma(x.reshape(-1, x.shape[-1]), self.temperature_K)
        return flat.reshape(x.shape)

    def only(self, keep: NDArray[Any]) -> OneBlend:
        return self


def stability(model: LnGamma, mole_fractions: Array, temperature_K: float) -> Stability:
    """Find the lowest tangent-plane distance of one blend at one temperature.

    Parameters
    ----------
    model : LnGamma
    mole_fractions : array (components,)
        All above zero, of sum 1.
    temperature_K : float

    Returns
    -------
    Stability

    References
    ----------
    .. [1] M. L. Michelsen (1982), Fluid Phase Equilib. 9, 1, doi:10.1016/0378-3812(82)85001-2
    """
    x = np.asarray(mole_fractions, dtype=float)
    if len(x) == 1:
        return Stability(0.0, None)
    found = stabilities(OneBlend(model, temperature_K), x[None])
    return Stability(
        float(found.distance[0]),
        found.rival[0] if found.has_rival[0] else None,
        bool(found.converged[0]),
    )


@dataclass(frozen=True, eq=False)
class Stabilities:
    """`Stability` of a block: distances and `has_rival` (blends,), rivals (blends, components).

    `settled` tells whether all starts of a blend settled.
    """

    distance: Array
    rival: Array
    has_rival: NDArray[np.bool_]
    settled: NDArray[np.bool_]

    @classmethod
    def none_yet(cls, x: Array) -> Stabilities:
        """Before anything was found of compositions x (blends, components)."""
        blends = len(x)
        return cls(
            np.zeros(blends),
            np.zeros_like(x),
            np.zeros(blends, dtype=bool),
            np.ones(blends, dtype=bool),
        )

    @property
    def unstable(self) -> NDArray[np.bool_]:
        return np.asarray(self.has_rival & (self.distance < UNSTABLE))

    @property
    def converged(self) -> NDArray[np.bool_]:
        """One composition below the tangent plane proves a split; stability needs every start."""
        return np.asarray(self.settled | self.unstable)

    def only(self, keep: NDArray[np.int64]) -> Stabilities:
        """What was found of some blends."""
        each = self.distance, self.rival, self.has_rival, self.settled
        return Stabilities(*(picked(one, keep) for one in each))

    def put(self, where: NDArray[np.int64], some: Stabilities) -> None:
        """Take in what was found of some blends."""
        self.distance[where], self.rival[where] = some.distance, some.rival
        self.has_rival[where], self.settled[where] = some.has_rival, some.settled


@dataclass(eq=False)
class _Search:
    """Trial compositions under way: arrays are (blends, rows, components)."""

    model: BlockModel
    blends: NDArray[np.int64]  # their numbers in what is found
    x: Array
    d: Array
    floor: Array  # the least fraction of each component, zero for padding
    w: Array
    ln_totals: Array
    alive: NDArray[np.bool_]  # (blends, rows)
    steps: list[Array]  # the last two
    totals: list[Array]
    sums: Array
    tangent: Array  # Michelsen's function at the last point, (blends, rows)
    mixed: NDArray[np.bool_]  # whether the last step was mixed
    waits: NDArray[np.int64]  # turns of mixing to be left out
    damping: Array  # of the steps: 1, or less for a row that went to and fro
    iteration: int

    @cached_property
    def padded(self) -> bool:
        return not bool(self.floor.all())

    def packed(self) -> _Search:
        """With no more rows than the fullest blend has alive, and no blend without any."""
        count = self.alive.sum(axis=1)
        keep = np.flatnonzero(count)
        first = np.argsort(~self.alive[keep], axis=1, kind="stable")[:, : int(count.max())]
        blend = keep[:, None]
        whole = len(keep) == len(count)

        def taken(array: NDArray[Any]) -> NDArray[Any]:
            return array[blend, first]

        return _Search(
            self.model if whole else self.model.only(keep),
            self.blends[keep],
            self.x[keep],
            self.d[keep],
            self.floor[keep],
            taken(self.w),
            taken(self.ln_totals),
            self.alive[blend, first],
            [taken(step) for step in self.steps],
            [taken(total) for total in self.totals],
            taken(self.sums),
            taken(self.tangent),
            taken(self.mixed),
            taken(self.waits),
            taken(self.damping),
            self.iteration,
        )

    def rows(self) -> _Search:
        """Those still alive, each as a blend of one row."""
        blend, row = np.nonzero(self.alive)

        def taken(array: Array) -> Array:
            return array[blend, row][:, None, :]

        return _Search(
            self.model.only(blend),
            self.blends[blend],
            self.x[blend],
            self.d[blend],
            self.floor[blend],
            taken(self.w),
            taken(self.ln_totals),
            np.ones((len(blend), 1), dtype=bool),
            [taken(step) for step in self.steps],
            [taken(total) for total in self.totals],
            self.sums[blend, row][:, None],
            self.tangent[blend, row][:, None],
            self.mixed[blend, row][:, None],
            self.waits[blend, row][:, None],
            self.damping[blend, row][:, None],
            self.iteration,
        )


def stabilities(model: BlockModel, x: Array) -> Stabilities:
    """Find the stability of each blend of a block.

    All trial compositions of a slice of blends go together until few are left; those of all
    slices then go on together, so that no step is made for a handful.

    Parameters
    ----------
    model : BlockModel
        ln gamma of these blends, each at its temperature.
    x : array (blends, components)
        Mole fractions of sum 1; zero is padding.

    Returns
    -------
    Stabilities

    References
    ----------
    .. [1] M. L. Michelsen (1982), Fluid Phase Equilib. 9, 1, doi:10.1016/0378-3812(82)85001-2
    """
    _blends, parts = x.shape
    found = Stabilities.none_yet(x)
    several = np.flatnonzero((x > 0.0).sum(axis=1) > 1)
    slice_size = max(1, SLICE_NUMBERS // (parts * parts))
    several_slices = len(several) > slice_size
    late = []
    for begin in range(0, len(several), slice_size):
        chosen = several[begin : begin + slice_size]
        search = _begin(model.only(chosen), chosen, x[chosen]).packed()
        while search.alive.any():
            _iterate(search, found)
            if search.iteration > TWINS_AFTER and search.iteration % MIXED_EVERY == 0:
                _leave_out_twins(search)
            alive = search.alive.sum(axis=1)
            if not alive.any():
                break
            if alive.max() <= WORTH_PACKING * search.alive.shape[1]:
                search = search.packed()
            few = alive.sum() <= FEW_LEFT * search.alive.size and search.iteration > 2
            if few and (several_slices or len(chosen) > 1):
                late.append(search.rows())
                break
    if late:
        search = _joined(model, late)
        while search.alive.any():
            if search.alive.sum() < WORTH_SORTING * search.alive.size:
                search = search.rows()
            _iterate(search, found)
    return found


def _begin(model: BlockModel, blends: NDArray[np.int64], x: Array) -> _Search:
    there = x > 0.0
    with np.errstate(divide="ignore"):
        d = np.where(there, np.log(x), ABSENT_LN) + model.ln_gamma(x[:, None, :])[:, 0, :]
        w, alive = _starts(x, there, d)
        ln_totals = np.where(w > 0.0, np.log(w), ABSENT_LN)
    floor = np.where(there, SMALLEST_FRACTION, 0.0)
    return _Search(
        model, blends, x, d[:, None, :], floor[:, None, :], w, ln_totals, alive, [], [],
        np.ones(alive.shape), np.full(alive.shape, np.inf), np.zeros(alive.shape, dtype=bool),
        np.zeros(alive.shape, dtype=np.int64), np.ones(alive.shape), 0,
    )  # fmt: skip


def _joined(model: BlockModel, parts: list[_Search]) -> _Search:
    """Searches of one row a blend as one; each row is given as many steps as it has to go."""
    if len(parts) == 1:
        return parts[0]
    blends = np.concatenate([p.blends for p in parts])
    return _Search(
        model.only(blends),
        blends,
        np.concatenate([p.x for p in parts]),
        np.concatenate([p.d for p in parts]),
        np.concatenate([p.floor for p in parts]),
        np.concatenate([p.w for p in parts]),
        np.concatenate([p.ln_totals for p in parts]),
        np.concatenate([p.alive for p in parts]),
        [np.concatenate([p.steps[i] for p in parts]) for i in range(2)],
        [np.concatenate([p.totals[i] for p in parts]) for i in range(2)],
        np.concatenate([p.sums for p in parts]),
        np.concatenate([p.tangent for p in parts]),
        np.concatenate([p.mixed for p in parts]),
        np.concatenate([p.waits for p in parts]),
        np.concatenate([p.damping for p in parts]),
        max(p.iteration for p in parts),
    )


def _starts(
    x: Array, there: NDArray[np.bool_], ln_activity: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Near every pure component, and two blends; which of them count."""
    blends, n = x.shape
    near_pure = (1.0 - START_PURITY) * x[:, None, :] + START_PURITY * np.eye(n)
    inverse = there / np.sqrt(np.maximum(x, 1e-6))
    even = there / there.sum(axis=1, keepdims=True)
    mixed = np.stack([even, inverse / inverse.sum(axis=1, keepdims=True)], axis=1)
    rank = np.argsort(np.argsort(-ln_activity, axis=1, kind="stable"), axis=1)
    counts = np.hstack([there & (rank < PURE_STARTS), np.ones((blends, 2), dtype=bool)])
    return np.concatenate([near_pure, mixed], axis=1), counts


def _iterate(search: _Search, found: Stabilities) -> None:
    """One step of all rows; those that have arrived are noted and no longer alive."""
    total_ln = search.d - search.model.ln_gamma(search.w)
    step = total_ln - search.ln_totals
    if search.padded:
        step *= search.floor > 0.0
    turn = search.iteration % MIXED_EVERY
    if turn <= 1 and search.iteration:  # before a mixed step and after it
        # Michelsen's function at this point; substitution goes down along it
        tangent = 1.0 - search.sums - search.sums * np.einsum("brp,brp->br", search.w, step)
        if turn == 1:
            worse = search.mixed & (tangent > search.tangent + ROUNDING)
            if worse.any():  # back to the last point, and on from it without mixing for a while
                total_ln[worse], step[worse] = search.totals[0][worse], search.steps[0][worse]
                search.waits[worse] = 2
        search.tangent = tangent
    size = np.abs(step).max(axis=2)
    new = total_ln
    if turn == 0 and len(search.steps) == 2:
        search.waits -= 1
        search.mixed = (search.waits <= 0) & (search.damping == 1.0)
        new = total_ln - anderson(
            (step, *search.steps), (total_ln, *search.totals), search.w, search.mixed
        )
    if search.iteration in CYCLING_AFTER:
        search.damping = np.where(size > NEAR_LN, 0.5 * search.damping, search.damping)
    if search.iteration >= CYCLING_AFTER[0]:
        new = new - (1.0 - search.damping)[..., None] * step
    search.steps = [step, *search.steps[:1]]
    search.totals = [total_ln, *search.totals[:1]]
    search.ln_totals = new
    totals = np.exp(np.minimum(np.maximum(new, -700.0), 50.0))
    sums = totals.sum(axis=2)
    w = np.maximum(totals / sums[..., None], search.floor)
    search.w, search.sums = w, sums
    search.iteration += 1
    ended = search.iteration >= MOST_ITERATIONS
    still = size < (SETTLED if ended else CONVERGED)
    if turn == 0 or still.any():
        trivial = np.abs(w - search.x[:, None, :]).max(axis=2) < TRIVIAL_DISTANCE
        arrived = search.alive & ~trivial & still
        search.alive &= ~(trivial | arrived)
        if arrived.any():
            _note(search, found, arrived, sums)
    if ended:
        found.settled[search.blends[search.alive.any(axis=1)]] = False
        search.alive[:] = False


def _leave_out_twins(search: _Search) -> None:
    """Go on without starts that have come to the rival of another, or to a higher one.

    Told only of those with steps below PARKED, where the distance, flat at a stationary point, is
    known far better than the composition. A start that nears the blend itself or slows down isn't.
    """
    size, last = (np.abs(step).max(axis=2) for step in search.steps)
    told = search.alive & (size < PARKED) & (size < PARKED_SLOWING * last)
    if not told.any():
        return
    told &= np.abs(search.w - search.x[:, None, :]).max(axis=2) > PARKED_APART
    distance = np.where(told, -np.log(search.sums), UNKNOWN_DISTANCE)
    here = np.arange(len(told))
    best = np.argmin(distance, axis=1)
    above = distance - distance[here, best][:, None]
    apart = np.abs(search.w - search.w[here, best][:, None, :]).max(axis=2)
    gone = told & ((above > MAY_BE_LOWEST) | ((above < SAME_DISTANCE) & (apart < SAME_RIVAL)))
    gone[here, best] = False
    search.alive &= ~gone


def anderson(
    steps: Sequence[Array], values: Sequence[Array], weights: Array, wanted: NDArray[np.bool_]
) -> Array:
    """Mix a step with the two before it: what to take from the newest of three `values`.

    Parameters
    ----------
    steps, values : three arrays (blends, rows, components) each
        Newest first.
    weights : array, as these
        Weigh the components.
    wanted : array (blends, rows)
        Zero elsewhere: plain substitution goes on.

    Returns
    -------
    array (blends, rows, components)
        Never more than MOST_CHANGE_LN.

    References
    ----------
    .. [1] D. G. Anderson (1965), J. ACM 12, 547
    """
    first, second = steps[0] - steps[1], steps[1] - steps[2]
    weighed = first * weights
    aa = np.einsum("brp,brp->br", weighed, first)
    ab = np.einsum("brp,brp->br", weighed, second)
    af = np.einsum("brp,brp->br", weighed, steps[0])
    weighed = second * weights
    bb = np.einsum("brp,brp->br", weighed, second)
    bf = np.einsum("brp,brp->br", weighed, steps[0])
    ridge = (aa + bb) * ANDERSON_RIDGE + 1e-280
    aa, bb = aa + ridge, bb + ridge
    determinant = aa * bb - ab * ab
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        a = (bb * af - ab * bf) / determinant
        b = (aa * bf - ab * af) / determinant
    good = np.isfinite(a) & np.isfinite(b) & wanted
    a, b = np.where(good, a, 0.0), np.where(good, b, 0.0)
    return _tamed(a[..., None] * (values[0] - values[1]) + b[..., None] * (values[1] - values[2]))


def _by_secants(secants: Array, step: Array, weights: Array) -> Array:
    """Anderson's mixing with all `secants` (blends, 2, secants, components), of the last steps and
    of their values: what to take from the newest value, whose step is `step`."""
    of_steps, of_values = secants[:, 0], secants[:, 1]
    weighed = of_steps * weights[:, None, :]
    square = weighed @ of_steps.swapaxes(1, 2)
    diagonal = np.einsum("bkk->bk", square)
    diagonal += diagonal * ANDERSON_RIDGE + 1e-280
    shares = np.linalg.solve(square, weighed @ step[:, :, None])[..., 0]
    shares[~np.isfinite(shares).all(axis=1)] = 0.0
    return _tamed((shares[:, None, :] @ of_values)[:, 0, :])


def _tamed(change: Array) -> Array:
    largest = np.abs(change).max(axis=-1, keepdims=True)
    if not (largest > MOST_CHANGE_LN).any():
        return change
    return np.asarray(change * np.minimum(1.0, MOST_CHANGE_LN / np.maximum(largest, 1e-300)))


def _note(search: _Search, found: Stabilities, arrived: NDArray[np.bool_], sums: Array) -> None:
    """Keep the lowest distance of each blend."""
    distance = np.where(arrived, -np.log(sums), np.inf)
    row = np.argmin(distance, axis=1)
    here = np.arange(len(row))
    best = distance[here, row]
    at = search.blends
    better = np.isfinite(best) & (~found.has_rival[at] | (best < found.distance[at]))
    # the lowest last, as rows of one blend may come as several blends
    order = np.flatnonzero(better)[np.argsort(-best[better])]
    found.distance[at[order]] = best[order]
    found.rival[at[order]] = search.w[here[order], row[order]]
    found.has_rival[at[order]] = True


@dataclass(frozen=True, eq=False)
class BlockLayers:
    """`Layers` of a block: shares of the moles (blends,), compositions (blends, components).

    `parted` is False where it is one liquid; `ln_k` is ln gamma of the first layer less that of the
    second, from which the search goes on at a temperature near by, with `secants` (blends, 2,
    SECANTS, components) of its last steps and values. `converged` is False where the layers still
    moved when the search ended.
    """

    first: Array
    second: Array
    fraction: Array
    parted: NDArray[np.bool_]
    ln_k: Array
    converged: NDArray[np.bool_]
    secants: Array

    @classmethod
    def none_yet(cls, z: Array, ln_k: Array, secants: Array) -> BlockLayers:
        """Before anything was found of blends z (blends, components)."""
        size = len(z)
        return cls(
            z.copy(),
            z.copy(),
            np.full(size, 0.5),
            np.zeros(size, dtype=bool),
            ln_k * (z > 0.0),
            np.ones(size, dtype=bool),
            secants.copy(),
        )


def no_secants(x: Array, kept: int = SECANTS) -> Array:
    """Zeros, for blends x (blends, components) of which no search was made."""
    return np.zeros((len(x), 2, kept, x.shape[1]))


def layers(
    model: LnGamma, mole_fractions: Array, temperature_K: float, rival: Array
) -> Layers | None:
    """Find the two layers of an unstable blend.

    Parameters
    ----------
    model : LnGamma
    mole_fractions : array (components,)
    temperature_K : float
    rival : array (components,)
        A composition of `stability`, to begin with.

    Returns
    -------
    Layers or None
        None where the iteration falls back to one liquid, or does not converge.
    """
    z = np.asarray(mole_fractions, dtype=float)
    ln_k = model.ln_gamma(z, temperature_K) - model.ln_gamma(rival, temperature_K)
    whole = z[None]
    found = block_layers(OneBlend(model, temperature_K), whole, ln_k[None], no_secants(whole))
    if not found.parted[0] or not found.converged[0]:
        return None
    return Layers(found.first[0], found.second[0], float(found.fraction[0]))


def block_layers(model: BlockModel, z: Array, ln_k: Array, secants: Array) -> BlockLayers:
    """Find the two layers of every blend of a block.

    Successive substitution of ln_k goes down along the Gibbs energy of the two layers. Anderson's
    mixing hastens it, and is taken back where the energy rises after it: it can throw an unstable
    blend back to one liquid.

    Parameters
    ----------
    model : BlockModel
    z : array (blends, components)
        Mole fractions of sum 1; zero is padding.
    ln_k : array (blends, components)
        ln gamma of the first layer less that of the second, to begin with.
    secants : array (blends, 2, SECANTS, components)
        Those of a search near by; zeros where there was none.

    Returns
    -------
    BlockLayers
    """
    there = z > 0.0
    padded = not there.all()
    blends = np.arange(len(z))
    found = BlockLayers.none_yet(z, ln_k, secants)
    ln_k = ln_k * there
    share = np.full(len(z), 0.5)
    energy = np.full(len(z), np.inf)
    plain = last_step = ln_k  # where to go on from without mixing
    mixed = np.zeros(len(z), dtype=bool)
    waits = np.zeros(len(z), dtype=np.int64)
    z_here, floor = z, SMALLEST_FRACTION * there
    told = (secants[:, 0] != 0.0).any(axis=2).sum(axis=1)  # secants there were; each turn adds one
    size = np.full(len(z), np.inf)
    for turn in range(SPLIT_ITERATIONS):
        k = np.exp(np.minimum(np.maximum(ln_k, -MOST_LN_K), MOST_LN_K))
        share = _second_shares(z_here, k, share)
        both = np.empty((len(z_here), 2, z.shape[1]))
        np.divide(z_here, 1.0 + share[:, None] * (k - 1.0), out=both[:, 0])
        np.multiply(k, both[:, 0], out=both[:, 1])  # however little the first holds of it
        np.maximum(both, floor[:, None, :], out=both)
        both /= both.sum(axis=2, keepdims=True)
        gammas = model.ln_gamma(both)
        new = gammas[:, 0, :] - gammas[:, 1, :]
        if padded:
            new *= floor > 0.0
        step = new - ln_k
        last_size, size = size, np.abs(step).max(axis=1)
        last_energy, energy = energy, _energy(both, share, gammas, padded)
        worse = mixed & (energy > last_energy + ROUNDING)
        alike = (np.abs(both[:, 0] - both[:, 1]).max(axis=1) < TRIVIAL_DISTANCE) & ~worse
        if turn:
            secants = _with_newest(secants, step - last_step, new - plain)
            if worse.any():
                secants[worse, :, 0] = 0.0
        ended = turn == SPLIT_ITERATIONS - 1
        arrived = (size < SPLIT_CONVERGED) & ~worse
        done = arrived | alike | ended
        if done.any():
            at = blends[done]
            found.first[at], found.second[at] = both[done, 0], both[done, 1]
            found.fraction[at], found.ln_k[at] = share[done], new[done]
            found.secants[at] = secants[done]
            within = (share[done] > 0.0) & (share[done] < 1.0)
            found.parted[at] = ~alike[done] & within
            found.converged[at] = (arrived | alike | (size < SETTLED))[done]
            keep = ~done
            if not keep.any():
                break
            model = model.only(keep)
            blends, z_here, floor, share = blends[keep], z_here[keep], floor[keep], share[keep]
            secants, told, last_step = secants[keep], told[keep], last_step[keep]
            step, new, size, last_size = step[keep], new[keep], size[keep], last_size[keep]
            both, plain = both[keep], plain[keep]
            energy, last_energy, waits = energy[keep], last_energy[keep], waits[keep]
            worse = worse[keep]
        if worse.any():  # back to the last point, and on from it without mixing for a while
            new[worse], step[worse] = plain[worse], last_step[worse]
            energy[worse], size[worse] = last_energy[worse], last_size[worse]
            waits[worse] = WAITING_TURNS
        ln_k, plain, last_step = new, new, step
        mixed = (told + turn >= 2) & (size < GROWN * last_size) & (size < NEAR_LN) & (waits <= 0)
        if mixed.any():
            change = _by_secants(secants, step, np.sqrt(both[:, 0] * both[:, 1]))
            ln_k = new - change * mixed[:, None]
        waits -= 1
    return found


def _with_newest(secants: Array, of_step: Array, of_value: Array) -> Array:
    """The newest secant in front, the oldest left out."""
    found = np.empty_like(secants)
    found[:, 0, 0], found[:, 1, 0] = of_step, of_value
    found[:, :, 1:] = secants[:, :, :-1]
    return found


def _energy(both: Array, share: Array, ln_gamma: Array, padded: bool) -> Array:
    """Gibbs energy of mixing of two layers (blends, 2, components), in RT a mole."""
    ln_x = np.log(np.where(both > 0.0, both, 1.0) if padded else both)
    each = np.einsum("blp,blp->bl", both, ln_x + ln_gamma)
    return np.asarray((1.0 - share) * each[:, 0] + share * each[:, 1])


@dataclass(frozen=True)
class Search:
    """A way of looking for layers in blocks: `stabilities` and `block_layers`, or what says the
    same faster, keeping so many secants."""

    stabilities: Callable[[BlockModel, Array], Stabilities]
    layers: Callable[[BlockModel, Array, Array, Array], BlockLayers]
    secants: int


PLAIN = Search(stabilities, block_layers, SECANTS)


def _second_shares(z: Array, k: Array, start: Array) -> Array:
    """Rachford-Rice: the share b of the second layer with sum z (K-1) / (1 + b (K-1)) = 0.

    Newton steps inside a bracket; the sum falls with b. What has settled stays, however long others
    take.
    """
    excess = k - 1.0
    low, high = np.zeros(len(z)), np.ones(len(z))
    share = np.minimum(np.maximum(start, 1e-6), 1.0 - 1e-6)
    moving = np.ones(len(z), dtype=bool)
    for _ in range(RACHFORD_RICE_ITERATIONS):
        terms = excess / (1.0 + share[:, None] * excess)
        weighed = z * terms
        value, slope = np.add.reduce(weighed, axis=1), np.einsum("bp,bp->b", weighed, terms)
        new = share + value / np.maximum(slope, LEAST_SLOPE)
        inside = (low < new) & (new < high)
        rising = value > 0.0
        np.copyto(low, share, where=rising)
        np.copyto(high, share, where=~rising)
        far = np.abs(new - share) >= NEWTON_TOLERANCE
        if not inside.all():
            new = np.where(inside, new, 0.5 * (low + high))
            far = np.where(inside, far, np.abs(new - share) >= RACHFORD_RICE_TOLERANCE)
        np.copyto(share, new, where=moving)
        moving &= far
        if not moving.any():
            break
    return share
