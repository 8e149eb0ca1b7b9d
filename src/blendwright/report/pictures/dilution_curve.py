"""How does the flash point move as the formula is let down in its carrier, and past which limits?

Class limits are those of GHS 2.6 (23, 60, 93 °C closed cup).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from blendwright.mixture.parameter_sets import Array
from blendwright.report.pictures.canvas import (
    INK,
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

# GHS rev. 9 (2021), table 2.6.1, from memory; verdict/limits.csv has the boundaries in full
LIMITS_C = ((23.0, ":"), (60.0, "--"), (93.0, "-."))
BANDS = (
    "GHS category 2 or 1",
    "GHS category 3",
    "GHS category 4",
    "not classed by GHS",
)  # GHS rev. 9 (2021), table 2.6.1, from memory; verdict/limits.csv has the boundaries in full
BODY_cm = 7.4
LEFT_cm, AXIS_cm, BANDS_cm = 1.3, 1.0, 2.6
LOWEST_C, HIGHEST_C = 0.0, 108.0  # always shown
ROOM_C = 6.0


@dataclass(frozen=True, eq=False)
class DilutionCurve:
    """Arrays of one length: share of the formula in the carrier (mass %), flash point, 90 % ends.

    Flash points in °C; nan where it is unknown.
    """

    share_pct: Array
    flash_C: Array
    low_C: Array
    high_C: Array
    carrier: str
    title: str


def dilution_curve(curve: DilutionCurve) -> Figure:
    """Flash point with its interval against the share of the formula."""
    order = np.argsort(np.asarray(curve.share_pct, dtype=float), kind="stable")
    share, value, low, high = (
        np.asarray(a, dtype=float)[order]
        for a in (curve.share_pct, curve.flash_C, curve.low_C, curve.high_C)
    )
    known = np.isfinite(value) & np.isfinite(low) & np.isfinite(high)
    with sheet(curve.title, BODY_cm) as figure:
        axes = place(
            figure,
            (
                LEFT_cm,
                FOOT_cm + AXIS_cm,
                WIDTH_cm - LEFT_cm - BANDS_cm,
                BODY_cm - AXIS_cm - MARGIN_cm,
            ),
        )
        _scale(axes, share, low[known], high[known])
        room_cm = WIDTH_cm - LEFT_cm - BANDS_cm
        axes.set_xlabel(
            fit(f"share of the formula in {curve.carrier}, % by weight", room_cm, TEXT_pt)[0]
        )
        axes.set_ylabel("flash point, closed cup, °C")
        _draw_limits(axes)
        axes.fill_between(
            share, low, high, where=known, facecolor=PALE, edgecolor=QUIET, lw=0.6, zorder=1
        )
        axes.plot(share, np.where(known, value, np.nan), color=INK, lw=1.4, zorder=3)
        axes.errorbar(
            share[known],
            value[known],
            yerr=(value[known] - low[known], high[known] - value[known]),
            fmt="o", ms=4, color=INK, ecolor=INK, elinewidth=0.8, capsize=2, zorder=3,
        )  # fmt: skip
        _say_unknown(axes, share[~known], int(known.sum()))
        foot_note(figure, "band and bars: 90 % interval")
    return figure


def _scale(axes: Axes, share: Array, low: Array, high: Array) -> None:
    axes.set_xlim(0.0, max(float(share.max()) * 1.04, 1e-6) if share.size else 100.0)
    axes.set_ylim(
        min([LOWEST_C, *(low - ROOM_C).tolist()]), max([HIGHEST_C, *(high + ROOM_C).tolist()])
    )


def _draw_limits(axes: Axes) -> None:
    """The limits as lines, and at the right of the axes what each band between them is."""
    bottom, top = axes.get_ylim()
    edges = [bottom, *(celsius for celsius, _ in LIMITS_C), top]
    for celsius, dashes in LIMITS_C:
        axes.axhline(celsius, color=RED, lw=1.0, ls=dashes, zorder=2)
        _beside(axes, celsius, f"{number(celsius)} °C", RED)
    for low, high, words in zip(edges[:-1], edges[1:], BANDS, strict=True):
        _beside(axes, 0.5 * (low + high), words, INK)


def _beside(axes: Axes, celsius: float, words: str, ink: str) -> None:
    axes.annotate(
        words, (1.0, celsius), xycoords=axes.get_yaxis_transform(), xytext=(4, 0),
        textcoords="offset points", va="center", size=SMALL_pt, color=ink,
    )  # fmt: skip


def _say_unknown(axes: Axes, share: Array, known: int) -> None:
    if not known:
        axes.text(
            0.5, 0.5, "no flash point is known", size=TEXT_pt, style="italic", ha="center",
            va="center", transform=axes.transAxes, zorder=5, bbox={"facecolor": PAPER, "lw": 0},
        )  # fmt: skip
    if not share.size:
        return
    bottom = axes.get_ylim()[0]
    axes.plot(
        share, np.full(share.size, bottom), ls="none", marker="x", ms=5, color=INK, clip_on=False
    )
    axes.text(
        0.02, 0.03, "×: flash point unknown there", size=SMALL_pt, transform=axes.transAxes,
        va="bottom", zorder=5, bbox={"facecolor": PAPER, "lw": 0, "pad": 1.0},
    )  # fmt: skip
