"""What the bottle needs: room, a cap that holds, a cool place.

Limits from memory of the texts: ADR 4.1.1.4 (2023) and UN 4.1.1.4 on filling; UN Model Regulations
1.2.1 (rev. 22): over 300 kPa at 50 °C a substance is a gas; ADR 4.1.1, 6.5: 110 kPa at 50 °C, above
which a liquid needs packagings tested for it. The current text and a measured value decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.mixture.interval import Interval
from blendwright.pure.roots import Bools
from blendwright.verdict.flash_findings import FLASH_MARGIN_MIXTURE_K
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Rule, Rules, Words, when

UN_GAS_Pa = 300e3
PACKAGING_Pa = 110e3
BOTTLE_GAUGE_Pa = 110e3  # above the air's: a screw cap may leak (common practice, no source)
FRIDGE_UP_TO_K = 278.15
WARM_PLACE_K = 313.15  # a store or a car in summer (common practice, no source)


# Filling


@dataclass(frozen=True, eq=False)
class FillFacts:
    """For each blend both limits of filling at 20 °C, per cent; its vapour pressure at 50 °C, and
    the absolute pressure there in a bottle filled to `fill` in air of `air_Pa`."""

    adr: Interval
    full: Interval
    vapour: Interval
    bottle: Interval
    fill: float
    air_Pa: float

    @cached_property
    def is_known(self) -> Bools:
        return np.asarray(self.adr.is_ok & self.full.is_ok)

    @cached_property
    def may_be_a_gas(self) -> Bools:
        return np.asarray(self.vapour.high > UN_GAS_Pa)

    @cached_property
    def needs_tested_packaging(self) -> Bools:
        return np.asarray(~self.may_be_a_gas & (self.vapour.high > PACKAGING_Pa))

    @cached_property
    def presses_on_the_cap(self) -> Bools:
        high = self.bottle.value - self.air_Pa > BOTTLE_GAUGE_Pa
        return np.asarray(~self.may_be_a_gas & ~self.needs_tested_packaging & high)

    @cached_property
    def bursts(self) -> Bools:
        full = self.bottle.status == "out_of_range"
        return np.asarray(~self.may_be_a_gas & ~self.needs_tested_packaging & full)


@dataclass(frozen=True)
class OneFilling:
    """Those of one blend."""

    adr: Estimate
    full: Estimate
    vapour: Estimate
    bottle: Estimate
    fill: float
    air_Pa: float

    @property
    def facts(self) -> FillFacts:
        return FillFacts(
            Interval.from_estimate(self.adr),
            Interval.from_estimate(self.full),
            Interval.from_estimate(self.vapour),
            Interval.from_estimate(self.bottle),
            self.fill,
            self.air_Pa,
        )

    @property
    def filled(self) -> str:
        return f"filled to {per_cent(self.fill)}"

    @property
    def gauge_kPa(self) -> float:
        return (self.bottle.interval()[0] - self.air_Pa) / 1e3

    @property
    def vapour_pressure(self) -> str:
        value, _, high = self.vapour.interval()
        return f"vapour pressure at 50 °C about {value / 1e3:.0f} kPa (up to {high / 1e3:.0f})"

    def limit(self) -> Words:
        most = math.floor(min(self.adr.interval()[1], self.full.interval()[1]))
        pressure = (
            f"What pressure it reaches at 50 °C can't be said: {'; '.join(self.bottle.notes)}"
        )
        if self.bottle.is_ok:
            pressure = (
                f"Filled to {per_cent(self.fill)} and closed it stands at about "
                f"{self.bottle.interval()[0] / 1e3:.0f} kPa absolute at 50 °C, "
                f"{self.gauge_kPa:.0f} above the air"
            )
        return (
            f"At 20 °C fill a bottle to {most} % at most (ADR 4.1.1.4 gives "
            f"{self.adr.interval()[0]:.1f} %; from {self.full.interval()[0]:.1f} % it is "
            f"liquid-full at 55 °C). {pressure}.",
            "Leave the rest empty, and don't let it stand warm.",
            (),
        )

    def unknown(self) -> Words:
        return (
            f"How far it expands can't be said: {'; '.join((*self.adr.notes, *self.full.notes))}.",
            f"Fill to no more than {per_cent(self.fill)}.",
            (),
        )

    def gas(self) -> Words:
        return (
            f"It may count as a gas, over 300 kPa at 50 °C (UN 1.2.1): {self.vapour_pressure}.",
            "Don't close it into glass or a common bottle; have it measured.",
            (),
        )

    def tested_packaging(self) -> Words:
        return (
            "It may press harder than common packagings are made for, 110 kPa at 50 °C: "
            f"{self.vapour_pressure}.",
            "Keep it cold, in a bottle made for pressure; open it cold.",
            (),
        )

    def cap(self) -> Words:
        return (
            f"A closed bottle {self.filled} stands {self.gauge_kPa:.0f} kPa above the air at "
            "50 °C.",
            "Fill it less, keep it cool, open it slowly.",
            (),
        )

    def burst(self) -> Words:
        return (
            f"A bottle {self.filled} is {'; '.join(self.bottle.notes)}, and bursts.",
            "Fill it less.",
            (),
        )


FILLING: Rules[FillFacts, OneFilling] = (
    Rule("FILL-LIMIT", lambda facts: when(facts.is_known, INFO), OneFilling.limit),
    Rule("FILL-UNKNOWN", lambda facts: when(~facts.is_known, CAUTION), OneFilling.unknown),
    Rule("PRESSURE-WARM", lambda facts: when(facts.may_be_a_gas, WARNING), OneFilling.gas),
    Rule(
        "PRESSURE-WARM",
        lambda facts: when(facts.needs_tested_packaging, CAUTION),
        OneFilling.tested_packaging,
    ),
    Rule("PRESSURE-WARM", lambda facts: when(facts.presses_on_the_cap, CAUTION), OneFilling.cap),
    Rule("PRESSURE-WARM", lambda facts: when(facts.bursts, WARNING), OneFilling.burst),
)


# A cool place


@dataclass(frozen=True, eq=False)
class CoolFacts:
    """For each blend the flash point, whose low end tells where to keep it."""

    flash: Interval

    @cached_property
    def burns_in_a_fridge(self) -> Bools:
        low_K = self.flash.low - FLASH_MARGIN_MIXTURE_K
        return np.asarray(self.flash.is_ok & (low_K <= FRIDGE_UP_TO_K))

    @cached_property
    def burns_in_a_warm_place(self) -> Bools:
        warm = self.flash.is_ok & (self.flash.low <= WARM_PLACE_K)
        return np.asarray(warm & ~self.burns_in_a_fridge)


@dataclass(frozen=True)
class OneCool:
    """That of one blend, and the rows that make it flash."""

    flash: Estimate
    drivers: tuple[str, ...]

    @property
    def facts(self) -> CoolFacts:
        return CoolFacts(Interval.from_estimate(self.flash))

    @property
    def low_end(self) -> str:
        return f"the flash point's low end is {to_celsius(self.flash.interval()[1]):.0f} °C"

    def unknown(self) -> Words:
        return self._fridge("The flash point is unknown")

    def sparks(self) -> Words:
        return self._fridge(f"A household fridge can spark inside, and {self.low_end}")

    def _fridge(self, why: str) -> Words:
        return (
            f"{why}: a leaking bottle can fill it with vapour that burns.",
            "Keep it closed, cool and dark, away from flames; use only a spark-free fridge.",
            self.drivers,
        )

    def warm_place(self) -> Words:
        return (
            f"In a warm store or car its vapour may burn: {self.low_end}.",
            "Keep it closed, cool and dark, away from flames and sparks.",
            self.drivers,
        )


COOL: Rules[CoolFacts, OneCool] = (
    Rule(
        "FRIDGE-SPARKS",
        lambda facts: when(facts.flash.status == "unknown", CAUTION),
        OneCool.unknown,
    ),
    Rule("FRIDGE-SPARKS", lambda facts: when(facts.burns_in_a_fridge, CAUTION), OneCool.sparks),
    Rule("KEEP-COOL", lambda facts: when(facts.burns_in_a_warm_place, CAUTION), OneCool.warm_place),
)
