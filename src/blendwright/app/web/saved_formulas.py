"""Saved formulas: each save a version under a name, every one to be had back, renamed or deleted.

Save stands beside the formula and takes its name; Open shows what there is: saved versions, what
other windows work on, a file, the example.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime

from nicegui import ui

from blendwright.app.web.session import Session
from blendwright.app.web.sheet import Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import confirmed, outline_button
from blendwright.app.web.work_store import Saved

LONGEST_NAME = 120


class SavedFormulas:
    """`pick_file` lets the person choose a file, `open_example` puts the example on the bench."""

    def __init__(
        self, session: Session, pick_file: Callable[[], object], open_example: Callable[[], object]
    ) -> None:
        self.session = session
        self.root = ui.context.client.content
        with ui.dialog() as self.dialog, ui.card().classes("talk"):
            self.dialog.props["aria-label"] = text("saved.title")
            with ui.element("h2"):
                ui.label(text("saved.title"))
            with ui.element("div").classes("buttons"):
                outline_button("saved.file", self._then_close(pick_file))
                outline_button("example", self._then_close(open_example))
            self.state = ui.label().classes("strong").props("role=status")
            self.place = ui.element("div")
            self.others = ui.element("div")
            with ui.element("div").classes("buttons"):
                if not session.services.lets_others_in:
                    outline_button("saved.adopt", self.adopt)
                outline_button("close", self.dialog.close)
            if not session.services.lets_others_in:
                ui.label(text("saved.adopt_why")).classes("quiet")

    def _then_close(self, action: Callable[[], object]) -> Callable[[], None]:
        def act() -> None:
            self.dialog.close()
            action()

        return act

    def open(self) -> None:
        """Show what is saved."""
        self.state.set_text("")
        self.show()
        self.dialog.open()

    async def save(self) -> None:
        """A version under the formula's name; one without a name is asked for one."""
        name = _tidy(self.session.sheet.name) or await self._asked_name(text("save"), "")
        if not name:
            return
        sheet = self.session.sheet
        saved = await asyncio.to_thread(
            self.session.services.store.save, self.session.owner, name, sheet
        )
        with self.root:
            ui.notify(text("saved.done", name=saved.name, number=saved.number))
        self._changed()

    async def adopt(self) -> None:
        count = await asyncio.to_thread(self.session.services.store.adopt_all, self.session.owner)
        self.state.set_text(text("saved.adopted", count=count))
        self._changed()

    def _changed(self) -> None:
        self.show()
        for listener in self.session.on_saved:
            listener()

    def show(self) -> None:
        """Lay out the versions, the latest first."""
        found = self.session.services.store.saved(self.session.owner)
        self.place.clear()
        with self.place:
            if not found:
                ui.label(text("saved.none")).classes("quiet")
            with ui.element("ul").classes("saved"):
                for one in found:
                    with ui.element("li"):
                        self._line(one)
        self._show_others()

    def _show_others(self) -> None:
        """What other windows were working on: kept as it was typed, and found again here."""
        session = self.session
        found = [
            d
            for d in session.services.store.documents(session.owner)
            if d.id != session.document.id
        ]
        self.others.clear()
        if not found:
            return
        with self.others:
            with ui.element("h3"):
                ui.label(text("saved.open_too"))
            with ui.element("ul").classes("saved"):
                for document in found:
                    said = text(
                        "saved.open_line",
                        name=_title(document.sheet),
                        when=local_time(document.changed_at),
                    )
                    with ui.element("li"):
                        ui.link(said, f"?document={document.id}").classes("file-link")

    def _line(self, one: Saved) -> None:
        when = local_time(one.saved_at)
        ui.label(text("saved.line", name=one.name, number=one.number, when=when))
        for key, action in (
            ("saved.restore", lambda: self.restore(one)),
            ("saved.rename", lambda: self.rename(one)),
            ("saved.delete", lambda: self.delete(one)),
        ):
            button = outline_button(key, action).props("dense")
            button.props["aria-label"] = text(f"{key}_it", title=one.title)

    def restore(self, one: Saved) -> None:
        self.dialog.close()
        self.session.change(one.sheet.tidied())
        with self.root:
            ui.notify(text("saved.restored", title=one.title))

    async def rename(self, one: Saved) -> None:
        name = await self._asked_name(text("saved.rename_it", title=one.title), one.name)
        if name and name != one.name:
            try:
                self.session.services.store.rename(self.session.owner, one.work, name)
            except ValueError as error:
                self.state.set_text(str(error))
                return
            self._changed()

    async def delete(self, one: Saved) -> None:
        """For good, so it is asked first."""
        title = text("saved.delete_it", title=one.title)
        if not await confirmed(self.root, title, text("saved.for_good"), text("saved.delete")):
            return
        store = self.session.services.store
        await asyncio.to_thread(store.delete, self.session.owner, one.work, one.number)
        self.state.set_text(text("saved.deleted", title=one.title))
        self._changed()

    async def _asked_name(self, title: str, before: str) -> str:
        with self.root, ui.dialog() as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = title
            with ui.element("h2"):
                ui.label(title)
            field = ui.input(label=text("saved.name"), value=before)
            field.props("outlined dense stack-label autofocus").classes("wide")
            field.on("keydown.enter", lambda: dialog.submit(field.value))
            with ui.element("div").classes("buttons"):
                outline_button("cancel", lambda: dialog.submit(None))
                outline_button("saved.take_name", lambda: dialog.submit(field.value))
        name = _tidy(str(await dialog or ""))
        dialog.delete()
        return name


def local_time(at: str) -> str:
    """A moment kept in UTC, as the clock of this computer tells it."""
    return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")


def _tidy(name: str) -> str:
    return " ".join(name.split())[:LONGEST_NAME]


def _title(sheet: Sheet) -> str:
    """A formula's name, or its first materials."""
    names = [line.material.strip() for line in sheet.written if line.material.strip()]
    return sheet.name.strip() or ", ".join(names[:3])
