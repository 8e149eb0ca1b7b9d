"""How much is it? Millilitres and drops, the order of weighing, the balance, the bottles."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from blendwright.app.web import figures
from blendwright.app.web.jobs import work_sheet
from blendwright.app.web.sections.section import QuestionForm, Section
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import findings_list, number_field, table
from blendwright.app.web.worker_pool import RefusedError
from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate, display_name
from blendwright.formula.conditions import BENCH_K
from blendwright.formula.numbers import LARGEST_g
from blendwright.mixture.weighing import DROP_mL
from blendwright.questions.volumes.drops import USUAL_DROP, DropCount
from blendwright.questions.volumes.filling import Bottles, Filling
from blendwright.questions.volumes.rounding import COARSEST_g, FINEST_g, Rounding, RoundingEffect
from blendwright.questions.volumes.volumes import BenchOrder, BenchSheet, PipettedRow
from blendwright.questions.volumes.weighing_order import ORDER_RULE

NEAR_ONE = 1e-9
HINTS = {
    "first part": "volumes.first_part",
    "until clear": "volumes.until_clear",
    "cold": "volumes.cold",
    "to weight": "volumes.to_weight",
}


class Volumes(QuestionForm[BenchSheet]):
    key = "volumes"
    by_itself = True

    def fields(self) -> None:
        own, at_bench = self.session.services.settings.balance_g, text("volumes.as_bench")
        self.at = number_field(text("volumes.at"), hint=at_bench)
        self.make = number_field(text("volumes.make"), hint=text("volumes.as_written"))
        self.balance = number_field(text("volumes.balance"), "" if own is None else f"{own:g}")
        self.bottles = number_field(text("volumes.bottles"))
        self.bottles.props(remove="inputmode")
        self.brim = number_field(text("volumes.brim"))
        self.loss = number_field(text("volumes.loss"), hint="0")
        measured = text("volumes.as_measured")
        self.fill_at = number_field(text("volumes.fill_at"), hint=measured)

    def question(self) -> tuple[Callable[..., BenchSheet], tuple[Any, ...]]:
        request = self.session.request()
        bottles = self._bottles()
        scale_to_g = self.number(self.make, 1e-3, LARGEST_g)
        if bottles is not None and scale_to_g is not None:
            raise RefusedError(text("volumes.one_size"))
        at_K = self.kelvin(self.at, -40.0, 150.0) or request.bench_K
        own = abs(request.drop_mL - DROP_mL) > NEAR_ONE
        order = BenchOrder(
            temperature_K=at_K,
            fill_K=self.kelvin(self.fill_at, -40.0, 150.0) or at_K,
            pressure_Pa=request.pressure_Pa,
            scale_to_g=scale_to_g,
            bottles=bottles,
            balance_g=self.number(self.balance, FINEST_g, COARSEST_g),
            drop=DropCount(request.drop_mL) if own else USUAL_DROP,
        )
        return work_sheet, (request, order)

    def _bottles(self) -> Bottles | None:
        written = str(self.bottles.value or "").strip()
        brim = self.number(self.brim, 0.1, 1e5)
        loss = self.number(self.loss, 0.0, 50.0) or 0.0
        if not written:
            if brim is not None or loss:
                raise RefusedError(text("volumes.bottles_first"))
            return None
        try:
            return Bottles.parse(written, brim, loss / 100.0)
        except BlendwrightError as error:
            raise RefusedError(str(error)) from None

    # The answer

    def show(self, answer: BenchSheet) -> None:
        if abs(answer.factor - 1.0) > NEAR_ONE:
            ui.label(text("volumes.scaled", times=f"{answer.factor:.4g}")).classes("strong")
        findings_list(answer.findings)
        self._show_rows(answer)
        self._show_totals(answer)
        if answer.filling is not None:
            self._show_bottles(answer.filling)
        self._show_steps(answer)
        if answer.rounding is not None:
            self._show_rounding(answer.rounding)
        drop = f"{answer.drop.interval()[0] * 1e6:.3g}"
        how = "volumes.drop" if answer.drop.sources else "volumes.own_drop"
        ui.label(text(how, drop=drop)).classes("quiet")
        if any(row.is_crystal for row in answer.rows):
            ui.label(text("volumes.room")).classes("quiet")

    def _show_rows(self, answer: BenchSheet) -> None:
        heads = [text("grid.material"), text("amount"), "g/mL"]
        here = figures.celsius(answer.order.temperature_K)
        heads += [
            f"mL, {here}",
            "±\N{NO-BREAK SPACE}(90\N{NO-BREAK SPACE}%)",
            text("volumes.drops"),
        ]
        whole = answer.weighing.total_g, answer.density, answer.total
        rows = [
            (row.row.label, *self._cells(row.row.grams, row.density, row.volume), self._drops(row))
            for row in answer.rows
        ]
        table(heads, [*rows, (text("total"), *self._cells(*whole), "")])

    def _cells(self, grams: float, density: Estimate, volume: Estimate) -> tuple[str, ...]:
        heavy = figures.grams(grams)
        dense = density.in_display_units().value
        g_mL = "" if dense is None else f"{dense:.3f}"
        shown = volume.in_display_units()
        if not shown.is_ok:
            return heavy, g_mL, text(f"status.{shown.status}"), ""
        value, low, high = shown.interval()
        return heavy, g_mL, f"{value:.3f}", f"{0.5 * (high - low):.3f}"

    def _drops(self, row: PipettedRow) -> str:
        if row.is_crystal:
            return text("volumes.weigh_it")
        value = row.drops.value
        return text("unknown") if value is None else f"{value:.0f}"

    def _show_totals(self, answer: BenchSheet) -> None:
        at = {BENCH_K: answer.total_20C, answer.order.fill_K: answer.total_at_fill}
        for kelvin, total in at.items():
            said, span = figures.cells(total)
            if not total.is_ok:
                said, span = text(f"status.{said}"), "; ".join(total.notes)
            here = figures.celsius(kelvin)
            ui.label(text("volumes.fills", at=here, volume=said, interval=span))

    def _show_bottles(self, found: Filling) -> None:
        bottles = found.bottles
        _, low, high = found.in_each.in_display_units().interval()
        each = f"{found.in_each.in_display_units().interval()[0]:.2f}"
        needed = f"{bottles.needed_mL:g}"
        ui.label(
            text(
                "volumes.each",
                count=bottles.count,
                fill=f"{bottles.fill_mL:g}",
                needed=needed,
                each=each,
                low=f"{low:.2f}",
                high=f"{high:.2f}",
            )
        ).classes("strong")

    def _show_steps(self, answer: BenchSheet) -> None:
        digits = _digits(answer.rounding)
        ui.label(text("volumes.order")).classes("table-head")
        heads = [text("grid.material"), text("volumes.add"), text("volumes.display")]
        rows = []
        for place, step in enumerate(answer.steps, start=1):
            mind = f" ({text(HINTS[step.hint])})" if step.hint else ""
            rows.append(
                (
                    f"{place}. {step.material}{mind}",
                    f"{step.grams:.{digits}f} g",
                    f"{step.running_total_g:.{digits}f} g",
                )
            )
        table(heads, rows)
        ui.label(ORDER_RULE).classes("quiet")
        ui.label(text("volumes.tare")).classes("quiet")

    def _show_rounding(self, found: Rounding) -> None:
        digits = _digits(found)
        said = text("volumes.rounded", division=f"{found.division_g:g}")
        ui.label(said).classes("table-head")
        wanted, weighed = text("volumes.wanted"), text("volumes.weighed")
        table(
            [text("grid.material"), wanted, weighed, text("volumes.off")],
            [
                (
                    r.material,
                    f"{r.wanted_g:.4f} g",
                    f"{r.grams:.{digits}f} g",
                    f"{100.0 * r.error:+.1f} %",
                )
                for r in found.rows
            ],
        )
        heads = [text("volumes.does"), wanted, weighed, text("volumes.small")]
        table(heads, [self._effect(effect) for effect in found.effects], last_words=True)

    def _effect(self, effect: RoundingEffect) -> tuple[str, str, str, str]:
        ends = []
        for estimate in (effect.wanted, effect.weighed):
            said = figures.cells(estimate)[0]
            ends.append(said if estimate.is_ok else text(f"status.{said}"))
        small = "volumes.within" if effect.is_within else "volumes.beyond"
        return text(f"number.{display_name(effect.name)}"), ends[0], ends[1], text(small)


def _digits(found: Rounding | None) -> int:
    """As many as the balance shows; 3 without one."""
    if found is None:
        return 3
    return len(f"{found.division_g:.10f}".rstrip("0").partition(".")[2])


SECTION = Section("volumes", Volumes)
