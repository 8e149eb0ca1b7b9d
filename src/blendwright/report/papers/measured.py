"""What the person measured themselves, of the properties that a safety data sheet asks for.

The list is that of section 9 (GHS annex 4, table A4.3.9, and REACH annex II; both from memory).
A measurement stays as written: blendwright neither rounds it nor vouches for it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from blendwright.errors import BlendwrightError


@dataclass(frozen=True)
class Property:
    """One property of section 9: its name, the units a value must carry, other names for it."""

    name: str
    units: tuple[str, ...] = ()
    also: tuple[str, ...] = ()


PRESSURE_UNITS = ("kPa", "hPa", "mbar", "mmHg", "Pa", "bar")
DENSITY_UNITS = ("g/mL", "g/ml", "g/cm3", "g/cm³", "kg/L", "kg/m3", "kg/m³")
SECTION_9 = (
    Property("physical state", also=("state",)),
    Property("colour", also=("color",)),
    Property("odour", also=("odor", "smell")),
    Property("melting point", ("°C",), ("freezing point", "melting point / freezing point")),
    Property("initial boiling point", ("°C",), ("boiling point",)),
    Property("boiling range", ("°C",)),
    Property("flammability"),
    Property("lower explosion limit", ("vol %", "% vol"), ("lower flammable limit", "LEL")),
    Property("upper explosion limit", ("vol %", "% vol"), ("upper flammable limit", "UEL")),
    Property("flash point", ("°C",), ("flash point, closed cup",)),
    Property("auto-ignition temperature", ("°C",), ("auto-ignition", "autoignition")),
    Property("decomposition temperature", ("°C",), ("decomposition",)),
    Property("pH"),
    Property("kinematic viscosity", ("mm²/s", "mm2/s", "cSt"), ("viscosity",)),
    Property("solubility", also=("solubility in water",)),
    Property("partition coefficient", also=("log Kow", "log Pow")),
    Property("vapour pressure", PRESSURE_UNITS, ("vapor pressure",)),
    Property("density", DENSITY_UNITS),
    Property("relative vapour density", also=("relative vapor density", "vapour density")),
    Property("particle characteristics"),
)
FLASH_POINT = "flash point"
BOILING_POINT = "initial boiling point"
_CELSIUS = re.compile(r"^\s*([-+−]?\d+(?:[.,]\d+)?)\s*°C(?!\w)")


class MeasuredError(BlendwrightError):
    """A measurement that can't be put on a data sheet."""


@dataclass(frozen=True)
class MeasuredProperty:
    """A property of section 9 and its value as the person wrote it ("41 °C, ISO 2719")."""

    property: str
    text: str

    def celsius(self) -> float | None:
        """The number where the text begins with a plain one in °C; None otherwise ("<23 °C")."""
        found = _CELSIUS.match(self.text)
        return float(found.group(1).replace(",", ".").replace("−", "-")) if found else None


def parse_measured(text: str) -> MeasuredProperty:
    """Read "flash point=41 °C, ISO 2719". Raises MeasuredError with what to write instead."""
    name, equals, value = (part.strip() for part in text.partition("="))
    if not equals or not value:
        raise MeasuredError(f'--measured {text!r}: write it like "flash point=41 °C"')
    known = _named(name)
    if known is None:
        names = ", ".join(p.name for p in SECTION_9)
        raise MeasuredError(f"--measured {text!r}: {name!r} is none of {names}")
    if known.units and not any(_carries(value, unit) for unit in known.units):
        raise MeasuredError(
            f"--measured {text!r}: {known.name} needs a number and its unit: "
            f"{' or '.join(known.units)}"
        )
    return MeasuredProperty(known.name, " ".join(value.split()))


def _named(name: str) -> Property | None:
    key = " ".join(name.split()).casefold()
    for known in SECTION_9:
        if key in (n.casefold() for n in (known.name, *known.also)):
            return known
    return None


def _carries(value: str, unit: str) -> bool:
    """A number followed by the unit, which ends there (g/mL, not g/mLx)."""
    return re.search(rf"\d\s*{re.escape(unit)}(?!\w)", value) is not None
