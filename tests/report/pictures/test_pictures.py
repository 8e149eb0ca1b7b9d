"""Every picture can be drawn from good and hostile data, read in grey, and drawn again alike."""

from __future__ import annotations

import itertools
import math
import struct
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate
from blendwright.questions.advice.carrier_map import CarrierMap, triangle
from blendwright.report.pictures import (
    DilutionCurve,
    MissingPicturesExtraError,
    Parity,
    RowLossBars,
    canvas,
    dilution_curve,
    losses,
    parity,
    picture_bytes,
    save,
    shares,
    temperature_bar,
    two_carrier_map,
)
from blendwright.report.thermometer import (
    Thermometer,
    cloud_mark,
    dissolved_mark,
    thermometer,
)
from blendwright.verdict.contributions import Contribution
from blendwright.verdict.warming import window
from blendwright.version import __version__

EVIL = "<script>alert('x')</script> & $x_1$ \\frac \x07\n"
EVIL_SHOWN = "<script>alert('x')</script> & $x_1$"
LONG = "a concentrate of a great many fruits and blossoms " * 8
UNKNOWN = Estimate.unknown("K", f"no groups of {EVIL}")
CLEAR = Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C")


def kelvin(value_C: float, low_C: float, high_C: float) -> Estimate:
    return Estimate.ok(value_C + 273.15, low_C + 273.15, high_C + 273.15, "K", "test")


def share(value: float, low: float, high: float) -> Estimate:
    return Estimate.ok(value, low, high, "kg/kg", "test")


def scale(**changes: Any) -> Thermometer:
    given: dict[str, Any] = {
        "bench_C": 25.0,
        "dissolution": kelvin(38, 32, 44),
        "cloud": kelvin(-3, -14, 12),
        "flash": kelvin(98, 91, 108),
    }
    made = {**given, **changes}
    warming = window(made["dissolution"], made["flash"], False, made["bench_C"] + 273.15)
    return thermometer(warming, made["cloud"], made["flash"])


def bar(title: str = "Orchard cream", **changes: Any) -> Any:
    return temperature_bar(scale(**changes), title)


def carrier_map(chance: Any, undissolved: Any = 0.0, **changes: Any) -> CarrierMap:
    grid = triangle(10)
    given: dict[str, Any] = {
        "names": ("aromatics", "propylene glycol", "water"),
        "temperature_K": 298.15,
        "steps": 10,
        "shares": grid,
        "chance": np.broadcast_to(chance, len(grid)).astype(float),
        "undissolved": np.broadcast_to(undissolved, len(grid)).astype(float),
        "own": (0.2, 0.5, 0.3),
        "replaced": (),
    }
    return CarrierMap(**{**given, **changes})


WATERY = np.clip(triangle(10)[:, 2] * 1.3, 0.02, 0.99)
PARTLY_TOLD = np.where(triangle(10)[:, 0] > 0.5, math.nan, WATERY)
STEPS = np.array([1.0, 5.0, 20.0, 50.0, 100.0])
FLASH_C = 80.0 - STEPS / 2.0
NONE = np.array([])
MEASURED = np.linspace(-5.0, 110.0, 40)


def points(count: int, logarithmic: bool = False) -> Parity:
    classes = tuple(f"class {i % count} {EVIL}{LONG}" if count > 6 else f"class {i % count}"
                    for i in range(len(MEASURED)))  # fmt: skip
    return Parity(
        "flash point", "°C", MEASURED, MEASURED + 3.0, MEASURED - 5.0, MEASURED + 8.0, classes,
        "How near", logarithmic,
    )  # fmt: skip


