"""Processes that compute while the page stays awake.

Interactive workers answer keystrokes: each is one process, and the three parts of one answer go to
the same one, which has the blend by then. One background worker draws and does what takes a moment,
another what takes many seconds, so that neither typing nor pictures wait for it. A worker that dies
is replaced, and its question asked once more.
"""

from __future__ import annotations

import asyncio
import gc
import multiprocessing
import os
import signal
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import TypeVar

from blendwright.app.web.answers import make_ready
from blendwright.errors import BlendwrightError
from blendwright.mixture import machine

Result = TypeVar("Result")
MOST_INTERACTIVE = 4
MISTAKE = (
    "the program made a mistake here ({what}); please report it, with the formula. "
    "What you typed is kept."
)
ENDED = (
    "the process that works this out ended twice, perhaps for want of memory; make the question "
    "smaller, or report it with the formula. What you typed is kept."
)
LAST_IN_LINE = 3  # niceness of those who draw; 10 left a busy machine without pictures


def interactive_count() -> int:
    """One core is left to the page itself and its browser."""
    return max(1, min(MOST_INTERACTIVE, (os.cpu_count() or 2) - 1))


def _begin(nicer: int = 0) -> None:
    """Ctrl-C is for the server, which ends its workers itself. However it ends, so do they. What is
    compiled is loaded: in NumPy a picture of the temperatures takes six times as long."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if nicer and hasattr(os, "nice"):
        os.nice(nicer)
    machine.prepare(compile_missing=False)


def _get_ready() -> bool:
    """Load everything; what is loaded stays, and is no longer looked through for waste."""
    made = make_ready()
    gc.collect()
    gc.freeze()
    return made


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(0)


def _executor(nicer: int = 0) -> ProcessPoolExecutor:
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=context, initializer=_begin, initargs=(nicer,))


class RefusedError(Exception):
    """The question can't be answered, and why, in words for the person."""


@dataclass(frozen=True)
class _Refused:
    words: str


def _carefully(function: Callable[..., Result], *arguments: object) -> Result | _Refused:
    """Errors travel between processes as words; a mistake of the program's is one too, and its
    trace goes to where the program was started."""
    try:
        return function(*arguments)
    except (BlendwrightError, ValueError) as error:
        return _Refused(str(error))
    except Exception as error:
        traceback.print_exc()
        return _Refused(MISTAKE.format(what=f"{type(error).__name__}: {error}"))


def _or_raise(answer: Result | _Refused) -> Result:
    if isinstance(answer, _Refused):
        raise RefusedError(answer.words)
    return answer


class WorkerPool:
    """All processes of one server."""

    def __init__(self, interactive: int | None = None) -> None:
        self._interactive = [_executor() for _ in range(interactive or interactive_count())]
        self._busy = [0] * len(self._interactive)
        self._background: list[ProcessPoolExecutor] = []
        self._long: list[ProcessPoolExecutor] = []

    def start_first(self) -> None:
        """Start one interactive process, beside the loading of the page itself; returns at once."""
        self._interactive[0].submit(_get_ready)

    def start_others(self) -> None:
        """Start the other interactive processes; returns at once."""
        for executor in self._interactive[1:]:
            executor.submit(_get_ready)

    def idlest_worker(self) -> int:
        """The interactive worker with the least to do."""
        return min(range(len(self._interactive)), key=lambda number: self._busy[number])

    @property
    def has_idle_worker(self) -> bool:
        """Whether an interactive worker has nothing to do."""
        return min(self._busy) == 0

    async def interactive(
        self, worker: int, function: Callable[..., Result], *arguments: object
    ) -> Result:
        """Ask one interactive worker. Raises RefusedError."""
        self._busy[worker] += 1
        try:
            return _or_raise(await self._ask(self._interactive, worker, function, *arguments))
        finally:
            self._busy[worker] -= 1

    async def background(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Ask the background worker, for what takes a moment. Raises RefusedError."""
        return await self._ask_on_demand(self._background, function, *arguments)

    async def long(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Ask the worker for what takes many seconds. Raises RefusedError."""
        return await self._ask_on_demand(self._long, function, *arguments)

    async def _ask_on_demand(
        self,
        workers: list[ProcessPoolExecutor],
        function: Callable[..., Result],
        *arguments: object,
    ) -> Result:
        """The first question starts the worker."""
        if not workers:
            workers.append(_executor(LAST_IN_LINE))
        return _or_raise(await self._ask(workers, 0, function, *arguments))

    async def _ask(
        self,
        workers: list[ProcessPoolExecutor],
        number: int,
        function: Callable[..., Result],
        *arguments: object,
    ) -> Result | _Refused:
        loop = asyncio.get_running_loop()
        request = workers[number]
        try:
            return await loop.run_in_executor(request, _carefully, function, *arguments)
        except BrokenProcessPool:
            self._replace(workers, number, request)
            again = workers[number]
        try:
            return await loop.run_in_executor(again, _carefully, function, *arguments)
        except BrokenProcessPool:
            self._replace(workers, number, again)
            return _Refused(ENDED)

    def _replace(
        self, workers: list[ProcessPoolExecutor], number: int, broken: ProcessPoolExecutor
    ) -> None:
        if workers[number] is broken:
            workers[number] = _executor(0 if workers is self._interactive else LAST_IN_LINE)

    def stop(self) -> None:
        """End every process."""
        for executor in (*self._interactive, *self._background, *self._long):
            executor.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            process.terminate()
