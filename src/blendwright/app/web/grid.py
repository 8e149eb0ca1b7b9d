"""The formula as an editable list of rows.

An ordered list of labelled fields of the framework's own: every field says what it is and which
row it is in, works by touch and by keyboard, and the browser offers the known names as one types.
Enter steps along a row, then to the next; Alt with the arrows moves a row, and rows can be dragged
by their number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nicegui import events, ui
from nicegui.elements.mixins.sortable_element import SortableElement
from nicegui.elements.mixins.text_element import TextElement

from blendwright.app.web import figures
from blendwright.app.web.answers import Amounts, RowProblem
from blendwright.app.web.cell import GridCell
from blendwright.app.web.fields import CELLS, shown_cell, with_typed_cell
from blendwright.app.web.pasting import pasted, put_in
from blendwright.app.web.session import Part, Session
from blendwright.app.web.sheet import Line
from blendwright.app.web.texts import text
from blendwright.errors import FormulaError
from blendwright.formula.numbers import parse_batch_g

NAMES = "known-materials"
# Only the field that has the cursor is given the names: the browser looks through every field's
# list at each keystroke, which took 190 ms with a list on each (Chromium, 20 rows).
OFFER = """(e) => {
  if (e.target.matches('.cell.material, .cell.carrier')) e.target.setAttribute('list', '%s');
}"""
WITHDRAW = "(e) => e.target.removeAttribute?.('list')"
KEYS = """(e) => {
  const row = e.target.closest('li.line');
  if (!row) return;
  const rows = [...row.parentElement.querySelectorAll('li.line')];
  const at = rows.indexOf(row);
  const fields = [...row.parentElement.querySelectorAll('li.line input')];
  const field = [...row.querySelectorAll('input')].indexOf(e.target);
  const go = (to) => rows[to]?.querySelectorAll('input')[field]?.focus();
  if (e.key === 'Enter' && field >= 0) {
    e.preventDefault();
    fields[fields.indexOf(e.target) + (e.shiftKey ? -1 : 1)]?.focus();
  } else if (e.altKey && (e.key === 'ArrowUp' || e.key === 'ArrowDown')) {
    e.preventDefault();
    const by = e.key === 'ArrowUp' ? -1 : 1;
    if (rows[at + by]) { emit(at, at + by); go(at + by); }
  }
}"""
PASTE = """(e) => {
  const text = e.clipboardData.getData('text/plain');
  if (!/[\\t\\n]/.test(text.trim())) return;
  e.preventDefault();
  const row = e.target.closest('li.line');
  const rows = [...document.querySelectorAll('li.line')];
  emit(text.slice(0, 900000), row ? rows.indexOf(row) : -1);
}"""
UNDO = """(e) => {
  if (!(e.ctrlKey || e.metaKey)) return;
  const key = e.key.toLowerCase();
  if (key === 'z' || key === 'y') {
    e.preventDefault();
    emit(key === 'y' || e.shiftKey ? 'redo' : 'undo');
  }
}"""
NAMED = ("material", "carrier")


class OrderedList(SortableElement):
    """An `ol` whose items can be dragged."""

    def __init__(self) -> None:
        super().__init__("ol")


@dataclass
class RowFields:
    """The fields of one row, and what is said under them."""

    item: ui.element
    number: ui.label
    fields: dict[str, GridCell]
    share: ui.label
    more: TextElement
    note: ui.element
    said: tuple[object, ...] = ()


class FormulaGrid:
    """The list, kept in step with the session both ways."""

    def __init__(self, session: Session, open_row: Callable[[int], None]) -> None:
        self.session = session
        self.open_row = open_row
        self.rows: list[RowFields] = []
        self._showing = False
        with ui.element("div").classes("line-heads").props("aria-hidden=true"):
            ui.label("")
            ui.label(text("grid.material"))
            ui.label(text("grid.grams_head"))
            ui.label(text("grid.volume_head"))
            ui.label(text("grid.strength_pct"))
            ui.label(text("grid.carrier"))
            ui.label(text("grid.share")).classes("right")
        self.list = OrderedList().classes("lines")
        self.list.props["aria-label"] = text("grid.rows")
        self.list.make_sortable(on_end=self._dragged, handle=".grip", ghost_class="dragged")
        self.list.on("focusin", js_handler=OFFER % NAMES)
        self.list.on("focusout", js_handler=WITHDRAW)
        self.list.on("keydown", self._move, js_handler=KEYS)
        self.list.on("paste", self._paste, js_handler=PASTE)
        session.on_sheet.append(self.show)
        session.listeners.append(self._on_answer)
        self.show()

    # From the session to the fields

    def show(self) -> None:
        """Make the fields show the sheet."""
        self._showing = True
        try:
            lines = self.session.sheet.lines
            while len(self.rows) > len(lines):
                self.rows.pop().item.delete()
            while len(self.rows) < len(lines):
                self._add()
            for number, (row, line) in enumerate(zip(self.rows, lines, strict=True)):
                self._show_row(number, row, line)
        finally:
            self._showing = False

    def _show_row(self, number: int, row: RowFields, line: Line) -> None:
        row.number.set_text(str(number + 1))
        for column, field in row.fields.items():
            label = text("grid.field", column=self._label(column), row=number + 1)
            if field.props.get("aria-label") != label:
                field.props["aria-label"] = label
            shown = shown_cell(line, column)
            if field.value != shown:
                field.value = shown
        label = text("grid.more", row=number + 1)
        if row.more.props.get("aria-label") != label:
            row.more.props["aria-label"] = label

    def _label(self, cell: str) -> str:
        return text(f"grid.{cell}")

    def _add(self) -> None:
        with self.list, ui.element("li").classes("line") as item:
            number = ui.label().classes("grip").props("aria-hidden=true")
            fields = {column: self._field(column) for column in CELLS}
            share = ui.label().classes("share right")
            more = TextElement(tag="button", text="⋯").props("type=button").classes("more")
            note = ui.element("div").classes("line-note")
        note.set_visibility(False)
        row = RowFields(item, number, fields, share, more, note)
        for column, field in fields.items():
            field.on_value_change(lambda e, c=column: self._typed(row, c, e.value))
        fields["material"].on("blur", self._left_name)
        more.on("click", lambda: self.open_row(self.rows.index(row)), args=[])
        self.rows.append(row)

    def _field(self, column: str) -> GridCell:
        field = GridCell(self._label(column)).classes(f"cell {column}")
        field.props(f"autocomplete=off spellcheck=false data-cell={column}")
        if column not in NAMED:
            field.props["inputmode"] = "text" if column == "strength_pct" else "decimal"
        return field

    # From the fields to the session

    def _typed(self, row: RowFields, column: str, value: str | None) -> None:
        if self._showing or row not in self.rows:
            return
        number, session = self.rows.index(row), self.session
        typed = value or ""
        if column == "material":
            session.typing = number
        before = session.sheet
        after = with_typed_cell(before, number, column, typed)
        cleared = column in ("grams", "volume") and bool(typed.strip())
        redraw = cleared or len(after.lines) != len(before.lines)
        session.change(after, mark=f"{number}/{column}", redraw=False)
        if redraw:
            self._showing = True
            try:
                self._follow(number, column)
            finally:
                self._showing = False

    def _follow(self, number: int, column: str) -> None:
        """Rows and fields that follow from what was typed; the typed field itself is left alone."""
        lines = self.session.sheet.lines
        while len(self.rows) < len(lines):
            self._add()
            self._show_row(len(self.rows) - 1, self.rows[-1], lines[len(self.rows) - 1])
        while len(self.rows) > max(len(lines), number + 1):
            self.rows.pop().item.delete()
        for other in ("grams", "volume"):
            if other != column and number < len(lines):
                shown = shown_cell(lines[number], other)
                if self.rows[number].fields[other].value != shown:
                    self.rows[number].fields[other].value = shown

    def _left_name(self) -> None:
        """The name is written: now it may be looked up in the wider library too."""
        if self.session.typing is not None:
            self.session.typing = None
            answer = self.session.answer
            if answer is None or answer.request.typing in answer.amounts.waiting:
                self.session.ask()

    def _dragged(self, event: events.SortableEventArguments) -> None:
        start, end = event.old_index, event.new_index
        self.rows.insert(end, self.rows.pop(start))
        self.session.change(self.session.sheet.moved(start, end))
        self.show()

    def _move(self, event: events.GenericEventArguments) -> None:
        start, end = event.args
        self.session.change(self.session.sheet.moved(int(start), int(end)))

    def _paste(self, event: events.GenericEventArguments) -> None:
        table, at = event.args
        sheet = self.session.sheet
        try:
            found = pasted(str(table), parse_batch_g(sheet.batch_g, []))
        except FormulaError as error:
            problems = "\n".join(map(str, error.problems))
            self.session.trouble(f"{text('paste.refused')}\n{problems}")
            return
        self.session.trouble("")
        if found.rows:
            number = int(at) if int(at) >= 0 else len(sheet.written)
            self.session.change(put_in(sheet, number, found))

    # The answer

    def _on_answer(self, part: Part) -> None:
        answer = self.session.answer
        if part == "amounts" and answer is not None:
            self._show_amounts(answer.amounts)

    def _show_amounts(self, found: Amounts) -> None:
        by_row = {row.row: row for row in found.rows}
        wrong: dict[int, list[RowProblem]] = {}
        for problem in found.problems:
            if problem.row is not None:
                wrong.setdefault(problem.row, []).append(problem)
        counted = not found.problems  # else what was computed is of the formula before
        for number, row in enumerate(self.rows):
            line = (
                self.session.sheet.lines[number] if number < len(self.session.sheet.lines) else None
            )
            amount = by_row.get(number)
            problems = tuple(wrong.get(number, ()))
            share = grams = volume = carrier = ""
            if amount is not None and counted:
                share = f"{amount.share_pct:.2f}"
                grams = f"{amount.grams:.4g}"
                volume = "?" if amount.mL is None else figures.millilitres(amount.mL)
                carrier = amount.carrier
            row.share.set_text(share)
            self._hint(row.fields["grams"], grams)
            self._hint(row.fields["volume"], volume)
            self._hint(row.fields["carrier"], carrier)
            waits = number in found.waiting and line is not None and bool(line.material.strip())
            waiting = text("row.waiting") if waits and not problems else ""
            self._say(number, row, problems, waiting)

    def _hint(self, field: GridCell, shown: str) -> None:
        if field.props.get("placeholder", "") != shown:
            field.props["placeholder"] = shown

    def _say(
        self, number: int, row: RowFields, problems: tuple[RowProblem, ...], waiting: str
    ) -> None:
        said = (problems, waiting)
        if row.said == said or (not row.said and not any(said)):
            return
        row.said = said
        bad = {"volume" if p.column in ("mL", "drops") else p.column for p in problems}
        for column, field in row.fields.items():
            _mark(field, column in bad, row.note.html_id)
        row.item.classes(add="wrong" if problems else "", remove="" if problems else "wrong")
        row.note.clear()
        row.note.set_visibility(any(said))
        with row.note:
            for problem in problems:
                ui.label(problem.message).classes("problem")
                for name in problem.instead:
                    self._offer(number, problem, name)
            if waiting:
                ui.label(waiting).classes("waiting")

    def _offer(self, number: int, problem: RowProblem, name: str) -> None:
        column = problem.column or "material"

        def take() -> None:
            self.session.typing = None
            self.session.change(self.session.sheet.with_cell(number, column, name))

        ui.button(text("row.use", name=name), on_click=take).props("outline dense no-caps").classes(
            "offer"
        )


def _mark(field: GridCell, wrong: bool, note: str) -> None:
    if wrong:
        field.props["aria-invalid"] = "true"
        field.props["aria-describedby"] = note
    elif "aria-invalid" in field.props:
        del field.props["aria-invalid"]
        field.props.pop("aria-describedby", None)
