"""Where do many functions of one variable cross zero? One bracketing solver for every question.

Chandrupatla's method (1997): inverse quadratic interpolation where the last three points allow it,
bisection elsewhere, begun with a secant. It takes a function that tells signs only (-1 and 1) too:
then it is bisection. All functions go side by side, each until its own bracket is narrow enough;
only those still open are evaluated.

References
----------
.. [1] T. R. Chandrupatla (1997), Adv. Eng. Softw. 28, 145, doi:10.1016/S0965-9978(96)00051-8
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendwright.formula.conditions import GAS_CONSTANT_J_mol_K

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Function = Callable[[Array, Ints], Array]  # values at x of the functions with these numbers

MOST_STEPS = 100
TEMPERATURE_TOLERANCE_K = 1e-9
LN_ZERO = 1e-12  # of ln P: 1e-10 K, as it rises by more than 1 % a kelvin
# outwards from where a temperature is looked for first: by how a vapour pressure rises (40 kJ/mol),
# and half as far again; doubled each time
SLOPE_K = 40e3 / GAS_CONSTANT_J_mol_K
BEYOND = 1.5
FIRST_STEPS_K = 0.01, 20.0
ROUNDING = 2.0 * np.finfo(float).eps
TINY = np.finfo(float).tiny


@dataclass(frozen=True, eq=False)
class Roots:
    """What was found of each function, in the shape of the brackets.

    `root` is NaN unless `converged`. `crosses` tells whether there was a change of sign at all, so
    `crosses & ~converged` is a search that ended early. `low` and `high` are the bracket's ends as
    they were left, both the root where the function is zero there.
    """

    root: Array
    low: Array
    high: Array
    crosses: Bools
    converged: Bools


def roots_between(
    function: Function,
    low: Array,
    high: Array,
    tolerance: Array | float,
    f_low: Array | None = None,
    f_high: Array | None = None,
    zero: float = 0.0,
) -> Roots:
    """Where each function crosses zero between `low` and `high`.

    Parameters
    ----------
    function : called with x and the numbers of the functions wanted, both of one length
    low, high : ends of the brackets, one each for every function
    tolerance : width of a bracket that is narrow enough
    f_low, f_high : the function's values at the ends, where they are known
    zero : a value as near to zero counts as zero: the bracket needn't close round it
    """
    every = np.arange(len(low))
    f_low = function(low, every) if f_low is None else f_low
    f_high = function(high, every) if f_high is None else f_high
    tolerance = np.broadcast_to(np.asarray(tolerance, dtype=float), low.shape)
    root = np.where(f_low == 0.0, low, np.where(f_high == 0.0, high, np.nan))
    converged = ~np.isnan(root)
    with np.errstate(invalid="ignore"):
        crosses = converged | (np.sign(f_low) * np.sign(f_high) < 0.0)
    left, right = np.array(low, dtype=float), np.array(high, dtype=float)
    left[converged] = right[converged] = root[converged]
    open_ = np.flatnonzero(crosses & ~converged)
    # the newest point, the other end of the bracket, and the point before
    new, far, old = left[open_], right[open_], right[open_]
    f_new, f_far, f_old = f_low[open_], f_high[open_], f_high[open_]
    width = tolerance[open_]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = f_new / (f_new - f_far)  # the first step is a secant
    share = np.where(np.isfinite(share), share, 0.5)
    for _ in range(MOST_STEPS):
        if not open_.size:
            break
        least = _least_share(new, far, width)
        x = new + np.minimum(np.maximum(share, least), 1.0 - least) * (far - new)
        f = np.asarray(function(x, open_), dtype=float)
        same = np.sign(f) == np.sign(f_new)
        old, f_old = np.where(same, new, far), np.where(same, f_new, f_far)
        far, f_far = np.where(same, far, new), np.where(same, f_far, f_new)
        new, f_new = x, f
        best = np.where(np.abs(f_new) <= np.abs(f_far), new, far)
        narrow = np.abs(far - new) <= np.maximum(width, ROUNDING * np.abs(best))
        unknown = np.isnan(f_new)
        is_zero = np.abs(f_new) <= zero
        done = (narrow | is_zero) & ~unknown
        ended = done | unknown
        if ended.any():
            at = open_[ended]
            left[at], right[at] = np.minimum(new, far)[ended], np.maximum(new, far)[ended]
            root[open_[done]] = best[done]
            converged[open_[done]] = True
            exact = open_[is_zero]
            left[exact] = right[exact] = root[exact]
            keep = ~ended
            open_, width = open_[keep], width[keep]
            new, far, old = new[keep], far[keep], old[keep]
            f_new, f_far, f_old = f_new[keep], f_far[keep], f_old[keep]
        share = _next_share((new, far, old), (f_new, f_far, f_old))
    left[open_], right[open_] = np.minimum(new, far), np.maximum(new, far)
    return Roots(root, left, right, crosses, converged)


def _least_share(new: Array, far: Array, tolerance: Array) -> Array:
    """No step is shorter than half the tolerance, so that the bracket closes round the root."""
    least = np.maximum(0.5 * tolerance, ROUNDING * np.abs(new))
    apart = np.abs(far - new)
    return np.asarray(np.where(apart > 2.0 * least, least / np.maximum(apart, TINY), 0.5))


def _next_share(x: tuple[Array, Array, Array], f: tuple[Array, Array, Array]) -> Array:
    """The next share of the bracket, from its newest point: by inverse quadratic interpolation,
    else a half."""
    (a, b, c), (fa, fb, fc) = x, f
    to_b, to_c = fb - fa, fc - fa
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        xi, phi = (a - b) / (c - b), to_b / (fb - fc)
        rest = 1.0 - phi
        safe = (phi * phi < xi) & (rest * rest < 1.0 - xi)
        step = fa / to_b * fc / (fb - fc) + (c - a) / (b - a) * fa / to_c * fb / (fc - fb)
    return np.where(safe & np.isfinite(step), step, 0.5)


def temperatures_where_zero(
    function: Function,
    start_K: Array,
    lowest_K: float,
    highest_K: float,
    at_start: Array | None = None,
) -> Roots:
    """Find where functions that rise with temperature as ln of a vapour pressure does cross zero.

    The brackets are widened from `start_K` to somewhat beyond where the logarithm of a vapour
    pressure would cross, by twice that step, and so on to the ends; between them the solver works
    in 1/T, in which vapour pressures are nearly straight.

    Parameters
    ----------
    function : called with temperatures (K) and the numbers of the functions wanted
        NaN where it has no value: the search goes on beyond; without a crossing it then has not
        `converged`, as there may be one.
    start_K : array (functions,)
    lowest_K, highest_K : float
    at_start : array (functions,), optional
        The function's value at the starts, where it is known.

    Returns
    -------
    Roots
        K.
    """
    start = np.clip(np.asarray(start_K, dtype=float), lowest_K, highest_K)
    every = np.arange(len(start))
    first = function(start, every) if at_start is None else at_start
    low, high, edge = start.copy(), start.copy(), start.copy()
    f_low, f_high = first.copy(), first.copy()
    falls, has_value = first > 0.0, ~np.isnan(first)
    always = has_value.copy()
    step = _first_steps_K(first, start)
    seeking = every[first != 0.0]
    while seeking.size:
        at_end = np.where(falls[seeking], edge[seeking] <= lowest_K, edge[seeking] >= highest_K)
        seeking = seeking[~at_end]
        if not seeking.size:
            break
        down = falls[seeking]
        t = edge[seeking] + np.where(down, -step[seeking], step[seeking])
        t = np.minimum(np.maximum(t, lowest_K), highest_K)
        value = function(t, seeking)
        edge[seeking] = t
        step[seeking] *= 2.0
        known = ~np.isnan(value)
        always[seeking] &= known
        goes_on = known & has_value[seeking]
        crossed = goes_on & np.where(down, value <= 0.0, value >= 0.0)
        at = goes_on & (down | ~crossed)
        low[seeking[at]], f_low[seeking[at]] = t[at], value[at]
        at = goes_on & (~down | ~crossed)
        high[seeking[at]], f_high[seeking[at]] = t[at], value[at]
        begins = known & ~has_value[seeking]  # the first value: from here on
        if begins.any():
            new = seeking[begins]
            low[new] = high[new] = t[begins]
            f_low[new] = f_high[new] = value[begins]
            falls[new], has_value[new] = value[begins] > 0.0, True
            step[new] = _first_steps_K(value[begins], t[begins])
            crossed |= begins & (value == 0.0)
        seeking = seeking[~crossed]
    found = roots_between(
        lambda inverse, which: function(1.0 / inverse, which),
        1.0 / high,
        1.0 / low,
        TEMPERATURE_TOLERANCE_K / high**2,
        f_high,
        f_low,
        LN_ZERO,
    )
    crosses = found.crosses | ~always
    return Roots(1.0 / found.root, 1.0 / found.high, 1.0 / found.low, crosses, found.converged)


def _first_steps_K(value: Array, temperature_K: Array) -> Array:
    steps = np.clip(BEYOND * np.abs(value) * temperature_K**2 / SLOPE_K, *FIRST_STEPS_K)
    return np.where(np.isnan(steps), FIRST_STEPS_K[1], steps)
