"""How often do the 90 % intervals hold, kind by kind?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.report.pictures.canvas import (
    INK,
    PALE,
    PAPER,
    QUIET,
    RED,
    FOOT_cm,
    MARGIN_cm,
    SMALL_pt,
    WIDTH_cm,
    fit,
    foot_note,
    place,
    sheet,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAMES_cm, NUMBERS_cm = 6.6, 2.0
ROW_cm, AXIS_cm = 0.62, 1.0
LEAST_pct = 40.0
ROUNDING = 1e-6


@dataclass(frozen=True)
class Held:
    """One line: the share held and what is allowed, all in per cent, and of how many."""

    name: str
    held_pct: float
    low_pct: float
    high_pct: float
    substances: int


def coverage(lines: Sequence[Held], title: str) -> Figure:
    """A dot a line on a grey bar, the 95 % binomial region of a true 90 %; a hollow diamond where
    the dot is outside. What is below 40 % is drawn there and told in numbers."""
    rows_cm = max(len(lines), 2) * ROW_cm
    with sheet(title, rows_cm + AXIS_cm) as figure:
        wide_cm = WIDTH_cm - NAMES_cm - NUMBERS_cm - MARGIN_cm
        axes = place(figure, (NAMES_cm, FOOT_cm + AXIS_cm, wide_cm, rows_cm))
        axes.set_xlim(LEAST_pct, 101.0)
        axes.set_ylim(max(len(lines), 2), 0)
        axes.set_yticks([])
        axes.set_xlabel("intervals that hold, %, each substance counted once")
        axes.axvline(90.0, color=QUIET, lw=0.8, ls="--", zorder=1)
        for row, line in enumerate(lines):
            y = row + 0.5
            low, high = max(line.low_pct, LEAST_pct), line.high_pct
            axes.barh(y, high - low, left=low, height=0.5, facecolor=PALE, edgecolor=QUIET, lw=0.5)
            inside = line.low_pct - ROUNDING <= line.held_pct <= line.high_pct + ROUNDING
            axes.plot(
                [max(line.held_pct, LEAST_pct)],
                [y],
                "o" if inside else "D",
                color=INK if inside else RED,
                markerfacecolor=INK if inside else PAPER,
                markersize=5,
                zorder=3,
                clip_on=False,
            )
            axes.text(
                -MARGIN_cm / wide_cm,
                y,
                fit(line.name, NAMES_cm - 2 * MARGIN_cm, SMALL_pt)[0],
                size=SMALL_pt,
                ha="right",
                va="center",
                transform=axes.get_yaxis_transform(),
            )
            axes.text(
                1.06,
                y,
                f"{line.held_pct:.0f} % of {line.substances}",
                size=SMALL_pt,
                va="center",
                transform=axes.get_yaxis_transform(),
            )
        foot_note(figure, "grey: what a true 90 % allows for so many")
    return figure
