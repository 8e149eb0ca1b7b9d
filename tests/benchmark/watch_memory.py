"""Watch the memory of a running `blendwright batch`, and draw it against the formulas finished.

    python tests/benchmark/watch_memory.py watch PID .answers.parquet.parts run.log
    python tests/benchmark/watch_memory.py draw run.svg run.log [resumed.log ...]

Every five seconds a line: seconds, parts on the disk, and the proportional memory (MiB) of the
process and of each below it, as Linux tells it in /proc. For long runs, killed and resumed.
"""

from __future__ import annotations

import argparse
import platform
import subprocess
import time
from contextlib import suppress
from pathlib import Path

EVERY_s = 5.0
TARGET_MiB = 600.0
LOT_SIZE = 2000


def tree(pid: int) -> list[int]:
    """A process and all below it."""
    asked = ["ps", "-o", "pid=", "--ppid", str(pid)]
    below = subprocess.run(asked, capture_output=True, text=True, check=False).stdout.split()
    return [pid, *(each for one in below for each in tree(int(one)))]


def proportional_MiB(pid: int) -> float | None:
    with suppress(OSError):
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / 1024.0
    return None


def watch(pid: int, parts: Path, log: Path) -> None:
    with log.open("a") as out:
        while Path(f"/proc/{pid}").exists():
            found = [m for one in tree(pid) if (m := proportional_MiB(one)) is not None]
            count = len(list(parts.glob("part-*"))) if parts.exists() else -1
            out.write(f"{time.time():.0f} {count} {' '.join(f'{m:.0f}' for m in found)}\n")
            out.flush()
            time.sleep(EVERY_s)


def draw(picture: Path, logs: list[Path]) -> None:
    from blendwright.report.pictures import save
    from blendwright.report.pictures.canvas import (
        BLUE,
        INK,
        QUIET,
        FOOT_cm,
        SMALL_pt,
        WIDTH_cm,
        foot_note,
        place,
        sheet,
    )  # fmt: skip

    with sheet("blendwright batch: memory while it runs", 6.0) as figure:
        axes = place(figure, (1.6, FOOT_cm + 1.1, WIDTH_cm - 2.4, 4.4))
        for log, ink, words in zip(logs, (INK, BLUE), ("until the kill", "resumed"), strict=False):
            rows = [line.split() for line in log.read_text().splitlines()]
            rows = [row for row in rows if len(row) > 2 and int(row[1]) >= 0]
            done = [int(row[1]) * LOT_SIZE / 1e3 for row in rows]
            each = [[float(one) for one in row[2:]] for row in rows]
            axes.plot(done, [sum(all_) for all_ in each], color=ink, lw=1.0, ls=":",
                      label=f"all processes together, {words}")  # fmt: skip
            axes.plot(done, [max(all_) for all_ in each], color=ink, lw=1.0,
                      label=f"the largest process, {words}")  # fmt: skip
        axes.axhline(TARGET_MiB, color=QUIET, ls="--", lw=0.8)
        axes.annotate(f"target {TARGET_MiB:.0f} MiB", (0.0, TARGET_MiB), xytext=(2, -9),
                      textcoords="offset points", size=SMALL_pt, color=QUIET)  # fmt: skip
        axes.set_ylim(bottom=0.0)
        axes.set_xlim(left=0.0)
        axes.set_xlabel("formulas finished, thousands")
        axes.set_ylabel("memory, MiB")
        axes.legend(loc="lower right", fontsize=SMALL_pt, ncols=2)
        foot_note(figure, f"{platform.machine()}, Python {platform.python_version()}")
    save(figure, picture)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    wanted = parser.add_subparsers(dest="wanted", required=True)
    one = wanted.add_parser("watch")
    one.add_argument("pid", type=int)
    one.add_argument("parts", type=Path)
    one.add_argument("log", type=Path)
    other = wanted.add_parser("draw")
    other.add_argument("picture", type=Path)
    other.add_argument("logs", type=Path, nargs="+")
    given = parser.parse_args()
    if given.wanted == "watch":
        watch(given.pid, given.parts, given.log)
    else:
        draw(given.picture, given.logs)


if __name__ == "__main__":
    main()
