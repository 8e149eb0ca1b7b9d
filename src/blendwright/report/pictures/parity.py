"""How near do the estimates come to what was measured?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.parameter_sets import Array
from blendwright.report.pictures.canvas import (
    BLUE,
    GREEN,
    INK,
    PAPER,
    PURPLE,
    QUIET,
    RED,
    FOOT_cm,
    INCH_cm,
    MARGIN_cm,
    SMALL_pt,
    TEXT_pt,
    WIDTH_cm,
    fit,
    foot_note,
    place,
    sheet,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIGNS = (
    ("o", INK), ("s", RED), ("^", BLUE), ("D", GREEN), ("v", PURPLE), ("P", INK), ("X", RED),
    ("<", BLUE), (">", GREEN), ("p", PURPLE),
)  # fmt: skip
OTHERS = "others"
SQUARE_cm = 8.0
LEFT_cm, AXIS_cm = 1.6, 1.0
LEGEND_ROW_cm = 0.42
LEGEND_COLUMNS = 2
ROOM = 0.05  # of the range, on each side
Mask = NDArray[np.bool_]
PLAIN = (0.009, 1100.0)  # between these a power of ten is written out
RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


@dataclass(frozen=True, eq=False)
class Parity:
    """Arrays of one length in one unit; `low` and `high` are the 90 % ends, nan where none.

    `classes` names the class of each point. A point whose measured or predicted value is nan (or
    not above zero on logarithmic axes) is counted in words, not drawn.
    """

    quantity: str
    unit: str
    measured: Array
    predicted: Array
    low: Array
    high: Array
    classes: tuple[str, ...]
    title: str
    logarithmic: bool = False


def parity(data: Parity) -> Figure:
    """Predicted with intervals against measured, one sign a class."""
    measured, predicted, low, high = (
        np.asarray(a, dtype=float) for a in (data.measured, data.predicted, data.low, data.high)
    )
    shown = np.isfinite(measured) & np.isfinite(predicted)
    if data.logarithmic:
        shown &= (measured > 0.0) & (predicted > 0.0)
    classes = _classes(data.classes)
    names = tuple(dict.fromkeys(classes))
    rows = -(-len(names) // LEGEND_COLUMNS)
    legend_cm = rows * LEGEND_ROW_cm
    with sheet(data.title, AXIS_cm + SQUARE_cm + legend_cm + 0.2) as figure:
        axes = place(
            figure,
            (
                0.5 * (WIDTH_cm - SQUARE_cm + LEFT_cm - MARGIN_cm),
                FOOT_cm + AXIS_cm + legend_cm,
                SQUARE_cm,
                SQUARE_cm,
            ),
        )
        if data.logarithmic:
            axes.set_xscale("log")
            axes.set_yscale("log")
            for scale in (axes.xaxis, axes.yaxis):
                scale.set_major_formatter(_decade)
                scale.set_minor_formatter(_nothing)
        ends = _ends(data, shown, measured, predicted, low, high)
        axes.set_xlim(*ends)
        axes.set_ylim(*ends)
        axes.plot(ends, ends, color=QUIET, lw=0.9, zorder=1)
        unit = f", {data.unit}" if data.unit else ""
        axes.set_xlabel(fit(f"{data.quantity} measured{unit}", SQUARE_cm, TEXT_pt)[0])
        axes.set_ylabel(fit(f"{data.quantity} estimated{unit}", SQUARE_cm, TEXT_pt)[0])
        for k, name in enumerate(names):
            marker, ink = SIGNS[k % len(SIGNS)]
            mine = shown & np.array([c == name for c in classes], dtype=bool)
            _draw_class(axes, (marker, ink, name), mine, (measured, predicted, low, high))
        _say_counts(axes, shown, measured, low, high)
        _legend(figure, names)
        foot_note(figure, "line: measured = estimated; bars: 90 % interval")
    return figure


def _decade(value: float, _: object = None) -> str:
    """0.01 to 1000 in full, any other as a power of ten."""
    if PLAIN[0] <= value <= PLAIN[1]:
        return f"{value:g}"
    return "10" + f"{round(math.log10(value))}".translate(RAISED)


def _nothing(value: float, _: object = None) -> str:
    return ""


def _classes(given: tuple[str, ...]) -> tuple[str, ...]:
    """With more classes than signs, the last ones share a sign as "others"."""
    names = tuple(dict.fromkeys(given))
    if len(names) <= len(SIGNS):
        return given
    own = set(names[: len(SIGNS) - 1])
    return tuple(name if name in own else OTHERS for name in given)


def _ends(
    data: Parity,
    shown: Mask,
    measured: Array,
    predicted: Array,
    low: Array,
    high: Array,
) -> tuple[float, float]:
    values = np.concatenate([a[shown] for a in (measured, predicted, low, high)])
    values = values[np.isfinite(values)]
    if data.logarithmic:
        values = values[values > 0.0]
    if not values.size:
        return (1.0, 10.0) if data.logarithmic else (0.0, 1.0)
    if data.logarithmic:
        values = np.log10(values)
    first, last = float(values.min()), float(values.max())
    room = ROOM * (last - first) or max(abs(last), 1.0) * ROOM
    first, last = first - room, last + room
    return (10.0**first, 10.0**last) if data.logarithmic else (first, last)


def _draw_class(
    axes: Axes,
    sign: tuple[str, str, str],
    mine: Mask,
    arrays: tuple[Array, Array, Array, Array],
) -> None:
    marker, ink, name = sign
    measured, predicted, low, high = (a[mine] for a in arrays)
    bar = np.isfinite(low) & np.isfinite(high)
    axes.vlines(measured[bar], low[bar], high[bar], color=ink, lw=0.6, alpha=0.6, zorder=2)
    axes.plot(
        measured, predicted, ls="none", marker=marker, ms=5, color=ink, markeredgecolor=PAPER,
        markeredgewidth=0.5, label=name, zorder=3,
    )  # fmt: skip


def _say_counts(axes: Axes, shown: Mask, measured: Array, low: Array, high: Array) -> None:
    claimed = shown & np.isfinite(low) & np.isfinite(high)
    inside = claimed & (low <= measured) & (measured <= high)
    words = [f"{int(shown.sum())} points"]
    if claimed.any():
        words.append(f"{int(inside.sum())} of {int(claimed.sum())} inside their interval")
    if (~shown).any():
        words.append(f"{int((~shown).sum())} not drawn: no number")
    axes.text(
        0.02, 0.98, "\n".join(words), size=SMALL_pt, va="top", transform=axes.transAxes,
        linespacing=1.4, zorder=5, bbox={"facecolor": PAPER, "lw": 0, "pad": 1.0, "alpha": 0.85},
    )  # fmt: skip


def _legend(figure: Figure, names: tuple[str, ...]) -> None:
    """In columns below the axes, each name cut to its column."""
    from matplotlib.lines import Line2D

    height_cm = float(figure.get_size_inches()[1]) * INCH_cm
    column_cm = (WIDTH_cm - 2 * MARGIN_cm) / LEGEND_COLUMNS
    for k, name in enumerate(names):
        row, column = divmod(k, LEGEND_COLUMNS)
        x_cm = MARGIN_cm + column * column_cm + 0.2
        y_cm = FOOT_cm + (-(-len(names) // LEGEND_COLUMNS) - row - 0.6) * LEGEND_ROW_cm
        marker, ink = SIGNS[k % len(SIGNS)]
        figure.add_artist(
            Line2D([x_cm / WIDTH_cm], [y_cm / height_cm], ls="none", marker=marker, ms=5, color=ink)
        )
        figure.text(
            (x_cm + 0.25) / WIDTH_cm, y_cm / height_cm, fit(name, column_cm - 0.7, SMALL_pt)[0],
            size=SMALL_pt, va="center_baseline",
        )  # fmt: skip
