"""What goes on paper? Bench, technical and data sheet, labels: what `report` makes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from nicegui import ui

from blendwright.app.web.downloads import Download
from blendwright.app.web.jobs import PapersWish, papers
from blendwright.app.web.sections.section import FieldError, QuestionForm, Section
from blendwright.app.web.sections.take_along import TakeAlong
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import file_name, number_field
from blendwright.app.web.worker_pool import RefusedError
from blendwright.errors import BlendwrightError
from blendwright.report.papers import FORMATS, PAPERS, LabelWish
from blendwright.report.papers.label import MOST_COPIES, STORE_AT, parse_size_mm
from blendwright.report.papers.measured import FLASH_POINT

MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".md": "text/markdown; charset=utf-8",
    ".json": "application/json",
}
FLASH_RANGE_C = (-60.0, 350.0)
FIRST = ("bench", "technical")
CATEGORIES = ("", "1", "2", "3", "4", "none")
LONGEST_LINE = 200
MOST_MEASURED = 40


class Papers(QuestionForm[bytes]):
    key = "papers"

    def fields(self) -> None:
        with ui.element("fieldset").classes("choices"):
            with ui.element("legend"):
                ui.label(text("papers.which"))
            self.chosen = {
                paper: ui.checkbox(text(f"papers.{paper}"), value=paper in FIRST)
                for paper in PAPERS
            }
        with ui.element("fieldset").classes("choices"):
            with ui.element("legend"):
                ui.label(text("papers.as"))
            options = {suffix: text(f"papers.as{suffix}") for suffix in FORMATS}
            self.suffix = ui.radio(options, value=".html").props("inline")
        self.flash = number_field(text("papers.flash"))
        self.lot = self._words("papers.lot")
        self.day = self._words("notes.day", date.today().isoformat())
        with ui.element("details").classes("wide"):
            with ui.element("summary"):
                ui.label(text("papers.label_how"))
            with ui.element("div").classes("ask"):
                self.copies = number_field(text("papers.copies"), "1")
                self.size = self._words("papers.size", "64x34")
                self.bottle = number_field(text("papers.bottle"), hint=text("papers.batch"))
                self.store = self._words("papers.store", hint=STORE_AT)
                self.maker = self._words("papers.maker")
                self.maker.classes("wide")
                options = {c: c or text("papers.not_measured") for c in CATEGORIES}
                self.category = ui.select(options, value="", label=text("papers.category"))
                self.category.props("outlined dense stack-label hide-bottom-space")
                self.category.classes("ask-field")
        with ui.element("details").classes("wide"):
            with ui.element("summary"):
                ui.label(text("papers.measured_how"))
            self.measured = ui.textarea(label=text("papers.measured"))
            self.measured.props("outlined dense stack-label autogrow hide-bottom-space")
            self.measured.classes("wide")

    def _words(self, key: str, value: str = "", hint: str = "") -> ui.input:
        field = number_field(text(key), value, hint)
        field.props(remove="inputmode").props(f"maxlength={LONGEST_LINE}")
        return field

    def question(self) -> tuple[Callable[..., bytes], tuple[Any, ...]]:
        chosen = tuple(paper for paper, box in self.chosen.items() if box.value)
        if not chosen:
            raise RefusedError(text("papers.none"))
        lines = str(self.measured.value or "").splitlines()
        measured = [line.strip() for line in lines if line.strip()]
        flash_C = self.number(self.flash, *FLASH_RANGE_C)
        if flash_C is not None:
            measured.append(f"{FLASH_POINT}={flash_C:g} °C")
        wish = PapersWish(
            chosen,
            str(self.suffix.value),
            self._day(),
            str(self.lot.value or "").strip()[:LONGEST_LINE],
            tuple(line[:LONGEST_LINE] for line in measured[:MOST_MEASURED]),
            self._label(),
        )
        self._wish = wish
        return papers, (self.session.request(), wish)

    def _label(self) -> LabelWish:
        copies = self.needed(self.copies, 1, MOST_COPIES)
        bottle = self.number(self.bottle, 0.1, 1e6)
        store = str(self.store.value or "").strip()[:LONGEST_LINE]
        try:
            size = parse_size_mm(str(self.size.value or ""))
            category = str(self.category.value or "")
            return LabelWish(int(copies), size, bottle, store, category, self._maker())
        except BlendwrightError as error:
            raise RefusedError(str(error)) from None

    def _maker(self) -> str:
        return str(self.maker.value or "").strip()[:LONGEST_LINE]

    def _day(self) -> date:
        try:
            return date.fromisoformat(str(self.day.value or "").strip())
        except ValueError:
            raise FieldError(self.day, text("notes.day_wrong")) from None

    def show(self, answer: bytes) -> None:
        wish = self._wish
        what = "-".join(wish.papers) if len(wish.papers) == 1 else "papers"
        name = file_name(self.session, what, wish.suffix[1:])
        file = Download(self.session.owner, name, MEDIA[wish.suffix], answer)
        address = self.session.services.downloads.put(file)
        with ui.element("p").classes("ready"):
            if wish.suffix == ".html":
                ui.link(text("papers.open"), address, new_tab=True).classes("file-link")
            save = ui.link(text("papers.save", name=name), address).classes("file-link")
            save.props["download"] = name
        if wish.suffix == ".html":
            ui.label(text("papers.to_print")).classes("quiet")
        if self.session.counts_observations:
            ui.label(text("papers.measured_counts")).classes("quiet")


def build(session: Session) -> None:
    ui.label(text("papers.about")).classes("quiet")
    Papers(session)
    with ui.element("h3"):
        ui.label(text("section.take"))
    TakeAlong(session)


SECTION = Section("papers", build)
