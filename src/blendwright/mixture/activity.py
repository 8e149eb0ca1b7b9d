"""How much more or less a component acts than its mole fraction says: ln(gamma).

UNIFAC-type group contribution (Fredenslund, Jones, Prausnitz 1975; modified combinatorial term of
Weidlich and Gmehling 1987; Lyngby form of Larsen, Rasmussen, Fredenslund 1987):

    ln gamma_i = ln gamma_i(combinatorial) + sum_k nu_ik (ln Gamma_k - ln Gamma_k,pure i)
    combinatorial:  1 - V' + ln V' - 5 q (1 - V/F + ln(V/F));  Lyngby: 1 - V' + ln V'
    residual:       ln Gamma_k = Q_k (1 - ln S_k - sum_m Theta_m psi_km / S_m),
                    S_k = sum_m Theta_m psi_mk
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
    r: Array
    q: Array
    pure_theta: Array

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
        result = self._combinatorial(x) + self._residual(x, temperature)
        shared = np.ndim(mole_fractions) == 1 and temperature.ndim == 0
        return result[0] if shared else result

    @cached_property
    def _size_terms(self) -> tuple[Array, Array, Array, Array]:
        """What the combinatorial term needs of the components alone."""
        power = self.arrays.parameter_set.combinatorial_power
        r_over_q = self.r / self.q
        return self.r**power, 1.0 + power * np.log(self.r), r_over_q, 1.0 + np.log(r_over_q)

    def _combinatorial(self, x: Array) -> Array:
        """Logarithms are taken of the blends' sums only, not of every component."""
        r_power, one_plus_ln, r_over_q, one_plus_ln_ratio = self._size_terms
        sum_power = (x @ r_power)[:, None]
        modified = one_plus_ln - np.log(sum_power) - r_power / sum_power
        if self.arrays.parameter_set.combinatorial == "lyngby":
            return np.asarray(modified)
        ratio = ((x @ self.q) / (x @ self.r))[:, None]
        surface = one_plus_ln_ratio + np.log(ratio) - r_over_q * ratio
        return np.asarray(modified - 5.0 * self.q * surface)

    def _psi(self, temperature: Array) -> Array:
        a, b, c = self.arrays.a, self.arrays.b, self.arrays.c
        t = temperature[..., None, None]
        if self.arrays.parameter_set.temperature_law == "lyngby":
            above = t - LYNGBY_REFERENCE_K
            curve = t * np.log(LYNGBY_REFERENCE_K / t) + above
            return np.asarray(np.exp(-(a + b * above + c * curve) / t))
        return np.asarray(np.exp(-(a / t + b + c * t)))

    def _ln_group_gamma(self, theta: Array, psi: Array) -> Array:
        if psi.ndim == 2:
            s = theta @ psi
            spread = (theta / s) @ psi.T
        else:
            s = np.einsum("bm,bmk->bk", theta, psi)
            spread = np.einsum("bm,bkm->bk", theta / s, psi)
        return np.asarray(self.arrays.areas * (1.0 - np.log(s) - spread))

    def _residual(self, x: Array, temperature: Array) -> Array:
        counts = self.arrays.counts
        group_area = (x @ counts) * self.arrays.areas
        theta = group_area / group_area.sum(axis=1, keepdims=True)
        if temperature.ndim == 0:
            psi, pure = _interactions(self, float(temperature))
        else:
            psi = self._psi(temperature)
            s = np.einsum("im,bmk->bik", self.pure_theta, psi)
            spread = np.einsum("bim,bkm->bik", self.pure_theta / s, psi)
            pure = (counts * (self.arrays.areas * (1.0 - np.log(s) - spread))).sum(axis=2)
        return np.asarray(self._ln_group_gamma(theta, psi) @ counts.T - pure)


@lru_cache(maxsize=64)
def _interactions(model: ActivityModel, temperature_K: float) -> tuple[Array, Array]:
    """psi, and the pure components' part of the residual: the same for all blends at one T."""
    psi = model._psi(np.asarray(temperature_K))
    own = model._ln_group_gamma(model.pure_theta, psi)
    return psi, np.asarray((model.arrays.counts * own).sum(axis=1))


def activity_model(parameter_set: ParameterSet, components: Sequence[Groups]) -> ActivityModel:
    """The model for these components, each given as {subgroup number: count}.

    Raises MissingGroupPairError where the set lacks a pair, ValueError for a component without
    groups.
    """
    arrays = group_arrays(parameter_set, components)
    areas = arrays.counts * arrays.areas
    return ActivityModel(
        arrays=arrays,
        r=arrays.counts @ arrays.volumes,
        q=areas.sum(axis=1),
        pure_theta=areas / areas.sum(axis=1, keepdims=True),
    )
