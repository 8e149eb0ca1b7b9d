"""What is this material? Its card: chosen values, what lost and why, and the sources."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, cast

from nicegui import ui

from blendwright.app.web import figures
from blendwright.app.web.grid import NAMES
from blendwright.app.web.jobs import MaterialCard, material_card
from blendwright.app.web.sections.section import FieldError, QuestionForm, StandsOn
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import table, words_field
from blendwright.report.terminal import number

IDENTITY = ("cas", "formula", "smiles", "fema", "family", "state_20C", "note")


class Card(QuestionForm[MaterialCard]):
    key = "material"
    stands_on: StandsOn = "fields"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        session.on_material = self.look_up
        if session.wanted_material:
            self.look_up(session.wanted_material)

    def fields(self) -> None:
        self.name = words_field(text("material.name")).props("autocomplete=off")
        self.name.classes("wide")
        self.name.on(
            "vnodeMounted",
            js_handler=f"() => document.getElementById('{self.name.html_id}')"
            f"?.setAttribute('list', '{NAMES}')",
        )

    def look_up(self, name: str) -> None:
        self.name.value = name
        self.ask_soon()

    def question(self) -> tuple[Callable[..., MaterialCard], tuple[Any, ...]]:
        name = str(self.name.value or "").strip()
        if not name:
            raise FieldError(self.name, text("material.which"))
        return material_card, (self.session.request(), name)

    def show(self, answer: MaterialCard) -> None:
        data = answer.data
        with ui.element("h3"):
            ui.label(str(data["name"]))
        names = ", ".join(cast("list[str]", data["names"]))
        facts = [("material.names", names)]
        facts += [(f"material.{key}", str(data[key] or "")) for key in IDENTITY]
        with ui.element("dl").classes("short"):
            for key, told in facts:
                if told:
                    with ui.element("dt"):
                        ui.label(text(key))
                    with ui.element("dd"):
                        ui.label(told)
        self._constituents(cast("list[dict[str, Any]]", data["constituents"]))
        self._chosen(answer)
        self._facts(cast("list[dict[str, Any]]", data["facts"]))
        for line in cast("list[str]", data.get("influences") or []):
            ui.label(line).classes("quiet")
        self._sources(cast("dict[str, str]", data["sources"]))

    def _constituents(self, parts: list[dict[str, Any]]) -> None:
        if parts:
            heads = ("material.constituent", "grid.share", "interval", "material.source")
            table(
                [text(head) for head in heads],
                [
                    (
                        str(part["material"]),
                        f"{part['typical_pct']:.2f}",
                        f"{part['low_pct']:.2f} – {part['high_pct']:.2f}",
                        str(part["source"]),
                    )
                    for part in parts
                ],
                last_words=True,
            )

    def _chosen(self, answer: MaterialCard) -> None:
        if not answer.chosen:
            return
        rows = []
        for name, estimate in answer.chosen.items():
            value, span = figures.cells(estimate)
            shown = value if estimate.is_ok else text(f"status.{value}")
            rows.append((name.replace("_", " "), shown, span, estimate.method))
        heads = ("material.chosen", "value", "interval", "material.how")
        table([text(head) for head in heads], rows, last_words=True)

    def _facts(self, facts: list[dict[str, Any]]) -> None:
        if not facts:
            return
        heads = ("material.fact", "value", "material.source", "material.remark")
        table([text(head) for head in heads], [self._fact(fact) for fact in facts], words=4)

    def _fact(self, fact: Mapping[str, Any]) -> tuple[str, str, str, str]:
        at = fact["temperature_C"]
        where = f" ({at:.0f} °C)" if at is not None else ""
        lost = f"{text('material.rejected')}: {fact['rejected']}" if fact["rejected"] else ""
        value = float(fact["value"])
        shown = f"{value:.3g}" if fact["unit"] != "°C" else number(value, "°C")
        return (
            str(fact["property"]).replace("_", " "),
            f"{shown} {fact['unit']}{where}",
            f"{fact['source']} ({fact['method']})",
            lost or str(fact["note"] or ""),
        )

    def _sources(self, sources: dict[str, str]) -> None:
        with ui.element("details"):
            with ui.element("summary"):
                ui.label(text("material.sources", count=len(sources)))
            with ui.element("ul").classes("small"):
                for key, citation in sources.items():
                    with ui.element("li"):
                        ui.label(f"{key}: {citation}")
