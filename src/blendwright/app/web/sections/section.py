"""What a section is, and what those have in common that ask a background worker.

Such a section has a few fields, a button, and an answer. The answer belongs to the formula that it
was asked about, and to the fields beside it as they were then: once either changes it is marked as
stale, or asked again by itself where that takes a moment only.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar

from nicegui import background_tasks, ui
from nicegui.elements.mixins.value_element import ValueElement

from blendwright.app.web.answers import Request
from blendwright.app.web.session import Part, Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import range_words, show_error
from blendwright.app.web.worker_pool import RefusedError
from blendwright.estimate import to_kelvin
from blendwright.formula.numbers import number_between

Answer = TypeVar("Answer")


class FieldError(RefusedError):
    """What stands in a field can't be used; it is said there."""

    def __init__(self, field: ui.input | ui.textarea, words: str) -> None:
        self.field = field
        super().__init__(words)


StandsOn = Literal["formula", "fields", "nothing"]


@dataclass(frozen=True)
class Section:
    """`build` lays it out in the current container and is called once."""

    key: str
    build: Callable[[Session], object]


class Standing:
    """Marks an answer as stale while the formula, or a field of its form, is not as when asked.

    `stands_on` "fields": the answer is not about the formula; "nothing": it stays as it is.
    """

    def __init__(
        self,
        session: Session,
        form: ui.element,
        answer: ui.element,
        state: ui.label,
        stands_on: StandsOn = "formula",
    ) -> None:
        self.session = session
        self.answer = answer
        self.state = state
        self.stands_on = stands_on
        self.fields = [one for one in form.descendants() if isinstance(one, ValueElement)]
        self.request: Request | None = None
        self._values: list[object] = []
        self.is_waiting = False  # for an answer that is under way
        for field in self.fields:
            field.on_value_change(self.look)
        session.listeners.append(lambda part: self.look())

    def ask(self) -> Request:
        """It is asked now, about the formula and with the fields as they stand."""
        self.request = self.session.request()
        self._values = [field.value for field in self.fields]
        self.is_waiting = True
        return self.request

    def answered(self) -> None:
        """The answer is there."""
        self.is_waiting = False
        self.state.set_text("")
        self.look()

    @property
    def is_about_another(self) -> bool:
        """Whether the formula, its conditions or what it draws on are others by now."""
        return self.stands_on == "formula" and self.request != self.session.request()

    def look(self) -> None:
        """Mark it, or take the mark away."""
        if self.request is None or self.is_waiting:
            return
        why = ""
        if self.is_about_another:
            why = text("asked.before")
        elif self.stands_on != "nothing" and self._values != [field.value for field in self.fields]:
            why = text("asked.fields")
        self.answer.classes(add="stale" if why else "", remove="" if why else "stale")
        if self.state.text != why:
            self.state.set_text(why)


class QuestionForm(ABC, Generic[Answer]):
    """A question with fields; `key` names it in the texts, `by_itself` asks again on a change,
    `takes_long` goes to the worker for what takes many seconds. `stands_on` is what the answer
    belongs to."""

    key: str
    by_itself = False
    takes_long = False
    stands_on: StandsOn = "formula"

    def __init__(self, session: Session) -> None:
        self.session = session
        self._running = False
        self._again = False
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.ask)
            self.fields()
            self.button = ui.button(text(f"{self.key}.ask")).props("no-caps unelevated")
            self.button.props("type=submit").classes("do")
        self.state = ui.label().classes("quiet").props("role=status")
        self.place = ui.element("div").classes("answer")
        self.standing = Standing(session, form, self.place, self.state, self.stands_on)
        if self.by_itself:
            session.listeners.append(self._follow)
        self.begin()

    def begin(self) -> None:
        """Asked at once where that is quick and there is a formula."""
        answer = self.session.answer
        if self.by_itself and answer is not None and answer.amounts.rows:
            self.ask_soon()

    @abstractmethod
    def fields(self) -> None:
        """Lay the fields out."""

    @abstractmethod
    def question(self) -> tuple[Callable[..., Answer], tuple[Any, ...]]:
        """The job and its arguments. Raises RefusedError for a field that can't be read."""

    @abstractmethod
    def show(self, answer: Answer) -> None:
        """Lay the answer out."""

    def ask_soon(self) -> None:
        background_tasks.create(self.ask(), name=self.key)

    async def ask(self) -> None:
        """Ask; if it is being asked already, or the formula has changed by then, once more."""
        self._again = True
        if self._running:
            return
        self._running = True
        try:
            while self._again and not self.session.closed:
                self._again = False
                self.standing.ask()
                self.state.set_text(text("asking"))
                await self._ask_once()
                self._again |= self.by_itself and self.standing.is_about_another
        finally:
            self._running = False

    async def _ask_once(self) -> None:
        try:
            job, arguments = self.question()
            workers = self.session.services.workers
            ask = workers.long if self.takes_long else workers.background
            found = await ask(job, *arguments)
        except FieldError as error:
            show_error(error.field, str(error))
            self.place.clear()
            self.standing.answered()
            return
        except RefusedError as error:
            if not self.session.closed:
                self._say(str(error))
            return
        if self.session.closed:
            return
        self.place.clear()
        with self.place:
            self.show(found)
        self.standing.answered()

    def _say(self, words: str) -> None:
        self.place.clear()
        with self.place:
            ui.label(words).classes("problem").props("role=alert")
        self.standing.answered()

    def _follow(self, part: Part) -> None:
        """Asked before, it is asked again about the formula that has an answer now."""
        request = self.standing.request is not None
        if (
            part == "everything"
            and request
            and not self._running
            and self.standing.is_about_another
        ):
            self.ask_soon()

    # Reading fields

    def number(self, field: ui.input, least: float, most: float) -> float | None:
        """A field's number, None where it is empty. Raises RefusedError outside the range."""
        written = str(field.value or "").strip()
        if not written:
            return None
        value = number_between(written, least, most)
        if value is None:
            raise FieldError(field, range_words(least, most))
        return value

    def needed(self, field: ui.input, least: float, most: float) -> float:
        value = self.number(field, least, most)
        if value is None:
            raise FieldError(field, range_words(least, most))
        return value

    def kelvin(self, field: ui.input, least_C: float, most_C: float) -> float | None:
        """A temperature that is typed in °C, in K."""
        value = self.number(field, least_C, most_C)
        return None if value is None else to_kelvin(value)
