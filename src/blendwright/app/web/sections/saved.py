"""Saved work: each save a version under a name, every one to be had back."""

from __future__ import annotations

import asyncio

from nicegui import ui

from blendwright.app.web.bench import Bench
from blendwright.app.web.sections.section import Section
from blendwright.app.web.state import Sheet
from blendwright.app.web.work_store import Saved

LONGEST_NAME = 120


class SavedWork:
    """A name and a button; below it the versions, the latest first."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        text = bench.texts
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.save)
            self.name = ui.input(label=text("saved.name"), value=bench.sheet.name)
            self.name.props("outlined dense stack-label hide-bottom-space")
            self.name.classes("ask-field wide")
            ui.button(text("saved.ask")).props("no-caps unelevated type=submit").classes("do")
        self.state = ui.label().classes("quiet").props("role=status")
        self.place = ui.element("div").classes("answer")
        self.others = ui.element("div")
        if not bench.services.lets_others_in:
            ui.button(text("saved.adopt"), on_click=self.adopt).props("flat no-caps").classes("do")
            ui.label(text("saved.adopt_why")).classes("quiet")
        self.show()

    async def save(self) -> None:
        name = " ".join(str(self.name.value or "").split())[:LONGEST_NAME]
        text = self.bench.texts
        name = name or self.bench.sheet.name.strip() or text("saved.unnamed")
        saved = await asyncio.to_thread(
            self.bench.services.store.save, self.bench.owner, name, self.bench.sheet
        )
        self.state.set_text(text("saved.done", name=saved.name, number=saved.number))
        self._changed()

    async def adopt(self) -> None:
        count = await asyncio.to_thread(self.bench.services.store.adopt_all, self.bench.owner)
        self.state.set_text(self.bench.texts("saved.adopted", count=count))
        self._changed()

    def _changed(self) -> None:
        self.show()
        for listener in self.bench.on_saved:
            listener()

    def show(self) -> None:
        text = self.bench.texts
        found = self.bench.services.store.saved(self.bench.owner)
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
        text, bench = self.bench.texts, self.bench
        found = [d for d in bench.services.store.desks(bench.owner) if d.id != bench.desk.id]
        self.others.clear()
        if not found:
            return
        with self.others:
            with ui.element("h4"):
                ui.label(text("saved.open_too"))
            with ui.element("ul").classes("saved"):
                for desk in found:
                    said = text(
                        "saved.open_line", name=_title(desk.sheet), when=_when(desk.changed_at)
                    )
                    with ui.element("li"):
                        ui.link(said, f"?desk={desk.id}").classes("file-link")

    def _line(self, one: Saved) -> None:
        text = self.bench.texts
        when = _when(one.saved_at)
        ui.label(text("saved.line", name=one.name, number=one.number, when=when))
        button = ui.button(text("saved.restore"), on_click=lambda: self.restore(one))
        button.props("outline dense no-caps").classes("do")
        button.props["aria-label"] = text("saved.restore_it", title=one.title)
        other = ui.button(text("saved.rename"), on_click=lambda: self.rename(one))
        other.props("flat dense no-caps").classes("do")
        other.props["aria-label"] = text("saved.rename_it", title=one.title)

    def restore(self, one: Saved) -> None:
        self.bench.change(one.sheet.tidied())
        self.state.set_text(self.bench.texts("saved.restored", title=one.title))

    async def rename(self, one: Saved) -> None:
        text = self.bench.texts
        with self.place, ui.dialog() as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text("saved.rename_it", title=one.title)
            field = ui.input(label=text("saved.name"), value=one.name)
            field.props("outlined dense stack-label").classes("wide")
            with ui.element("div").classes("buttons"):
                ui.button(text("cancel"), on_click=lambda: dialog.submit(None)).props(
                    "flat no-caps"
                )
                ui.button(text("saved.rename"), on_click=lambda: dialog.submit(field.value)).props(
                    "no-caps unelevated"
                )
        name = " ".join(str(await dialog or "").split())[:LONGEST_NAME]
        if name and name != one.name:
            try:
                self.bench.services.store.rename(self.bench.owner, one.work, name)
            except ValueError as error:
                self.state.set_text(str(error))
                return
            self._changed()


def _when(at: str) -> str:
    return at[:16].replace("T", " ")


def _title(sheet: Sheet) -> str:
    """A formula's name, or its first materials."""
    names = [line.material.strip() for line in sheet.written if line.material.strip()]
    return sheet.name.strip() or ", ".join(names[:3])


SECTION = Section("saved", SavedWork)
