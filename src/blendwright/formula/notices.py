"""What did reading a table leave open or take for granted? A person is told it above the answer.

Nothing of a table is dropped or read otherwise than it stands there without one of these.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

UNUSED = "COLUMN-UNUSED"
Gravity = Literal["info", "caution"]


@dataclass(frozen=True)
class UnusedColumn:
    """A column that isn't used, by its heading, and how many rows hold a value in it."""

    name: str
    cells: int


@dataclass(frozen=True)
class Notice:
    """One of them: a stable code, how grave, what is so, what to do; `columns` of COLUMN-UNUSED."""

    code: str
    severity: Gravity
    message: str
    action: str
    columns: tuple[UnusedColumn, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """JSON data that `from_dict` reads back."""
        return {
            "code": self.code,
            "severity": self.severity,
            "message": self.message,
            "action": self.action,
            "columns": [[column.name, column.cells] for column in self.columns],
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, object]) -> Notice:
        """Raises ValueError, TypeError or KeyError for anything else."""
        columns = data.get("columns", [])
        if not isinstance(columns, list):
            raise ValueError("the columns are no list")
        return cls(
            str(data["code"]),
            "caution" if data["severity"] == "caution" else "info",
            str(data["message"]),
            str(data["action"]),
            tuple(UnusedColumn(str(name), int(cells)) for name, cells in columns),
        )


def unused_notice(columns: Iterable[UnusedColumn]) -> Notice | None:
    """Names the columns that hold values and aren't used; None where there are none."""
    found = tuple(column for column in columns if column.cells)
    if not found:
        return None
    named = "; ".join(f"{c.name!r} ({c.cells} {'row' if c.cells == 1 else 'rows'})" for c in found)
    many = len(found) > 1
    return Notice(
        UNUSED,
        "caution",
        f"{'Columns' if many else 'A column'} of the table {'are' if many else 'is'} not used in "
        f"the answer: {named}.",
        "If a column matters for the blend, give it a heading that is read "
        "(docs/formula-files.md).",
        found,
    )


def without_twins(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """Each notice once, in order."""
    return tuple(dict.fromkeys(notices))
