"""Memory and time of `blendwright batch` against the number of formulas, run by hand.

    python tests/benchmark/memory.py --workers 1 2 --picture docs/batch-time.svg

Each size runs in a process of its own, once for each number of workers. The peak of memory is that
of all its processes together, pages that they share counted once (PSS, looked at twice a second).
Input and output stay in --folder: a size that is there is not generated again. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq
from watch_memory import proportional_MiB, tree

from blendwright.mixture import machine
from blendwright.version import __version__

GENERATE = Path(__file__).parent / "generate_formulas.py"
EVERY_s = 0.5
TARGET_MiB = 600.0 * 1e6 / 2**20  # 600 MB, at any size


@dataclass(frozen=True)
class Measured:
    """One run: workers, formulas, seconds by the clock, seconds of processor, peak MiB."""

    workers: int
    count: int
    wall_s: float
    processor_s: float
    peak_MiB: float


def measured(count: int, workers: int, folder: Path, options: list[str]) -> Measured:
    source, out = folder / f"in-{count}.parquet", folder / f"out-{count}.parquet"
    if not source.exists():
        subprocess.run(
            [sys.executable, str(GENERATE), str(count), str(source), "--common"], check=True
        )
    command = [sys.executable, "-m", "blendwright", "batch", str(source), "-o", str(out)]
    command += ["--force", "--quiet", "--workers", str(workers), *options]
    before = os.times()
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    peak_MiB = 0.0
    while process.poll() is None:
        each = [m for one in tree(process.pid) if (m := proportional_MiB(one)) is not None]
        peak_MiB = max(peak_MiB, sum(each))
        time.sleep(min(EVERY_s, 0.02 * (1.0 + time.perf_counter() - begun)))
    wall_s = time.perf_counter() - begun
    used = os.times()
    if process.returncode != 0:
        raise SystemExit(f"the run of {count} formulas failed")
    rows = pq.read_metadata(out).num_rows
    if rows != count:
        raise SystemExit(f"{rows} rows for {count} formulas")
    processor_s = sum(used[2:4]) - sum(before[2:4])  # of children that have ended
    return Measured(workers, count, wall_s, processor_s, peak_MiB)


def picture(found: list[Measured], path: Path) -> None:
    """Time and peak memory against the number of formulas, a line for each number of workers."""
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
    )

    counts = sorted({m.count for m in found})
    with sheet("blendwright batch: time and memory", 6.5) as figure:
        left = place(figure, (1.5, FOOT_cm + 1.1, WIDTH_cm / 2 - 2.1, 4.9))
        right = place(figure, (WIDTH_cm / 2 + 1.2, FOOT_cm + 1.1, WIDTH_cm / 2 - 1.8, 4.9))
        for workers in sorted({m.workers for m in found}):
            ink, mark, line = (INK, "o", "-") if workers == 1 else (BLUE, "s", "--")
            own = [m for m in found if m.workers == workers]
            words = "one process" if workers == 1 else f"{workers} workers"
            style = {"marker": mark, "ms": 4, "color": ink, "ls": line, "label": words}
            left.plot([m.count for m in own], [m.wall_s for m in own], **style)
            right.plot([m.count for m in own], [m.peak_MiB for m in own], **style)
        left.set_yscale("log")
        longest_s = max(m.wall_s for m in found)
        seconds = [n for n in (1, 3, 10, 30, 100, 300, 1_000, 3_000) if n <= 1.5 * longest_s]
        left.set_yticks(seconds, [f"{n:,}" for n in seconds])
        left.set_ylabel("time, start included, s")
        left.legend(frameon=False, fontsize=SMALL_pt)
        right.axhline(TARGET_MiB, color=QUIET, ls=":", lw=0.8)
        right.annotate(
            "600 MB", (counts[-1], TARGET_MiB), xytext=(0, 3), textcoords="offset points",
            size=SMALL_pt, color=QUIET, ha="right",
        )  # fmt: skip
        right.set_ylim(0.0, max(TARGET_MiB, *(m.peak_MiB for m in found)) * 1.1)
        right.set_ylabel("memory of all processes, MiB")
        for axes in (left, right):
            axes.set_xscale("log")
            axes.set_xticks(counts, [_short(n) for n in counts], size=SMALL_pt)
            axes.minorticks_off()
            axes.set_xlabel("formulas")
        foot_note(figure, f"{platform.machine()}, Python {platform.python_version()}")
    save(figure, path)


def _short(count: int) -> str:
    """A power of ten as such: written out they touch each other."""
    digits = str(count)
    power = str(len(digits) - 1).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))
    return f"10{power}" if digits.strip("0") == "1" and count > 10 else f"{count:,}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000, 100_000, 1_000_000])
    parser.add_argument("--most-alone", type=int, default=1_000_000, help="formulas for one worker")
    parser.add_argument("--only")
    parser.add_argument("--workers", type=int, nargs="+", default=[1])
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--picture", type=Path)
    given = parser.parse_args()
    options = ["--only", given.only] if given.only else []
    machine.load()
    print(f"blendwright {__version__}, Python {platform.python_version()}, {platform.machine()}, "
          f"{os.cpu_count()} cores; options: {' '.join(options) or 'none'}")  # fmt: skip
    print("| workers | formulas | s | s of processor | formulas a second | peak MiB |")
    print("|---|---|---|---|---|---|")
    found = []
    with tempfile.TemporaryDirectory() as made:
        folder = given.folder or Path(made)
        folder.mkdir(parents=True, exist_ok=True)
        for workers in given.workers:
            for count in given.sizes:
                if workers == 1 and count > given.most_alone:
                    continue
                m = measured(count, workers, folder, options)
                found.append(m)
                print(
                    f"| {m.workers} | {m.count:,} | {m.wall_s:.1f} | {m.processor_s:.1f} "
                    f"| {m.count / m.wall_s:,.0f} | {m.peak_MiB:.0f} |",
                    flush=True,
                )
    if given.picture is not None:
        picture(found, given.picture)


if __name__ == "__main__":
    main()
