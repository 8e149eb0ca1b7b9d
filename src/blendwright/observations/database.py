"""One SQLite file of the person's on this machine: private, of a known layout, changed in whole
transactions.

The file is made readable by its owner only (0600, where the system has such modes). Its
`application_id` tells it from other SQLite files, its `user_version` is the version of its layout;
a file of an older layout is brought up to date in the transaction that first writes to it. Every
change takes the write lock first, so two processes writing at once lose nothing.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from blendwright.errors import BlendwrightError

OWNER_ONLY = 0o600


class ForeignFileError(BlendwrightError):
    """A SQLite file of another program."""

    def __init__(self, path: Path) -> None:
        super().__init__(f"{path} is a database of another program; name another file")


class NewerFileError(BlendwrightError):
    """A file that a newer version has written."""

    def __init__(self, path: Path, layout: int, known: int) -> None:
        super().__init__(
            f"{path} was written by a newer blendwright (layout {layout}, this one knows {known}); "
            "update"
        )


@dataclass(frozen=True)
class StoreLayout:
    """What a file holds, and how it is used.

    `steps[n]` are the statements that bring a file of layout n to n + 1: a step is never changed
    afterwards, a new one is added. `unmarked` names a table by which a file from before the marks
    is known as ours. `pragmas` are said to every connection that writes.
    """

    application_id: int
    steps: tuple[tuple[str, ...], ...]
    pragmas: tuple[str, ...] = ()
    wait_s: float = 30.0  # for another process's write
    unmarked: str = ""

    @property
    def version(self) -> int:
        return len(self.steps)


@contextmanager
def reading(path: Path, layout: StoreLayout) -> Iterator[sqlite3.Connection | None]:
    """A connection that writes nothing; None where the file is of an older layout or empty.

    Raises ForeignFileError, NewerFileError, and sqlite3.Error for what SQLite can't do.
    """
    uri = f"{path.absolute().as_uri()}?mode=ro"
    with closing(sqlite3.connect(uri, uri=True, timeout=layout.wait_s)) as connection:
        current = _version(connection, path, layout) == layout.version
        yield connection if current else None


@contextmanager
def writing(path: Path, layout: StoreLayout) -> Iterator[sqlite3.Connection]:
    """One transaction, all of it or nothing; the file is made where there is none, and brought to
    the layout. Raises as `reading` does, and OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, OWNER_ONLY))
    with suppress(OSError):  # someone else's file, or a system without modes
        os.chmod(path, OWNER_ONLY)
    with closing(sqlite3.connect(path, timeout=layout.wait_s, isolation_level=None)) as connection:
        for pragma in layout.pragmas:
            connection.execute(f"PRAGMA {pragma}")
        connection.execute("BEGIN IMMEDIATE")
        try:
            _bring_up_to_date(connection, path, layout)
            yield connection
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")


def _bring_up_to_date(connection: sqlite3.Connection, path: Path, layout: StoreLayout) -> None:
    version = _version(connection, path, layout)
    if version == layout.version:
        return
    for step in layout.steps[version:]:
        for statement in step:
            connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {layout.application_id}")
    connection.execute(f"PRAGMA user_version = {layout.version}")


def _version(connection: sqlite3.Connection, path: Path, layout: StoreLayout) -> int:
    """Version of the file's layout; 0 for an empty file."""
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    names = "SELECT name FROM sqlite_master WHERE type = 'table'"
    tables = {row[0] for row in connection.execute(names)}
    if owner == 0 and (not tables or layout.unmarked in tables):
        return 0
    if owner != layout.application_id:
        raise ForeignFileError(path)
    if version > layout.version:
        raise NewerFileError(path, version, layout.version)
    return version
