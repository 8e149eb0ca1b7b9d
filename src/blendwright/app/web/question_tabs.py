"""The questions as one row of tabs at the foot of the window, in view whatever is scrolled.

The one that is chosen opens below what to do, and stays open.
"""

from __future__ import annotations

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from blendwright.app.web.sections import SECTIONS, Section
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text

FIRST = "numbers"  # open from the start
# The arrow keys go along the row, as a row of tabs is expected to work (WAI-ARIA, tabs pattern).
ARROWS = """(e) => {
  const tabs = [...e.currentTarget.children];
  const at = tabs.indexOf(document.activeElement);
  const to = {ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: tabs.length - 1}[e.key];
  if (to === undefined || at < 0) return;
  e.preventDefault();
  tabs.at(to % tabs.length).focus();
}"""
SHOW = """(() => {
  const row = document.querySelector('.tabs');
  row.querySelector('[aria-selected=true]')?.scrollIntoView({block: 'nearest', inline: 'nearest'});
  const place = document.getElementById('%s');
  place?.scrollIntoView({block: 'start'});
  place?.closest('.question').focus({preventScroll: true});
})()"""


class QuestionTabs:
    """A section is laid out when it is first opened, and kept."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.root = ui.context.client.content
        self.opened = ""
        self._tabs: dict[str, TextElement] = {}
        self._panels: dict[str, ui.element] = {}
        self._insides: dict[str, ui.element] = {}
        self._built: set[str] = set()
        for section in SECTIONS:
            self._panel(section)

    def lay_row(self) -> None:
        """The row of tabs, in the current container."""
        row = ui.element("div").classes("tabs").props("role=tablist")
        row.props["aria-label"] = text("questions")
        row.on("keydown", js_handler=ARROWS)
        with row:
            for section in SECTIONS:
                self._tab(section)
        self._open(FIRST)

    def _tab(self, section: Section) -> None:
        key = section.key
        tab = TextElement(tag="button", text=text(f"tab.{key}")).classes("tab")
        tab.props(f"type=button role=tab id=tab-{key} aria-controls=question-{key}")
        tab.on("click", lambda: self.open(key), args=[])
        self._tabs[key] = tab

    def _panel(self, section: Section) -> None:
        key = section.key
        panel = ui.element("section").classes("question")
        panel.props(f"id=question-{key} role=tabpanel tabindex=-1 aria-labelledby=tab-{key}")
        with panel:
            with ui.element("h2"):
                ui.label(text(f"section.{key}"))
            self._insides[key] = ui.element("div").classes("inside")
        panel.set_visibility(False)
        self._panels[key] = panel

    def open(self, key: str, place: str = "") -> None:
        """Open a question, and bring it (or a place in it, by its id) into view."""
        self._open(key)
        with self.root:
            ui.run_javascript(SHOW % (place or f"question-{key}"))

    def _open(self, key: str) -> None:
        self.opened = key
        for other, tab in self._tabs.items():
            tab.props(f"aria-selected={str(other == key).lower()}")
            tab.props(f"tabindex={0 if other == key else -1}")
            self._panels[other].set_visibility(other == key)
        if key not in self._built:
            self._built.add(key)
            section = next(one for one in SECTIONS if one.key == key)
            with self._insides[key]:
                section.build(self.session)
