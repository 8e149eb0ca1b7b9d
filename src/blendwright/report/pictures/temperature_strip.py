"""Where on one axis does it dissolve, cloud and flash, and where may it be warmed? For the screen.

A thermometer laid on its side, as SVG that a page lays into itself: it takes the page's own type
and inks (classes `cold`, `cloud`, `hot`, `safe`, and `currentColor`). A thick bar is the 90 %
interval, a thin line goes on to where it is true: dissolved above, cloudy below, flashing above.
Each estimate has a line of its own, and a name is put where no line and no other name is, so that
no two labels overlap.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import product

from blendwright.estimate import to_celsius, to_kelvin
from blendwright.report.pictures.canvas import minus
from blendwright.report.thermometer import Mark, Place, Thermometer

FONT_px = 12.0
LETTER_px = 6.8  # a generous mean width; the page's type is not known here
LINE_px = 15.0
LANE_px = 31.0
BAR_px = 7.0
SIDE_px = 10.0
AXIS_px = 20.0
ROOM_C = 6.0  # beyond the outermost mark
LOWEST_C, HIGHEST_C = -25.0, 70.0  # always shown
FURTHEST_C = (-60.0, 160.0)  # an interval that goes beyond ends in an arrow
TICKS_C = (10, 20, 50)
LEAST_TICK_px = 34.0
GAP_px = 4.0
TIERS = 3


@dataclass(frozen=True)
class Box:
    """A rectangle on the picture, px; y goes down."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True)
class PlaceLabel:
    """A place's name, where it stands, and the line down from it at `x`."""

    words: str
    x: float
    box: Box


