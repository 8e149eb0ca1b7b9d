"""The layout: one screen, the formula on the left, answers and more questions on the right."""

from __future__ import annotations

import html
import secrets
from dataclasses import replace
from importlib.resources import files

from nicegui import app, background_tasks, events, ui

from blendwright.catalogue import Catalogue
from blendwright.formula import read_formula_bytes
from blendwright.formula.numbers import number_between, parse_number
from blendwright.formula.table_files import MOST_BYTES
from blendwright.verdict.cautions import CAUTIONS
from blendwright.version import __version__
from blendwright.web.answers_panel import AnswersPanel
from blendwright.web.bench import Bench, Services
from blendwright.web.grid import NAMES, UNDO, FormulaGrid
from blendwright.web.hands import RefusedError
from blendwright.web.pieces import drop_zone, number_field
from blendwright.web.sections import SECTIONS, Section
from blendwright.web.state import Line, Sheet
from blendwright.web.texts import LANGUAGES, Language, Texts
from blendwright.web.units import Units
from blendwright.web.work_store import ElsewhereError

MOST_LINES = 300  # of the grid; a longer table is for the command line
BEHIND = """<script>
// what lies behind a dialog can neither be read nor reached while it is open; then back to it
let came = null;
document.addEventListener('focusin', (e) => {
  if (e.target.closest('.q-layout')) came = e.target;
});
new MutationObserver(() => {
  const page = document.querySelector('.q-layout');
  const open = document.documentElement.classList.contains('nicegui-dialog-open');
  if (!page || page.inert === open) return;
  page.inert = open;
  if (open) return;
  setTimeout(() => {
    const nowhere = !document.activeElement || !document.activeElement.closest('.q-layout');
    if (nowhere && came && came.isConnected) came.focus({preventScroll: true});
  }, 50);
}).observe(document.documentElement, {attributes: true, attributeFilter: ['class']});
</script>"""
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


def stylesheet() -> str:
    return (files("blendwright.web") / "page.css").read_text(encoding="utf-8")


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


