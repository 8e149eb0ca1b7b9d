"""How does a number move with what is varied: curves with their 90 % band, or a map of two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from blendwright.mixture.parameter_sets import Array
from blendwright.report.pictures.canvas import (
    INK,
    INKS,
    PALE,
    PAPER,
    QUIET,
    RED,
    FOOT_cm,
    MARGIN_cm,
    SMALL_pt,
    TEXT_pt,
    WIDTH_cm,
    fit,
    foot_note,
    number,
    place,
    sheet,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BODY_cm = 7.8
LEFT_cm, AXIS_cm, RIGHT_cm = 1.5, 1.1, 0.6
LEGEND_ROW_cm = 0.4
MARKS = ("o", "s", "^", "D", "v", "P", "X", "<")
DASHES = ("-", "--", "-.", ":")
LEVELS = 7
FEWEST_FOR_A_MAP = 4
ASIDE = 0.008  # of the span along the axis
SPAN_MARGIN = 0.05  # of the values' span, above and below
LIGHTEST, DARKEST = 0.97, 0.55  # of the greys: ink on any of them reads well


@dataclass(frozen=True)
class Quantity:
    """What is drawn, in words with its unit, and limits that matter for it."""

    words: str
    limits: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class SweepCurve:
    """Arrays of one length; value, low and high are nan where the number is unknown."""

    name: str
    x: Array
    value: Array
    low: Array
    high: Array


@dataclass(frozen=True, eq=False)
class SweepCurves:
    """One curve, or one for each carrier; without `x_words` there is a point for each carrier."""

    curves: tuple[SweepCurve, ...]
    x_words: str


@dataclass(frozen=True, eq=False)
class SweepMap:
    """A value over two varied weights, on a grid or anywhere; nan where it is unknown."""

    x: Array
    y: Array
    value: Array
    x_words: str
    y_words: str


def curves(found: SweepCurves, quantity: Quantity, title: str) -> Figure:
    """A line with its band for each curve, told apart by mark and dashes."""
    named = [curve.name for curve in found.curves if curve.name and found.x_words]
    legend_cm = LEGEND_ROW_cm * len(named)
    with sheet(title, BODY_cm + legend_cm) as figure:
        axes = _axes(figure, legend_cm, quantity, found.x_words)
        unknown = 0
        for n, curve in enumerate(found.curves):
            order = np.argsort(curve.x, kind="stable")
            x, value, low, high = (a[order] for a in (curve.x, curve.value, curve.low, curve.high))
            known = np.isfinite(value)
            unknown += int((~known).sum())
            ink = INKS[n % len(INKS)]
            if found.x_words and len(found.curves) == 1:
                axes.fill_between(
                    x, low, high, where=known, facecolor=PALE, edgecolor=QUIET, lw=0.5, zorder=1
                )
            bars = (value[known] - low[known], high[known] - value[known])
            aside = _aside(found.curves, n) if found.x_words else 0.0
            axes.plot(
                x[known], value[known], marker=MARKS[n % len(MARKS)], ms=4, color=ink, lw=1.2,
                ls=DASHES[n % len(DASHES)] if found.x_words else "none", zorder=3,
                label=fit(curve.name, WIDTH_cm - 3.0, SMALL_pt)[0],
            )  # fmt: skip
            if known.any():
                axes.errorbar(
                    x[known] + aside, value[known], yerr=bars, fmt="none", ecolor=ink,
                    elinewidth=0.7, capsize=2, zorder=2,
                )  # fmt: skip
        if not found.x_words:
            names = [fit(c.name, 3.0, SMALL_pt)[0] for c in found.curves]
            axes.set_xticks(range(len(names)), names, rotation=20, ha="right")
            axes.set_xlim(-0.5, len(names) - 0.5)
        _limits(axes, quantity)
        if named:
            figure.legend(
                *axes.get_legend_handles_labels(), loc="lower left", borderaxespad=0.0,
                bbox_to_anchor=(LEFT_cm / WIDTH_cm, FOOT_cm / (_height_cm(figure))),
            )  # fmt: skip
        missing = f"; unknown at {unknown} points" if unknown else ""
        foot_note(figure, f"bars: 90 % interval{missing}")
    return figure


def _aside(curves: Sequence[SweepCurve], n: int) -> float:
    """So much are the bars of one curve moved that those of several can be told apart."""
    every = np.concatenate([curve.x for curve in curves])
    return ASIDE * float(np.ptp(every)) * (n - (len(curves) - 1) / 2.0)


def value_map(found: SweepMap, quantity: Quantity, title: str) -> Figure:
    """Greys with contours that carry their numbers, the calculated points as dots."""
    with sheet(title, BODY_cm) as figure:
        axes = _axes(figure, 0.0, Quantity(found.y_words), found.x_words)
        known = np.isfinite(found.value)
        x, y, value = found.x[known], found.y[known], found.value[known]
        if _can_be_mapped(x, y, value):
            _contours(axes, x, y, value, quantity)
        else:
            for at_x, at_y, at in zip(x, y, value, strict=True):
                axes.annotate(
                    number(float(at), 1), (at_x, at_y), xytext=(0, 4), ha="center",
                    textcoords="offset points", size=SMALL_pt,
                )  # fmt: skip
        axes.plot(x, y, ls="none", marker=".", ms=2.5, color=INK, zorder=4)
        axes.plot(
            found.x[~known], found.y[~known], ls="none", marker="x", ms=5, color=INK, zorder=4
        )
        axes.margins(0.04)
        missing = "; ×: unknown there" if (~known).any() else ""
        foot_note(figure, f"{quantity.words}{missing}")
    return figure


def _can_be_mapped(x: Array, y: Array, value: Array) -> bool:
    if len(value) < FEWEST_FOR_A_MAP or np.ptp(value) <= 0.0:
        return False
    points = np.column_stack([x - x.mean(), y - y.mean()])
    return int(np.linalg.matrix_rank(points)) == 2


def _contours(axes: Axes, x: Array, y: Array, value: Array, quantity: Quantity) -> None:
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.ticker import MaxNLocator

    levels = MaxNLocator(LEVELS).tick_values(float(value.min()), float(value.max()))
    greys = LinearSegmentedColormap.from_list("greys", [str(DARKEST), str(LIGHTEST)])
    axes.tricontourf(x, y, value, levels=levels, cmap=greys, zorder=1)
    lines = axes.tricontour(x, y, value, levels=levels, colors=QUIET, linewidths=0.6, zorder=2)
    axes.clabel(lines, fontsize=SMALL_pt, colors=INK, fmt=lambda v: number(v, _decimals(levels)))
    crossed = [v for v in quantity.limits if value.min() < v < value.max()]
    if crossed:
        limit = axes.tricontour(
            x, y, value, levels=crossed, colors=RED, linewidths=1.4, linestyles="--", zorder=3
        )
        axes.clabel(limit, fontsize=SMALL_pt, fmt=lambda v: f"limit {number(v)}")


def _decimals(levels: Sequence[float] | Array) -> int:
    step = abs(float(levels[1]) - float(levels[0]))
    return max(0, int(np.ceil(-np.log10(step))))


def _axes(figure: Figure, legend_cm: float, quantity: Quantity, x_words: str) -> Axes:
    foot_cm = FOOT_cm + legend_cm + AXIS_cm
    axes = place(
        figure,
        (
            LEFT_cm,
            foot_cm,
            WIDTH_cm - LEFT_cm - RIGHT_cm,
            BODY_cm - AXIS_cm - MARGIN_cm,
        ),
    )
    axes.set_facecolor(PAPER)
    room_cm = WIDTH_cm - LEFT_cm - RIGHT_cm
    axes.set_xlabel(fit(x_words, room_cm, TEXT_pt)[0])
    axes.set_ylabel(fit(quantity.words, BODY_cm - AXIS_cm, TEXT_pt)[0])
    return axes


def _limits(axes: Axes, quantity: Quantity) -> None:
    """Limits inside the axes, or close to them, as lines with their number."""
    bottom, top = axes.get_ylim()
    margin = SPAN_MARGIN * (top - bottom)
    for limit in quantity.limits:
        if bottom - margin <= limit <= top + margin:
            axes.axhline(limit, color=RED, lw=1.0, ls="--", zorder=2)
            axes.annotate(
                f"limit {number(limit)}", (0.01, limit), xycoords=axes.get_yaxis_transform(),
                xytext=(0, 2), textcoords="offset points", size=SMALL_pt, color=RED,
            )  # fmt: skip


def _height_cm(figure: Figure) -> float:
    return float(figure.get_size_inches()[1]) * 2.54
