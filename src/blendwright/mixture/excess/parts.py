"""The learned terms as the engine asks for them: for the blends of a part, by the posterior mean,
and what the draws differ by.

Every pair of substances stands once, i before j, at number j (j - 1) / 2 + i, and last what a
substance has with itself. Blends come padded, `index` (blends, components) numbers their
substances. Every coefficient enters ln gamma linearly, so a sum over components of one draw's ln
gamma is a product of what each pair counts in it (the derivative) with the draw's coefficients of
the pairs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from blendwright.mixture.excess.form import (
    COEFFICIENTS,
    SCREENING,
    ExcessAt,
    ExcessTerms,
    inverse_temperature,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.rows import Picked, one_for_all, picked, some_of
from blendwright.pure.roots import Ints

SLICE = 256  # blends: their pairs stay in one core's cache
SLICE_NUMBERS = 2_000_000  # and never more of one coefficient's (16 MB)
MOST_KEPT = 8  # lists of components
MOST_NUMBERS_KEPT = 2_000_000  # of the draws' deviations of one list: 16 MB
LIKENESS = 2 * len(COEFFICIENTS)  # its column in `LearnedTerms.mean`


class LearnedTerms:
    """The learned terms of a list of n substances.

    `marks` (n, 4): size, hydroxylic, oil, water. `mean` (pairs, 11): level and slope of each
    coefficient, then the likeness; of a, t and u the sum of both orders, d with the lower number
    first. `deviations` (pairs, coefficients, 2, draws): what each draw adds to level and slope.
    `fusion_factors` (sets, n), the mean first.
    """

    def __init__(self, terms: ExcessTerms, fusion_factors: Array) -> None:
        later, earlier = np.tril_indices(len(terms.size), -1)
        count = len(later)
        self.draws = terms.sets - 1
        self.fusion_factors = fusion_factors
        self.marks = np.stack([terms.size, terms.hydroxylic, terms.oil, terms.water], axis=1)
        self.mean = np.zeros((count + 1, LIKENESS + 1))
        self.deviations = np.zeros((count + 1, len(COEFFICIENTS), 2, self.draws), dtype=np.float32)
        for kind, name in enumerate(COEFFICIENTS):
            for number in (0, 1):
                square = getattr(terms, f"{name}{number}")
                sets = square[:, earlier, later]
                if name not in ("c", "d"):
                    sets = sets + square[:, later, earlier]
                self.mean[:count, 2 * kind + number] = sets[0]
                self.deviations[:count, kind, number] = (sets[1:] - sets[0]).T
        self.mean[:count, LIKENESS] = terms.likeness[earlier, later]
        self.mean[count, LIKENESS] = 1.0
        self._latest: dict[bytes, PairTerms] = {}

    def of(self, index: Ints) -> PairTerms:
        """The terms of each blend's pairs of components."""
        index = one_for_all(index)
        if len(index) != 1:
            return self._of(index)
        # asked for again and again
        key = index.tobytes()
        if key not in self._latest:
            if len(self._latest) >= MOST_KEPT:
                self._latest.clear()
            self._latest[key] = self._of(index)
        return self._latest[key]

    def _of(self, index: Ints) -> PairTerms:
        one, other = index[:, :, None], index[:, None, :]
        later = np.maximum(one, other)
        number = later * (later - 1) // 2 + np.minimum(one, other)
        number = np.where(one == other, len(self.mean) - 1, number)
        return PairTerms(
            self, number, np.where(one <= other, 1.0, -1.0), self.mean[number], self.marks[index]
        )

    def fusion_shifts(self, substances: Ints) -> Array:
        """By how much the factors on the ideal activity differ in each draw (substances, draws)."""
        factors = self.fusion_factors[:, substances]
        return np.asarray((factors[1:] - factors[:1]).T)


@lru_cache(maxsize=64)
def _pairs(components: int) -> tuple[Ints, Ints]:
    """Each pair of so many components once."""
    row, column = np.triu_indices(components, 1)
    return row, column


