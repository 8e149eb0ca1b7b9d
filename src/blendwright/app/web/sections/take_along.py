"""Take it along: the formula as a file, the assessment as data, the page on paper."""

from __future__ import annotations

import json

from nicegui import ui

from blendwright.app.web.answers import assessment_data
from blendwright.app.web.session import Session
from blendwright.app.web.sheet import csv_text, workbook_bytes
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import file_name
from blendwright.app.web.worker_pool import RefusedError

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class TakeAlong:
    """A button a file."""

    def __init__(self, session: Session) -> None:
        self.session = session
        with ui.element("div").classes("buttons"):
            for key, action in (
                ("take.csv", self.csv),
                ("take.xlsx", self.workbook),
                ("take.json", self.assessment),
                ("take.print", self.print),
            ):
                ui.button(text(key), on_click=action).props("outline no-caps").classes("do")
        self.state = ui.label().classes("problem").props("role=alert")
        ui.label(text("take.about")).classes("quiet")

    def csv(self) -> None:
        name = file_name(self.session, "", "csv")
        ui.download.content(csv_text(self.session.sheet), name, "text/csv")

    def workbook(self) -> None:
        name = file_name(self.session, "", "xlsx")
        ui.download.content(workbook_bytes(self.session.sheet), name, WORKBOOK)

    async def assessment(self) -> None:
        self.state.set_text("")
        try:
            data = await self.session.services.workers.background(
                assessment_data, self.session.request()
            )
        except RefusedError as error:
            self.state.set_text(str(error))
            return
        text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
        name = file_name(self.session, "assessment", "json")
        ui.download.content(text, name, "application/json")

    def print(self) -> None:
        ui.run_javascript("window.print()")
