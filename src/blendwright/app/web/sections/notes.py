"""What did the bench see? Observations, written down, listed, taken back; answers count them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from nicegui import ui

from blendwright.app.web import figures
from blendwright.app.web.record import Note, delete_observation, record_observation, recorded
from blendwright.app.web.sections.section import FieldError, QuestionForm, Section, StandsOn
from blendwright.app.web.session import Part, Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import confirmed, number_field
from blendwright.errors import BlendwrightError
from blendwright.estimate import per_cent, to_celsius
from blendwright.formula.conditions import BENCH_K
from blendwright.observations.compared import Compared
from blendwright.observations.observation import (
    KINDS,
    LONGEST_NOTE,
    Observation,
    ObservationKind,
    Typed,
)

MOST_AHEAD = timedelta(days=1)  # the bench may lie in another time zone
WITH_PRECISION = ("crystals_gone", "flash_point", "boiling_point", "density")


class Notes(QuestionForm[Observation]):
    """A form for one observation, and those that are kept."""

    key = "notes"
    stands_on: StandsOn = "nothing"  # what was written down stays so

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.root = ui.context.client.content
        with ui.element("h4"):
            ui.label(text("notes.kept"))
        self.said = ui.label().classes("quiet").props("role=status")
        self.list = ui.element("ul").classes("saved")
        self._listed: tuple[Observation, ...] = ()
        self._weights: list[ui.label] = []  # one for each that is listed
        session.listeners.append(self._counted)
        self._list()

    def fields(self) -> None:
        ui.label(text("notes.about")).classes("quiet")
        kinds = {question: self._label(question) for question in KINDS}
        self.question_field = ui.select(kinds, value="flash_point", label=text("notes.what"))
        self.question_field.props("outlined dense stack-label hide-bottom-space options-dense")
        self.question_field.classes("ask-field wide")
        self.value = number_field(text("notes.value"))
        self.precision = number_field(text("notes.precision"))
        usual = f"{to_celsius(BENCH_K):g}"
        self.at = number_field(text("notes.at"), usual, hint=usual)
        self.day = number_field(text("notes.day"), date.today().isoformat())
        self.day.props(remove="inputmode")
        self.words = number_field(text("notes.note"))
        self.words.props(remove="inputmode").props(f"maxlength={LONGEST_NOTE}")
        self.words.classes("wide")
        self.question_field.on_value_change(self._fit)
        self._fit()

    def _label(self, question: str) -> str:
        unit = "g/mL" if question == "density" else "°C"
        return f"{text(f'notes.{question}')}, {unit}"

    @property
    def kind(self) -> ObservationKind:
        return KINDS[str(self.question_field.value)]

    def _fit(self) -> None:
        """The fields that the question has, with the usual ± as a hint."""
        kind, scale = self.kind, _scale(self.kind)
        self.precision.set_visibility(kind.question in WITH_PRECISION)
        self.precision.props["placeholder"] = f"{kind.half / scale:.2g}"
        self.precision.update()
        self.at.set_visibility(kind.question == "density")

    def question(self) -> tuple[Callable[..., Observation], tuple[Any, ...]]:
        kind = self.kind
        scale = _scale(kind)
        if kind.question == "density":
            value = f"{self.needed(self.value, kind.low / 1e3, kind.high / 1e3):.9g}"
        else:
            kelvin = self.kelvin(self.value, to_celsius(kind.low), to_celsius(kind.high))
            if kelvin is None:
                raise FieldError(self.value, text("notes.nothing"))
            value = f"{to_celsius(kelvin):.9g}"
        half = None
        if kind.question in WITH_PRECISION:
            half = self.number(self.precision, kind.least_half / scale, kind.most_half / scale)
        by_command = scale / 1e3 if kind.unit == "kg/m3" else scale  # which takes °C and g/mL
        told = None if half is None else f"{half * by_command:.9g}"
        at_K = self.kelvin(self.at, -40.0, 150.0) if kind.question == "density" else None
        words = str(self.words.value or "").strip()[:LONGEST_NOTE]
        note = Note(Typed(kind.question, value, told, at_K), self._day(), words)
        return record_observation, (self.session.request(), note, str(self._file))

    def _day(self) -> date:
        try:
            day = date.fromisoformat(str(self.day.value or "").strip())
        except ValueError:
            raise FieldError(self.day, text("notes.day_wrong")) from None
        if day > date.today() + MOST_AHEAD:
            raise FieldError(self.day, text("notes.day_ahead"))
        return day

    @property
    def _file(self) -> Any:
        return self.session.services.observations(self.session.owner)

    def show(self, answer: Observation) -> None:
        told = answer.words()
        ui.label(text("notes.done", what=told)).classes("strong").props("role=status")
        self.value.value = ""
        self.words.value = ""
        self._changed()

    # Those that are kept

    def _changed(self) -> None:
        self._list()
        self.session.ask()

    def _counted(self, part: Part) -> None:
        if part == "everything":
            self._list()

    def _list(self) -> None:
        try:
            found = recorded(self._file)
        except BlendwrightError as error:
            self.said.set_text(str(error))
            return
        self.said.set_text("" if found else text("notes.none"))
        answer = self.session.answer
        compared: dict[int | None, Compared] = {}
        if answer is not None and answer.everything is not None:
            compared = {c.observation.id: c for c in answer.everything.observations}
        if found != self._listed:
            self._lay_out(found)
        for one, label in zip(found, self._weights, strict=True):
            label.set_text(self._counts(compared.get(one.id)))

    def _lay_out(self, found: tuple[Observation, ...]) -> None:
        """The lines anew. Otherwise they stay: a button that goes as it is hit hears nothing."""
        self.list.clear()
        with self.list:
            self._weights = [self._line(one) for one in found]
        self._listed = found

    def _line(self, one: Observation) -> ui.label:
        told = one.words()
        with ui.element("li"):
            with ui.element("div"):
                ui.label(f"{told}, {one.seen_on.isoformat()}, {one.formula}").classes("strong")
                if one.note:
                    ui.label(one.note).classes("quiet pre")
                weight = ui.label().classes("quiet")
            button = ui.button(text("notes.take_back"), on_click=lambda: self._ask_back(one))
            button.props("outline dense no-caps").classes("do")
            button.props["aria-label"] = text("notes.take_back_it", what=told)
        return weight

    def _counts(self, compared: Compared | None) -> str:
        """How much it weighs for the formula on the bench, and what the model expects there."""
        if compared is None:
            return text("notes.far")
        if compared.why_not:
            return f"{text('notes.not_counted')} {compared.why_not}"
        weight = per_cent(compared.correlation)
        alike = "notes.same" if compared.is_same_blend else "notes.like"
        return f"{text(alike, weight=weight)} {self._model(compared)}"

    def _model(self, compared: Compared) -> str:
        if compared.model is None:
            chances = ", ".join(
                per_cent(seen.chance_there) for seen in compared.visual_observations
            )
            return text("notes.model_chance", chance=chances)
        value, span = figures.cells(compared.model)
        return text("notes.model", value=f"{value} ({span})")

    async def _ask_back(self, one: Observation) -> None:
        what = one.words()
        title = text("notes.take_back_it", what=what)
        sure = await confirmed(self.root, title, text("notes.for_good"), text("notes.take_back"))
        if not sure or one.id is None:
            return
        try:
            await asyncio.to_thread(delete_observation, str(self._file), one.id)
        except BlendwrightError as error:
            self.said.set_text(str(error))
            return
        self.place.clear()
        self._changed()
        self.said.set_text(text("notes.gone", what=what))


def _scale(kind: ObservationKind) -> float:
    """SI units in one unit of a field: g/mL or K."""
    return 1e3 if kind.unit == "kg/m3" else 1.0


SECTION = Section("notes", Notes)
