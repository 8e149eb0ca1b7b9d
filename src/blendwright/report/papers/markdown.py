"""Papers as Markdown, for a notebook or a repository: tables and lists, no pictures.

Every text is escaped, so that a pipe stays in its cell and HTML stays text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from blendwright.report.papers.contents import (
    Blanks,
    Block,
    Cell,
    Column,
    PaperSheet,
    Picture,
    PlainAnswers,
    Sentences,
    Table,
)
from blendwright.report.papers.label import Label

_SIGNS = re.compile(r"([\\`*_\[\]|~#])")  # what Markdown reads inside a line
_STARTS = re.compile(r"^(\d+)([.)])(?!\S)|^([-+=])(?![\w.])")  # and at its beginning
_HTML = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
TICK = "☐"


def markdown_text(made: Sequence[PaperSheet | Label]) -> str:
    """The whole document."""
    lines: list[str] = []
    for paper in made:
        lines += [*_label(paper)] if isinstance(paper, Label) else [*_sheet(paper)]
    return "\n".join(lines).rstrip() + "\n"


def escaped(text: str) -> str:
    """A text that Markdown shows as it is."""
    plain = "".join(_HTML.get(sign, sign) for sign in text)
    return _STARTS.sub(r"\1\\\2\3", _SIGNS.sub(r"\\\1", plain))


def _sheet(sheet: PaperSheet) -> Iterator[str]:
    yield from (f"# {escaped(sheet.title)}", "", f"*{sheet.kind}*", "")
    facts = [f"{escaped(name)} **{escaped(cell.text)}**" for name, cell in sheet.facts]
    yield from (" · ".join(facts), "")
    for block in sheet.blocks:
        yield from _block(block)
    yield from (escaped(sheet.foot), "")


def _block(block: Block) -> Iterator[str]:
    match block:
        case PlainAnswers():
            for question, answer in block.items:
                yield f"- {escaped(question)} **{escaped(answer)}**"
            yield ""
        case Table():
            yield from _table(block)
        case Sentences():
            if block.title:
                yield from (f"## {escaped(block.title)}", "")
            for item in block.items:
                mark = f"**{item.mark.upper()}** " if item.mark in ("warning", "caution") else ""
                yield f"- {mark}{escaped(item.text)}"
            yield ""
        case Blanks():
            yield from ("; ".join(f"{escaped(title)}: ______" for title in block.titles), "")
        case Picture():
            yield from (f"*{escaped(block.words)}*", "")


def _table(table: Table) -> Iterator[str]:
    if table.title:
        yield from (f"## {escaped(table.title)}", "")
    if table.note:
        yield from (escaped(table.note), "")
    yield _line([escaped(column.title) for column in table.columns])
    yield _line(["---:" if column.holds == "numbers" else "---" for column in table.columns])
    for row in table.rows:
        yield _line([_cell(cell, column) for cell, column in zip(row, table.columns, strict=True)])
    if table.foot:
        yield _line([f"**{escaped(cell.text)}**" if cell.text else "" for cell in table.foot])
    yield ""


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _cell(cell: Cell, column: Column) -> str:
    return TICK if column.holds == "tick" else escaped(cell.text)


def _label(label: Label) -> Iterator[str]:
    yield from (f"# {escaped(label.title)}", "", "*Label*", "")
    if label.mark:
        yield from (f"**{escaped(label.mark)}**", "")
    if label.has_flame:
        yield "- GHS pictogram: flame"
    for line in (
        *label.fire,
        *(f"{name} {cell.text}" for name, cell in label.lines),
        label.store,
        label.maker,
    ):
        yield f"- {escaped(line)}"
    width, height = label.wish.size_mm
    copies = f"{label.wish.copies} of {width:g} × {height:g} mm"
    yield from ("", escaped(f"{label.foot}; {copies}"), "")