Case = tuple[Callable[[], Any], tuple[str, ...]]
CASES: dict[str, Case] = {
    "bar": (
        bar,
        ("freezer −18 °C", "fridge 4 °C", "bench 25 °C", "38 °C (32 to 44)", "44 to 76 °C",
         "98 °C (91 to 108)", "flash point", "temperature, °C"),
    ),
    "bar, all unknown": (
        lambda: bar(LONG + EVIL, dissolution=UNKNOWN, cloud=UNKNOWN, flash=UNKNOWN),
        ("unknown", EVIL_SHOWN, "no safe warming: dissolution and flash point unknown"),
    ),
    "bar, nothing to dissolve": (
        lambda: bar(dissolution=CLEAR, cloud=CLEAR, flash=CLEAR, bench_C=4.0),
        ("not applicable", "clear from −20 to 80 °C", "no warming needed"),
    ),
    "bar, far below and far above": (
        lambda: bar(dissolution=kelvin(-40, -40, -40), flash=kelvin(340, 300, 349), bench_C=150.0),
        ("fully dissolved even at", "−40 °C", "bench 150 °C", "at most 285 °C"),
    ),
    "map": (
        lambda: two_carrier_map(carrier_map(WATERY), "In two carriers"),
        ("aromatics", "propylene glycol", "water", "clear", "uncertain", "layers", "your formula",
         "you are here", "chance of layers 40 %", "water, % by weight →"),
    ),
    "map, partly told": (
        lambda: two_carrier_map(
            carrier_map(PARTLY_TOLD, np.where(WATERY > 0.9, math.nan, 0.2),
                        names=("aromatics", EVIL + LONG, "W" * 90)),
            LONG,
        ),
        ("unknown", "crystals stay undissolved", "crystals unknown",
         "<script>alert('x')</script> &"),
    ),
    "map, untold": (
        lambda: two_carrier_map(carrier_map(math.nan, math.nan, own=None), "Untold"),
        ("unknown", "not shown: your formula"),
    ),
    "map, all clear": (lambda: two_carrier_map(carrier_map(0.02), "Clear"), ("clear",)),
    "map, all layers": (lambda: two_carrier_map(carrier_map(1.0), "Layers"), ("layers",)),
    "dilution": (
        lambda: dilution_curve(
            DilutionCurve(STEPS, FLASH_C, FLASH_C - 8, FLASH_C + 10, "triacetin", "Down")
        ),
        ("23 °C", "60 °C", "93 °C", "GHS category 3", "flash point, closed cup, °C",
         "share of the formula in triacetin, % by weight"),
    ),
    "dilution, partly unknown": (
        lambda: dilution_curve(
            DilutionCurve(STEPS, np.array([80, math.nan, 60, 50, 340.0]), np.full(5, -30.0),
                          np.full(5, 349.0), EVIL + LONG, LONG)
        ),
        ("×: flash point unknown there",),
    ),
    "dilution, nothing": (
        lambda: dilution_curve(DilutionCurve(NONE, NONE, NONE, NONE, "water", "Nothing")),
        ("no flash point is known",),
    ),
    "parity": (
        lambda: parity(points(5)),
        ("flash point measured, °C", "flash point estimated, °C", "class 4",
         "40 of 40 inside their interval"),
    ),
    "parity, many classes": (
        lambda: parity(points(17, logarithmic=True)),
        ("others", "2 not drawn: no number"),
    ),
    "parity, nothing": (
        lambda: parity(Parity("flash point", "", NONE, NONE, NONE, NONE, (), EVIL)),
        ("0 points", EVIL_SHOWN),
    ),
    "shares": (
        lambda: shares([Contribution("hexyl acetate", 60.0, 40.0)], "Who"),
        ("hexyl acetate", "60 %", "40 %", "of what makes it flash", "share, %"),
    ),
    "shares, thirty rows": (
        lambda: shares(
            [Contribution(f"{EVIL} {i} {LONG}", 100 / (i + 1), math.nan) for i in range(30)], LONG
        ),
        ("unknown", EVIL_SHOWN),
    ),
    "shares, untold": (
        lambda: shares([Contribution(EVIL + LONG, 0.0, 0.0)] * 30, "Untold"),
        ("The shares can't be told",),
    ),
    "shares, nothing": (lambda: shares([], "Empty"), ("The formula has no rows.",)),
    "losses": (
        lambda: losses(
            [RowLossBars("hexyl acetate", share(0.2, 0.1, 0.4), share(0.01, 0.005, 0.02))], "Lost"
        ),
        ("20 % (10 to 40)", "1.0 % (0.5 to 2.0)", "left open", "covered",
         "thin lines: 90 % interval"),
    ),
    "losses, thirty rows": (
        lambda: losses(
            [RowLossBars(f"{LONG}{i}", share(1.0, 0.0, 1.0), UNKNOWN) for i in range(30)], LONG
        ),
        ("unknown", "100 % (0 to 100)"),
    ),
    "losses, untold": (
        lambda: losses([RowLossBars("eugenol", UNKNOWN, UNKNOWN)], "Untold"),
        ("None of the losses can be told.", "Rows: eugenol"),
    ),
}  # fmt: skip

