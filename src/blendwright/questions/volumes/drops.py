"""How large is a drop, and how many make a dose?

A drop's volume is usual (20 to the millilitre), stated, counted into a measure (so many to the
millilitre), or counted onto the balance: N drops of a liquid of density rho that weigh m are

    v = m / (N rho)

each. A drop's size follows from the dropper and from the liquid's surface tension and density: a
calibration holds for the dropper and the liquid that it was made with.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate
from blendwright.mixture.weighing import DROP_mL

SMALLEST_mL, LARGEST_mL = 0.001, 1.0  # what a dropper gives, with room (common practice, no source)
USUAL_SPREAD = 0.3  # of a drop from an uncalibrated dropper, 90 % (common practice, no source)
COUNT_SPREAD = 0.05  # of the mean of one's own drops, 90 % (common practice, no source)
FEWEST_COUNTED = 10  # fewer drops make a poor mean (common practice, no source)
FIRST_TASTING_DROPS = 2.0  # common practice, no source


class DropError(BlendwrightError):
    """Drops that can't be used."""


@dataclass(frozen=True)
class DropCount:
    """What the person knows of the drops: at most one of a volume, a count to the millilitre, or a
    count with its weight. Nothing given is the usual drop.

    >>> DropCount(drops_per_mL=32).volume(None).in_display_units().value
    0.03125
    """

    drop_mL: float | None = None
    drops_per_mL: float | None = None
    drops: float | None = None
    drops_weigh_g: float | None = None

    def __post_init__(self) -> None:
        """Raises DropError for half a weighing, for two answers, and for nothing or less."""
        if (self.drops is None) != (self.drops_weigh_g is None):
            raise DropError(
                "weighed drops need both numbers: --counted-drops 50 --counted-drops-g 1.1"
            )
        ways = (self.drop_mL, self.drops_per_mL, self.drops)
        if sum(way is not None for way in ways) > 1:
            raise DropError("give a drop's size in one way: its mL, drops per mL, or drops weighed")
        for name in ("drop_mL", "drops_per_mL", "drops", "drops_weigh_g"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise DropError(f"{name} of {value:g} is no drop")

    @property
    def is_weighed(self) -> bool:
        return self.drops is not None

    def volume(self, density: Estimate | None) -> Estimate:
        """Volume of one drop, m3. `density` (kg/m3) is the weighed liquid's, asked for only then.

        Raises DropError where that density is not known, or the drop is no dropper's.
        """
        if self.drops is not None and self.drops_weigh_g is not None:
            return self._weighed(density)
        if self.drops_per_mL is not None:
            told = "counted"
            return _drop(1.0 / self.drops_per_mL, COUNT_SPREAD, told)
        if self.drop_mL is not None:
            return _drop(self.drop_mL, COUNT_SPREAD, "stated")
        return _drop(DROP_mL, USUAL_SPREAD, "usual", "common-practice")

    def _weighed(self, density: Estimate | None) -> Estimate:
        assert self.drops is not None
        assert self.drops_weigh_g is not None
        if density is None or density.value is None:
            raise DropError("the density of the weighed drops is not known; give drops per mL")
        value, low, high = density.interval()
        millilitres = self.drops_weigh_g / self.drops / (value / 1e3)
        spread = math.hypot(COUNT_SPREAD, 0.5 * (high - low) / value)
        told = f"weighed: {self.drops:g} drops weigh {self.drops_weigh_g:g} g"
        made = _drop(millilitres, spread, told, *density.sources)
        if self.drops < FEWEST_COUNTED:
            return made.with_notes(f"{self.drops:g} drops make a poor mean: count 20 or more")
        return made


def _drop(millilitres: float, spread: float, method: str, *sources: str) -> Estimate:
    if not SMALLEST_mL <= millilitres <= LARGEST_mL:
        raise DropError(
            f"a drop of {millilitres:.3g} mL is outside {SMALLEST_mL:g} to {LARGEST_mL:g} mL; "
            "count and weigh again"
        )
    cubic = millilitres * 1e-6
    return Estimate.ok(cubic, cubic / (1.0 + spread), cubic * (1.0 + spread), "m3", method, sources)


USUAL_DROP = DropCount()


@dataclass(frozen=True)
class DropDose:
    """One dose: how many drops, how much they measure and weigh."""

    drops: Estimate
    volume: Estimate
    mass: Estimate
    is_first_tasting: bool

    def to_dict(self) -> dict[str, object]:
        return {
            "drops": self.drops.to_dict(),
            "volume_mL": self.volume.to_dict(),
            "mass_g": self.mass.to_dict(),
            "is_first_tasting": self.is_first_tasting,
        }


def drops_per_mL(drop: Estimate) -> Estimate:
    """1 over the drop's volume, drops to the millilitre."""
    value, low, high = (v * 1e6 for v in drop.interval())
    return Estimate.ok(1 / value, 1 / high, 1 / low, "drops/mL", drop.method, drop.sources)


def drop_dose(drop: Estimate, density: Estimate, dose_mL: float | None = None) -> DropDose:
    """A dose of so many mL in drops; without one, the usual first tasting dose of two drops."""
    value, low, high = drop.interval()
    if dose_mL is None:
        count = FIRST_TASTING_DROPS
        drops = Estimate.ok(count, count, count, "drops", "usual first tasting dose")
        measured = Estimate.ok(count * value, count * low, count * high, "m3", drop.method)
    else:
        cubic = dose_mL * 1e-6
        measured = Estimate.ok(cubic, cubic, cubic, "m3", "stated")
        drops = Estimate.ok(cubic / value, cubic / high, cubic / low, "drops", drop.method)
    return DropDose(drops, measured, _mass(measured, density), dose_mL is None)


def _mass(volume: Estimate, density: Estimate) -> Estimate:
    """Volume times density, kg; the two errors taken as independent."""
    if not density.is_ok:
        return Estimate.unknown("kg", "; ".join(density.notes))
    v, v_low, v_high = volume.interval()
    rho, rho_low, rho_high = density.interval()
    low = v * rho * (1.0 - math.hypot(1.0 - v_low / v, 1.0 - rho_low / rho))
    high = v * rho * (1.0 + math.hypot(v_high / v - 1.0, rho_high / rho - 1.0))
    return Estimate.ok(v * rho, low, high, "kg", "volume times density", density.sources)
