"""Which carrier? One set of aromatics in several, side by side, and the map of two."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from blendwright.app.web import figures
from blendwright.app.web.drawing import carrier_triangle, carriers_compared
from blendwright.app.web.jobs import carriers
from blendwright.app.web.sections.section import FieldError, QuestionForm, Section, Standing
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import (
    PictureFrame,
    number_field,
    range_words,
    says_errors,
    show_error,
    table,
)
from blendwright.estimate import to_kelvin
from blendwright.formula.numbers import number_between
from blendwright.questions.advice.carriers import USUAL, InCarrier

SEEN_g = 0.005
LOWEST_C, HIGHEST_C = -20.0, 80.0  # of the map
OTHERS = ("triacetin", "ethanol")
Found = tuple[InCarrier, ...]


class Carriers(QuestionForm[Found]):
    key = "carriers"
    takes_long = True

    def fields(self) -> None:
        self.names = ui.textarea(label=text("carriers.names"), value="\n".join(USUAL))
        self.names.props("outlined dense stack-label autogrow hide-bottom-space")
        self.names.classes("ask-field wide")
        says_errors(self.names)

    def question(self) -> tuple[Callable[..., Found], tuple[Any, ...]]:
        lines = str(self.names.value or "").splitlines()
        names = tuple(line.strip() for line in lines if line.strip())
        if not names:
            raise FieldError(self.names, text("carriers.none"))
        return carriers, (self.session.request(), names[:30])

    def show(self, answer: Found) -> None:
        heads = [
            text("carriers.carrier"),
            figures.celsius(277.15),
            figures.celsius(answer[0].bench_K),
            text("carriers.gone"),
            text("burn.flash_point"),
            text("interval"),
            "GHS",
            text("carriers.in_water"),
        ]
        rows = []
        for row in answer:
            flash = figures.cells(row.flash)
            gone = figures.cells(row.dissolves)[0]
            rows.append(
                (
                    text("carriers.as_written") if row.now else row.carrier,
                    self._looks(row.cold, row.cold_crystals_g),
                    self._looks(row.bench, row.bench_crystals_g),
                    gone if row.dissolves.is_ok else text(f"status.{gone}"),
                    flash[0] if row.flash.is_ok else text(f"status.{flash[0]}"),
                    flash[1] if row.flash.is_ok else "",
                    row.treat_as,
                    text(f"drink.{row.in_water}"),
                )
            )
        table(heads, rows, words=3)
        ui.label(text("carriers.note")).classes("quiet")
        frame = PictureFrame(self.session, "carriers")
        title = self.session.sheet.name or text("formula")
        background_tasks.create(frame.show(carriers_compared, answer, title), name="carriers")

    def _looks(self, word: str, crystals_g: float | None) -> str:
        crystals = crystals_g is not None and crystals_g > SEEN_g
        told = text(f"liquid.{word}")
        return f"{told}, {text('carriers.crystals')}" if crystals else told


class TwoCarriers:
    """The map: drawn when asked for."""

    def __init__(self, session: Session) -> None:
        self.session = session
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.ask)
            self.pair = ui.input(label=text("carriers.pair"), value=_own_pair(session))
            self.pair.props("outlined dense stack-label hide-bottom-space")
            self.pair.classes("ask-field wide")
            label = text("carriers.map_at")
            self.at = number_field(label, f"{session.sheet.bench_C:g}")
            ui.button(text("carriers.draw")).props("no-caps unelevated type=submit").classes("do")
        self.state = ui.label().classes("quiet").props("role=status")
        self.frame = PictureFrame(session, "map")
        self.standing = Standing(session, form, self.frame.box, self.state)

    async def ask(self) -> None:
        at_C = number_between(str(self.at.value or ""), LOWEST_C, HIGHEST_C)
        if at_C is None:
            show_error(self.at, range_words(LOWEST_C, HIGHEST_C))
            return
        request = self.standing.ask()
        self.state.set_text(text("asking"))
        pair = str(self.pair.value or "")
        await self.frame.show(carrier_triangle, request, pair, to_kelvin(at_C))
        if not self.session.closed:
            self.standing.answered()


def _own_pair(session: Session) -> str:
    """What the formula is in, so that it has its place on the map, and another carrier."""
    rows = () if session.answer is None else session.answer.amounts.rows
    grams = {row.label: row.grams for row in rows if row.label in USUAL}
    own = max(grams, key=lambda name: grams[name], default=OTHERS[0])
    return f"{own} + {next(name for name in OTHERS if name != own)}"


def build(session: Session) -> None:
    Carriers(session)
    TwoCarriers(session)


SECTION = Section("carriers", build)
