"""One set of aromatics in several carriers: how far lies full dissolution from the flash point?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import BENCH_K
from blendwright.report.pictures.canvas import (
    BLUE,
    INTERVAL_WORDS,
    PALE,
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
    width_cm,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAMES_cm = 3.2
ROW_cm = 0.82
AXIS_cm = 0.95
KEY_cm = 1.0
NUMBER_pt = 6.0
ROOM_C = 6.0  # beyond the outermost mark
FRIDGE_C = 4.0
CAP = 0.12  # half the height of an interval's end, in rows


@dataclass(frozen=True)
class CarrierRow:
    """One carrier: above what temperature all is dissolved, where it flashes (K), how it looks in
    the fridge and on the bench, in a few words."""

    carrier: str
    dissolves: Estimate
    flash: Estimate
    looks: str


def carrier_rows(rows: Sequence[CarrierRow], title: str, bench_K: float = BENCH_K) -> Figure:
    """A row a carrier, in the order given."""
    bench_C = to_celsius(bench_K)
    words_cm = max((width_cm(row.looks, NUMBER_pt) for row in rows), default=1.0)
    words_cm = min(words_cm, 0.3 * WIDTH_cm)
    body_cm = max(1, len(rows)) * ROW_cm
    wide_cm = WIDTH_cm - NAMES_cm - words_cm - 2 * MARGIN_cm
    with sheet(title, AXIS_cm + body_cm + KEY_cm) as figure:
        axes = place(figure, (NAMES_cm, FOOT_cm + AXIS_cm, wide_cm, body_cm))
        axes.set_ylim(max(1, len(rows)), 0)
        axes.set_yticks([])
        axes.set_xlabel("°C")
        low, high = _range_C(rows, bench_C)
        axes.set_xlim(low, high)
        for celsius, words in ((FRIDGE_C, "fridge"), (bench_C, "bench")):
            axes.axvline(celsius, color=QUIET, lw=0.7, ls=":", zorder=1)
            axes.annotate(
                words, (celsius, 1.0), xycoords=axes.get_xaxis_transform(), xytext=(2, 3),
                textcoords="offset points", size=NUMBER_pt, color=QUIET,
            )  # fmt: skip
        for number, row in enumerate(rows):
            if number:
                axes.axhline(number, color=PALE, lw=0.6, zorder=0)
            _words(axes, number, row, wide_cm, words_cm)
            _mark(axes, number + 0.3, row.dissolves, "o", BLUE)
            _mark(axes, number + 0.7, row.flash, "^", RED)
        _key(figure, axes)
        foot_note(figure, INTERVAL_WORDS)
    return figure


def _range_C(rows: Sequence[CarrierRow], bench_C: float) -> tuple[float, float]:
    shown = [FRIDGE_C, bench_C]
    for estimate in (e for row in rows for e in (row.dissolves, row.flash)):
        if estimate.is_ok:
            shown += [to_celsius(kelvin) for kelvin in estimate.interval()]
    return max(min(shown), -60.0) - ROOM_C, min(max(shown), 200.0) + ROOM_C


def _words(axes: Axes, number: int, row: CarrierRow, wide_cm: float, words_cm: float) -> None:
    for text, room_cm, size, x_cm in (
        (row.carrier, NAMES_cm - 2 * MARGIN_cm, SMALL_pt, MARGIN_cm - NAMES_cm),
        (row.looks, words_cm + 0.05, NUMBER_pt, wide_cm + MARGIN_cm),
    ):
        lines = fit(text, room_cm, size, 2)
        axes.text(
            x_cm / wide_cm, number + 0.5, "\n".join(lines), size=size, va="center",
            linespacing=1.15, transform=axes.get_yaxis_transform(),
        )  # fmt: skip


def _mark(axes: Axes, y: float, estimate: Estimate, sign: str, ink: str) -> None:
    if not estimate.is_ok:
        words = {"not_applicable": "none", "out_of_range": "out of range"}
        axes.annotate(
            words.get(estimate.status, "unknown"), (0.0, y), xycoords=axes.get_yaxis_transform(),
            xytext=(3, 0), textcoords="offset points", va="center", size=NUMBER_pt, color=ink,
        )  # fmt: skip
        return
    value, low, high = (to_celsius(kelvin) for kelvin in estimate.interval())
    axes.plot([low, high], [y, y], color=ink, lw=1.0, zorder=3)
    for end in (low, high):
        axes.plot([end, end], [y - CAP, y + CAP], color=ink, lw=1.0, zorder=3)
    axes.plot(
        [value], [y], marker=sign, ms=4.5, mfc="white" if sign == "o" else ink, mec=ink, ls="",
        zorder=4,
    )  # fmt: skip


def _key(figure: Figure, axes: Axes) -> None:
    from matplotlib.lines import Line2D

    sheet_cm = float(figure.get_size_inches()[1]) * INCH_cm
    signs = [
        Line2D([], [], marker="o", mfc="white", mec=BLUE, color=BLUE, ms=4.5, lw=1.0),
        Line2D([], [], marker="^", mfc=RED, mec=RED, color=RED, ms=4.5, lw=1.0),
    ]
    figure.legend(
        signs, ["fully dissolved above", "flash point, closed cup"], loc="upper left", ncols=2,
        bbox_to_anchor=(MARGIN_cm / WIDTH_cm, axes.get_position().y1 + KEY_cm / sheet_cm),
        bbox_transform=figure.transFigure, fontsize=TEXT_pt - 1.0, borderpad=0.0,
        borderaxespad=0.0, handletextpad=0.5, columnspacing=1.5,
    )  # fmt: skip
