"""Which excess Gibbs energy do the learned terms add to the base model, and what is its ln gamma?

    G/RT = S F(phi),   S = sum_i x_i s_i,   phi_i = x_i s_i / S

    F = sum_{i<j} phi_i phi_j [c_ij + d_ij (psi_i - psi_j)]          every pair
      + sum_{h,o} a_ho phi_h phi_o / (1 + 80 Phi_h)                  hydroxylic h in others o
      + phi_w sum_{k,o} phi_k phi_o (t_ko + u_ko Phi_o)              cosolvent k, oil o, water w

with psi = L phi, L the likeness of molecules (1 for the same groups, 0 for unlike ones), Phi_h and
Phi_o the sums of phi over hydroxylic substances and over oils (neither water nor cosolvent), d
antisymmetric. Every sum is such that a substance written as two equal halves counts as one. Each
coefficient is q0 + q1 5 (298.15 K / T - 1). Exactly linear in the coefficients:

    ln gamma_i = d(N G/RT)/dN_i = s_i [F + dF/dphi_i - sum_k phi_k dF/dphi_k]

so the Gibbs-Duhem equation holds. Arrays carry a leading axis K of coefficient sets: 0 is the
posterior mean, the others are posterior draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array

SCREENING = 80.0  # of self-association in dilute hydroxylic solution (chosen by leave-out)
REFERENCE_K = 298.15
INVERSE_TEMPERATURE_SCALE = 5.0
COEFFICIENTS = ("c", "d", "a", "t", "u")


@dataclass(frozen=True, eq=False)
class ExcessTerms:
    """Coefficients of n substances, K sets of each: (K, n, n), or (K, blends, n, n) once gathered.

    `a` is [hydroxylic, other], `t` and `u` are [cosolvent, oil]; `c` is symmetric, `d`
    antisymmetric; what has no meaning is zero. `size`, and the marks `hydroxylic`, `oil` and
    `water` (1.0 or 0.0), are (n,), `likeness` is (n, n).
    """

    size: Array
    hydroxylic: Array
    oil: Array
    water: Array
    likeness: Array
    c0: Array
    c1: Array
    d0: Array
    d1: Array
    a0: Array
    a1: Array
    t0: Array
    t1: Array
    u0: Array
    u1: Array

    @property
    def sets(self) -> int:
        """How many sets of coefficients there are (K)."""
        return len(self.c0)

    def only(self, sets: slice | NDArray[Any]) -> ExcessTerms:
        """Some of the sets."""
        return replace(self, **{name: getattr(self, name)[sets] for name in _NAMES})

    def gather(self, index: NDArray[Any]) -> ExcessTerms:
        """For blends of components of their own: `index` (blends, p) numbers the substances."""
        rows, columns = index[:, :, None], index[:, None, :]
        each = {name: getattr(self, name)[:, rows, columns] for name in _NAMES}
        marks = {m: getattr(self, m)[index] for m in ("size", "hydroxylic", "oil", "water")}
        return ExcessTerms(**marks, likeness=self.likeness[rows, columns], **each)

    def at(self, temperature_K: float | Array) -> ExcessAt:
        """At one temperature, or (once gathered) at one for each blend."""
        warmth = inverse_temperature(temperature_K)
        if np.ndim(warmth):
            warmth = np.asarray(warmth)[:, None, None]
        found = {
            name: getattr(self, f"{name}0") + warmth * getattr(self, f"{name}1")
            for name in COEFFICIENTS
        }
        return ExcessAt(self.size, self.hydroxylic, self.oil, self.water, self.likeness, **found)


_NAMES = tuple(f"{name}{k}" for name in COEFFICIENTS for k in (0, 1))


@dataclass(frozen=True, eq=False)
class ExcessAt:
    """Coefficients at given temperatures; the shapes are those of ExcessTerms."""

    size: Array
    hydroxylic: Array
    oil: Array
    water: Array
    likeness: Array
    c: Array
    d: Array
    a: Array
    t: Array
    u: Array

    @property
    def is_gathered(self) -> bool:
        """Whether each blend has components of its own."""
        return self.size.ndim == 2

    def one(self, k: int) -> ExcessAt:
        """One set by itself: without the axis K, for searches."""
        return replace(self, **{name: getattr(self, name)[k] for name in COEFFICIENTS})

    def only(self, blends: NDArray[Any]) -> ExcessAt:
        """Some of the gathered blends."""
        marks = ("size", "hydroxylic", "oil", "water", "likeness")
        found = {name: getattr(self, name)[blends] for name in marks}
        found |= {name: getattr(self, name)[..., blends, :, :] for name in COEFFICIENTS}
        return ExcessAt(**found)

    def ln_gamma(self, mole_fractions: Array) -> Array:
        """ln gamma of the learned terms, to be added to the base model's.

        Parameters
        ----------
        mole_fractions : (n,) or (blends, n); once gathered (blends, rows, p) or (blends, p).
            Each blend sums to 1; zeros (padding, infinite dilution) are allowed.

        Returns
        -------
        The shape of the fractions, after the axis K unless this is `one` set.
        """
        return self._result(mole_fractions, excess=False)

    def excess(self, mole_fractions: Array) -> Array:
        """G/RT of the learned terms per mole of blend: the shape of `ln_gamma` less its last."""
        return self._result(mole_fractions, excess=True)

    def _result(self, mole_fractions: Array, *, excess: bool) -> Array:
        x = np.asarray(mole_fractions, dtype=float)
        row_each = self.is_gathered and x.ndim == 2
        if row_each:
            x = x[:, None, :]
        marks = (self.size, self.hydroxylic, self.oil, self.water)
        size, *others = [m[:, None, :] if self.is_gathered else m for m in marks]
        found = self._excess(x, size, *others) if excess else self._ln_gamma(x, size, *others)
        return found[..., 0, :] if row_each and not excess else found[..., 0] if row_each else found

    def _excess(self, x: Array, size: Array, hydroxylic: Array, oil: Array, water: Array) -> Array:
        amount = x * size
        total = amount.sum(axis=-1, keepdims=True)
        return np.asarray(total[..., 0] * self._energy(amount / total, hydroxylic, oil, water)[0])

    def _ln_gamma(
        self, x: Array, size: Array, hydroxylic: Array, oil: Array, water: Array
    ) -> Array:
        amount = x * size
        phi = amount / amount.sum(axis=-1, keepdims=True)
        energy, slope, euler = self._energy(phi, hydroxylic, oil, water)
        return np.asarray(size * (slope + (energy - euler)[..., None]))

    @cached_property
    def _both_ways_a(self) -> Array:
        return _both_ways(self.a)

    @cached_property
    def _both_ways_t(self) -> Array:
        return _both_ways(self.t)

    @cached_property
    def _both_ways_u(self) -> Array:
        return _both_ways(self.u)

    def _energy(
        self, phi: Array, hydroxylic: Array, oil: Array, water: Array
    ) -> tuple[Array, Array, Array]:
        """F, dF/dphi (with phi as independent) and sum phi dF/dphi."""

        by_c = _times(self.c, phi)
        psi = _times(self.likeness, phi)
        by_d = _times(self.d, phi)
        skew = _along(phi * psi, by_d)
        slope = by_c + psi * by_d + _times(self.likeness, phi * by_d) - _times(self.d, phi * psi)
        energy = 0.5 * _along(phi, by_c) + skew
        euler = _along(phi, by_c) + 3.0 * skew

        bonded = _along(phi, hydroxylic)
        screen = 1.0 + SCREENING * bonded
        by_a = _times(self._both_ways_a, phi)
        in_others = 0.5 * _along(phi, by_a)
        drop = SCREENING * in_others / screen**2
        slope = slope + by_a / screen[..., None]
        slope = slope - drop[..., None] * hydroxylic
        energy = energy + in_others / screen
        euler = euler + 2.0 * in_others / screen - drop * bonded

        if self.water.any():
            three, of_water, times_euler = self._three_bodies(phi, oil, water)
            energy, slope, euler = energy + three, slope + of_water, euler + times_euler
        return energy, slope, euler

    def _three_bodies(self, phi: Array, oil: Array, water: Array) -> tuple[Array, Array, Array]:
        """Energy, slope and Euler sum of the terms with water, as in `_energy`."""
        share_water, share_oil = _along(phi, water), _along(phi, oil)
        by_t, by_u = _times(self._both_ways_t, phi), _times(self._both_ways_u, phi)
        of_t, of_u = 0.5 * _along(phi, by_t), 0.5 * _along(phi, by_u)
        three = of_t + of_u * share_oil
        inner = by_t + by_u * share_oil[..., None] + of_u[..., None] * oil
        slope = share_water[..., None] * inner + three[..., None] * water
        euler = share_water * (3.0 * of_t + 4.0 * of_u * share_oil)
        return share_water * three, slope, euler


def _both_ways(matrix: Array) -> Array:
    return np.asarray(matrix + np.swapaxes(matrix, -1, -2))


def _times(matrix: Array, vector: Array) -> Array:
    return np.asarray(vector @ np.swapaxes(matrix, -1, -2))


def _along(one: Array, other: Array) -> Array:
    return np.asarray((one * other).sum(axis=-1))


def inverse_temperature(temperature_K: float | Array) -> float | Array:
    """5 (298.15 K / T - 1): what the coefficients' second parts are multiplied with."""
    return INVERSE_TEMPERATURE_SCALE * (REFERENCE_K / np.asarray(temperature_K, float) - 1.0)


def ln_gamma_excess(terms: ExcessTerms, x: Array, temperature_K: float | Array) -> Array:
    """ln gamma (K, ..., n) of the learned terms: `terms.at(temperature_K).ln_gamma(x)`."""
    return terms.at(temperature_K).ln_gamma(x)
