"""One browser window: its formula, what is reckoned of it, and what is kept.

Each change is reckoned at once; while one is under way only the latest of those that came after is
reckoned next, by another process where one is free, so a fast typist never waits for answers to
what is no longer there. Parts of an answer are told as they come; until then the window is stale,
and says so.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, TypeVar

from nicegui import background_tasks

from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError
from blendwright.usable import OWN_FILE
from blendwright.web.answers import (
    Amounts,
    Asked,
    Everything,
    Verdicts,
    amounts,
    catalogue_of,
    everything,
    is_beyond,
    verdicts,
)
from blendwright.web.hands import Hands, RefusedError
from blendwright.web.ready import ReadyFiles
from blendwright.web.seen import seen_file, stamp_of
from blendwright.web.state import History, Sheet
from blendwright.web.texts import Texts
from blendwright.web.units import Units
from blendwright.web.work_store import Desk, ElsewhereError, WorkStore

Found = TypeVar("Found")
KEEP_AFTER_s = 0.25
STALE_AFTER_s = 0.05
Part = Literal["stale", "amounts", "verdicts", "everything"]


def _let_go(part: asyncio.Future[Found]) -> None:
    """An answer that nobody waits for may be a refusal; nobody is to be told."""
    if not part.cancelled():
        part.exception()


@dataclass
class Services:
    """What all windows of one server share."""

    folder: Path
    store: WorkStore
    hands: Hands
    lets_others_in: bool = False
    ready: ReadyFiles = field(default_factory=ReadyFiles)

    beyond: dict[str, bool] = field(default_factory=dict)
    _benches: dict[str, Bench] = field(default_factory=dict)

    def opened(self, bench: Bench) -> None:
        """A window more. Laid out anew, it keeps the steps that it can undo."""
        before = self._benches.get(bench.desk.id)
        if before is not None and before.owner == bench.owner and before.sheet == bench.sheet:
            bench.history = before.history.copied()
        self._benches[bench.desk.id] = bench

    def left(self, bench: Bench) -> None:
        """A window less."""
        bench.close()
        if self._benches.get(bench.desk.id) is bench:
            del self._benches[bench.desk.id]

    @property
    def materials(self) -> tuple[str, int]:
        """The file of the person's own materials and its age; ("", 0) where there is none."""
        file = self.folder / OWN_FILE
        if not file.is_file():
            return "", 0
        return str(file), file.stat().st_mtime_ns

    def observations(self, owner: str) -> Path:
        """The file of this owner's observations, whether it is there or not."""
        return seen_file(self.folder, owner if self.lets_others_in else "")


@dataclass
class Answer:
    """What is known of the sheet that was asked about last."""

    asked: Asked
    amounts: Amounts
    verdicts: Verdicts | None = None
    everything: Everything | None = None


