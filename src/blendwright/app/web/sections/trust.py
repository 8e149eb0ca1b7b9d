"""How far can each number be trusted? Every estimate with interval and method, in three groups."""

from __future__ import annotations

import asyncio

from nicegui import background_tasks, ui

from blendwright.app.web import figures
from blendwright.app.web.answers import Amounts, Everything, Request
from blendwright.app.web.drawing import shares_by_row, thermometer
from blendwright.app.web.sections.section import Section
from blendwright.app.web.session import Part, Session
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import PictureFrame, table
from blendwright.assess import SolidLine
from blendwright.estimate import Estimate, display_name
from blendwright.verdict.cautions import CAUTIONS
from blendwright.verdict.flammability import Classing
from blendwright.version import __version__

EARLY = ("density_g_mL", "volume_mL")  # at the bench temperature
GROUPS = {
    "burning": (
        "flash_point_closed_cup_C",
        "lower_flammable_limit_vol_pct",
        "vapour_pressure_kPa",
        "initial_boiling_point_C",
    ),
    "dissolving": ("dissolution_temperature_C", "dissolved_share", "cloud_temperature_C"),
    "amount": EARLY,
}
DRAW_AFTER_s = 0.4


class Numbers:
    """Laid out once; filled with each answer."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._drawing = False
        self.drawn: dict[str, Request] = {}  # what each picture is of
        self.numbers: dict[str, tuple[ui.label, ui.label, ui.label]] = {}
        self.names: dict[str, ui.label] = {}
        with ui.element("div").classes("answers") as self.box:
            self.conditions = ui.label().classes("quiet")
            self._lay_group("dissolving")
            self.crystals = ui.element("div")
            self._lay_group("burning")
            with ui.element("details"):
                with ui.element("summary"):
                    ui.label(text("classes"))
                self.classes = ui.element("div")
            self._lay_group("amount")
            with ui.element("h3"):
                ui.label(text("pictures"))
            self.frames = {
                "thermometer": PictureFrame(session, "thermometer"),
                "shares": PictureFrame(session, "shares"),
            }
        self._lay_foot()
        session.listeners.append(self._on_answer)
        self._show_what_is_known()

    def _lay_group(self, group: str) -> None:
        with ui.element("h3").props(f"id=numbers-{group}"):
            ui.label(text(f"numbers.{group}"))
        with (
            ui.element("div").classes("scrolls").props("tabindex=0 role=group") as box,
            ui.element("table").classes("plain numbers"),
        ):
            box.props["aria-label"] = text(f"numbers.{group}")
            with ui.element("thead"), ui.element("tr"):
                for place, key in enumerate(("number", "value", "interval", "number.how")):
                    with (
                        ui.element("th")
                        .props("scope=col")
                        .classes("right" if place in (1, 2) else "")
                    ):
                        ui.label(text(key)).classes("" if place else "sr")
            with ui.element("tbody"):
                for name in GROUPS[group]:
                    with ui.element("tr"):
                        self._lay_number(name)

    def _lay_number(self, name: str) -> None:
        with ui.element("th").props("scope=row"):
            self.names[name] = ui.label(text(f"number.{name}"))
        with ui.element("td").classes("right").props(f'data-number="{name}"'):
            value = ui.label()
        with ui.element("td").classes("right"):
            span = ui.label()
        with ui.element("td"):
            self.numbers[name] = value, span, ui.label().classes("quiet how")

    def _lay_foot(self) -> None:
        with ui.element("h3"):
            ui.label(text("cautions"))
        with ui.element("ul").classes("small"):
            for caution in CAUTIONS:
                with ui.element("li"):
                    ui.label(caution)
        data = self.session.catalogue().version()
        ui.label(text("version", version=__version__, data=data)).classes("quiet")

    # Filling

    def _show_what_is_known(self) -> None:
        found = self.session.answer
        self.box.set_visibility(found is not None and not found.amounts.is_empty)
        if found is None or found.amounts.problems:
            return
        self._show_amounts(found.amounts)
        if found.everything is not None:
            self._show_everything(found.everything)
            self._draw_soon()

    def _on_answer(self, part: Part) -> None:
        found = self.session.answer
        if part == "stale":
            self.box.classes(add="stale")
            self._mark_pictures()
        elif part == "amounts" and found is not None and not found.amounts.problems:
            self._show_amounts(found.amounts)
        elif part == "everything" and found is not None and found.everything is not None:
            self._show_everything(found.everything)
            self.box.classes(remove="stale")
            self._draw_soon()

    def _show_amounts(self, found: Amounts) -> None:
        self.box.set_visibility(not found.is_empty)
        if found.density is None or found.volume is None:
            return
        self._show_conditions()
        self._put("density_g_mL", found.density)
        self._put("volume_mL", found.volume)

    def _show_conditions(self) -> None:
        """What the numbers stand at."""
        assert self.session.answer is not None
        request = self.session.answer.request
        at = figures.bench(request.sheet.bench_C)
        self.conditions.set_text(text("numbers.at", at=at, air=f"{request.sheet.pressure_kPa:g}"))
        for name in EARLY:
            self.names[name].set_text(text("number.at", name=text(f"number.{name}"), at=at))

    def _put(self, name: str, estimate: Estimate) -> None:
        value, span = figures.cells(estimate)
        shown, between, how = self.numbers[name]
        shown.set_text(value if estimate.is_ok else text(f"status.{value}"))
        between.set_text(span if estimate.is_ok else "")
        how.set_text(estimate.method if estimate.is_ok else figures.minus(span))

    def _show_everything(self, found: Everything) -> None:
        for name, estimate in found.estimates.items():
            shown = display_name(name)
            if shown in self.numbers:
                self._put(shown, estimate)
        self._show_crystals(found.solids)
        self._show_classes(found)

    def _show_crystals(self, solids: tuple[SolidLine, ...]) -> None:
        self.crystals.clear()
        if not solids:
            return
        with self.crystals:
            heads = ("crystals", "amount", "crystals.go", "crystals.back")
            rows = []
            for solid in solids:
                goes = figures.cells(solid.dissolves)[0]
                rows.append(
                    (
                        solid.material,
                        figures.grams(solid.mass_kg * 1e3),
                        goes if solid.dissolves.is_ok else text(f"status.{goes}"),
                        figures.grams(solid.back_4C_g, 2),
                    )
                )
            table([text(head) for head in heads], rows)

    def _show_classes(self, found: Everything) -> None:
        self.classes.clear()
        with self.classes:
            heads = ("classes.scheme", "classes.class", "classes.standing", "classes.clause")
            rows = [(c.title, c.words(), _how_sure(c), c.clause) for c in found.classings]
            table([text(head) for head in heads], rows, words=4)

    # Pictures, once the typing pauses

    def _draw_soon(self) -> None:
        if not self._drawing:
            self._drawing = True
            background_tasks.create(self._draw(), name="pictures")

    async def _draw(self) -> None:
        try:
            drawn = None
            while not self.session.closed and drawn != self.session.request():
                await asyncio.sleep(DRAW_AFTER_s)
                found = self.session.answer
                if not self.session.is_fresh or found is None or found.everything is None:
                    return
                drawn = found.request
                title = self.session.sheet.name or text("formula")
                await self.frames["thermometer"].show(thermometer, found.request)
                self.drawn["thermometer"] = drawn
                self._mark_pictures()
                await self.frames["shares"].show(
                    shares_by_row, found.everything.contributions, title
                )
                self.drawn["shares"] = drawn
                self._mark_pictures()
        finally:
            self._drawing = False

    def _mark_pictures(self) -> None:
        """A picture of another formula than the one that stands there is stale by itself, until
        it is drawn anew."""
        request = self.session.request()
        for name, frame in self.frames.items():
            is_stale = name in self.drawn and self.drawn[name] != request
            frame.box.classes(add="stale" if is_stale else "", remove="" if is_stale else "stale")


def _how_sure(classing: Classing) -> str:
    if classing.treat_as != classing.category:
        return text("sure.estimate", category=classing.name)
    return text(f"sure.{classing.standing}")


SECTION = Section("numbers", Numbers)
