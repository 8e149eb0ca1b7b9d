"""Dose it: a concentrate into a drink, clear or not, and mg/kg of each material."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from blendwright.app.web.jobs import Pour, dosed
from blendwright.app.web.sections.section import QuestionForm, Section
from blendwright.app.web.widgets import findings_list, number_field, table
from blendwright.app.web.worker_pool import RefusedError
from blendwright.formula.conditions import BENCH_C, BENCH_K
from blendwright.questions.drink.dosing import Dosed
from blendwright.questions.drink.finished_drink import InDrink
from blendwright.report.dose import mg_kg_cell, verdict_lines
from blendwright.verdict.dosing import two_digits

DRINKS = ("water", "10 % sugar", "soda", "wine 13 %", "40 % vol")


class DoseIt(QuestionForm[Dosed]):
    key = "dose"
    takes_long = True

    def fields(self) -> None:
        text, units = self.text, self.session.units
        self.into = ui.input(label=text("dose.into"), value="10 % sugar", autocomplete=list(DRINKS))
        self.into.props("outlined dense stack-label hide-bottom-space").classes("ask-field wide")
        self.amount = number_field(text(f"dose.{units.volume}"), "2" if self._in_drops else "0.1")
        self.per = number_field(text("dose.per"), "100")
        usual = self.shown(BENCH_C)
        self.at = number_field(text("dose.at", degree=units.degree), usual, hint=usual)
        ui.label(text("dose.drinks", drinks=" · ".join(DRINKS))).classes("quiet")

    @property
    def _in_drops(self) -> bool:
        return self.session.units.volume == "drops"

    def question(self) -> tuple[Callable[..., Dosed], tuple[Any, ...]]:
        amount = self.needed(self.amount, 0.0, 1e5)
        per = self.needed(self.per, 0.1, 1e6)
        kelvin = self.kelvin(self.at, 0.0, 60.0) or BENCH_K
        into = str(self.into.value or "").strip()
        if not into:
            raise RefusedError(self.text("dose.into_what"))
        drops, mL = (amount, None) if self._in_drops else (None, amount)
        return dosed, (self.session.request(), Pour(into, drops, mL, per, kelvin))

    def show(self, answer: Dosed) -> None:
        with ui.element("dl").classes("short"):
            for question, told in verdict_lines(answer):
                with ui.element("dt").props("lang=en"):
                    ui.label(question)
                with ui.element("dd").props("lang=en"):
                    ui.label(told)
        findings_list(answer.findings, self.text)
        self._show_rows("dose.pure", answer.materials)
        if answer.has_dilutions:
            self._show_rows("dose.as_weighed", answer.rows)
        with ui.element("ul").classes("small"):
            for sentence in answer.said:
                with ui.element("li").props("lang=en"):
                    ui.label(sentence)

    def _show_rows(self, head: str, rows: tuple[InDrink, ...]) -> None:
        """mg/kg of each, and what comes out of it."""
        heads = (head, "dose.mg_kg", "dose.oil", "dose.crystals")
        table(
            [self.text(one) for one in heads],
            [
                (
                    row.name,
                    mg_kg_cell(row.mg_kg),
                    two_digits(row.oil_mg_L),
                    f"{row.crystals_pct:.0f} %",
                )
                for row in rows
            ],
        )


SECTION = Section("dose", DoseIt)
