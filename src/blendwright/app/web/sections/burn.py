"""What makes it burn? How each gram and each dilution moves the flash point."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from blendwright.app.web import figures
from blendwright.app.web.drawing import dilution
from blendwright.app.web.jobs import drivers
from blendwright.app.web.sections.section import QuestionForm, Section
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import PictureFrame, counted_list, table
from blendwright.questions.flash_drivers import FlashDrivers
from blendwright.report.flash_shares import flash_shares


class Burn(QuestionForm[FlashDrivers]):
    key = "burn"
    by_itself = True

    def fields(self) -> None:
        ui.label(text("burn.about")).classes("quiet")

    def question(self) -> tuple[Callable[..., FlashDrivers], tuple[Any, ...]]:
        return drivers, (self.session.request(),)

    def show(self, answer: FlashDrivers) -> None:
        shown, span = figures.cells(answer.flash)
        status = shown if answer.flash.is_ok else text(f"status.{shown}")
        ui.label(text("burn.flash", flash=status, interval=span)).classes("verdict")
        counted_list(answer.observations)
        self._show_shares()
        frame = PictureFrame(self.session, "dilution")
        background_tasks.create(frame.show(dilution, self.standing.request), name="dilution")
        rows = []
        for row in answer.sensitivities:
            slope = row.per_mass.in_display_units()
            if slope.is_ok:
                value, low, high = (figures.tidy(end, 2) for end in slope.interval())
                cells = [value, f"{low} – {high}"]
            else:
                cells = [text(f"status.{slope.status}"), ""]
            rows.append((row.material, figures.grams(row.grams), *cells))
        per = text("burn.per")
        table([text("grid.material"), text("amount"), per, text("burn.across")], rows)
        if answer.observations:
            ui.label(text("burn.by_model")).classes("quiet")
        heads = ("burn.times", "burn.flash_point", "interval", "burn.liquid")
        table(
            [text(head) for head in heads],
            [
                (
                    f"{point.factor:g} ×",
                    *self._cells(point.flash.status, figures.cells(point.flash)),
                    text(f"liquid.{point.liquid}"),
                )
                for point in answer.curve
            ],
        )
        ui.label(text("burn.carrier", carrier=answer.carrier)).classes("quiet")

    def _show_shares(self) -> None:
        """What flashes, in a sentence and in bars."""
        found = self.session.answer
        if found is None or found.everything is None or found.request != self.standing.request:
            return
        told = flash_shares(found.everything.contributions)
        if not told.rows:
            return
        ui.label(told.sentence).classes("strong")
        with ui.element("ul").classes("bars"):
            for row in told.rows:
                with ui.element("li"):
                    ui.label(row.material)
                    ui.label(f"{row.flammability_pct:.0f} %").classes("share-words")
                    bar = ui.element("div").classes("bar").props("aria-hidden=true")
                    bar.style(f"width: {row.flammability_pct:.1f}%")

    def _cells(self, status: str, cells: tuple[str, str]) -> tuple[str, str]:
        return cells if status == "ok" else (text(f"status.{status}"), "")


SECTION = Section("burn", Burn)
