"""What the flash point means at the bench: the class, the bench itself, and the warming advised."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blendwright.estimate import Estimate, to_celsius, to_kelvin
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools
from blendwright.verdict.classes import Classes
from blendwright.verdict.flammability import Classing
from blendwright.verdict.limits import NO_CLASS
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Rule, Rules, Severities, Words, when

LEAST_BELOW_K = 0.5  # a smaller drop is not told
FLASH_MARGIN_MIXTURE_K = 15.0  # EN 1127-1 and TRGS 721 practice, from memory


def warmest_K(low_K: Array, margin_K: float = FLASH_MARGIN_MIXTURE_K) -> Array:
    """The most that keeps the margin below a flash point's low end, in whole °C."""
    return to_kelvin(np.floor(to_celsius(low_K - margin_K)))


@dataclass(frozen=True, eq=False)
class FireFacts:
    """What the rules about fire read, of each blend: the flash point, its class, the temperature
    that its crystals need and the lowest flash point of its parts (NaN where there is none)."""

    flash: Interval
    classes: Classes
    needed_K: Array
    lowest_part_K: Array
    temperature_K: float

    @cached_property
    def not_classed(self) -> Bools:
        return np.asarray(self.flash.is_ok & (self.classes.treat_as == NO_CLASS))

    @cached_property
    def flammable(self) -> Severities:
        gravity = np.where(self.classes.treat_as == "4", CAUTION, WARNING)
        return np.where(self.flash.is_ok & (self.classes.treat_as != NO_CLASS), gravity, 0)

    @cached_property
    def too_near(self) -> Bools:
        return np.asarray(self.flash.is_ok & (self.classes.standing == "too_near"))

    @cached_property
    def at_bench(self) -> Bools:
        return np.asarray(self.flash.is_ok & (self.flash.low <= self.temperature_K))

    @cached_property
    def below_warming(self) -> Bools:
        return np.asarray(self.flash.is_ok & (warmest_K(self.flash.low) < self.needed_K))

    @cached_property
    def below_its_parts(self) -> Bools:
        drop_K = self.lowest_part_K - self.flash.value
        return np.asarray(self.flash.is_ok & (drop_K >= LEAST_BELOW_K))


@dataclass(frozen=True)
class OneFire:
    """Those of one blend, with what its words name: the rows that make it flash, and the part with
    the lowest flash point."""

    flash: Estimate
    classing: Classing
    temperature_K: float
    needed_K: float
    drivers: tuple[str, ...]
    lowest_part: Estimate | None = None
    lowest_name: str = ""

    @property
    def facts(self) -> FireFacts:
        lowest = self.lowest_part.value if self.lowest_part is not None else None
        return FireFacts(
            Interval.from_estimate(self.flash),
            self.classing.as_classes(),
            np.array([self.needed_K]),
            np.array([np.nan if lowest is None else lowest]),
            self.temperature_K,
        )

    @property
    def number(self) -> str:
        value, low, high = (to_celsius(v) for v in self.flash.interval())
        return f"closed-cup flash point about {value:.0f} °C ({low:.0f} to {high:.0f})"

    def unknown(self) -> Words:
        return (
            f"The flash point is unknown: {'; '.join(self.flash.notes)}.",
            "Treat it as highly flammable until it has been measured.",
            self.drivers,
        )

    def not_classed(self) -> Words:
        return (
            f"The estimate lies above the GHS limits: {self.number}. It still burns when hot.",
            "Have the flash point measured before relying on it.",
            self.drivers,
        )

    def flammable(self) -> Words:
        return (
            f"Flammable liquid: {self.classing.headline()}; {self.number}.",
            "Keep flames, sparks and hot plates away. Before storing or shipping, have the flash "
            "point measured and ask a qualified person.",
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
            f"Its vapour may burn at bench temperature ({to_celsius(self.temperature_K):.0f} °C): "
            f"the flash point's low end is {to_celsius(self.flash.interval()[1]):.0f} °C.",
            "Keep it closed, ventilate, no flame or spark near it.",
            self.drivers,
        )

    def below_warming(self) -> Words:
        return (
            f"The {to_celsius(self.needed_K):.0f} °C that the crystals need are not "
            f"{FLASH_MARGIN_MIXTURE_K:.0f} °C below the flash point's low end "
            f"({to_celsius(self.flash.interval()[1]):.0f} °C).",
            "Do not warm it. `blendwright warm` says whether crystals and carrier may be "
            "warmed before the light materials are added.",
            self.drivers,
        )

    def minimum(self) -> Words:
        assert self.lowest_part is not None
        return (
            "It flashes lower than each of its materials alone: about "
            f"{to_celsius(self.flash.interval()[0]):.0f} °C; the lowest alone, {self.lowest_name}, "
            f"at {to_celsius(self.lowest_part.interval()[0]):.0f} °C.",
            "Do not judge it by the data sheets of its materials.",
            (self.lowest_name,),
        )


FIRE: Rules[FireFacts, OneFire] = (
    Rule(
        "FLASH-UNKNOWN",
        lambda facts: when(facts.classes.category == "unknown", WARNING),
        OneFire.unknown,
    ),
    Rule("NOT-CLASSED-FLAMMABLE", lambda facts: when(facts.not_classed, INFO), OneFire.not_classed),
    Rule("FLAMMABLE", lambda facts: facts.flammable, OneFire.flammable),
    Rule("CLASS-TOO-NEAR", lambda facts: when(facts.too_near, CAUTION), OneFire.too_near),
    Rule("FLASH-AT-BENCH", lambda facts: when(facts.at_bench, WARNING), OneFire.at_bench),
    Rule(
        "FLASH-BELOW-WARMING",
        lambda facts: when(facts.below_warming, WARNING),
        OneFire.below_warming,
    ),
    Rule("MINIMUM-FLASH", lambda facts: when(facts.below_its_parts, CAUTION), OneFire.minimum),
)
