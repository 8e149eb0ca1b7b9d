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
from blendwright.mixture.rows import Picked, some_of

SCREENING = 80.0  # of self-association in dilute hydroxylic solution (chosen by leave-out)
REFERENCE_K = 298.15
INVERSE_TEMPERATURE_SCALE = 5.0
COEFFICIENTS = ("c", "d", "a", "t", "u")
MARKS = ("size", "hydroxylic", "oil", "water")
MATRICES = ("inward", "outward", "by_water")


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
        marks = {name: getattr(self, name)[index] for name in MARKS}
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
        marks = self.size, self.hydroxylic, self.oil, self.water
        return ExcessAt.of(*marks, likeness=self.likeness, **found)


_NAMES = tuple(f"{name}{k}" for name in COEFFICIENTS for k in (0, 1))


@dataclass(frozen=True, eq=False)
class ExcessAt:
    """The terms at given temperatures, as matrices that are linear in the coefficients and the
    likeness. The marks are those of ExcessTerms, (n,), or (blends, n) once gathered.

    `inward` (..., n, 4 n) takes phi to its sums by c, likeness, d and both ways of a; `outward`
    (..., 2 n, n) takes phi times the sum by d, and phi times psi, to the slope; `by_water`
    (..., n, 2 n) takes phi to its sums by both ways of t and u, where the list `has_water`. With a
    `slope` the matrices are these and `warmth` (blends,) times those of the slope: many
    temperatures of one list.
    """

    size: Array
    hydroxylic: Array
    oil: Array
    water: Array
    inward: Array
    outward: Array
    by_water: Array
    has_water: bool
    slope: ExcessAt | None = None
    warmth: Array | None = None

    @classmethod
    def of(
        cls,
        size: Array,
        hydroxylic: Array,
        oil: Array,
        water: Array,
        *,
        likeness: Array,
        c: Array,
        d: Array,
        a: Array,
        t: Array,
        u: Array,
    ) -> ExcessAt:
        """From the coefficients at given temperatures; the shapes are those of ExcessTerms."""
        alike = np.broadcast_to(likeness, c.shape)
        return cls(
            size, hydroxylic, oil, water,
            _side_by_side(c, alike, d, _both_ways(a)),
            np.concatenate([_turned(alike), -_turned(d)], axis=-2),
            _side_by_side(_both_ways(t), _both_ways(u)),
            bool(water.any()),
        )  # fmt: skip

    @property
    def is_gathered(self) -> bool:
        """Whether each blend has components of its own."""
        return self.size.ndim == 2

    def one(self, k: int) -> ExcessAt:
        """One set by itself: without the axis K, for searches."""
        return replace(
            self, inward=self.inward[k], outward=self.outward[k], by_water=self.by_water[k]
        )

    def only(self, blends: Picked) -> ExcessAt:
        """Some of the gathered blends."""
        if self.warmth is not None:
            return replace(self, warmth=self.warmth[blends])
        made: dict[str, Any] = {name: some_of(getattr(self, name), blends) for name in MARKS}
        for name in MATRICES:
            whole = getattr(self, name)
            made[name] = whole if whole.shape[-3] == 1 else whole[..., blends, :, :]
        return replace(self, **made)

    def warmer(self, warmth: float | Array, slope: ExcessAt) -> ExcessAt:
        """These as the level at REFERENCE_K, and so many times the slope (one number, or one of
        each blend)."""
        if np.ndim(warmth) and self.is_gathered and len(self.size) == 1:
            return replace(self, warmth=np.asarray(warmth), slope=slope)
        by = warmth if np.ndim(warmth) == 0 else np.asarray(warmth)[:, None, None]
        return replace(
            self,
            inward=self.inward + by * slope.inward,
            outward=self.outward + by * slope.outward,
            by_water=self.by_water + by * slope.by_water if self.has_water else self.by_water,
        )

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
        x = np.asarray(mole_fractions, dtype=float)
        row_each = x.ndim == (2 if self.is_gathered else 1)
        size, hydroxylic, oil, water = self._marks
        phi = (x[..., None, :] if row_each else x) * size
        phi /= np.add.reduce(phi, axis=-1, keepdims=True)
        found, beyond = self._slope(phi, hydroxylic)
        if self.has_water:
            of_water, more = self._slope_with_water(phi, oil, water)
            found += of_water
            beyond += more
        found -= beyond
        found *= size
        return found[..., 0, :] if row_each else found

    def excess(self, mole_fractions: Array) -> Array:
        """G/RT of the learned terms per mole of blend: the shape of `ln_gamma` less its last."""
        return _along(np.asarray(mole_fractions, dtype=float), self.ln_gamma(mole_fractions))[
            ..., 0
        ]

    @cached_property
    def _marks(self) -> tuple[Array, Array, Array, Array]:
        """Size, hydroxylic, oil and water, to be multiplied with rows of components."""
        marks = self.size, self.hydroxylic, self.oil, self.water
        size, hydroxylic, oil, water = (
            one[:, None, :] if self.is_gathered else one for one in marks
        )
        return size, hydroxylic, oil, water

    def _product(self, rows: Array, matrix: str) -> Array:
        found = _times(rows, getattr(self, matrix))
        if self.slope is not None and self.warmth is not None:
            found += self.warmth[:, None, None] * _times(rows, getattr(self.slope, matrix))
        return found

    def _slope(self, phi: Array, hydroxylic: Array) -> tuple[Array, Array]:
        """dF/dphi (with phi as independent), and by how much sum phi dF/dphi is beyond F: a term of
        degree k in phi counts k - 1 times."""
        n = phi.shape[-1]
        sums = self._product(phi, "inward")
        each = sums.reshape(*sums.shape[:-1], 4, n)
        by_c, psi, by_d, by_a = (each[..., k, :] for k in range(4))
        of_each = each @ phi[..., None]
        weighed = np.empty((*sums.shape[:-1], 2 * n))
        np.multiply(phi, by_d, out=weighed[..., :n])
        np.multiply(phi, psi, out=weighed[..., n:])
        slope = psi * by_d
        slope += by_c
        slope += self._product(weighed, "outward")
        bonded = _along(phi, hydroxylic)
        screen = 1.0 / (1.0 + SCREENING * bonded)
        in_others = 0.5 * of_each[..., 3, :] * screen
        drop = SCREENING * in_others * screen
        slope += screen * by_a
        slope -= drop * hydroxylic
        skew = _along(weighed[..., n:], by_d)
        return slope, 0.5 * of_each[..., 0, :] + 2.0 * skew + in_others - drop * bonded

    def _slope_with_water(self, phi: Array, oil: Array, water: Array) -> tuple[Array, Array]:
        """Those of the terms with water, as in `_slope`."""
        n = phi.shape[-1]
        sums = self._product(phi, "by_water")
        by_t, by_u = sums[..., :n], sums[..., n:]
        share_water, share_oil = _along(phi, water), _along(phi, oil)
        of_t, of_u = 0.5 * _along(phi, by_t), 0.5 * _along(phi, by_u)
        slope = share_water * (by_t + by_u * share_oil + of_u * oil)
        slope += (of_t + of_u * share_oil) * water
        return slope, share_water * (2.0 * of_t + 3.0 * of_u * share_oil)


