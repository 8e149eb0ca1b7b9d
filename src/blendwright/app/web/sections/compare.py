"""Compare: the formula on the bench beside saved versions."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from nicegui import ui

from blendwright.app.web.answers import (
    Amounts,
    Everything,
    Verdicts,
    amounts,
    everything,
    verdicts,
)
from blendwright.app.web.bench import Bench
from blendwright.app.web.hands import RefusedError
from blendwright.app.web.pieces import table
from blendwright.app.web.sections.section import Section, Standing
from blendwright.app.web.sentences import burns, dissolves, one_liquid
from blendwright.app.web.state import Sheet
from blendwright.app.web.work_store import Saved

NUMBERS = (
    "flash_point_closed_cup_C",
    "density_g_mL",
    "volume_mL",
    "vapour_pressure_kPa",
    "initial_boiling_point_C",
    "dissolution_temperature_C",
    "cloud_temperature_C",
)
MOST = 6
Column = tuple[str, Sheet, Amounts, Verdicts | None, Everything | None]


class Compare:
    """A choice of saved versions, and one table."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        text = bench.texts
        self.sheets: dict[str, Sheet] = {}
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.ask)
            self.choice = ui.select([], label=text("compare.which"), multiple=True, value=[]).props(
                "outlined dense stack-label use-chips hide-bottom-space"
            )
            self.choice.classes("ask-field wide")
            self.choice.on("popup-show", self.refresh)
            ui.button(text("compare.ask")).props("no-caps unelevated type=submit").classes("do")
        self.state = ui.label().classes("quiet").props("role=status")
        self.place = ui.element("div").classes("answer")
        self.standing = Standing(bench, form, self.place, self.state)
        bench.on_saved.append(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """The choice as it stands in the store."""
        found = self.bench.services.store.saved(self.bench.owner)
        self.sheets = {f"{one.title} · {_when(one)}": one.sheet for one in found}
        options = list(self.sheets)
        if options != self.choice.options:
            kept = [name for name in self.choice.value or [] if name in self.sheets]
            self.choice.set_options(options, value=kept)

    async def ask(self) -> None:
        text = self.bench.texts
        chosen = [name for name in self.choice.value or [] if name in self.sheets][: MOST - 1]
        if not chosen:
            self.state.set_text(text("compare.none"))
            return
        self.standing.ask()
        self.state.set_text(text("asking"))
        sheets = [(text("compare.now"), self.bench.sheet)]
        sheets += [(name, self.sheets[name]) for name in chosen]
        try:
            columns = await asyncio.gather(*(self._column(name, sheet) for name, sheet in sheets))
        except RefusedError as error:
            words = str(error)
            self._put(lambda: ui.label(words).classes("problem").props("role=alert lang=en"))
            return
        self._put(lambda: self._show(list(columns)))

    def _put(self, lay_out: Callable[[], object]) -> None:
        if self.bench.closed:
            return
        self.place.clear()
        with self.place:
            lay_out()
        self.standing.answered()

    async def _column(self, name: str, sheet: Sheet) -> Column:
        asked = self.bench.asked_about(sheet)
        hands = self.bench.services.hands
        hand = hands.free_hand()
        first = await hands.quick(hand, amounts, asked)
        second = await hands.quick(hand, verdicts, asked)
        return name, sheet, first, second, await hands.quick(hand, everything, asked)

    def _show(self, columns: list[Column]) -> None:
        text, units = self.bench.texts, self.bench.units
        rows: list[list[str]] = [
            [text("compare.at"), *(self._conditions(sheet) for _, sheet, *_ in columns)]
        ]
        for key, sentence in (
            ("verdict.dissolve", dissolves),
            ("verdict.liquid", one_liquid),
            ("verdict.burn", burns),
        ):
            cells = []
            for _, _, first, second, _ in columns:
                said = self._problem(first) if second is None else sentence(second, text, units)
                cells.append(said)
            rows.append([text(key), *cells])
        for name in NUMBERS:
            cells = []
            for *_, found in columns:
                if found is None:
                    cells.append("")
                    continue
                value, span = units.cells(found.estimates[name])
                known = found.estimates[name].is_ok
                cells.append(f"{value} ({span})" if known else text(f"status.{value}"))
            rows.append([text(f"number.{name}"), *cells])
        rows += self._materials(columns)
        table(["", *(name for name, *_ in columns)], rows, words=len(columns) + 1)

    def _conditions(self, sheet: Sheet) -> str:
        at = self.bench.units.bench(sheet.bench_C)
        return f"{at}, {sheet.pressure_kPa:g} kPa"

    def _problem(self, first: Amounts) -> str:
        problems = "; ".join(problem.message for problem in first.problems)
        return problems or self.bench.texts("compare.empty")

    def _materials(self, columns: list[Column]) -> list[list[str]]:
        labels = dict.fromkeys(row.label for _, _, first, *_ in columns for row in first.rows)
        made = []
        for label in labels:
            cells = []
            for _, _, first, *_ in columns:
                grams = sum(row.grams for row in first.rows if row.label == label)
                cells.append(self.bench.units.grams(grams) if grams else "–")
            made.append([label, *cells])
        return made


def _when(one: Saved) -> str:
    return one.saved_at[:16].replace("T", " ")


SECTION = Section("compare", Compare)
