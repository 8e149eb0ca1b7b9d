"""The right-hand side at a glance: four answers, the thermometer, what to do.

Each part is filled as it comes. Until all of it belongs to the formula as it stands, the panel is
stale: paler, and the words at the top of the page say so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from blendwright.app.web import figures
from blendwright.app.web.answers import Amounts, Everything
from blendwright.app.web.formula_panel import FormulaPanel
from blendwright.app.web.session import Part, Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import counted_list, findings_list, outline_button
from blendwright.formula.conditions import BENCH_K
from blendwright.observations.compared import Compared
from blendwright.report.answers_at_a_glance import Glance, ShortAnswer
from blendwright.report.pictures.temperature_strip import temperature_strip
from blendwright.verdict import Finding
from blendwright.verdict.as_read import besides

MOST_CAUTIONS = 4
# what stands behind an answer: a question's key, and a place in it
BEHIND = {
    "dissolves": ("numbers", "numbers-dissolving"),
    "clear": ("numbers", "numbers-dissolving"),
    "burns": ("numbers", "numbers-burning"),
    "how_much": ("volumes", ""),
}
STRIP_WIDTHS = {"wide": 600.0, "narrow": 350.0}  # in px


class Tile:
    """One answer: the question, a word, a figure with its interval; opens what is behind it."""

    def __init__(self, key: str, open_behind: Callable[[], None]) -> None:
        with TextElement(tag="button", text="").classes("tile") as self.box:
            self.box.props(f'type=button data-answer="{key}"')
            self.question = TextElement(tag="span", text=text(f"glance.{key}")).classes("asked")
            self.word = TextElement(tag="strong", text="")
            self.figure = TextElement(tag="span", text="").classes("figure")
            self.interval = TextElement(tag="span", text="").classes("interval")
        self.box.on("click", open_behind, args=[])

    def show(self, answer: ShortAnswer) -> None:
        self.box.props["data-state"] = answer.state
        self.box.props["title"] = figures.minus(answer.detail)
        self.word.set_text(figures.minus(answer.word))
        self.figure.set_text(figures.unbroken(answer.figure))
        between = f"({answer.interval})" if answer.interval else ""
        self.interval.set_text(figures.unbroken(between))
        self.box.update()


class AnswersPanel:
    """Laid out once; filled again and again."""

    def __init__(self, session: Session, state: ui.label, formula: FormulaPanel) -> None:
        self.session = session
        self.state = state
        self.formula = formula
        self.total = formula.total
        self.open_behind: Callable[[str, str], None] = lambda key, place: None
        self._lay_empty()
        self.glance = ui.element("div").classes("glance answers").props("id=answers tabindex=-1")
        with self.glance:
            self.tiles = {key: self._tile(key) for key in BEHIND}
        with ui.element("div").classes("thermometer answers") as self.thermometer:
            self.strips = {name: ui.html("", sanitize=False) for name in STRIP_WIDTHS}
            for name, strip in self.strips.items():
                strip.classes(f"strip {name}")
        session.listeners.append(self._on_answer)

    def _tile(self, key: str) -> Tile:
        question, place = BEHIND[key]
        return Tile(key, lambda: self.open_behind(question, place))

    def _lay_empty(self) -> None:
        with ui.element("div").classes("nothing-yet") as self.empty:
            ui.label(text("empty"))
            outline_button("example", self.formula.put_example)

    def lay_what_to_do(self) -> None:
        """Warnings in full, a few cautions, the rest folded; in the current container."""
        with ui.element("div").classes("answers") as self.do_box:
            with ui.element("h2").classes("sr"):
                ui.label(text("verdict.do"))
            self.counted = ui.element("div").classes("counted")
            self.todo = ui.element("div")
            with ui.element("details") as self.notes_box:
                with ui.element("summary"):
                    self.notes_head = ui.label()
                self.notes = ui.element("div")
        self._show_boxes(False)

    def _show_boxes(self, is_shown: bool) -> None:
        for box in self._boxes:
            box.set_visibility(is_shown)

    @property
    def _boxes(self) -> tuple[ui.element, ...]:
        return self.glance, self.thermometer, self.do_box

    def _mark(self, is_stale: bool) -> None:
        for box in self._boxes:
            box.classes(add="stale" if is_stale else "", remove="" if is_stale else "stale")

    # Filling

    def _on_answer(self, part: Part) -> None:
        found = self.session.answer
        if part == "stale":
            self._mark(True)
            self.state.set_text(text("state.updating"))
            return
        if part == "failed":
            self.state.set_text(text("state.failed"))
            return
        if part == "conditions":
            if found is not None and self.session.is_fresh and not found.amounts.problems:
                self._say_fresh(found.amounts)
            return
        assert found is not None
        if part == "amounts":
            self._show_amounts(found.amounts)
        elif part == "glance" and found.glance is not None:
            self._show_glance(found.glance)
        elif part == "everything" and found.everything is not None:
            self._show_everything(found.everything)
            self._mark(False)
            self._say_fresh(found.amounts)

    def _say_fresh(self, found: Amounts) -> None:
        if self.session.sheet.is_blank:
            self.state.set_text("")
            return
        waiting = [n for n in found.waiting if self.session.sheet.lines[n].material.strip()]
        if self.session.unread:
            names = ", ".join(text(f"formula.{key}") for key in self.session.unread)
            self.state.set_text(text("state.unread", names=names))
        elif waiting:
            rows = ", ".join(str(number + 1) for number in waiting)
            self.state.set_text(text("state.waiting", rows=rows))
        else:
            self.state.set_text(text("state.fresh"))

    def _show_amounts(self, found: Amounts) -> None:
        if found.problems:
            count = len(found.problems)
            said = text("state.wrong_one" if count == 1 else "state.wrong", count=count)
            if self.glance.visible:
                said = f"{said} {text('state.before')}"
            general = [p.message for p in found.problems if p.row is None]
            self.state.set_text(" ".join([said, *general]))
            self.total.set_text("")
            return
        self.empty.set_visibility(found.is_empty)
        if found.is_empty:
            self._show_boxes(False)
        if found.density is None or found.volume is None or found.volume_20C is None:
            self.total.set_text("")
            self._say_fresh(found)
            return
        whole = found.volume_20C
        volume = figures.cells(whole)[0] if whole.is_ok else text("unknown")
        total = figures.grams(found.total_g, 2)
        at = figures.celsius(BENCH_K)
        self.total.set_text(text("total.line", grams=total, volume=volume, at=at))

    def _show_glance(self, found: Glance) -> None:
        for answer in found.answers:
            self.tiles[answer.key].show(answer)
        for name, width in STRIP_WIDTHS.items():
            self.strips[name].set_content(temperature_strip(found.thermometer, width))
        self._show_boxes(True)

    def _show_everything(self, found: Everything) -> None:
        self._show_counted(found.observations)
        self._show_findings(besides(found.findings, self.session.sheet.notices))

    def _show_counted(self, compared: tuple[Compared, ...]) -> None:
        """What the bench saw, where it is counted in."""
        self.counted.clear()
        with self.counted:
            counted_list(compared)

    def _show_findings(self, findings: Sequence[Finding]) -> None:
        warnings = [f for f in findings if f.severity == "warning"]
        cautions = [f for f in findings if f.severity == "caution"]
        notes = [f for f in findings if f.severity == "info"]
        shown, folded = cautions[:MOST_CAUTIONS], cautions[MOST_CAUTIONS:]
        self.todo.clear()
        with self.todo:
            if warnings or shown:
                findings_list([*warnings, *shown])
            else:
                ui.label(text("verdict.nothing")).classes("quiet")
        self.notes_head.set_text(_count_words(len(folded), len(notes)))
        self.notes_box.set_visibility(bool(folded or notes))
        self.notes.clear()
        with self.notes:
            findings_list([*folded, *notes])


def _count_words(cautions: int, notes: int) -> str:
    """ "2 more cautions, 5 notes"."""
    parts = []
    if cautions:
        parts.append(text("verdict.more" if cautions > 1 else "verdict.more_one", count=cautions))
    if notes:
        parts.append(text("verdict.notes" if notes > 1 else "verdict.note", count=notes))
    return ", ".join(parts)
