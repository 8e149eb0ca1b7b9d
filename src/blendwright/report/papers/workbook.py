"""Papers as a workbook: one tab a paper, after a first tab that is the formula itself.

Live cells on the bench tab: the scale factor, grams times the factor, the balance's running total,
and what was weighed against what was asked. Everything else stands as numbers in full, shown with
the digits of the other papers. Texts are texts: none is ever a formula.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter

from blendwright.formula.workbooks import put_text, workbook_bytes
from blendwright.formula.writing import fill_sheet, formula_table
from blendwright.report.papers.contents import (
    GRAMS_DIGITS,
    Blanks,
    Block,
    Cell,
    PaperSheet,
    Picture,
    PlainAnswers,
    Sentences,
    Table,
    one_line,
)
from blendwright.report.papers.dossier import Dossier
from blendwright.report.papers.label import Label

if TYPE_CHECKING:
    from openpyxl.cell import Cell as SheetCell
    from openpyxl.worksheet.worksheet import Worksheet

TABS = {"bench": "Bench", "technical": "Technical", "data-sheet": "Data sheet", "label": "Label"}
FORMULA_TAB = "Formula"
PAPER_A4 = 9  # ECMA-376, ST_PaperSize by number
GRAMS_FORMAT = "0." + "0" * GRAMS_DIGITS
WIDEST, NARROWEST = 52.0, 7.0  # of a column, in letters
BOLD, SMALL = Font(bold=True), Font(size=9, color="444444")
TITLE, HEAD = Font(bold=True, size=16), Font(bold=True, size=12)
LINE = Border(bottom=Side("thin"))
WRAP = Alignment(wrap_text=True, vertical="top")
BENCH_HEADS = (
    "", "", "Material", "formula, g", "weigh, g", "balance shows, g", "weighed, g", "over, g",
)  # fmt: skip
SPAN = len(BENCH_HEADS)


def papers_workbook(made: Sequence[PaperSheet | Label], dossier: Dossier) -> bytes:
    """The file's content. The first tab reads back as the formula; the first paper is in front."""
    book = Workbook()
    book.active.title = FORMULA_TAB
    fill_sheet(book.active, formula_table(dossier.assessment.weighing.formula))
    _fit_columns(book.active)
    for paper in made:
        name = "label" if isinstance(paper, Label) else paper.paper
        tab = book.create_sheet(TABS[name])
        _set_up_page(tab)
        if isinstance(paper, Label):
            _fill_label(tab, paper)
        else:
            _fill(tab, paper)
        _fit_columns(tab)
    book.active = 1 if made else 0
    book.properties.creator = f"blendwright {dossier.assessment.version}"
    book.properties.title = one_line(dossier.name)
    return workbook_bytes(book, dossier.made_on)


def _set_up_page(tab: Worksheet) -> None:
    tab.page_setup.paperSize = PAPER_A4
    tab.page_setup.fitToWidth, tab.page_setup.fitToHeight = 1, 0
    tab.sheet_properties.pageSetUpPr.fitToPage = True
    tab.sheet_view.showGridLines = False


def _fill(tab: Worksheet, sheet: PaperSheet) -> None:
    at = _say(tab, 1, sheet.kind, SMALL)
    at = _say(tab, at, sheet.title, TITLE)
    for name, cell in sheet.facts:
        put_text(tab.cell(at, 1), name)
        _put(tab.cell(at, 3), cell)
        at += 1
    for block in sheet.blocks:
        at = _fill_block(tab, at + 1, block)
    _say(tab, at + 1, sheet.foot, SMALL)


def _fill_block(tab: Worksheet, at: int, block: Block) -> int:
    """Put a block at a row; returns the row after it."""
    match block:
        case PlainAnswers():
            for question, answer in block.items:
                put_text(tab.cell(at, 1), question)
                put_text(tab.cell(at, 3), answer)
                tab.cell(at, 3).font = BOLD
                at += 1
            return at
        case Table() if block.name == "weighing":
            return _fill_weighing(tab, at, block)
        case Table():
            return _fill_table(tab, at, block)
        case Sentences():
            at = _say(tab, at, block.title, HEAD) if block.title else at
            for item in block.items:
                mark = f"{item.mark.upper()}: " if item.mark in ("warning", "caution") else ""
                at = _paragraph(tab, at, mark + item.text)
            return at
        case Blanks():
            for title in block.titles:
                put_text(tab.cell(at, 1), title)
                tab.cell(at, 4).border = LINE
                at += 1
            return at
        case Picture():
            return at


