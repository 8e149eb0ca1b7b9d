"""My materials: what the person's own bottles and data sheets say; they win over the catalogue."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import date
from pathlib import Path

from nicegui import events, ui

from blendwright.app.settings import OWN_MATERIALS_FILE
from blendwright.app.web.jobs import check_own_materials
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.worker_pool import RefusedError
from blendwright.errors import FormulaError
from blendwright.formula.table_files import MOST_BYTES, table_cells
from blendwright.questions.materials.own import COLUMNS, QUESTIONS, ask_facts, table_text

Rows = list[dict[str, str]]


class MyMaterials:
    """Fields for one material, a file to bring in, and the names that are kept."""

    def __init__(self, session: Session) -> None:
        self.session = session
        ui.label(text("own.about")).classes("quiet")
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.add)
            keys = ("name", "source", "lot", *(fact for fact, _ in QUESTIONS), "constituents")
            self.fields = {key: self._field(text(f"own.{key}")) for key in keys}
            for key in ("name", "source", "solvent", "constituents"):
                self.fields[key].classes(add="wide", remove="ask-field")
            ui.button(text("own.ask")).props("no-caps unelevated type=submit").classes("do")
        with ui.element("div").classes("buttons"):
            self.upload = ui.upload(
                label=text("own.file"),
                auto_upload=True,
                max_file_size=MOST_BYTES,
                on_upload=self.bring_in,
                on_rejected=lambda: self._say(text("file.too_large")),
            ).classes("hidden-upload")
            ui.button(text("own.file"), on_click=lambda: self.upload.run_method("pickFiles")).props(
                "outline no-caps"
            ).classes("do")
            ui.button(text("own.download"), on_click=self.download).props(
                "outline no-caps"
            ).classes("do")
        self.state = ui.label().props("role=status").classes("state")
        self.kept = ui.label().classes("quiet")
        self._show()

    def _field(self, label: str) -> ui.input:
        field = ui.input(label=label).props("outlined dense stack-label hide-bottom-space")
        return field.classes("ask-field")

    @property
    def file(self) -> Path:
        return self.session.services.folder / OWN_MATERIALS_FILE

    def _say(self, words: str) -> None:
        self.state.set_text(words)

    def _show(self) -> None:
        names = self.session.catalogue().own_names()
        self.kept.set_text(text("own.kept", names=", ".join(names)) if names else text("own.none"))

    async def add(self) -> None:
        answers = {key: str(field.value or "").strip() for key, field in self.fields.items()}
        rows = ask_facts(_in_turn(list(answers.values())))
        if not rows:
            self._say(text("own.nothing"))
            return
        for row in rows:
            row.setdefault("date", date.today().isoformat())
        if await self._keep(rows):
            for field in self.fields.values():
                field.value = ""

    async def bring_in(self, event: events.UploadEventArguments) -> None:
        self.upload.reset()
        content = await event.file.read()
        trial = self.file.with_name("brought-in.csv")
        if content.startswith(b"PK"):
            trial = trial.with_suffix(".xlsx")
        try:
            trial.parent.mkdir(parents=True, exist_ok=True)
            trial.write_bytes(content)
            rows = await asyncio.to_thread(_rows_of, trial)
        except (FormulaError, OSError) as error:
            self._say(str(error).replace(trial.name, event.file.name))
            return
        finally:
            trial.unlink(missing_ok=True)
        await self._keep(rows)

    async def _keep(self, rows: Rows) -> bool:
        """Add facts to the kept file, if all of it can be used then."""
        trial = self.file.with_name(OWN_MATERIALS_FILE + ".new.csv")
        try:
            before = await asyncio.to_thread(_rows_of, self.file) if self.file.is_file() else []
            await asyncio.to_thread(_write, trial, [*before, *rows])
            names = await self.session.services.workers.background(check_own_materials, str(trial))
            trial.replace(self.file)
        except (RefusedError, FormulaError, OSError) as error:
            self._say(str(error).replace(f"{trial.name}: ", ""))
            return False
        finally:
            trial.unlink(missing_ok=True)
        self._say(text("own.done", count=len(names)))
        self._show()
        for listener in self.session.on_materials:
            listener()
        self.session.ask()
        return True

    def download(self) -> None:
        if self.file.is_file():
            ui.download.content(self.file.read_bytes(), OWN_MATERIALS_FILE, "text/csv")
        else:
            self._say(text("own.none"))


def _in_turn(answers: list[str]) -> Callable[[str], str]:
    """The answers to `ask_facts`, which asks in the order of the fields."""
    left = iter(answers)
    return lambda question: next(left)


def _rows_of(path: Path) -> Rows:
    """A table of facts as rows. Raises FormulaError for what is no table."""
    cells = [values for _, values in table_cells(path) if any(values)]
    cells = [values for values in cells if not values[0].startswith("#")]
    if not cells:
        return []
    header = [value.strip() for value in cells[0]]
    rows = [dict(zip(header, values, strict=False)) for values in cells[1:]]
    return [{column: row.get(column, "") for column in COLUMNS} for row in rows]


def _write(path: Path, rows: Rows) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(table_text(rows), encoding="utf-8")
