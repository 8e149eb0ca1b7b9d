"""One window without a browser: a failed answer is told, and the next one still comes."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import cast

from blendwright.app.settings import Settings
from blendwright.app.web.answers import Amounts
from blendwright.app.web.session import Services, Session
from blendwright.app.web.sheet import Line, Sheet
from blendwright.app.web.work_store import WorkStore
from blendwright.app.web.worker_pool import RefusedError, WorkerPool
from blendwright.mixture.weighing import DROP_mL

SHEET = Sheet("pear", "", (Line("vanillin", "1"),)).tidied()


class Failing:
    """Hands that refuse every question about vanillin."""

    has_idle_worker = True

    def idlest_worker(self) -> int:
        return 0

    async def interactive(
        self, worker: int, function: Callable[..., object], request: object
    ) -> object:
        await asyncio.sleep(0.0)
        if "vanillin" in str(request):
            raise RefusedError("no answer")
        return Amounts((), ())


def window(folder: Path) -> Session:
    services = Services(folder, WorkStore(folder), cast(WorkerPool, Failing()))
    return Session(services, "ann", services.document("ann", ""))


def test_a_failed_answer_is_told_with_its_reason_and_the_next_one_comes(tmp_path: Path):
    session = window(tmp_path)
    told: list[str] = []
    reasons: list[str] = []
    session.listeners.append(told.append)
    session.on_trouble = reasons.append

    async def ask(sheet: Sheet) -> None:
        session.history.change(sheet)
        session._serial += 1
        await session._compute()

    asyncio.run(ask(SHEET))
    assert (told[-1], reasons) == ("failed", ["no answer"])
    assert not session.is_fresh
    asyncio.run(ask(SHEET.with_cell(0, "material", "linalool")))
    assert told[-1] == "amounts"


def test_a_window_that_does_not_hold_its_desk_writes_nothing(tmp_path: Path):
    session = window(tmp_path)
    session.history.change(SHEET)
    assert not session.keep_now()
    assert session.services.store.open_document("ann", session.document.id).revision == 0
    session.holds = True
    assert session.keep_now()
    assert session.services.store.open_document("ann", session.document.id).sheet == SHEET


def test_what_is_kept_twice_at_the_same_time_is_no_change_by_another(tmp_path: Path):
    """A window about to be left keeps at once, maybe while its thread is keeping too."""
    session = window(tmp_path)
    session.holds = True

    async def both() -> None:
        for grams in range(20):
            session.history.change(SHEET.with_cell(0, "grams", str(grams + 1)))
            there = asyncio.create_task(asyncio.to_thread(session._keep))
            await asyncio.sleep(0.0)
            assert session.keep_now()
            await there

    asyncio.run(both())
    assert (
        session.services.store.open_document("ann", session.document.id).sheet.lines[0].grams
        == "20"
    )


def test_a_new_formula_begins_at_the_persons_own_bench_and_with_their_drop(tmp_path: Path):
    own = Sheet(bench_C=18.0, pressure_kPa=89.87).tidied()
    services = Services(tmp_path, WorkStore(tmp_path), cast(WorkerPool, Failing()), blank=own)
    services.settings = Settings(drop_mL=0.03)
    assert services.document("ann", "").sheet == own
    assert services.drop_mL == 0.03
    assert window(tmp_path).sheet == Sheet().tidied()
    assert window(tmp_path).services.drop_mL == DROP_mL
