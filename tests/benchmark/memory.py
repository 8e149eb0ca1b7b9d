"""Peak memory and time of `blendwright batch` against the number of formulas, run by hand.

    python tests/benchmark/memory.py --picture docs/batch-memory.svg

Each size runs in a process of its own, whose peak resident memory the system tells when it ends
(`os.wait4`, ru_maxrss). With --workers the peak is that of the process that reads and writes. Input
and output stay in --folder: a size that is there is not generated again. Nothing is asserted.
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

import numpy as np
import pyarrow.parquet as pq

from blendwright.version import __version__

GENERATE = Path(__file__).parent / "generate_formulas.py"
MiB = 1024.0  # of the KiB that Linux tells; macOS tells bytes
TARGET_MiB = 600.0  # at any size


@dataclass(frozen=True)
class Measured:
    """One run: formulas, seconds by the clock, seconds of processor, peak MiB."""

    count: int
    wall_s: float
    processor_s: float
    peak_MiB: float


def measured(count: int, folder: Path, options: list[str]) -> Measured:
    source, out = folder / f"in-{count}.parquet", folder / f"out-{count}.parquet"
    if not source.exists():
        subprocess.run(
            [sys.executable, str(GENERATE), str(count), str(source), "--common"], check=True
        )
    command = [sys.executable, "-m", "blendwright", "batch", str(source), "-o", str(out)]
    command += ["--force", "--quiet", *options]
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - begun
    if os.waitstatus_to_exitcode(status) != 0:
        raise SystemExit(f"the run of {count} formulas failed")
    rows = pq.read_metadata(out).num_rows
    if rows != count:
        raise SystemExit(f"{rows} rows for {count} formulas")
    per_MiB = MiB if sys.platform != "darwin" else MiB * MiB
    return Measured(count, wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / per_MiB)


def picture(found: list[Measured], path: Path) -> None:
    """Peak memory, and time per formula, against the number of formulas."""
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

    counts = np.array([m.count for m in found])
    with sheet("blendwright batch: memory and time", 6.5) as figure:
        left = place(figure, (1.5, FOOT_cm + 1.1, WIDTH_cm / 2 - 2.1, 4.9))
        left.plot(counts, [m.peak_MiB for m in found], marker="o", ms=4, color=INK)
        left.axhline(TARGET_MiB, color=QUIET, ls="--", lw=0.8)
        left.annotate(
            f"target {TARGET_MiB:.0f} MiB", (counts[0], TARGET_MiB), xytext=(0, -8),
            textcoords="offset points", size=SMALL_pt, color=QUIET,
        )  # fmt: skip
        left.set_ylim(0.0, max(TARGET_MiB, *(m.peak_MiB for m in found)) * 1.1)
        left.set_ylabel("peak memory, MiB")
        right = place(figure, (WIDTH_cm / 2 + 1.2, FOOT_cm + 1.1, WIDTH_cm / 2 - 1.8, 4.9))
        per_ms = [1e3 * m.wall_s / m.count for m in found]
        right.plot(counts, per_ms, marker="s", ms=4, color=BLUE, ls="--")
        right.set_ylim(0.0, max(per_ms) * 1.1)
        right.set_ylabel("time per formula, start included, ms")
        for axes in (left, right):
            axes.set_xscale("log")
            axes.set_xticks(counts, [f"{n:,}" for n in counts])
            axes.minorticks_off()
            axes.set_xlabel("formulas")
        foot_note(figure, f"{platform.machine()}, Python {platform.python_version()}")
    save(figure, path)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000, 100_000, 1_000_000])
    parser.add_argument("--only")
    parser.add_argument("--workers")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--picture", type=Path)
    given = parser.parse_args()
    options = [
        part
        for name, value in (("--only", given.only), ("--workers", given.workers))
        if value is not None
        for part in (name, value)
    ]
    print(f"blendwright {__version__}, Python {platform.python_version()}, {platform.machine()}, "
          f"{os.cpu_count()} cores; options: {' '.join(options) or 'none'}")  # fmt: skip
    print("| formulas | s | s of processor | ms a formula | formulas a second | peak MiB |")
    print("|---|---|---|---|---|---|")
    found = []
    with tempfile.TemporaryDirectory() as made:
        folder = given.folder or Path(made)
        folder.mkdir(parents=True, exist_ok=True)
        for count in given.sizes:
            m = measured(count, folder, options)
            found.append(m)
            print(
                f"| {m.count:,} | {m.wall_s:.1f} | {m.processor_s:.1f} "
                f"| {1e3 * m.wall_s / m.count:.3f} | {m.count / m.wall_s:,.0f} "
                f"| {m.peak_MiB:.0f} |",
                flush=True,
            )
    if given.picture is not None:
        picture(found, given.picture)


if __name__ == "__main__":
    main()
