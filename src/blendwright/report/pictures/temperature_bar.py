"""Where on the thermometer does it dissolve, cloud and flash, and where may it be warmed?

One axis in °C with a lane for each answer, over the lines of freezer, fridge and bench.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import FREEZER_K, FRIDGE_K
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
    in_words,
    minus,
    number,
    place,
    sheet,
)
from blendwright.verdict.crystal_findings import FAR_BELOW_C

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELS_cm = 3.7
LANE_cm = 1.0
PLACES_cm = 1.25
AXIS_cm = 0.95
ROOM_C = 8.0  # beyond the outermost mark
LOWEST_C, HIGHEST_C = -25.0, 70.0  # always shown
CAP = 0.13  # half the height of an interval's end, in lanes


@dataclass(frozen=True)
class TemperatureBar:
    """`window_C`: from the dissolution's high end to the flash point's low end less the margin.

    None, ends the wrong way round, or an end below the bench is "no window".
    The estimates are in K.
    """

    bench_C: float
    dissolution: Estimate
    cloud: Estimate
    flash: Estimate
    window_C: tuple[float, float] | None
    title: str

    @property
    def open_window_C(self) -> tuple[float, float] | None:
        """The part of the window that is warmer than the bench."""
        if self.window_C is None:
            return None
        low, high = max(self.window_C[0], self.bench_C), self.window_C[1]
        return (low, high) if self.window_C[0] <= high and low <= high else None

    @property
    def needs_no_warming(self) -> bool:
        if self.dissolution.status == "not_applicable":
            return True
        return self.dissolution.is_ok and to_celsius(self.dissolution.interval()[2]) <= self.bench_C

    @property
    def window_words(self) -> str:
        if self.open_window_C is not None:
            low, high = self.open_window_C
            if self.needs_no_warming:
                return f"no need; at most {number(high)} °C"
            return f"{number(low)} to {number(high)} °C"
        unknown = [
            name
            for name, estimate in (("dissolution", self.dissolution), ("flash point", self.flash))
            if estimate.status == "unknown"
        ]
        if unknown:
            return f"no window: {' and '.join(unknown)} unknown"
        if self.window_C is not None and self.window_C[1] < self.bench_C:
            return "no window: the bench itself is too near the flash point"
        if self.needs_no_warming:
            return "no window: there is nothing to dissolve by warming"
        return "no window: warm enough to dissolve is too near the flash point"


def temperature_bar(bar: TemperatureBar) -> Figure:
    """The thermometer of one blend."""
    lanes = (
        ("fully dissolved above", bar.dissolution, "o", BLUE),
        ("clouds below", bar.cloud, "s", INK),
        ("flash point", bar.flash, "^", RED),
    )
    count = len(lanes) + 1
    with sheet(bar.title, AXIS_cm + count * LANE_cm + PLACES_cm) as figure:
        axes = place(
            figure,
            (
                LABELS_cm,
                FOOT_cm + AXIS_cm,
                WIDTH_cm - LABELS_cm - 2 * MARGIN_cm,
                count * LANE_cm + PLACES_cm,
            ),
        )
        low, high = _range_C(bar)
        axes.set_xlim(low, high)
        axes.set_ylim(count, -PLACES_cm / LANE_cm)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("temperature, °C")
        _draw_places(axes, bar.bench_C, count)
        for lane, (name, estimate, marker, ink) in enumerate(lanes):
            axes.axhline(lane, color=PALE, lw=0.6, zorder=0)
            if estimate.is_ok:
                _label(axes, lane, name, _value_words(estimate))
                _draw_estimate(axes, lane + 0.5, estimate, marker, ink)
            else:
                _label(axes, lane, name, estimate.status.replace("_", " "))
                _say(axes, lane + 0.5, "; ".join(estimate.notes) or "no reason given")
        _draw_window(axes, len(lanes), bar)
        foot_note(figure, f"flash point: closed cup; marks: best estimate; {INTERVAL_WORDS}")
    return figure


def _range_C(bar: TemperatureBar) -> tuple[float, float]:
    shown = [LOWEST_C + ROOM_C, HIGHEST_C - ROOM_C, bar.bench_C, *(bar.open_window_C or ())]
    for estimate in (bar.dissolution, bar.cloud, bar.flash):
        if estimate.is_ok:
            shown += [to_celsius(t) for t in estimate.interval()]
    return min(shown) - ROOM_C, max(shown) + ROOM_C


def _draw_places(axes: Axes, bench_C: float, bottom: int) -> None:
    """The coldest stands highest, so that no line runs through a warmer one's words."""
    places = sorted(
        (
            (to_celsius(FREEZER_K), "freezer", ":"),
            (to_celsius(FRIDGE_K), "fridge", "--"),
            (bench_C, "bench", "-"),
        )
    )
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


def _value_words(estimate: Estimate) -> str:
    value, _, high = (to_celsius(t) for t in estimate.interval())
    if value < FAR_BELOW_C:
        to = f" (to {number(high)})" if high >= FAR_BELOW_C else ""
        return f"{number(value)} °C or below{to}"
    return in_words(estimate)


def _draw_estimate(axes: Axes, y: float, estimate: Estimate, marker: str, ink: str) -> None:
    value, low, high = (to_celsius(t) for t in estimate.interval())
    axes.plot([low, high], [y, y], color=ink, lw=2.2, solid_capstyle="butt", zorder=3)
    for end in (low, high):
        axes.plot([end, end], [y - CAP, y + CAP], color=ink, lw=1.2, zorder=3)
    axes.plot(
        value, y, marker="<" if value < FAR_BELOW_C else marker, ms=7, color=ink,
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


def _draw_window(axes: Axes, lane: int, bar: TemperatureBar) -> None:
    axes.axhline(lane, color=PALE, lw=0.6, zorder=0)
    window = bar.open_window_C
    if window is None:
        _label(axes, lane, "warm it to", "no window")
        _say(axes, lane + 0.5, bar.window_words)
        return
    _label(axes, lane, "warm it to", bar.window_words)
    axes.barh(
        lane + 0.5, window[1] - window[0], left=window[0], height=0.5, facecolor=PALE,
        edgecolor=INK, hatch="////", lw=0.8, zorder=3,
    )  # fmt: skip
