"""Writes the small learned tables that the models read: `python -m blendwright.accuracy.fit`.

Deterministic. A test compares every shipped table with a refit.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from blendwright.accuracy import activity, crystals, split, water_solubility
from blendwright.mixture.cosolvency import cosolvents
from blendwright.mixture.ensemble import rules
from blendwright.mixture.measured_solubility import spreads
from blendwright.mixture.vapour_correction import learned as vapour_corrections
from blendwright.mixture.water_solubility import classes as water_solubility_classes
from blendwright.mixture.water_solubility import water_solubility as water_solubility_of

TABLES: dict[str, Callable[[], str]] = {
    "mixture/water_solubility_classes.csv": water_solubility.fitted_table,
    "mixture/solubility_spreads.csv": crystals.fitted_table,
    "mixture/vapour_corrections.csv": activity.fitted_table,
    "mixture/cosolvents.csv": split.fitted_cosolvents,
    "mixture/ensemble.csv": split.fitted_ensemble,
}

"""In the order in which they lean on one another."""
CACHES = (
    vapour_corrections,
    water_solubility_classes,
    water_solubility_of,
    spreads,
    cosolvents,
    rules,
    split.facts,
)
"""What remembers a table, to be forgotten once it is written anew."""


def main() -> None:
    for place, fitted in TABLES.items():
        Path(str(files("blendwright"))).joinpath(place).write_text(fitted(), encoding="utf-8")
        print(f"wrote {place}")
        for remembered in CACHES:
            remembered.cache_clear()


if __name__ == "__main__":
    main()
