"""What the formulas of a chunk weigh: the rows of all of them as arrays, and what was refused.

A formula that was read as a row of arrays becomes an object only where somebody asks for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pyarrow as pa

from blendwright.app.batch.row_cache import Refused
from blendwright.formula import Formula
from blendwright.formula.notices import Notice
from blendwright.mixture.block import Block, BlockRows
from blendwright.mixture.weighing import Weighing, compose_rows
from blendwright.pure.roots import Ints

NO_ROWS = BlockRows((), np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))


@dataclass(frozen=True, eq=False)
class Weighed:
    """The ids of a chunk's formulas and the rows of those that could be weighed, by their places
    in the chunk.

    `each` are formulas that were weighed one by one, or refused. `told` are notices of reading;
    `told_of` numbers those of each formula.
    """

    ids: pa.Array
    rows: BlockRows
    each: Mapping[int, Weighing | Refused]
    told: Sequence[tuple[Notice, ...]]
    told_of: Ints

    @classmethod
    def of(cls, found: Sequence[tuple[str, Weighing | Refused]]) -> Weighed:
        """Formulas that were all weighed one by one."""
        ids = pa.array([name for name, _ in found], pa.string())
        each = {place: one for place, (_, one) in enumerate(found)}
        return cls.joined(ids, NO_ROWS, each, [()], np.zeros(len(found), np.int64))

    @classmethod
    def joined(
        cls,
        ids: pa.Array,
        rows: BlockRows,
        each: Mapping[int, Weighing | Refused],
        told: Sequence[tuple[Notice, ...]],
        told_of: Ints,
    ) -> Weighed:
        """Formulas that are rows of arrays, and the others, weighed one by one."""
        weighings = {place: one for place, one in each.items() if isinstance(one, Weighing)}
        if weighings:
            places = np.array(list(weighings))
            rows = rows.and_of(BlockRows.of(list(weighings.values())).at(places))
            told_of = told_of.copy()
            told_of[places] = len(told) + np.arange(len(places))
            told = [*told, *(one.formula.notices for one in weighings.values())]
        return cls(ids, rows, each, told, told_of)

    def __len__(self) -> int:
        return len(self.ids)

    def __getitem__(self, place: int) -> tuple[str, Weighing | Refused]:
        """A formula's id, and what it weighs or why it was refused."""
        name = self.ids[place].as_py()  # raises IndexError beyond the last
        return name, self.refused.get(place) or self.weighing(place)

    @cached_property
    def refused(self) -> dict[int, Refused]:
        return {place: one for place, one in self.each.items() if isinstance(one, Refused)}

    @cached_property
    def places(self) -> Ints:
        """Where the formulas stand that could be weighed."""
        here = np.ones(len(self), dtype=bool)
        here[list(self.refused)] = False
        return np.flatnonzero(here)

    def weighing(self, place: int) -> Weighing:
        """One formula as `weigh` would have it; its own rows are kept only if it was weighed
        alone."""
        alone = self.each.get(place)
        if isinstance(alone, Weighing):
            return alone
        begin, end = np.searchsorted(self.rows.blend, [place, place + 1])
        rows = [
            replace(self.rows.templates[self.rows.template[n]], grams=float(self.rows.grams[n]))
            for n in range(begin, end)
        ]
        formula = Formula(self.ids[place].as_py(), (), notices=self.told[self.told_of[place]])
        return Weighing(formula, tuple(rows), compose_rows(rows), ())

    def block(self, places: Ints) -> Block:
        """A run of `places` as a block."""
        begin, end = np.searchsorted(self.rows.blend, [places[0], places[-1] + 1])
        rows = self.rows.between(begin, end)
        blend = np.searchsorted(places, rows.blend)
        made = Block(rows.templates, blend, rows.template, rows.grams, len(places))
        twins = [n for n, one in self.each.items() if isinstance(one, Weighing) and one.summed]
        made.summed = np.isin(places, twins)
        return made
