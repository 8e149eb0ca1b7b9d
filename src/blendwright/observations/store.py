"""The person's observations in one SQLite file on this machine.

Kept in the user's data folder unless another file is named (`database` says how). A file that can't
be read, is damaged, is something else or was written by a newer version raises ObservationsError in
plain words.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

from blendwright.errors import BlendwrightError
from blendwright.observations.database import (
    ForeignFileError,
    NewerFileError,
    StoreLayout,
    reading,
    writing,
)
from blendwright.observations.observation import KINDS, MeasuredBlend, Observation

OWN_FILE = "observations.sqlite"
_FIRST = """
CREATE TABLE observation (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    question TEXT NOT NULL,
    value REAL NOT NULL,
    half_width REAL NOT NULL,
    seen_on TEXT NOT NULL,
    temperature_K REAL,
    pressure_Pa REAL NOT NULL,
    formula TEXT NOT NULL,
    note TEXT NOT NULL,
    blend TEXT NOT NULL
)
"""
LAYOUT = StoreLayout(
    application_id=0x626C7772,  # "blwr"
    steps=((_FIRST,),),
    pragmas=("secure_delete = ON",),  # what is forgotten is overwritten
)
_COLUMNS = (
    "id, question, value, half_width, seen_on, temperature_K, pressure_Pa, formula, note, blend"
)


class ObservationsError(BlendwrightError):
    """The file of observations can't be used; the text says why and what to do."""


def own_observations() -> Path:
    """Where the observations are kept unless another file is named."""
    from platformdirs import user_data_path

    return user_data_path("blendwright", appauthor=False) / OWN_FILE


def read_observations(path: str | Path) -> tuple[Observation, ...]:
    """Read all observations that a person keeps.

    Parameters
    ----------
    path : str or Path
        The file of observations.

    Returns
    -------
    tuple of Observation
        Oldest first; none where there is no file.

    Raises
    ------
    ObservationsError
        For a file that can't be read.
    """
    path = Path(path)
    if not path.exists():
        return ()
    with _speaking_of(path), reading(path, LAYOUT) as connection:
        if connection is None:
            return ()
        rows = connection.execute(f"SELECT {_COLUMNS} FROM observation ORDER BY id").fetchall()
        return tuple(_observation(row, path) for row in rows)


def keep(path: str | Path, made: Sequence[Observation]) -> tuple[Observation, ...]:
    """Add observations, all or none; returns them with their ids. Raises ObservationsError."""
    with _writing(Path(path)) as connection:
        return tuple(replace(one, id=_insert(connection, one)) for one in made)


def forget(path: str | Path, ids: Sequence[int]) -> int:
    """Delete these observations, all or none, and say how many. Raises ObservationsError for an id
    that isn't there."""
    path = Path(path)
    if not path.exists():
        raise ObservationsError(f"{path}: no observations are kept there")
    with _writing(path) as connection:
        there = {row[0] for row in connection.execute("SELECT id FROM observation")}
        missing = [str(one) for one in dict.fromkeys(ids) if one not in there]
        if missing:
            raise ObservationsError(
                f"no observation {', '.join(missing)}; 'blendwright observations list' shows them. "
                "Nothing was forgotten"
            )
        for one in set(ids):
            connection.execute("DELETE FROM observation WHERE id = ?", (one,))
        return len(set(ids))


def forget_all(path: str | Path) -> int:
    """Delete every observation, and say how many there were. Raises ObservationsError."""
    path = Path(path)
    if not path.exists():
        return 0
    with _writing(path) as connection:
        return int(connection.execute("DELETE FROM observation").rowcount)


def _insert(connection: sqlite3.Connection, one: Observation) -> int:
    blend = {"mass_fractions": dict(one.blend.shares), "liquid_as_sold": one.blend.liquid_as_sold}
    cursor = connection.execute(
        "INSERT INTO observation (question, value, half_width, seen_on, temperature_K, "
        "pressure_Pa, formula, note, blend) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            one.question,
            one.value,
            one.half_width,
            one.seen_on.isoformat(),
            one.temperature_K,
            one.pressure_Pa,
            one.formula,
            one.note,
            json.dumps(blend, ensure_ascii=False, allow_nan=False),
        ),
    )
    assert cursor.lastrowid is not None
    return cursor.lastrowid


def _observation(row: Sequence[object], path: Path) -> Observation:
    number, question, value, half, seen_on, temperature_K, pressure_Pa, formula, note, blend = row
    try:
        made = json.loads(str(blend))
        shares = tuple((str(name), float(w)) for name, w in made["mass_fractions"].items())
        numbers = [float(str(n)) for n in (value, half, pressure_Pa)]
        at_K = None if temperature_K is None else float(str(temperature_K))
        kind = KINDS[str(question)]
        positive = numbers[1] > 0.0 and all(w > 0.0 for _, w in shares)
        if not (shares and positive and kind.low <= numbers[0] <= kind.high):
            raise ValueError("a value out of range")
        if not all(math.isfinite(n) for n in (*numbers, *(w for _, w in shares), at_K or 0.0)):
            raise ValueError("a value that is no number")
        return Observation(
            question=kind.question,
            value=numbers[0],
            half_width=numbers[1],
            seen_on=date.fromisoformat(str(seen_on)),
            blend=MeasuredBlend(shares, tuple(map(str, made["liquid_as_sold"]))),
            formula=str(formula),
            pressure_Pa=numbers[2],
            temperature_K=at_K,
            note=str(note),
            id=int(str(number)),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ObservationsError(
            f"{path}: observation {number} can't be read ({error}); "
            f"forget it with 'blendwright observations forget {number}'"
        ) from None


@contextmanager
def _writing(path: Path) -> Iterator[sqlite3.Connection]:
    with _speaking_of(path), writing(path, LAYOUT) as connection:
        yield connection


@contextmanager
def _speaking_of(path: Path) -> Iterator[None]:
    """Turn the system's and SQLite's errors into plain words."""
    if path.is_dir():
        raise ObservationsError(f"{path} is a folder; name a file of observations in it")
    try:
        yield
    except ForeignFileError as error:
        raise ObservationsError(str(error)) from None
    except NewerFileError as error:
        raise ObservationsError(f"{error}, or leave them out with --no-observations") from None
    except sqlite3.OperationalError as error:
        busy = "locked" in str(error)
        why = "another program is writing to it" if busy else str(error)
        raise ObservationsError(
            f"{path}: the file of observations can't be used ({why}); "
            + ("try again" if busy else "check its folder and rights")
        ) from None
    except sqlite3.DatabaseError as error:
        raise ObservationsError(
            f"{path}: the file of observations is damaged or is something else ({error}); move it "
            "away or restore a copy, or leave them out with --no-observations"
        ) from None
    except OSError as error:
        raise ObservationsError(
            f"{path}: the file of observations can't be used ({error.strerror}); "
            "check its folder and rights"
        ) from None
