"""Chunks on workers: a cluster of processes on this machine, or any Dask scheduler.

A chunk travels whole, the answer comes back as a table, and only this process writes; so workers
need no shared disk and the parts are the same as without them. Dask gives a chunk of a dead worker
to another one. At most CHUNKS_AHEAD chunks per worker thread are read ahead, whatever their number.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from functools import lru_cache
from importlib import import_module
from typing import Any

import pyarrow as pa

from blendwright.app.batch.chunks import Chunk
from blendwright.app.batch.engine import Answered
from blendwright.app.batch.errors import BatchError, needs_distributed
from blendwright.app.batch.evaluate import BatchRequest, OwnMaterials, catalogue_of, evaluated
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.run import Compute, Order, in_process
from blendwright.version import __version__

CHUNKS_AHEAD = 2
WORKER_MEMORY = "1 GiB"  # of a local worker; Dask pauses it at 80 % and restarts it at 95 %
PATIENCE_s = 20  # to reach a scheduler
MANY = 10_000  # formulas from which starting workers (4 s) pays
# Dask has workers give memory back at every step and looks at their stack every 10 ms:
# chunks took half as long again (measured)
AS_WORKERS_WORK_BEST = {
    "distributed.nanny.pre-spawn-environ": {"OMP_NUM_THREADS": 1, "OPENBLAS_NUM_THREADS": 1},
    "distributed.worker.profile.enabled": False,
}


def _distributed() -> Any:
    needs_distributed()
    return import_module("distributed")


@contextmanager
def local_cluster(workers: int, memory: str = WORKER_MEMORY) -> Iterator[Any]:
    """A Dask client of so many single-threaded processes here."""
    dask = _distributed()
    with _interrupts_ignored(), import_module("dask").config.set(AS_WORKERS_WORK_BEST):
        cluster = dask.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            memory_limit=memory,
            dashboard_address=None,
            silence_logs=logging.CRITICAL,
        )
    with cluster, dask.Client(cluster) as client:
        yield client


@contextmanager
def _interrupts_ignored() -> Iterator[None]:
    """Processes started meanwhile leave Ctrl-C to this one, which ends them in good order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def scheduler_at(address: str) -> Iterator[Any]:
    """A client of a scheduler that runs already. Raises BatchError where there is none."""
    dask = _distributed()
    try:
        client = dask.Client(address, timeout=PATIENCE_s)
    except (OSError, TimeoutError, ValueError) as error:
        raise BatchError(f"no Dask scheduler answers at {address} ({error})") from None
    with client:
        if not client.ncores():
            raise BatchError(f"the scheduler at {address} has no workers; start some first")
        yield client


def on_workers(order: Order, client: Any) -> Compute:
    """Chunks spread over the client's workers; they come back in the order that they finish."""
    own = OwnMaterials.of(order.catalogue)
    here = (__version__, order.catalogue.version())

    def compute(chunks: Iterable[Chunk], _: Answered) -> Iterator[tuple[Chunk, pa.Table]]:
        dask = _distributed()
        waiting: dict[Any, Chunk] = {}
        stream = iter(chunks)
        ahead = CHUNKS_AHEAD * max(1, sum(client.ncores().values()))

        def send() -> Any:
            chunk = next(stream, None)
            if chunk is None:
                return None
            future = client.submit(worked, chunk, order.request, own, pure=False)
            waiting[future.key] = chunk
            return future

        first = [future for _ in range(ahead) if (future := send()) is not None]
        done = dask.as_completed(first)
        try:
            for future in done:
                chunk = waiting.pop(future.key)
                theirs, table = future.result()
                if theirs != here:
                    raise BatchError(
                        f"a worker runs blendwright {theirs[0]} with data {theirs[1]}, here it is "
                        f"{here[0]} with data {here[1]}; install the same everywhere"
                    )
                following = send()
                if following is not None:
                    done.add(following)
                yield chunk, table
        except dask.scheduler.KilledWorker:
            raise BatchError(
                f"chunk {chunk.number} ended several workers one after the other, perhaps for want "
                "of memory; give them more or make --chunk-size smaller, and run it again to go on"
            ) from None
        except (OSError, TimeoutError, CancelledError) as error:
            raise BatchError(f"the scheduler is gone ({error}); run it again to go on") from None

    return compute


def cores(memory: str = WORKER_MEMORY) -> int:
    """How many workers this machine has cores and free memory for."""
    psutil, utils = import_module("psutil"), import_module("dask.utils")
    free = psutil.virtual_memory().available // utils.parse_bytes(memory)
    mine = getattr(os, "sched_getaffinity", None)  # none on Windows and macOS
    count = len(mine(0)) if mine is not None else os.cpu_count() or 1
    return int(max(1, min(count, free)))


def on_all_cores(order: Order, memory: str = WORKER_MEMORY) -> Compute:
    """The first chunk here, so that answers begin at once; the rest on every core, where there is
    so much to do that starting workers pays (MANY formulas)."""
    here = in_process(order)

    def compute(chunks: Iterable[Chunk], answered: Answered) -> Iterator[tuple[Chunk, pa.Table]]:
        stream = iter(chunks)
        first = next(stream, None)
        if first is None:
            return
        yield from here([first], answered)
        if _formulas_from(first) >= MANY and (workers := cores(memory)) > 1:
            with local_cluster(workers, memory) as client:
                yield from on_workers(order, client)(stream, answered)
        else:
            yield from here(stream, answered)

    return compute


def _formulas_from(chunk: Chunk) -> float:
    """How many are to be done from this chunk on, if the input goes on as it began; 0 where it is
    the last one, or its share of the input is not known."""
    share = chunk.share or 1.0
    if share >= 1.0:
        return 0.0
    return chunk.count + (chunk.first - 1 + chunk.count) * (1.0 / share - 1.0)


def worked(
    chunk: Chunk, request: BatchRequest, own: OwnMaterials | None
) -> tuple[tuple[str, str], pa.Table]:
    """On the worker: the chunk's table, and of which program and data it is."""
    row_cache = _row_cache(request.drop_mL, own.digest if own else "", _Carried(own))
    return (__version__, row_cache.catalogue.version()), evaluated(chunk, row_cache, request)


class _Carried:
    """Own materials that don't count as a key: their digest does."""

    def __init__(self, own: OwnMaterials | None) -> None:
        self.own = own

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Carried)

    def __hash__(self) -> int:
        return 0


@lru_cache(maxsize=4)
def _row_cache(drop_mL: float, digest: str, carried: _Carried) -> RowCache:
    return RowCache(catalogue_of(carried.own), drop_mL)
