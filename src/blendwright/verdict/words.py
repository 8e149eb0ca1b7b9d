"""The plain answers: will it dissolve, is the liquid one, and what follows for the bench.

Thresholds are here, named, with where they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import Estimate
from blendwright.mixture.answers import LAYERS_COUNT_FROM
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.verdict.finding import MOST_NAMES, Finding, listed
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Coded, Words, spoken, when

if TYPE_CHECKING:
    from blendwright.verdict.warming import Window

DissolutionWord = Literal["dissolves", "needs_warming", "undissolved", "unknown"]
LiquidWord = Literal["clear", "may_cloud", "splits", "unknown"]

WARMEST_SENSIBLE_K = 343.15  # 70 °C: hotter drives the top-notes off (common practice, no source)
WARMING_MARGIN_K = 5.0  # warm a little past the last crystal (common practice, no source)
EASY_K = 15.0  # this far above the last crystal it takes about 20 min (common practice, no source)
COLD_K = 278.15  # fridge
FAR_BELOW_C = -39.0  # the search ends at -40 °C
CLEAR_BELOW = 0.4  # chance of a split; what is published as just clear has about 0.3
SURELY_CLEAR_BELOW = LAYERS_COUNT_FROM  # above it the person is told
SPLITS_ABOVE = 0.8
NARROW_MARGIN_K, WIDE_MARGIN_K = 10.0, 30.0  # of the haze (common practice, no source)
SEEN_g = 0.005  # crystals that a person sees at the bottom (common practice, no source)


def dissolution_word(last: Estimate, temperature_K: float) -> DissolutionWord:
    """`dissolution_words` of one blend."""
    value = np.nan if last.value is None else last.value
    found = dissolution_words(np.array([value]), np.array([last.status]), temperature_K)
    return cast(DissolutionWord, found[0])


def dissolution_words(last_K: Array, status: NDArray[Any], temperature_K: float) -> NDArray[Any]:
    """The verdict on the crystals at a temperature, from where the last one dissolves."""
    with np.errstate(invalid="ignore"):
        warm = np.where(last_K <= WARMEST_SENSIBLE_K, "needs_warming", "undissolved")
        word = np.where(last_K <= temperature_K, "dissolves", warm).astype(object)
    word[status != "ok"] = "unknown"
    word[status == "not_applicable"] = "dissolves"
    return word


def liquid_word(chance_of_split: float | None) -> LiquidWord:
    """`liquid_words` of one blend; None where the chance can't be told."""
    chance = np.nan if chance_of_split is None else chance_of_split
    return cast(LiquidWord, liquid_words(np.array([chance]))[0])


def liquid_words(chance: Array) -> NDArray[Any]:
    """The verdict on the layers, from their chance (NaN where it can't be told)."""
    with np.errstate(invalid="ignore"):
        word = np.where(chance > SPLITS_ABOVE, "splits", "may_cloud").astype(object)
        word[chance < CLEAR_BELOW] = "clear"
    word[np.isnan(chance)] = "unknown"
    return word


