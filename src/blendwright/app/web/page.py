"""The layout: one screen, the formula on the left, its answers and the questions on the right.

On a narrow screen the four answers are a band that stays at the top, and the row of questions one
that stays at the foot; between them scroll the thermometer, what to do and the formula.
"""

from __future__ import annotations

import html
from functools import partial
from importlib.resources import files

from nicegui import app, background_tasks, events, ui

from blendwright.app.web.answers_panel import AnswersPanel
from blendwright.app.web.fields import Shown, with_shown
from blendwright.app.web.formula_panel import FormulaPanel, names_list
from blendwright.app.web.question_tabs import QuestionTabs
from blendwright.app.web.read_notices import ReadNotices
from blendwright.app.web.session import Services, Session
from blendwright.app.web.sheet import Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.widgets import outline_button
from blendwright.app.web.work_store import ElsewhereError
from blendwright.formula import read_formula_bytes

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


def stylesheet() -> str:
    return (files("blendwright.app.web") / "page.css").read_text(encoding="utf-8")


def away_note() -> str:
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


class Page:
    """One window's page."""

    def __init__(self, services: Services, document: str) -> None:
        owner = str(app.storage.browser["id"])
        self.session = Session(services, owner, services.document(owner, document))
        services.windows.opened(self.session)
        self._asking_who: ui.dialog | None = None  # which window is to have the document
        self._unsent: Shown | None = None
        self._build()
        self.session.on_elsewhere = self._elsewhere
        self.session.on_holding = self._holding
        client = ui.context.client
        client.on_connect(
            lambda: services.windows.connected(self.session, client.tab_id or client.id)
        )
        client.on_delete(lambda: services.windows.left(self.session))
        self.root = client.content

    def _build(self) -> None:
        ui.add_head_html(BEHIND)
        ui.add_body_html(away_note())
        ui.on("typed_while_away", self._typed_while_away)
        ui.link(text("skip"), "#answers").classes("skip")
        with ui.element("header").classes("bench-head"):
            with ui.element("h1"):
                ui.label("blendwright")
            state = ui.label().classes("state").props("role=status aria-live=polite")
            ui.label(text("away.state_lost")).classes("state if-lost")
            ui.label(text("away.state_gone")).classes("state if-gone")
        with ui.element("div").classes("columns"):  # the framework's page is the main landmark
            self.formula = FormulaPanel(self.session, self._look_up)
            with ui.element("section").classes("side answer-side") as side:
                side.props["aria-label"] = text("answers")
                answers = AnswersPanel(self.session, state, self.formula)
                with ui.element("div").classes("rest").props("tabindex=0 role=group") as rest:
                    rest.props["aria-label"] = text("rest")
                    with ui.element("div").classes("do-now"):
                        ReadNotices(self.session)
                        answers.lay_what_to_do()
                    self.questions = QuestionTabs(self.session)
        self.questions.lay_row()
        answers.open_behind = self.questions.open
        self.names = ui.html(names_list(self.session.catalogue()), sanitize=False)
        self.names.classes("names")
        self.session.on_materials.append(self._offer_names)

    def _offer_names(self) -> None:
        self.names.set_content(names_list(self.session.catalogue()))

    def _look_up(self, material: str) -> None:
        """Show what is known of a material."""
        self.session.wanted_material = material
        self.questions.open("materials")
        if self.session.on_material is not None:
            self.session.on_material(material)

    def open_file(self, name: str, content: bytes) -> None:
        """The file named on the command line."""
        formula = read_formula_bytes(content, name)
        self.session.change(Sheet.from_formula(formula, self.session.sheet))

    # The program was away

    def _typed_while_away(self, event: events.GenericEventArguments) -> None:
        """The fields as the browser kept them: taken once this window may change the formula."""
        try:
            self._unsent = Shown.from_data(event.args)
        except ValueError:
            self._forget_unsent()
            return
        if self.session.holds:
            self._take_unsent()

    def _take_unsent(self) -> None:
        if self._unsent is None:
            return
        sheet = with_shown(self.session.sheet, self._unsent)
        self._unsent = None
        if sheet != self.session.sheet:
            self.session.change(sheet)
            with self.root:
                ui.notify(text("away.back"))
        if self.session.keep_now():
            self._forget_unsent()

    def _forget_unsent(self) -> None:
        with self.root:
            ui.run_javascript(
                f"localStorage.removeItem('blendwright.unsent.{self.session.document.id}')"
            )

    # Two windows on one formula

    def _holding(self, holds: bool) -> None:
        """This window may change its formula from now on, or another one has it."""
        if not holds:
            if self._asking_who is None:
                background_tasks.create(self._ask_who(), name="who")
            return
        if self._asking_who is not None:
            self._asking_who.submit("")
        self.formula.side.props["data-document"] = self.session.document.id
        with self.root:
            ui.navigate.history.replace(f"/?document={self.session.document.id}")
        self._take_unsent()

    async def _ask_who(self) -> None:
        """Another window has the formula: a copy, or take it over."""
        chosen = await self._choose("held", ("held.copy", "held.take"))
        if chosen == "held.copy":
            self.session.services.windows.copy(self.session)
            with self.root:
                ui.notify(text("elsewhere.kept"))
        elif chosen == "held.take":
            self.session.services.windows.take_over(self.session)

    async def _choose(self, about: str, choices: tuple[str, ...]) -> str:
        """What the person chooses; "" where the question is settled otherwise."""
        with self.root, ui.dialog().props("persistent") as dialog, ui.card().classes("talk"):
            dialog.props["aria-label"] = text(f"{about}.title")
            with ui.element("h2"):
                ui.label(text(f"{about}.title"))
            ui.label(text(f"{about}.text"))
            with ui.element("div").classes("buttons"):
                for choice in choices:
                    outline_button(choice, partial(dialog.submit, choice))
        self._asking_who = dialog
        try:
            return str(await dialog or "")
        finally:
            self._asking_who = None
            if not dialog.is_deleted:  # as it is once the window is gone
                dialog.delete()

    async def _ask_both(self, elsewhere: ElsewhereError) -> None:
        """Another program has changed the formula since this window has seen it."""
        chosen = await self._choose("elsewhere", ("elsewhere.both", "elsewhere.theirs"))
        if chosen == "elsewhere.theirs":
            self.session.take(elsewhere)
        elif chosen == "elsewhere.both":
            self.session.services.windows.copy(self.session)
            with self.root:
                ui.notify(text("elsewhere.kept"))

    def _elsewhere(self, elsewhere: ElsewhereError) -> None:
        background_tasks.create(self._ask_both(elsewhere), name="elsewhere")
