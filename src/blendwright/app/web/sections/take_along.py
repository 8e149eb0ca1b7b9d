"""Take it along: the formula as a file, the assessment as data, the page on paper."""

from __future__ import annotations

import json

from nicegui import ui

from blendwright.app.web.answers import assessment_data
from blendwright.app.web.bench import Bench
from blendwright.app.web.hands import RefusedError
from blendwright.app.web.pieces import file_name
from blendwright.app.web.sections.section import Section
from blendwright.app.web.state import csv_text, workbook_bytes

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class TakeAlong:
    """A button a file."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        text = bench.texts
        with ui.element("div").classes("buttons"):
            for key, action in (
                ("take.csv", self.csv),
                ("take.xlsx", self.workbook),
                ("take.json", self.assessment),
                ("take.print", self.print),
            ):
                ui.button(text(key), on_click=action).props("outline no-caps").classes("do")
        self.state = ui.label().classes("problem").props("role=alert lang=en")
        ui.label(text("take.about")).classes("quiet")

    def csv(self) -> None:
        name = file_name(self.bench, "", "csv")
        ui.download.content(csv_text(self.bench.sheet), name, "text/csv")

    def workbook(self) -> None:
        name = file_name(self.bench, "", "xlsx")
        ui.download.content(workbook_bytes(self.bench.sheet), name, WORKBOOK)

    async def assessment(self) -> None:
        self.state.set_text("")
        try:
            data = await self.bench.services.hands.slow(assessment_data, self.bench.asked())
        except RefusedError as error:
            self.state.set_text(str(error))
            return
        text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
        name = file_name(self.bench, "assessment", "json")
        ui.download.content(text, name, "application/json")

    def print(self) -> None:
        ui.run_javascript("window.print()")


SECTION = Section("take", TakeAlong)
