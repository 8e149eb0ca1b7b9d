"""How large a batch fills the bottles, and is each of them over-full?

    needed mass = count x fill volume x (1 + loss) x density at the filling temperature

The loss stays in beakers, funnels and pipettes. How full a bottle may be is told against its brim
volume by ADR 4.1.1.4 and by the temperature at which it is liquid-full (`mixture.storage`), both
at the temperature of filling.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.formula.numbers import parse_number, why_no_number
from blendwright.mixture.composition import Composition
from blendwright.mixture.density import blend_density
from blendwright.mixture.storage import adr_fill_limit, liquid_full_at_55C
from blendwright.verdict import Finding

MOST_BOTTLES = 100_000
MOST_BOTTLE_mL = 100e3
MOST_LOSS = 0.5
_BOTTLES = re.compile(r"^\s*(\d+)\s*[x×X*]\s*(\d+(?:[.,]\d+)?)\s*(?:mL|ml)?\s*$")


class FillingError(BlendwrightError):
    """Bottles that can't be filled."""


@dataclass(frozen=True)
class Bottles:
    """So many bottles of one fill volume; the brim volume of one where it is known."""

    count: int
    fill_mL: float
    brim_mL: float | None = None
    loss: float = 0.0

    def __post_init__(self) -> None:
        """Raises FillingError for what can't be bottles."""
        if not 1 <= self.count <= MOST_BOTTLES:
            raise FillingError(f"{self.count} bottles: give 1 to {MOST_BOTTLES}")
        if not 0.0 < self.fill_mL <= MOST_BOTTLE_mL:
            raise FillingError(f"a bottle of {self.fill_mL:g} mL is none that can be filled here")
        if not 0.0 <= self.loss <= MOST_LOSS:
            raise FillingError(
                f"a loss of {per_cent(self.loss)} is outside 0 to {per_cent(MOST_LOSS)}"
            )
        if self.brim_mL is not None and not self.fill_mL <= self.brim_mL:
            raise FillingError(
                f"{self.fill_mL:g} mL do not go into a bottle of {self.brim_mL:g} mL to the brim"
            )

    @classmethod
    def parse(cls, text: str, brim_mL: float | None = None, loss: float = 0.0) -> Bottles:
        """Read "24x30": 24 bottles of 30 mL each.

        >>> Bottles.parse("24x30")
        Bottles(count=24, fill_mL=30.0, brim_mL=None, loss=0.0)

        Raises FillingError.
        """
        match = _BOTTLES.match(text)
        if match is None:
            raise FillingError(f"{text!r} is not so many bottles; write it like 24x30 (count x mL)")
        fill_mL = parse_number(match.group(2))
        if fill_mL is None:
            raise FillingError(f"{text!r}: {why_no_number(match.group(2))}")
        return cls(int(match.group(1)), fill_mL, brim_mL, loss)

    @property
    def total_mL(self) -> float:
        """What goes into the bottles, without the loss."""
        return self.count * self.fill_mL

    @property
    def needed_mL(self) -> float:
        """What is made, with the loss."""
        return self.total_mL * (1.0 + self.loss)


@dataclass(frozen=True)
class Filling:
    """Bottles of one blend: grams in each, how full they may be and are, per cent of the brim.

    `fill_pct` is None where the brim volume was not given; `smallest_brim_mL` holds the fill
    within both limits, None where the expansion is unknown.
    """

    bottles: Bottles
    fill_K: float
    in_each: Estimate
    adr_limit: Estimate
    liquid_full: Estimate
    fill_pct: float | None
    smallest_brim_mL: float | None
    findings: tuple[Finding, ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "bottles": self.bottles.count,
            "fill_mL": self.bottles.fill_mL,
            "brim_mL": self.bottles.brim_mL,
            "loss_pct": self.bottles.loss * 100.0,
            "needed_mL": self.bottles.needed_mL,
            "fill_temperature_C": to_celsius(self.fill_K),
            "in_each_g": self.in_each.to_dict(),
            "adr_fill_limit_pct": self.adr_limit.to_dict(),
            "liquid_full_at_55C_pct": self.liquid_full.to_dict(),
            "fill_pct": self.fill_pct,
            "smallest_brim_mL": self.smallest_brim_mL,
        }


def mass_g_of(volume_mL: float, density: Estimate) -> float:
    """Grams that measure so much. Raises FillingError without a density."""
    if density.value is None:
        raise FillingError(
            f"the volume can't be told, so neither what fills it: {'; '.join(density.notes)}; "
            "scale by mass instead"
        )
    return volume_mL * density.value / 1e3


def filling(
    composition: Composition, bottles: Bottles, fill_K: float, density: Estimate | None = None
) -> Filling:
    """Bottles of this blend filled at a temperature, where its `density` may be known better than
    by the models. Raises FillingError without one."""
    density = density or blend_density(composition, fill_K)
    mass_kg = mass_g_of(bottles.fill_mL, density) / 1e3
    cubic = bottles.fill_mL * 1e-6
    _, low, high = density.interval()
    in_each = Estimate.ok(
        mass_kg, cubic * low, cubic * high, "kg", "volume times density", density.sources
    )
    adr, full = adr_fill_limit(composition, fill_K), liquid_full_at_55C(composition, fill_K)
    fill_pct = None if bottles.brim_mL is None else 100.0 * bottles.fill_mL / bottles.brim_mL
    most = _fullest_pct(adr, full)
    smallest = None if most is None else 100.0 * bottles.fill_mL / most
    found = _fill_findings(bottles, fill_K, fill_pct, most, smallest)
    return Filling(bottles, fill_K, in_each, adr, full, fill_pct, smallest, tuple(found))


def _fullest_pct(adr: Estimate, full: Estimate) -> float | None:
    """The cautious end of both limits."""
    if not (adr.is_ok and full.is_ok):
        return None
    return min(adr.interval()[1], full.interval()[1])


def _fill_findings(
    bottles: Bottles,
    fill_K: float,
    fill_pct: float | None,
    most: float | None,
    smallest: float | None,
) -> list[Finding]:
    here = f"{to_celsius(fill_K):.0f} °C"
    if most is None or smallest is None:
        return [
            Finding(
                "BOTTLE-FILL-UNKNOWN",
                "caution",
                "How full a bottle may be can't be said, for want of a density.",
                "Leave a tenth of it empty, and keep it cool.",
            )
        ]
    brim = f"{math.ceil(smallest * 10.0) / 10.0:g} mL"
    if fill_pct is None:
        return [
            Finding(
                "BOTTLE-BRIM",
                "info",
                f"{bottles.fill_mL:g} mL at {here} want a bottle of at least {brim} to the brim "
                f"(at most {most:.1f} % full, ADR 4.1.1.4).",
                "Fill one with water to the brim and weigh it, and give that volume.",
            )
        ]
    if fill_pct > most:
        return [
            Finding(
                "BOTTLE-OVERFULL",
                "warning",
                f"{bottles.fill_mL:g} mL fill a bottle of {bottles.brim_mL:g} mL to "
                f"{fill_pct:.1f} % at {here}; at most {most:.1f} % (ADR 4.1.1.4 and liquid-full "
                "at 55 °C): warm, it may burst or leak.",
                f"Fill less, or take a bottle of at least {brim} to the brim.",
            )
        ]
    return [
        Finding(
            "BOTTLE-ROOM",
            "info",
            f"{bottles.fill_mL:g} mL fill a bottle of {bottles.brim_mL:g} mL to {fill_pct:.1f} % "
            f"at {here}; {most:.1f} % is the most (ADR 4.1.1.4).",
            "Close it, and keep it cool.",
        )
    ]
