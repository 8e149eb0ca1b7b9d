"""The left-hand side: name and conditions, the rows, and what is done with the whole formula."""

from __future__ import annotations

import html
from collections.abc import Callable
from dataclasses import replace

from nicegui import events, ui

from blendwright.app.web.fields import BENCH_RANGE_C, Head, PRESSURE_RANGE_kPa, with_head
from blendwright.app.web.grid import NAMES, UNDO, FormulaGrid
from blendwright.app.web.saved_formulas import SavedFormulas
from blendwright.app.web.session import Part, Session
from blendwright.app.web.sheet import Line, Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import drop_zone, number_field, outline_button
from blendwright.app.web.worker_pool import RefusedError
from blendwright.catalogue import Catalogue
from blendwright.formula import read_formula_bytes
from blendwright.formula.numbers import parse_number
from blendwright.formula.table_files import MOST_BYTES

MOST_LINES = 300  # of the grid; a longer table is for the command line
EXAMPLE = Sheet(
    "Orchard pear and cardamom soda concentrate",
    "50",
    (
        Line("ethyl acetate", "1.20", role="top note"),
        Line("isoamyl acetate", "2.10", role="pear"),
        Line("hexyl acetate", "1.40", role="pear skin"),
        Line("ethyl butyrate", "1.60", role="fruit"),
        Line("ethyl 2-methylbutyrate", "0.80", role="apple"),
        Line("pear ester", "0.25", role="ripe pear", note="ethyl 2E-4Z-decadienoate"),
        Line("cis-3-hexenol", "0.30", strength_pct="10", carrier="propylene glycol", role="green"),
        Line("benzaldehyde", "0.05", role="pit"),
        Line("gamma-decalactone", "0.15", role="peach"),
        Line("linalool", "0.10", role="floral"),
        Line("cardamom oil", "0.20", role="spice"),
        Line("eugenol", "0.05", role="spice"),
        Line("vanillin", "0.90", role="sweet"),
        Line("ethyl maltol", "0.25", role="sugar"),
        Line("triethyl citrate", "0.60", role="fixative"),
        Line("propylene glycol", "q.s.", role="carrier"),
    ),
)


def names_list(catalogue: Catalogue) -> str:
    """Every name, synonym and CAS number as the browser's own suggestions; all text escaped."""
    offered: dict[str, str] = {}
    for name in catalogue.names():
        material = catalogue.material(name) if name in catalogue.own_names() else None
        known = material or catalogue._identity_only(name)
        offered.setdefault(name, known.cas)
        for other in (*known.names, known.cas):
            if other:
                offered.setdefault(other, name)
    options = "".join(
        f'<option value="{html.escape(name)}">{html.escape(said)}</option>'
        for name, said in offered.items()
    )
    return f'<datalist id="{NAMES}">{options}</datalist>'


