"""What the liquid model is worth on data not used in fitting.

`left_out.csv` holds one line a question: each substance, pair or system was left out of the fit
that judges it. `python -m fitting.excess` (in `src`) writes it, as the fit needs data that are not
shipped; `questions` puts the targets beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from blendwright.catalogue.tables import table_rows


@dataclass(frozen=True)
class LeftOutFigure:
    """One figure: `count` points of `groups` substances or systems, root mean square error `rms`
    (`base` without the learned terms), the median 90 % half-width and the share inside it."""

    question: str
    unit: str
    count: int
    groups: int
    rms: float
    base: float
    half_width: float
    inside: float

    def to_dict(self) -> dict[str, object]:
        return {
            "question": self.question,
            "unit": self.unit,
            "n": self.count,
            "substances": self.groups,
            "root_mean_square": self.rms,
            "root_mean_square_without_learned_terms": self.base,
            "median_half_width": self.half_width,
            "coverage": self.inside,
        }


@cache
def left_out() -> dict[str, LeftOutFigure]:
    """By question."""
    made = (
        LeftOutFigure(
            row["question"],
            row["unit"],
            int(row["count"]),
            int(row["groups"]),
            *(float(row[name]) for name in ("rms", "base", "half_width", "inside")),
        )
        for row in table_rows("blendwright.questions.accuracy", "left_out.csv")
    )
    return {one.question: one for one in made}
