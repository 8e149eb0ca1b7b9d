"""Pieces that several parts of the page lay out alike: findings, tables, pictures, downloads."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from nicegui import ui

from blendwright.app.web.drawing import PictureParts, RenderedPicture, draw
from blendwright.app.web.figures import minus
from blendwright.app.web.session import Session
from blendwright.app.web.texts import text
from blendwright.app.web.worker_pool import RefusedError
from blendwright.observations.compared import Compared
from blendwright.verdict import Finding

OVER = """(e) => {
  if (![...e.dataTransfer.types].includes('Files')) return;
  e.preventDefault(); e.currentTarget.classList.add('over');
}"""
LEFT = "(e) => e.currentTarget.classList.remove('over')"
DROPPED = """(e) => {
  e.currentTarget.classList.remove('over');
  if (!e.dataTransfer.files.length) return;
  e.preventDefault(); e.stopPropagation();
  const upload = getElement(%d).$refs.qRef;
  if (!upload.isUploading) upload.reset();  // else the same file again counts as one it has
  upload.addFiles(e.dataTransfer.files);
}"""


def drop_zone(box: ui.element, upload: ui.upload) -> None:
    """Files dropped on the box go to the upload.

    It forgets the files before only when one is dropped or picked: told to by the server once a
    file has been read, it could break off the next one, which is then on its way.
    """
    box.classes("drop-zone")
    box.on("dragover", js_handler=OVER)
    box.on("dragleave", js_handler=LEFT)
    box.on("drop", js_handler=DROPPED % upload.id)


def outline_button(key: str, action: Callable[[], object]) -> ui.button:
    """A button that bears a text of the page."""
    return ui.button(text(key), on_click=action).props("outline no-caps")


async def confirmed(root: ui.element, title: str, words: str, yes: str) -> bool:
    """Whether the person is sure; asked before anything is deleted for good."""
    with root, ui.dialog() as dialog, ui.card().classes("talk"):
        dialog.props["aria-label"] = title
        with ui.element("h2"):
            ui.label(title)
        ui.label(words)
        with ui.element("div").classes("buttons"):
            outline_button("cancel", lambda: dialog.submit(False))
            ui.button(yes, on_click=lambda: dialog.submit(True)).props("no-caps unelevated")
    sure = await dialog
    dialog.delete()
    return bool(sure)


def findings_list(findings: Iterable[Finding]) -> None:
    """One finding an item: how grave in a word, the sentence, what to do."""
    with ui.element("ul").classes("findings"):
        for finding in findings:
            with ui.element("li").classes(f"finding {finding.severity}"):
                ui.label(text(f"severity.{finding.severity}")).classes("gravity")
                with ui.element("p"):
                    ui.label(minus(finding.message)).classes("message")
                    ui.label(minus(finding.action)).classes("action")


def counted_list(compared: Iterable[Compared]) -> None:
    """What the bench saw, where it is counted in."""
    seen = [c.words() for c in compared if not c.why_not]
    if not seen:
        return
    ui.label(text("notes.counted_in")).classes("strong")
    with ui.element("ul").classes("small"):
        for words in seen:
            with ui.element("li"):
                ui.label(words)


def table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], words: int = 1, last_words: bool = False
) -> None:
    """A plain table: the first columns are words (and the last one, if so said), the others
    numbers; the first cell heads its row.

    It scrolls by itself where it is too wide for the column.
    """

    def side(place: int) -> str:
        wordy = place < words or (last_words and place == len(heads) - 1)
        return "" if wordy else "right"

    with (
        ui.element("div").classes("scrolls").props("tabindex=0 role=group") as box,
        ui.element("table").classes("plain"),
    ):
        box.props["aria-label"] = heads[0]
        with ui.element("thead"), ui.element("tr"):
            for place, head in enumerate(heads):
                with ui.element("th").props("scope=col").classes(side(place)):
                    ui.label(head)
        with ui.element("tbody"):
            for row in rows:
                with ui.element("tr"):
                    for place, value in enumerate(row):
                        tag = "th" if place == 0 else "td"
                        with ui.element(tag).classes(side(place)) as cell:
                            ui.label(value)
                        if place == 0:
                            cell.props("scope=row")


def file_name(session: Session, what: str, suffix: str) -> str:
    """A download's name: the formula's letters and figures, and what it is."""
    name = "".join(c if c.isalnum() else "-" for c in session.sheet.name.casefold()).strip("-")
    return f"{'-'.join(filter(None, (name[:60] or 'formula', what)))}.{suffix}"


class PictureFrame:
    """A picture with its title, its words, and buttons for the files."""

    def __init__(self, session: Session, what: str) -> None:
        self.session = session
        self.what = what
        self._made: tuple[Callable[..., PictureParts], tuple[Any, ...]] | None = None
        self._data = ""
        title = text(f"picture.{what}")
        with ui.element("figure").classes("picture") as self.box:
            with ui.element("figcaption"):
                ui.label(title)
            self.place = ui.element("div")
            with ui.element("div").classes("files"):
                for kind in ("SVG", "PNG", "CSV"):
                    button = ui.button(kind, on_click=lambda k=kind: self._file(k))
                    button.props("flat dense no-caps").props["aria-label"] = text(
                        "picture.download", kind=kind, title=title
                    )
        self.box.set_visibility(False)

    async def show(self, maker: Callable[..., PictureParts], *arguments: Any) -> None:
        """Draw it in a background worker and put it in; what can't be drawn is said instead."""
        made = (maker, arguments)
        self._made = made
        try:
            drawn = await self.session.services.workers.background(draw, "svg", maker, *arguments)
        except RefusedError as error:
            if self._made == made and not self._is_gone:
                self._say(str(error))
            return
        if self._made == made and not self._is_gone:
            self._put(drawn)

    @property
    def _is_gone(self) -> bool:
        """The window, or the answer that it belonged to."""
        return self.session.closed or self.place.is_deleted

    def _put(self, drawn: RenderedPicture) -> None:
        self._data = drawn.data
        self.place.clear()
        with self.place:
            image = ui.element("img")
        # the picture's own styles and names stay inside an image
        image.props["src"] = f"data:image/svg+xml;base64,{base64.b64encode(drawn.content).decode()}"
        image.props["alt"] = drawn.words
        self.box.set_visibility(True)

    def _say(self, words: str) -> None:
        self.place.clear()
        with self.place:
            ui.label(words).classes("quiet")
        self.box.set_visibility(True)

    async def _file(self, kind: str) -> None:
        if self._made is None:
            return
        name = file_name(self.session, self.what, kind.lower())
        if kind == "CSV":
            ui.download.content(self._data, name, "text/csv")
            return
        maker, arguments = self._made
        try:
            drawn = await self.session.services.workers.background(
                draw, kind.lower(), maker, *arguments
            )
        except RefusedError as error:
            ui.notify(str(error))
            return
        media = {"SVG": "image/svg+xml", "PNG": "image/png"}[kind]
        ui.download.content(drawn.content, name, media)


