"""A file of the person's goes from layout to layout without losing a row, and never back."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from blendwright.observations.database import (
    ForeignFileError,
    NewerFileError,
    StoreLayout,
    reading,
    writing,
)

FIRST = StoreLayout(0x74657374, (("CREATE TABLE jar (name TEXT)",),))
SECOND = replace(FIRST, steps=(*FIRST.steps, ("ALTER TABLE jar ADD COLUMN grams REAL DEFAULT 5",)))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "folder" / "jars.sqlite"
    with writing(path, FIRST) as db:
        db.execute("INSERT INTO jar VALUES ('vanillin')")
    return path


def rows(path: Path, layout: StoreLayout) -> list[tuple[object, ...]] | None:
    with reading(path, layout) as db:
        return None if db is None else db.execute("SELECT * FROM jar").fetchall()


def test_an_older_file_is_brought_up_to_date_when_it_is_written_to(file: Path) -> None:
    assert rows(file, SECOND) is None  # reading changes nothing
    assert rows(file, FIRST) == [("vanillin",)]
    with writing(file, SECOND) as db:
        db.execute("INSERT INTO jar VALUES ('menthol', 2)")
    assert rows(file, SECOND) == [("vanillin", 5.0), ("menthol", 2.0)]


def test_a_newer_file_is_refused_and_left_alone(file: Path) -> None:
    with writing(file, SECOND):
        pass
    before = file.read_bytes()
    with pytest.raises(NewerFileError, match="layout 2, this one knows 1"), writing(file, FIRST):
        pass
    with pytest.raises(NewerFileError), reading(file, FIRST):
        pass
    assert file.read_bytes() == before


def test_a_step_that_fails_leaves_the_layout_before_it(file: Path) -> None:
    broken = replace(SECOND, steps=(*SECOND.steps, ("CREATE TABLE jar (name TEXT)",)))
    with pytest.raises(sqlite3.OperationalError), writing(file, broken):
        pass
    assert rows(file, FIRST) == [("vanillin",)]


def test_a_file_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "others.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    with pytest.raises(ForeignFileError), writing(path, FIRST):
        pass


def test_a_file_from_before_the_marks_is_known_by_its_table(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE jar (name TEXT)")
        db.execute("INSERT INTO jar VALUES ('vanillin')")
    kept = replace(
        SECOND,
        steps=(("CREATE TABLE IF NOT EXISTS jar (name TEXT)",), *SECOND.steps[1:]),
        unmarked="jar",
    )
    with writing(path, kept):
        pass
    assert rows(path, kept) == [("vanillin", 5.0)]
