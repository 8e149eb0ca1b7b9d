"""One browser window: its formula, what is computed of it, and what is kept.

Each change is computed at once; while one is under way only the latest of those that came after is
computed next, by another process where one is free, so a fast typist never waits for answers to
what is no longer there. Parts of an answer are told as they come; until then the window is stale,
and says so.
"""

from __future__ import annotations

import asyncio
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, TypeVar

from nicegui import background_tasks

from blendwright.app.settings import OWN_MATERIALS_FILE, Settings
from blendwright.app.web.answers import (
    Amounts,
    Everything,
    Request,
    amounts,
    catalogue_of,
    everything,
    glance,
    look_beyond,
)
from blendwright.app.web.downloads import Downloads
from blendwright.app.web.observation_files import file_age, observation_file
from blendwright.app.web.sheet import History, Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.windows import Windows
from blendwright.app.web.work_store import ElsewhereError, OpenDocument, WorkStore
from blendwright.app.web.worker_pool import RefusedError, WorkerPool
from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError
from blendwright.mixture.weighing import DROP_mL
from blendwright.report.answers_at_a_glance import Glance

Found = TypeVar("Found")
KEEP_AFTER_s = 0.25
STALE_AFTER_s = 0.05
Part = Literal["stale", "amounts", "glance", "everything", "failed", "conditions"]


def _let_go(part: asyncio.Future[Found]) -> None:
    """An answer that nobody waits for may be a refusal; nobody is to be told."""
    if not part.cancelled():
        part.exception()


@dataclass
class Services:
    """What all windows of one server share. `blank` is empty, at the person's own bench."""

    folder: Path
    store: WorkStore
    workers: WorkerPool
    lets_others_in: bool = False
    blank: Sheet = field(default_factory=lambda: Sheet().tidied())
    downloads: Downloads = field(default_factory=Downloads)
    windows: Windows = field(default_factory=Windows)
    settings: Settings = field(default_factory=Settings)
    beyond: set[str] = field(default_factory=set)  # names looked up in the wider library

    def document(self, owner: str, document: str) -> OpenDocument:
        """A document of this owner; one that is new begins at the person's own conditions."""
        self.windows.keep_all(owner)
        found = self.store.open_document(owner, document)
        return found if found.revision else replace(found, sheet=self.blank)

    @property
    def drop_mL(self) -> float:
        """The drop of the settings, or the usual one."""
        own = self.settings.drop_mL
        return DROP_mL if own is None else own

    @property
    def materials(self) -> tuple[str, int]:
        """The file of the person's own materials and its age; ("", 0) where there is none."""
        file = self.folder / OWN_MATERIALS_FILE
        if not file.is_file():
            return "", 0
        return str(file), file.stat().st_mtime_ns

    def observations(self, owner: str) -> Path:
        """The file of this owner's observations, whether it is there or not."""
        return observation_file(self.folder, owner if self.lets_others_in else "")


@dataclass
class SheetAnswer:
    """What is known of the sheet that was asked about last."""

    request: Request
    amounts: Amounts
    glance: Glance | None = None
    everything: Everything | None = None


