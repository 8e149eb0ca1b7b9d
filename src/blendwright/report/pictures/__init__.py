"""What it looks like: thin functions from data to a matplotlib Figure, and `save` by suffix.

Each module is one picture with its own frozen input. No physics and no verdicts are made here, and
nothing of the program is asked: the caller brings the numbers. `matplotlib` is imported when a
picture is drawn, not before; it needs the extra: pip install 'blendwright[pictures]'.
"""

from blendwright.report.pictures.carrier_rows import CarrierRow, carrier_rows
from blendwright.report.pictures.coverage import Held, coverage
from blendwright.report.pictures.dilution_curve import DilutionCurve, dilution_curve
from blendwright.report.pictures.errors import MissingPicturesExtraError
from blendwright.report.pictures.losses import RowLossBars, losses
from blendwright.report.pictures.parity import Parity, parity
from blendwright.report.pictures.saving import picture_bytes, save
from blendwright.report.pictures.smell_and_flash import shares
from blendwright.report.pictures.temperature_bar import temperature_bar
from blendwright.report.pictures.two_carrier_map import two_carrier_map

__all__ = [
    "CarrierRow",
    "DilutionCurve",
    "Held",
    "MissingPicturesExtraError",
    "Parity",
    "RowLossBars",
    "carrier_rows",
    "coverage",
    "dilution_curve",
    "losses",
    "parity",
    "picture_bytes",
    "save",
    "shares",
    "temperature_bar",
    "two_carrier_map",
]
