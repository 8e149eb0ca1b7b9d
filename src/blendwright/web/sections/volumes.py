"""How much is it? Grams to millilitres and drops, row by row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from blendwright.estimate import Estimate
from blendwright.web.answers import volumes
from blendwright.web.pieces import number_field, table
from blendwright.web.sections.section import Asking, Section

Found = tuple[list[tuple[str, float, Estimate]], Estimate]


class Volumes(Asking[Found]):
    key = "volumes"
    by_itself = True

    def fields(self) -> None:
        degree = self.bench.units.degree
        self.at = number_field(self.text("volumes.at", degree=degree), self.shown(20.0))

    def question(self) -> tuple[Callable[..., Found], tuple[Any, ...]]:
        kelvin = self.kelvin(self.at, -40.0, 150.0) or 293.15
        return volumes, (self.bench.asked(), kelvin)

    def show(self, answer: Found) -> None:
        rows, whole = answer
        units, text = self.bench.units, self.text
        total = sum(grams for _, grams, _ in rows)
        table(
            [text("grid.material"), text("amount"), "mL", text("interval"), text("units.drops")],
            [
                *(
                    (label, units.grams(grams), *self._volume(volume))
                    for label, grams, volume in rows
                ),
                (text("total"), units.grams(total), *self._volume(whole)),
            ],
        )
        ui.label(text("volumes.drop", drop=f"{units.drop_mL:g}")).classes("quiet")

    def _volume(self, volume: Estimate) -> tuple[str, str, str]:
        edge = volume.at_the_edge()
        if not edge.is_ok:
            return self.text(f"status.{edge.status}"), "", ""
        value, low, high = edge.interval()
        drops = value / self.bench.units.drop_mL
        return f"{value:.3f}", f"{low:.3f} – {high:.3f}", f"{drops:.0f}"


SECTION = Section("volumes", Volumes)