every_picture = pytest.mark.parametrize("name", CASES)


@cache
def drawn(name: str, kind: str) -> bytes:
    """A picture as it is drawn for the first time."""
    return png_and_words(name)[0] if kind == "png" else picture_bytes(CASES[name][0](), kind)


@cache
def png_and_words(name: str) -> tuple[bytes, Any, list[tuple[str, Any]]]:
    """A picture, its edge, and the words that are upright or turned by 90 degrees, as boxes."""
    from matplotlib.text import Text

    texts: list[Text] = []
    draw = Text.draw

    def seen(self: Text, renderer: Any) -> None:
        draw(self, renderer)
        if self.get_visible() and self.get_text().strip() and self.get_rotation() in (0.0, 90.0):
            texts.append(self)

    figure = CASES[name][0]()
    with canvas.drawing(), pytest.MonkeyPatch.context() as patched:
        patched.setattr(Text, "draw", seen)
        content = picture_bytes(figure, "png")
        boxes = [(text.get_text(), text.get_window_extent()) for text in dict.fromkeys(texts)]
    return content, figure.bbox, boxes


@every_picture
def test_the_svg_says_it_in_words(name: str) -> None:
    words = CASES[name][1]
    text = drawn(name, "svg").decode("utf-8")
    root = ElementTree.fromstring(text)  # well formed, whatever the names hold
    shown = " ".join("".join(e.itertext()) for e in root.iter() if e.tag.endswith("}text"))
    for word in (*words, f"estimate, not a test; blendwright {__version__}"):
        assert word in shown, word
    assert not [e for e in root.iter() if e.tag.lower().endswith("script")]
    assert "mathdefault" not in text


@every_picture
def test_the_same_bytes_every_time(name: str) -> None:
    for kind in ("svg", "png"):
        assert picture_bytes(CASES[name][0](), kind) == drawn(name, kind)


@every_picture
def test_the_png_is_12_cm_wide_at_150_dpi_or_more(name: str) -> None:
    width, height = struct.unpack(">II", drawn(name, "png")[16:24])
    assert width >= 12.0 / 2.54 * 150
    assert height > 200


@every_picture
def test_no_words_are_cut_off_or_overlap(name: str) -> None:
    """1 px is 0.13 mm."""
    _, edge, boxes = png_and_words(name)
    assert boxes
    for words, box in boxes:
        assert min(box.x0, box.y0) >= -1.0, words
        assert box.x1 <= edge.x1 + 1.0, words
        assert box.y1 <= edge.y1 + 1.0, words
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert across <= 1.5 or up <= 3.5, (one, other)


@pytest.mark.parametrize("ink", canvas.INKS)
def test_inks_are_legible_in_grey_on_paper_and_on_the_pale_fill(ink: str) -> None:
    """WCAG 2.1, 1.4.3: 4.5 to 1 for text."""
    assert contrast(ink, canvas.PAPER) >= 4.5
    assert contrast(ink, canvas.PALE) >= 4.5


def test_fills_differ_in_lightness_and_carry_black_lines() -> None:
    for one, other in itertools.pairwise(canvas.FILLS):
        assert contrast(one, other) >= 1.2
    assert contrast(canvas.DARK, canvas.PAPER) >= 2.5
    assert min(contrast(canvas.INK, fill) for fill in canvas.FILLS) >= 4.5


