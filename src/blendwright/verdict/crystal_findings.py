"""What follows from the crystals: at the bench, in the fridge and freezer, and in other forms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import Estimate, to_celsius
from blendwright.mixture.answers import SEEN_SHARE
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools, Ints
from blendwright.verdict.crystal_forms import crystal_forms
from blendwright.verdict.dissolution_and_layers import COLD_K, dissolution_words
from blendwright.verdict.finding import MOST_NAMES, listed
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Rule, Rules, Severities, Words, when
from blendwright.verdict.warming import WarmingWindow

EASY_K = 15.0  # this far above the last crystal it takes about 20 min (common practice, no source)
FAR_BELOW_C = -39.0  # the search ends at -40 °C
SEEN_g = 0.005  # crystals that a person sees at the bottom (common practice, no source)


# At the bench


@dataclass(frozen=True, eq=False)
class BenchCrystals:
    """Where the last crystal of each blend dissolves, and the bench's temperature."""

    last: Interval
    temperature_K: float

    @cached_property
    def word(self) -> NDArray[Any]:
        return dissolution_words(self.last, self.temperature_K)

    @cached_property
    def has_solids(self) -> Bools:
        return np.asarray(self.last.status != "not_applicable")

    @cached_property
    def dissolves(self) -> Bools:
        return np.asarray(self.has_solids & (self.word == "dissolves"))

    @cached_property
    def slowly(self) -> Bools:
        cold = self.temperature_K < COLD_K + 2.0
        return np.asarray(self.dissolves & ((self.last.high > self.temperature_K) | cold))


@dataclass(frozen=True)
class OneBench:
    """What the words name of one blend: its window of warming, and its solids."""

    warming: WarmingWindow
    solids: tuple[str, ...]

    @property
    def facts(self) -> BenchCrystals:
        return BenchCrystals(Interval.from_estimate(self.last), self.warming.bench_K)

    @property
    def last(self) -> Estimate:
        return self.warming.dissolution

    @property
    def here(self) -> str:
        return f"{to_celsius(self.warming.bench_K):.0f} °C"

    @property
    def span(self) -> str:
        value, low, high = (to_celsius(v) for v in self.last.interval())
        if value > FAR_BELOW_C:
            return f"fully dissolved above about {value:.0f} °C ({low:.0f} to {high:.0f})"
        return "fully dissolved even below -40 °C"

    def unknown(self) -> Words:
        return (
            f"It is unknown whether the crystals dissolve at {self.here}: "
            f"{'; '.join(self.last.notes)}.",
            f"Try a small batch at {self.here}. Do not warm it: whether that is safe is unknown.",
            self.solids,
        )

    def slowly(self) -> Words:
        return (
            f"It should dissolve at {self.here} ({self.span}), but perhaps slowly.",
            f"Stir longer. {self.warming.advice}",
            self.solids,
        )

    def dissolves(self) -> Words:
        easy = self.warming.bench_K - self.last.interval()[0] > EASY_K
        pace = "about 20 minutes" if easy else "longer than 20 minutes, as it is nearly saturated"
        return (
            f"Everything dissolves at {self.here} ({self.span}).",
            f"Stir for {pace}; cold solvents take longer. {self.warming.advice}",
            self.solids,
        )

    def needs_warming(self) -> Words:
        target, advice = self.warming.may_warm_to_K, self.warming.advice
        do = f"{advice} Use less of the solid, or a carrier that dissolves it better."
        if target is not None:
            to = f"{to_celsius(target):.0f} °C"
            do = f"Warm to about {to}, covered, and check that it stays clear when cold."
        stay = "stay" if self.last.interval()[0] > self.warming.bench_K else "may stay"
        return f"At {self.here} crystals {stay} undissolved ({self.span}).", do, self.solids

    def wont(self) -> Words:
        return (
            f"So much does not dissolve ({self.span}).",
            "Use less of the solid, or a carrier that dissolves it better.",
            self.solids,
        )


DISSOLUTION: Rules[BenchCrystals, OneBench] = (
    Rule(
        "DISSOLUTION-UNKNOWN",
        lambda facts: when(facts.has_solids & (facts.word == "unknown"), CAUTION),
        OneBench.unknown,
    ),
    Rule("DISSOLVES-SLOWLY", lambda facts: when(facts.slowly, CAUTION), OneBench.slowly),
    Rule(
        "DISSOLVES",
        lambda facts: when(facts.dissolves & ~facts.slowly, INFO),
        OneBench.dissolves,
    ),
    Rule(
        "NEEDS-WARMING",
        lambda facts: when(facts.word == "needs_warming", WARNING),
        OneBench.needs_warming,
    ),
    Rule(
        "WONT-DISSOLVE",
        lambda facts: when(facts.word == "undissolved", WARNING),
        OneBench.wont,
    ),
)


# In the cold


