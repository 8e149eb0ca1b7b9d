"""What makes it burn? How each gram and each dilution moves the flash point."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from blendwright.app.web.drawing import dilution
from blendwright.app.web.jobs import drivers
from blendwright.app.web.pieces import PictureFrame, counted_list, table
from blendwright.app.web.sections.section import Asking, Section
from blendwright.app.web.units import tidy
from blendwright.formula.numbers import OUNCE_g
from blendwright.questions.flash_drivers import FlashDrivers


class Burn(Asking[FlashDrivers]):
    key = "burn"
    by_itself = True

    def fields(self) -> None:
        ui.label(self.text("burn.about")).classes("quiet")

    def question(self) -> tuple[Callable[..., FlashDrivers], tuple[Any, ...]]:
        return drivers, (self.bench.asked(),)

    def show(self, answer: FlashDrivers) -> None:
        units, text = self.bench.units, self.text
        shown, span = units.cells(answer.flash)
        status = shown if answer.flash.is_ok else text(f"status.{shown}")
        ui.label(text("burn.flash", flash=status, interval=span)).classes("verdict")
        counted_list(answer.observations, text)
        frame = PictureFrame(self.bench, "dilution")
        background_tasks.create(frame.show(dilution, self.standing.asked), name="dilution")
        each = OUNCE_g if units.mass == "oz" else 1.0
        degrees = 1.8 if units.temperature == "F" else 1.0
        rows = []
        for pull in answer.pulls:
            slope = pull.per_mass.at_the_edge()
            if slope.is_ok:
                ends = [v * each * degrees for v in slope.interval()]
                value, low, high = (tidy(end, 2) for end in ends)
                cells = [value, f"{low} – {high}"]
            else:
                cells = [text(f"status.{slope.status}"), ""]
            rows.append((pull.material, units.grams(pull.grams), *cells))
        per = text("burn.per", degree=units.degree, mass=units.mass)
        table([text("grid.material"), text("amount"), per, text("burn.across")], rows)
        if answer.observations:
            ui.label(text("burn.by_model")).classes("quiet")
        heads = ("burn.times", "burn.flash_point", "interval", "burn.liquid")
        table(
            [text(head) for head in heads],
            [
                (
                    f"{point.factor:g} ×",
                    *self._cells(point.flash.status, units.cells(point.flash)),
                    text(f"liquid.{point.liquid}"),
                )
                for point in answer.curve
            ],
        )
        ui.label(text("burn.carrier", carrier=answer.carrier)).classes("quiet")

    def _cells(self, status: str, cells: tuple[str, str]) -> tuple[str, str]:
        return cells if status == "ok" else (self.text(f"status.{status}"), "")


SECTION = Section("burn", Burn)
