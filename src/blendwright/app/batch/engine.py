"""The one place where a batch asks for numbers, and how it outlives a blend that breaks them.

The engine is swapped here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from blendwright.app.batch.answer_table import columns
from blendwright.app.batch.observed import Observed
from blendwright.mixture import machine
from blendwright.mixture.weighing import Weighing

Columns = dict[str, np.ndarray[Any, Any]]
Answered = Callable[[int], None]  # is told how many more formulas are answered

WHILE_COMPILING = 10  # formulas at first, in NumPy: a second or so; each time twice as many


def told_nobody(_: int) -> None:
    """Where nobody watches."""


@dataclass
class Computed:
    """Columns of the blends at places `at`; `broken` are (place, what happened)."""

    columns: Columns = field(default_factory=dict)
    at: list[int] = field(default_factory=list)
    broken: list[tuple[int, str]] = field(default_factory=list)


def computed(
    weighings: Sequence[Weighing],
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
    found: list[tuple[list[int], Columns]] = []
    broken: list[tuple[int, str]] = []

    open_ = [(0, len(weighings))] if weighings else []
    while open_:
        first, last = open_.pop()
        machine.prepare()
        if machine.is_awaited() and last - first > together:
            open_ += [(first + together, last), (first, first + together)]
            together *= 2
            continue
        try:
            made = columns(weighings[first:last], temperature_K, pressure_Pa, wanted)
        except Exception as error:  # whatever it is, it must cost one row and not the run
            if last - first == 1:
                broken.append((first, f"{type(error).__name__}: {error}"))
                continue
            middle = (first + last) // 2
            open_ += [(middle, last), (first, middle)]
        else:
            found.append((list(range(first, last)), made))
            answered(last - first)
    if not found:
        return Computed(broken=broken)
    names = found[0][1]
    joined = {name: np.concatenate([made[name] for _, made in found]) for name in names}
    at = [place for places, _ in found for place in places]
    lost = []
    for number, place in enumerate(at):
        if observed is None or not observed.reaches(weighings[place]):
            continue
        try:
            row = observed.columns(weighings[place], temperature_K, pressure_Pa, only)
        except Exception as error:  # as above
            lost.append(number)
            broken.append((place, f"{type(error).__name__}: {error}"))
            continue
        for name, value in row.items():
            joined[name][number] = value
    kept = {name: np.delete(values, lost) for name, values in joined.items()}
    return Computed(kept, [place for n, place in enumerate(at) if n not in lost], broken)
