"""Where on the thermometer does it dissolve, cloud and flash, and where may it be warmed?

One axis in °C with a lane for each answer, over the lines of freezer, fridge and bench.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from blendwright.estimate import to_celsius
from blendwright.report.pictures.canvas import (
    BLUE,
    INK,
    INTERVAL_WORDS,
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
    minus,
    number,
    place,
    sheet,
)
from blendwright.report.thermometer import Mark, Place, Thermometer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELS_cm = 4.8
LANE_cm = 1.0
PLACES_cm = 1.25
AXIS_cm = 0.95
ROOM_C = 8.0  # beyond the outermost mark
LOWEST_C, HIGHEST_C = -25.0, 70.0  # always shown
CAP = 0.13  # half the height of an interval's end, in lanes


def temperature_bar(scale: Thermometer, title: str) -> Figure:
    """The thermometer of one blend."""
    lanes = tuple(zip(scale.marks, ("o", "s", "^"), (BLUE, INK, RED), strict=True))
    count = len(lanes) + 1
    with sheet(title, AXIS_cm + count * LANE_cm + PLACES_cm) as figure:
        axes = place(
            figure,
            (
                LABELS_cm,
                FOOT_cm + AXIS_cm,
                WIDTH_cm - LABELS_cm - 2 * MARGIN_cm,
                count * LANE_cm + PLACES_cm,
            ),
        )
        low, high = _range_C(scale)
        axes.set_xlim(low, high)
        axes.set_ylim(count, -PLACES_cm / LANE_cm)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("temperature, °C")
        _draw_places(axes, scale.places, count)
        for lane, (mark, marker, ink) in enumerate(lanes):
            axes.axhline(lane, color=PALE, lw=0.6, zorder=0)
            if mark.estimate.is_ok:
                _label(axes, lane, *_name_and_value(mark))
                _draw_estimate(axes, lane + 0.5, mark, marker, ink)
            else:
                _label(axes, lane, mark.name, mark.estimate.status.replace("_", " "))
                _say(axes, lane + 0.5, mark.value_words)
        _draw_window(axes, len(lanes), scale)
        foot_note(figure, f"flash point: closed cup; marks: best estimate; {INTERVAL_WORDS}")
    return figure


def _range_C(scale: Thermometer) -> tuple[float, float]:
    shown_K = [place.temperature_K for place in scale.places]
    for mark in scale.marks:
        shown_K += mark.estimate.interval() if mark.estimate.is_ok else ()
    shown_K += [end for end in (scale.warming.low_K, scale.warming.high_K) if end is not None]
    shown = [LOWEST_C + ROOM_C, HIGHEST_C - ROOM_C, *(to_celsius(kelvin) for kelvin in shown_K)]
    return min(shown) - ROOM_C, max(shown) + ROOM_C


def _draw_places(axes: Axes, where: Sequence[Place], bottom: int) -> None:
    """The coldest stands highest, so that no line runs through a warmer one's words."""
    dashed = zip(where, (":", "--", "-"), strict=True)
    places = sorted((to_celsius(one.temperature_K), one.name, dashes) for one, dashes in dashed)
    tier = PLACES_cm / LANE_cm / len(places)
    low, high = axes.get_xlim()
    for k, (celsius, name, dashes) in enumerate(places):
        top = -tier * (len(places) - k) + 0.08
        axes.plot([celsius, celsius], [bottom, top], color=QUIET, lw=0.9, ls=dashes, zorder=1)
        right = celsius > low + 0.75 * (high - low)
        axes.annotate(
            f"{name} {number(celsius)} °C",
            (celsius, top),
            xytext=(-3 if right else 3, 0),
            textcoords="offset points",
            ha="right" if right else "left",
            va="top",
            size=SMALL_pt,
        )


def _label(axes: Axes, lane: int, name: str, words: str) -> None:
    room_cm = LABELS_cm - 1.5 * MARGIN_cm
    left = MARGIN_cm - LABELS_cm
    wide = WIDTH_cm - LABELS_cm - 2 * MARGIN_cm
    at = left / wide
    axes.text(
        at, lane + 0.32, fit(name, room_cm, TEXT_pt, bold=True)[0], size=TEXT_pt, weight="bold",
        va="center", transform=axes.get_yaxis_transform(),
    )  # fmt: skip
    axes.text(
        at, lane + 0.7, fit(words, room_cm, SMALL_pt)[0], size=SMALL_pt,
        va="center", transform=axes.get_yaxis_transform(),
    )  # fmt: skip


def _name_and_value(mark: Mark) -> tuple[str, str]:
    """ "fully dissolved above" and "38 °C (32 to 44)"."""
    name, value, unit = mark.figure_words.rsplit(" ", 2)
    span = f" ({mark.span_words.removesuffix(' °C')})" if mark.span_words else ""
    return name, minus(f"{value} {unit}{span}")


def _draw_estimate(axes: Axes, y: float, mark: Mark, marker: str, ink: str) -> None:
    value, low, high = (to_celsius(kelvin) for kelvin in mark.estimate.interval())
    beyond = {"below": "<", "above": ">"}.get(mark.at_end(mark.estimate.interval()[0]))
    axes.plot([low, high], [y, y], color=ink, lw=2.2, solid_capstyle="butt", zorder=3)
    for end in (low, high):
        axes.plot([end, end], [y - CAP, y + CAP], color=ink, lw=1.2, zorder=3)
    axes.plot(
        value, y, marker=beyond or marker, ms=7, color=ink,
        markeredgecolor=PAPER, markeredgewidth=0.8, zorder=4,
    )  # fmt: skip


def _say(axes: Axes, y: float, words: str) -> None:
    """A reason in words, where a mark would be."""
    room_cm = WIDTH_cm - LABELS_cm - 3 * MARGIN_cm
    lines = fit(minus(words), room_cm, SMALL_pt, 2)
    axes.text(
        0.02, y, "\n".join(lines), size=SMALL_pt, style="italic", va="center", zorder=5,
        transform=axes.get_yaxis_transform(), bbox={"facecolor": PAPER, "lw": 0, "pad": 1.0},
    )  # fmt: skip


def _draw_window(axes: Axes, lane: int, scale: Thermometer) -> None:
    axes.axhline(lane, color=PALE, lw=0.6, zorder=0)
    warming = scale.warming
    if warming.low_K is None or warming.high_K is None:
        _label(axes, lane, "safe warming", "none")
        _say(axes, lane + 0.5, warming.words)
        return
    low, high = to_celsius(warming.low_K), to_celsius(warming.high_K)
    _label(axes, lane, "safe warming", minus(warming.words.removeprefix("safe warming: ")))
    axes.barh(
        lane + 0.5, high - low, left=low, height=0.5, facecolor=PALE,
        edgecolor=INK, hatch="////", lw=0.8, zorder=3,
    )  # fmt: skip
