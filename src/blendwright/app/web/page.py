"""The layout: one screen, the formula on the left, answers and more questions on the right."""

from __future__ import annotations

import html
import json
from dataclasses import replace
from importlib.resources import files

from nicegui import app, background_tasks, events, ui

from blendwright.app.web.answers_panel import AnswersPanel
from blendwright.app.web.bench import Bench, Part, Services
from blendwright.app.web.fields import (
    BENCH_RANGE_C,
    Head,
    PRESSURE_RANGE_kPa,
    Shown,
    with_head,
    with_shown,
)
from blendwright.app.web.grid import NAMES, UNDO, FormulaGrid
from blendwright.app.web.hands import RefusedError
from blendwright.app.web.pieces import drop_zone, number_field
from blendwright.app.web.sections import SECTIONS, Section
from blendwright.app.web.state import Line, Sheet
from blendwright.app.web.texts import LANGUAGES, Language, Texts
from blendwright.app.web.units import LEAST_DROP_mL, MOST_DROP_mL, Units
from blendwright.app.web.work_store import ElsewhereError
from blendwright.catalogue import Catalogue
from blendwright.formula import read_formula_bytes
from blendwright.formula.numbers import number_between, parse_number
from blendwright.formula.table_files import MOST_BYTES
from blendwright.verdict.cautions import CAUTIONS
from blendwright.version import __version__

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
    return (files("blendwright.app.web") / "page.css").read_text(encoding="utf-8")


