"""What would fix it? The smallest changes that meet a wish, each to be tried with one click."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from blendwright.app.web import figures
from blendwright.app.web.apply_advice import with_way
from blendwright.app.web.jobs import advice
from blendwright.app.web.sections.section import QuestionForm, Section
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import number_field
from blendwright.app.web.worker_pool import RefusedError
from blendwright.report.advice import stands

if TYPE_CHECKING:
    from blendwright.questions.advice.advise import Advice, RecipeState, Way

UNCHANGED = ("warm", "two_bottles")  # ways that are not put into the grid with one click


class Fix(QuestionForm["Advice"]):
    key = "fix"
    takes_long = True

    def fields(self) -> None:
        at_bench = f"{self.session.sheet.bench_C:g}"
        self.clear_at = number_field(text("fix.clear_at"), at_bench)
        self.flash_above = number_field(text("fix.flash_above"))

    def question(self) -> tuple[Callable[..., Advice], tuple[Any, ...]]:
        clear = self.kelvin(self.clear_at, -20.0, 150.0)
        flash = self.kelvin(self.flash_above, -20.0, 150.0)
        if clear is None and flash is None:
            raise RefusedError(text("fix.nothing"))
        return advice, (self.session.request(), clear, flash)

    def show(self, answer: Advice) -> None:
        ui.label(text("fix.now", state=_stands(answer.now)))
        if answer.is_met:
            ui.label(text("fix.met")).classes("strong")
        with ui.element("ol").classes("ways"):
            for way in answer.ways:
                with ui.element("li"):
                    self._way(way)
        for note in answer.notes:
            ui.label(f"{note[:1].upper()}{note[1:]}.")
        with ui.element("ul").classes("ways"):
            for way in answer.nearest:
                with ui.element("li"):
                    self._way(way)
        ui.label(text("fix.small_batch")).classes("quiet")

    def _way(self, way: Way) -> None:
        ui.label(f"{way.words[:1].upper()}{way.words[1:]}.").classes("strong")
        if way.kind != "warm":
            for state in way.states:
                ui.label(text("fix.then", state=_stands(state)))
        if way.strength:
            ui.label(f"{way.strength[:1].upper()}{way.strength[1:]}.")
        price = text("fix.price", price="; ".join(way.price))
        ui.label(price)
        if way.kind in UNCHANGED:
            return
        button = ui.button(text("fix.try"), on_click=lambda: self._try(way))
        button.props("outline no-caps").classes("do")

    def _try(self, way: Way) -> None:
        found = self.session.answer
        if found is None or found.request != self.standing.request:
            ui.notify(text("asked.before"))
            return
        new = with_way(self.session.sheet, found.amounts, way.rows, way.formulas[0].rows)
        self.session.change(new)
        ui.notify(text("fix.tried"))


def _stands(state: RecipeState) -> str:
    return figures.minus(stands(state))


SECTION = Section("fix", Fix)
