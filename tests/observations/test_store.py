"""The file of observations: nothing lost, nobody else's, and plain words when it can't be used."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from blendwright.observations.observation import MeasuredBlend, Observation
from blendwright.observations.store import (
    LAYOUT,
    ObservationsError,
    forget,
    forget_all,
    keep,
    read_observations,
)

BLEND = MeasuredBlend((("ethyl butyrate", 0.16), ("propylene glycol", 0.84)), ("tricaprin",))


def seen(value: float = 314.15, note: str = "") -> Observation:
    return Observation(
        "flash_point", value, 6.0, date(2026, 11, 20), BLEND, "pear", 101325.0, None, note
    )


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return tmp_path / "folder" / "observations.sqlite"


def test_what_is_kept_is_read_back_to_the_last_digit(kept: Path) -> None:
    note = "l'été; \"quoted\"; '); DROP TABLE observation; --"
    made = keep(kept, [seen(1.0 / 3.0 + 300.0, note), seen()])
    assert read_observations(kept) == made
    assert [one.id for one in made] == [1, 2]


def test_no_file_is_no_observations_and_makes_none(kept: Path) -> None:
    assert read_observations(kept) == ()
    assert not kept.exists()


@pytest.mark.skipif(os.name != "posix", reason="modes are of POSIX systems")
def test_only_the_owner_can_read_it(kept: Path) -> None:
    keep(kept, [seen()])
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    kept.chmod(0o644)
    keep(kept, [seen()])
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


def test_all_or_none_are_kept(kept: Path) -> None:
    keep(kept, [seen()])
    bad = Observation("flash_point", None, 6.0, date(2026, 11, 20), BLEND, "", 1e5)  # type: ignore[arg-type]
    with pytest.raises(ObservationsError):
        keep(kept, [seen(), bad])
    assert len(read_observations(kept)) == 1


def test_forgetting_takes_all_named_or_none_and_numbers_are_not_used_again(kept: Path) -> None:
    keep(kept, [seen(), seen(), seen()])
    with pytest.raises(ObservationsError, match="no observation 9"):
        forget(kept, [1, 9])
    assert len(read_observations(kept)) == 3
    assert forget(kept, [1, 3, 3]) == 2
    assert [one.id for one in read_observations(kept)] == [2]
    assert [one.id for one in keep(kept, [seen()])] == [4]
    assert forget_all(kept) == 2
    assert read_observations(kept) == ()


def test_what_is_forgotten_is_gone_from_the_file(kept: Path) -> None:
    keep(kept, [seen(note="a secret of the house")])
    assert b"secret" in kept.read_bytes()
    forget_all(kept)
    assert b"secret" not in kept.read_bytes()


def test_processes_that_write_at_the_same_time_lose_nothing(kept: Path, tmp_path: Path) -> None:
    """Four start on one signal, so that they meet at the making of the file and at every write."""
    go = tmp_path / "go"
    code = (
        "import sys, time; from pathlib import Path;"
        "from tests.observations.test_store import seen; from blendwright.observations.store "
        "import keep; kept, name, go = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])\n"
        "go.with_name(f'ready-{name}').touch()\n"
        "while not go.exists(): time.sleep(0.002)\n"
        "for n in range(25): keep(kept, [seen(note=f'{name}-{n}')])\n"
    )
    names = ("a", "b", "c", "d")
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(kept), name, str(go)]) for name in names
    ]
    started = time.monotonic()
    while not all((tmp_path / f"ready-{name}").exists() for name in names):
        assert time.monotonic() - started < 60.0
        time.sleep(0.01)
    go.touch()
    assert [process.wait(timeout=100) for process in running] == [0, 0, 0, 0]
    notes = {one.note for one in read_observations(kept)}
    assert notes == {f"{name}-{n}" for name in names for n in range(25)}


def _garbage(path: Path) -> None:
    path.write_bytes(b"not a database at all, but long enough to look at" * 20)


def _cut_short(path: Path) -> None:
    keep(path, [seen() for _ in range(200)])
    path.write_bytes(path.read_bytes()[:6000])


def _newer(path: Path) -> None:
    keep(path, [seen()])
    with sqlite3.connect(path) as connection:
        connection.execute(f"PRAGMA user_version = {LAYOUT.version + 1}")


def _of_another_program(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")


def _spoilt(column: str, value: str) -> object:
    def spoil(path: Path) -> None:
        keep(path, [seen()])
        with sqlite3.connect(path) as connection:
            connection.execute(f"UPDATE observation SET {column} = ?", (value,))

    return spoil


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_garbage, "damaged or is something else"),
        (_cut_short, "damaged or is something else"),
        (_newer, "written by a newer blendwright"),
        (_of_another_program, "database of another program"),
        (_spoilt("value", "warm"), "observation 1 can't be read"),
        (_spoilt("value", "9e99"), "observation 1 can't be read"),
        (_spoilt("seen_on", "last week"), "observation 1 can't be read"),
        (_spoilt("blend", "{"), "observation 1 can't be read"),
        (_spoilt("blend", '{"mass_fractions": {"a": NaN}, "liquid_as_sold": []}'), "can't be read"),
        (_spoilt("question", "smell"), "observation 1 can't be read"),
        (lambda path: path.mkdir(), "is a folder"),
    ],
)
def test_a_file_that_cant_be_used_says_why(kept: Path, spoil: object, words: str) -> None:
    kept.parent.mkdir()
    spoil(kept)  # type: ignore[operator]
    with pytest.raises(ObservationsError, match=words):
        read_observations(kept)


def test_an_empty_file_is_an_empty_notebook(kept: Path) -> None:
    kept.parent.mkdir()
    kept.write_bytes(b"")
    assert read_observations(kept) == ()
    assert len(keep(kept, [seen()])) == 1


def test_a_newer_or_foreign_file_is_not_written_to(kept: Path) -> None:
    kept.parent.mkdir()
    for spoil in (_newer, _of_another_program):
        kept.unlink(missing_ok=True)
        spoil(kept)
        before = kept.read_bytes()
        with pytest.raises(ObservationsError):
            keep(kept, [seen()])
        assert kept.read_bytes() == before
