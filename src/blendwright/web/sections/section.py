"""What a section is, and what those have in common that ask a slow hand.

Such a section has a few fields, a button, and an answer. The answer belongs to the formula that it
was asked about: once that changes it is marked as stale, or asked again by itself where that takes
a moment only.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from nicegui import background_tasks, ui

from blendwright.formula.numbers import number_between
from blendwright.web.bench import Bench, Part
from blendwright.web.hands import RefusedError

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Section:
    """`build` lays it out in the current container and is called once."""

    key: str
    build: Callable[[Bench], object]


class Asking(ABC, Generic[Answer]):
    """A question with fields; `key` names it in the texts, `by_itself` asks again on a change,
    `takes_long` goes to the hand for what takes many seconds."""

    key: str
    by_itself = False
    takes_long = False

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.text = bench.texts
        self._asked: object = None
        self._running = False
        self._again = False
        with ui.element("form").classes("ask") as form:
            form.on("submit.prevent", self.ask)
            self.fields()
            self.button = ui.button(self.text(f"{self.key}.ask")).props("no-caps unelevated")
            self.button.props("type=submit").classes("do")
        self.state = ui.label().classes("quiet").props("role=status")
        self.place = ui.element("div").classes("answer")
        bench.listeners.append(self._told)
        self.begin()

    def begin(self) -> None:
        """Asked at once where that is quick and there is a formula."""
        answer = self.bench.answer
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
            while self._again and not self.bench.closed:
                self._again = False
                asked = self.bench.asked()
                self.state.set_text(self.text("asking"))
                await self._ask_once()
                self._asked = asked
                self._again |= self.by_itself and asked != self.bench.asked()
        finally:
            self._running = False

    async def _ask_once(self) -> None:
        try:
            job, arguments = self.question()
            hands = self.bench.services.hands
            ask = hands.long if self.takes_long else hands.slow
            found = await ask(job, *arguments)
        except RefusedError as error:
            if not self.bench.closed:
                self._say(str(error))
            return
        if self.bench.closed:
            return
        self.place.clear()
        self.place.classes(remove="stale")
        self.state.set_text("")
        with self.place:
            self.show(found)

    def _say(self, words: str) -> None:
        self.place.clear()
        self.state.set_text("")
        with self.place:
            ui.label(words).classes("problem").props("role=alert lang=en")

    def _told(self, part: Part) -> None:
        if self._asked is None or self._running:
            return
        if self._asked == self.bench.asked():
            self.place.classes(remove="stale")
            self.state.set_text("")
        elif part == "everything" and self.by_itself:
            self.ask_soon()
        else:
            self.place.classes(add="stale")
            self.state.set_text(self.text("asked.before"))

    # Reading fields

    def number(self, field: ui.input, least: float, most: float) -> float | None:
        """A field's number, None where it is empty. Raises RefusedError outside the range."""
        written = str(field.value or "").strip()
        if not written:
            return None
        value = number_between(written, least, most)
        if value is None:
            name = str(field.props.get("label", ""))
            raise RefusedError(
                self.text("field.range", name=name, least=f"{least:g}", most=f"{most:g}")
            )
        return value

    def needed(self, field: ui.input, least: float, most: float) -> float:
        value = self.number(field, least, most)
        if value is None:
            name = str(field.props.get("label", ""))
            raise RefusedError(
                self.text("field.range", name=name, least=f"{least:g}", most=f"{most:g}")
            )
        return value

    def kelvin(self, field: ui.input, least_C: float, most_C: float) -> float | None:
        """A temperature in the person's unit, in K."""
        units = self.bench.units
        ends = units.shown_temperature(least_C), units.shown_temperature(most_C)
        value = self.number(field, *ends)
        return None if value is None else units.celsius(value) + 273.15

    def shown(self, celsius: float) -> str:
        """A temperature as a field's first text."""
        return f"{self.bench.units.shown_temperature(celsius):g}"
