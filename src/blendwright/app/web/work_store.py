"""What is kept between runs, in one SQLite file in the person's data folder.

A *document* is what a browser window has open; it is saved as the person types. A *work* is a
formula saved under a name; each save adds a version and none is ever overwritten. Every change is
one transaction, written through to the disk before it counts, so that a crash in mid-write leaves
the state before it.

Two windows on one document: each says which revision it last saw, and a save on an older one is
refused with `Elsewhere`; the person then keeps both, or takes the other's.
"""

from __future__ import annotations

import json
import re
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from blendwright.app.web.sheet import Sheet
from blendwright.errors import BlendwrightError
from blendwright.observations.database import StoreLayout, reading, writing

FILE = "work.sqlite3"
MOST_DOCUMENTS = 20  # in a list
_FIRST = (
    """CREATE TABLE IF NOT EXISTS desk (
        id TEXT PRIMARY KEY, owner TEXT NOT NULL, revision INTEGER NOT NULL,
        sheet TEXT NOT NULL, changed_at TEXT NOT NULL
    )""",
    "CREATE INDEX IF NOT EXISTS desk_of ON desk (owner, changed_at)",
    """CREATE TABLE IF NOT EXISTS work (
        id INTEGER PRIMARY KEY, owner TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (owner, name)
    )""",
    """CREATE TABLE IF NOT EXISTS version (
        work INTEGER NOT NULL REFERENCES work (id), number INTEGER NOT NULL,
        sheet TEXT NOT NULL, saved_at TEXT NOT NULL, PRIMARY KEY (work, number)
    )""",
)
_DOCUMENTS = (
    "ALTER TABLE desk RENAME TO document",
    "DROP INDEX desk_of",
    "CREATE INDEX document_of ON document (owner, changed_at)",
)
LAYOUT = StoreLayout(
    application_id=0x626C776B,  # "blwk"
    steps=(_FIRST, _DOCUMENTS),
    pragmas=("journal_mode = WAL", "synchronous = FULL"),
    wait_s=5.0,
    unmarked="desk",
)


class WorkStoreError(BlendwrightError):
    """The file of kept work can't be used; the text says why and what to do."""


class ElsewhereError(Exception):
    """Another window has changed the same formula since; `sheet` is how it stands there."""

    def __init__(self, sheet: Sheet, revision: int) -> None:
        self.sheet = sheet
        self.revision = revision
        super().__init__("another window has changed this formula")


_IS_DOCUMENT = re.compile(r"[0-9a-f]{16}")  # as `secrets.token_hex(8)` makes them


@dataclass(frozen=True)
class OpenDocument:
    """What one window has open, and the revision that it last saw; 0 is never saved."""

    id: str
    revision: int
    sheet: Sheet


@dataclass(frozen=True)
class KeptDocument:
    """What is kept of a document, and since when."""

    id: str
    changed_at: str
    sheet: Sheet


@dataclass(frozen=True)
class Saved:
    """One version of a saved formula."""

    work: int
    name: str
    number: int
    saved_at: str
    sheet: Sheet

    @property
    def title(self) -> str:
        return f"{self.name} · {self.number}"


