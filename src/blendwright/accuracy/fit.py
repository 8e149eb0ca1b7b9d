"""Writes the small learned tables that the models read: `python -m blendwright.accuracy.fit`.

Deterministic. A test compares every shipped table with a refit.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from blendwright.accuracy import water_solubility

TABLES: dict[str, Callable[[], str]] = {
    "mixture/water_solubility_classes.csv": water_solubility.fitted_table,
}


def main() -> None:
    for place, fitted in TABLES.items():
        Path(str(files("blendwright"))).joinpath(place).write_text(fitted(), encoding="utf-8")
        print(f"wrote {place}")


if __name__ == "__main__":
    main()
