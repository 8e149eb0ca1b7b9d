"""The right-hand side: sentences first, then numbers with intervals, then pictures.

Each part is filled as it comes. Until all of it belongs to the formula as it stands, the panel is
stale: paler, and the words at the top say so.
"""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import background_tasks, ui

from blendwright.app.web.answers import Amounts, Asked, Everything, Verdicts
from blendwright.app.web.bench import Bench, Part
from blendwright.app.web.drawing import shares_by_row, thermometer
from blendwright.app.web.pieces import PictureFrame, counted_list, findings_list, table
from blendwright.app.web.read_notices import ReadNotices
from blendwright.app.web.sentences import burns, dissolves, one_liquid
from blendwright.assess import SolidLine
from blendwright.estimate import Estimate
from blendwright.formula.conditions import BENCH_K
from blendwright.observations.comparing import Compared
from blendwright.verdict import Finding
from blendwright.verdict.as_read import besides
from blendwright.verdict.flammability import Classing

EARLY = ("density_g_mL", "volume_mL")  # at the bench temperature
NUMBERS = (
    "flash_point_closed_cup_C",
    "lower_flammable_limit_vol_pct",
    "vapour_pressure_kPa",
    "initial_boiling_point_C",
    "dissolution_temperature_C",
    "dissolved_share",
    "cloud_temperature_C",
    "density_g_mL",
    "volume_mL",
)
SAID = ("dissolve", "liquid", "burn")
DRAW_AFTER_s = 0.4


