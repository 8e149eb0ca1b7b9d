"""Processes that reckon while the page stays awake.

Quick hands answer keystrokes: each is one process, and the three parts of one answer go to the
same one, which has the blend by then. One slow hand draws and does what takes a moment, another
what takes many seconds, so that neither typing nor pictures wait for it. A hand that dies is
replaced, and its question asked once more.
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
MOST_QUICK = 4
MISTAKE = (
    "the program made a mistake here ({what}); please report it, with the formula. "
    "What you typed is kept."
)
ENDED = (
    "the process that works this out ended twice, perhaps for want of memory; make the question "
    "smaller, or report it with the formula. What you typed is kept."
)
LAST_IN_LINE = 3  # niceness of those who draw; 10 left a busy machine without pictures


def quick_count() -> int:
    """One core is left to the page itself and its browser."""
    return max(1, min(MOST_QUICK, (os.cpu_count() or 2) - 1))


def _hold_still(nicer: int = 0) -> None:
    """Ctrl-C is for the server, which ends its hands itself. However it ends, so do they."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if nicer and hasattr(os, "nice"):
        os.nice(nicer)


def _get_ready() -> bool:
    """Load everything; what is loaded stays, and is no longer looked through for waste."""
    made = make_ready()
    machine.prepare(compile_missing=False)
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
    return ProcessPoolExecutor(1, mp_context=context, initializer=_hold_still, initargs=(nicer,))


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


class Hands:
    """All processes of one server."""

    def __init__(self, quick: int | None = None) -> None:
        self._quick = [_executor() for _ in range(quick or quick_count())]
        self._busy = [0] * len(self._quick)
        self._slow: list[ProcessPoolExecutor] = []
        self._long: list[ProcessPoolExecutor] = []

    def start_first(self) -> None:
        """Start one quick process, beside the loading of the page itself; returns at once."""
        self._quick[0].submit(_get_ready)

    def start_others(self) -> None:
        """Start the other quick processes; returns at once."""
        for executor in self._quick[1:]:
            executor.submit(_get_ready)

    def free_hand(self) -> int:
        """The quick hand with the least to do."""
        return min(range(len(self._quick)), key=lambda number: self._busy[number])

    @property
    def has_a_free_one(self) -> bool:
        """Whether a quick hand has nothing to do."""
        return min(self._busy) == 0

    async def quick(self, hand: int, function: Callable[..., Result], *arguments: object) -> Result:
        """Ask one quick hand. Raises RefusedError."""
        self._busy[hand] += 1
        try:
            return _or_raise(await self._ask(self._quick, hand, function, *arguments))
        finally:
            self._busy[hand] -= 1

    async def slow(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Ask the slow hand, for what takes a moment. Raises RefusedError."""
        return await self._ask_started(self._slow, function, *arguments)

    async def long(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Ask the hand for what takes many seconds. Raises RefusedError."""
        return await self._ask_started(self._long, function, *arguments)

    async def _ask_started(
        self, hands: list[ProcessPoolExecutor], function: Callable[..., Result], *arguments: object
    ) -> Result:
        """The first question starts the hand."""
        if not hands:
            hands.append(_executor(LAST_IN_LINE))
        return _or_raise(await self._ask(hands, 0, function, *arguments))

    async def _ask(
        self,
        hands: list[ProcessPoolExecutor],
        number: int,
        function: Callable[..., Result],
        *arguments: object,
    ) -> Result | _Refused:
        loop = asyncio.get_running_loop()
        asked = hands[number]
        try:
            return await loop.run_in_executor(asked, _carefully, function, *arguments)
        except BrokenProcessPool:
            self._replace(hands, number, asked)
            again = hands[number]
        try:
            return await loop.run_in_executor(again, _carefully, function, *arguments)
        except BrokenProcessPool:
            self._replace(hands, number, again)
            return _Refused(ENDED)

    def _replace(
        self, hands: list[ProcessPoolExecutor], number: int, broken: ProcessPoolExecutor
    ) -> None:
        if hands[number] is broken:
            hands[number] = _executor(0 if hands is self._quick else LAST_IN_LINE)

    def stop(self) -> None:
        """End every process."""
        for executor in (*self._quick, *self._slow, *self._long):
            executor.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            process.terminate()
