"""Whatever happens in a process that works something out, the person hears of it in words."""

from __future__ import annotations

import asyncio
import os
import time

import pytest

from blendwright.app.web.worker_pool import RefusedError, WorkerPool
from blendwright.errors import BlendwrightError


def refuses() -> None:
    raise BlendwrightError("give a number")


def is_mistaken() -> None:
    raise KeyError("glycol")


def dies() -> None:
    os._exit(3)


def answers() -> int:
    time.sleep(0.01)
    return 42


def request(question: object) -> object:
    async def ask() -> object:
        workers = WorkerPool(1)
        try:
            return await workers.background(question)  # type: ignore[arg-type]
        finally:
            workers.stop()

    return asyncio.run(ask())


@pytest.mark.parametrize(
    ("question", "words"),
    [
        (refuses, "^give a number$"),
        (is_mistaken, "mistake here .KeyError: 'glycol'.; please report it"),
        (dies, "ended twice"),
    ],
)
def test_a_question_that_fails_is_refused_in_words(question: object, words: str):
    with pytest.raises(RefusedError, match=words):
        request(question)


def test_a_question_that_does_not_fail_is_answered():
    assert request(answers) == 42
