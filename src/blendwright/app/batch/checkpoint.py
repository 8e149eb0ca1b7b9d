"""Finished chunks on disk: a hidden folder beside OUT that outlives a kill.

    .OUT.parts/run.json               what is read and asked; a resumed run must be the same
    .OUT.parts/part-000001.parquet    the rows of chunk 1, complete or not there at all
    .OUT.parts/lock                   held while a run works in it

A file is written under another name, flushed to the disk, and renamed.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from filelock import BaseFileLock, FileLock, Timeout

from blendwright.app.batch.errors import BatchError
from blendwright.errors import BlendwrightError

RUN_SCHEMA = "blendwright/batch-run/1"
COMPRESSION = "zstd"
# parts are read once and thrown away: quick to write rather than small
AS_A_PART = {"compression": "lz4", "use_dictionary": False, "write_statistics": False}
_WORDS = {
    "input": "the input has changed",
    "asked": "the options are others",
    "version": "blendwright is of another version",
    "data_version": "the catalogue's data are others",
    "chunk_size": "--chunk-size is another",
}


class Checkpoint:
    """The work folder of one OUT. Use as a context: it is locked meanwhile."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.folder = out.parent / f".{out.name}.parts"
        self._lock: BaseFileLock | None = None

    def exists(self) -> bool:
        return (self.folder / "run.json").exists()

    def begin(self, run: dict[str, object], fresh: bool) -> None:
        """Start, or go on where the same run stopped.

        Raises BatchError where a different run stopped here, where one is at work, or where
        nothing can be written.
        """
        run = {"schema": RUN_SCHEMA, **json.loads(json.dumps(run))}
        with self._told():
            self.folder.mkdir(exist_ok=True)
            self._take_lock()
            if fresh:
                self._empty()
            before = self._read_run()
            if before is None:
                self._empty()
                self._write(self.folder / "run.json", lambda path: path.write_text(json.dumps(run)))
                return
        other = [words for key, words in _WORDS.items() if before.get(key) != run.get(key)]
        if other:
            self.release()
            raise BatchError(
                f"{self.out.name} was begun by a different run: {'; '.join(other)}. Run it as it "
                "was to go on, or with --force to start again."
            )
        for left in self.folder.glob("*.tmp"):
            left.unlink()

    def numbers(self) -> set[int]:
        """The chunks that are finished."""
        return {int(path.stem.removeprefix("part-")) for path in self.folder.glob("part-*.parquet")}

    def path(self, number: int) -> Path:
        return self.folder / f"part-{number:06d}.parquet"

    def rows(self, number: int) -> int:
        return int(pq.read_metadata(self.path(number)).num_rows)

    def write(self, number: int, table: pa.Table) -> None:
        """One finished chunk. Raises BatchError for a full disk and the like."""
        with self._told():
            self._write(
                self.path(number),
                lambda path: pq.write_table(table, path, **AS_A_PART),
            )

    def tables(self, columns: list[str] | None = None) -> Iterator[pa.Table]:
        """All parts in order."""
        for number in range(1, len(self.numbers()) + 1):
            yield pq.read_table(self.path(number), columns=columns, memory_map=False)

    def publish(self, write: Callable[[Path], object]) -> None:
        """Write OUT under another name, and put it in place at one stroke."""
        with self._told():
            made = self.folder / f"out{self.out.suffix}"
            self._write(made, write)
            os.replace(made, self.out)
            _flush(self.out.parent)

    def remove(self) -> None:
        """The folder, when OUT is in place."""
        self.release()
        shutil.rmtree(self.folder, ignore_errors=True)

    def release(self) -> None:
        if self._lock is not None:
            self._lock.release()
            self._lock = None

    def _empty(self) -> None:
        for path in self.folder.iterdir():
            if path.name != "lock":
                path.unlink()

    def _read_run(self) -> dict[str, object] | None:
        path = self.folder / "run.json"
        if not path.exists():
            return None
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            return None
        return found if isinstance(found, dict) else None

    def _take_lock(self) -> None:
        lock = FileLock(self.folder / "lock")
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise BatchError(
                f"another run is writing {self.out.name}; wait for it, or stop it"
            ) from None
        self._lock = lock

    def _write(self, path: Path, write: Callable[[Path], object]) -> None:
        temporary = path.with_name(path.name + ".tmp")
        try:
            write(temporary)
            _flush(temporary)
            os.replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                temporary.unlink()
            raise

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """A failure to write, in words; what is finished stays."""
        try:
            yield
        except BlendwrightError:
            raise
        except (OSError, pa.ArrowException) as error:
            self.release()
            full = getattr(error, "errno", None) == errno.ENOSPC
            why = "the disk is full" if full else str(getattr(error, "strerror", None) or error)
            kept = "; finished parts are kept: make room and run it again" if full else ""
            raise BatchError(f"{self.out} can't be written ({why}){kept}") from None


def _flush(path: Path) -> None:
    """To the disk, so that a rename never outruns the content."""
    try:
        handle = os.open(path, os.O_RDONLY)
    except OSError:
        return  # a folder can't be opened on every system
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EIO):
            raise
    finally:
        os.close(handle)
