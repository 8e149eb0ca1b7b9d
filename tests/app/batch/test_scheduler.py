"""A Dask scheduler with three workers, each a process of its own, and what becomes of them."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from blendwright.app.batch.checkpoint import Checkpoint
from blendwright.app.batch.cluster import on_workers, scheduler_at
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.evaluate import BatchRequest
from blendwright.app.batch.reading import LongTable
from blendwright.app.batch.run import Order, in_process, run
from blendwright.catalogue import default_catalogue
from tests.app.batch.conftest import SOURCE, Perilous, many

ASKED = BatchRequest(298.15, 101325.0, ("density",))
PATIENCE_s = 60.0
WORKERS = 3
SCHEDULER = ("-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--no-dashboard")
WORKER = ("-m", "distributed.cli.dask_worker", "--nthreads", "1", "--no-dashboard", "--no-nanny")
OTHER_VERSION = """
import blendwright.app.batch.cluster as cluster
cluster.__version__ = "0.0"
from distributed.cli.dask_worker import main
main()
"""


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "in.parquet"
    pq.write_table(many(24, bad=[5]), path)
    return path


@pytest.fixture
def port() -> int:
    with socket.socket() as any_free:
        any_free.bind(("127.0.0.1", 0))
        return int(any_free.getsockname()[1])


def _begun(*arguments: str) -> subprocess.Popen[bytes]:
    paths = os.pathsep.join([str(SOURCE), str(Path(__file__).parents[3])])
    return subprocess.Popen(
        [sys.executable, *arguments],
        env={**os.environ, "PYTHONPATH": paths},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@contextmanager
def scheduler(port: int, worker: tuple[str, ...] = WORKER) -> Iterator[subprocess.Popen[bytes]]:
    """A scheduler and its workers, each a process."""
    address = f"tcp://127.0.0.1:{port}"
    first = _begun(*SCHEDULER, "--port", str(port))
    workers = [_begun(*worker, address) for _ in range(WORKERS)]
    try:
        yield first
    finally:
        for process in (*workers, first):
            process.kill()
            process.wait()


@contextmanager
def client_of(port: int) -> Iterator[Any]:
    """A client, once all workers have come."""
    deadline = time.monotonic() + PATIENCE_s
    while True:
        try:
            with scheduler_at(f"tcp://127.0.0.1:{port}") as client:
                client.wait_for_workers(WORKERS, timeout=PATIENCE_s)
                yield client
                return
        except BatchError:
            assert time.monotonic() < deadline, "no scheduler"
            time.sleep(0.2)


def order_of(source: LongTable, out: Path) -> Order:
    return Order(source, out, ASKED, default_catalogue(), 2)


def whole(table: Path, folder: Path) -> bytes:
    """The file of a run in this process."""
    order = order_of(LongTable(table), folder / "whole.parquet")
    run(order, in_process(order), lambda count, share: None)
    return order.out.read_bytes()


def test_three_workers_one_of_which_is_killed_write_the_same_file(
    table: Path, tmp_path: Path, port: int
) -> None:
    order = order_of(Perilous(table, 6), tmp_path / "out.parquet")
    with scheduler(port), client_of(port) as client:
        run(order, on_workers(order, client), lambda count, share: None)
    assert table.with_suffix(".killed").exists()
    assert order.out.read_bytes() == whole(table, tmp_path)


def test_a_run_goes_on_when_its_scheduler_was_started_again(
    table: Path, tmp_path: Path, port: int
) -> None:
    out = tmp_path / "out.parquet"
    with scheduler(port) as process, client_of(port) as client:
        # sent when the fourth of twelve chunks has come back: six are ahead, two for each worker
        order = order_of(Perilous(table, 10, process.pid), out)
        with pytest.raises(BatchError, match="the scheduler is gone"):
            run(order, on_workers(order, client), lambda count, share: None)
    finished = Checkpoint(out).numbers()
    assert 0 < len(finished) < 12
    order = order_of(LongTable(table), out)
    with scheduler(port), client_of(port) as client:
        run(order, on_workers(order, client), lambda count, share: None)
    assert out.read_bytes() == whole(table, tmp_path)


def test_workers_of_another_version_are_refused(table: Path, tmp_path: Path, port: int) -> None:
    other = ("-c", OTHER_VERSION, *WORKER[2:])
    order = order_of(LongTable(table), tmp_path / "out.parquet")
    with (
        scheduler(port, other),
        client_of(port) as client,
        pytest.raises(BatchError, match=r"a worker runs blendwright 0\.0 with data"),
    ):
        run(order, on_workers(order, client), lambda count, share: None)
