"""How much more or less a component acts than its mole fraction says: ln(gamma).

UNIFAC-type group contribution (Fredenslund, Jones, Prausnitz 1975; modified combinatorial term of
Weidlich and Gmehling 1987; Lyngby form of Larsen, Rasmussen, Fredenslund 1987):

    ln gamma_i = ln gamma_i(combinatorial) + sum_k nu_ik (ln Gamma_k - ln Gamma_k,pure i)
    combinatorial:  1 - V' + ln V' - 5 q (1 - V/F + ln(V/F));  Lyngby: 1 - V' + ln V'
    residual:       ln Gamma_k = Q_k (1 - ln S_k - sum_m Theta_m psi_km / S_m),
                    S_k = sum_m Theta_m psi_mk
    (the bracket is the same for all subgroups of a main group, so the sums run over main groups)
    psi_mn = exp(-(a + b T + c T^2) / T)
    Lyngby:  exp(-(a + b (T - T0) + c (T ln(T0/T) + T - T0)) / T)

Valid for non-electrolyte liquids, about 270-430 K, where every group pair is published.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Protocol

import numpy as np

from blendwright.mixture.parameter_sets import (
    Array,
    GroupArrays,
    Groups,
    ParameterSet,
    group_arrays,
)

LYNGBY_REFERENCE_K = 298.15
FEW_NUMBERS = 20_000  # which stay in a core's cache


class LnGamma(Protocol):
    """Whatever gives ln(gamma): one parameter set, or the mean of several."""

    def ln_gamma(self, mole_fractions: Array, temperature_K: float | Array) -> Array:
        """Shapes as in ActivityModel.ln_gamma."""
        ...


@dataclass(frozen=True, eq=False)
class ActivityModel:
    """One parameter set, ready for one list of components.

    Build it with `activity_model`. `ln_gamma(x, temperature_K)` takes mole fractions of shape
    (components,) or (blends, components), and one temperature for all blends or one for each;
    the result has the shape of the fractions. Fractions may be zero (infinite dilution) but each
    blend must sum to 1.
    """

    arrays: GroupArrays

    @property
    def parameter_set(self) -> ParameterSet:
        return self.arrays.parameter_set

    def ln_gamma(self, mole_fractions: Array, temperature_K: float | Array) -> Array:
        """ln of the activity coefficients; see the class for shapes."""
        x = np.atleast_2d(np.asarray(mole_fractions, dtype=float))
        temperature = np.asarray(temperature_K, dtype=float)
        if temperature.ndim and temperature.size == 1:
            temperature = temperature.reshape(())
        if temperature.ndim and len(x) == 1:
            x = np.broadcast_to(x, (temperature.size, x.shape[1]))
        result = self._many(x, temperature)
        shared = np.ndim(mole_fractions) == 1 and temperature.ndim == 0
        return result[0] if shared else result

    @property
    def r(self) -> Array:
        """Volume of each component."""
        return self.arrays.r

    @property
    def q(self) -> Array:
        """Surface of each component."""
        return self.arrays.q

    @cached_property
    def sums(self) -> Sums:
        return sums_of([layout(self.arrays)], [1.0])

    def _many(self, x: Array, temperature: Array) -> Array:
        inward = x @ self.sums.inward
        if temperature.ndim == 0:
            psi, pure = _at_temperature(self, float(temperature))
            return np.asarray(mixture_terms(inward, [psi]) @ self.sums.outward - pure)
        psi = interaction_terms(self.arrays, temperature)
        mixed = mixture_terms(inward[:, None, :], [psi])[:, 0, :]
        return np.asarray(mixed @ self.sums.outward - pure_residual(self.arrays, psi))


@dataclass(frozen=True, eq=False)
class Layout:
    """ln gamma of all components as two products of matrices round the groups' own equations.

    `inward` (components, groups + 2) sums a blend's group surfaces, r^p and r; `outward`
    (groups + 5, components) takes the groups' terms, 1, ln and inverse of the sum of r^p, and ln
    and value of (sum of q / sum of r) to ln gamma, but for the pure components' residual.
    """

    inward: Array
    outward: Array


def layout(arrays: GroupArrays) -> Layout:
    """Layout of a list of components; one whose groups the set lacks counts as of size 1."""
    rule = arrays.parameter_set
    r = np.where(arrays.known, arrays.r, 1.0)
    q = np.where(arrays.known, arrays.q, 1.0)
    r_power = r**rule.combinatorial_power
    one = 1.0 + rule.combinatorial_power * np.log(r)
    surface = np.zeros_like(q) if rule.combinatorial == "lyngby" else 5.0 * q
    combinatorial = np.vstack(
        [
            one - surface * (1.0 + np.log(r / q)),
            -np.ones_like(r),
            -r_power,
            -surface,
            surface * r / q,
        ]
    )
    return Layout(
        np.hstack([arrays.group_area, r_power[:, None], r[:, None]]),
        np.vstack([arrays.group_area.T, combinatorial]),
    )


@dataclass(frozen=True, eq=False)
class Sums:
    """The mean of one or several sets, each with its weight, in the fewest steps for NumPy.

    `inward` (components, groups + 3 sets) sums the group surfaces of all sets, then their totals,
    r^p and r, a column for each set. `outward` (groups + 5 sets + 1, components) takes what
    `mixture_terms` makes of these sums to ln gamma, but for the pure components' residual.
    """

    inward: Array
    outward: Array


def sums_of(layouts: Sequence[Layout], weights: Sequence[float]) -> Sums:
    """The sums of a mean of sets."""
    inward, outward = [], []
    for one, weight in zip(layouts, weights, strict=True):
        groups = one.inward.shape[1] - 2
        area, (r_power, r) = one.inward[:, :groups], one.inward[:, groups:].T
        surface = area.sum(axis=1)
        constant, by_ln_power, by_inverse, by_ln_ratio, by_ratio = one.outward[groups:]
        inward.append((area, surface, r_power, r))
        rows = (
            -area.T,
            surface + by_ln_ratio, by_ln_power, -by_ln_ratio,
            by_inverse, by_ratio,
            constant + surface,
        )  # fmt: skip
        outward.append([weight * row for row in rows])
    areas, *columns = zip(*inward, strict=True)
    residual, *others, constants = zip(*outward, strict=True)
    return Sums(
        np.hstack([*areas, *(np.stack(column, axis=1) for column in columns)]),
        np.vstack([*residual, *(np.stack(row) for row in others), sum(constants)]),
    )


def mixture_terms(sums: Array, psi: Sequence[Array]) -> Array:
    """What `Sums.outward` is multiplied with: ln s_k + sum_m A_m psi_km / s_m of each group (s = A
    psi, A the group surfaces); ln of the surface, r^p and r; 1 / r^p, surface / r; and 1.

    Parameters
    ----------
    sums : (..., blends, groups + 3 sets), x @ `Sums.inward`
    psi : of each set (..., its groups, its groups)
    """
    sets, size = len(psi), sums.shape[-1]
    groups = size - 3 * sets
    terms = np.empty((*sums.shape[:-1], size + 2 * sets + 1))
    terms[..., groups:size] = sums[..., groups:]
    logs, area = terms[..., :size], sums[..., :groups]
    spreads, begin = [], 0
    for one in psi:
        here = slice(begin, begin + one.shape[-1])
        s = area[..., here] @ one
        logs[..., here] = s
        spreads.append((here, (area[..., here] / s) @ one.swapaxes(-1, -2)))
        begin = here.stop
    np.log(logs, out=logs)
    for here, spread in spreads:
        logs[..., here] += spread
    surface, r_power, r = (sums[..., groups + k * sets : groups + (k + 1) * sets] for k in range(3))
    np.reciprocal(r_power, out=terms[..., size : size + sets])
    np.divide(surface, r, out=terms[..., size + sets : size + 2 * sets])
    terms[..., -1] = 1.0
    return terms


def product_in_order(one: Array, other: Array) -> Array:
    """One (rows, n) times another (n, columns), each sum in the order of n.

    The linear algebra library takes many rows in blocks, and cuts them for its threads: the last
    digit of a row then hangs on how many others there are, and on the machine.
    """
    return sum_in_order(one[:, :, None], other[None])


def sum_in_order(one: Array, other: Array) -> Array:
    """sum_n one (rows, n, columns) times other (rows, n, columns), in the order of n; either may
    have 1 for its rows or columns."""
    rows, count, columns = np.broadcast_shapes(one.shape, other.shape)
    if columns == 1:  # NumPy would sum it by pairs
        return np.asarray(sum(one[:, n] * other[:, n] for n in range(count)))
    found = np.empty((rows, columns))
    size = max(1, FEW_NUMBERS // (count * columns))
    for begin in range(0, rows, size):
        some = slice(begin, begin + size)
        own, theirs = (all_ if len(all_) == 1 else all_[some] for all_ in (one, other))
        np.multiply(own, theirs, order="C").sum(axis=1, out=found[some])
    return found


def ln_gamma_in_each(arrays: GroupArrays, temperature_K: float) -> Array:
    """ln gamma (solvents, solutes) of each component at infinite dilution in each, at one
    temperature.

    What `ActivityModel` gives of pure solvents, with every sum in the order of the groups: a pair's
    value then doesn't hang on what other components there are, not in its last digit.
    """
    psi = interaction_terms(arrays, np.asarray(temperature_K))
    plan = layout(arrays)
    groups = len(psi)
    area = arrays.group_area
    surface = product_in_order(area, np.ones((groups, 1)))
    theta = area / surface
    summed = product_in_order(theta, psi)
    residual = 1.0 - np.log(summed) - product_in_order(theta / summed, psi.T)
    pure = product_in_order(area * residual, np.ones((groups, 1)))
    r_power, r = plan.inward[:, groups], plan.inward[:, groups + 1]
    ratio = surface[:, 0] / r
    size = np.stack([np.ones_like(r), np.log(r_power), 1.0 / r_power, np.log(ratio), ratio], axis=1)
    return (
        product_in_order(residual, area.T) - pure.T + product_in_order(size, plan.outward[groups:])
    )


def pure_residual(arrays: GroupArrays, psi: Array) -> Array:
    """The residual of each component by itself, one more axis than psi's temperatures has."""
    surface = np.where(arrays.known, arrays.q, 1.0)[:, None]
    theta = np.where(arrays.known[:, None], arrays.group_area / surface, 1.0)
    return np.asarray((arrays.group_area * group_terms(theta, psi)).sum(axis=-1))


