"""Write down what the bench saw of the formula, in a slow hand: checked, then kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from blendwright.app.web.answers import Asked, formula_of
from blendwright.app.web.jobs import weighing_of
from blendwright.observations.observation import (
    Circumstances,
    Observation,
    Typed,
    measured_blend,
    observations_of,
)
from blendwright.observations.store import forget, keep, read_observations


@dataclass(frozen=True)
class Note:
    """What was seen, of the formula on the bench, in the units of `blendwright observe`."""

    typed: Typed
    seen_on: date
    words: str = ""


def note_down(asked: Asked, note: Note, file: str) -> Observation:
    """Keep one observation. Raises FormulaError, ObservationsError."""
    about = Circumstances(
        measured_blend(weighing_of(asked).composition),
        formula_of(asked).name,
        note.seen_on,
        asked.pressure_Pa,
        note.words,
    )
    return keep(file, observations_of([note.typed], about))[0]


def take_back(file: str, number: int) -> int:
    """Delete one observation. Raises ObservationsError."""
    return forget(file, [number])


def kept(file: Path) -> tuple[Observation, ...]:
    """All observations, the latest first. Raises ObservationsError."""
    return tuple(reversed(read_observations(file)))
