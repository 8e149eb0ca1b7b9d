"""The open windows of one server, and which of them may change a document: one at a time.

A window that opens a document which another one has is told so before it can change anything: it
goes on with a copy, or takes the document over, and then the other one is told. A page that is laid
out anew in the same browser tab has what the tab had.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field, replace
from typing import Protocol

from blendwright.app.web.sheet import History, Sheet
from blendwright.app.web.work_store import OpenDocument


class Window(Protocol):
    """What is asked of a window. `tab` is the browser's, "" before it is reached; `holds` says
    whether it may change its document."""

    document: OpenDocument
    history: History
    owner: str
    tab: str
    holds: bool

    @property
    def sheet(self) -> Sheet: ...

    def keep_now(self) -> bool:
        """Keep what isn't kept yet, if it holds the document."""
        ...

    def hold(self) -> None:
        """It has the document now."""
        ...

    def lose(self) -> None:
        """Another window has the document."""
        ...

    def move_to(self, document: OpenDocument) -> None:
        """Go on at another document, which it has."""
        ...

    def close(self) -> None:
        """It is gone."""
        ...


@dataclass
class Windows:
    """All windows of one server, the latest last; `_holders` are those that may change theirs."""

    _open: list[Window] = field(default_factory=list)
    _holders: dict[str, Window] = field(default_factory=dict)

    def keep_all(self, owner: str) -> None:
        """Have all windows of one browser keep what isn't kept yet: another one is about to open,
        and must see it."""
        for window in self._open:
            if window.owner == owner:
                window.keep_now()

    def opened(self, window: Window) -> None:
        """A window more. It may change nothing yet. Laid out anew, it keeps the steps to undo."""
        before = next(
            (w for w in reversed(self._open) if w.document.id == window.document.id), None
        )
        if before is not None and before.owner == window.owner and before.sheet == window.sheet:
            window.history = before.history.copied()
        self._open.append(window)

    def connected(self, window: Window, tab: str) -> None:
        """A window has reached its browser's tab: it gets its document, or is told who has it."""
        window.tab = tab
        holder = self._holders.get(window.document.id)
        if holder is None or holder is window or holder.tab == tab:
            self._give(window)
        elif window.sheet.is_blank:
            self.copy(window)  # nothing that two could disagree on
        else:
            window.lose()

    def take_over(self, window: Window) -> None:
        """This window goes on with the document; the one that had it is told."""
        holder = self._holders.get(window.document.id)
        if holder is not None and holder is not window:
            holder.keep_now()
            holder.lose()
        self._give(window)

    def copy(self, window: Window) -> None:
        """This window goes on with a document of its own."""
        before = window.document.id
        window.move_to(replace(window.document, id=secrets.token_hex(8), revision=0))
        self._holders[window.document.id] = window
        self._pass_on(before, window)

    def left(self, window: Window) -> None:
        """A window less."""
        window.close()
        self._open.remove(window)
        self._pass_on(window.document.id, window)

    def _pass_on(self, document: str, window: Window) -> None:
        """What a window had and has no more goes to one that waits for it."""
        if self._holders.get(document) is not window:
            return
        del self._holders[document]
        waiting = (w for w in self._open if w.document.id == document and w.tab)
        if (heir := next(waiting, None)) is not None:
            self._give(heir)

    def _give(self, window: Window) -> None:
        before = self._holders.get(window.document.id)
        if before is not None and before is not window:
            before.keep_now()
            before.holds = False
        self._holders[window.document.id] = window
        window.hold()
