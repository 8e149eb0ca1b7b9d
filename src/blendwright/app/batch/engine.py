"""The one place where a batch asks for numbers, and how it outlives a blend that breaks them.

The engine is swapped here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from blendwright.app.batch.answer_table import block_columns
from blendwright.app.batch.observed import Observed
from blendwright.app.batch.weighed import Weighed
from blendwright.mixture import machine
from blendwright.pure.roots import Ints

Columns = dict[str, np.ndarray[Any, Any]]
Answered = Callable[[int], None]  # is told how many more formulas are answered

WHILE_COMPILING = 10  # formulas at first, in NumPy: a second or so; each time twice as many


def told_nobody(_: int) -> None:
    """Where nobody watches."""


@dataclass(eq=False)
class Computed:
    """Columns of the blends at places `at`; `broken` are (place, what happened)."""

    columns: Columns = field(default_factory=dict)
    at: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    broken: list[tuple[int, str]] = field(default_factory=list)


def computed(
    weighed: Weighed,
    temperature_K: float,
    pressure_Pa: float,
    only: Sequence[str],
    observed: Observed | None = None,
    answered: Answered = told_nobody,
) -> Computed:
    """All columns. A blend that raises is cut out by halving; the others get their answers. Those
    that the person's own observations reach get them with these counted in.

    Where machine code is still being compiled a few are answered at a time, until it is there.
    """
    wanted = frozenset(only)
    together = WHILE_COMPILING
    found: list[tuple[Ints, Columns]] = []
    broken: list[tuple[int, str]] = []

    places = weighed.places
    open_ = [(0, len(places))] if len(places) else []
    while open_:
        first, last = open_.pop()
        machine.prepare()
        if machine.is_awaited() and last - first > together:
            open_ += [(first + together, last), (first, first + together)]
            together *= 2
            continue
        try:
            block = weighed.block(places[first:last])
            made = block_columns(block, temperature_K, pressure_Pa, wanted)
        except Exception as error:  # whatever it is, it must cost one row and not the run
            if last - first == 1:
                broken.append((int(places[first]), f"{type(error).__name__}: {error}"))
                continue
            middle = (first + last) // 2
            open_ += [(middle, last), (first, middle)]
        else:
            found.append((places[first:last], made))
            answered(last - first)
    if not found:
        return Computed(broken=broken)
    names = found[0][1]
    joined = {name: np.concatenate([made[name] for _, made in found]) for name in names}
    at = np.concatenate([there for there, _ in found])
    lost: list[int] = []
    for number, place in enumerate(at.tolist() if observed is not None else ()):
        assert observed is not None
        weighing = weighed.weighing(place)
        if not observed.reaches(weighing):
            continue
        try:
            row = observed.columns(weighing, temperature_K, pressure_Pa, only)
        except Exception as error:  # as above
            lost.append(number)
            broken.append((place, f"{type(error).__name__}: {error}"))
            continue
        for name, value in row.items():
            joined[name][number] = value
    kept = {name: np.delete(values, lost) for name, values in joined.items()} if lost else joined
    return Computed(kept, np.delete(at, lost), broken)
