"""What a paper is made of, whatever it is written into: a sheet of tables, sentences and blanks.

A `Cell` holds the words that a person reads and, where there is one, the whole number behind them
in the unit of those words; HTML, workbook and JSON carry both. Numbers get their digits here and
nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from blendwright.estimate import Estimate
from blendwright.report.terminal import estimate_cells, number
from blendwright.verdict import Finding

Paper = Literal["bench", "technical", "data-sheet", "label"]
PAPERS: tuple[Paper, ...] = ("bench", "technical", "data-sheet", "label")
Mark = Literal["", "warning", "caution", "note"]
MARKS: dict[str, Mark] = {"warning": "warning", "caution": "caution", "info": "note"}

ESTIMATED, MEASURED, NOT_DETERMINED = "estimated", "measured (yours)", "not determined"
GRAMS_DIGITS = 3
HASH_SHOWN = 12
CROWDED_letters, PACKED_letters = 1700, 2400  # of sentences under the weighing list


@dataclass(frozen=True)
class Cell:
    """Words, and the number that they stand for, unrounded."""

    text: str
    number: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", one_line(self.text))


@dataclass(frozen=True)
class Column:
    """A column's head and what it holds: words, numbers, a box to tick, or room to write."""

    title: str
    holds: Literal["words", "numbers", "tick", "blank"] = "words"


@dataclass(frozen=True)
class Table:
    """`name` is the table's key in JSON; `foot` is the row under the line."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    foot: tuple[Cell, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Sentence:
    """One sentence, with how grave it is."""

    text: str
    mark: Mark = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", one_line(self.text))


@dataclass(frozen=True)
class Sentences:
    """A list of sentences under a title; `small` for what is the same on every sheet."""

    name: str
    title: str
    items: tuple[Sentence, ...]
    small: bool = False


@dataclass(frozen=True)
class PlainAnswers:
    """The plain questions and answers at the top of a sheet."""

    name: str
    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Blanks:
    """What is filled in by hand."""

    name: str
    titles: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """An SVG and what it shows in words."""

    name: str
    words: str
    svg: bytes


Block = Table | Sentences | PlainAnswers | Blanks | Picture


@dataclass(frozen=True)
class PaperSheet:
    """One paper: its kind in words, a title, facts in a strip, the blocks, the last line."""

    paper: Paper
    kind: str
    title: str
    facts: tuple[tuple[str, Cell], ...]
    blocks: tuple[Block, ...]
    foot: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", one_line(self.title))

    @property
    def crowding(self) -> str:
        """Classes of a bench sheet with so much to say that it takes smaller type on one page."""
        if self.paper != "bench":
            return ""
        said = [i for b in self.blocks if isinstance(b, Sentences) and not b.small for i in b.items]
        letters = sum(len(item.text) for item in said)
        if letters > PACKED_letters:
            return "crowded packed"
        return "crowded" if letters > CROWDED_letters else ""

    def table(self, name: str) -> Table:
        """A table by its name; raises KeyError."""
        for block in self.blocks:
            if isinstance(block, Table) and block.name == name:
                return block
        raise KeyError(name)

    def to_dict(self) -> dict[str, object]:
        """The sheet as JSON data; pictures are left out."""
        return {
            "paper": self.paper,
            "title": self.title,
            "facts": {name: _cell_dict(cell) for name, cell in self.facts},
            "blocks": [_block_dict(b) for b in self.blocks if not isinstance(b, Picture)],
            "foot": self.foot,
        }


def one_line(text: str) -> str:
    """Printable text on one line: control signs, and those that turn its direction, go."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


# Cells


def grams(value: float) -> Cell:
    return Cell(f"{value:.{GRAMS_DIGITS}f}", value)


def percent(value: float, digits: int = 1) -> Cell:
    return Cell(f"{value:.{digits}f}", value)


def quantity(value: float, unit: str) -> Cell:
    """A plain number with its unit."""
    return Cell(f"{number(value, unit)} {unit}", value)


def estimate_value(estimate: Estimate) -> Cell:
    """ "1.0092 g/mL", or its state: unknown, none, out of range."""
    return Cell(estimate_cells(estimate)[0], estimate.in_display_units().value)


def estimate_ends(estimate: Estimate) -> tuple[Cell, Cell]:
    """The low and the high end of the 90 % interval; empty where there is no number."""
    shown = estimate.in_display_units()
    if not shown.is_ok:
        return Cell(""), Cell("")
    _, low, high = shown.interval()
    return Cell(number(low, shown.unit), low), Cell(number(high, shown.unit), high)


def volume_mL(estimate: Estimate) -> Cell:
    """Millilitres to the microlitre, as on the pipetting sheet; "?" where it is unknown."""
    value = estimate.in_display_units().value
    return Cell("?" if value is None else f"{value:.{GRAMS_DIGITS}f}", value)


def in_words(estimate: Estimate) -> str:
    """ "18 °C (8 to 29)", or the state and why."""
    value, span = estimate_cells(estimate)
    if estimate.is_ok:
        return f"{value} ({span})"
    return f"{value}: {span}" if span else value


# Sentences


def finding_sentences(findings: Iterable[Finding]) -> tuple[Sentence, ...]:
    """What is so and what to do, marked by how grave it is."""
    return tuple(Sentence(f"{f.message} {f.action}", MARKS[f.severity]) for f in findings)


def plain_sentences(texts: Sequence[str]) -> tuple[Sentence, ...]:
    return tuple(Sentence(text) for text in texts)


# JSON


def _cell_dict(cell: Cell) -> dict[str, object]:
    return {"text": cell.text, "number": cell.number}


def _block_dict(block: Block) -> dict[str, object]:
    match block:
        case Table():
            return {
                "table": block.name,
                "title": block.title,
                "columns": [column.title for column in block.columns],
                "rows": [[_cell_dict(cell) for cell in row] for row in block.rows],
                "foot": [_cell_dict(cell) for cell in block.foot],
                "note": block.note,
            }
        case Sentences():
            items = [{"mark": item.mark, "text": item.text} for item in block.items]
            return {"sentences": block.name, "title": block.title, "items": items}
        case PlainAnswers():
            return {"answers": dict(block.items)}
        case Blanks():
            return {"blanks": list(block.titles)}
        case Picture():
            return {"picture": block.words}
