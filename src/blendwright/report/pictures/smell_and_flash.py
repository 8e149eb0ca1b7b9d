"""Which rows make up the smell over the blend, and which make it flash?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from blendwright.report.pictures.canvas import BLUE, DARK, INK, PAPER, sheet
from blendwright.report.pictures.row_bars import Side, draw_rows, height_cm, legend, say_nothing
from blendwright.verdict.contributions import Contribution

if TYPE_CHECKING:
    from matplotlib.figure import Figure

VAPOUR = Side("of the vapour over it (headspace)", DARK, "", BLUE)
FLAME = Side("of what makes it flash", PAPER, "/////", INK)
UNTOLD = "The shares can't be told, or there is nothing in it that evaporates or burns."


def shares(rows: Sequence[Contribution], title: str) -> Figure:
    """Two bars a row, the greatest share first; nan is "unknown"."""
    ranked = sorted(rows, key=lambda r: -max(_zero(r.vapour_pct), _zero(r.flammability_pct)))
    names = tuple(r.material for r in ranked)
    with sheet(title, height_cm(names)) as figure:
        if not any(_zero(r.vapour_pct) or _zero(r.flammability_pct) for r in rows):
            say_nothing(figure, UNTOLD if rows else "The formula has no rows.", names)
            return figure
        bars = tuple(
            (
                (r.vapour_pct, r.vapour_pct, r.vapour_pct),
                (r.flammability_pct, r.flammability_pct, r.flammability_pct),
            )
            for r in ranked
        )
        draw_rows(figure, names, bars, (VAPOUR, FLAME), "share, %")
        legend(figure, (VAPOUR, FLAME))
    return figure


def _zero(share: float) -> float:
    return share if math.isfinite(share) else 0.0
