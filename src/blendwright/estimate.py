"""A number and how far it can be trusted.

Everything that blendwright computes is an `Estimate`: a value with a 90 % interval, its unit, the
method that made it, the sources it leans on and notes. "Unknown" is a state with a reason, never
zero and never a missing key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

NORMAL_90 = 1.645  # half of a 90 % interval over the standard deviation, normal errors
CELSIUS_ZERO_K = 273.15
Status = Literal["ok", "unknown", "not_applicable", "out_of_range"]
Temperature = TypeVar("Temperature", float, NDArray[np.float64])


def to_celsius(kelvin: Temperature) -> Temperature:
    """A temperature for people to read, °C.

    >>> to_celsius(293.15)
    20.0
    """
    return kelvin - CELSIUS_ZERO_K


def to_kelvin(celsius: Temperature) -> Temperature:
    """A temperature as it is calculated with, K.

    >>> to_kelvin(20.0)
    293.15
    """
    return celsius + CELSIUS_ZERO_K


def per_cent(share: float | None, digits: int = 0) -> str:
    """A share for people to read.

    >>> per_cent(0.873)
    '87 %'
    """
    return "unknown" if share is None else f"{100.0 * share:.{digits}f} %"


# SI unit inside -> (display unit, how to get there)
_DISPLAY_UNITS: dict[str, tuple[str, Callable[[float], float]]] = {
    "K": ("°C", to_celsius),
    "Pa": ("kPa", lambda pascal: pascal / 1e3),
    "kg/m3": ("g/mL", lambda density: density / 1e3),
    "m3": ("mL", lambda volume: volume * 1e6),
    "mol/mol": ("vol %", lambda fraction: fraction * 100.0),
    "J/mol": ("kJ/mol", lambda heat: heat / 1e3),
    "kg": ("g", lambda mass: mass * 1e3),
    "s": ("min", lambda seconds: seconds / 60.0),
    "K/kg": ("°C/g", lambda slope: slope / 1e3),
    "1": ("%", lambda share: share * 100.0),
}

# what an estimate is called in SI, and where it stands in the unit that people read
DISPLAY_NAMES = {
    "density": "density_g_mL",
    "volume": "volume_mL",
    "vapour_pressure": "vapour_pressure_kPa",
    "initial_boiling_point": "initial_boiling_point_C",
    "flash_point_closed_cup": "flash_point_closed_cup_C",
    "dissolved_share": "dissolved_share",
    "dissolution_temperature": "dissolution_temperature_C",
    "cloud_temperature": "cloud_temperature_C",
    "lower_flammable_limit": "lower_flammable_limit_vol_pct",
}
# units that `Estimate.to` gives, beside the SI unit itself
_UNITS: dict[str, dict[str, Callable[[float], float]]] = {
    "K": {"°C": to_celsius},
    "Pa": {
        "kPa": lambda pascal: pascal / 1e3,
        "hPa": lambda pascal: pascal / 1e2,
        "mbar": lambda pascal: pascal / 1e2,
        "bar": lambda pascal: pascal / 1e5,
    },
    "kg/m3": {"g/mL": lambda density: density / 1e3},
    "m3": {"mL": lambda volume: volume * 1e6, "L": lambda volume: volume * 1e3},
    "kg": {"g": lambda mass: mass * 1e3},
    "s": {"min": lambda seconds: seconds / 60.0, "h": lambda seconds: seconds / 3600.0},
    "mol/mol": {"vol %": lambda fraction: fraction * 100.0},
    "1": {"%": lambda share: share * 100.0},
}


def display_name(name: str) -> str:
    """The name of an estimate in JSON and tables: "flash_point_closed_cup_C"."""
    return DISPLAY_NAMES[name]


@dataclass(frozen=True, repr=False)
class Estimate:
    """A value with its 90 % interval.

    Attributes
    ----------
    value, low, high : float or None
        In `unit`; None unless the status is "ok".
    unit : str
        Theirs: SI until they are shown.
    status : str
        "ok", or why there is no number.
    method : str
        How the value was found.
    sources : tuple of str
        Keys of `bibliography`.
    notes : tuple of str
    """

    value: float | None
    low: float | None
    high: float | None
    unit: str
    status: Status
    method: str
    sources: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @classmethod
    def ok(
        cls,
        value: float,
        low: float,
        high: float,
        unit: str,
        method: str,
        sources: Iterable[str] = (),
        notes: Iterable[str] = (),
    ) -> Estimate:
        """A known value; raises ValueError unless low <= value <= high."""
        if not low <= value <= high:
            raise ValueError(f"interval {low}..{high} does not hold {value} {unit}")
        return cls(value, low, high, unit, "ok", method, _unique(sources), _unique(notes))

    @classmethod
    def unknown(
        cls, unit: str, reason: str, method: str = "none", sources: Iterable[str] = ()
    ) -> Estimate:
        """Nothing can be said, and why."""
        return cls(None, None, None, unit, "unknown", method, _unique(sources), (reason,))

    @classmethod
    def absent(cls, unit: str, status: Status, reason: str, method: str = "none") -> Estimate:
        """No number for a reason that is itself an answer: not applicable, or out of range."""
        return cls(None, None, None, unit, status, method, (), (reason,))

    @property
    def is_ok(self) -> bool:
        return self.status == "ok"

    def interval(self) -> tuple[float, float, float]:
        """(value, low, high) of a known estimate; raises ValueError on any other."""
        if self.value is None or self.low is None or self.high is None:
            raise ValueError(f"no value: {'; '.join(self.notes)}")
        return self.value, self.low, self.high

    def with_notes(self, *notes: str) -> Estimate:
        return replace(self, notes=_unique((*self.notes, *notes)))

    def in_display_units(self) -> Estimate:
        """This estimate in the unit that people read: °C, kPa, g/mL, mL, vol %, kJ/mol, min."""
        if self.unit not in _DISPLAY_UNITS:
            return self
        unit, convert = _DISPLAY_UNITS[self.unit]
        if not self.is_ok:
            return replace(self, unit=unit)
        value, low, high = self.interval()
        return replace(self, value=convert(value), low=convert(low), high=convert(high), unit=unit)

    def to(self, unit: str) -> Estimate:
        """This estimate in another unit: "°C", "kPa", "bar", "g/mL", "mL", "L", "g", "h", ...

        >>> Estimate.ok(294.15, 280.15, 308.15, "K", "test").to("°C")
        <Estimate 21 °C (7 to 35)>

        Raises ValueError for a unit that its own can't be turned to.
        """
        if unit == self.unit:
            return self
        known = _UNITS.get(self.unit, {})
        if unit not in known:
            units = ", ".join((self.unit, *known))
            raise ValueError(f"an estimate in {self.unit} can't be given in {unit}; in {units}")
        if not self.is_ok:
            return replace(self, unit=unit)
        value, low, high = map(known[unit], self.interval())
        return replace(self, value=value, low=low, high=high, unit=unit)

    def __repr__(self) -> str:
        if not self.is_ok:
            return f"<Estimate {self.status.replace('_', ' ')}: {'; '.join(self.notes)}>"
        value, low, high = (f"{number:.4g}" for number in self.interval())
        return f"<Estimate {value} {self.unit} ({low} to {high})>"

    def to_dict(self) -> dict[str, object]:
        """The JSON form, in its display unit."""
        shown = self.in_display_units()
        return {
            "value": shown.value,
            "low": shown.low,
            "high": shown.high,
            "unit": shown.unit,
            "status": shown.status,
            "method": shown.method,
            "sources": list(shown.sources),
            "notes": list(shown.notes),
        }


def _unique(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, texts)))
