"""What is known of a material, and what do my own bottles say?"""

from __future__ import annotations

from nicegui import ui

from blendwright.app.web.sections.material import Card
from blendwright.app.web.sections.own import MyMaterials
from blendwright.app.web.sections.section import Section
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text


def build(session: Session) -> None:
    Card(session)
    with ui.element("h3"):
        ui.label(text("section.own"))
    MyMaterials(session)


SECTION = Section("materials", build)
