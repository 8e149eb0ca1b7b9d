"""How figures are written on the page: grams, °C and mL."""

from __future__ import annotations

from blendwright.app.web import figures
from blendwright.estimate import Estimate


def test_an_estimate_has_its_unit_and_its_interval_in_order():
    flash = Estimate.ok(293.15, 263.15, 303.15, "K", "test")
    assert figures.cells(flash) == ("20 °C", "−10 – 30")
    volume = Estimate.ok(4.935e-5, 4.918e-5, 4.951e-5, "m3", "test")
    assert figures.cells(volume) == ("49.35 mL", "49.18 – 49.51")


def test_unknown_stays_unknown():
    assert figures.cells(Estimate.unknown("K", "no data")) == ("unknown", "no data")


def test_zero_has_no_sign():
    assert figures.celsius(273.15 - 0.2) == "0 °C"
    assert figures.tidy(-0.0004, 3) == "0.000"