def away_note(text: Texts) -> str:
    """What stands at the foot of the page while the program can't be reached, and what sees to
    it; plain HTML, since nothing comes from the program then."""
    said = "".join(
        f'<{tag} class="{kind}">{html.escape(text(key))}</{tag}>'
        for tag, kind, key in (
            ("strong", "if-lost", "away.lost"),
            ("strong", "if-gone", "away.gone"),
            ("span", "", "away.before"),
            ("span", "if-gone", "away.start"),
        )
    )
    script = (files("blendwright.app.web") / "away.js").read_text(encoding="utf-8")
    return f'<div id="away" role="alert">{said}</div><script type="module">{script}</script>'


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
            services.desk(owner, desk),
            self.text,
            units=Units.chosen(app.storage.user.get("units"), services.usual_drop_mL),
        )
        services.windows.opened(self.bench)
        self._asking_who: ui.dialog | None = None  # which window is to have the desk
        self._unsent: Shown | None = None
        self._troubled = False
        self._build()
        self.bench.on_elsewhere = self._elsewhere
        self.bench.on_trouble = self._trouble
        self.bench.on_holding = self._holding
        self.bench.on_sheet.append(self._show_head)
        self.bench.on_sheet.append(self._show_steps)
        self.bench.listeners.append(self._told)
        client = ui.context.client
        client.on_connect(
            lambda: services.windows.connected(self.bench, client.tab_id or client.id)
        )
        client.on_delete(lambda: services.windows.left(self.bench))
        self.root = client.content

    def _build(self) -> None:
        text = self.text
        ui.add_head_html(BEHIND)
        ui.add_body_html(away_note(text))
        ui.on("typed_while_away", self._typed_while_away)
        ui.link(text("skip"), "#answers").classes("skip")
        with ui.element("header").classes("bench-head"):
            with ui.element("h1"):
                ui.label("blendwright")
            self.state = ui.label().classes("state").props("role=status aria-live=polite")
            ui.label(text("away.state_lost")).classes("state if-lost")
            ui.label(text("away.state_gone")).classes("state if-gone")
            self._settings()
        with ui.element("div").classes("columns"):  # the framework's page is the main landmark
            left = ui.element("section").classes("side formula")
            left.props["aria-label"] = text("formula")
            left.props["data-units"] = json.dumps(self.bench.units.to_dict())
            left.props["data-desk"] = self.bench.desk.id
            self.left = left
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
                    self.languages: dict[Language, ui.link] = {}
                    for code, name in LANGUAGES.items():
                        self.languages[code] = link = ui.link(name, self._address(code))
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
        value = number_between(written, LEAST_DROP_mL, MOST_DROP_mL)
        if value is not None:
            self._set("drop_mL", value)

    def _address(self, language: Language | None = None) -> str:
        """Where this window's formula is found again, in its language or another one."""
        language = language or self.text.language
        path = "/" if language == "en" else f"/{language}"
        return f"{path}?desk={self.bench.desk.id}"

    # The formula

    def _formula(self, side: ui.element) -> None:
        text, shown = self.text, Head.of(self.bench.sheet, self.bench.units)
        with ui.element("h2"):
            ui.label(text("formula"))
        self.head: dict[str, ui.input] = {}
        with ui.element("div").classes("about-formula"):
            for key, value in (
                ("name", shown.name),
                ("batch", shown.batch_g),
                ("bench", shown.bench),
                ("pressure", shown.pressure_kPa),
            ):
                field = number_field(text(f"formula.{key}", degree=self.bench.units.degree), value)
                field.classes(remove="ask-field").props(f"data-head={key} no-error-icon")
                field.without_auto_validation()  # what can't be read is marked below
                field.on_value_change(self._head_typed)
                self.head[key] = field
            self.head["name"].props(remove="inputmode")
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
            self._button("new", lambda: self._put(Sheet()))
            self._button("example", lambda: self._put(EXAMPLE))
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

    def _put(self, sheet: Sheet) -> None:
        """Another formula, on the same bench in the same air."""
        here = self.bench.sheet
        sheet = replace(sheet, bench_C=here.bench_C, pressure_kPa=here.pressure_kPa)
        self.bench.change(sheet.tidied())

    def _show_steps(self) -> None:
        self.undo.set_enabled(self.bench.history.can_undo)
        self.redo.set_enabled(self.bench.history.can_redo)

    def _show_head(self) -> None:
        shown = Head.of(self.bench.sheet, self.bench.units)
        texts = (shown.name, shown.batch_g, shown.bench, shown.pressure_kPa)
        self._head_showing = True
        try:
            for field, text in zip(self.head.values(), texts, strict=True):
                if field.value != text:
                    field.value = text
        finally:
            self._head_showing = False
        self._mark_unread(())

    def _head_typed(self) -> None:
        if self._head_showing:
            return
        written = Head(*(str(field.value or "") for field in self.head.values()))
        changed, wrong = with_head(self.bench.sheet, written, self.bench.units)
        self._mark_unread(wrong)
        self.bench.change(changed, mark="head", redraw=False)

    def _mark_unread(self, wrong: tuple[str, ...]) -> None:
        """A field whose text can't be read says what is in force instead."""
        units, sheet = self.bench.units, self.bench.sheet
        in_force = {
            "bench": (units.shown_temperature(sheet.bench_C), units.degree, *(
                units.shown_temperature(end) for end in BENCH_RANGE_C)),
            "pressure": (sheet.pressure_kPa, "kPa", *PRESSURE_RANGE_kPa),
        }  # fmt: skip
        for key, (value, unit, *ends) in in_force.items():
            least, most = (f"{end:g}".replace("-", "−") for end in ends)
            said = self.text("head.unread", value=f"{value:g}", unit=unit, least=least, most=most)
            field = self.head[key]
            field.error = said if key in wrong else None
            if key in wrong:
                field.props("aria-invalid=true")
            else:
                field.props(remove="aria-invalid")
        if wrong != self.bench.unread:
            self.bench.unread = wrong
            self.bench.tell_conditions()

    def _mark_batch(self, is_idle: bool) -> None:
        """A batch size that nothing is made up to says so."""
        field, said = self.head["batch"], self.text("head.batch_idle")
        if is_idle and field.props.get("hint") != said:
            field.props["hint"] = said
            field.update()
        elif not is_idle and "hint" in field.props:
            field.props(remove="hint")

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

    # The program was away

    def _typed_while_away(self, event: events.GenericEventArguments) -> None:
        """The fields as the browser kept them: taken once this window may change the formula."""
        try:
            self._unsent = Shown.from_data(event.args)
        except ValueError:
            self._forget_unsent()
            return
        if self.bench.holds:
            self._take_unsent()

    def _take_unsent(self) -> None:
        if self._unsent is None:
            return
        sheet = with_shown(self.bench.sheet, self._unsent)
        self._unsent = None
        if sheet != self.bench.sheet:
            self.bench.change(sheet)
            with self.root:
                ui.notify(self.text("away.back"))
        if self.bench.keep_now():
            self._forget_unsent()

    def _forget_unsent(self) -> None:
        with self.root:
            ui.run_javascript(f"localStorage.removeItem('blendwright.unsent.{self.bench.desk.id}')")

    # Two windows on one formula

    def _holding(self, holds: bool) -> None:
        """This window may change its formula from now on, or another one has it."""
        if not holds:
            if self._asking_who is None:
                background_tasks.create(self._ask_who(), name="who")
            return
        if self._asking_who is not None:
            self._asking_who.submit("")
        self.left.props["data-desk"] = self.bench.desk.id
        for language, link in self.languages.items():
            link.props["href"] = self._address(language)
        with self.root:
            ui.navigate.history.replace(self._address())
        self._take_unsent()

    async def _ask_who(self) -> None:
        """Another window has the formula: a copy, or take it over."""
        chosen = await self._choose("held", ("copy", "take"))
        if chosen == "copy":
            self.bench.services.windows.copy(self.bench)
            with self.root:
                ui.notify(self.text("elsewhere.kept"))
        elif chosen == "take":
            self.bench.services.windows.take_over(self.bench)

    async def _choose(self, about: str, choices: tuple[str, ...]) -> str:
        """What the person chooses; "" where the question is settled otherwise."""
        text = self.text
        with self.root, ui.dialog().props("persistent") as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text(f"{about}.title")
            with ui.element("h2"):
                ui.label(text(f"{about}.title"))
            ui.label(text(f"{about}.text"))
            with ui.element("div").classes("buttons"):
                for choice in choices:
                    self._button(f"{about}.{choice}", lambda c=choice: dialog.submit(c))
        self._asking_who = dialog
        try:
            return str(await dialog or "")
        finally:
            self._asking_who = None
            if not dialog.is_deleted:  # as it is once the window is gone
                dialog.delete()

    async def _ask_both(self, elsewhere: ElsewhereError) -> None:
        """Another program has changed the formula since this window has seen it."""
        chosen = await self._choose("elsewhere", ("both", "theirs"))
        if chosen == "theirs":
            self.bench.take(elsewhere)
        elif chosen == "both":
            self.bench.services.windows.copy(self.bench)
            with self.root:
                ui.notify(self.text("elsewhere.kept"))

    def _elsewhere(self, elsewhere: ElsewhereError) -> None:
        background_tasks.create(self._ask_both(elsewhere), name="elsewhere")

    # What went wrong

    def _trouble(self, words: str) -> None:
        self._troubled = True
        self.said.set_text(words)

    def _told(self, part: Part) -> None:
        self._show_steps()
        if part == "amounts" and self.bench.answer is not None:
            self._mark_batch(self.bench.answer.amounts.is_batch_idle)
        if part == "everything" and self._troubled:
            self._troubled = False
            self.said.set_text("")
