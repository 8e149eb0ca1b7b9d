"""What reading a file or pasted rows left open: above the answer, until the person has seen it."""

from __future__ import annotations

from dataclasses import replace

from nicegui import ui

from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import findings_list
from blendwright.formula import Notice
from blendwright.verdict.as_read import as_read


class ReadNotices:
    """The sheet's notices, kept in step with it. Undo brings back what was hidden."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._shown: tuple[Notice, ...] = ()
        self.box = ui.element("section").classes("as-read").props("role=status")
        self.box.props["aria-label"] = text("read.title")
        with self.box:
            with ui.element("h2"):
                ui.label(text("read.title"))
            self.place = ui.element("div")
            button = ui.button(text("read.hide"), on_click=self._hide)
            button.props("outline dense no-caps")
        self.box.set_visibility(False)
        session.on_sheet.append(self.show)
        self.show()

    def show(self) -> None:
        """Make it show the sheet's notices."""
        notices = self.session.sheet.notices
        if notices == self._shown:
            return
        self._shown = notices
        self.place.clear()
        with self.place:
            findings_list(as_read(notices))
        self.box.set_visibility(bool(notices))

    def _hide(self) -> None:
        self.session.change(replace(self.session.sheet, notices=()))
