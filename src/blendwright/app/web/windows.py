"""The open windows of one server, and which of them may change a desk: one at a time.

A window that opens a desk which another one has is told so before it can change anything: it goes
on with a copy, or takes the desk over, and then the other one is told. A page that is laid out anew
in the same browser tab has what the tab had.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from blendwright.app.web.bench import Bench


@dataclass
class Windows:
    """All windows of one server, the latest last; `_holders` says which may change which desk."""

    _open: list[Bench] = field(default_factory=list)
    _holders: dict[str, Bench] = field(default_factory=dict)

    def keep_all(self, owner: str) -> None:
        """Have all windows of one browser keep what isn't kept yet: another one is about to open,
        and must see it."""
        for bench in self._open:
            if bench.owner == owner:
                bench.keep_now()

    def opened(self, bench: Bench) -> None:
        """A window more. It may change nothing yet. Laid out anew, it keeps the steps to undo."""
        before = next((b for b in reversed(self._open) if b.desk.id == bench.desk.id), None)
        if before is not None and before.owner == bench.owner and before.sheet == bench.sheet:
            bench.history = before.history.copied()
        self._open.append(bench)

    def connected(self, bench: Bench, tab: str) -> None:
        """A window has reached its browser's tab: it gets its desk, or is told who has it."""
        bench.tab = tab
        holder = self._holders.get(bench.desk.id)
        if holder is None or holder is bench or holder.tab == tab:
            self._give(bench)
        elif bench.sheet.is_blank:
            self.copy(bench)  # nothing that two could disagree on
        else:
            bench.lose()

    def take_over(self, bench: Bench) -> None:
        """This window goes on with the desk; the one that had it is told."""
        holder = self._holders.get(bench.desk.id)
        if holder is not None and holder is not bench:
            holder.keep_now()
            holder.lose()
        self._give(bench)

    def copy(self, bench: Bench) -> None:
        """This window goes on with a desk of its own."""
        if self._holders.get(bench.desk.id) is bench:
            del self._holders[bench.desk.id]
        bench.move_to(replace(bench.desk, id=secrets.token_hex(8), revision=0))
        self._holders[bench.desk.id] = bench
        if bench.on_holding is not None:
            bench.on_holding(True)

    def left(self, bench: Bench) -> None:
        """A window less. Another one that waits for its desk gets it."""
        bench.close()
        self._open.remove(bench)
        if self._holders.get(bench.desk.id) is bench:
            del self._holders[bench.desk.id]
            waiting = (b for b in self._open if b.desk.id == bench.desk.id and b.tab)
            if (heir := next(waiting, None)) is not None:
                self._give(heir)

    def _give(self, bench: Bench) -> None:
        before = self._holders.get(bench.desk.id)
        if before is not None and before is not bench:
            before.keep_now()
            before.holds = False
        self._holders[bench.desk.id] = bench
        bench.hold()
