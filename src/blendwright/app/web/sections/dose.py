"""Dose it: a concentrate into a drink, clear or not, and mg/kg of each material."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from blendwright.app.web.jobs import Pour, dosed
from blendwright.app.web.sections.section import FieldError, QuestionForm, Section
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import findings_list, number_field, table, words_field
from blendwright.formula.conditions import BENCH_C, BENCH_K
from blendwright.questions.drink.dosing import Dosed
from blendwright.questions.drink.finished_drink import InDrink
from blendwright.report.dose import mg_kg_cell, verdict_lines
from blendwright.verdict.dosing import two_digits

ANOTHER = "another"
DRINKS = {  # as `parse_drink` reads them, and as the list tells them
    "water": "Water",
    "sparkling water": "Sparkling water",
    "soda": "Soda, 10 % sugar",
    "diet soda": "Diet soda",
    "10 % sugar": "Still drink, 10 % sugar",
    "syrup 65 %": "Syrup, 65 % sugar",
    "beer 5 %": "Beer, 5 % vol",
    "cider 5 %": "Cider, 5 % vol, dry",
    "wine 12.5 %": "Wine, 12.5 % vol, dry",
    "liqueur 25 % vol 20 % sugar": "Liqueur, 25 % vol, 20 % sugar",
    "spirit 40 %": "Spirit, 40 % vol",
    ANOTHER: "Another drink …",
}


class DoseIt(QuestionForm[Dosed]):
    key = "dose"
    takes_long = True

    def fields(self) -> None:
        self.drink = ui.select(DRINKS, value="soda", label=text("dose.drink"))
        self.drink.props("outlined dense stack-label hide-bottom-space").classes("ask-field wide")
        self.into = words_field(text("dose.into"))
        self.into.classes("wide")
        self.drink.on_value_change(self._show_into)
        self._show_into()
        self.amount = number_field(text("dose.mL"), "0.1")
        self.per = number_field(text("dose.per"), "100")
        usual = f"{BENCH_C:g}"
        self.at = number_field(text("dose.at"), usual, hint=usual)

    def _show_into(self) -> None:
        """Another drink than the common ones is typed."""
        self.into.set_visibility(self.drink.value == ANOTHER)

    def question(self) -> tuple[Callable[..., Dosed], tuple[Any, ...]]:
        amount = self.needed(self.amount, 0.0, 1e5)
        per = self.needed(self.per, 0.1, 1e6)
        kelvin = self.kelvin(self.at, 0.0, 60.0) or BENCH_K
        into = str(self.drink.value)
        if into == ANOTHER:
            into = str(self.into.value or "").strip()
        if not into:
            raise FieldError(self.into, text("dose.into_what"))
        return dosed, (self.session.request(), Pour(into, amount, per, kelvin))

    def show(self, answer: Dosed) -> None:
        with ui.element("dl").classes("short"):
            for question, told in verdict_lines(answer):
                with ui.element("dt"):
                    ui.label(question)
                with ui.element("dd"):
                    ui.label(told)
        findings_list(answer.findings)
        self._show_rows("dose.pure", answer.materials)
        if answer.has_dilutions:
            self._show_rows("dose.as_weighed", answer.rows)
        with ui.element("ul").classes("small"):
            for sentence in answer.said:
                with ui.element("li"):
                    ui.label(sentence)

    def _show_rows(self, head: str, rows: tuple[InDrink, ...]) -> None:
        """mg/kg of each, and what comes out of it."""
        heads = (head, "dose.mg_kg", "dose.oil", "dose.crystals")
        table(
            [text(one) for one in heads],
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
