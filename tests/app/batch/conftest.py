"""Long tables in one line, and the batch as a command."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pytest

import blendwright
from blendwright.app.batch.chunks import Chunk
from blendwright.app.batch.long_rows import LongChunk
from blendwright.app.batch.reading import LongTable
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.weighed import Weighed

SOURCE = Path(blendwright.__file__).parents[1]
# a chunk takes a while, so that a signal finds the run at work whatever the engine's speed
SLOWLY = """
import time, blendwright.app.batch.run as run
quick = run.evaluated
def slow(*given):
    time.sleep(0.05)
    return quick(*given)
run.evaluated = slow
from blendwright.app.cli.main import main
main()
"""


def long_table(*rows: tuple[object, ...], columns: str = "formula material grams") -> pa.Table:
    """A long table from its rows."""
    names = columns.split()
    return pa.table({name: [row[n] for row in rows] for n, name in enumerate(names)})


def many(count: int, bad: Iterable[int] = ()) -> pa.Table:
    """`count` formulas of three rows; those in `bad` (from 0) weigh less than nothing."""
    wrong = set(bad)
    rows = []
    for n in range(count):
        grams = -1.0 if n in wrong else 0.5 + n % 7
        rows += [(f"F{n}", "ethyl butyrate", grams), (f"F{n}", "vanillin", 0.2)]
        rows.append((f"F{n}", "propylene glycol", 20.0))
    return long_table(*rows)


@pytest.fixture
def slow_batch() -> Callable[..., subprocess.Popen[str]]:
    """`blendwright batch` in a process of its own, slowed down."""

    def start(source: object, out: object, *options: object) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [
                sys.executable,
                "-c",
                SLOWLY,
                "batch",
                str(source),
                "-o",
                str(out),
                *map(str, options),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(SOURCE)},
            # a job in a shell's background is born deaf to Ctrl-C
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
        )

    return start


@dataclass(frozen=True)
class Deadly(LongChunk):
    """A chunk that kills a process as it is first taken up: its worker, or the one named."""

    mark: str = ""
    victim: int = 0

    def weighed(self, row_cache: RowCache, batch_g: float | None) -> Weighed:
        if not os.path.exists(self.mark):
            Path(self.mark).write_text(str(os.getpid()))
            os.kill(self.victim or os.getpid(), signal.SIGKILL)
        return super().weighed(row_cache, batch_g)


class Perilous(LongTable):
    """A table one chunk of which is deadly."""

    def __init__(self, path: Path, number: int, victim: int = 0) -> None:
        super().__init__(path)
        self.number, self.victim = number, victim

    def chunks(self, size: int) -> Iterator[Chunk]:
        mark = str(self.path.with_suffix(".killed"))
        for chunk in super().chunks(size):
            assert isinstance(chunk, LongChunk)
            if chunk.number == self.number:
                yield Deadly(
                    chunk.number, chunk.first, chunk.rows, chunk.starts, chunk.share, chunk.layout,
                    mark, self.victim,
                )  # fmt: skip
            else:
                yield chunk
