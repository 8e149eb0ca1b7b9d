"""Which units the person reads and types in. Inside everything stays grams, °C and mL.

1 oz is 28.349523125 g (international avoirdupois ounce, 1959); °F = °C x 9/5 + 32.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from blendwright.estimate import Estimate
from blendwright.formula.numbers import OUNCE_g, parse_number, unmistakable, with_unit
from blendwright.mixture.weighing import DROP_mL

LEAST_DROP_mL, MOST_DROP_mL = 0.001, 1.0
Mass = Literal["g", "oz"]
Temperature = Literal["C", "F"]
Volume = Literal["mL", "drops"]
_DIGITS = {"g/mL": 4, "mL": 2, "drops": 0, "kPa": 3, "°C": 0, "°F": 0, "vol %": 1, "%": 0}


@dataclass(frozen=True)
class Units:
    """One window's choice of units."""

    mass: Mass = "g"
    temperature: Temperature = "C"
    volume: Volume = "mL"
    drop_mL: float = DROP_mL

    @classmethod
    def chosen(cls, kept: object, drop_mL: float = DROP_mL) -> Units:
        """As a browser has chosen them (`to_dict`); what isn't a choice stays at its default, and
        the drop at the one given."""
        found = kept if isinstance(kept, dict) else {}
        drop = found.get("drop_mL")
        return cls(
            "oz" if found.get("mass") == "oz" else "g",
            "F" if found.get("temperature") == "F" else "C",
            "drops" if found.get("volume") == "drops" else "mL",
            drop if isinstance(drop, float) and is_a_drop(drop) else drop_mL,
        )

    def to_dict(self) -> dict[str, object]:
        """JSON data."""
        return {
            "mass": self.mass,
            "temperature": self.temperature,
            "volume": self.volume,
            "drop_mL": self.drop_mL,
        }

    # Masses

    def mass_text(self, grams_text: str) -> str:
        """A cell of grams as shown: a number is turned to ounces, anything else stays as written.

        >>> Units(mass="oz").mass_text("28.349523125"), Units(mass="oz").mass_text("q.s.")
        ('1', 'q.s.')
        """
        grams = parse_number(grams_text)
        return f"{grams / OUNCE_g:.5g}" if self.mass == "oz" and grams is not None else grams_text

    def grams_text(self, shown: str) -> str:
        """What was typed, back in grams; what isn't one number keeps its ounces.

        >>> Units(mass="oz").grams_text("2"), Units(mass="oz").grams_text("1,250")
        ('56.699046', '1,250 oz')
        """
        if self.mass != "oz":
            return shown
        number = parse_number(shown)
        return with_unit(shown, "oz") if number is None else unmistakable(f"{number * OUNCE_g:.8g}")

    def grams(self, grams: float, digits: int = 3) -> str:
        """A mass with its unit."""
        if self.mass == "oz":
            return f"{grams / OUNCE_g:.{digits + 1}f} oz"
        return f"{grams:.{digits}f} g"

    # Temperatures

    @property
    def degree(self) -> str:
        return f"°{self.temperature}"

    def shown_temperature(self, celsius: float) -> float:
        return celsius * 1.8 + 32.0 if self.temperature == "F" else celsius

    def bench(self, celsius: float) -> str:
        """A temperature that was typed, as precise as that."""
        return f"{self.shown_temperature(celsius):g} {self.degree}".replace("-", "−")

    def celsius(self, shown: float) -> float:
        return (shown - 32.0) / 1.8 if self.temperature == "F" else shown

    def kelvin(self, kelvin: float, digits: int = 0) -> str:
        """A temperature in K as it is read, with its sign."""
        return f"{tidy(self.shown_temperature(kelvin - 273.15), digits)} {self.degree}"

    # Volumes

    def shown_volume(self, mL: float) -> str:
        if self.volume == "drops":
            return f"{mL / self.drop_mL:.0f}"
        return f"{mL:.3f}" if mL < 10.0 else f"{mL:.2f}"

    # Estimates

    def cells(self, estimate: Estimate) -> tuple[str, str]:
        """(value with unit, interval or the reason why there is none), in these units."""
        edge = estimate.at_the_edge()
        if not edge.is_ok:
            return edge.status, "; ".join(edge.notes)
        value, low, high = (self._shown(number, edge.unit) for number in edge.interval())
        unit = self._unit(edge.unit)
        digits = _DIGITS.get(unit, 3)
        if unit == "kPa" and 0.0 < abs(value) < 0.01:
            return f"{value:.1g} {unit}", f"{low:.1g} – {high:.1g}"
        return (
            f"{tidy(value, digits)} {unit}",
            f"{tidy(low, digits)} – {tidy(high, digits)}",
        )

    def _unit(self, unit: str) -> str:
        if unit == "°C":
            return self.degree
        return self.volume if unit == "mL" else unit

    def _shown(self, number: float, unit: str) -> float:
        if unit == "°C":
            return self.shown_temperature(number)
        if unit == "mL" and self.volume == "drops":
            return number / self.drop_mL
        return number


def is_a_drop(volume_mL: float) -> bool:
    """Whether a volume can be that of one drop."""
    return LEAST_DROP_mL <= volume_mL <= MOST_DROP_mL


def tidy(value: float, digits: int) -> str:
    """A number with a true minus sign and no "-0"."""
    text = f"{value:.{digits}f}"
    return (text.lstrip("-") if float(text) == 0.0 else text).replace("-", "−")
