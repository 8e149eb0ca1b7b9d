"""A run of many formulas, killed again and again, against the same run left alone; by hand:

    python tests/benchmark/kills.py [formulas] [kills]

Every process of the run is killed (SIGKILL) after a random time, and the same command given again,
until it ends. The two files have to be equal to the byte.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyarrow.parquet as pq
from generate_formulas import blocks

from blendwright.mixture import machine

CHUNK = "500"
SHORTEST_s, LONGEST_s = 1.5, 6.0  # until a kill
SEED = 1


def command(source: Path, out: Path) -> list[str]:
    return [
        sys.executable, "-m", "blendwright", "batch", str(source), "-o", str(out),
        "--chunk-size", CHUNK, "--quiet",
    ]  # fmt: skip


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    kills = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    machine.load()  # NumPy's last digits are not those of machine code
    with tempfile.TemporaryDirectory() as folder:
        source, out, whole = (
            Path(folder) / name for name in ("in.parquet", "a.parquet", "b.parquet")
        )
        tables = list(blocks(count, SEED, common=True))
        with pq.ParquetWriter(source, tables[0].schema) as writer:
            for table in tables:
                writer.write_table(table)
        moment = random.Random(SEED)
        done = 0
        begin = time.monotonic()
        while True:
            process = subprocess.Popen(command(source, out), start_new_session=True)
            wait_s = moment.uniform(SHORTEST_s, LONGEST_s) if done < kills else None
            try:
                process.wait(wait_s)
                break
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
                done += 1
        killed_s = time.monotonic() - begin
        subprocess.run(command(source, whole), check=True)
        rows = pq.read_table(out, columns=["formula"])["formula"].to_pylist()
        print(f"{done} kills in {killed_s:.0f} s; exit code {process.returncode}")
        print(f"{len(rows):,} rows, {len(set(rows)):,} different formulas, of {count:,}")
        equal = out.read_bytes() == whole.read_bytes()
        print("to the byte the file of a run left alone" if equal else "DIFFERENT FILES")
        sys.exit(0 if equal and len(set(rows)) == count == len(rows) and done == kills else 1)


if __name__ == "__main__":
    main()
