"""One table of answers for a block of blends: what `assess` says of each, without a Python loop.

`columns` takes weighed formulas, `block_columns` a `Block` (which `Block.from_long` makes of a long
table). The same numbers as `assess` to 1e-9 relative (temperatures as kelvin).

THE SLOW ROAD. Through `Blend`, one by one, go only the flash point, class and findings of blends
that are blind (a base of undisclosed composition, a light substance without groups or without a
vapour pressure) or of which nothing has groups; `BlockAnswers.slow` tells which, by question.

A block pays from some hundred blends up, and best with 2,000 to 4,000: many steps are needed by a
few blends only, and cost the same for one of them as for a hundred.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.batch.loop import columns_by_loop
from blendwright.blend import (
    FREEZER_K,
    FRIDGE_K,
    LEAST_LEFT,
    MOST_WITHOUT_GROUPS,
    OIL_SPREAD_K,
    SEEN_SHARE,
    WEIGHTY_FLASH_SHARE,
)
from blendwright.conditions import BENCH_K
from blendwright.mixture.block import Block
from blendwright.mixture.clarity import chances, clouds
from blendwright.mixture.density import densities
from blendwright.mixture.dissolution import (
    Saturations,
    hidden_solids,
    saturations,
    solids_at,
    undissolved,
)
from blendwright.mixture.evaporation import Exposure, OpenBeaker, shares_lost
from blendwright.mixture.flammable_limit import lower_limits
from blendwright.mixture.flash_point import FlashPoints, flash_points
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.questions import ESTIMATES, QUESTIONS
from blendwright.mixture.roots import Bools
from blendwright.mixture.storage import GAS_LIMIT_K
from blendwright.mixture.vapour import Vapour
from blendwright.verdict.classes import GHSClasses, ghs_classes
from blendwright.verdict.codes import (
    CAUTION,
    INFO,
    Coded,
    cool_codes,
    dissolution_codes,
    fill_codes,
    fire_codes,
    input_codes,
    joined,
    liquid_codes,
    plastic_codes,
    reaction_codes,
    when,
)
from blendwright.verdict.crystal_forms import crystal_forms
from blendwright.verdict.evaporation import STRONG_LOSS, STIRRED_s
from blendwright.verdict.words import (
    CLEAR_BELOW,
    COLD_K,
    SPLITS_ABOVE,
    SURELY_CLEAR_BELOW,
    WARMEST_SENSIBLE_K,
    WARMING_MARGIN_K,
    SEEN_g,
)
from blendwright.weighing import Weighing

AnyArray = NDArray[Any]
OTHERS = {
    "flash": ("ghs_category", "ghs_standing", "ghs_treat_as"),
    "crystals": ("dissolution",),
    "layers": ("chance_of_layers", "liquid"),
    "findings": ("findings", "has_warning"),
}
KELVIN = 273.15


def columns(
    weighings: Sequence[Weighing],
    temperature_K: float,
    pressure_Pa: float,
    only: frozenset[str],
) -> dict[str, AnyArray]:
    """Arrays of the length of `weighings`, in the units of the edge; `only` names QUESTIONS.

    Raises ValueError for a question that isn't one of them.
    """
    return block_columns(Block.from_weighings(weighings), temperature_K, pressure_Pa, only)


def block_columns(
    block: Block, temperature_K: float, pressure_Pa: float, only: frozenset[str]
) -> dict[str, AnyArray]:
    """The same of a block."""
    return BlockAnswers(block, temperature_K, pressure_Pa, only).columns()


def column_names(only: frozenset[str]) -> list[str]:
    """The columns of these questions."""
    names = ["mass_g"]
    for question in QUESTIONS:
        if question not in only:
            continue
        for estimate in ESTIMATES.get(question, ()):
            names += [estimate, f"{estimate}_low", f"{estimate}_high", f"{estimate}_status"]
        names += OTHERS.get(question, ())
    return names


class BlockAnswers:
    """The answers about a block, each computed once and only when asked for.

    `slow` is per question: which blends go through `Blend`.
    """

    def __init__(
        self, block: Block, temperature_K: float, pressure_Pa: float, only: frozenset[str]
    ) -> None:
        unknown = only - set(QUESTIONS)
        if unknown:
            raise ValueError(f"no such question: {', '.join(sorted(unknown))}")
        self.block = block
        self.substances = block.substances
        self.temperature_K = float(temperature_K)
        self.pressure_Pa = pressure_Pa
        self.only = only
        self.slow = {question: np.zeros(block.size, dtype=bool) for question in QUESTIONS}
        self._made: dict[str, AnyArray] = {}

    def columns(self) -> dict[str, AnyArray]:
        """All columns of the questions asked, in their order."""
        if not self.block.size:
            return {name: np.zeros(0) for name in column_names(self.only)}
        self._made = {"mass_g": self.block.mass_g}
        for question in QUESTIONS:
            if question in self.only:
                getattr(self, f"_{question}")()
        by_set: dict[frozenset[str], list[int]] = {}
        asked = [q for q in QUESTIONS if q in self.only]
        table = np.array([self.slow[q] for q in asked]).reshape(len(asked), self.block.size)
        for number in np.flatnonzero(table.any(axis=0)).tolist():
            questions = frozenset(q for q, s in zip(asked, table[:, number], strict=True) if s)
            by_set.setdefault(questions, []).append(number)
        for questions, numbers in by_set.items():
            weighings = [self.block.weighing(number) for number in numbers]
            found = columns_by_loop(weighings, self.temperature_K, self.pressure_Pa, questions)
            for name, values in found.items():
                if name != "mass_g":
                    self._made[name][numbers] = values
        return self._made

    def _tell(self, name: str, values: Sequence[Array], status: AnyArray) -> None:
        """Value, low and high in the edge's unit; a number only where the status is "ok"."""
        ok = status == "ok"
        for end, value in zip(("", "_low", "_high"), values, strict=True):
            self._made[name + end] = np.where(ok, value, np.nan)
        self._made[f"{name}_status"] = status

    def _status(self, known: Bools) -> AnyArray:
        return np.where(known, "ok", "unknown").astype(object)

    # Density

    def _density(self) -> None:
        found = densities(self.block.pairs, self.temperature_K)
        value, half = found.value, found.half
        status = self._status(np.isfinite(value))
        low, high = value - half, value + half
        self._tell("density_g_mL", (value / 1e3, low / 1e3, high / 1e3), status)
        mass = self.block.mass_g / 1e3
        self._tell("volume_mL", (mass / value * 1e6, mass / high * 1e6, mass / low * 1e6), status)

    # Who can be counted

    @cached_property
    def blind(self) -> Bools:
        """Blends whose vapour can't be told."""
        return self.block.per_blend(self.substances.is_blind[self.block.pair_sub]) > 0.0

    @cached_property
    def without_groups(self) -> Bools:
        bare = ~self.substances.has_groups
        return self.block.per_blend(bare[self.block.pair_sub]) > 0.0

    @cached_property
    def layers_can_be_told(self) -> Bools:
        share = self.block.mass_share_of(~self.substances.has_groups)
        some = np.zeros(self.block.size, dtype=bool)
        for part in self.block.parts:
            some[part.blends] = True
        return some & (share <= MOST_WITHOUT_GROUPS)

    # Crystals and layers: one after the other, as in `Blend`

    def crystals_alone(self, temperature_K: float) -> list[tuple[Array, Bools]]:
        """Of each part, the crystals solved as one liquid: (3, blends, components), and where they
        can be told."""
        return self.substances.once(
            ("crystals", temperature_K),
            lambda: [undissolved(self.substances, p, temperature_K) for p in self.block.parts],
        )

    def crystals_at(self, temperature_K: float) -> list[tuple[Array, Bools]]:
        """The same, with the layers of what may part (`Blend.crystals_at`)."""

        def made() -> list[tuple[Array, Bools]]:
            found = []
            alone = self.crystals_alone(temperature_K)
            for part, (share, speaks) in zip(self.block.parts, alone, strict=True):
                where = np.flatnonzero(
                    self.may_part[part.blends]
                    & solids_at(self.substances, part, temperature_K).any(axis=1)
                )
                if where.size:
                    share, speaks = share.copy(), speaks.copy()
                    share[:, where], speaks[where] = undissolved(
                        self.substances, part.only(where), temperature_K, layers=True
                    )
                found.append((share, speaks))
            return found

        return self.substances.once(("crystals and layers", temperature_K), made)

    def _liquid(self, part: Part, crystals: tuple[Array, Bools]) -> Part:
        """What the crystals leave of a part."""
        share, speaks = crystals
        left = (np.nan_to_num(share[0]) > SEEN_SHARE).any(axis=1) & speaks
        factors = np.where(
            left[:, None], np.maximum(1.0 - np.nan_to_num(share[0]), LEAST_LEFT), 1.0
        )
        return part.times(factors)

    def _chances(
        self,
        temperature_K: float,
        crystals: list[tuple[Array, Bools]],
        wanted: Bools,
        level: float | None = None,
    ) -> Array:
        """Of the liquid that these crystals leave; NaN where not wanted or not to be told."""
        found = np.full(self.block.size, np.nan)
        wanted = wanted & self.layers_can_be_told
        for part, own in zip(self.block.parts, crystals, strict=True):
            where = np.flatnonzero(wanted[part.blends])
            if where.size:
                some = self._liquid(part, own).only(where)
                found[some.blends] = chances(self.substances, some, temperature_K, level).value
        return found

    @cached_property
    def _all(self) -> Bools:
        return np.ones(self.block.size, dtype=bool)

    @cached_property
    def chance_alone(self) -> Array:
        """Of the liquid that the crystals leave, solved as one; NaN where it can't be told."""
        crystals = self.crystals_alone(self.temperature_K)
        return self._chances(self.temperature_K, crystals, self._all)

    @cached_property
    def chance(self) -> Array:
        """`Blend.chance`: where crystals lie in a liquid that may part, both solved together."""
        found = self.chance_alone.copy()
        both = self.may_part & self.solids_here(self.temperature_K)
        if both.any():
            crystals = self.crystals_at(self.temperature_K)
            found[both] = self._chances(self.temperature_K, crystals, both)[both]
        return found

    @cached_property
    def may_part(self) -> Bools:
        with np.errstate(invalid="ignore"):
            return np.asarray(self.chance_alone >= SURELY_CLEAR_BELOW)

    def solids_here(self, temperature_K: float) -> Bools:
        """Blends of which something can crystallise at a temperature."""
        found = np.zeros(self.block.size, dtype=bool)
        for part in self.block.parts:
            found[part.blends] = solids_at(self.substances, part, temperature_K).any(axis=1)
        return found

    def _layers(self) -> None:
        self._made["chance_of_layers"] = self.chance
        self._made["liquid"] = self.liquid

    @cached_property
    def liquid(self) -> AnyArray:
        chance = self.chance
        with np.errstate(invalid="ignore"):
            word = np.where(chance > SPLITS_ABOVE, "splits", "may_cloud").astype(object)
            word[chance < CLEAR_BELOW] = "clear"
        word[np.isnan(chance)] = "unknown"
        return word

    # Crystals

    @cached_property
    def hidden_solids(self) -> Bools:
        bare = hidden_solids(self.substances, self.temperature_K)
        return self.block.per_blend(bare[self.block.pair_sub]) > 0.0

    @cached_property
    def last_crystal(self) -> tuple[Array, Array, Array, AnyArray]:
        value, low, high = (np.full(self.block.size, np.nan) for _ in range(3))
        status = np.full(self.block.size, "unknown", dtype=object)
        for part, found in zip(self.block.parts, self.saturations, strict=True):
            at = part.blends
            bare = ~solids_at(self.substances, part, self.temperature_K).any(axis=1)
            status[at[bare]] = "not_applicable"
            status[at[found.covered & found.converged]] = "ok"
            value[at], low[at], high[at] = found.value, found.low, found.high
        status[self.hidden_solids] = "unknown"
        return value, low, high, status

    @cached_property
    def saturations(self) -> list[Saturations]:
        made = []
        for part in self.block.parts:
            found = saturations(self.substances, part, self.temperature_K)
            where = np.flatnonzero(self.may_part[part.blends] & found.covered)
            if where.size:
                found = found.with_some(
                    where,
                    saturations(self.substances, part.only(where), self.temperature_K, layers=True),
                )
            made.append(found)
        return made

    @cached_property
    def dissolution(self) -> AnyArray:
        value, _, _, status = self.last_crystal
        warm = np.where(value <= WARMEST_SENSIBLE_K, "needs_warming", "undissolved")
        word = np.where(value <= self.temperature_K, "dissolves", warm).astype(object)
        word[status == "not_applicable"] = "dissolves"
        word[status == "unknown"] = "unknown"
        return word

    def _crystals(self) -> None:
        size = self.block.size
        total, left = np.zeros(size), np.zeros((3, size))
        speaks = np.zeros(size, dtype=bool)
        here = self.crystals_at(self.temperature_K)
        for part, (share, known) in zip(self.block.parts, here, strict=True):
            there = np.where(share[2] > 0.0, part.mass_kg, 0.0).sum(axis=1)
            total[part.blends] = there
            with np.errstate(divide="ignore", invalid="ignore"):
                left[:, part.blends] = (share * part.mass_kg).sum(axis=2) / there
            speaks[part.blends] = known
        status = self._status(speaks)
        status[speaks & (total <= 0.0)] = "not_applicable"
        ends = (1.0 - left[0], 1.0 - left[2], 1.0 - left[1])
        self._tell("dissolved_share", [100.0 * end for end in ends], status)
        value, low, high, status = self.last_crystal
        self._tell(
            "dissolution_temperature_C", (value - KELVIN, low - KELVIN, high - KELVIN), status
        )
        self._made["dissolution"] = self.dissolution

    # Vapour and fire

    @cached_property
    def may_split(self) -> Bools:
        """Where the vapour at its temperature is that of layers, if it lies in layers."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.chance >= SURELY_CLEAR_BELOW)

    @cached_property
    def at_20C(self) -> BlockAnswers:
        """`Blend.at_20C`"""
        if self.temperature_K == BENCH_K:
            return self
        return BlockAnswers(self.block, BENCH_K, self.pressure_Pa, self.only)

    @cached_property
    def burns_in_layers(self) -> Bools:
        """`Blend.burns_in_layers`"""
        there = self.at_20C
        chance = there.chance_alone.copy()
        lying, dissolved = np.zeros(self.block.size, dtype=bool), []
        for part, (share, speaks) in zip(
            self.block.parts, there.crystals_alone(BENCH_K), strict=True
        ):
            lying[part.blends] = (np.nan_to_num(share[0]) > SEEN_SHARE).any(axis=1) & speaks
            dissolved.append((np.zeros_like(share), speaks))
        if lying.any():
            chance[lying] = there._chances(BENCH_K, dissolved, lying)[lying]
        with np.errstate(invalid="ignore"):
            return np.asarray(chance >= SURELY_CLEAR_BELOW)

    def _vapour_over(self, layers: Bools) -> list[Vapour]:
        """Over each part's blends that can be told; `layers` marks those counted in layers."""
        made = []
        for part in self.block.parts:
            here = part.only(np.flatnonzero(~self.blind[part.blends]))
            if len(here):
                made.append(Vapour(self.substances, here, layers[here.blends]))
        return made

    @cached_property
    def vapour(self) -> list[Vapour]:
        """The vapour at the blends' own temperature."""
        return self._vapour_over(self.may_split)

    @cached_property
    def fire(self) -> list[Vapour]:
        """The vapour where they boil and burn: whatever the bench."""
        if (self.may_split == self.burns_in_layers).all():
            return self.vapour
        return self._vapour_over(self.burns_in_layers)

    def _gathered(self, found: Sequence[Interval]) -> Interval:
        """What was found of `vapour`'s parts, in the order of the block."""
        whole = Interval.unknown(self.block.size)
        for vapour, own in zip(self.vapour, found, strict=True):
            for name in ("value", "low", "high", "status", "converged"):
                getattr(whole, name)[vapour.part.blends] = getattr(own, name)
        return whole

    @cached_property
    def _headspaces(self) -> list[tuple[Interval, Array]]:
        return [vapour.headspace(self.temperature_K) for vapour in self.vapour]

    def _vapour(self) -> None:
        found = self._gathered([total for total, _ in self._headspaces])
        values = (found.value, found.low, found.high)
        self._tell("vapour_pressure_kPa", [v / 1e3 for v in values], found.status)
        found = self._gathered(
            [
                lower_limits(self.substances, vapour.part, pressures, self.temperature_K)
                for vapour, (_, pressures) in zip(self.vapour, self._headspaces, strict=True)
            ]
        )
        values = (found.value, found.low, found.high)
        self._tell("lower_flammable_limit_vol_pct", [v * 100.0 for v in values], found.status)

    @cached_property
    def boiling(self) -> tuple[Array, Array, Array, AnyArray]:
        found = self._gathered([vapour.boiling(self.pressure_Pa) for vapour in self.fire])
        return found.value, found.low, found.high, found.status

    def _boiling(self) -> None:
        value, low, high, status = self.boiling
        self._tell("initial_boiling_point_C", (value - KELVIN, low - KELVIN, high - KELVIN), status)

    @cached_property
    def _flashes(self) -> list[FlashPoints]:
        return [flash_points(vapour, self.pressure_Pa) for vapour in self.fire]

    @cached_property
    def flash(self) -> tuple[Array, Array, Array, AnyArray]:
        """The flash point; that of blind blends is left to the slow road."""
        found = self._gathered([one.interval for one in self._flashes])
        status = found.status.copy()
        # what could burn may be among what is left out
        status[(status == "not_applicable") & self.without_groups] = "unknown"
        return found.value, found.low, found.high, status

    @cached_property
    def flash_slow(self) -> Bools:
        return self.blind | ~self._in_a_part

    @cached_property
    def _in_a_part(self) -> Bools:
        found = np.zeros(self.block.size, dtype=bool)
        for part in self.block.parts:
            found[part.blends] = True
        return found

    @cached_property
    def never_clear(self) -> Bools:
        """Whether anything forbids the standing "clear of the limit" (`Blend.never_clear`)."""
        forbidden = self.oil_flash_share > WEIGHTY_FLASH_SHARE
        forbidden |= self.without_groups | self.blind | self.burns_in_layers
        there = self.at_20C
        forbidden |= (there.liquid == "unknown") | (there.dissolution != "dissolves")
        for vapour, flash in zip(self.fire, self._flashes, strict=True):
            weighty = (flash.shares > WEIGHTY_FLASH_SHARE) & (
                self.substances.rests_on_an_estimate[vapour.part.index]
            )
            forbidden[vapour.part.blends] |= weighty.any(axis=1)
        return forbidden

    @cached_property
    def oil_flash_share(self) -> Array:
        """Of Liaw's sum, by natural oils without their carriers (`Blend.oil_flash_shares`)."""
        block = self.block
        own = np.zeros((len(block.templates), len(self.substances)), dtype=bool)
        for number, template in enumerate(block.templates):
            own[number, [self.substances.named(name) for name in template.oil_substances]] = True
        of_oil = own[block.row_template[block.entry_row], block.pair_sub[block.entry_pair]]
        kg = np.bincount(
            block.entry_pair, weights=block.entry_kg * of_oil, minlength=len(block.pair_kg)
        )
        share = kg / block.pair_kg
        found = np.zeros(block.size)
        for vapour, flash in zip(self.fire, self._flashes, strict=True):
            part = vapour.part
            found[part.blends] = (flash.shares * share[part.pair] * part.there).sum(axis=1)
        return found

    def _flash(self) -> None:
        value, low, high, status = self.flash
        celsius = (value - KELVIN, low - KELVIN, high - KELVIN)
        self._tell("flash_point_closed_cup_C", celsius, status)
        self._made["ghs_category"] = self.classes.category
        self._made["ghs_standing"] = self.classes.standing
        self._made["ghs_treat_as"] = self.classes.treat_as
        self.slow["flash"] |= self.flash_slow

    @cached_property
    def classes(self) -> GHSClasses:
        flash, low, high, status = self.flash
        doubt_K = OIL_SPREAD_K * np.minimum(1.0, self.oil_flash_share)
        return ghs_classes((flash, low, high), status, self.boiling[:3], self.never_clear, doubt_K)

    # Cloud

    def _cloud(self) -> None:
        value, low, high, status = self.cloud
        celsius = (value - KELVIN, low - KELVIN, high - KELVIN)
        self._tell("cloud_temperature_C", celsius, status)

    @cached_property
    def cloud(self) -> tuple[Array, Array, Array, AnyArray]:
        return self._clouds(np.ones(self.block.size, dtype=bool))

    def _clouds(self, wanted: Bools, ends: bool = True) -> tuple[Array, Array, Array, AnyArray]:
        found = np.full((3, self.block.size), np.nan)
        status = np.full(self.block.size, "unknown", dtype=object)
        for part in self.block.parts:
            told = ~np.isnan(self.chance[part.blends]) & wanted[part.blends]
            if told.any():
                some = part.only(np.flatnonzero(told))
                made = clouds(self.substances, some, ends)
                found[:, some.blends] = made.value, made.low, made.high
                status[some.blends] = made.status
        return found[0], found[1], found[2], status

    # Findings

    def _findings(self) -> None:
        self.slow["findings"] |= self.flash_slow
        told = ~self.slow["findings"]
        value, low, _, status = self.flash
        crystal_K, _, crystal_high_K, crystal_status = self.last_crystal
        needed_K = np.where(
            self.dissolution == "needs_warming", crystal_K + WARMING_MARGIN_K, np.nan
        )
        at_50C = self._headspace_at(GAS_LIMIT_K, told)
        surely_clear = told & ~self.may_split & ~np.isnan(self.chance)
        if "cloud" in self.only:
            cloud_K = self.cloud[0]
        else:
            cloud_K = self._clouds(surely_clear, ends=False)[0]
        found = [
            *dissolution_codes(
                self.dissolution, crystal_status, crystal_high_K, self.temperature_K
            ),
            *self._cold_codes(told),
            *liquid_codes(
                self.liquid,
                self.chance,
                cloud_K,
                self._chance_in_fridge(surely_clear),
                self.temperature_K,
            ),
            *fire_codes(
                (value, low, status),
                self.classes,
                needed_K,
                self._lowest_flash_K(),
                self.temperature_K,
            ),
            ("EVAPORATES", when(self._evaporates(told), CAUTION)),
            *fill_codes(self.block, *at_50C, self.pressure_Pa),
            *plastic_codes(self.block),
            *cool_codes(low, status),
            *reaction_codes(self.block),
            *input_codes(self.block, self.blind),
        ]
        self._made["findings"], self._made["has_warning"] = joined(found)

    def _cold_codes(self, told: Bools) -> list[Coded]:
        """`verdict.words.cold_findings` and the crystals' forms."""
        size = self.block.size
        dissolves = told & (self.dissolution == "dissolves")
        named = np.zeros(len(self.block.pair_sub), dtype=bool)
        codes: list[Coded] = []
        for place, kelvin in (("FRIDGE", FRIDGE_K), ("FREEZER", FREEZER_K)):
            some, sure = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
            for part, (share, _) in zip(self.block.parts, self.crystals_at(kelvin), strict=True):
                seen = (np.nan_to_num(share[2]) > SEEN_SHARE) & part.there
                named[part.pair[seen]] = True
                some[part.blends] = seen.any(axis=1)
                grams = np.nan_to_num(share[0]) * part.mass_kg * 1e3
                sure[part.blends] = (seen & (grams >= SEEN_g)).any(axis=1)
            cautious = sure & (place == "FRIDGE")
            severity = np.where(cautious, CAUTION, INFO) * (
                some & dissolves & (kelvin < self.temperature_K)
            )
            codes.append((f"CRYSTALS-IN-{place}", severity))
        for part, found in zip(self.block.parts, self.saturations, strict=True):
            with np.errstate(invalid="ignore"):
                named[part.pair[found.each[2] > FRIDGE_K]] = True
        forms = np.isin(np.array(self.substances.names), list(crystal_forms()))
        count = self.block.per_blend(named & forms[self.block.pair_sub]) * dissolves
        most = int(count.max()) if size else 0
        return codes + [("CRYSTAL-FORMS", when(count > k, INFO)) for k in range(most)]

    def _chance_in_fridge(self, wanted: Bools) -> Array:
        """Of blends that are surely clear at the bench: on which side of SURELY_CLEAR_BELOW."""
        if self.temperature_K <= COLD_K:
            return np.full(self.block.size, np.nan)
        return self._chances(FRIDGE_K, self.crystals_at(FRIDGE_K), wanted, SURELY_CLEAR_BELOW)

    def _lowest_flash_K(self) -> Array:
        """The lowest flash point among what burns by itself and has groups; NaN without any."""
        own = self.substances
        flash = np.where(own.has_groups & np.isfinite(own.flash_K), own.flash_K, np.inf)
        lowest = np.full(self.block.size, np.inf)
        np.minimum.at(lowest, self.block.pair_blend, flash[self.block.pair_sub])
        return np.where(np.isfinite(lowest), lowest, np.nan)

    def _headspace_at(self, temperature_K: float, wanted: Bools) -> tuple[Array, Array]:
        """Vapour pressure and its high end, Pa; NaN where it can't be told."""
        value, high = np.full(self.block.size, np.nan), np.full(self.block.size, np.nan)
        for vapour, (here, _) in zip(self.fire, self._headspaces, strict=True):
            found, _ = vapour.headspace(temperature_K)
            known = here.is_ok & wanted[vapour.part.blends]
            value[vapour.part.blends] = np.where(known, found.value, np.nan)
            high[vapour.part.blends] = np.where(known, found.high, np.nan)
        return value, high

    def _evaporates(self, wanted: Bools) -> Bools:
        """Whether a row loses more than STRONG_LOSS in STIRRED_s."""
        block = self.block
        lost = np.zeros(len(block.pair_sub))
        exposure = Exposure(OpenBeaker(), self.temperature_K, self.pressure_Pa)
        for vapour, (here, _) in zip(self.vapour, self._headspaces, strict=True):
            left = wanted[vapour.part.blends] & here.is_ok
            for heard in vapour.leading:
                if not left[heard.where].any():
                    continue
                share = shares_lost(heard.one, exposure, STIRRED_s)
                own = heard.one.part.there & left[heard.where][:, None]
                lost[heard.one.part.pair[own]] = share[own]
        grams = np.bincount(
            block.entry_row,
            weights=block.entry_kg * 1e3 * lost[block.entry_pair],
            minlength=len(block.row_grams),
        )
        water = np.array([t.material.is_water for t in block.templates], dtype=bool)
        strong = (grams / block.row_grams > STRONG_LOSS) & ~water[block.row_template]
        return np.bincount(block.row_blend, weights=strong, minlength=block.size) > 0.0
