"""What the findings of a block rest on: what each set of rules reads, over `mixture.answers`."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.formula.conditions import FREEZER_K, FRIDGE_K
from blendwright.mixture.answers import Answers
from blendwright.mixture.evaporation import Exposure, OpenBeaker
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.storage import (
    GAS_LIMIT_K,
    ClosedBottle,
    adr_fill_limits,
    bottle_pressures,
    liquid_full_limits,
    pair_volume_shares,
)
from blendwright.pure.roots import Bools
from blendwright.verdict.classes import Classes, classes
from blendwright.verdict.crystal_findings import BenchCrystals, ColdCrystals, LyingCrystals
from blendwright.verdict.crystal_forms import crystal_forms
from blendwright.verdict.dissolution_and_layers import (
    COLD_K,
    SURELY_CLEAR_BELOW,
    chances_of_crystals,
    dissolution_words,
    liquid_words,
    needed_K,
)
from blendwright.verdict.doubts import DoubtFacts
from blendwright.verdict.evaporation import RowLosses, STIRRED_s
from blendwright.verdict.flash_findings import FireFacts
from blendwright.verdict.inputs import InputFacts, left_out_of
from blendwright.verdict.layer_findings import LiquidFacts
from blendwright.verdict.plastics import Contacts, Liquids, contacts
from blendwright.verdict.reactions import Mixed, reactive_groups
from blendwright.verdict.storage import CoolFacts, FillFacts

Words = NDArray[Any]


class Facts:
    """What rules read of a block, each worked out once and only when asked for.

    The cloud temperature is looked for only where a finding needs it, unless all of them are asked
    for (`every_cloud`).
    """

    def __init__(self, answers: Answers, every_cloud: bool = False) -> None:
        self.answers = answers
        self.block = answers.block
        self.substances = answers.substances
        self._every_cloud = every_cloud

    @property
    def at_20C(self) -> Facts:
        return self if self.answers.at_20C is self.answers else self._at_20C_too

    @cached_property
    def _at_20C_too(self) -> Facts:
        return Facts(self.answers.at_20C)

    @cached_property
    def dissolution(self) -> Words:
        return dissolution_words(self.answers.last_crystal, self.answers.temperature_K)

    @cached_property
    def chance_of_crystals(self) -> Array:
        return chances_of_crystals(self.answers.last_crystal, self.answers.temperature_K)

    @cached_property
    def liquid(self) -> Words:
        return liquid_words(self.answers.chance)

    @cached_property
    def doubts(self) -> DoubtFacts:
        own, there = self.answers, self.at_20C
        return DoubtFacts(
            own.oil_flash_share,
            own.largest_share_of_flash(self.substances.rests_on_an_estimate),
            own.burns_in_layers,
            there.liquid,
            there.dissolution,
            own.without_groups,
            own.lacks_vapour_data,
        )

    @cached_property
    def classes(self) -> Classes:
        """By GHS."""
        doubts = self.doubts
        flash, boiling = self.answers.flash, self.answers.boiling
        return classes("ghs", flash, boiling, doubts.never_clear, doubts.flash_K)

    # What each set of rules reads

    def bench_crystals(self) -> BenchCrystals:
        return BenchCrystals(self.answers.last_crystal, self.answers.temperature_K)

    def cold_crystals(self) -> ColdCrystals:
        stays = np.zeros(len(self.block.pair_sub), dtype=bool)
        for part, found in zip(self.block.parts, self.answers.saturations, strict=True):
            with np.errstate(invalid="ignore"):
                stays[part.pair[found.each[2] > FRIDGE_K]] = True
        forms = np.isin(np.array(self.substances.names), list(crystal_forms()))
        return ColdCrystals(
            self.dissolution == "dissolves",
            self.answers.temperature_K,
            self.block.pair_blend,
            self._lying(FRIDGE_K),
            self._lying(FREEZER_K),
            stays,
            forms[self.block.pair_sub],
        )

    def _lying(self, temperature_K: float) -> LyingCrystals:
        share = np.zeros((3, len(self.block.pair_sub)))
        here = self.answers.crystals_at(temperature_K)
        for part, (found, _) in zip(self.block.parts, here, strict=True):
            share[:, part.pair[part.there]] = found[:, part.there]
        return LyingCrystals(temperature_K, share[0], share[2], self.block.pair_kg)

    def liquids(self) -> LiquidFacts:
        own = self.answers
        surely_clear = ~own.may_split & ~np.isnan(own.chance)
        cloud = own.cloud if self._every_cloud else own.clouds(surely_clear)
        in_fridge = self._chance_in_fridge(surely_clear)
        return LiquidFacts(own.chance, in_fridge, cloud.value, own.temperature_K)

    def _chance_in_fridge(self, wanted: Bools) -> Array:
        """Chance for blends that are surely clear at the bench: on which side of
        SURELY_CLEAR_BELOW."""
        own = self.answers
        if own.temperature_K <= COLD_K:
            return np.full(self.block.size, np.nan)
        return own.chance_of_layers(FRIDGE_K, own.crystals_at(FRIDGE_K), wanted, SURELY_CLEAR_BELOW)

    def fire(self) -> FireFacts:
        own = self.answers
        needed = needed_K(own.last_crystal, own.temperature_K)
        return FireFacts(own.flash, self.classes, needed, own.lowest_flash_K, own.temperature_K)

    def row_losses(self) -> RowLosses:
        block, own = self.block, self.answers
        exposure = Exposure(OpenBeaker(), own.temperature_K, own.pressure_Pa)
        water = np.array([t.material.is_water for t in block.templates], dtype=bool)
        return RowLosses(
            own.row_shares_lost(exposure, STIRRED_s),
            water[block.row_template],
            block.row_blend,
            block.size,
        )

    def filling(self) -> FillFacts:
        own, pairs = self.answers, self.block.pairs
        bottle = ClosedBottle(closed_at_Pa=own.pressure_Pa)
        vapour = own.warmed_vapour_pressure(GAS_LIMIT_K)
        return FillFacts(
            adr_fill_limits(pairs),
            liquid_full_limits(pairs),
            vapour,
            bottle_pressures(pairs, bottle, GAS_LIMIT_K, vapour),
            bottle.fill,
            own.pressure_Pa,
        )

    def contacts(self) -> Contacts:
        block = self.block
        share = pair_volume_shares(block.pairs)
        names = self.substances.names
        return contacts(Liquids(names, block.pair_sub, block.pair_blend, share, block.size))

    def cool(self) -> CoolFacts:
        return CoolFacts(self.answers.flash)

    def mixed(self) -> Mixed:
        block = self.block
        groups = [reactive_groups(s.material) for s in self.substances.pures]
        return Mixed(groups, block.pair_sub, block.pair_blend, block.pair_mass_share, block.size)

    def inputs(self) -> InputFacts:
        pures, block = self.substances.pures, self.block
        left_out = np.array([bool(left_out_of(s)) for s in pures], dtype=bool)
        not_curated = np.array([not s.material.curated for s in pures], dtype=bool)
        return InputFacts(
            block.per_blend(left_out[block.pair_sub]) > 0.0,
            self.answers.lacks_vapour_data,
            block.per_blend(not_curated[block.pair_sub]) > 0.0,
            block.summed,
        )
