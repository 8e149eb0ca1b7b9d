"""How much of each row is gone, left open and covered?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.estimate import Estimate
from blendwright.report.pictures.canvas import BLUE, DARK, INK, PAPER, foot_note, sheet
from blendwright.report.pictures.row_bars import (
    Number3,
    Side,
    draw_rows,
    height_cm,
    legend,
    say_nothing,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

OPEN = Side("left open", DARK, "", BLUE)
COVERED = Side("covered", PAPER, ".....", INK)


@dataclass(frozen=True)
class RowLossBars:
    """Share of one row that is lost, kg/kg, with its 90 % interval: open, and covered."""

    row: str
    open: Estimate
    covered: Estimate


def losses(rows: Sequence[RowLossBars], title: str) -> Figure:
    """Two bars a row in the order given; what is unknown says so."""
    names = tuple(r.row for r in rows)
    with sheet(title, height_cm(names)) as figure:
        if not any(e.is_ok for r in rows for e in (r.open, r.covered)):
            words = "None of the losses can be told." if rows else "The formula has no rows."
            say_nothing(figure, words, names)
            return figure
        bars = tuple((_percent(r.open), _percent(r.covered)) for r in rows)
        draw_rows(figure, names, bars, (OPEN, COVERED), "lost, % of the row")
        legend(figure, (OPEN, COVERED))
        foot_note(figure, "thin lines: 90 % interval")
    return figure


def _percent(share: Estimate) -> Number3:
    if not share.is_ok:
        return math.nan, math.nan, math.nan
    value, low, high = share.interval()
    return 100.0 * value, 100.0 * low, 100.0 * high
