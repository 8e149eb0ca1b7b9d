"""What would fix it? The smallest changes that meet a wish, each to be tried with one click."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from blendwright.app.web.hands import RefusedError
from blendwright.app.web.jobs import advice
from blendwright.app.web.pieces import number_field
from blendwright.app.web.sections.section import Asking, Section
from blendwright.app.web.trying import with_way

if TYPE_CHECKING:
    from blendwright.questions.advice.advise import Advice, State, Way

UNCHANGED = ("warm", "two_bottles")  # ways that are not put into the grid with one click


class Fix(Asking["Advice"]):
    key = "fix"
    takes_long = True

    def fields(self) -> None:
        degree = self.bench.units.degree
        bench = self.shown(self.bench.sheet.bench_C)
        self.clear_at = number_field(self.text("fix.clear_at", degree=degree), bench)
        self.flash_above = number_field(self.text("fix.flash_above", degree=degree))

    def question(self) -> tuple[Callable[..., Advice], tuple[Any, ...]]:
        clear = self.kelvin(self.clear_at, -20.0, 150.0)
        flash = self.kelvin(self.flash_above, -20.0, 150.0)
        if clear is None and flash is None:
            raise RefusedError(self.text("fix.nothing"))
        return advice, (self.bench.asked(), clear, flash)

    def show(self, answer: Advice) -> None:
        ui.label(self.text("fix.now", state=self._stands(answer.now)))
        if answer.is_met:
            ui.label(self.text("fix.met")).classes("strong")
        with ui.element("ol").classes("ways"):
            for way in answer.ways:
                with ui.element("li"):
                    self._way(way)
        for note in answer.notes:
            ui.label(f"{note[:1].upper()}{note[1:]}.").props("lang=en")
        with ui.element("ul").classes("ways"):
            for way in answer.nearest:
                with ui.element("li"):
                    self._way(way)
        ui.label(self.text("fix.small_batch")).classes("quiet")

    def _way(self, way: Way) -> None:
        ui.label(f"{way.words[:1].upper()}{way.words[1:]}.").props("lang=en").classes("strong")
        if way.kind != "warm":
            for state in way.states:
                ui.label(self.text("fix.then", state=self._stands(state)))
        if way.strength:
            ui.label(f"{way.strength[:1].upper()}{way.strength[1:]}.").props("lang=en")
        price = self.text("fix.price", price="; ".join(way.price))
        ui.label(price).props("lang=en")
        if way.kind in UNCHANGED:
            return
        button = ui.button(self.text("fix.try"), on_click=lambda: self._try(way))
        button.props("outline no-caps").classes("do")

    def _try(self, way: Way) -> None:
        found = self.bench.answer
        if found is None or found.asked != self.standing.asked:
            ui.notify(self.text("asked.before"))
            return
        new = with_way(self.bench.sheet, found.amounts, way.rows, way.formulas[0].rows)
        self.bench.change(new)
        ui.notify(self.text("fix.tried"))

    def _stands(self, state: State) -> str:
        units, parts = self.bench.units, []
        if state.chance_of_layers is not None:
            at = units.kelvin(state.temperature_K)
            parts.append(self.text("fix.chance", chance=f"{state.chance_of_layers:.0%}", at=at))
        if state.dissolves_K is not None:
            parts.append(self.text("fix.crystals", at=units.kelvin(state.dissolves_K)))
        if state.flash_K is not None and state.flash_low_K is not None:
            flash, low = units.kelvin(state.flash_K), units.kelvin(state.flash_low_K)
            parts.append(self.text("fix.flash", flash=flash, low=low))
        return ", ".join(parts) or self.text("unknown")


SECTION = Section("fix", Fix)
