"""Boiling mixtures: azeotropes at 101.3 kPa (`reference/azeotropes.csv`)."""

from __future__ import annotations

from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_kelvin
from blendwright.formula import Formula
from blendwright.formula.conditions import ATMOSPHERE_Pa
from blendwright.mixture.vapour import initial_boiling_point
from blendwright.mixture.weighing import weigh
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case


def cases() -> list[Case]:
    """Errors in K of the boiling point at the azeotrope's composition."""
    made = []
    for row in reference("azeotropes.csv"):
        share = float(row["mass_pct_a"])
        formula = Formula.from_rows(
            [
                {"material": row["a"], "grams": share},
                {"material": row["b"], "grams": 100.0 - share},
            ]
        )
        composition = weigh(formula, default_catalogue()).composition
        value, low, high = initial_boiling_point(composition, ATMOSPHERE_Pa).interval()
        target = to_kelvin(float(row["boiling_point_C_101kPa"]))
        half = high - value if target > value else value - low
        made.append(Case(f"{row['a']} + {row['b']}", value - target, half))
    return made