def contrast(one: str, other: str) -> float:
    """WCAG 2.1: (L1 + 0.05) / (L2 + 0.05) of relative luminances."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_class_of_a_parity_plot_has_a_shape_of_its_own() -> None:
    from blendwright.report.pictures.parity import SIGNS

    assert len({marker for marker, _ in SIGNS}) == len(SIGNS)


def test_safe_warming_goes_from_the_crystals_high_end_to_the_margin_below_the_flash_point() -> None:
    found = scale().warming
    assert (found.low_K, found.high_K) == pytest.approx((44 + 273.15, 76 + 273.15))
    assert found.words == "safe warming: 44 to 76 °C"


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"dissolution": kelvin(70, 60, 80)}, "need 80 °C, and 15 °C below the flash point's low"),
        ({"flash": kelvin(30, 20, 40)}, "15 °C below the flash point's low end is 5 °C"),
        ({"flash": UNKNOWN}, "flash point unknown"),
        ({"dissolution": UNKNOWN}, "dissolution unknown"),
        ({"flash": CLEAR, "dissolution": kelvin(100, 90, 120)}, "may need more than"),
    ],
)
def test_no_warming_is_safe_where_the_ends_meet_or_one_is_unknown(
    changes: dict[str, Estimate], why: str
) -> None:
    found = scale(**changes).warming
    assert (found.low_K, found.high_K) == (None, None)
    assert found.words.startswith("no safe warming: ")
    assert why in found.words


def test_no_warming_is_needed_where_all_dissolves_at_the_bench() -> None:
    found = scale(dissolution=kelvin(10, 5, 15)).warming
    assert (found.low_K, found.high_K) == pytest.approx((25 + 273.15, 76 + 273.15))
    assert found.words == "no warming needed; at most 76 °C"


def test_a_mark_at_an_end_of_what_was_searched_says_so_without_a_riddle() -> None:
    assert dissolved_mark(kelvin(14, -9, 42)).words == "fully dissolved above 14 °C (-9 to 42 °C)"
    even = "fully dissolved even at -40 °C"
    assert dissolved_mark(kelvin(-40, -40, -35)).words == f"{even} (up to -35 °C)"
    assert dissolved_mark(kelvin(-40, -40, -40)).words == even
    assert cloud_mark(kelvin(-20, -20, 5)).words == "clear even at -20 °C (up to 5 °C)"
    assert cloud_mark(kelvin(80, 60, 80)).words == "cloudy even at 80 °C (from 60 °C)"


def test_matplotlibs_settings_are_left_as_they_were(tmp_path: Path) -> None:
    import matplotlib

    before = dict(matplotlib.rcParams)
    save(bar(), tmp_path / "bar.svg")
    save(bar(), tmp_path / "bar.PNG")
    assert dict(matplotlib.rcParams) == before
    assert (tmp_path / "bar.PNG").read_bytes()[:4] == b"\x89PNG"


def test_a_persons_own_settings_do_not_change_the_bytes() -> None:
    import matplotlib

    plain = picture_bytes(bar(), "svg")
    with matplotlib.rc_context({"font.size": 20, "lines.linewidth": 9, "axes.grid": True}):
        assert picture_bytes(bar(), "svg") == plain


@pytest.mark.parametrize("name", ["bar.pdf", "bar", "bar.svgz"])
def test_another_suffix_is_refused_with_what_is_possible(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match=r"\.svg or \.png"):
        save(bar(), tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_without_the_extra_the_message_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(MissingPicturesExtraError, match=r"pip install 'blendwright\[pictures\]'"):
        bar()
    assert issubclass(MissingPicturesExtraError, BlendwrightError)


def test_neither_the_assessment_nor_the_package_imports_matplotlib() -> None:
    code = (
        "import sys; import blendwright.report.pictures; from blendwright import Formula, assess; "
        "assess(Formula.from_rows([{'material': 'ethanol', 'grams': 1}])); "
        "assert not [m for m in sys.modules if m.split('.')[0] == 'matplotlib']"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_drawing_and_saving_need_no_screen_and_no_pyplot(tmp_path: Path) -> None:
    code = (
        "import sys; from blendwright.report.pictures import *; "
        "from blendwright.verdict.contributions import Contribution; "
        "save(shares([Contribution('linalool', 1.0, 2.0)], 'Who'), sys.argv[1]); "
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    for name in ("a.svg", "a.png"):
        subprocess.run([sys.executable, "-c", code, str(tmp_path / name)], check=True)
