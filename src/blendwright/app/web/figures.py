"""How figures are written on the page: grams, °C and mL, with a true minus sign."""

from __future__ import annotations

import re

from blendwright.estimate import Estimate, to_celsius
from blendwright.report.pictures.canvas import minus

__all__ = ["bench", "cells", "celsius", "grams", "millilitres", "minus", "tidy", "unbroken"]
_DIGITS = {"g/mL": 4, "mL": 2, "kPa": 3, "°C": 0, "vol %": 1, "%": 0}
_SMALL_kPa = 0.01
_BEFORE_UNIT = re.compile(r"(\d) (?=°C|mL|%)")


def unbroken(words: str) -> str:
    """With a true minus, and no line break between a number and its unit.

    >>> unbroken("flash point -3 °C")
    'flash point −3\\xa0°C'
    """
    return _BEFORE_UNIT.sub("\\1\u00a0", minus(words))


def grams(mass_g: float, digits: int = 3) -> str:
    """A mass with its unit."""
    return f"{mass_g:.{digits}f} g"


def millilitres(volume_mL: float) -> str:
    """A row's volume, as precise as one pipettes."""
    return f"{volume_mL:.3f}" if volume_mL < 10.0 else f"{volume_mL:.2f}"


def celsius(temperature_K: float) -> str:
    """A temperature in whole °C.

    >>> celsius(243.15)
    '−30 °C'
    """
    return f"{tidy(to_celsius(temperature_K), 0)} °C"


def bench(temperature_C: float) -> str:
    """A temperature that was typed, as precise as that."""
    return f"{temperature_C:g} °C".replace("-", "−")


def cells(estimate: Estimate) -> tuple[str, str]:
    """(value with unit, interval), or (status, the reason why there is none)."""
    shown = estimate.in_display_units()
    if not shown.is_ok:
        return shown.status, "; ".join(shown.notes)
    value, low, high = shown.interval()
    if shown.unit == "kPa" and 0.0 < abs(value) < _SMALL_kPa:
        return f"{value:.1g} {shown.unit}", f"{low:.1g} – {high:.1g}"
    digits = _DIGITS.get(shown.unit, 3)
    return f"{tidy(value, digits)} {shown.unit}", f"{tidy(low, digits)} – {tidy(high, digits)}"


def tidy(value: float, digits: int) -> str:
    """A number with a true minus sign and no "-0"."""
    shown = f"{value:.{digits}f}"
    return (shown.lstrip("-") if float(shown) == 0.0 else shown).replace("-", "−")