class FormulaPanel:
    """The formula as it is typed. `look_up` shows a material's card."""

    def __init__(self, session: Session, look_up: Callable[[str], None]) -> None:
        self.session = session
        self.look_up = look_up
        self.root = ui.context.client.content
        self._troubled = False
        self.side = ui.element("section").classes("side formula")
        self.side.props["aria-label"] = text("formula")
        self.side.props["data-document"] = session.document.id
        with self.side:
            self._formula(self.side)
        session.on_sheet.append(self._show_head)
        session.on_sheet.append(self._show_steps)
        session.listeners.append(self._on_answer)
        session.on_trouble = self._trouble

    # The formula

    def _formula(self, side: ui.element) -> None:
        shown = Head.of(self.session.sheet)
        with ui.element("h2").classes("sr"):
            ui.label(text("formula"))
        self.saved = SavedFormulas(self.session, self._pick, self.put_example)
        self.head: dict[str, ui.input] = {}
        with ui.element("div").classes("about-formula"):
            for key, value in (
                ("name", shown.name),
                ("batch", shown.batch_g),
                ("bench", shown.bench),
                ("pressure", shown.pressure_kPa),
            ):
                field = number_field(text(f"formula.{key}"), value)
                field.classes(remove="ask-field").props(f"data-head={key}")
                field.on_value_change(self._head_typed)
                self.head[key] = field
            self.head["name"].props(remove="inputmode")
        with ui.element("div").classes("buttons toolbar"):
            self.undo = outline_button("undo", self.session.undo)
            self.redo = outline_button("redo", self.session.redo)
            outline_button("save", self.saved.save)
            outline_button("open", self.saved.open)
            outline_button("new", lambda: self._put(Sheet()))
            outline_button("scale", self._scale)
        self._head_showing = False
        self._row_dialog()
        FormulaGrid(self.session, self._open_row)
        with ui.element("div").classes("total"):
            ui.label(text("total"))
            self.total = ui.label().props("data-total")
        self.said = ui.label().props("role=alert").classes("problem pre")
        ui.label(text("grid.help")).classes("quiet hint")
        self.upload = ui.upload(
            label=text("open"),
            auto_upload=True,
            max_file_size=MOST_BYTES,
            on_upload=self._opened,
            on_rejected=lambda: self._refuse("", text("file.too_large")),
        ).classes("hidden-upload")
        self.upload.on("failed", lambda: self._refuse("", text("file.too_large")), args=[])
        drop_zone(side, self.upload)
        side.on("keydown", self._step, js_handler=UNDO)
        self._show_steps()

    def _step(self, event: events.GenericEventArguments) -> None:
        if event.args == "undo":
            self.session.undo()
        else:
            self.session.redo()

    def put_example(self) -> None:
        self._put(EXAMPLE)

    def _put(self, sheet: Sheet) -> None:
        """Another formula, on the same bench in the same air."""
        here = self.session.sheet
        sheet = replace(sheet, bench_C=here.bench_C, pressure_kPa=here.pressure_kPa)
        self.session.change(sheet.tidied())

    def _show_steps(self) -> None:
        self.undo.set_enabled(self.session.history.can_undo)
        self.redo.set_enabled(self.session.history.can_redo)

    def _show_head(self) -> None:
        shown = Head.of(self.session.sheet)
        values = (shown.name, shown.batch_g, shown.bench, shown.pressure_kPa)
        self._head_showing = True
        try:
            for field, value in zip(self.head.values(), values, strict=True):
                if field.value != value:
                    field.value = value
        finally:
            self._head_showing = False
        self._mark_unread(())

    def _head_typed(self) -> None:
        if self._head_showing:
            return
        written = Head(*(str(field.value or "") for field in self.head.values()))
        changed, wrong = with_head(self.session.sheet, written)
        self._mark_unread(wrong)
        self.session.change(changed, mark="head", redraw=False)

    def _mark_unread(self, wrong: tuple[str, ...]) -> None:
        """A field whose text can't be read says what is in force instead."""
        sheet = self.session.sheet
        in_force = {
            "bench": (sheet.bench_C, "°C", *BENCH_RANGE_C),
            "pressure": (sheet.pressure_kPa, "kPa", *PRESSURE_RANGE_kPa),
        }
        for key, (value, unit, *ends) in in_force.items():
            least, most = (f"{end:g}".replace("-", "−") for end in ends)
            said = text("head.unread", value=f"{value:g}", unit=unit, least=least, most=most)
            field = self.head[key]
            field.error = said if key in wrong else None
            if key in wrong:
                field.props("aria-invalid=true")
            else:
                field.props(remove="aria-invalid")
        if wrong != self.session.unread:
            self.session.unread = wrong
            self.session.report_conditions()

    def _mark_batch(self, is_idle: bool) -> None:
        """A batch size that nothing is made up to says so."""
        field, said = self.head["batch"], text("head.batch_idle")
        if is_idle and field.props.get("hint") != said:
            field.props["hint"] = said
            field.update()
        elif not is_idle and "hint" in field.props:
            field.props(remove="hint")

    # One row's dialog

    def _row_dialog(self) -> None:
        self.row_number = 0
        with ui.dialog() as self.dialog, ui.card().classes("talk"):
            self.dialog.props["aria-label"] = text("row.dialog")
            with ui.element("h2"):
                self.row_title = ui.label()
            with ui.element("div").classes("buttons"):
                for key, action in (
                    ("row.up", lambda: self._move_row(-1)),
                    ("row.down", lambda: self._move_row(1)),
                    ("row.make_up", self._make_up),
                    ("row.card", self._card),
                    ("row.remove", self._remove),
                ):
                    outline_button(key, action)
            self.row_fields: dict[str, ui.input] = {}
            for column in ("role", "note", "cas", "smiles"):
                field = number_field(text(f"row.{column}"))
                field.props(remove="inputmode").classes("wide", remove="ask-field")
                field.on_value_change(lambda e, c=column: self._row_typed(c, str(e.value or "")))
                self.row_fields[column] = field
            outline_button("close", self.dialog.close)

    def _open_row(self, number: int) -> None:
        self.row_number = number
        line = self.session.sheet.lines[number]
        name = line.material.strip() or text("row.empty")
        self.row_title.set_text(text("row.title", row=number + 1, name=name))
        self._head_showing = True
        for column, field in self.row_fields.items():
            field.value = getattr(line, column)
        self._head_showing = False
        self.dialog.open()

    def _row_typed(self, column: str, written: str) -> None:
        if not self._head_showing and self.row_number < len(self.session.sheet.lines):
            sheet = self.session.sheet.with_cell(self.row_number, column, written)
            self.session.change(sheet, mark=f"{self.row_number}/{column}")

    def _move_row(self, by: int) -> None:
        end = self.row_number + by
        if 0 <= end < len(self.session.sheet.written):
            self.session.change(self.session.sheet.moved(self.row_number, end))
            self._open_row(end)

    def _make_up(self) -> None:
        self.dialog.close()
        self.session.change(self.session.sheet.made_up_with(self.row_number))

    def _card(self) -> None:
        self.dialog.close()
        name = self.session.sheet.lines[self.row_number].material.strip()
        if name:
            self.look_up(name)

    def _remove(self) -> None:
        self.dialog.close()
        self.session.change(self.session.sheet.without(self.row_number))

    # Scaling, files

    async def _scale(self) -> None:
        with self.root, ui.dialog() as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text("scale.title")
            with ui.element("h2"):
                ui.label(text("scale.title"))
            by = number_field(text("scale.by"))
            to = number_field(text("scale.to"))
            with ui.element("div").classes("buttons"):
                outline_button("cancel", lambda: dialog.submit(None))
                outline_button("scale.do", lambda: dialog.submit((by.value, to.value)))
        chosen = await dialog
        dialog.delete()
        if chosen is None:
            return
        factor, total = parse_number(str(chosen[0] or "")), parse_number(str(chosen[1] or ""))
        answer = self.session.answer
        if factor is None and total and answer is not None and answer.amounts.total_g > 0.0:
            factor = total / answer.amounts.total_g
        if factor is None or not 0.0 < factor < 1e6:
            self._refuse("", text("scale.wrong"))
            return
        self.session.change(self.session.sheet.times(factor))

    def _pick(self) -> None:
        self.upload.reset()
        self.upload.run_method("pickFiles")

    async def _opened(self, event: events.UploadEventArguments) -> None:
        name, content = event.file.name, await event.file.read()
        try:
            if len(content) > MOST_BYTES:
                raise RefusedError(text("file.too_large"))
            formula = await self.session.services.workers.background(
                read_formula_bytes, content, name
            )
            if len(formula.rows) > MOST_LINES:
                raise RefusedError(text("file.too_long", most=MOST_LINES))
        except RefusedError as error:
            self._refuse(name, str(error))
            return
        self.said.set_text("")
        self.session.change(Sheet.from_formula(formula, self.session.sheet))
        ui.notify(text("file.opened", name=name))

    def _refuse(self, name: str, words: str) -> None:
        opened = text("file.refused", name=name) if name else ""
        self.said.set_text("\n".join(filter(None, (words, opened))))

    # What went wrong

    def _trouble(self, words: str) -> None:
        self._troubled = True
        self.said.set_text(words)

    def _on_answer(self, part: Part) -> None:
        self._show_steps()
        if part == "amounts" and self.session.answer is not None:
            self._mark_batch(self.session.answer.amounts.is_batch_idle)
        if part == "everything" and self._troubled:
            self._troubled = False
            self.said.set_text("")
