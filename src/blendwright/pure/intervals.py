"""By what is a 90 % interval multiplied, so that it holds 90 % on substances never seen?

`interval_factors.csv`: one factor a question and kind, learned by conformal prediction from the
published measurements (`accuracy/conformal.py` says how and why; `python -m
fitting.learned_tables` writes it). A kind that isn't in the table takes the line "few" of its
question, which is the widened pooled factor.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal

from blendwright.catalogue.tables import table_rows

IntervalQuestion = Literal[
    "flash point, estimated",
    "flash point, from the structure",
    "density, published",
    "density, mixing",
    "vapour pressure, from the boiling point",
    "boiling point, from the library",
]
FEW = "few"


@cache
def interval_factors() -> Mapping[tuple[str, str], float]:
    """All of them, by question and kind."""
    return {
        (row["question"], row["kind"]): float(row["factor"])
        for row in table_rows("blendwright.pure", "interval_factors.csv")
    }


def interval_factor(question: IntervalQuestion, kind: str) -> float:
    """Raises KeyError for a question that was not learned."""
    table = interval_factors()
    return table[question, kind] if (question, kind) in table else table[question, FEW]
