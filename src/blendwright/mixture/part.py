"""Compositions of a like number of substances as arrays: what the engine works on.

A part is a part of a block of blends, not of a blend. Each row is a blend, padded to the longest of
them; one blend is a part of one row.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.rows import Picked, is_all, picked
from blendwright.mixture.substances import Substances
from blendwright.pure.roots import Bools, Ints


@dataclass(frozen=True, eq=False)
class Pairs:
    """Blends as pairs of a blend and one of its substances, by number: what sums over all of a
    blend are made of."""

    substances: Substances
    size: int
    blend: Ints
    substance: Ints
    kg: Array

    @cached_property
    def kept(self) -> dict[object, object]:
        """What several questions about its blends share."""
        return {}

    def per_blend(self, values: NDArray[Any]) -> Array:
        """The sum over each blend's substances."""
        found = np.bincount(self.blend, weights=values, minlength=self.size)
        return found.astype(float)

    @cached_property
    def mass_kg(self) -> Array:
        return self.per_blend(self.kg)

    @cached_property
    def mass_share(self) -> Array:
        return np.asarray(self.kg / self.mass_kg[self.blend])

    def amount_of(self, number: int, values: Array) -> Array:
        """One substance's value in every blend; zero where it is not."""
        return self.per_blend(values * (self.substance == number))


@dataclass(frozen=True, eq=False)
class Part:
    """Blends of a like number of substances, padded: arrays are (blends, substances).

    `blends` are their numbers in the block, `index` their substances' numbers, `x` mole fractions
    (zero in the padding), `as_sold` what comes only inside liquid mixtures. `origin` is the part
    that these are some blends of, and their rows there, -1 where an amount has changed.
    """

    blends: Ints
    index: Ints
    mass_kg: Array
    moles: Array
    as_sold: Bools
    pair: Ints  # where each component stands among the block's pairs
    whole: tuple[Part, Ints] | None = None

    @cached_property
    def there(self) -> Bools:
        return np.asarray(self.mass_kg > 0.0)

    @cached_property
    def x(self) -> Array:
        return np.asarray(self.moles / self.moles.sum(axis=1, keepdims=True))

    @property
    def origin(self) -> tuple[Part, Ints]:
        return (self, np.arange(len(self))) if self.whole is None else self.whole

    @cached_property
    def kept(self) -> dict[object, object]:
        """What several questions about its blends share."""
        return {}

    def __len__(self) -> int:
        return len(self.blends)

    def only(self, keep: Picked) -> Part:
        """Some of its blends."""
        if is_all(keep, len(self)):
            return self
        whole, rows = self.origin
        made = Part(
            picked(self.blends, keep),
            picked(self.index, keep),
            picked(self.mass_kg, keep),
            picked(self.moles, keep),
            picked(self.as_sold, keep),
            picked(self.pair, keep),
            (whole, picked(rows, keep)),
        )
        for known in ("x", "there"):
            if known in self.__dict__:
                made.__dict__[known] = picked(self.__dict__[known], keep)
        return made

    def times(self, factors: Array) -> Part:
        """With each substance's amount multiplied."""
        whole, rows = self.origin
        rows = np.where((factors == 1.0).all(axis=1), rows, -1)
        mass, moles = self.mass_kg * factors, self.moles * factors
        return replace(self, mass_kg=mass, moles=moles, whole=(whole, rows))