def _times(rows: Array, matrix: Array) -> Array:
    """rows @ matrix; where all blends share one matrix as one product, which is quicker."""
    if len(rows) > 1 and rows.ndim == 3 and len(matrix) == 1:
        flat = rows.reshape(-1, rows.shape[-1]) @ matrix[0]
        return np.asarray(flat.reshape(*rows.shape[:-1], -1))
    return np.asarray(rows @ matrix)


def _turned(matrix: Array) -> Array:
    return np.swapaxes(matrix, -1, -2)


def _side_by_side(*matrices: Array) -> Array:
    return np.concatenate([_turned(one) for one in matrices], axis=-1)


def _both_ways(matrix: Array) -> Array:
    return np.asarray(matrix + _turned(matrix))


def _along(one: Array, other: Array) -> Array:
    """The sum over components, which keep an axis of one."""
    return np.asarray(np.add.reduce(one * other, axis=-1, keepdims=True))


def inverse_temperature(temperature_K: float | Array) -> float | Array:
    """5 (298.15 K / T - 1): what the coefficients' second parts are multiplied with."""
    return INVERSE_TEMPERATURE_SCALE * (REFERENCE_K / np.asarray(temperature_K, float) - 1.0)


def ln_gamma_excess(terms: ExcessTerms, x: Array, temperature_K: float | Array) -> Array:
    """ln gamma (K, ..., n) of the learned terms: `terms.at(temperature_K).ln_gamma(x)`."""
    return terms.at(temperature_K).ln_gamma(x)