def number_field(label: str, value: str = "", hint: str = "") -> ui.input:
    """A field for a number, with its label above it. `hint` is what counts while it is empty, and
    nothing else: a figure that stands grey in a field is in force."""
    field = ui.input(label=label, value=value).props("outlined dense stack-label hide-bottom-space")
    field.props["inputmode"] = "decimal"
    field.classes("ask-field")
    says_errors(field)
    if hint:
        field.props["placeholder"] = hint
    return field


def words_field(label: str, value: str = "", hint: str = "") -> ui.input:
    """A field for words, with its label above it."""
    return number_field(label, value, hint).props(remove="inputmode")


def says_errors(field: ui.input | ui.textarea) -> None:
    """Have `show_error` alone say what is wrong with a field, until it is typed in again."""
    field.props("no-error-icon")
    field.without_auto_validation()
    field.on_value_change(lambda: clear_errors([field]))


def range_words(least: float, most: float) -> str:
    return minus(text("field.range", least=f"{least:g}", most=f"{most:g}"))


def show_error(field: ui.input | ui.textarea, words: str) -> None:
    """Say at a field what is wrong with what stands in it, until something else does."""
    field.error = words
    field.props("aria-invalid=true")


def clear_errors(fields: Iterable[ui.input | ui.textarea]) -> None:
    for field in fields:
        if field.error:
            field.error = None
            field.props(remove="aria-invalid")