def _fill_weighing(tab: Worksheet, at: int, table: Table) -> int:
    """The weighing list with its live cells."""
    at = _say(tab, at, table.title, HEAD)
    at = _say(tab, at, table.note, SMALL)
    put_text(tab.cell(at, 1), "scale factor (change it)")
    factor = tab.cell(at, 5, 1.0)
    factor.font, factor.border = BOLD, LINE
    scale = f"$E${at}"
    at += 1
    for column, head in enumerate(BENCH_HEADS, start=1):
        put_text(tab.cell(at, column), head)
        tab.cell(at, column).border = LINE
    tab.print_title_rows = f"{at}:{at}"
    first = at = at + 1
    for row in table.rows:
        tick, place, name, wanted = row[:4]
        put_text(tab.cell(at, 1), tick.text or "☐")
        put_text(tab.cell(at, 2), place.text)
        put_text(tab.cell(at, 3), name.text)
        tab.cell(at, 4, wanted.number)
        tab.cell(at, 5, f"=D{at}*{scale}").font = BOLD
        tab.cell(at, 6, f"=SUM(E${first}:E{at})")
        tab.cell(at, 8, f'=IF(G{at}="","",G{at}-E{at})')
        for column in range(1, SPAN + 1):
            tab.cell(at, column).border = LINE
        at += 1
    put_text(tab.cell(at, 3), "total")
    for letter, column in (("D", 4), ("E", 5), ("G", 7)):
        tab.cell(at, column, f"=SUM({letter}{first}:{letter}{at - 1})").font = BOLD
    for row_number in range(first, at + 1):
        for column in range(4, SPAN + 1):
            tab.cell(row_number, column).number_format = GRAMS_FORMAT
    return at + 1


def _fill_table(tab: Worksheet, at: int, table: Table) -> int:
    at = _say(tab, at, table.title, HEAD) if table.title else at
    at = _say(tab, at, table.note, SMALL) if table.note else at
    for column, head in enumerate(table.columns, start=1):
        put_text(tab.cell(at, column), head.title)
        tab.cell(at, column).border = LINE
    for row in (*table.rows, *([table.foot] if table.foot else [])):
        at += 1
        for column, cell in enumerate(row, start=1):
            _put(tab.cell(at, column), cell)
    return at + 1


def _put(target: SheetCell, cell: Cell) -> None:
    """A number in full with the digits of its words; else the words."""
    pattern = None if cell.number is None else _number_format(cell)
    if pattern is None:
        put_text(target, cell.text)
        target.alignment = WRAP
    else:
        target.value = cell.number
        target.number_format = pattern
        target.alignment = Alignment(vertical="top", horizontal="right")


def _number_format(cell: Cell) -> str | None:
    """The spreadsheet's pattern for "1.0092 g/mL"; None where the words say more than that."""
    number, _, unit = cell.text.partition(" ")
    try:
        float(number)
    except ValueError:
        return None
    if "e" in number or any(sign.isdigit() or sign in '("' for sign in unit):
        return None
    _, _, decimals = number.partition(".")
    digits = "0." + "0" * len(decimals) if decimals else "0"
    return f'{digits} "{unit}"' if unit else digits


def _say(tab: Worksheet, at: int, text: str, font: Font) -> int:
    put_text(tab.cell(at, 1), text)
    tab.cell(at, 1).font = font
    return at + 1


def _paragraph(tab: Worksheet, at: int, text: str) -> int:
    """A sentence over the sheet's width; its row is as high as its lines."""
    put_text(tab.cell(at, 1), text)
    tab.merge_cells(start_row=at, end_row=at, start_column=1, end_column=SPAN)
    tab.cell(at, 1).alignment = WRAP
    tab.row_dimensions[at].height = 15.0 * (1 + len(text) // 100)
    return at + 1


def _fill_label(tab: Worksheet, label: Label) -> None:
    at = _say(tab, 1, label.title, TITLE)
    if label.mark:
        at = _say(tab, at, label.mark, TITLE)
    for line in ("GHS pictogram: flame",) * label.has_flame + label.fire:
        at = _say(tab, at, line, BOLD)
    for name, cell in label.lines:
        put_text(tab.cell(at, 1), name)
        _put(tab.cell(at, 3), cell)
        at += 1
    at = _say(tab, at, label.store, Font())
    at = _say(tab, at, label.maker, Font())
    _say(tab, at, label.foot, SMALL)


def _fit_columns(tab: Worksheet) -> None:
    """As wide as the words of the tables ask for, within reason."""
    widths: dict[int, float] = {}
    for row in tab.iter_rows():
        filled = [cell for cell in row if cell.value is not None]
        if len(filled) < 2:  # a title or a sentence runs over its neighbours
            continue
        for cell in filled:
            length = 11 if str(cell.value).startswith("=") else len(str(cell.value))
            widths[cell.column] = max(widths.get(cell.column, NARROWEST), length + 1.0)
    for column, width in widths.items():
        tab.column_dimensions[get_column_letter(column)].width = min(width, WIDEST)