def warm_to_K(last: Estimate, temperature_K: float) -> float | None:
    """The temperature to warm to, in whole 5 °C steps; None where no warming is called for."""
    if dissolution_word(last, temperature_K) != "needs_warming":
        return None
    celsius = last.interval()[0] + WARMING_MARGIN_K - 273.15
    return 273.15 + 5.0 * -(-celsius // 5.0)


def dissolution_rules(last: Interval, temperature_K: float) -> list[Coded]:
    """Every finding about crystals at the bench, from where the last one dissolves."""
    word = dissolution_words(last.value, last.status, temperature_K)
    solid = last.status != "not_applicable"
    goes = solid & (word == "dissolves")
    with np.errstate(invalid="ignore"):
        slow = goes & ((last.high > temperature_K) | (temperature_K < COLD_K + 2.0))
    return [
        ("DISSOLUTION-UNKNOWN", when(solid & (word == "unknown"), CAUTION)),
        ("DISSOLVES-SLOWLY", when(slow, CAUTION)),
        ("DISSOLVES", when(goes & ~slow, INFO)),
        ("NEEDS-WARMING", when(word == "needs_warming", WARNING)),
        ("WONT-DISSOLVE", when(word == "undissolved", WARNING)),
    ]


@dataclass(frozen=True)
class OneDissolution:
    """What the words name of one blend: its window of warming, and its solids."""

    warming: Window
    solids: tuple[str, ...]

    @property
    def last(self) -> Estimate:
        return self.warming.dissolution

    @property
    def here(self) -> str:
        return f"{self.warming.bench_K - 273.15:.0f} °C"

    @property
    def span(self) -> str:
        value, low, high = (v - 273.15 for v in self.last.interval())
        if value > FAR_BELOW_C:
            return f"the last crystals go at about {value:.0f} °C ({low:.0f} to {high:.0f})"
        return f"the last crystals go far below the bench ({value:.0f} °C or less)"

    def unknown(self) -> Words:
        return (
            f"Whether the solids dissolve at {self.here} can't be said: "
            f"{'; '.join(self.last.notes)}.",
            f"Try a small batch at {self.here}. Do not warm it: no safe window can be told.",
            self.solids,
        )

    def slowly(self) -> Words:
        return (
            f"It should dissolve at {self.here}, but {self.span}, and cold solvents are slow.",
            f"Stir longer. {self.warming.advice}",
            self.solids,
        )

    def dissolves(self) -> Words:
        easy = self.warming.bench_K - self.last.interval()[0] > EASY_K
        pace = "about 20 minutes' stirring" if easy else "longer stirring, as it is near saturation"
        return (
            f"Everything dissolves at {self.here}; {self.span}.",
            f"Expect {pace}, more with cold solvents. {self.warming.advice}",
            self.solids,
        )

    def needs_warming(self) -> Words:
        target, advice = self.warming.may_warm_to_K, self.warming.advice
        do = f"{advice} Use less of the solid, or a carrier that dissolves it better."
        if target is not None:
            to = f"{target - 273.15:.0f} °C"
            do = f"Warm to about {to}, covered, and see that it stays clear when cold."
        return f"At {self.here} some will stay undissolved: {self.span}.", do, self.solids

    def wont(self) -> Words:
        return (
            f"It won't dissolve at this loading: {self.span}.",
            "Use less of the solid, or a carrier that dissolves it better.",
            self.solids,
        )


def dissolution_findings(warming: Window, solids: tuple[str, ...]) -> list[Finding]:
    """What the person should know about the crystals; warmth is advised where its window is
    safe."""
    one = OneDissolution(warming, solids)
    return spoken(
        dissolution_rules(Interval.from_estimate(one.last), warming.bench_K),
        {
            "DISSOLUTION-UNKNOWN": one.unknown,
            "DISSOLVES-SLOWLY": one.slowly,
            "DISSOLVES": one.dissolves,
            "NEEDS-WARMING": one.needs_warming,
            "WONT-DISSOLVE": one.wont,
        },
    )


@dataclass(frozen=True)
class CrystalsBack:
    """What lies as crystals at one temperature: (material, grams, most grams), the most first."""

    temperature_K: float
    grams: tuple[tuple[str, float, float], ...]


def cold_findings(back: Sequence[CrystalsBack], temperature_K: float) -> list[Finding]:
    """What comes back in the fridge and in the freezer, for a blend that dissolves at the bench."""
    found = []
    for at in back:
        if not at.grams or at.temperature_K >= temperature_K:
            continue
        celsius = at.temperature_K - 273.15
        sure = [g for g in at.grams if g[1] >= SEEN_g]
        doubtful = [g for g in at.grams if g[1] < SEEN_g]
        parts = []
        if sure:
            amounts = ", ".join(
                f"{name} about {grams:.2g} g" for name, grams, _ in sure[:MOST_NAMES]
            )
            parts.append(f"crystals are likely: {amounts}")
        if doubtful:
            names = listed([name for name, _, _ in doubtful])
            parts.append(f"{'also possible' if sure else 'crystals may come back'}: {names}")
        place = "fridge" if celsius > 0.0 else "freezer"
        fridge = place == "fridge"
        found.append(
            Finding(
                f"CRYSTALS-IN-{place.upper()}",
                "caution" if sure and fridge else "info",
                f"At {celsius:.0f} °C ({place}) {'; '.join(parts)}.",
                "Store it at bench temperature, where it clears again.",
                tuple(name for name, _, _ in at.grams),
            )
        )
    return found


@dataclass(frozen=True, eq=False)
class LiquidFacts:
    """What the rules about layers read, of each blend (NaN where it can't be told): the chance of
    layers here and in the fridge, and the cloud temperature."""

    chance: Array
    in_fridge: Array
    cloud_K: Array
    temperature_K: float


def liquid_rules(facts: LiquidFacts) -> list[Coded]:
    """Every finding about layers."""
    word, chance = liquid_words(facts.chance), facts.chance
    with np.errstate(invalid="ignore"):
        doubtful = (word == "clear") & (chance >= SURELY_CLEAR_BELOW)
        wide = facts.temperature_K - facts.cloud_K <= WIDE_MARGIN_K
        clouds = (chance < SURELY_CLEAR_BELOW) & (facts.in_fridge >= SURELY_CLEAR_BELOW)
    clouds &= facts.temperature_K > COLD_K
    return [
        ("LAYERS-UNKNOWN", when(word == "unknown", CAUTION)),
        ("PROBABLY-CLEAR", when(doubtful, CAUTION)),
        ("HAZE-MARGIN", when((word == "clear") & ~doubtful & wide, INFO)),
        ("SPLITS", when(word == "splits", WARNING)),
        ("MAY-CLOUD", when(word == "may_cloud", CAUTION)),
        ("CLOUDS-IN-FRIDGE", when(clouds, CAUTION)),
    ]


@dataclass(frozen=True)
class OneLiquid:
    """The same of one blend; `layers` says what would lie in them."""

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
        return f"{self.temperature_K - 273.15:.0f} °C"

    def unknown(self) -> Words:
        return (
            f"Whether it splits into layers at {self.here} can't be said.",
            "Try a small batch and look at it after a night.",
            (),
        )

    def probably_clear(self) -> Words:
        return (
            f"Probably clear at {self.here}, but haze can't be ruled out "
            f"(chance {self.chance:.0%}).",
            "Try a small batch first; a little more of the stronger solvent is the usual cure.",
            (),
        )

    def margin(self) -> Words:
        cloud_K = self.cloud.interval()[0]
        near = self.temperature_K - cloud_K < NARROW_MARGIN_K
        how = "narrowly" if near else "with some margin"
        return (
            f"Clear {how}: it is thought to cloud below about {cloud_K - 273.15:.0f} °C.",
            "A little more of the stronger solvent widens the margin.",
            (),
        )

    def splits(self) -> Words:
        return (
            f"The liquid parts into layers at {self.here} (chance {self.chance:.0%}){self.layers}.",
            "Use a carrier that takes both, more of it, or less of the oil.",
            (),
        )

    def may_cloud(self) -> Words:
        return (
            f"The liquid may cloud or part at {self.here} (chance {self.chance:.0%}){self.layers}.",
            "Try a small batch first; a little more of the stronger solvent is the usual cure.",
            (),
        )

    def clouds_in_fridge(self) -> Words:
        return (
            f"Clear at the bench, but it may cloud in the fridge (chance {self.in_fridge:.0%}).",
            "Leave a little overnight in the fridge and look; don't keep it there if it clouds.",
            (),
        )


def liquid_findings(one: OneLiquid) -> list[Finding]:
    """What the rules say of one blend."""
    return spoken(
        liquid_rules(one.facts),
        {
            "LAYERS-UNKNOWN": one.unknown,
            "PROBABLY-CLEAR": one.probably_clear,
            "HAZE-MARGIN": one.margin,
            "SPLITS": one.splits,
            "MAY-CLOUD": one.may_cloud,
            "CLOUDS-IN-FRIDGE": one.clouds_in_fridge,
        },
    )
