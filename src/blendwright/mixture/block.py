"""From rows of many formulas to arrays: a block of blends, and its parts.

rows (blend, material, grams) -> pairs (blend, substance, kg) -> parts: blends of a like number
of substances, padded to the longest, without what has no groups
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.formula import Formula
from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Pairs, Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.weighing import WeighedRow, Weighing, compose_rows
from blendwright.pure.constants import pure_constants
from blendwright.pure.roots import Bools, Ints

LARGEST_PART = 4096  # blends; the steps that only a few of them need are shared by all
# The longest blend of a part. A blend is padded to the same length whatever others there are, so
# that its sums, and the last digits of its answers, are the same in any block.
LENGTHS = (1, 2, 3, 4, 6, 8, 10, 13, 16, 20, 26, 33, 42, 54, 69, 88)
LENGTH_STEP = 32  # beyond these


def _length(count: int) -> int:
    """To how many substances a blend of so many is padded."""
    longest = next((length for length in LENGTHS if length >= count), None)
    return longest or -(-count // LENGTH_STEP) * LENGTH_STEP


@dataclass(frozen=True, eq=False)
class BlockRows:
    """Row k is `grams[k]` of `templates[template[k]]` in blend `blend[k]`; blends in order."""

    templates: Sequence[WeighedRow]
    blend: Ints
    template: Ints
    grams: Array

    @classmethod
    def of(cls, weighings: Sequence[Weighing]) -> BlockRows:
        """The rows of weighed formulas, each distinct one a template."""
        numbers: dict[tuple[object, ...], int] = {}
        templates: list[WeighedRow] = []
        blend: list[int] = []
        template: list[int] = []
        grams: list[float] = []
        for number, weighing in enumerate(weighings):
            for row in weighing.rows:
                key = (id(row.material), row.strength, id(row.carrier), len(row.substances))
                known = numbers.get(key)
                if known is None:
                    known = numbers[key] = len(templates)
                    templates.append(row)
                blend.append(number)
                template.append(known)
                grams.append(row.grams)
        return cls(
            templates,
            np.array(blend, dtype=np.int64),
            np.array(template, dtype=np.int64),
            np.array(grams, dtype=float),
        )

    def at(self, blends: Ints) -> BlockRows:
        """With these numbers for its blends 0, 1, 2, ..."""
        return replace(self, blend=blends[self.blend])

    def and_of(self, other: BlockRows) -> BlockRows:
        """With the rows of other blends."""
        blend = np.concatenate([self.blend, other.blend])
        order = np.argsort(blend, kind="stable")
        template = np.concatenate([self.template, other.template + len(self.templates)])
        grams = np.concatenate([self.grams, other.grams])
        templates = (*self.templates, *other.templates)
        return BlockRows(templates, blend[order], template[order], grams[order])

    def between(self, first: int, last: int) -> BlockRows:
        """These rows, with the templates that they need in the order in which they come."""
        rows = slice(first, last)
        used, begin, number = np.unique(self.template[rows], return_index=True, return_inverse=True)
        order = np.argsort(begin)
        templates = [self.templates[used[n]] for n in order]
        return BlockRows(templates, self.blend[rows], np.argsort(order)[number], self.grams[rows])


class Block:
    """Rows of many blends. `row_*` are per row, `pair_*` per blend and substance, in order."""

    def __init__(
        self,
        templates: Sequence[WeighedRow],
        row_blend: Ints,
        row_template: Ints,
        row_grams: Array,
        size: int,
        order: Sequence[str] = (),
    ) -> None:
        by_blend = np.argsort(row_blend, kind="stable")
        self.templates = tuple(templates)
        self.size = size
        self.row_blend = row_blend[by_blend]
        self.row_template = row_template[by_blend]
        self.row_grams = row_grams[by_blend]
        self.summed = np.zeros(size, dtype=bool)
        self._weighings: Sequence[Weighing] | None = None
        self._liquid: Composition | None = None
        self._open_rows(order)

    @classmethod
    def from_weighings(cls, weighings: Sequence[Weighing]) -> Block:
        rows = BlockRows.of(weighings)
        made = cls(rows.templates, rows.blend, rows.template, rows.grams, len(weighings))
        made.summed = np.array([bool(w.summed) for w in weighings], dtype=bool)
        made._weighings = weighings
        return made

    @classmethod
    def of_one(cls, weighing: Weighing, liquid: Composition) -> Block:
        """One formula, its substances in the order in which it has them. Where nothing in it lacks
        groups its part is that of `liquid`, so that what is found of the one is known of both."""
        rows = BlockRows.of([weighing])
        names = weighing.composition.names
        made = cls(rows.templates, rows.blend, rows.template, rows.grams, 1, names)
        made.summed[:] = bool(weighing.summed)
        made._weighings = [weighing]
        made.substances = made.substances.given(liquid.shifts)
        made._liquid = liquid if names and liquid.names == names else None
        return made

    @classmethod
    def from_long(
        cls,
        formula_index: Ints,
        material_index: Ints,
        grams: Array,
        templates: Sequence[WeighedRow],
    ) -> Block:
        """A long table: row k is `grams[k]` of `templates[material_index[k]]` in formula
        `formula_index[k]` (0, 1, 2, ...). Rows of one template in a formula are added up; every
        formula must weigh something."""
        formula_index, material_index = np.asarray(formula_index), np.asarray(material_index)
        key = formula_index.astype(np.int64) * len(templates) + material_index
        distinct, first, back, count = np.unique(
            key, return_index=True, return_inverse=True, return_counts=True
        )
        total = np.bincount(back, weights=grams, minlength=len(distinct))
        order = np.argsort(first)  # in the order written
        order = order[total[order] > 0.0]
        size = int(formula_index.max()) + 1 if len(formula_index) else 0
        made = cls(
            templates, distinct[order] // len(templates), distinct[order] % len(templates),
            total[order].astype(float), size,
        )  # fmt: skip
        made.summed = np.bincount(distinct // len(templates), weights=count > 1, minlength=size) > 0
        return made

    def _open_rows(self, order: Sequence[str]) -> None:
        """Rows into substances: pairs of blend and substance, each once.

        Substances stand in a given order, others behind them in the order of their names, so that a
        blend's sums don't hang on what other blends there are.
        """
        opened = {id(m): m for template in self.templates for m, _ in template.substances}
        rank = {name: number for number, name in enumerate(order)}
        materials = sorted(opened.values(), key=lambda m: (rank.get(m.name, len(rank)), m.name))
        position = {id(material): number for number, material in enumerate(materials)}
        lists = [
            [(position[id(material)], fraction) for material, fraction in template.substances]
            for template in self.templates
        ]
        self.substances = Substances.of(tuple(pure_constants(m) for m in materials))
        counts = np.array([len(own) for own in lists], dtype=np.int64)
        begins = np.concatenate([[0], np.cumsum(counts)])
        flat_sub = np.array([i for own in lists for i, _ in own], dtype=np.int64)
        flat_share = np.array([f for own in lists for _, f in own], dtype=float)
        per_row = counts[self.row_template]
        self.entry_row = np.repeat(np.arange(len(per_row)), per_row)
        within = np.arange(per_row.sum()) - np.repeat(np.cumsum(per_row) - per_row, per_row)
        place = begins[self.row_template[self.entry_row]] + within
        self.entry_kg = self.row_grams[self.entry_row] / 1e3 * flat_share[place]
        sub = flat_sub[place]
        key = self.row_blend[self.entry_row] * max(1, len(materials)) + sub
        distinct, self.entry_pair = np.unique(key, return_inverse=True)
        self.pair_blend = distinct // max(1, len(materials))
        self.pair_sub = distinct % max(1, len(materials))
        kg = np.bincount(self.entry_pair, weights=self.entry_kg, minlength=len(distinct))
        self.pair_kg = kg.astype(float)
        in_mixture = np.array([t.material.kind == "mixture" for t in self.templates], dtype=bool)
        alone = ~in_mixture[self.row_template[self.entry_row]]
        self.pair_liquid_as_sold = (
            np.bincount(self.entry_pair, weights=alone, minlength=len(distinct)) == 0
        )

    @cached_property
    def pairs(self) -> Pairs:
        return Pairs(self.substances, self.size, self.pair_blend, self.pair_sub, self.pair_kg)

    def per_blend(self, pair_values: NDArray[Any]) -> Array:
        """The sum over each blend's substances."""
        return self.pairs.per_blend(pair_values)

    @cached_property
    def mass_g(self) -> Array:
        grams = np.bincount(self.row_blend, weights=self.row_grams, minlength=self.size)
        return grams.astype(float)

    @property
    def pair_mass_share(self) -> Array:
        return self.pairs.mass_share

    def mass_share_of(self, which: Bools) -> Array:
        """Per blend, of the substances marked."""
        return self.per_blend(self.pair_mass_share * which[self.pair_sub])

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """All blends, each without what has no groups; those of nothing else are in no part."""
        if self._liquid is not None:
            return (self._liquid.part,)
        keep = self.substances.has_groups[self.pair_sub]
        blend, sub, kg = self.pair_blend[keep], self.pair_sub[keep], self.pair_kg[keep]
        as_sold, pair = self.pair_liquid_as_sold[keep], np.flatnonzero(keep)
        counts = np.bincount(blend, minlength=self.size)
        begins = np.concatenate([[0], np.cumsum(counts)])
        order = np.argsort(counts, kind="stable")
        order = order[counts[order] > 0]
        made = []
        start = 0
        while start < len(order):
            stop = min(start + LARGEST_PART, len(order))
            width = _length(int(counts[order[start]]))
            stop = start + int(np.searchsorted(counts[order[start:stop]], width, side="right"))
            blends = order[start:stop]
            slots = np.arange(width)
            there = slots < counts[blends][:, None]
            at = np.where(there, begins[blends][:, None] + slots, 0)
            mass = np.where(there, kg[at], 0.0)
            index = np.where(there, sub[at], sub[begins[blends]][:, None])
            moles = mass / self.substances.molar_mass_kg_mol[index]
            made.append(Part(blends, index, mass, moles, there & as_sold[at], pair[at]))
            start = stop
        return tuple(made)

    def weighing(self, number: int) -> Weighing:
        """One blend as `weigh` would give it, for the slow road."""
        if self._weighings is not None:
            return self._weighings[number]
        here = np.flatnonzero(self.row_blend == number)
        rows = [
            replace(self.templates[self.row_template[i]], grams=float(self.row_grams[i]))
            for i in here
        ]
        summed = ("rows",) if self.summed[number] else ()
        return Weighing(Formula(f"formula {number}", ()), tuple(rows), compose_rows(rows), summed)
