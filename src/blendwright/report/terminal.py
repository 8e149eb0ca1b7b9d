"""What every report on the terminal is printed with: numbers, findings, tables, one console."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.estimate import Estimate, per_cent
from blendwright.observations.compared import Compared
from blendwright.verdict import Finding
from blendwright.verdict.dosing import two_digits

WIDTH = 80
LEAST_WORDS = 16  # characters: a column of words that is narrower is no table any more
UNBOUNDED = 1000
LEAST_SHOWN_g = 0.001
_MARK = {"warning": "WARNING", "caution": "CAUTION", "info": "note"}
_STYLE = {"warning": "bold red", "caution": "bold yellow", "info": "dim"}
LABELS = {
    "density": "Density",
    "volume": "Volume",
    "vapour_pressure": "Vapour pressure",
    "initial_boiling_point": "Initial boiling point",
    "flash_point_closed_cup": "Flash point, closed cup",
    "dissolved_share": "Crystals dissolved here",
    "dissolution_temperature": "Fully dissolved above",
    "cloud_temperature": "Clouds below",
    "lower_flammable_limit": "Lower flammable limit",
}
_DIGITS = {"g/mL": 4, "mL": 2, "kPa": 3, "°C": 0, "vol %": 1, "g": 2, "%": 0}


def console(stderr: bool = False) -> Console:
    """A console of at most 80 columns; plain text when piped or with NO_COLOR."""
    made = Console(highlight=False, stderr=stderr)
    width = min(WIDTH, made.width) if made.is_terminal else WIDTH
    return Console(highlight=False, width=width, stderr=stderr)


def number(value: float, unit: str) -> str:
    """A number with the digits that suit its unit."""
    digits = _DIGITS.get(unit, 3)
    if unit == "kPa" and 0.0 < abs(value) < 0.01:
        return f"{value:.1g}"
    return f"{value:.{digits}f}"


def estimate_cells(estimate: Estimate) -> tuple[str, str]:
    """(value with unit, interval or the reason why there is none)."""
    shown = estimate.in_display_units()
    if not shown.is_ok:
        word = {"unknown": "unknown", "not_applicable": "none", "out_of_range": "out of range"}
        return word[shown.status], "; ".join(shown.notes)
    value, low, high = shown.interval()
    span = f"{number(low, shown.unit)} to {number(high, shown.unit)}"
    return f"{number(value, shown.unit)} {shown.unit}", span


def print_findings(findings: Iterable[Finding], out: Console) -> None:
    """Findings in full, one below the other, and an empty line; nothing where there are none."""
    told = [(finding, f"{finding.message} {finding.action}") for finding in findings]
    if told:
        out.print(findings_table(told))
        out.print()


def findings_table(told: Iterable[tuple[Finding, str]]) -> Table:
    """Findings with the words in which they are told, the severity of each first."""
    table = Table.grid(padding=(0, 1))
    table.add_column(no_wrap=True)
    table.add_column()
    for finding, words in told:
        mark = Text(_MARK[finding.severity], style=_STYLE[finding.severity])
        table.add_row(mark, Text(words))
    return table


def print_observations(compared: Sequence[Compared], out: Console) -> None:
    """What the person saw, most alike first, and what the model expects of that blend."""
    if not compared:
        return
    table = Table.grid(padding=(0, 2))
    table.add_column()
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column()
    heads = ("You saw", "on", "of the, counts", "the model there")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for c in compared:
        table.add_row(
            c.observation.words(),
            c.observation.seen_on.isoformat(),
            f"{c.similarity}, {per_cent(c.correlation)}" if not c.why_not else "not counted",
            c.why_not or _model_there(c),
        )
    out.print(table)
    out.print()


def _model_there(compared: Compared) -> str:
    if compared.model is None:
        return ", ".join(
            f"chance of layers {per_cent(seen.chance_there)}"
            for seen in compared.visual_observations
        )
    value, span = estimate_cells(compared.model)
    return f"{value} ({span})"


def most_dissolved_cell(estimate: Estimate) -> str:
    """The largest amount that stays dissolved: grams in two digits, "any", or "?"."""
    shown = estimate.in_display_units()
    if shown.value is None:
        return "any" if shown.status == "not_applicable" else "?"
    if shown.value < LEAST_SHOWN_g:
        return f"< {LEAST_SHOWN_g:g} g"
    return f"{two_digits(shown.value)} g"


class NumbersTable:
    """A table with bold heads: the first columns hold words, the others numbers. Where it would
    squeeze its words into a narrow column it prints each row as lines instead."""

    def __init__(self, heads: Sequence[str], words: int = 1) -> None:
        self.heads = heads
        self.words = words
        self.rows: list[tuple[str | Text, ...]] = []

    def add_row(self, *cells: str | Text) -> None:
        self.rows.append(cells)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        table = self._table()
        natural = Measurement.get(console, options.update(max_width=UNBOUNDED), table).maximum
        squeezed = natural - options.max_width
        widest = max((len(row[i]) for row in self.rows for i in range(self.words)), default=0)
        if squeezed <= 0 or widest - squeezed >= LEAST_WORDS:
            yield table
        else:
            yield from self._lines()

    def _table(self) -> Table:
        table = Table.grid(padding=(0, 2))
        for i in range(len(self.heads)):
            if i < self.words:
                table.add_column(overflow="fold")
            else:
                table.add_column(justify="right", no_wrap=True)
        table.add_row(*(Text(head, style="bold") for head in self.heads))
        for row in self.rows:
            table.add_row(*row)
        return table

    def _lines(self) -> Iterator[Text | Padding]:
        """Each row's words, and below them the rest with its heads."""
        for row in self.rows:
            yield Text.assemble(*self._joined(row[: self.words]))
            told = [
                f"{head} {cell}".strip()
                for head, cell in zip(self.heads[self.words :], row[self.words :], strict=False)
                if str(cell)
            ]
            if told:
                yield Padding(Text("; ".join(told)), (0, 0, 0, 2))

    def _joined(self, cells: Sequence[str | Text]) -> list[str | Text]:
        made: list[str | Text] = []
        for cell in cells:
            made += [", ", cell] if made and str(cell) else [cell]
        return made


def numbers_table(heads: Sequence[str], words: int = 1) -> NumbersTable:
    """A table of words, then numbers."""
    return NumbersTable(heads, words)


def volume_cell(volume: Estimate) -> str:
    shown = volume.in_display_units()
    return f"{shown.value:.3f}" if shown.value is not None else "?"
