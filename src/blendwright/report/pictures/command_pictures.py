"""From an answer to its picture: what the commands draw with --plot."""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING

import numpy as np

from blendwright.estimate import Estimate, to_celsius
from blendwright.questions.flash_drivers import FlashDrivers
from blendwright.questions.warming import Warming
from blendwright.report.pictures.dilution_curve import DilutionCurve, dilution_curve
from blendwright.report.pictures.temperature_bar import temperature_bar
from blendwright.report.thermometer import thermometer

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def warming_picture(warming: Warming, cloud: Estimate) -> Figure:
    """The temperature bar: crystals, clouding, flash point, and the window between."""
    scale = thermometer(warming.window, cloud, warming.window.flash)
    return temperature_bar(scale, warming.weighing.formula.name)


def dilution_picture(found: FlashDrivers) -> Figure:
    """The flash point against the share of the formula in its carrier."""
    ends = [
        tuple(to_celsius(v) for v in point.flash.interval()) if point.flash.is_ok else (nan,) * 3
        for point in found.curve
    ]
    value, low, high = (np.array(column) for column in zip(*ends, strict=True))
    shares = np.array([100.0 / point.factor for point in found.curve])
    return dilution_curve(DilutionCurve(shares, value, low, high, found.carrier, found.name))
