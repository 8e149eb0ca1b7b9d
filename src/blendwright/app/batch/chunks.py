"""A chunk: a few thousand formulas that are read, computed and written together.

A chunk is all that a worker is sent and all that a kill can cost. `weighed` gives what its formulas
weigh, and why others were refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import pyarrow as pa

from blendwright.app.batch.row_cache import Refused, RowCache, refused
from blendwright.app.batch.weighed import Weighed
from blendwright.errors import FormulaError
from blendwright.formula import Formula, read_formula_bytes
from blendwright.mixture.weighing import Weighing

CHUNK_SIZE = 2000  # formulas: the array kernels are quickest at 500 to 2,000 (DESIGN)


class Chunk(Protocol):
    """`number` counts chunks from 1, `first` formulas from 1; `share` of the input ends with it."""

    @property
    def number(self) -> int: ...
    @property
    def first(self) -> int: ...
    @property
    def count(self) -> int: ...
    @property
    def share(self) -> float | None: ...
    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed: ...
    def varied(self) -> pa.Table | None: ...


@dataclass(frozen=True)
class FormulasChunk:
    """Formulas that were read already."""

    number: int
    first: int
    formulas: tuple[Formula, ...]
    share: float | None = None

    @property
    def count(self) -> int:
        return len(self.formulas)

    def varied(self) -> None:
        return None

    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed:
        return Weighed.of([(f.name, _weighed(f, row_cache, batch_g)) for f in self.formulas])


@dataclass(frozen=True)
class FilesChunk:
    """Formula files as (name, bytes): a worker needs no shared folder."""

    number: int
    first: int
    files: tuple[tuple[str, bytes], ...]
    share: float | None = None

    @property
    def count(self) -> int:
        return len(self.files)

    def varied(self) -> None:
        return None

    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed:
        made: list[tuple[str, Weighing | Refused]] = []
        for name, data in self.files:
            try:
                formula = read_formula_bytes(data, name)
                if formula.batch_g is None and batch_g is not None:
                    formula = read_formula_bytes(data, name, batch_g)
            except FormulaError as error:
                made.append((name, refused(error)))
            else:
                made.append((name, _weighed(formula, row_cache, batch_g)))
        return Weighed.of(made)


def _weighed(formula: Formula, row_cache: RowCache, batch_g: float | None) -> Weighing | Refused:
    if formula.batch_g is None and batch_g is not None:
        formula = replace(formula, batch_g=batch_g)
    try:
        return row_cache.weigh(formula)
    except FormulaError as error:
        return refused(error)


def formula_chunks(formulas: Sequence[Formula], size: int = CHUNK_SIZE) -> list[FormulasChunk]:
    """Formulas cut into chunks."""
    return [
        FormulasChunk(start // size + 1, start + 1, tuple(formulas[start : start + size]))
        for start in range(0, len(formulas), size)
    ]