@dataclass(frozen=True, eq=False)
class LyingCrystals:
    """What lies undissolved at one temperature, of every pair of a blend and a substance: the best
    estimate of its share and the most, and how much there is of the substance."""

    temperature_K: float
    share: Array
    most_share: Array
    mass_kg: Array

    @cached_property
    def grams(self) -> Array:
        return np.asarray(np.nan_to_num(self.share) * self.mass_kg * 1e3)

    @cached_property
    def most_grams(self) -> Array:
        return np.asarray(np.nan_to_num(self.most_share) * self.mass_kg * 1e3)

    @cached_property
    def may_lie(self) -> Bools:
        return np.asarray(np.nan_to_num(self.most_share) > SEEN_SHARE)

    @property
    def seen_g(self) -> Array:
        """Grams of what may lie there, zero of the rest."""
        return np.where(self.may_lie, self.grams, 0.0)

    @cached_property
    def surely_seen(self) -> Bools:
        return np.asarray(self.may_lie & (self.grams >= SEEN_g))

    @property
    def most_first(self) -> list[int]:
        """Which pairs of one blend may lie as crystals, the most first."""
        which = np.flatnonzero(self.may_lie)
        return sorted(which.tolist(), key=lambda i: (-self.grams[i], -self.most_grams[i]))


@dataclass(frozen=True, eq=False)
class ColdCrystals:
    """What the rules about the cold read: of each blend whether it dissolves at the bench; of each
    pair of a blend and a substance its crystals in the fridge and in the freezer, whether its own
    last crystal may stay in the fridge, and whether it has more than one crystal form."""

    dissolves: Bools
    temperature_K: float
    pair_blend: Ints
    fridge: LyingCrystals
    freezer: LyingCrystals
    stays_in_fridge: Bools
    has_forms: Bools

    def count(self, pairs: Bools) -> Array:
        """How many of these pairs each blend has."""
        found = np.bincount(self.pair_blend, weights=pairs, minlength=len(self.dissolves))
        return found.astype(float)

    def lie(self, at: LyingCrystals) -> Bools:
        """Blends of which something may lie as crystals there, and does not at the bench."""
        colder = at.temperature_K < self.temperature_K
        return np.asarray((self.count(at.may_lie) > 0) & self.dissolves & colder)

    @cached_property
    def shown_forms(self) -> Bools:
        """Pairs whose other crystal forms may show."""
        named = self.fridge.may_lie | self.freezer.may_lie | self.stays_in_fridge
        return np.asarray(named & self.has_forms & self.dissolves[self.pair_blend])

    @cached_property
    def forms(self) -> Array:
        """How many substances of each blend have them."""
        return self.count(self.shown_forms)


@dataclass(frozen=True, eq=False)
class OneInTheCold:
    """One blend of which these are the substances."""

    facts: ColdCrystals
    names: Sequence[str]

    def fridge(self) -> Words:
        return self._at(self.facts.fridge, "fridge")

    def freezer(self) -> Words:
        return self._at(self.facts.freezer, "freezer")

    def _at(self, at: LyingCrystals, place: str) -> Words:
        sure = [i for i in at.most_first if at.surely_seen[i]]
        doubtful = [self.names[i] for i in at.most_first if not at.surely_seen[i]]
        parts = []
        if sure:
            amounts = ", ".join(
                f"{self.names[i]} about {at.grams[i]:.2g} g" for i in sure[:MOST_NAMES]
            )
            parts.append(f"crystals are likely: {amounts}")
        if doubtful:
            may = "also possible" if sure else "crystals may form again"
            parts.append(f"{may}: {listed(doubtful)}")
        return (
            f"At {to_celsius(at.temperature_K):.0f} °C ({place}) {'; '.join(parts)}.",
            "Store it at bench temperature, where they dissolve again.",
            tuple(self.names[i] for i in at.most_first),
        )

    def form(self, number: int) -> Words:
        """Words for one substance with more than one form, in the order of their names."""
        name = sorted(self.names[i] for i in np.flatnonzero(self.facts.shown_forms).tolist())[
            number
        ]
        note, source = crystal_forms()[name]
        return f"{name}: {note} ({source}).", "The estimate is for the stable form.", (name,)


def _in_the_fridge(facts: ColdCrystals) -> Severities:
    seen = facts.count(facts.fridge.surely_seen) > 0
    return np.where(seen, CAUTION, INFO) * facts.lie(facts.fridge)


def _form(number: int) -> Rule[ColdCrystals, OneInTheCold]:
    """One rule for each substance of a blend: their findings bear one code."""
    return Rule(
        "CRYSTAL-FORMS",
        lambda facts: when(facts.forms > number, INFO),
        lambda one: one.form(number),
    )


IN_THE_COLD: Rules[ColdCrystals, OneInTheCold] = (
    Rule("CRYSTALS-IN-FRIDGE", _in_the_fridge, OneInTheCold.fridge),
    Rule(
        "CRYSTALS-IN-FREEZER",
        lambda facts: when(facts.lie(facts.freezer), INFO),
        OneInTheCold.freezer,
    ),
    *(_form(number) for number in range(len(crystal_forms()))),
)
