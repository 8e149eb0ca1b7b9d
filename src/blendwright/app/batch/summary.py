"""What came of a batch: how many of each kind, and what couldn't be told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc
from rich.console import Console

from blendwright.app.batch.schema import JOINED
from blendwright.formula.notices import UNUSED

SUMMARY_SCHEMA = "blendwright/batch-summary/1"
WORDS = ("dissolution", "liquid", "ghs_treat_as", "ghs_category", "ghs_standing")
TITLES = {
    "error_kind": "refused",
    "dissolution": "dissolution",
    "liquid": "liquid",
    "ghs_treat_as": "treat as GHS",
    "ghs_category": "GHS by the estimate",
    "ghs_standing": "how sure",
    "status": "without a number",
}


@dataclass
class Summary:
    """Counts over all rows of a batch."""

    formulas: int = 0
    errors: Counter[str] = field(default_factory=Counter)
    words: dict[str, Counter[str]] = field(default_factory=dict)
    without_number: dict[str, Counter[str]] = field(default_factory=dict)
    warnings: int | None = None
    unused_columns: Counter[str] = field(default_factory=Counter)
    reading: Counter[str] = field(default_factory=Counter)

    @property
    def refused(self) -> int:
        return sum(self.errors.values())

    def count(self, table: pa.Table) -> None:
        """Add a table's rows."""
        self.formulas += len(table)
        self.errors.update(_counts(table.column("error_kind")))
        for name in table.column_names:
            if name in WORDS:
                self.words.setdefault(name, Counter()).update(_counts(table.column(name)))
            elif name.endswith("_status"):
                states = _counts(table.column(name))
                states.pop("ok", None)
                estimate = name.removesuffix("_status")
                self.without_number.setdefault(estimate, Counter()).update(states)
            elif name == "has_warning":
                held = pc.sum(table.column(name)).as_py() or 0
                self.warnings = (self.warnings or 0) + held
        for told, between, counts in (
            ("unused_columns", JOINED, self.unused_columns),
            ("reading", ";", self.reading),
        ):
            for text, number in _counts(table.column(told)).items():
                counts.update(dict.fromkeys(text.split(between), number))

    def counted(self, tables: Iterable[pa.Table]) -> Iterator[pa.Table]:
        """These tables, counted as they pass."""
        for table in tables:
            self.count(table)
            yield table

    def to_dict(self) -> dict[str, object]:
        return {
            "formulas": self.formulas,
            "answered": self.formulas - self.refused,
            "refused": dict(sorted(self.errors.items())),
            **{name: dict(sorted(found.items())) for name, found in self.words.items()},
            "without_a_number": {
                name: dict(sorted(found.items())) for name, found in self.without_number.items()
            },
            "with_a_warning": self.warnings,
            "unused_columns": dict(self.unused_columns.most_common()),
            "reading": dict(sorted(self.reading.items())),
        }


def _counts(column: pa.ChunkedArray) -> dict[str, int]:
    return {
        entry["values"]: entry["counts"]
        for entry in pc.value_counts(column).to_pylist()
        if entry["values"] is not None
    }


def print_summary(summary: Summary, out: str, console: Console) -> None:
    """For people, on a screen of 80 columns."""
    answered = summary.formulas - summary.refused
    console.print(f"{summary.formulas:,} formulas in {out}: {answered:,} answered, "
                  f"{summary.refused:,} refused", soft_wrap=True)  # fmt: skip
    for name, number in summary.unused_columns.most_common():
        formulas = "formula" if number == 1 else "formulas"
        console.print(f"  column not used: {name!r}, which holds values in {number:,} {formulas}",
                      soft_wrap=True)  # fmt: skip
    others = {code: n for code, n in summary.reading.items() if code != UNUSED}
    _line(console, "to know of the reading (docs/formula-files.md)", others)
    _line(console, TITLES["error_kind"], summary.errors)
    for name, found in summary.words.items():
        _line(console, TITLES[name], found)
    if summary.warnings is not None:
        console.print(f"  with a warning: {summary.warnings:,}")
    for name, found in summary.without_number.items():
        _line(console, f"{name} {TITLES['status']}", found)


def _line(console: Console, title: str, found: Mapping[str, int]) -> None:
    if found:
        words = {name: f"category {name}" if name.isdigit() else name for name in found}
        parts = [f"{words[name].replace('_', ' ')} in {n:,}" for name, n in sorted(found.items())]
        console.print(f"  {title}: {', '.join(parts)}", soft_wrap=True)
