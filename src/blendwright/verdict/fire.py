"""What the flash point means at the bench: the class, the bench itself, and the warming advised."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.classes import GHSClasses
from blendwright.verdict.finding import Finding
from blendwright.verdict.flammability import NO_CLASS, Classing
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Coded, Words, spoken, when

LEAST_BELOW_K = 0.5  # a smaller drop is not told
FLASH_MARGIN_MIXTURE_K = 15.0  # EN 1127-1 and TRGS 721 practice, from memory


@dataclass(frozen=True, eq=False)
class FireFacts:
    """What the rules about fire read, of each blend: the flash point, its class, the temperature
    that its crystals need and the lowest flash point of its parts (NaN where there is none)."""

    flash: Interval
    classes: GHSClasses
    needed_K: Array
    lowest_part_K: Array
    temperature_K: float


def fire_rules(facts: FireFacts) -> list[Coded]:
    """Every finding about fire."""
    value, low, ok = facts.flash.value, facts.flash.low, facts.flash.is_ok
    classes, treat_as = facts.classes, facts.classes.treat_as
    with np.errstate(invalid="ignore"):
        at_bench = ok & (low <= facts.temperature_K)
        warmest_K = 273.15 + np.floor(low - FLASH_MARGIN_MIXTURE_K - 273.15)
        warming = ok & (warmest_K < facts.needed_K)
        minimum = ok & (facts.lowest_part_K - value >= LEAST_BELOW_K)
    none = treat_as == NO_CLASS
    flammable = np.where(treat_as == "4", CAUTION, WARNING) * (ok & ~none)
    return [
        ("FLASH-UNKNOWN", when(classes.category == "unknown", WARNING)),
        ("NOT-CLASSED-FLAMMABLE", when(ok & none, INFO)),
        ("FLAMMABLE", flammable),
        ("CLASS-TOO-NEAR", when(ok & (classes.standing == "too_near"), CAUTION)),
        ("FLASH-AT-BENCH", when(at_bench, WARNING)),
        ("FLASH-BELOW-WARMING", when(warming, WARNING)),
        ("MINIMUM-FLASH", when(minimum, CAUTION)),
    ]


@dataclass(frozen=True)
class OneFire:
    """The same of one blend, with what its words name: the rows that make it flash, and the part
    with the lowest flash point."""

    flash: Estimate
    classing: Classing
    temperature_K: float
    needed_K: float | None
    drivers: tuple[str, ...]
    lowest_part: Estimate | None = None
    lowest_name: str = ""

    @property
    def facts(self) -> FireFacts:
        lowest = self.lowest_part.value if self.lowest_part is not None else None
        classes = GHSClasses(
            *(
                np.array([word], dtype=object)
                for word in (
                    self.classing.treat_as,
                    self.classing.category,
                    self.classing.standing,
                )
            )
        )
        return FireFacts(
            Interval.from_estimate(self.flash),
            classes,
            np.array([np.nan if self.needed_K is None else self.needed_K]),
            np.array([np.nan if lowest is None else lowest]),
            self.temperature_K,
        )

    @property
    def number(self) -> str:
        value, low, high = (v - 273.15 for v in self.flash.interval())
        return f"closed-cup flash point about {value:.0f} °C ({low:.0f} to {high:.0f})"

    def unknown(self) -> Words:
        return (
            f"The flash point is unknown: {'; '.join(self.flash.notes)}.",
            "Treat it as highly flammable until it has been measured.",
            self.drivers,
        )

    def not_classed(self) -> Words:
        return (
            f"Above the GHS limits by the estimate: {self.number}. It still burns when hot.",
            "Have the flash point measured before relying on it.",
            self.drivers,
        )

    def flammable(self) -> Words:
        return (
            f"Flammable liquid: {self.classing.headline()}; {self.number}.",
            "Keep it from flames, sparks and hot plates; have the flash point measured, and ask a "
            "qualified person before storing or shipping.",
            self.drivers,
        )

    def too_near(self) -> Words:
        why = "; ".join(self.classing.reasons)
        if self.classing.treat_as != self.classing.category:
            message = f"A more hazardous category can't be ruled out: {why}."
            action = f"Treat it as GHS {self.classing.treat_as_name} until measured."
        else:
            message = f"The class is too near to call: {why}."
            action = "Have the flash point measured."
        return message, action, self.drivers

    def at_bench(self) -> Words:
        return (
            f"Its vapour may burn at the bench itself ({self.temperature_K - 273.15:.0f} °C): "
            f"{self.number}.",
            "Close the bottle, ventilate, no flame or spark near it.",
            self.drivers,
        )

    def below_warming(self) -> Words:
        assert self.needed_K is not None
        return (
            f"The {self.needed_K - 273.15:.0f} °C that the crystals need are not "
            f"{FLASH_MARGIN_MIXTURE_K:.0f} °C below the flash point's low end "
            f"({self.flash.interval()[1] - 273.15:.0f} °C).",
            "Do not warm it. `blendwright warm` says whether crystals and carrier may be "
            "warmed before the light parts go in.",
            self.drivers,
        )

    def minimum(self) -> Words:
        assert self.lowest_part is not None
        return (
            "It flashes lower than any of its parts by itself: about "
            f"{self.flash.interval()[0] - 273.15:.0f} °C, the lowest part, {self.lowest_name}, at "
            f"{self.lowest_part.interval()[0] - 273.15:.0f} °C.",
            "Don't judge it by its parts' data sheets.",
            (self.lowest_name,),
        )


def fire_findings(one: OneFire) -> list[Finding]:
    """What the rules say of one blend."""
    return spoken(
        fire_rules(one.facts),
        {
            "FLASH-UNKNOWN": one.unknown,
            "NOT-CLASSED-FLAMMABLE": one.not_classed,
            "FLAMMABLE": one.flammable,
            "CLASS-TOO-NEAR": one.too_near,
            "FLASH-AT-BENCH": one.at_bench,
            "FLASH-BELOW-WARMING": one.below_warming,
            "MINIMUM-FLASH": one.minimum,
        },
    )


def warmest_K(low_K: float, margin_K: float = FLASH_MARGIN_MIXTURE_K) -> float:
    """The most that keeps the margin below a flash point's low end, in whole °C."""
    return 273.15 + math.floor(low_K - margin_K - 273.15)
