"""Warm it: is there a safe window, what is lost, in what order to work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from blendwright.app.web.drawing import warming_losses
from blendwright.app.web.jobs import warming
from blendwright.app.web.pieces import (
    PictureFrame,
    counted_list,
    findings_list,
    number_field,
    table,
)
from blendwright.app.web.sections.section import Asking, Section
from blendwright.questions.warming import MOST_MINUTES, RowLoss, WarmBath, Warming
from blendwright.report.warming import verdict_sentence

SHOWN_SHARE = 0.01


class Warm(Asking[Warming]):
    key = "warm"
    by_itself = True

    def fields(self) -> None:
        units, text = self.bench.units, self.text
        self.to = number_field(text("warm.to", degree=units.degree), hint=text("warm.to_hint"))
        self.minutes = number_field(text("warm.minutes"), "20")
        self.width = number_field(text("warm.width"))

    def question(self) -> tuple[Callable[..., Warming], tuple[Any, ...]]:
        asked = self.bench.asked()
        to_K = self.kelvin(self.to, asked.sheet.bench_C, 150.0)
        width = self.number(self.width, 0.5, 200.0)
        minutes = self.needed(self.minutes, 0.1, MOST_MINUTES)
        self.bath = WarmBath(to_K, minutes, None if width is None else width / 100.0)
        return warming, (asked, self.bath)

    def show(self, answer: Warming) -> None:
        ui.label(verdict_sentence(answer)).props("lang=en").classes("verdict")
        counted_list(answer.observations, self.text)
        findings_list(answer.findings, self.text)
        wide = f"{answer.diameter_m * 100.0:.3g}"  # by what the liquid needs, where none was given
        self.width.props["placeholder"] = wide if answer.bath.diameter_m is None else ""
        self.width.update()
        covered, opened = answer.beakers
        rows = [
            (o.material, *self._loss(c), *self._loss(o))
            for c, o in zip(covered.rows, opened.rows, strict=True)
            if o.share.value is None or o.share.value >= SHOWN_SHARE
        ]
        at = self.bench.units.kelvin(answer.at_K)
        ui.label(self.text("warm.losses", minutes=f"{answer.bath.minutes:g}", at=at)).classes(
            "table-head"
        )
        if rows:
            heads = ("grid.material", "warm.covered", "interval", "warm.open", "interval")
            table([self.text(head) for head in heads], rows)
        ui.label(self.text("warm.rest")).classes("quiet")
        frame = PictureFrame(self.bench, "losses")
        background_tasks.create(
            frame.show(warming_losses, self.standing.asked, self.bath), name="losses"
        )
        with ui.element("ul").classes("small"):
            for note in answer.notes:
                with ui.element("li").props("lang=en"):
                    ui.label(note)

    def _loss(self, row: RowLoss) -> tuple[str, str]:
        if not row.share.is_ok:
            return self.text("unknown"), ""
        value, low, high = (100.0 * share for share in row.share.interval())
        return f"{value:.1f} %", f"{low:.1f} – {high:.1f}"


SECTION = Section("warm", Warm)