@dataclass(frozen=True, eq=False)
class PairTerms:
    """The terms of blends, or of one that stands for all: `number` (blends, components, components)
    of each pair in `LearnedTerms`, `sign` 1 where the lower number comes first, else -1, and the
    rows of its `mean` and `marks`."""

    learned: LearnedTerms
    number: Ints
    sign: Array
    mean: Array
    marks: Array

    def only(self, keep: Picked) -> PairTerms:
        """The terms of some of the blends."""
        if len(self.number) == 1:
            return self
        made = PairTerms(
            self.learned,
            *(picked(x, keep) for x in (self.number, self.sign, self.mean, self.marks)),
        )
        if "_means" in self.__dict__:
            made.__dict__["_means"] = tuple(one.only(keep) for one in self._means)
        return made

    @cached_property
    def _means(self) -> tuple[ExcessAt, ExcessAt]:
        """Level and slope of the mean's terms; the slope has no likeness."""
        likeness = self.mean[..., LIKENESS]
        return (
            self._terms(self.mean[..., :LIKENESS:2], likeness),
            self._terms(self.mean[..., 1:LIKENESS:2], np.zeros_like(likeness)),
        )

    def _terms(self, coefficients: Array, likeness: Array) -> ExcessAt:
        c, d, a, t, u = np.moveaxis(coefficients, -1, 0)
        return ExcessAt.of(
            *np.moveaxis(self.marks, -1, 0), likeness=likeness,
            c=c, d=self.sign * d, a=0.5 * a, t=0.5 * t, u=0.5 * u,
        )  # fmt: skip

    def at(self, temperature_K: float | Array, draws: Ints | None = None) -> ExcessAt:
        """At one temperature or each at its own: by the mean, or by one draw (0 is the first) for
        each blend, by the mean where it is negative."""
        warmth = np.asarray(inverse_temperature(temperature_K))
        if draws is None:
            level, slope = self._means
            return level.warmer(warmth, slope)
        warmth = warmth[:, None, None, None] if warmth.ndim else warmth
        mean = np.broadcast_to(self.mean, (len(draws), *self.mean.shape[1:]))
        found = mean[..., :LIKENESS:2] + warmth * mean[..., 1:LIKENESS:2]
        drawn = np.flatnonzero(draws >= 0)
        number = some_of(self.number, drawn)
        off = self.learned.deviations[number, :, :, draws[drawn][:, None, None]]
        found[drawn] += off[..., 0] + (warmth[drawn] if warmth.ndim else warmth) * off[..., 1]
        return self._terms(found, mean[..., LIKENESS])

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) at temperatures that all share."""
        rows = x[:, None, :]
        two = temperatures_K[[0, -1]]
        first, last = (self.at(float(kelvin)).ln_gamma(rows) for kelvin in two)
        warmth = np.asarray(inverse_temperature(temperatures_K))
        share = ((warmth - warmth[0]) / (warmth[-1] - warmth[0]))[None, :, None]
        return np.asarray(first + share * (last - first))

    def draw_shifts(self, x: Array, weights: Array, temperature_K: float | Array) -> Array:
        """By how much sum_i weights_i ln gamma_i of each draw differs from the mean's (blends,
        draws)."""
        found = np.empty((len(x), self.learned.draws))
        warmth = np.broadcast_to(np.asarray(inverse_temperature(temperature_K)), (len(x),))
        size = max(1, min(SLICE, SLICE_NUMBERS // x.shape[1] ** 2))
        for begin in range(0, len(x), size):
            part = np.arange(begin, min(begin + size, len(x)))
            found[part] = self.only(part)._draw_shifts(x[part], weights[part], warmth[part])
        return found

    def _draw_shifts(self, x: Array, weights: Array, warmth: Array) -> Array:
        counts = self._counts(x, weights)
        counts[1] *= self.sign
        row, column = _pairs(x.shape[1])
        counted = np.stack([one[:, row, column] + one[:, column, row] for one in counts], axis=-1)
        both = np.stack([counted, warmth[:, None, None] * counted], axis=-1)
        flat = both.reshape(len(x), 1, -1) @ self._deviations(len(counts))
        return np.asarray(flat[:, 0, :])

    def _deviations(self, kinds: int) -> Array:
        """What each draw adds (blends, pairs times kinds times level or slope, draws); kept where
        one list of components stands for all blends, as it is asked for again and again."""
        if kinds in self._kept:
            return self._kept[kinds]
        row, column = _pairs(self.number.shape[1])
        some = self.learned.deviations[self.number[:, row, column], :kinds]
        found = some.reshape(len(some), -1, self.learned.draws)
        if len(found) > 1 or found.size > MOST_NUMBERS_KEPT:
            return np.asarray(found)
        kept = self._kept[kinds] = found.astype(float)
        return kept

    @cached_property
    def _kept(self) -> dict[int, Array]:
        return {}

    def _counts(self, x: Array, weights: Array) -> list[Array]:
        """d(sum_i weights_i ln gamma_i) by each coefficient (blends, components, components), of c,
        d, a and, where there is water, t and u; of the last three by half the sum of both
        orders."""
        size, hydroxylic, oil, water = np.moveaxis(self.marks, -1, 0)
        amount = x * size
        phi = amount / amount.sum(axis=1, keepdims=True)
        own = weights * size
        likeness = self.mean[..., LIKENESS]

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
        found = [
            own_phi - 0.5 * total * phi_phi,
            outer(own * psi + phi * alike, phi)
            - outer(own, phi * psi)
            - 2.0 * total * outer(phi * psi, phi),
            screen * own_phi
            + 0.5 * phi_phi * (total * (drop * bonded - screen) - drop * along(own, hydroxylic)),
        ]
        w = along(phi, water)
        if w.any():
            g = along(phi, oil)
            found.append(w * own_phi + 0.5 * phi_phi * (along(own, water) - 2.0 * total * w))
            found.append(
                w * g * own_phi
                + 0.5
                * phi_phi
                * (along(own, water) * g + w * along(own, oil) - 3.0 * total * w * g)
            )
        return found
