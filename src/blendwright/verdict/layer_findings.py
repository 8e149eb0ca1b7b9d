"""What follows from the layers: whether the liquid is one, and whether it stays so in the cold."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools
from blendwright.verdict.dissolution_and_layers import COLD_K, SURELY_CLEAR_BELOW, liquid_words
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Rule, Rules, Words, when

NARROW_MARGIN_K, WIDE_MARGIN_K = 10.0, 30.0  # of the haze (common practice, no source)


@dataclass(frozen=True, eq=False)
class LiquidFacts:
    """What the rules about layers read, of each blend (NaN where it can't be told): the chance of
    layers here and in the fridge, and the cloud temperature."""

    chance: Array
    in_fridge: Array
    cloud_K: Array
    temperature_K: float

    @cached_property
    def word(self) -> NDArray[Any]:
        return liquid_words(self.chance)

    @cached_property
    def is_clear(self) -> Bools:
        return np.asarray(self.word == "clear")

    @cached_property
    def doubtful(self) -> Bools:
        return np.asarray(self.is_clear & (self.chance >= SURELY_CLEAR_BELOW))

    @cached_property
    def clouds_in_fridge(self) -> Bools:
        clouds = (self.chance < SURELY_CLEAR_BELOW) & (self.in_fridge >= SURELY_CLEAR_BELOW)
        return np.asarray(clouds & (self.temperature_K > COLD_K))

    @cached_property
    def near_cloud(self) -> Bools:
        near = self.temperature_K - self.cloud_K <= WIDE_MARGIN_K
        return np.asarray(self.is_clear & ~self.doubtful & near)


@dataclass(frozen=True)
class OneLiquid:
    """Those of one blend; `layers` says what would lie in them."""

    chance: float | None
    in_fridge: float | None
    temperature_K: float
    cloud: Estimate
    layers: str = ""

    @property
    def facts(self) -> LiquidFacts:
        chance, in_fridge, cloud_K = (
            np.array([np.nan if number is None else number])
            for number in (self.chance, self.in_fridge, self.cloud.value)
        )
        return LiquidFacts(chance, in_fridge, cloud_K, self.temperature_K)

    @property
    def here(self) -> str:
        return f"{to_celsius(self.temperature_K):.0f} °C"

    def unknown(self) -> Words:
        return (
            f"It is unknown whether it splits into layers at {self.here}.",
            "Let a small batch stand overnight, and look at it.",
            (),
        )

    def probably_clear(self) -> Words:
        return (
            f"Probably clear at {self.here}, but haze can't be ruled out "
            f"(chance {per_cent(self.chance)}).",
            "Try a small batch first; a little more of the stronger solvent usually helps.",
            (),
        )

    def margin(self) -> Words:
        cloud_K = self.cloud.interval()[0]
        near = self.temperature_K - cloud_K < NARROW_MARGIN_K
        how = "with a small margin" if near else "with some margin"
        return (
            f"Clear {how}: it probably clouds below about {to_celsius(cloud_K):.0f} °C.",
            "A little more of the stronger solvent widens the margin.",
            (),
        )

    def splits(self) -> Words:
        return (
            f"The liquid splits into layers at {self.here} (chance {per_cent(self.chance)})"
            f"{self.layers}.",
            "Use a carrier that dissolves both, more of it, or less of the oil.",
            (),
        )

    def may_cloud(self) -> Words:
        return (
            f"The liquid may cloud or split at {self.here} (chance {per_cent(self.chance)})"
            f"{self.layers}.",
            "Try a small batch first; a little more of the stronger solvent usually helps.",
            (),
        )

    def clouds_in_fridge(self) -> Words:
        return (
            "Clear at the bench, but it may cloud in the fridge "
            f"(chance {per_cent(self.in_fridge)}).",
            "Leave a little overnight in the fridge and look; don't keep it there if it clouds.",
            (),
        )


LAYERS: Rules[LiquidFacts, OneLiquid] = (
    Rule(
        "LAYERS-UNKNOWN",
        lambda facts: when(facts.word == "unknown", CAUTION),
        OneLiquid.unknown,
    ),
    Rule(
        "PROBABLY-CLEAR",
        lambda facts: when(facts.doubtful, CAUTION),
        OneLiquid.probably_clear,
    ),
    Rule("HAZE-MARGIN", lambda facts: when(facts.near_cloud, INFO), OneLiquid.margin),
    Rule("SPLITS", lambda facts: when(facts.word == "splits", WARNING), OneLiquid.splits),
    Rule("MAY-CLOUD", lambda facts: when(facts.word == "may_cloud", CAUTION), OneLiquid.may_cloud),
    Rule(
        "CLOUDS-IN-FRIDGE",
        lambda facts: when(facts.clouds_in_fridge, CAUTION),
        OneLiquid.clouds_in_fridge,
    ),
)
