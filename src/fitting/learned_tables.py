"""Writes the small learned tables that the models read: `python -m fitting.learned_tables`.

Deterministic. A test compares every shipped table with a refit.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from blendwright.mixture.cosolvency import cosolvents
from blendwright.mixture.excess_volume import shipped as shipped_excess_volumes
from blendwright.mixture.water_solubility import water_solubility as water_solubility_of
from blendwright.pure.constants import pure_constants
from blendwright.pure.intervals import IntervalQuestion, interval_factors
from blendwright.questions.accuracy import (
    boiling_points,
    densities,
    excess_volumes,
    flash_points,
    split,
    vapour_pressures,
)
from blendwright.questions.accuracy.conformal import Score, scores_of, table
from fitting.cosolvency import fitted_cosolvents


def interval_factors_table() -> str:
    """The text of interval_factors.csv."""
    lines = ["question,kind,points,substances,factor"]
    for question, scores in SCORES.items():
        lines += table(question, scores())
    return "\n".join(lines) + "\n"


SCORES: dict[IntervalQuestion, Callable[[], list[Score]]] = {
    "flash point, estimated": flash_points.scores,
    "flash point, from the structure": flash_points.drawn_scores,
    "density, published": lambda: scores_of(densities.pure_uncalibrated()),
    "density, mixing": densities.mixing_scores,
    "vapour pressure, from the boiling point": lambda: scores_of(vapour_pressures.uncalibrated()),
    "boiling point, from the library": boiling_points.library_scores,
}

TABLES: dict[str, Callable[[], str]] = {
    "mixture/excess_volume_classes.csv": excess_volumes.fitted_classes,
    "mixture/excess_volume.csv": excess_volumes.fitted_pairs,
    "mixture/cosolvents.csv": fitted_cosolvents,
    "pure/interval_factors.csv": interval_factors_table,
}

"""In the order in which they lean on one another."""
CACHES = (
    water_solubility_of,
    shipped_excess_volumes,
    cosolvents,
    split.facts,
    interval_factors,
    pure_constants,
    flash_points.judged,
    flash_points.drawn,
)
"""What remembers a table, to be forgotten once it is written anew."""


def main() -> None:
    # the last twice: the width of a boiling point counts in that of a flash point
    for place in (*TABLES, "pure/interval_factors.csv"):
        text = TABLES[place]()
        Path(str(files("blendwright"))).joinpath(place).write_text(text, encoding="utf-8")
        print(f"wrote {place}")
        for remembered in CACHES:
            remembered.cache_clear()


if __name__ == "__main__":
    main()
