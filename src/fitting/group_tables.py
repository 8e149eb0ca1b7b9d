"""Writes the group tables that the liquid model reads: `python -m fitting.group_tables`.

The numbers are those of `thermo.unifac`, each to its last digit.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from importlib.resources import files
from pathlib import Path

from thermo import unifac

from blendwright.catalogue.group_tables import (
    PAIR_COLUMNS,
    PAIR_TABLES,
    SUBGROUP_COLUMNS,
    SUBGROUP_TABLES,
)


def subgroup_table(table: str) -> str:
    """The text of a table of subgroups."""
    return _text(
        SUBGROUP_COLUMNS,
        (
            (number, one.group, one.main_group_id, one.main_group, float(one.R), float(one.Q),
             SUBGROUP_TABLES[table])
            for number, one in getattr(unifac, table).items()
        ),
    )  # fmt: skip


def pair_table(table: str) -> str:
    """The text of a table of pairs; a set without b and c has zero there."""
    return _text(
        PAIR_COLUMNS,
        (
            (first, second, *(pair if isinstance(pair, tuple) else (pair, 0.0, 0.0)),
             PAIR_TABLES[table])
            for first, others in getattr(unifac, table).items()
            for second, pair in others.items()
        ),
    )  # fmt: skip


def tables() -> dict[str, str]:
    """The text of every table, by its name."""
    return {
        **{name: subgroup_table(name) for name in SUBGROUP_TABLES},
        **{name: pair_table(name) for name in PAIR_TABLES},
    }


def _text(columns: Sequence[str], rows: Iterable[tuple[object, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def main() -> None:
    folder = Path(str(files("blendwright.catalogue"))) / "data" / "group_tables"
    for name, text in tables().items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