@dataclass(frozen=True)
class _Axis:
    low_C: float
    high_C: float
    width_px: float

    def x(self, temperature_K: float) -> float:
        share = (to_celsius(temperature_K) - self.low_C) / (self.high_C - self.low_C)
        return SIDE_px + min(max(share, 0.0), 1.0) * (self.width_px - 2.0 * SIDE_px)

    @property
    def ticks_C(self) -> list[int]:
        room = self.width_px - 2.0 * SIDE_px
        span = self.high_C - self.low_C
        step = next((t for t in TICKS_C if room * t / span >= LEAST_TICK_px), TICKS_C[-1])
        first = int(-(-self.low_C // step)) * step
        return list(range(first, int(self.high_C) + 1, step))


def temperature_strip(scale: Thermometer, width_px: float) -> str:
    """The thermometer of one blend, `width_px` wide, as an `svg` element."""
    axis = _axis(scale, width_px)
    labels = place_labels(scale.places, axis, width_px)
    top = max(label.box.bottom for label in labels) + GAP_px
    lanes: list[str] = []
    y = top
    for mark, ink, side in zip(
        scale.marks, ("cold", "cloud", "hot"), ("right", "left", "right"), strict=True
    ):
        drawn, y = _lane(mark, axis, y, ink, side)
        lanes.append(drawn)
    drawn, y = _window(scale, axis, y)
    lanes.append(drawn)
    y += GAP_px
    lines = [_place_line(label, y, label.words.startswith("bench")) for label in labels]
    names = [
        _words(label.words, label.box.left, label.box.bottom - 3.0, "place") for label in labels
    ]
    return (
        f'<svg class="strip-picture" viewBox="0 0 {width_px:g} {y + AXIS_px:.1f}" role="img" '
        f'aria-label="{escape(described(scale))}" font-size="{FONT_px:g}">'
        f"{''.join(lines)}{_ticks(axis, y)}{''.join(lanes)}{''.join(names)}</svg>"
    )


def described(scale: Thermometer) -> str:
    """What the picture shows, for those who don't see it."""
    told = [mark.words for mark in scale.marks]
    places = ", ".join(f"{place.name} {_whole(place.temperature_K)} °C" for place in scale.places)
    return minus(f"Temperatures. {'; '.join([*told, scale.warming.words])}. Lines: {places}.")


def _axis(scale: Thermometer, width_px: float) -> _Axis:
    shown = [LOWEST_C + ROOM_C, HIGHEST_C - ROOM_C]
    shown += [to_celsius(place.temperature_K) for place in scale.places]
    for mark in scale.marks:
        if mark.estimate.is_ok:
            shown += [to_celsius(kelvin) for kelvin in mark.estimate.interval()]
    for kelvin in (scale.warming.low_K, scale.warming.high_K):
        shown += [] if kelvin is None else [to_celsius(kelvin)]
    low, high = max(min(shown) - ROOM_C, FURTHEST_C[0]), min(max(shown) + ROOM_C, FURTHEST_C[1])
    return _Axis(low, high, width_px)


# The places


def place_labels(places: tuple[Place, ...], axis: _Axis, width_px: float) -> tuple[PlaceLabel, ...]:
    """Each name beside or over its own line, on the lowest tier where nothing overlaps."""
    choices = [_choices(place, axis, width_px) for place in places]
    floor = TIERS * LINE_px
    best = min(
        (found for found in product(*choices) if _is_clear(found, floor)),
        key=lambda found: (min(-label.box.top for label in found), _unevenness(found)),
        default=tuple(choice[-1] for choice in choices),
    )
    raised = min(label.box.top for label in best)
    return tuple(
        PlaceLabel(
            one.words,
            one.x,
            Box(one.box.left, one.box.top - raised, one.box.right, one.box.bottom - raised),
        )
        for one in best
    )


def _choices(place: Place, axis: _Axis, width_px: float) -> list[PlaceLabel]:
    words = minus(f"{place.name} {_whole(place.temperature_K)} °C")
    x, wide = axis.x(place.temperature_K), len(words) * LETTER_px
    made = []
    for tier, left in product(range(TIERS), (x - wide / 2.0, x + GAP_px, x - wide - GAP_px)):
        if left < 0.0 or left + wide > width_px:
            continue
        bottom = (TIERS - tier) * LINE_px
        made.append(PlaceLabel(words, x, Box(left, bottom - LINE_px, left + wide, bottom)))
    return made


def _is_clear(labels: tuple[PlaceLabel, ...], floor: float) -> bool:
    for one in labels:
        for other in labels:
            if one is other:
                continue
            line = Box(other.x - 1.0, other.box.bottom - 1.0, other.x + 1.0, floor + 1.0)
            if one.box.overlaps(other.box) or one.box.overlaps(line):
                return False
    return True


def _unevenness(labels: tuple[PlaceLabel, ...]) -> float:
    """How far names stand from the middle of their lines, and how high."""
    return sum(
        abs((label.box.left + label.box.right) / 2.0 - label.x) - label.box.top for label in labels
    )


def _place_line(label: PlaceLabel, bottom: float, is_bench: bool) -> str:
    kind = "bench-line" if is_bench else "place-line"
    return (
        f'<line class="{kind}" x1="{label.x:.1f}" x2="{label.x:.1f}" '
        f'y1="{label.box.bottom:.1f}" y2="{bottom:.1f}"/>'
    )


# The estimates


def _lane(mark: Mark, axis: _Axis, top: float, ink: str, side: str) -> tuple[str, float]:
    """One estimate: its words, and its bar below them. Returns the drawing and where it ends."""
    if not mark.estimate.is_ok:
        return _folded(mark.words, axis.width_px, SIDE_px, top, f"{ink} none")
    value, low, high = (axis.x(kelvin) for kelvin in mark.estimate.interval())
    words = minus(mark.words)
    wide = len(words) * LETTER_px
    start = min(max(low, SIDE_px), max(axis.width_px - wide, SIDE_px))
    drawn, y = _folded(words, axis.width_px, start, top, ink)
    middle = y + BAR_px / 2.0 + 1.0
    end = axis.width_px - SIDE_px if side == "right" else SIDE_px
    drawn += (
        f'<line class="{ink} on" x1="{value:.1f}" x2="{end:.1f}" y1="{middle:.1f}" '
        f'y2="{middle:.1f}"/>'
        f'<rect class="{ink} span" x="{low:.1f}" y="{middle - BAR_px / 2.0:.1f}" '
        f'width="{max(high - low, 2.0):.1f}" height="{BAR_px:g}" rx="3"/>'
        f'<circle class="{ink} best" cx="{value:.1f}" cy="{middle:.1f}" r="{BAR_px * 0.72:.1f}"/>'
    )
    return drawn, top + (y - top) + LANE_px - LINE_px


def _window(scale: Thermometer, axis: _Axis, top: float) -> tuple[str, float]:
    """Where it may be warmed, or why nowhere."""
    warming = scale.warming
    if warming.low_K is None or warming.high_K is None:
        return _folded(warming.words, axis.width_px, SIDE_px, top, "none")
    low, high = axis.x(warming.low_K), axis.x(warming.high_K)
    wide = len(warming.words) * LETTER_px
    start = min(max(low, SIDE_px), max(axis.width_px - wide, SIDE_px))
    drawn, y = _folded(warming.words, axis.width_px, start, top, "safe")
    drawn += (
        f'<rect class="safe span" x="{low:.1f}" y="{y + 1.0:.1f}" '
        f'width="{max(high - low, 2.0):.1f}" height="{BAR_px:g}" rx="3"/>'
    )
    return drawn, y + LANE_px - LINE_px


def _folded(words: str, width_px: float, start: float, top: float, kind: str) -> tuple[str, float]:
    """Words on as many lines as they need, from `start` where they fit one."""
    words = minus(words[:1].upper() + words[1:])
    most = max(10, int((width_px - start) / LETTER_px))
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) > most and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    drawn = ""
    for line in lines:
        drawn += (
            f'<rect class="under" x="{start - 2.0:.1f}" y="{top + 1.0:.1f}" '
            f'width="{len(line) * LETTER_px:.1f}" height="{LINE_px - 1.0:g}"/>'
        )
        top += LINE_px
        drawn += _words(line, start, top - 3.0, kind)
    return drawn, top


def _ticks(axis: _Axis, y: float) -> str:
    drawn = (
        f'<line class="axis" x1="{SIDE_px:g}" x2="{axis.width_px - SIDE_px:g}" y1="{y:.1f}" '
        f'y2="{y:.1f}"/>'
    )
    for celsius in axis.ticks_C:
        x = axis.x(to_kelvin(celsius))
        drawn += f'<line class="axis" x1="{x:.1f}" x2="{x:.1f}" y1="{y:.1f}" y2="{y + 4.0:.1f}"/>'
        drawn += (
            f'<text class="tick" x="{x:.1f}" y="{y + 16.0:.1f}" text-anchor="middle">'
            f"{minus(str(celsius))}{' °C' if celsius == 0 else ''}</text>"
        )
    return drawn


def _words(words: str, x: float, y: float, kind: str) -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _whole(temperature_K: float) -> str:
    return f"{round(to_celsius(temperature_K)) + 0:d}"
