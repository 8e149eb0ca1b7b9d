"""Warm it: is there a safe window, what is lost, in what order to work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from blendwright.app.web import figures
from blendwright.app.web.drawing import warming_losses
from blendwright.app.web.jobs import warming
from blendwright.app.web.sections.section import QuestionForm, Section
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import (
    PictureFrame,
    counted_list,
    findings_list,
    number_field,
    table,
)
from blendwright.questions.warming import MOST_MINUTES, RowLoss, WarmBath, Warming
from blendwright.report.warming import verdict_sentence

SHOWN_SHARE = 0.01


class Warm(QuestionForm[Warming]):
    key = "warm"
    by_itself = True

    def fields(self) -> None:
        self.to = number_field(text("warm.to"), hint=text("warm.to_hint"))
        self.minutes = number_field(text("warm.minutes"), "20")
        self.width = number_field(text("warm.width"))

    def question(self) -> tuple[Callable[..., Warming], tuple[Any, ...]]:
        request = self.session.request()
        to_K = self.kelvin(self.to, request.sheet.bench_C, 150.0)
        width = self.number(self.width, 0.5, 200.0)
        minutes = self.needed(self.minutes, 0.1, MOST_MINUTES)
        self.bath = WarmBath(to_K, minutes, None if width is None else width / 100.0)
        return warming, (request, self.bath)

    def show(self, answer: Warming) -> None:
        ui.label(verdict_sentence(answer)).classes("verdict")
        counted_list(answer.observations)
        findings_list(answer.findings)
        wide = f"{answer.diameter_m * 100.0:.3g}"  # by what the liquid needs, where none was given
        self.width.props["placeholder"] = wide if answer.bath.diameter_m is None else ""
        self.width.update()
        covered, opened = answer.beakers
        rows = [
            (o.material, *self._loss(c), *self._loss(o))
            for c, o in zip(covered.rows, opened.rows, strict=True)
            if o.share.value is None or o.share.value >= SHOWN_SHARE
        ]
        at = figures.celsius(answer.at_K)
        ui.label(text("warm.losses", minutes=f"{answer.bath.minutes:g}", at=at)).classes(
            "table-head"
        )
        if rows:
            heads = ("grid.material", "warm.covered", "interval", "warm.open", "interval")
            table([text(head) for head in heads], rows)
        ui.label(text("warm.rest")).classes("quiet")
        frame = PictureFrame(self.session, "losses")
        background_tasks.create(
            frame.show(warming_losses, self.standing.request, self.bath), name="losses"
        )
        with ui.element("ul").classes("small"):
            for note in answer.notes:
                with ui.element("li"):
                    ui.label(note)

    def _loss(self, row: RowLoss) -> tuple[str, str]:
        if not row.share.is_ok:
            return text("unknown"), ""
        value, low, high = (100.0 * share for share in row.share.interval())
        return f"{value:.1f} %", f"{low:.1f} – {high:.1f}"


SECTION = Section("warm", Warm)