@dataclass
class Bench:
    """A window. `listeners` are called with the part of the answer that has just come."""

    services: Services
    owner: str
    desk: Desk
    texts: Texts
    units: Units = field(default_factory=Units)
    history: History = field(default_factory=History)
    typing: int | None = None
    answer: Answer | None = None
    listeners: list[Callable[[Part], None]] = field(default_factory=list)
    on_sheet: list[Callable[[], None]] = field(default_factory=list)
    on_saved: list[Callable[[], None]] = field(default_factory=list)
    on_materials: list[Callable[[], None]] = field(default_factory=list)
    on_material: Callable[[str], None] | None = None
    wanted_material: str = ""
    on_elsewhere: Callable[[ElsewhereError], None] | None = None
    on_trouble: Callable[[str], None] | None = None
    closed: bool = False
    _serial: int = 0
    _newer: asyncio.Event = field(default_factory=asyncio.Event)
    _reckoning: bool = False
    _keeping: bool = False
    _kept: Sheet | None = None

    def __post_init__(self) -> None:
        self.history.now = self.desk.sheet.tidied()
        self._kept = self.history.now

    # The formula

    @property
    def sheet(self) -> Sheet:
        return self.history.now

    def change(self, sheet: Sheet, mark: str = "", redraw: bool = True) -> None:
        """Another state of the formula; `redraw` False where the grid shows it already."""
        if self.history.change(sheet, mark):
            self._changed(redraw)

    def undo(self) -> None:
        if self.history.undo():
            self._changed(True)

    def redo(self) -> None:
        if self.history.redo():
            self._changed(True)

    def _changed(self, redraw: bool) -> None:
        if redraw:
            self._tell("stale")
            self.redraw()
        self.ask()
        self.keep()

    def redraw(self) -> None:
        for listener in self.on_sheet:
            listener()

    # The answer

    def asked(self) -> Asked:
        names = {n for line in self.sheet.lines for n in (line.material, line.carrier)}
        known = self.services.beyond
        beyond = tuple(sorted(n.strip() for n in names if known.get(n.strip())))
        return replace(self.asked_about(self.sheet), typing=self.typing, beyond=beyond)

    def asked_about(self, sheet: Sheet) -> Asked:
        """Another formula, with this window's drop and the person's materials and observations."""
        path, stamp = self.services.materials
        seen, age = stamp_of(self.services.observations(self.owner))
        return Asked(sheet, None, self.units.drop_mL, path, stamp, (), seen, age)

    def catalogue(self) -> Catalogue:
        """Ours and theirs; ours alone where theirs can't be read (the answer says so)."""
        path, stamp = self.services.materials
        try:
            return catalogue_of(path, stamp)
        except BlendwrightError:
            return catalogue_of("", 0)

    @property
    def is_fresh(self) -> bool:
        """Whether all of the answer is there, for the formula as it stands."""
        found = self.answer
        return found is not None and found.asked == self.asked() and not self._reckoning

    def ask(self) -> None:
        """Have the formula reckoned as it stands now."""
        self._serial += 1
        self._newer.set()
        if not self._reckoning:
            self._reckoning = True
            background_tasks.create(self._reckon(), name="reckon")

    async def _reckon(self) -> None:
        try:
            serial = -1
            while serial != self._serial and not self.closed:
                serial = self._serial
                await self._reckon_once(serial)
        except RefusedError as error:
            self.trouble(str(error))
        finally:
            self._reckoning = False

    async def _reckon_once(self, serial: int) -> None:
        self._newer.clear()
        asked = self.asked()
        hand = self.services.hands.free_hand()
        soon = asyncio.get_running_loop().call_later(STALE_AFTER_s, self._tell, "stale")
        try:
            first = await self._part(hand, amounts, asked)
        finally:
            soon.cancel()
        self._tell("stale")  # in one message with the first part
        if first is None or serial != self._serial:
            return
        self.answer = Answer(asked, first)
        self._tell("amounts")
        self._look_beyond(first)
        if not first.rows:
            return
        self.answer.verdicts = await self._part(hand, verdicts, asked)
        if serial != self._serial:
            return
        self._tell("verdicts")
        self.answer.everything = await self._part(hand, everything, asked)
        if serial == self._serial:
            self._tell("everything")

    async def _part(
        self, hand: int, function: Callable[[Asked], Found | None], asked: Asked
    ) -> Found | None:
        """One part of the answer. None where the formula is another one by then and another hand
        is free for it: this one ends what it does for nobody. Raises RefusedError."""
        hands = self.services.hands
        part = asyncio.ensure_future(hands.quick(hand, function, asked))
        newer = asyncio.ensure_future(self._newer.wait())
        try:
            await asyncio.wait((part, newer), return_when=asyncio.FIRST_COMPLETED)
        finally:
            newer.cancel()
        if part.done() or not hands.has_a_free_one:
            return await part
        part.add_done_callback(_let_go)
        return None

    def _look_beyond(self, found: Amounts) -> None:
        """Names that the catalogue doesn't have are looked up in the wider library, once each."""
        for problem in found.problems:
            if problem.unknown and problem.unknown not in self.services.beyond:
                self.services.beyond[problem.unknown] = False
                background_tasks.create(self._find_beyond(problem.unknown), name="beyond")

    async def _find_beyond(self, name: str) -> None:
        if await self.services.hands.slow(is_beyond, self.asked(), name):
            self.services.beyond[name] = True
            if not self.closed:
                self.ask()

    def _tell(self, part: Part) -> None:
        if self.closed:
            return
        for listener in list(self.listeners):
            listener(part)

    def trouble(self, words: str) -> None:
        """Tell what went wrong; no words take back what was told."""
        if self.on_trouble is not None and not self.closed:
            self.on_trouble(words)

    # Keeping

    def keep(self) -> None:
        """Save soon, once for several keystrokes."""
        if not self._keeping:
            self._keeping = True
            background_tasks.create(self._keep_soon(), name="keep")

    async def _keep_soon(self) -> None:
        try:
            while self.sheet != self._kept and not self.closed:
                await asyncio.sleep(KEEP_AFTER_s)
                sheet = self.sheet
                await asyncio.to_thread(self._keep, sheet)
        except ElsewhereError as elsewhere:
            if self.on_elsewhere is not None and not self.closed:
                self.on_elsewhere(elsewhere)
        except OSError as error:
            self.trouble(str(error))
        finally:
            self._keeping = False

    def _keep(self, sheet: Sheet) -> None:
        self.desk = self.services.store.keep_desk(self.owner, replace(self.desk, sheet=sheet))
        self._kept = sheet

    def keep_now(self) -> None:
        """Keep what isn't kept yet, unless another window has it otherwise."""
        if self.sheet != self._kept:
            try:
                self._keep(self.sheet)
            except (ElsewhereError, OSError):
                return

    def close(self) -> None:
        """The window is gone."""
        self.closed = True
        self.keep_now()

    def keep_both(self, desk: Desk) -> None:
        """Go on at a desk of its own."""
        self.desk = desk
        self.keep()

    def take(self, elsewhere: ElsewhereError) -> None:
        """Show what the other window has; undo brings back what was here."""
        self.desk = replace(self.desk, revision=elsewhere.revision, sheet=elsewhere.sheet)
        self._kept = elsewhere.sheet
        self.history.change(elsewhere.sheet)
        self.redraw()
        self.ask()
