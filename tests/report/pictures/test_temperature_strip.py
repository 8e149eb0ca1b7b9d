"""The thermometer on the page: no two labels overlap, and each estimate is there in words."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright.estimate import Estimate
from blendwright.report.pictures.temperature_strip import (
    Box,
    LETTER_px,
    LINE_px,
    described,
    temperature_strip,
)
from blendwright.report.thermometer import (
    Mark,
    Place,
    SafeWarming,
    Thermometer,
    cloud_mark,
    dissolved_mark,
)

WIDTHS = (350.0, 600.0)
celsius = st.floats(-40.0, 150.0)


def known(low: float, middle: float, high: float) -> Estimate:
    low, middle, high = sorted((low, middle, high))
    return Estimate.ok(middle + 273.15, low + 273.15, high + 273.15, "K", "test")


estimates = st.one_of(
    st.builds(known, celsius, celsius, celsius),
    st.just(Estimate.unknown("K", "no vapour pressure of one material is known")),
    st.just(Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C")),
)


def scale(bench_C: float, *found: Estimate, warming: SafeWarming | None = None) -> Thermometer:
    places = (Place("freezer", 255.15), Place("fridge", 277.15), Place("bench", bench_C + 273.15))
    dissolved, clouding, flash = found
    return Thermometer(
        places,
        dissolved_mark(dissolved),
        cloud_mark(clouding),
        Mark("flash point", flash),
        warming or SafeWarming(None, None, "no safe warming: 15 °C below its low end is -9 °C"),
    )


def labels(svg: str) -> list[tuple[str, Box]]:
    """Each text of the picture, and a box around it."""
    found = []
    for text in ElementTree.fromstring(svg).iter("text"):
        x, y, words = float(text.get("x", 0)), float(text.get("y", 0)), text.text or ""
        wide = len(words) * LETTER_px
        left = x - wide / 2.0 if text.get("text-anchor") == "middle" else x
        found.append((words, Box(left, y + 3.0 - LINE_px + 0.1, left + wide, y + 2.9)))
    return found


@given(celsius, estimates, estimates, estimates)
def test_no_two_labels_overlap_and_none_runs_off(
    bench_C: float, dissolved: Estimate, clouding: Estimate, flash: Estimate
):
    for width in WIDTHS:
        found = labels(temperature_strip(scale(bench_C, dissolved, clouding, flash), width))
        ticks = [one for one in found if one[0].removesuffix(" °C").lstrip("−").isdigit()]
        words = [one for one in found if one not in ticks]
        for (first, box), (second, other) in combinations(words, 2):
            assert not box.overlaps(other), (first, second)
        for (first, box), (second, other) in combinations(ticks, 2):
            assert not box.overlaps(other), (first, second)
        for told, box in words:
            assert box.left >= 0.0, told


def test_what_is_unknown_is_said_to_be_and_has_no_bar():
    unknown = Estimate.unknown("K", "no data")
    drawn = temperature_strip(scale(25.0, unknown, unknown, unknown), 600.0)
    assert "Flash point: no data" in drawn
    assert "span" not in drawn


def test_it_is_told_in_words_too():
    flash = known(5, 18, 32)
    told = described(scale(25.0, known(-35, -30, 10), known(-5, 0, 4), flash))
    assert "fully dissolved above −30 °C (−35 to 10 °C)" in told
    assert "flash point 18 °C (5 to 32 °C)" in told
    assert "−9 °C" in told


@pytest.mark.parametrize("width", WIDTHS)
def test_a_safe_window_is_drawn_from_its_low_to_its_high_end(width: float):
    safe = SafeWarming(313.15, 323.15, "safe warming: 40 to 50 °C")
    found = known(20, 30, 39)
    drawn = temperature_strip(scale(20.0, found, found, known(65, 80, 90), warming=safe), width)
    root = ElementTree.fromstring(drawn)
    (bar,) = [one for one in root.iter("rect") if one.get("class") == "safe span"]
    ticks = {
        one.text: float(one.get("x", 0)) for one in root.iter("text") if one.get("text-anchor")
    }
    per_C = (ticks["60"] - ticks["20"]) / 40.0
    assert float(bar.get("x", 0)) == pytest.approx(ticks["20"] + 20.0 * per_C, abs=0.3)
    assert float(bar.get("width", 0)) == pytest.approx(10.0 * per_C, abs=0.3)
