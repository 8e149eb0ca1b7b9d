"""A blend as arrays: which substances, how much of each, and which row of the formula they are.

Natural oils and mixtures are opened into their constituents, so one row may feed several
substances and one substance may come from several rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from blendwright.catalogue.material import Material
from blendwright.mixture.excess.measurement import Shift
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Pairs, Part
from blendwright.mixture.substances import Made, Substances, made_once
from blendwright.pure.constants import PureConstants, pure_constants


@dataclass(frozen=True, eq=False)
class Composition:
    """Substances with their masses. `by_row` is rows x substances, kg.

    `liquid_as_sold` names substances that come only inside a liquid mixture whose other parts keep
    them liquid: they are not counted as crystals. `shifts` is what the person's own measurements of
    blends do to the liquid model.
    """

    substances: tuple[PureConstants, ...]
    by_row: Array
    liquid_as_sold: frozenset[str] = frozenset()
    shifts: tuple[Shift, ...] = ()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Composition):
            return NotImplemented
        return (
            self.substances == other.substances
            and self.liquid_as_sold == other.liquid_as_sold
            and self.shifts == other.shifts
            and np.array_equal(self.by_row, other.by_row)
        )

    def __hash__(self) -> int:
        return hash((self.names, tuple(self.by_row.ravel().tolist()), self.liquid_as_sold))

    @cached_property
    def mass_kg(self) -> Array:
        return np.asarray(self.by_row.sum(axis=0))

    @cached_property
    def molar_mass_kg_mol(self) -> Array:
        return np.array([s.material.molar_mass_kg_mol for s in self.substances])

    @cached_property
    def moles(self) -> Array:
        return np.asarray(self.mass_kg / self.molar_mass_kg_mol)

    @cached_property
    def mass_fractions(self) -> Array:
        return np.asarray(self.mass_kg / self.mass_kg.sum())

    @cached_property
    def mole_fractions(self) -> Array:
        return np.asarray(self.moles / self.moles.sum())

    @cached_property
    def table(self) -> Substances:
        """The constants of its substances, as the engine takes them."""
        return Substances.of(self.substances, self.shifts)

    @cached_property
    def part(self) -> Part:
        """It as a part of one blend, as the engine takes it."""
        count = len(self.substances)
        as_sold = np.array([name in self.liquid_as_sold for name in self.names], dtype=bool)
        every = np.arange(count)
        return Part(
            np.zeros(1, dtype=np.int64),
            every[None],
            self.mass_kg[None],
            self.moles[None],
            as_sold[None],
            every[None],
        )

    @cached_property
    def pairs(self) -> Pairs:
        """It as pairs of a blend and a substance."""
        every = np.arange(len(self.substances))
        return Pairs(self.table, 1, np.zeros(len(every), dtype=np.int64), every, self.mass_kg)

    @cached_property
    def is_covered(self) -> bool:
        """Whether the liquid model covers it: there is something, and all of it has groups."""
        return bool(self.substances) and bool(self.table.has_groups.all())

    @cached_property
    def _known(self) -> dict[object, object]:
        return {}

    def once(self, key: object, make: Callable[[], Made]) -> Made:
        """What several answers share, made when first asked for."""
        return made_once(self._known, key, make)

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(s.name for s in self.substances)

    def row_shares(self, per_substance: Array) -> Array:
        """Split an amount of each substance over the rows that brought it, by mass."""
        share = self.by_row / self.mass_kg
        return np.asarray(share @ per_substance)

    def times(self, factors: Array) -> Composition:
        """The blend with each substance's amount multiplied; what comes to zero is dropped."""
        mask = np.asarray(factors) > 0.0
        kept = tuple(s for s, k in zip(self.substances, mask, strict=True) if k)
        by_row = self.by_row[:, mask] * np.asarray(factors)[mask]
        return Composition(kept, by_row, self.liquid_as_sold, self.shifts)

    def given(self, shifts: tuple[Shift, ...]) -> Composition:
        """This blend, with what measurements of blends do to the liquid model."""
        return replace(self, shifts=shifts) if shifts else self

    def only(self, keep: Callable[[PureConstants], bool]) -> Composition:
        """The blend without the substances that fail the test."""
        mask = np.array([keep(s) for s in self.substances], dtype=bool)
        kept = tuple(s for s, k in zip(self.substances, mask, strict=True) if k)
        return Composition(kept, self.by_row[:, mask], self.liquid_as_sold, self.shifts)


def substances_of(
    material: Material, find: Callable[[str], Material]
) -> list[tuple[Material, float]]:
    """A material opened into substances with mass fractions that sum to 1."""
    if not material.constituents:
        return [(material, 1.0)]
    total = sum(c.typical for c in material.constituents)
    return [
        (inner, fraction * c.typical / total)
        for c in material.constituents
        for inner, fraction in substances_of(find(c.material), find)
    ]


def compose(
    parts: Sequence[tuple[Material, float, int]],
    liquid_as_sold: frozenset[str] = frozenset(),
) -> Composition:
    """Gather (substance, mass_kg, row) parts into a composition; amounts of zero are dropped."""
    order: dict[str, Material] = {}
    rows = 1 + max((row for _, _, row in parts), default=0)
    for material, mass_kg, _ in parts:
        if mass_kg > 0.0:
            order.setdefault(material.name, material)
    index = {name: i for i, name in enumerate(order)}
    by_row = np.zeros((rows, len(order)))
    for material, mass_kg, row in parts:
        if mass_kg > 0.0:
            by_row[row, index[material.name]] += mass_kg
    return Composition(tuple(pure_constants(m) for m in order.values()), by_row, liquid_as_sold)
