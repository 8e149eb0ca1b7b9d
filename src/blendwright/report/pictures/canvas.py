"""The sheet that every picture is drawn on: size, type, inks, title, footer, and text that fits.

12 cm wide, so that it fits a column of a page. Inks are dark enough to read on white (4.5 : 1 and
more, WCAG 2.1) and told apart by shape, hatching and line style first; fills differ in lightness.
The settings hold while a picture is drawn or saved and are put back afterwards.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING

from blendwright.estimate import Estimate
from blendwright.report.pictures.errors import MissingPicturesExtraError
from blendwright.version import __version__

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_cm = 12.0
DPI = 200
INCH_cm = 2.54
POINT_cm = INCH_cm / 72.0
MARGIN_cm = 0.3
FOOT_cm = 0.75
TITLE_LINES = 2
LINE_SPACING = 1.25
MOST_LETTERS = 250  # on one line, whatever the letters

TITLE_pt, TEXT_pt, SMALL_pt, FOOT_pt = 9.0, 7.5, 6.5, 6.0

INK = "#1a1a1a"
QUIET = "#5c5c5c"
BLUE = "#00457c"
RED = "#a33b00"
PURPLE = "#6a3d78"
GREEN = "#00664b"
INKS = (INK, QUIET, BLUE, RED, PURPLE, GREEN)

PAPER = "#ffffff"
PALE = "#e6e6e6"
MIDDLE = "#b4b4b4"
DARK = "#8797a8"
FILLS = (PAPER, PALE, MIDDLE, DARK)

NEGATIVE = re.compile(r"(?<![\w)-])-(?=\d)")
FOOTER = f"estimate, not a test; blendwright {__version__}"
INTERVAL_WORDS = "bars: 90 % interval"

_SETTINGS = {
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT_pt,
    "text.color": INK,
    "text.parse_math": False,  # a $ in a name is a $
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": TEXT_pt,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "xtick.labelsize": SMALL_pt,
    "ytick.labelsize": SMALL_pt,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.fontsize": SMALL_pt,
    "legend.frameon": False,
    "hatch.linewidth": 0.5,
    "savefig.bbox": None,
    "svg.fonttype": "none",  # text stays text
    "svg.hashsalt": "blendwright",  # the same bytes every time
    "path.simplify": False,
}
_DRAWING = threading.RLock()  # matplotlib's settings are the whole process's


@contextmanager
def drawing() -> Iterator[None]:
    """Our settings over matplotlib's own defaults, put back at the end.

    Raises MissingPicturesExtraError where matplotlib isn't installed.
    """
    try:
        from matplotlib import style
    except ImportError as error:
        raise MissingPicturesExtraError(error.name or "matplotlib") from error
    with _DRAWING, style.context(["default", _SETTINGS]):
        yield


@contextmanager
def sheet(title: str, body_cm: float) -> Iterator[Figure]:
    """A figure with title and footer; the body lies from FOOT_cm upwards. Draw inside the block."""
    with drawing():
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        lines = fit(title, WIDTH_cm - 2 * MARGIN_cm, TITLE_pt, TITLE_LINES, bold=True)
        title_cm = MARGIN_cm + len(lines) * TITLE_pt * POINT_cm * LINE_SPACING
        height_cm = FOOT_cm + body_cm + title_cm
        figure = Figure(figsize=(WIDTH_cm / INCH_cm, height_cm / INCH_cm), dpi=DPI, facecolor=PAPER)
        FigureCanvasAgg(figure)
        figure.set_label(plain(title))
        figure.text(
            MARGIN_cm / WIDTH_cm,
            1.0 - 0.7 * MARGIN_cm / height_cm,
            "\n".join(lines),
            size=TITLE_pt,
            weight="bold",
            va="top",
            linespacing=LINE_SPACING,
        )
        figure.text(
            1.0 - MARGIN_cm / WIDTH_cm,
            0.6 * MARGIN_cm / height_cm,
            FOOTER,
            size=FOOT_pt,
            color=QUIET,
            ha="right",
        )
        yield figure


def place(figure: Figure, box_cm: tuple[float, float, float, float]) -> Axes:
    """Axes at (left, bottom, width, height) in cm, from the sheet's lower left corner."""
    width, height = figure.get_size_inches() * INCH_cm
    left, bottom, wide, high = box_cm
    return figure.add_axes((left / width, bottom / height, wide / width, high / height))


def foot_note(figure: Figure, text: str) -> None:
    """Small print at the lower left, on the footer's line and to its left."""
    room_cm = WIDTH_cm - 3 * MARGIN_cm - width_cm(FOOTER, FOOT_pt)
    height_cm = float(figure.get_size_inches()[1]) * INCH_cm
    figure.text(
        MARGIN_cm / WIDTH_cm,
        0.6 * MARGIN_cm / height_cm,
        fit(text, room_cm, FOOT_pt)[0],
        size=FOOT_pt,
        color=QUIET,
    )


def plain(text: str) -> str:
    """One line of printable text: control signs would break an SVG."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


@lru_cache(maxsize=4096)
def width_cm(text: str, size_pt: float, bold: bool = False) -> float:
    """How wide a line of text comes out."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=["DejaVu Sans"], size=size_pt, weight="bold" if bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, False)
    return float(width) * POINT_cm


def fit(text: str, room_cm: float, size_pt: float, lines: int = 1, bold: bool = False) -> list[str]:
    """Text folded at spaces into at most so many lines that fit; what is too long ends in "…"."""

    left = plain(text)[: lines * MOST_LETTERS]
    folded: list[str] = []
    while left and len(folded) < lines:
        last = len(folded) == lines - 1
        end = _longest(left, room_cm, size_pt, bold)
        if end == len(left):
            return [*folded, left]
        if last:
            while end > 1 and width_cm(f"{left[:end]}…", size_pt, bold) > room_cm:
                end -= 1
            return [*folded, f"{left[:end].rstrip()}…"]
        space = left.rfind(" ", 1, end + 1)
        end = space if space > 0 else end
        folded.append(left[:end].rstrip())
        left = left[end:].lstrip()
    return folded or [""]


def _longest(text: str, room_cm: float, size_pt: float, bold: bool) -> int:
    """How many letters fit on a line, at least 1."""
    low, high = 1, min(len(text), MOST_LETTERS)
    while low < high:
        middle = (low + high + 1) // 2
        if width_cm(text[:middle], size_pt, bold) <= room_cm:
            low = middle
        else:
            high = middle - 1
    return low


def in_words(estimate: Estimate, decimals: int = 0) -> str:
    """ "48 °C (43 to 55)", or the state and why."""
    shown = estimate.in_display_units()
    if not shown.is_ok:
        state = shown.status.replace("_", " ")
        return f"{state}: {'; '.join(shown.notes)}" if shown.notes else state
    value, low, high = shown.interval()
    return (
        f"{number(value, decimals)} {shown.unit} "
        f"({number(low, decimals)} to {number(high, decimals)})"
    )


def minus(words: str) -> str:
    """A sentence with true minus signs before its figures; a hyphen stays one.

    >>> minus("below -40 to 32 °C, ethyl 2-methylbutyrate")
    'below −40 to 32 °C, ethyl 2-methylbutyrate'
    """
    return NEGATIVE.sub("−", words)


def number(value: float, decimals: int = 0) -> str:
    """With a true minus sign, and no "-0"."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")
