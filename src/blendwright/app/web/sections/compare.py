"""Compare: the formula on the bench beside saved versions."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from nicegui import ui

from blendwright.app.web import figures
from blendwright.app.web.answers import (
    Amounts,
    Everything,
    amounts,
    everything,
    glance,
)
from blendwright.app.web.saved_formulas import local_time
from blendwright.app.web.sections.section import Section, Standing
from blendwright.app.web.session import Session
from blendwright.app.web.sheet import Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.worker_pool import RefusedError
from blendwright.estimate import display_name
from blendwright.report.answers_at_a_glance import Glance

NUMBERS = (
    "flash_point_closed_cup",
    "density",
    "volume",
    "vapour_pressure",
    "initial_boiling_point",
    "dissolution_temperature",
    "cloud_temperature",
)
MOST = 6
Column = tuple[str, Sheet, Amounts, Glance | None, Everything | None]


class Compare:
    """A choice of saved versions, and one table."""

    def __init__(self, session: Session) -> None:
        self.session = session
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
        self.standing = Standing(session, form, self.place, self.state)
        session.on_saved.append(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """The choice as it stands in the store."""
        found = self.session.services.store.saved(self.session.owner)
        self.sheets = {f"{one.title} · {local_time(one.saved_at)}": one.sheet for one in found}
        options = list(self.sheets)
        if options != self.choice.options:
            kept = [name for name in self.choice.value or [] if name in self.sheets]
            self.choice.set_options(options, value=kept)

    async def ask(self) -> None:
        chosen = [name for name in self.choice.value or [] if name in self.sheets][: MOST - 1]
        if not chosen:
            self.state.set_text(text("compare.none"))
            return
        self.standing.ask()
        self.state.set_text(text("asking"))
        sheets = [(text("compare.now"), self.session.sheet)]
        sheets += [(name, self.sheets[name]) for name in chosen]
        try:
            columns = await asyncio.gather(*(self._column(name, sheet) for name, sheet in sheets))
        except RefusedError as error:
            words = str(error)
            self._put(lambda: ui.label(words).classes("problem").props("role=alert"))
            return
        self._put(lambda: self._show(list(columns)))

    def _put(self, lay_out: Callable[[], object]) -> None:
        if self.session.closed:
            return
        self.place.clear()
        with self.place:
            lay_out()
        self.standing.answered()

    async def _column(self, name: str, sheet: Sheet) -> Column:
        request = self.session.request_about(sheet)
        workers = self.session.services.workers
        worker = workers.idlest_worker()
        first = await workers.interactive(worker, amounts, request)
        second = await workers.interactive(worker, glance, request)
        return name, sheet, first, second, await workers.interactive(worker, everything, request)

    def _show(self, columns: list[Column]) -> None:
        rows: list[list[str]] = [
            [text("compare.at"), *(self._conditions(sheet) for _, sheet, *_ in columns)]
        ]
        for key in ("dissolves", "clear", "burns", "how_much"):
            cells = [
                self._problem(first) if seen is None else figures.minus(getattr(seen, key).sentence)
                for _, _, first, seen, _ in columns
            ]
            rows.append([text(f"glance.{key}"), *cells])
        for name in NUMBERS:
            cells = []
            for *_, found in columns:
                if found is None:
                    cells.append("")
                    continue
                value, span = figures.cells(found.estimates[name])
                known = found.estimates[name].is_ok
                cells.append(f"{value} ({span})" if known else text(f"status.{value}"))
            rows.append([text(f"number.{display_name(name)}"), *cells])
        rows += self._materials(columns)
        different = [row for row in rows if len(set(row[1:])) > 1]
        said = "compare.differ" if different else "compare.alike"
        ui.label(text(said, count=len(different), all=len(rows))).classes("strong")
        self._table(["", *(name for name, *_ in columns)], rows)

    def _table(self, heads: list[str], rows: list[list[str]]) -> None:
        """A row in which the versions differ says so, and its cells that are not as on the bench
        stand out."""
        with (
            ui.element("div").classes("scrolls").props("tabindex=0 role=group") as box,
            ui.element("table").classes("plain"),
        ):
            box.props["aria-label"] = text("section.compare")
            with ui.element("thead"), ui.element("tr"):
                for head in heads:
                    with ui.element("th").props("scope=col"):
                        ui.label(head)
            with ui.element("tbody"):
                for title, here, *others in rows:
                    self._row(title, here, others)

    def _row(self, title: str, here: str, others: list[str]) -> None:
        with ui.element("tr"):
            with ui.element("th").props("scope=row"):
                ui.label(title)
                if any(other != here for other in others):
                    ui.label(text("compare.differs")).classes("chip")
            for cell in (here, *others):
                with ui.element("td").classes("differs" if cell != here else ""):
                    ui.label(cell)

    def _conditions(self, sheet: Sheet) -> str:
        at = figures.bench(sheet.bench_C)
        return f"{at}, {sheet.pressure_kPa:g} kPa"

    def _problem(self, first: Amounts) -> str:
        problems = "; ".join(problem.message for problem in first.problems)
        return problems or text("compare.empty")

    def _materials(self, columns: list[Column]) -> list[list[str]]:
        labels = dict.fromkeys(row.label for _, _, first, *_ in columns for row in first.rows)
        made = []
        for label in labels:
            cells = []
            for _, _, first, *_ in columns:
                grams = sum(row.grams for row in first.rows if row.label == label)
                cells.append(figures.grams(grams) if grams else "–")
            made.append([label, *cells])
        return made


SECTION = Section("compare", Compare)