@dataclass
class Session:
    """A window. `listeners` are called with the part of the answer that has just come."""

    services: Services
    owner: str
    document: OpenDocument
    history: History = field(default_factory=History)
    typing: int | None = None
    answer: SheetAnswer | None = None
    listeners: list[Callable[[Part], None]] = field(default_factory=list)
    on_sheet: list[Callable[[], None]] = field(default_factory=list)
    on_saved: list[Callable[[], None]] = field(default_factory=list)
    on_materials: list[Callable[[], None]] = field(default_factory=list)
    on_material: Callable[[str], None] | None = None
    wanted_material: str = ""
    on_elsewhere: Callable[[ElsewhereError], None] | None = None
    on_trouble: Callable[[str], None] | None = None
    on_holding: Callable[[bool], None] | None = None
    unread: tuple[str, ...] = ()  # fields above the grid whose value before is still in force
    tab: str = ""  # the browser's, once it is reached
    holds: bool = False  # whether this window may change its document
    closed: bool = False
    _serial: int = 0
    _newer: asyncio.Event = field(default_factory=asyncio.Event)
    _computing: bool = False
    _keeping: bool = False
    _seeking: set[str] = field(default_factory=set)  # names that are being looked up just now
    _kept: Sheet | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.history.now = self.document.sheet.tidied()
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
            self._report("stale")
            self.redraw()
        self.ask()
        self.keep()

    def redraw(self) -> None:
        for listener in self.on_sheet:
            listener()

    # The answer

    def request(self) -> Request:
        return replace(self.request_about(self.sheet), typing=self.typing)

    def request_about(self, sheet: Sheet) -> Request:
        """Another formula, with this window's drop and the person's materials and observations."""
        materials, age_ns = self.services.materials
        observations, seen_ns = file_age(self.services.observations(self.owner))
        names = {n.strip() for line in sheet.lines for n in (line.material, line.carrier)}
        beyond = tuple(sorted(names & self.services.beyond))
        return Request(
            sheet, None, self.services.drop_mL, materials, age_ns, beyond, observations, seen_ns
        )

    @property
    def counts_observations(self) -> bool:
        """Whether what the bench saw moves an answer about the formula as it was asked last."""
        found = self.answer
        if found is None or found.everything is None:
            return False
        return any(not one.why_not for one in found.everything.observations)

    def catalogue(self) -> Catalogue:
        """Ours and theirs; ours alone where theirs can't be read (the answer says so)."""
        materials, age_ns = self.services.materials
        try:
            return catalogue_of(materials, age_ns)
        except BlendwrightError:
            return catalogue_of("", 0)

    @property
    def is_fresh(self) -> bool:
        """Whether all of the answer is there, for the formula as it stands."""
        found = self.answer
        return found is not None and found.request == self.request() and not self._computing

    def ask(self) -> None:
        """Have the formula computed as it stands now."""
        self._serial += 1
        self._newer.set()
        if not self._computing:
            self._computing = True
            background_tasks.create(self._compute(), name="compute")

    async def _compute(self) -> None:
        try:
            serial = -1
            while serial != self._serial and not self.closed:
                serial = self._serial
                try:
                    await self._compute_once(serial)
                except RefusedError as error:
                    self._report("failed")
                    self.trouble(str(error))
        finally:
            self._computing = False

    async def _compute_once(self, serial: int) -> None:
        self._newer.clear()
        request = self.request()
        worker = self.services.workers.idlest_worker()
        soon = asyncio.get_running_loop().call_later(STALE_AFTER_s, self._report, "stale")
        try:
            first = await self._part(worker, amounts, request)
        finally:
            soon.cancel()
        self._report("stale")  # in one message with the first part
        if first is None or serial != self._serial:
            return
        self.answer = SheetAnswer(request, first)
        self._report("amounts")
        self._look_beyond(first)
        if not first.rows:
            return
        self.answer.glance = await self._part(worker, glance, request)
        if serial != self._serial:
            return
        self._report("glance")
        self.answer.everything = await self._part(worker, everything, request)
        if serial == self._serial:
            self._report("everything")

    async def _part(
        self, worker: int, function: Callable[[Request], Found | None], request: Request
    ) -> Found | None:
        """One part of the answer. None where the formula is another one by then and another worker
        is free for it: this one ends what it does for nobody. Raises RefusedError."""
        workers = self.services.workers
        part = asyncio.ensure_future(workers.interactive(worker, function, request))
        newer = asyncio.ensure_future(self._newer.wait())
        try:
            await asyncio.wait((part, newer), return_when=asyncio.FIRST_COMPLETED)
        finally:
            newer.cancel()
        if part.done() or not workers.has_idle_worker:
            return await part
        part.add_done_callback(_let_go)
        return None

    def _look_beyond(self, found: Amounts) -> None:
        """Names that the catalogue doesn't have are looked up in the wider library, once each."""
        for problem in found.problems:
            if problem.unknown and problem.unknown not in self._seeking:
                self._seeking.add(problem.unknown)
                background_tasks.create(self._find_beyond(problem.unknown), name="beyond")

    async def _find_beyond(self, name: str) -> None:
        try:
            await self.services.workers.background(look_beyond, self.request(), name)
            self.services.beyond.add(name)
        except RefusedError as error:
            self.trouble(str(error))
            return
        finally:
            self._seeking.discard(name)
        if not self.closed:
            self.ask()

    def report_conditions(self) -> None:
        """A field above the grid can't be read, or can be again; the answer is as it was."""
        self._report("conditions")

    def _report(self, part: Part) -> None:
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
        """Save soon, once for several keystrokes; nothing while another window has the document."""
        if self.holds and not self._keeping and self.sheet != self._kept:
            self._keeping = True
            background_tasks.create(self._keep_soon(), name="keep")

    async def _keep_soon(self) -> None:
        try:
            while self.holds and self.sheet != self._kept and not self.closed:
                await asyncio.sleep(KEEP_AFTER_s)
                await asyncio.to_thread(self._keep)
        except ElsewhereError as elsewhere:
            if self.on_elsewhere is not None and not self.closed:
                self.on_elsewhere(elsewhere)
        except (OSError, sqlite3.Error) as error:
            self.trouble(text("keep.failed", why=error))
        finally:
            self._keeping = False

    def _keep(self) -> None:
        with self._lock:
            sheet = self.sheet
            if not self.holds or sheet == self._kept:
                return
            self.document = self.services.store.keep_document(
                self.owner, replace(self.document, sheet=sheet)
            )
            self._kept = sheet

    def keep_now(self) -> bool:
        """Keep what isn't kept yet. Returns whether all is kept: another program may have changed
        the document, or the disk may be full."""
        try:
            self._keep()
        except (ElsewhereError, OSError, sqlite3.Error):
            return False
        return self.sheet == self._kept

    def close(self) -> None:
        """The window is gone."""
        self.keep_now()
        self.closed = True

    # Which window may change the document

    def hold(self) -> None:
        """This window may change its document; what another one has kept of it since is shown."""
        if not self.holds:
            found = self.services.store.open_document(self.owner, self.document.id)
            if found.revision > self.document.revision:
                self._show_kept(found)
            self.holds = True
        self.keep()
        if self.on_holding is not None:
            self.on_holding(True)

    def lose(self) -> None:
        """Another window has the document."""
        self.holds = False
        if self.on_holding is not None:
            self.on_holding(False)

    def move_to(self, document: OpenDocument) -> None:
        """Go on with the formula at a document of its own; an empty one is not kept yet."""
        with self._lock:
            self.document = document
            self.holds = True
            self._kept = self.sheet if self.sheet.is_blank else None
        self.keep()
        if self.on_holding is not None:
            self.on_holding(True)

    def take(self, elsewhere: ElsewhereError) -> None:
        """Show what another program has kept; undo brings back what was here."""
        self._show_kept(replace(self.document, revision=elsewhere.revision, sheet=elsewhere.sheet))

    def _show_kept(self, document: OpenDocument) -> None:
        with self._lock:
            self.document = document
            self._kept = document.sheet
        if self.history.change(document.sheet):
            self.redraw()
            self.ask()