class AnswersPanel:
    """Laid out once; filled again and again."""

    def __init__(self, bench: Bench, state: ui.label, total: ui.label) -> None:
        self.bench = bench
        self.state = state
        self.total = total
        self._drawing = False
        self.drawn: dict[str, Asked] = {}  # what each picture is of
        text = bench.texts
        ReadNotices(bench)
        self.empty = ui.label(text("empty")).classes("quiet")
        with ui.element("div").classes("answers") as self.box:
            self._lay_verdicts()
            self._lay_numbers()
            self._lay_pictures()
        self.box.set_visibility(False)
        bench.listeners.append(self._told)

    def _lay_verdicts(self) -> None:
        text = self.bench.texts
        self.sentences: dict[str, ui.label] = {}
        with ui.element("dl").classes("short verdicts"):
            for name in SAID:
                with ui.element("dt"):
                    ui.label(text(f"verdict.{name}"))
                with ui.element("dd").props(f'data-verdict="{name}"'):
                    self.sentences[name] = ui.label()
        self.counted = ui.element("div").classes("counted")
        with ui.element("h2"):
            ui.label(text("verdict.do"))
        self.todo = ui.element("div")
        with ui.element("details") as self.notes_box:
            with ui.element("summary"):
                self.notes_head = ui.label()
            self.notes = ui.element("div")

    def _lay_numbers(self) -> None:
        text = self.bench.texts
        self.numbers: dict[str, tuple[ui.label, ui.label]] = {}
        self.names: dict[str, ui.label] = {}
        with ui.element("h2"):
            ui.label(text("numbers"))
        self.conditions = ui.label().classes("quiet")
        with ui.element("table").classes("plain numbers"):
            with ui.element("thead"), ui.element("tr"):
                for place, key in enumerate(("numbers", "value", "interval")):
                    with ui.element("th").props("scope=col").classes("right" if place else ""):
                        ui.label(text(key)).classes("" if place else "sr")
            with ui.element("tbody"):
                for name in NUMBERS:
                    with ui.element("tr"):
                        with ui.element("th").props("scope=row"):
                            self.names[name] = ui.label(text(f"number.{name}"))
                        with ui.element("td").classes("right").props(f'data-number="{name}"'):
                            value = ui.label()
                        with ui.element("td").classes("right"):
                            self.numbers[name] = value, ui.label()
        self.crystals = ui.element("div")
        with ui.element("details"):
            with ui.element("summary"):
                ui.label(text("classes"))
            self.classes = ui.element("div")

    def _lay_pictures(self) -> None:
        with ui.element("h2"):
            ui.label(self.bench.texts("pictures"))
        self.thermometer = PictureFrame(self.bench, "thermometer")
        self.shares = PictureFrame(self.bench, "shares")

    # Filling

    def _told(self, part: Part) -> None:
        text, found = self.bench.texts, self.bench.answer
        if part == "stale":
            self.box.classes(add="stale")
            self._mark_pictures()
            self.state.set_text(text("state.updating"))
            return
        if part == "failed":
            self.state.set_text(text("state.failed"))
            return
        if part == "conditions":
            if found is not None and self.bench.is_fresh and not found.amounts.problems:
                self._say_fresh(found.amounts)
            return
        assert found is not None
        if part == "amounts":
            self._show_amounts(found.amounts)
        elif part == "verdicts" and found.verdicts is not None:
            self._show_verdicts(found.verdicts)
        elif part == "everything" and found.everything is not None:
            self._show_everything(found.everything)
            self.box.classes(remove="stale")
            self._say_fresh(found.amounts)
            self._draw_soon()

    def _say_fresh(self, found: Amounts) -> None:
        text = self.bench.texts
        if self.bench.sheet.is_blank:
            self.state.set_text("")
            return
        waiting = [n for n in found.waiting if self.bench.sheet.lines[n].material.strip()]
        if self.bench.unread:
            names = ", ".join(self._head_name(key) for key in self.bench.unread)
            self.state.set_text(text("state.unread", names=names))
        elif waiting:
            rows = ", ".join(str(number + 1) for number in waiting)
            self.state.set_text(text("state.waiting", rows=rows))
        else:
            self.state.set_text(text("state.fresh"))

    def _head_name(self, key: str) -> str:
        return self.bench.texts(f"formula.{key}", degree=self.bench.units.degree)

    def _show_amounts(self, found: Amounts) -> None:
        text, units = self.bench.texts, self.bench.units
        if found.problems:
            key = "state.wrong" if self.box.visible else "state.wrong_first"
            said = text(key, count=len(found.problems))
            general = [p.message for p in found.problems if p.row is None]
            self.state.set_text(" ".join([said, *general]))
            self.total.set_text("")
            return
        self.empty.set_visibility(found.is_empty)
        self.box.set_visibility(not found.is_empty)
        if found.density is None or found.volume is None or found.volume_20C is None:
            self.total.set_text("")
            self._say_fresh(found)
            return
        whole = found.volume_20C
        volume = units.cells(whole)[0] if whole.is_ok else text("unknown")
        total = units.grams(found.total_g, 2)
        self.total.set_text(
            text("total.line", grams=total, volume=volume, at=units.kelvin(BENCH_K))
        )
        self._show_conditions()
        self._put("density_g_mL", found.density)
        self._put("volume_mL", found.volume)

    def _show_conditions(self) -> None:
        """What the numbers stand at."""
        assert self.bench.answer is not None
        text, asked = self.bench.texts, self.bench.answer.asked
        at = self.bench.units.bench(asked.sheet.bench_C)
        self.conditions.set_text(text("numbers.at", at=at, air=f"{asked.sheet.pressure_kPa:g}"))
        for name in EARLY:
            self.names[name].set_text(text("number.at", name=text(f"number.{name}"), at=at))

    def _put(self, name: str, estimate: Estimate) -> None:
        value, span = self.bench.units.cells(estimate)
        shown, between = self.numbers[name]
        shown.set_text(value if estimate.is_ok else self.bench.texts(f"status.{value}"))
        between.set_text(span)
        between.props(remove="lang") if estimate.is_ok else between.props("lang=en")

    def _show_verdicts(self, found: Verdicts) -> None:
        text, units = self.bench.texts, self.bench.units
        self.sentences["dissolve"].set_text(dissolves(found, text, units))
        self.sentences["liquid"].set_text(one_liquid(found, text, units))
        self.sentences["burn"].set_text(burns(found, text, units))
        self._put("flash_point_closed_cup_C", found.flash)
        self._put("initial_boiling_point_C", found.boiling)
        self._put("dissolution_temperature_C", found.last_crystal)

    def _show_everything(self, found: Everything) -> None:
        for name, estimate in found.estimates.items():
            if name in self.numbers:
                self._put(name, estimate)
        self._show_counted(found.observations)
        self._show_findings(besides(found.findings, self.bench.sheet.notices))
        self._show_crystals(found.solids)
        self._show_classes(found)

    def _show_counted(self, compared: tuple[Compared, ...]) -> None:
        """What the bench saw, where it is counted in."""
        self.counted.clear()
        with self.counted:
            counted_list(compared, self.bench.texts)

    def _show_findings(self, findings: Sequence[Finding]) -> None:
        text = self.bench.texts
        grave = [f for f in findings if f.severity != "info"]
        notes = [f for f in findings if f.severity == "info"]
        self.todo.clear()
        with self.todo:
            if grave:
                findings_list(grave, text)
            else:
                ui.label(text("verdict.nothing")).classes("quiet")
        self.notes_head.set_text(text("verdict.notes", count=len(notes)))
        self.notes_box.set_visibility(bool(notes))
        self.notes.clear()
        with self.notes:
            findings_list(notes, text)

    def _show_crystals(self, solids: tuple[SolidLine, ...]) -> None:
        text, units = self.bench.texts, self.bench.units
        self.crystals.clear()
        if not solids:
            return
        with self.crystals:
            heads = ("crystals", "amount", "crystals.go", "crystals.back")
            rows = []
            for solid in solids:
                goes = units.cells(solid.dissolves)[0]
                rows.append(
                    (
                        solid.material,
                        units.grams(solid.mass_kg * 1e3),
                        goes if solid.dissolves.is_ok else text(f"status.{goes}"),
                        units.grams(solid.back_4C_g, 2),
                    )
                )
            table([text(head) for head in heads], rows)

    def _show_classes(self, found: Everything) -> None:
        text = self.bench.texts
        self.classes.clear()
        with self.classes:
            heads = ("classes.scheme", "classes.class", "classes.standing", "classes.clause")
            rows = [(c.title, c.words(), self._how_sure(c), c.clause) for c in found.classings]
            table([text(head) for head in heads], rows, words=4)

    def _how_sure(self, classing: Classing) -> str:
        if classing.treat_as != classing.category:
            return self.bench.texts("sure.estimate", category=classing.name)
        return self.bench.texts(f"sure.{classing.standing}")

    # Pictures, once the typing pauses

    def _draw_soon(self) -> None:
        if not self._drawing:
            self._drawing = True
            background_tasks.create(self._draw(), name="pictures")

    async def _draw(self) -> None:
        import asyncio

        try:
            drawn = None
            while not self.bench.closed and drawn != self.bench.asked():
                await asyncio.sleep(DRAW_AFTER_s)
                found = self.bench.answer
                if not self.bench.is_fresh or found is None or found.everything is None:
                    return
                drawn = found.asked
                title = self.bench.sheet.name or self.bench.texts("formula")
                await self.thermometer.show(thermometer, found.asked)
                self.drawn["thermometer"] = drawn
                self._mark_pictures()
                await self.shares.show(shares_by_row, found.everything.contributions, title)
                self.drawn["shares"] = drawn
                self._mark_pictures()
        finally:
            self._drawing = False

    def _mark_pictures(self) -> None:
        """A picture of another formula than the one that stands there is stale by itself, until
        it is drawn anew."""
        asked = self.bench.asked()
        for name, frame in (("thermometer", self.thermometer), ("shares", self.shares)):
            is_stale = name in self.drawn and self.drawn[name] != asked
            frame.box.classes(add="stale" if is_stale else "", remove="" if is_stale else "stale")
