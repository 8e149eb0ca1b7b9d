"""What a block's findings rest on: words, classes and codes over `mixture.answers`."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.answers import SEEN_SHARE, Answers
from blendwright.mixture.evaporation import Exposure, OpenBeaker
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import Bools
from blendwright.mixture.storage import GAS_LIMIT_K
from blendwright.verdict.blend import FREEZER_K, FRIDGE_K, OIL_SPREAD_K, WEIGHTY_FLASH_SHARE
from blendwright.verdict.classes import GHSClasses, ghs_classes
from blendwright.verdict.codes import (
    cool_codes,
    fill_codes,
    input_codes,
    plastic_codes,
    reaction_codes,
)
from blendwright.verdict.crystal_forms import crystal_forms
from blendwright.verdict.evaporation import STRONG_LOSS, STIRRED_s
from blendwright.verdict.fire import FireFacts, fire_rules
from blendwright.verdict.rule import CAUTION, INFO, Coded, when
from blendwright.verdict.words import (
    COLD_K,
    SURELY_CLEAR_BELOW,
    WARMING_MARGIN_K,
    LiquidFacts,
    SEEN_g,
    dissolution_rules,
    dissolution_words,
    liquid_rules,
    liquid_words,
)

Words = NDArray[Any]


class Facts:
    """Of a block, each worked out once and only when asked for."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers
        self.block = answers.block
        self.substances = answers.substances

    @cached_property
    def at_20C(self) -> Facts:
        there = self.answers.at_20C
        return self if there is self.answers else Facts(there)

    @cached_property
    def dissolution(self) -> Words:
        last = self.answers.last_crystal
        return dissolution_words(last.value, last.status, self.answers.temperature_K)

    @cached_property
    def liquid(self) -> Words:
        return liquid_words(self.answers.chance)

    @cached_property
    def never_clear(self) -> Bools:
        """Whether anything forbids the standing "clear of the limit" (`Blend.never_clear`)."""
        own, there = self.answers, self.at_20C
        forbidden = own.oil_flash_share > WEIGHTY_FLASH_SHARE
        forbidden |= own.without_groups | own.blind | own.burns_in_layers
        forbidden |= (there.liquid == "unknown") | (there.dissolution != "dissolves")
        weighty = own.largest_share_of_flash(self.substances.rests_on_an_estimate)
        return np.asarray(forbidden | (weighty > WEIGHTY_FLASH_SHARE))

    @cached_property
    def classes(self) -> GHSClasses:
        flash, boiling = self.answers.flash, self.answers.boiling
        doubt_K = OIL_SPREAD_K * np.minimum(1.0, self.answers.oil_flash_share)
        return ghs_classes(
            (flash.value, flash.low, flash.high),
            flash.status,
            (boiling.value, boiling.low, boiling.high),
            self.never_clear,
            doubt_K,
        )

    def coded(self, with_cloud: bool) -> list[Coded]:
        """Every finding's code and severity, in the order of the bench's questions. The cloud
        temperature is looked for only where a finding needs it, unless all are asked for."""
        own = self.answers
        temperature_K = own.temperature_K
        flash, last = own.flash, own.last_crystal
        needed_K = np.where(
            self.dissolution == "needs_warming", last.value + WARMING_MARGIN_K, np.nan
        )
        surely_clear = ~own.may_split & ~np.isnan(own.chance)
        cloud = own.cloud if with_cloud else own.clouds(surely_clear, ends=False)
        at_50C = own.warmed_vapour_pressure(GAS_LIMIT_K)
        return [
            *dissolution_rules(last, temperature_K),
            *self._cold(),
            *liquid_rules(
                LiquidFacts(
                    own.chance, self._chance_in_fridge(surely_clear), cloud.value, temperature_K
                )
            ),
            *fire_rules(
                FireFacts(flash, self.classes, needed_K, own.lowest_flash_K, temperature_K)
            ),
            ("EVAPORATES", when(self._evaporates(), CAUTION)),
            *fill_codes(self.block, at_50C.value, at_50C.high, own.pressure_Pa),
            *plastic_codes(self.block),
            *cool_codes(flash.low, flash.status),
            *reaction_codes(self.block),
            *input_codes(self.block, own.blind),
        ]

    def _cold(self) -> list[Coded]:
        """`words.cold_findings` and the crystals' forms."""
        own, size = self.answers, self.block.size
        dissolves = self.dissolution == "dissolves"
        named = np.zeros(len(self.block.pair_sub), dtype=bool)
        codes: list[Coded] = []
        for place, kelvin in (("FRIDGE", FRIDGE_K), ("FREEZER", FREEZER_K)):
            some, sure = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
            for part, (share, _) in zip(self.block.parts, own.crystals_at(kelvin), strict=True):
                seen = (np.nan_to_num(share[2]) > SEEN_SHARE) & part.there
                named[part.pair[seen]] = True
                some[part.blends] = seen.any(axis=1)
                grams = np.nan_to_num(share[0]) * part.mass_kg * 1e3
                sure[part.blends] = (seen & (grams >= SEEN_g)).any(axis=1)
            cautious = sure & (place == "FRIDGE")
            severity = np.where(cautious, CAUTION, INFO) * (
                some & dissolves & (kelvin < own.temperature_K)
            )
            codes.append((f"CRYSTALS-IN-{place}", severity))
        for part, found in zip(self.block.parts, own.saturations, strict=True):
            with np.errstate(invalid="ignore"):
                named[part.pair[found.each[2] > FRIDGE_K]] = True
        forms = np.isin(np.array(self.substances.names), list(crystal_forms()))
        count = self.block.per_blend(named & forms[self.block.pair_sub]) * dissolves
        most = int(count.max()) if size else 0
        return codes + [("CRYSTAL-FORMS", when(count > k, INFO)) for k in range(most)]

    def _chance_in_fridge(self, wanted: Bools) -> Array:
        """Of blends that are surely clear at the bench: on which side of SURELY_CLEAR_BELOW."""
        own = self.answers
        if own.temperature_K <= COLD_K:
            return np.full(self.block.size, np.nan)
        return own.chance_of_layers(FRIDGE_K, own.crystals_at(FRIDGE_K), wanted, SURELY_CLEAR_BELOW)

    def _evaporates(self) -> Bools:
        """Whether a row loses more than STRONG_LOSS in STIRRED_s."""
        block, own = self.block, self.answers
        exposure = Exposure(OpenBeaker(), own.temperature_K, own.pressure_Pa)
        lost = own.row_shares_lost(exposure, STIRRED_s)
        water = np.array([t.material.is_water for t in block.templates], dtype=bool)
        with np.errstate(invalid="ignore"):
            strong = (lost > STRONG_LOSS) & ~water[block.row_template]
        return np.bincount(block.row_blend, weights=strong, minlength=block.size) > 0.0
