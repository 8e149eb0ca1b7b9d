"""My materials: what the person's own bottles and data sheets say; they win over the catalogue."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from nicegui import events, ui

from blendwright.app.settings import OWN_MATERIALS_FILE
from blendwright.app.web.jobs import CheckedMaterials, check_own_materials
from blendwright.app.web.own_table import (
    FIELDS,
    OwnMaterial,
    Row,
    field_of,
    form_of,
    own_materials,
    read_table,
    replaced,
    rows_of_form,
    without,
    write_table,
)
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import (
    clear_errors,
    confirmed,
    outline_button,
    show_error,
    words_field,
)
from blendwright.app.web.worker_pool import RefusedError
from blendwright.errors import FormulaError
from blendwright.formula.table_files import MOST_BYTES

WIDE = ("name", "source", "solvent", "constituents")


class MyMaterials:
    """The materials that are kept, each to be edited or deleted; a form; a file to bring in."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.root = ui.context.client.content
        self.editing = ""  # the material that the form shows, "" for a new one
        ui.label(text("own.about")).classes("quiet")
        self.list = ui.element("ul").classes("saved")
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.keep_form)
            self.title = ui.label(text("own.new")).classes("table-head full")
            self.fields = {key: words_field(text(f"own.{key}")) for key in FIELDS}
            for key in WIDE:
                self.fields[key].classes(add="wide", remove="ask-field")
            ui.button(text("own.ask")).props("no-caps unelevated type=submit").classes("do")
            self.cancel = outline_button("cancel", self._new).classes("do")
        self.cancel.set_visibility(False)
        self.state = ui.label().props("role=status").classes("state pre")
        with ui.element("div").classes("buttons"):
            self.upload = ui.upload(
                label=text("own.file"),
                auto_upload=True,
                max_file_size=MOST_BYTES,
                on_upload=self.bring_in,
                on_rejected=lambda: self._say(text("file.too_large")),
            ).classes("hidden-upload")
            outline_button("own.file", lambda: self.upload.run_method("pickFiles"))
            outline_button("own.download", self.download)
        self._show()

    @property
    def file(self) -> Path:
        return self.session.services.folder / OWN_MATERIALS_FILE

    def _say(self, words: str) -> None:
        self.state.set_text(words)

    # The materials that are kept

    def _rows(self) -> list[Row]:
        """Raises FormulaError, OSError."""
        return read_table(self.file) if self.file.is_file() else []

    def _show(self) -> None:
        self.list.clear()
        try:
            found = own_materials(self._rows())
        except (FormulaError, OSError) as error:
            self._say(str(error))
            return
        with self.list:
            if not found:
                with ui.element("li"):
                    ui.label(text("own.none")).classes("quiet")
            for one in found:
                with ui.element("li"):
                    self._line(one)

    def _line(self, one: OwnMaterial) -> None:
        with ui.element("div"):
            ui.label(one.name).classes("strong")
            ui.label(one.words).classes("quiet")
        for key, action in (
            ("own.edit", lambda: self.edit(one)),
            ("own.delete", lambda: self.delete(one)),
        ):
            button = outline_button(key, action).props("dense")
            button.props["aria-label"] = text(f"{key}_it", name=one.name)

    def edit(self, one: OwnMaterial) -> None:
        """Show a material in the form."""
        self._fill(form_of(one))
        self.editing = one.name
        self.title.set_text(text("own.edit_it", name=one.name))
        self.cancel.set_visibility(True)
        self._say("")
        self.fields["name"].run_method("focus")

    async def delete(self, one: OwnMaterial) -> None:
        title = text("own.delete_it", name=one.name)
        if not await confirmed(self.root, title, text("own.for_good"), text("own.delete")):
            return
        if await self._keep(without(self._rows(), one.name), text("own.deleted", name=one.name)):
            self._new()

    # The form

    def _fill(self, shown: dict[str, str]) -> None:
        clear_errors(self.fields.values())
        for key, field in self.fields.items():
            field.value = shown.get(key, "")

    def _new(self) -> None:
        self._fill({})
        self.editing = ""
        self.title.set_text(text("own.new"))
        self.cancel.set_visibility(False)

    async def keep_form(self) -> None:
        clear_errors(self.fields.values())
        answers = {key: str(field.value or "").strip() for key, field in self.fields.items()}
        new = rows_of_form(answers, date.today())
        if not answers["name"]:
            show_error(self.fields["name"], text("own.nameless"))
            return
        if not new:
            self._say(text("own.nothing"))
            return
        try:
            rows = replaced(self._rows(), self.editing or answers["name"], new)
        except (FormulaError, OSError) as error:
            self._say(str(error))
            return
        if await self._keep(rows, text("own.done", name=answers["name"]), answers["name"]):
            self._new()

    async def bring_in(self, event: events.UploadEventArguments) -> None:
        """All facts of a file, added to those that are kept."""
        self.upload.reset()
        content = await event.file.read()
        trial = self.file.with_name("brought-in.csv")
        if content.startswith(b"PK"):
            trial = trial.with_suffix(".xlsx")
        try:
            trial.parent.mkdir(parents=True, exist_ok=True)
            trial.write_bytes(content)
            rows = [*self._rows(), *await asyncio.to_thread(read_table, trial)]
        except (FormulaError, OSError) as error:
            self._say(str(error).replace(trial.name, event.file.name))
            return
        finally:
            trial.unlink(missing_ok=True)
        await self._keep(rows, text("own.brought_in", name=event.file.name))

    async def _keep(self, rows: Sequence[Row], done: str, name: str = "") -> bool:
        """Write the table, if all of it can be used then. `name` is the form's material: what is
        wrong with it is said at its field."""
        trial = self.file.with_name(OWN_MATERIALS_FILE + ".new.csv")
        try:
            checked = CheckedMaterials((), ())
            if rows:
                await asyncio.to_thread(write_table, trial, rows)
                checked = await self.session.services.workers.background(
                    check_own_materials, str(trial)
                )
            if checked.problems:
                self._show_problems(checked, rows, name)
                return False
            if rows:
                trial.replace(self.file)
            else:
                self.file.unlink(missing_ok=True)
        except (RefusedError, FormulaError, OSError) as error:
            self._say(str(error).replace(f"{trial.name}: ", ""))
            return False
        finally:
            trial.unlink(missing_ok=True)
        self._say(done)
        self._show()
        for listener in self.session.on_materials:
            listener()
        self.session.ask()
        return True

    def _show_problems(self, checked: CheckedMaterials, rows: Sequence[Row], name: str) -> None:
        elsewhere = []
        for problem in checked.problems:
            key = field_of(problem, rows, name)
            if key:
                show_error(self.fields[key], problem.message)
            else:
                elsewhere.append(str(problem))
        self._say("\n".join(elsewhere))

    def download(self) -> None:
        if self.file.is_file():
            ui.download.content(self.file.read_bytes(), OWN_MATERIALS_FILE, "text/csv")
        else:
            self._say(text("own.none"))