class Page:
    """One window's page."""

    def __init__(self, services: Services, language: Language, desk: str) -> None:
        owner = str(app.storage.browser["id"])
        self.text = Texts(language)
        self.bench = Bench(
            services,
            owner,
            services.store.open_desk(owner, desk),
            self.text,
            units=_units_of(app.storage.user.get("units")),
        )
        services.opened(self.bench)
        self._build()
        self.bench.on_elsewhere = self._elsewhere
        self.bench.on_trouble = self._trouble
        self.bench.on_sheet.append(self._show_head)
        self.bench.on_sheet.append(self._show_steps)
        self.bench.listeners.append(lambda part: self._show_steps())
        ui.context.client.on_delete(lambda: services.left(self.bench))
        self.root = ui.context.client.content

    def _build(self) -> None:
        text = self.text
        ui.add_head_html(BEHIND)
        ui.link(text("skip"), "#answers").classes("skip")
        with ui.element("header").classes("bench-head"):
            with ui.element("h1"):
                ui.label("blendwright")
            self.state = ui.label().classes("state").props("role=status aria-live=polite")
            self._settings()
        with ui.element("div").classes("columns"):  # the framework's page is the main landmark
            left = ui.element("section").classes("side formula")
            left.props["aria-label"] = text("formula")
            right = ui.element("section").classes("side").props("tabindex=0 id=answers")
            right.props["aria-label"] = text("answers")
        with left:
            self._formula(left)
        with right:
            self.panel = AnswersPanel(self.bench, self.state, self.total)
            with ui.element("h2"):
                ui.label(text("questions"))
            for section in SECTIONS:
                self._section(section)
            self._foot()
        self.names = ui.html(names_list(self.bench.catalogue()), sanitize=False).classes("names")
        self.bench.on_materials.append(self._offer_names)

    def _offer_names(self) -> None:
        self.names.set_content(names_list(self.bench.catalogue()))

    # Head

    def _settings(self) -> None:
        text, units = self.text, self.bench.units
        with ui.element("details"):
            with ui.element("summary"):
                ui.label(text("settings"))
            with ui.element("div").classes("settings"):
                self._choice("units.mass", {"g": "g", "oz": "oz"}, units.mass, "mass")
                degrees = {"C": "°C", "F": "°F"}
                self._choice("units.temperature", degrees, units.temperature, "temperature")
                volumes = {"mL": "mL", "drops": text("units.drops")}
                self._choice("units.volume", volumes, units.volume, "volume")
                drop = number_field(text("units.drop"), f"{units.drop_mL:g}")
                drop.on("change", lambda: self._set_drop(str(drop.value)))
                with ui.element("nav") as nav:
                    nav.props["aria-label"] = text("language")
                    for code, name in LANGUAGES.items():
                        path = "/" if code == "en" else f"/{code}"
                        link = ui.link(name, f"{path}?desk={self.bench.desk.id}")
                        link.props(f"lang={code} hreflang={code}")
                        if code == text.language:
                            link.props("aria-current=page")
                ui.label(f"{text('units.note')} {text('english_only')}").classes("quiet")

    def _choice(self, key: str, options: dict[str, str], value: str, name: str) -> None:
        with ui.element("fieldset"):
            with ui.element("legend"):
                ui.label(self.text(key))
            ui.radio(options, value=value, on_change=lambda e: self._set(name, e.value)).props(
                "inline"
            )

    def _set(self, name: str, value: object) -> None:
        """A unit is the whole page's: keep it, and lay the page out anew."""
        kept = dict(app.storage.user.get("units") or {})
        app.storage.user["units"] = {**kept, name: value}
        self.bench.keep_now()
        ui.navigate.to(self._address())

    def _set_drop(self, written: str) -> None:
        value = number_between(written, 0.001, 1.0)
        if value is not None:
            self._set("drop_mL", value)

    def _address(self) -> str:
        path = "/" if self.text.language == "en" else f"/{self.text.language}"
        return f"{path}?desk={self.bench.desk.id}"

    # The formula

    def _formula(self, side: ui.element) -> None:
        text, sheet = self.text, self.bench.sheet
        with ui.element("h2"):
            ui.label(text("formula"))
        with ui.element("div").classes("about-formula"):
            self.name = number_field(text("formula.name"), sheet.name)
            self.name.props(remove="inputmode")
            self.batch = number_field(text("formula.batch"), sheet.batch_g)
            label = text("formula.bench", degree=self.bench.units.degree)
            self.at = number_field(label, self._shown_bench())
            self.air = number_field(text("formula.pressure"), f"{sheet.pressure_kPa:g}")
            for field in (self.name, self.batch, self.at, self.air):
                field.classes(remove="ask-field")
                field.on_value_change(self._head_typed)
        self._head_showing = False
        self._row_dialog()
        FormulaGrid(self.bench, self._open_row)
        with ui.element("div").classes("total"):
            ui.label(text("total"))
            self.total = ui.label().props("data-total")
        with ui.element("div").classes("buttons"):
            self.undo = self._button("undo", self.bench.undo)
            self.redo = self._button("redo", self.bench.redo)
            self._button("scale", self._scale)
            self._button("open", self._pick)
            self._button("new", lambda: self.bench.change(Sheet().tidied()))
            self._button("example", lambda: self.bench.change(EXAMPLE.tidied()))
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

    def _button(self, key: str, action: object) -> ui.button:
        return ui.button(self.text(key), on_click=action).props("outline no-caps")  # type: ignore[arg-type]

    def _step(self, event: events.GenericEventArguments) -> None:
        if event.args == "undo":
            self.bench.undo()
        else:
            self.bench.redo()

    def _show_steps(self) -> None:
        self.undo.set_enabled(self.bench.history.can_undo)
        self.redo.set_enabled(self.bench.history.can_redo)

    def _shown_bench(self) -> str:
        return f"{self.bench.units.shown_temperature(self.bench.sheet.bench_C):g}"

    def _show_head(self) -> None:
        sheet = self.bench.sheet
        self._head_showing = True
        try:
            for field, shown in (
                (self.name, sheet.name),
                (self.batch, sheet.batch_g),
                (self.at, self._shown_bench()),
                (self.air, f"{sheet.pressure_kPa:g}"),
            ):
                if field.value != shown:
                    field.value = shown
        finally:
            self._head_showing = False

    def _head_typed(self) -> None:
        if self._head_showing:
            return
        sheet, units = self.bench.sheet, self.bench.units
        at = parse_number(str(self.at.value))
        air = number_between(str(self.air.value), 10.0, 120.0)
        celsius = sheet.bench_C if at is None else units.celsius(at)
        kPa = sheet.pressure_kPa if air is None else air
        self._mark(self.at, at is None or not -40.0 <= celsius <= 150.0)
        self._mark(self.air, air is None or not 10.0 <= kPa <= 120.0)
        changed = replace(
            sheet,
            name=str(self.name.value or "")[:200],
            batch_g=str(self.batch.value or "")[:40],
            bench_C=celsius if -40.0 <= celsius <= 150.0 else sheet.bench_C,
            pressure_kPa=kPa if 10.0 <= kPa <= 120.0 else sheet.pressure_kPa,
        )
        self.bench.change(changed, mark="head", redraw=False)

    def _mark(self, field: ui.input, wrong: bool) -> None:
        field.props("error" if wrong else "", remove="" if wrong else "error")
        if wrong:
            field.props("aria-invalid=true")
        else:
            field.props(remove="aria-invalid")

    # One row's dialog

    def _row_dialog(self) -> None:
        text = self.text
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
                    self._button(key, action)
            self.row_fields: dict[str, ui.input] = {}
            for column in ("role", "note", "cas", "smiles"):
                field = number_field(text(f"row.{column}"))
                field.props(remove="inputmode").classes("wide", remove="ask-field")
                field.on_value_change(lambda e, c=column: self._row_typed(c, str(e.value or "")))
                self.row_fields[column] = field
            self._button("close", self.dialog.close)

    def _open_row(self, number: int) -> None:
        self.row_number = number
        line = self.bench.sheet.lines[number]
        name = line.material.strip() or self.text("row.empty")
        self.row_title.set_text(self.text("row.title", row=number + 1, name=name))
        self._head_showing = True
        for column, field in self.row_fields.items():
            field.value = getattr(line, column)
        self._head_showing = False
        self.dialog.open()

    def _row_typed(self, column: str, written: str) -> None:
        if not self._head_showing and self.row_number < len(self.bench.sheet.lines):
            sheet = self.bench.sheet.with_cell(self.row_number, column, written)
            self.bench.change(sheet, mark=f"{self.row_number}/{column}")

    def _move_row(self, by: int) -> None:
        end = self.row_number + by
        if 0 <= end < len(self.bench.sheet.written):
            self.bench.change(self.bench.sheet.moved(self.row_number, end))
            self._open_row(end)

    def _make_up(self) -> None:
        self.dialog.close()
        self.bench.change(self.bench.sheet.made_up_with(self.row_number))

    def _card(self) -> None:
        self.dialog.close()
        name = self.bench.sheet.lines[self.row_number].material.strip()
        if not name:
            return
        self.bench.wanted_material = name
        ui.run_javascript("document.getElementById('question-material').open = true")
        ui.run_javascript("document.getElementById('question-material').scrollIntoView()")
        if self.bench.on_material is not None:
            self.bench.on_material(name)

    def _remove(self) -> None:
        self.dialog.close()
        self.bench.change(self.bench.sheet.without(self.row_number))

    # Scaling, files

    async def _scale(self) -> None:
        text = self.text
        with self.root, ui.dialog() as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text("scale.title")
            with ui.element("h2"):
                ui.label(text("scale.title"))
            by = number_field(text("scale.by"))
            to = number_field(text("scale.to"))
            with ui.element("div").classes("buttons"):
                self._button("cancel", lambda: dialog.submit(None))
                self._button("scale.do", lambda: dialog.submit((by.value, to.value)))
        asked = await dialog
        dialog.delete()
        if asked is None:
            return
        factor, total = parse_number(str(asked[0] or "")), parse_number(str(asked[1] or ""))
        answer = self.bench.answer
        if factor is None and total and answer is not None and answer.amounts.total_g > 0.0:
            factor = total / answer.amounts.total_g
        if factor is None or not 0.0 < factor < 1e6:
            self._refuse("", text("scale.wrong"))
            return
        self.bench.change(self.bench.sheet.times(factor))

    def _pick(self) -> None:
        self.upload.reset()
        self.upload.run_method("pickFiles")

    async def _opened(self, event: events.UploadEventArguments) -> None:
        name, content = event.file.name, await event.file.read()
        try:
            if len(content) > MOST_BYTES:
                raise RefusedError(self.text("file.too_large"))
            formula = await self.bench.services.hands.slow(read_formula_bytes, content, name)
            if len(formula.rows) > MOST_LINES:
                raise RefusedError(self.text("file.too_long", most=MOST_LINES))
        except RefusedError as error:
            self._refuse(name, str(error))
            return
        self.said.set_text("")
        self.bench.change(Sheet.from_formula(formula, self.bench.sheet))
        ui.notify(self.text("file.opened", name=name))

    def _refuse(self, name: str, words: str) -> None:
        opened = self.text("file.refused", name=name) if name else ""
        self.said.set_text("\n".join(filter(None, (words, opened))))

    def open_file(self, name: str, content: bytes) -> None:
        """The file named on the command line, unless the desk has work on it."""
        formula = read_formula_bytes(content, name)
        self.bench.change(Sheet.from_formula(formula, self.bench.sheet))

    # Sections

    def _section(self, section: Section) -> None:
        with ui.element("details").classes("question") as box:
            box.props(f"id=question-{section.key}")
            with ui.element("summary"), ui.element("h3"):
                ui.label(self.text(f"section.{section.key}"))
            inside = ui.element("div").classes("inside")
        built = False

        def build() -> None:
            nonlocal built
            if not built:
                built = True
                with inside:
                    section.build(self.bench)

        box.on("toggle", build, args=[])

    def _foot(self) -> None:
        with ui.element("h2"):
            ui.label(self.text("cautions"))
        with ui.element("ul").classes("small"):
            for caution in CAUTIONS:
                with ui.element("li").props("lang=en"):
                    ui.label(caution)
        data = self.bench.catalogue().version()
        ui.label(self.text("version", version=__version__, data=data)).classes("quiet")

    # Two windows on one formula

    async def _ask_both(self, elsewhere: ElsewhereError) -> None:
        text = self.text
        with self.root, ui.dialog().props("persistent") as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text("elsewhere.title")
            with ui.element("h2"):
                ui.label(text("elsewhere.title"))
            ui.label(text("elsewhere.text"))
            with ui.element("div").classes("buttons"):
                self._button("elsewhere.both", lambda: dialog.submit("both"))
                self._button("elsewhere.theirs", lambda: dialog.submit("theirs"))
        chosen = await dialog
        dialog.delete()
        if chosen == "theirs":
            self.bench.take(elsewhere)
            return
        own = replace(self.bench.desk, id=secrets.token_hex(8), revision=0)
        self.bench.keep_both(own)
        with self.root:
            ui.navigate.history.replace(self._address())
            ui.notify(text("elsewhere.kept"))

    def _elsewhere(self, elsewhere: ElsewhereError) -> None:
        background_tasks.create(self._ask_both(elsewhere), name="elsewhere")

    def _trouble(self, words: str) -> None:
        self.said.set_text(words)


def _units_of(kept: object) -> Units:
    """Units as kept for this browser; what isn't one is left at its default."""
    found = kept if isinstance(kept, dict) else {}
    units = Units()
    if found.get("mass") == "oz":
        units = replace(units, mass="oz")
    if found.get("temperature") == "F":
        units = replace(units, temperature="F")
    if found.get("volume") == "drops":
        units = replace(units, volume="drops")
    drop = found.get("drop_mL")
    if isinstance(drop, float) and 0.001 <= drop <= 1.0:
        units = replace(units, drop_mL=drop)
    return units
