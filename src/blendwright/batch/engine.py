"""The one place where a batch asks for numbers, and how it outlives a blend that breaks them.

The engine is swapped here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from blendwright.batch.columns import columns
from blendwright.mixture import machine
from blendwright.weighing import Weighing

Columns = dict[str, np.ndarray[Any, Any]]


@dataclass
class Reckoned:
    """Columns of the blends at places `at`; `broken` are (place, what happened)."""

    columns: Columns = field(default_factory=dict)
    at: list[int] = field(default_factory=list)
    broken: list[tuple[int, str]] = field(default_factory=list)


def reckoned(
    weighings: Sequence[Weighing], temperature_K: float, pressure_Pa: float, only: Sequence[str]
) -> Reckoned:
    """All columns. A blend that raises is cut out by halving; the others get their answers."""
    asked = frozenset(only)
    machine.prepare()
    found: list[tuple[list[int], Columns]] = []
    broken: list[tuple[int, str]] = []

    open_ = [(0, len(weighings))] if weighings else []
    while open_:
        first, last = open_.pop()
        try:
            made = columns(weighings[first:last], temperature_K, pressure_Pa, asked)
        except Exception as error:  # whatever it is, it must cost one row and not the run
            if last - first == 1:
                broken.append((first, f"{type(error).__name__}: {error}"))
                continue
            middle = (first + last) // 2
            open_ += [(middle, last), (first, middle)]
        else:
            found.append((list(range(first, last)), made))
    if not found:
        return Reckoned(broken=broken)
    names = found[0][1]
    joined = {name: np.concatenate([made[name] for _, made in found]) for name in names}
    return Reckoned(joined, [place for places, _ in found for place in places], broken)