def interaction_terms(arrays: GroupArrays, temperature_K: Array) -> Array:
    """Give psi of each pair of main groups at each temperature.

    Parameters
    ----------
    arrays : GroupArrays
    temperature_K : array (...)
        About 270 to 430 K.

    Returns
    -------
    array (..., main groups, main groups)
    """
    a, b, c = arrays.a, arrays.b, arrays.c
    t = np.asarray(temperature_K)[..., None, None]
    if arrays.parameter_set.temperature_law == "lyngby":
        above = t - LYNGBY_REFERENCE_K
        curve = t * np.log(LYNGBY_REFERENCE_K / t) + above
        return np.asarray(np.exp(-(a + b * above + c * curve) / t))
    return np.asarray(np.exp(-(a / t + b + c * t)))


def group_terms(theta: Array, psi: Array) -> Array:
    """Give 1 - ln S - sum_m Theta_m psi_km / S_m of each main group.

    Parameters
    ----------
    theta : array (..., blends, groups)
        Surface fractions, of sum 1.
    psi : array (..., groups, groups)

    Returns
    -------
    array (..., blends, groups)
    """
    s = theta @ psi
    spread = (theta / s) @ np.swapaxes(psi, -1, -2)
    return np.asarray(1.0 - np.log(s) - spread)


@lru_cache(maxsize=64)
def _at_temperature(model: ActivityModel, temperature_K: float) -> tuple[Array, Array]:
    """psi and the pure components' residual: alike for all blends at one temperature."""
    psi = interaction_terms(model.arrays, np.asarray(temperature_K))
    return psi, pure_residual(model.arrays, psi)


def activity_model(parameter_set: ParameterSet, components: Sequence[Groups]) -> ActivityModel:
    """Make the model of one parameter set for a list of components.

    Parameters
    ----------
    parameter_set : ParameterSet
    components : sequence of mappings
        Each {subgroup number: count}.

    Returns
    -------
    ActivityModel

    Raises
    ------
    MissingGroupPairError
        Where the set lacks a pair.
    ValueError
        For a component without groups.
    """
    return ActivityModel(group_arrays(parameter_set, components))
