"""Units of the person's: the same amounts, read otherwise."""

from __future__ import annotations

import pytest

from blendwright.app.web.units import Units
from blendwright.estimate import Estimate

IMPERIAL = Units(mass="oz", temperature="F", volume="drops")


def test_an_ounce_and_back():
    assert IMPERIAL.grams_text("1") == "28.349523"
    assert IMPERIAL.mass_text("28.349523125") == "1"
    assert IMPERIAL.grams_text("q.s.") == "q.s."


def test_degrees_fahrenheit():
    assert IMPERIAL.kelvin(373.15) == "212 °F"
    assert IMPERIAL.celsius(IMPERIAL.shown_temperature(21.5)) == pytest.approx(21.5)


def test_an_estimate_keeps_its_interval_in_order():
    flash = Estimate.ok(293.15, 283.15, 303.15, "K", "test")
    assert IMPERIAL.cells(flash) == ("68 °F", "50 – 86")
    assert Units().cells(flash) == ("20 °C", "10 – 30")


def test_unknown_stays_unknown():
    assert IMPERIAL.cells(Estimate.unknown("K", "no data")) == ("unknown", "no data")
