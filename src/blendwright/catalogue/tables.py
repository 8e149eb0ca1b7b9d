"""The package's own tables: CSV files beside the code that reads them, one fact a row."""

from __future__ import annotations

import csv
from importlib.resources import files


def table_rows(package: str, name: str) -> tuple[dict[str, str], ...]:
    """The rows of one table of a package, by its header.

    >>> table_rows("blendwright.verdict", "limits.csv")[0]["scheme"]
    'ghs'
    """
    text = (files(package) / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
