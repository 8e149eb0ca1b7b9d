"""What reading a file or pasted rows left open: above the answer, until the person has seen it."""

from __future__ import annotations

from dataclasses import replace

from nicegui import ui

from blendwright.app.web.bench import Bench
from blendwright.app.web.pieces import findings_list
from blendwright.formula import Notice
from blendwright.verdict.as_read import as_read


class ReadNotices:
    """The sheet's notices, kept in step with it. Undo brings back what was hidden."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._shown: tuple[Notice, ...] = ()
        self.box = ui.element("section").classes("as-read").props("role=status")
        self.box.props["aria-label"] = bench.texts("read.title")
        with self.box:
            with ui.element("h2"):
                ui.label(bench.texts("read.title"))
            self.place = ui.element("div")
            button = ui.button(bench.texts("read.hide"), on_click=self._hide)
            button.props("outline dense no-caps")
        self.box.set_visibility(False)
        bench.on_sheet.append(self.show)
        self.show()

    def show(self) -> None:
        """Make it show the sheet's notices."""
        notices = self.bench.sheet.notices
        if notices == self._shown:
            return
        self._shown = notices
        self.place.clear()
        with self.place:
            findings_list(as_read(notices), self.bench.texts)
        self.box.set_visibility(bool(notices))

    def _hide(self) -> None:
        self.bench.change(replace(self.bench.sheet, notices=()))