class WorkStore:
    """The file, opened for each question; safe from several threads and processes. Raises
    WorkStoreError for a file that can't be used, and as `database.writing` does."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        try:
            with self._change():  # makes the file, or brings it up to date
                pass
        except sqlite3.Error as error:
            raise WorkStoreError(
                f"{self.path}: the file of kept work can't be used ({error}); check its folder and "
                "rights, or move it away and restore a copy"
            ) from None

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        with reading(self.path, LAYOUT) as db:
            assert db is not None  # brought up to date when the store was made
            yield db

    def _change(self) -> AbstractContextManager[sqlite3.Connection]:
        """One transaction: all of it, or nothing."""
        return writing(self.path, LAYOUT)

    # Documents

    def open_document(self, owner: str, document: str = "") -> OpenDocument:
        """A document of this owner: the one asked for; without a wish the latest; else a new one.

        An empty document bears the name asked for, where nobody has it: a window keeps its address
        while nothing has been typed in it, and must find its work there afterwards.
        """
        with self._open() as db:
            row = db.execute(
                "SELECT id, revision, sheet FROM document WHERE owner = ? AND (id = ? OR ? = '') "
                "ORDER BY changed_at DESC, rowid DESC LIMIT 1",
                (owner, document, document),
            ).fetchone()
            taken = db.execute("SELECT 1 FROM document WHERE id = ?", (document,)).fetchone()
        if row is None:
            free = _IS_DOCUMENT.fullmatch(document) and taken is None
            return OpenDocument(document if free else secrets.token_hex(8), 0, Sheet().tidied())
        return OpenDocument(row[0], row[1], _sheet(row[2]))

    def documents(self, owner: str) -> list[KeptDocument]:
        """The latest documents of this owner that have anything on them, the latest first."""
        with self._open() as db:
            rows = db.execute(
                "SELECT id, changed_at, sheet FROM document WHERE owner = ? "
                "ORDER BY changed_at DESC, rowid DESC LIMIT ?",
                (owner, MOST_DOCUMENTS),
            ).fetchall()
        found = (KeptDocument(id, changed_at, _sheet(sheet)) for id, changed_at, sheet in rows)
        return [document for document in found if not document.sheet.is_blank]

    def keep_document(self, owner: str, document: OpenDocument) -> OpenDocument:
        """Save what a window has. Raises ElsewhereError if another has saved since."""
        with self._change() as db:
            row = db.execute(
                "SELECT revision, sheet, owner FROM document WHERE id = ?", (document.id,)
            ).fetchone()
            if row is not None and row[2] != owner:
                raise PermissionError("not this browser's formula")
            revision = row[0] if row else 0
            if revision != document.revision:
                raise ElsewhereError(_sheet(row[1]), revision)
            db.execute(
                "INSERT INTO document VALUES (?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET "
                "revision = excluded.revision, sheet = excluded.sheet, "
                "changed_at = excluded.changed_at",
                (document.id, owner, revision + 1, _text(document.sheet), _now()),
            )
        return OpenDocument(document.id, revision + 1, document.sheet)

    # Saved work

    def save(self, owner: str, name: str, sheet: Sheet) -> Saved:
        """A new version under a name; the earlier ones stay."""
        with self._change() as db:
            db.execute("INSERT OR IGNORE INTO work (owner, name) VALUES (?, ?)", (owner, name))
            work = db.execute(
                "SELECT id FROM work WHERE owner = ? AND name = ?", (owner, name)
            ).fetchone()[0]
            last = db.execute(
                "SELECT COALESCE(MAX(number), 0) FROM version WHERE work = ?", (work,)
            ).fetchone()[0]
            saved = Saved(work, name, last + 1, _now(), sheet)
            db.execute(
                "INSERT INTO version VALUES (?, ?, ?, ?)",
                (work, saved.number, _text(sheet), saved.saved_at),
            )
        return saved

    def saved(self, owner: str) -> list[Saved]:
        """Every version of this owner's work, the latest first."""
        with self._open() as db:
            rows = db.execute(
                "SELECT work.id, name, number, saved_at, sheet FROM version "
                "JOIN work ON work.id = version.work WHERE owner = ? "
                "ORDER BY saved_at DESC, version.rowid DESC",
                (owner,),
            ).fetchall()
        return [
            Saved(work, name, number, at, _sheet(sheet)) for work, name, number, at, sheet in rows
        ]

    def rename(self, owner: str, work: int, name: str) -> None:
        """Another name for a work. Raises ValueError if there is one of that name."""
        with self._change() as db:
            try:
                db.execute(
                    "UPDATE work SET name = ? WHERE id = ? AND owner = ?", (name, work, owner)
                )
            except sqlite3.IntegrityError:
                raise ValueError(f"there is already one named {name}") from None

    def delete(self, owner: str, work: int, number: int) -> None:
        """Delete one version for good; a work goes with its last one."""
        with self._change() as db:
            own = "SELECT id FROM work WHERE id = ? AND owner = ?"
            db.execute(
                f"DELETE FROM version WHERE work IN ({own}) AND number = ?", (work, owner, number)
            )
            db.execute(
                "DELETE FROM work WHERE id = ? AND owner = ? "
                "AND NOT EXISTS (SELECT 1 FROM version WHERE work = work.id)",
                (work, owner),
            )

    def adopt_all(self, owner: str) -> int:
        """Give this owner the saved work of every other one, after its cookies were cleared.

        A name that is there twice gets a number. Returns how many works moved.
        """
        with self._change() as db:
            rows = db.execute("SELECT id, name FROM work WHERE owner != ?", (owner,)).fetchall()
            taken = {
                row[0] for row in db.execute("SELECT name FROM work WHERE owner = ?", (owner,))
            }
            for work, name in rows:
                free, count = name, 1
                while free in taken:
                    count += 1
                    free = f"{name} ({count})"
                taken.add(free)
                db.execute("UPDATE work SET owner = ?, name = ? WHERE id = ?", (owner, free, work))
        return len(rows)


def _text(sheet: Sheet) -> str:
    return json.dumps(sheet.to_dict(), ensure_ascii=False)


def _sheet(text: str) -> Sheet:
    return Sheet.from_dict(json.loads(text))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
