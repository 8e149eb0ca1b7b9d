"""The learned terms as the engine asks for them: for the blends of a part, by the posterior mean,
and what the draws differ by.

Blends come padded, `index` (blends, components) numbers their substances. Every coefficient enters
ln gamma linearly, so a sum over components of one draw's ln gamma is a product of what each pair
counts in it (the derivative) with the draw's coefficients of the pairs.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from blendwright.mixture.excess.form import (
    COEFFICIENTS,
    SCREENING,
    ExcessAt,
    ExcessTerms,
    inverse_temperature,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Ints

SLICE = 256  # blends: their pairs stay in one core's cache


class LearnedTerms:
    """Of a list of substances: `terms` with the mean first, and `fusion_factors` (sets, n)."""

    def __init__(self, terms: ExcessTerms, fusion_factors: Array) -> None:
        self.terms = terms
        self.fusion_factors = fusion_factors

    @property
    def draws(self) -> int:
        return self.terms.sets - 1

    def at(self, index: Ints, temperature_K: float | Array) -> ExcessAt:
        """By the mean, for blends at one temperature or each at its own."""
        return self._of(index, np.asarray(inverse_temperature(temperature_K)), None)

    def at_nodes(self, index: Ints, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) at temperatures that all share."""
        rows = x[:, None, :]
        ends = [self._of(index, np.asarray(t), None).ln_gamma(rows) for t in (0.0, 1.0)]
        warmth = np.asarray(inverse_temperature(temperatures_K))[None, :, None]
        return np.asarray(ends[0] + warmth * (ends[1] - ends[0]))

    def with_draws(self, index: Ints, draws: Ints, temperature_K: float | Array) -> ExcessAt:
        """By one draw (0 is the first) for each blend."""
        return self._of(index, np.asarray(inverse_temperature(temperature_K)), draws)

    def _of(self, index: Ints, warmth: Array, draws: Ints | None) -> ExcessAt:
        rows, columns = index[:, :, None], index[:, None, :]
        own = 0 if draws is None else 1 + draws[:, None, None]
        warmth = warmth[..., None, None] if warmth.ndim else warmth
        found = {
            name: getattr(self.terms, f"{name}0")[own, rows, columns]
            + warmth * getattr(self.terms, f"{name}1")[own, rows, columns]
            for name in COEFFICIENTS
        }
        terms = self.terms
        return ExcessAt(
            terms.size[index],
            terms.hydroxylic[index],
            terms.oil[index],
            terms.water[index],
            terms.likeness[rows, columns],
            **found,
        )

    def draw_shifts(
        self, index: Ints, x: Array, weights: Array, temperature_K: float | Array
    ) -> Array:
        """By how much sum_i weights_i ln gamma_i of each draw differs from the mean's (blends,
        draws)."""
        found = np.empty((len(index), self.draws))
        warmth = np.broadcast_to(np.asarray(inverse_temperature(temperature_K)), (len(index),))
        for begin in range(0, len(index), SLICE):
            part = slice(begin, begin + SLICE)
            found[part] = self._draw_shifts(index[part], x[part], weights[part], warmth[part])
        return found

    def _draw_shifts(self, index: Ints, x: Array, weights: Array, warmth: Array) -> Array:
        counts = self._counts(index, x, weights)
        kinds = COEFFICIENTS[: len(counts)]
        counted = np.stack(counts, axis=-1).reshape(len(index), 1, -1)
        level, slope = self._draw_table(kinds)
        pairs = (index[:, :, None] * len(self.terms.size) + index[:, None, :]).reshape(
            len(index), -1
        )
        some = level[pairs]
        if warmth.any():
            some = some + warmth[:, None, None, None] * slope[pairs]
        return np.asarray((counted @ some.reshape(len(some), -1, self.draws))[:, 0, :])

    def _counts(self, index: Ints, x: Array, weights: Array) -> list[Array]:
        """d(sum_i weights_i ln gamma_i) by each coefficient (blends, components, components), of c,
        d, a and, where there is water, t and u."""
        size, hydroxylic, oil, water = (
            getattr(self.terms, m)[index] for m in ("size", "hydroxylic", "oil", "water")
        )
        amount = x * size
        phi = amount / amount.sum(axis=1, keepdims=True)
        own = weights * size
        likeness = self.terms.likeness[index[:, :, None], index[:, None, :]]

        def along(one: Array, other: Array) -> Array:
            return np.asarray((one * other).sum(axis=1)[:, None, None])

        def outer(one: Array, other: Array) -> Array:
            return one[:, :, None] * other[:, None, :]

        total = own.sum(axis=1)[:, None, None]
        own_phi, phi_phi = outer(own, phi), outer(phi, phi)
        psi = (likeness @ phi[:, :, None])[:, :, 0]
        alike = (likeness @ own[:, :, None])[:, :, 0]
        bonded = along(phi, hydroxylic)
        screen = 1.0 / (1.0 + SCREENING * bonded)
        drop = SCREENING * screen**2
        both = own_phi + np.swapaxes(own_phi, 1, 2)
        found = [
            own_phi - 0.5 * total * phi_phi,
            outer(own * psi + phi * alike, phi)
            - outer(own, phi * psi)
            - 2.0 * total * outer(phi * psi, phi),
            screen * both
            + phi_phi * (total * (drop * bonded - screen) - drop * along(own, hydroxylic)),
        ]
        w = along(phi, water)
        if w.any():
            g = along(phi, oil)
            found.append(w * both + phi_phi * (along(own, water) - 2.0 * total * w))
            found.append(
                w * g * both
                + phi_phi * (along(own, water) * g + w * along(own, oil) - 3.0 * total * w * g)
            )
        return found

    def _draw_table(self, kinds: tuple[str, ...]) -> tuple[Array, Array]:
        """Both parts of the pairs' draws (pairs, kinds, draws), side by side in memory."""
        if kinds not in self._tables:

            def beside(number: int) -> Array:
                sets = [getattr(self.terms, f"{k}{number}") for k in kinds]
                table = np.stack([s[1:] - s[:1] for s in sets], axis=-1).transpose(1, 2, 3, 0)
                return np.ascontiguousarray(
                    table.reshape(-1, len(kinds), self.draws), dtype=np.float32
                )

            self._tables[kinds] = beside(0), beside(1)
        return self._tables[kinds]

    @cached_property
    def _tables(self) -> dict[tuple[str, ...], tuple[Array, Array]]:
        return {}

    def fusion_shifts(self, substances: Ints) -> Array:
        """By how much the factors on the ideal activity differ in each draw (substances, draws)."""
        factors = self.fusion_factors[:, substances]
        return np.asarray((factors[1:] - factors[:1]).T)


def only_blends(one: ExcessAt, keep: Ints) -> ExcessAt:
    """The terms of some of the blends."""
    names = ("size", "hydroxylic", "oil", "water", "likeness", *COEFFICIENTS)
    return replace(one, **{name: getattr(one, name)[keep] for name in names})
