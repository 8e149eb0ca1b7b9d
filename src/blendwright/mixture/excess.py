"""The learned terms of the excess Gibbs energy, and ln(gamma) as their derivative.

G^E/RT (learned) = S F(phi),   S = sum_i s_i x_i,  phi_i = s_i x_i / S,  s_i = (v_i/100 cm3)^1/2
F = sum_i<j phi_i phi_j (c_ij + d_ij (phi_i - phi_j))
    + sum_h,o a_ho phi_h phi_o / (1 + KAPPA phi_hydroxylic)
    + phi_water sum_k,o phi_k phi_o (t_ko + u_ko phi_oils)

ln gamma_i = s_i (F + dF/dphi_i - sum_j phi_j dF/dphi_j)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import Ints
from blendwright.pure.constants import PureConstants

KAPPA = 80.0
REFERENCE_K = 298.15
DRAWS = 16
SLICE = 256  # blends: their pairs stay in one core's cache
PAIRS = ("c", "d", "a", "t", "u")


def over_temperature(temperature_K: float | Array) -> Array:
    """What the second coefficient of each term is multiplied with."""
    return np.asarray(5.0 * (REFERENCE_K / np.asarray(temperature_K, dtype=float) - 1.0))


@dataclass(frozen=True, eq=False)
class ExcessAt:
    """The terms of some blends at their temperatures: `size`, and masks of what is hydroxylic, an
    oil or water (blends, components); coefficients (blends, components, components), all symmetric
    but d, which changes its sign. t and u are zero unless a blend has water and a cosolvent."""

    size: Array
    hydroxylic: Array
    oil: Array
    water: Array
    c: Array
    d: Array
    a: Array
    t: Array
    u: Array

    def only(self, keep: NDArray[Any]) -> ExcessAt:
        return ExcessAt(*(getattr(self, f.name)[keep] for f in fields(self)))

    def ln_gamma(self, x: Array) -> Array:
        """x and the result are (blends, rows, components)."""
        n = x * self.size[:, None, :]
        phi = n / n.sum(axis=-1, keepdims=True)
        hydroxylic, oil, water = (m[:, None, :] for m in (self.hydroxylic, self.oil, self.water))

        def dot(a: Array, b: Array) -> Array:
            return np.asarray((a * b).sum(axis=-1, keepdims=True))

        of_c, of_d, of_a = phi @ self.c, phi @ -self.d, phi @ self.a
        c, d, a = 0.5 * dot(phi, of_c), dot(phi * phi, of_d), 0.5 * dot(phi, of_a)
        screen = 1.0 / (1.0 + KAPPA * dot(phi, hydroxylic))
        slope = of_c + 2.0 * phi * of_d + (phi * phi) @ self.d
        slope += of_a * screen - KAPPA * hydroxylic * a * screen**2
        energy = c + d + a * screen
        w = dot(phi, water)
        if w.any():
            oils = dot(phi, oil)
            of_t, of_u = phi @ self.t, phi @ self.u
            t, u = 0.5 * dot(phi, of_t), 0.5 * dot(phi, of_u)
            slope += water * (t + oils * u) + w * (of_t + oils * of_u + oil * u)
            energy += w * (t + oils * u)
        return np.asarray(self.size[:, None, :] * (energy + slope - dot(phi, slope)))


@dataclass(frozen=True, eq=False)
class Coefficients:
    """Of one kind of term for all pairs of a list of substances: `level` at REFERENCE_K and
    `slope` over `over_temperature`, (substances, substances), or with the draws before them."""

    level: Array
    slope: Array


@dataclass(frozen=True, eq=False)
class ExcessTerms:
    """The learned terms of a list of substances: `mean` by kind of term, and how each draw differs
    from it (draws, substances, substances). `offset` is what is added to a crystal's ln(x gamma) at
    REFERENCE_K (substances,), `offset_draws` how each draw differs (draws, substances)."""

    size: Array
    hydroxylic: Array
    oil: Array
    water: Array
    mean: Mapping[str, Coefficients]
    draws: Mapping[str, Coefficients]
    offset: Array
    offset_draws: Array

    def at(self, index: Ints, temperature_K: float | Array) -> ExcessAt:
        """For blends of the components `index` (blends, components)."""
        return self._of(self.mean, index, over_temperature(temperature_K))

    def at_nodes(self, index: Ints, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) at temperatures that all share."""
        ends = [
            self._of(self.mean, index, np.asarray(t)).ln_gamma(x[:, None, :]) for t in (0.0, 1.0)
        ]
        slope = ends[1] - ends[0]
        return np.asarray(ends[0] + over_temperature(temperatures_K)[None, :, None] * slope)

    def draw_shifts(
        self, index: Ints, x: Array, weights: Array, temperature_K: float | Array
    ) -> Array:
        """By how much sum_i weights_i ln gamma_i of each draw differs (blends, draws).

        ln gamma is linear in every coefficient, so the sum is one product of what each pair counts
        (blends, pairs) with the draws of the pairs.
        """
        blends = len(index)
        size, hydroxylic, oil, water = (
            m[index] for m in (self.size, self.hydroxylic, self.oil, self.water)
        )
        n = x * size
        phi = n / n.sum(axis=1, keepdims=True)
        own = weights * size  # omega s

        def dot(a: Array, b: Array) -> Array:
            return np.asarray((a * b).sum(axis=1)[:, None, None])

        total = own.sum(axis=1)[:, None, None]
        outer = own[:, :, None] * phi[:, None, :]
        even = 0.5 * phi[:, :, None] * phi[:, None, :]
        square = phi * phi
        screen = 1.0 / (1.0 + KAPPA * dot(phi, hydroxylic))
        screened = KAPPA * screen**2
        counts = [
            outer - total * even,
            2.0 * (own * phi)[:, :, None] * phi[:, None, :]
            + square[:, :, None] * (own[:, None, :] - 2.0 * total * phi[:, None, :]),
            screen * outer
            + even
            * (
                total * (screened * dot(phi, hydroxylic) - screen) - screened * dot(own, hydroxylic)
            ),
        ]
        kinds: tuple[str, ...] = PAIRS[:3]
        w = dot(phi, water)
        if w.any():
            kinds, g = PAIRS, dot(phi, oil)
            counts.append(w * outer + even * (dot(own, water) - 2.0 * total * w))
            counts.append(
                w * g * outer
                + even * (dot(own, water) * g + w * dot(own, oil) - 3.0 * total * w * g)
            )
        counted = np.stack(counts, axis=-1).reshape(blends, 1, -1)
        tau = np.broadcast_to(over_temperature(temperature_K), (blends,))
        table = self._draw_table(kinds)
        rows = (index[:, :, None] * len(self.size) + index[:, None, :]).reshape(blends, -1)
        found = np.empty((blends, len(self.offset_draws)))
        for begin in range(0, blends, SLICE):
            part = slice(begin, begin + SLICE)
            level, slope = table
            some = level[rows[part]]
            if (tau[part] != 0.0).any():
                some = some + tau[part, None, None, None] * slope[rows[part]]
            flat = some.reshape(len(some), -1, found.shape[1])
            found[part] = (counted[part] @ flat)[:, 0, :]
        return found

    def with_draws(self, index: Ints, draws: Ints, temperature_K: float | Array) -> ExcessAt:
        """The terms of one draw for each blend."""
        tau = np.broadcast_to(over_temperature(temperature_K), (len(index),))
        mean = self._of(self.mean, index, tau)
        rows, columns, number = index[:, :, None], index[:, None, :], draws[:, None, None]
        moved = {
            kind: getattr(mean, kind)
            + self.draws[kind].level[number, rows, columns]
            + tau[:, None, None] * self.draws[kind].slope[number, rows, columns]
            for kind in PAIRS
        }
        return replace(mean, **moved)

    def _draw_table(self, kinds: tuple[str, ...]) -> tuple[Array, Array]:
        """Level and slope of the pairs' draws (pairs, kinds, draws), side by side in memory."""
        if kinds not in self._tables:

            def beside(arrays: list[Array]) -> Array:
                table = np.stack(arrays, axis=-1).transpose(1, 2, 3, 0)
                return np.ascontiguousarray(
                    table.reshape(-1, len(kinds), len(self.offset_draws)), dtype=np.float32
                )

            self._tables[kinds] = (
                beside([self.draws[k].level for k in kinds]),
                beside([self.draws[k].slope for k in kinds]),
            )
        return self._tables[kinds]

    @cached_property
    def _tables(self) -> dict[tuple[str, ...], tuple[Array, Array]]:
        return {}

    def _of(self, table: Mapping[str, Coefficients], index: Ints, tau: Array) -> ExcessAt:
        rows, columns = index[:, :, None], index[:, None, :]
        tau = tau[..., None, None] if tau.ndim else tau
        pairs = (
            table[kind].level[rows, columns] + tau * table[kind].slope[rows, columns]
            for kind in PAIRS
        )
        masks = (m[index] for m in (self.size, self.hydroxylic, self.oil, self.water))
        return ExcessAt(*masks, *pairs)


def excess_terms(pures: Sequence[PureConstants]) -> ExcessTerms:
    n = len(pures)
    none = np.zeros((n, n))
    hyd = np.array([("OH" in p.material.name) for p in pures], dtype=float)
    vol = np.array([p.material.molar_mass_kg_mol * 1e3 for p in pures])
    return ExcessTerms(
        np.sqrt(vol / 100.0),
        hyd,
        np.ones(n),
        np.array([float(p.name == "water") for p in pures]),
        {k: Coefficients(none, none) for k in PAIRS},
        {k: Coefficients(np.zeros((DRAWS, n, n)), np.zeros((DRAWS, n, n))) for k in PAIRS},
        np.zeros(n),
        np.zeros((DRAWS, n)),
    )
