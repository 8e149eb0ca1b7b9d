"""Two horizontal bars for each row of a formula: what `shares` and `losses` both are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.report.pictures.canvas import (
    INK,
    LINE_SPACING,
    PALE,
    FOOT_cm,
    INCH_cm,
    MARGIN_cm,
    POINT_cm,
    SMALL_pt,
    TEXT_pt,
    WIDTH_cm,
    fit,
    place,
    width_cm,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Number3 = tuple[float, float, float]  # value and its 90 % ends; nan is unknown

NAMES_cm = 4.1
NUMBER_pt = 6.0
ROW_cm = 0.72
AXIS_cm = 1.0
LEGEND_cm = 0.55
BAR = 0.36  # thickness, of a row
LEAST_SHOWN_pct = 0.05
BEYOND = 1.02  # of the longest bar
LEAST_WHISKER = 0.006  # of the axis: a shorter interval is told in numbers only
EMPTY_cm = 2.0


@dataclass(frozen=True)
class Side:
    """One of the two bars of each row: what it is, its fill, hatch and edge."""

    title: str
    fill: str
    hatch: str
    edge: str


def height_cm(names: tuple[str, ...]) -> float:
    """Height of the body of the sheet."""
    return max(len(names) * ROW_cm, EMPTY_cm) + AXIS_cm + LEGEND_cm


def draw_rows(
    figure: Figure,
    names: tuple[str, ...],
    bars: tuple[tuple[Number3, Number3], ...],
    sides: tuple[Side, Side],
    axis: str,
) -> None:
    """Bars with their 90 % ends and numbers; the names at the left, cut to two lines."""
    rows_cm = max(len(names) * ROW_cm, EMPTY_cm)
    numbers_cm = max((width_cm(words_of(b), NUMBER_pt) for pair in bars for b in pair), default=0.0)
    wide_cm = WIDTH_cm - NAMES_cm - numbers_cm - 1.5 * MARGIN_cm
    axes = place(figure, (NAMES_cm, FOOT_cm + AXIS_cm, wide_cm, rows_cm))
    axes.set_ylim(max(len(names), EMPTY_cm / ROW_cm), 0)
    ends = [b[2] for pair in bars for b in pair if math.isfinite(b[2])]
    axes.set_xlim(0.0, BEYOND * max(min(max(ends, default=1.0), 100.0), LEAST_SHOWN_pct))
    axes.set_yticks([])
    axes.set_xlabel(axis)
    for row, (name, pair) in enumerate(zip(names, bars, strict=True)):
        if row:
            axes.axhline(row, color=PALE, lw=0.6, zorder=0)
        _name(axes, row, name, wide_cm)
        for side, bar, y in zip(sides, pair, (row + 0.3, row + 0.7), strict=True):
            _bar(axes, y, bar, side)


def _name(axes: Axes, row: int, name: str, wide_cm: float) -> None:
    lines = fit(name, NAMES_cm - 2 * MARGIN_cm, SMALL_pt, 2)
    axes.text(
        (MARGIN_cm - NAMES_cm) / wide_cm, row + 0.5, "\n".join(lines), size=SMALL_pt, va="center",
        linespacing=1.15, transform=axes.get_yaxis_transform(),
    )  # fmt: skip


def _bar(axes: Axes, y: float, bar: Number3, side: Side) -> None:
    value, low, high = bar
    known = math.isfinite(value)
    if known:
        axes.barh(
            y, value, height=BAR, facecolor=side.fill, edgecolor=side.edge, hatch=side.hatch,
            lw=0.6, zorder=2,
        )  # fmt: skip
        if high - low > LEAST_WHISKER * axes.get_xlim()[1]:
            axes.plot([low, high], [y, y], color=INK, lw=1.0, zorder=4, clip_on=False)
            for end in (low, high):
                axes.plot(
                    [end, end], [y - 0.12, y + 0.12], color=INK, lw=1.0, zorder=4, clip_on=False
                )
    axes.annotate(
        words_of(bar), (1.0, y), xycoords=axes.get_yaxis_transform(), xytext=(5, 0),
        textcoords="offset points", va="center", size=NUMBER_pt,
    )  # fmt: skip


def words_of(bar: Number3) -> str:
    """ "3.8 % (2.1 to 6.4)"."""
    value, low, high = bar
    if not math.isfinite(value):
        return "unknown"
    if high > low:
        if high < LEAST_SHOWN_pct:
            return f"{_share(high)} %"
        return f"{_share(value)} % ({_share(low)} to {_share(high)})"
    return f"{_share(value)} %"


def _share(percent: float) -> str:
    if percent == 0.0:
        return "0"
    if percent < LEAST_SHOWN_pct:
        return f"< {LEAST_SHOWN_pct:g}"
    return f"{percent:.0f}" if percent >= 10.0 else f"{percent:.1f}"


def legend(figure: Figure, sides: tuple[Side, Side]) -> None:
    """Two patches with their words, over the bars."""
    from matplotlib.patches import Rectangle

    sheet_cm = float(figure.get_size_inches()[1]) * INCH_cm
    top = figure.axes[0].get_position().y1 * sheet_cm
    x_cm = MARGIN_cm
    for side in sides:
        y_cm = top + 0.16
        figure.add_artist(
            Rectangle(
                (x_cm / WIDTH_cm, y_cm / sheet_cm), 0.5 / WIDTH_cm, 0.24 / sheet_cm,
                facecolor=side.fill, edgecolor=side.edge, hatch=side.hatch, lw=0.6,
            )
        )  # fmt: skip
        figure.text(
            (x_cm + 0.6) / WIDTH_cm, (y_cm + 0.12) / sheet_cm, side.title, size=SMALL_pt,
            va="center_baseline",
        )  # fmt: skip
        x_cm += 0.6 + width_cm(side.title, SMALL_pt) + 0.5


def say_nothing(figure: Figure, words: str, names: tuple[str, ...] = ()) -> None:
    """Words in place of bars, and the rows that they are about."""
    sheet_cm = float(figure.get_size_inches()[1]) * INCH_cm
    room_cm = WIDTH_cm - 2 * MARGIN_cm
    body_cm = height_cm(names)
    lines = fit(words, room_cm, TEXT_pt, 2)
    most = int((body_cm - 1.2) / (SMALL_pt * POINT_cm * LINE_SPACING))
    listed = fit("Rows: " + "; ".join(names), room_cm, SMALL_pt, most) if names else []
    top = FOOT_cm + body_cm - 0.2
    figure.text(
        MARGIN_cm / WIDTH_cm, top / sheet_cm, "\n".join(lines), size=TEXT_pt, style="italic",
        va="top", linespacing=LINE_SPACING,
    )  # fmt: skip
    if listed:
        figure.text(
            MARGIN_cm / WIDTH_cm, (top - 0.9) / sheet_cm, "\n".join(listed), size=SMALL_pt,
            va="top", linespacing=LINE_SPACING,
        )  # fmt: skip
