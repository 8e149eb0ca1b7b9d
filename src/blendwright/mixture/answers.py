"""The answers about a block of blends, each worked out once and only when asked for.

Everything that one formula and a million are asked stands here: `Answers` of a block of one is what
`assess` tells of it. Numbers are arrays over the block's blends, SI, NaN where there is none;
`Interval.status` says why. Words, classes and findings are for `verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from blendwright.formula.conditions import BENCH_K
from blendwright.mixture.block import Block
from blendwright.mixture.clarity import chances, clouds
from blendwright.mixture.density import densities
from blendwright.mixture.dissolution import (
    Saturations,
    hidden_solids,
    saturations,
    solids_at,
)
from blendwright.mixture.evaporation import Exposure, shares_lost
from blendwright.mixture.flammable_limit import lower_limits
from blendwright.mixture.flash_point import FlashPoints, flash_points
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.state import crystals, none_lies
from blendwright.mixture.survey import make_survey
from blendwright.mixture.vapour import Vapour
from blendwright.pure.roots import Bools

LAYERS_COUNT_FROM = 0.2  # chance of layers from which they are reported
MOST_WITHOUT_GROUPS = 0.05  # of the mass: with more the layers can't be told
SEEN_SHARE = 1e-3  # a smaller share of a solid lying undissolved is not seen
LEAST_LEFT = 1e-9
BASE_MARGIN_K = 10.0  # for a base of undisclosed composition (common practice, no source)

PartCrystals = list[tuple[Array, Bools]]


class Answers:
    """What can be said of a block at one temperature and air pressure."""

    def __init__(self, block: Block, temperature_K: float, pressure_Pa: float) -> None:
        self.block = block
        self.substances = block.substances
        self.temperature_K = float(temperature_K)
        self.pressure_Pa = pressure_Pa
        self._crystals: dict[float, PartCrystals] = {}

    @property
    def at_20C(self) -> Answers:
        """The answers at 20 °C, where labels and data sheets stand."""
        # what keeps itself stays in memory until the collector's rarest round
        return self if self.temperature_K == BENCH_K else self._at_20C_too

    @cached_property
    def _at_20C_too(self) -> Answers:
        made = Answers(self.block, BENCH_K, self.pressure_Pa)
        made._crystals = self._crystals  # crystals at a temperature know no bench
        return made

    def survey(self) -> None:
        """Look for layers at both ends of the range where most questions ask, first: worth it where
        several questions about layers, vapour and fire follow."""
        for part in self.block.parts:
            make_survey(self.substances, part)

    # Who can be counted

    @cached_property
    def lacks_vapour_data(self) -> Bools:
        """Blends of which something light has no groups or no vapour pressure."""
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

    # Density

    @cached_property
    def density(self) -> Interval:
        """kg/m3."""
        found = densities(self.block.pairs, self.temperature_K)
        status = np.where(np.isfinite(found.value), "ok", "unknown").astype(object)
        ends = found.value - found.half, found.value + found.half
        return Interval.of(found.value, *ends, status)

    # Crystals and layers

    def crystals_at(self, temperature_K: float) -> PartCrystals:
        """For each part the share of each component that is crystals, value, low and high (3,
        blends, components), and where it can be told."""
        if temperature_K not in self._crystals:
            self.solve_crystals([temperature_K])
        return self._crystals[temperature_K]

    def solve_crystals(
        self, temperatures_K: Sequence[float], clear_at_K: Sequence[float] = ()
    ) -> None:
        """Solve for crystals at several temperatures side by side, each once; at `clear_at_K` none
        are known to fall out of the layers of any blend."""
        found: dict[float, PartCrystals] = {kelvin: [] for kelvin in temperatures_K}
        for part, last in zip(self.block.parts, self.saturations, strict=True):
            size = len(part)
            rows = np.tile(np.arange(size), len(found))
            at = np.repeat(list(found), size)
            surely_none = none_lies(self.substances, part, last, at.reshape(-1, size)).ravel()
            surely_none |= np.isin(at, clear_at_K)
            share, sure = crystals(self.substances, part.only(rows), at, surely_none=surely_none)
            for number, own in enumerate(found.values()):
                here = slice(number * size, (number + 1) * size)
                own.append((share[:, here], sure[here]))
        self._crystals.update(found)

    def chance_of_layers(
        self,
        temperature_K: float,
        found_crystals: PartCrystals,
        wanted: Bools,
        level: float | None = None,
    ) -> Array:
        """Chance for the liquid that these crystals leave; NaN where not wanted or not to be
        told."""
        found = np.full(self.block.size, np.nan)
        wanted = wanted & self.layers_can_be_told
        for part, own in zip(self.block.parts, found_crystals, strict=True):
            where = np.flatnonzero(wanted[part.blends])
            if where.size:
                some = liquid_left(part, own).only(where)
                found[some.blends] = chances(self.substances, some, temperature_K, level).value
        return found

    @cached_property
    def chance(self) -> Array:
        """Chance of layers in the liquid that the crystals leave; NaN where it can't be told."""
        every = np.ones(self.block.size, dtype=bool)
        here = self.crystals_at(self.temperature_K)
        return self.chance_of_layers(self.temperature_K, here, every)

    @cached_property
    def may_split(self) -> Bools:
        """Where layers are reported."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.chance >= LAYERS_COUNT_FROM)

    @cached_property
    def chance_as_one(self) -> Array:
        """Chance of layers at 20 °C with every crystal dissolved: it belongs to the formula
        alone."""
        there = self.at_20C
        chance = there.chance.copy()
        lying, dissolved = np.zeros(self.block.size, dtype=bool), []
        for part, (share, told) in zip(self.block.parts, there.crystals_at(BENCH_K), strict=True):
            lying[part.blends] = (np.nan_to_num(share[0]) > SEEN_SHARE).any(axis=1) & told
            dissolved.append((np.zeros_like(share), told))
        if lying.any():
            chance[lying] = there.chance_of_layers(BENCH_K, dissolved, lying)[lying]
        return chance

    @cached_property
    def burns_in_layers(self) -> Bools:
        """Whether layers may lie under the flame of the flash-point test, so that no flash point is
        clear of a limit. Written rule: a chance of LAYERS_COUNT_FROM or more at 20 °C with every
        crystal dissolved; it belongs to the formula alone."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.chance_as_one >= LAYERS_COUNT_FROM)

    @cached_property
    def saturations(self) -> list[Saturations]:
        """Saturations of each part's solids, which the part keeps; it knows no bench."""
        return [saturations(self.substances, part, BENCH_K) for part in self.block.parts]

    @cached_property
    def hidden_solids(self) -> Bools:
        """Blends with a solid that no model can dissolve."""
        hidden = hidden_solids(self.substances, self.temperature_K)
        return self.block.per_blend(hidden[self.block.pair_sub]) > 0.0

    @cached_property
    def last_crystal(self) -> Interval:
        """Where the last crystal dissolves, K."""
        value, low, high = (np.full(self.block.size, np.nan) for _ in range(3))
        status = np.full(self.block.size, "unknown", dtype=object)
        converged = np.ones(self.block.size, dtype=bool)
        for part, found in zip(self.block.parts, self.saturations, strict=True):
            at = part.blends
            bare = ~solids_at(self.substances, part, BENCH_K).any(axis=1)
            status[at[bare]] = "not_applicable"
            status[at[found.covered]] = "ok"
            converged[at] = found.converged
            value[at], low[at], high[at] = found.value, found.low, found.high
        status[self.hidden_solids] = "unknown"
        return Interval.of(value, low, high, status, converged)

    @cached_property
    def dissolved_share(self) -> Interval:
        """Share of the mass of all that is a solid by itself at 20 °C: what was weighed as
        crystals, so that ice in the freezer does not count."""
        size = self.block.size
        total, left = np.zeros(size), np.zeros((3, size))
        told = np.zeros(size, dtype=bool)
        here = self.crystals_at(self.temperature_K)
        for part, (share, known) in zip(self.block.parts, here, strict=True):
            solid = solids_at(self.substances, part, BENCH_K)
            there = np.where(solid, part.mass_kg, 0.0).sum(axis=1)
            total[part.blends] = there
            with np.errstate(divide="ignore", invalid="ignore"):
                left[:, part.blends] = (share * part.mass_kg * solid).sum(axis=2) / there
            told[part.blends] = known
        told &= ~self.hidden_solids
        status = np.where(told, "ok", "unknown").astype(object)
        status[told & (total <= 0.0)] = "not_applicable"
        return Interval.of(1.0 - left[0], 1.0 - left[2], 1.0 - left[1], status)

    @cached_property
    def cloud(self) -> Interval:
        """The cloud temperature, K."""
        return self.clouds(np.ones(self.block.size, dtype=bool))

    def clouds(self, wanted: Bools) -> Interval:
        """Cloud temperatures of some blends."""
        whole = Interval.unknown(self.block.size)
        for part in self.block.parts:
            told = ~np.isnan(self.chance[part.blends]) & wanted[part.blends]
            if told.any():
                some = part.only(np.flatnonzero(told))
                whole = whole.with_some(some.blends, clouds(self.substances, some))
        return whole

    # Vapour and fire

    def _vapour_over(self, counted: Bools) -> list[Vapour]:
        """Over each part's blends that count."""
        made = []
        for part in self.block.parts:
            here = part.only(np.flatnonzero(counted[part.blends]))
            if len(here):
                made.append(Vapour(self.substances, here))
        return made

    @cached_property
    def vapour(self) -> list[Vapour]:
        """The vapour at the blends' own temperature."""
        return self._vapour_over(~self.lacks_vapour_data)

    @cached_property
    def fire(self) -> list[Vapour]:
        """The vapour where they boil and burn; also of what is left beside a base of undisclosed
        composition."""
        if not self.is_bounded.any():
            return self.vapour
        return self._vapour_over(~self.lacks_vapour_data | self.is_bounded)

    def gathered(self, over: Sequence[Vapour], found: Sequence[Interval]) -> Interval:
        """What was found of some vapours, over the whole block."""
        whole = Interval.unknown(self.block.size)
        for vapour, own in zip(over, found, strict=True):
            whole = whole.with_some(vapour.part.blends, own)
        return whole

    @cached_property
    def headspaces(self) -> list[tuple[Interval, Array]]:
        """For each of `vapour` the total and the partial pressures, Pa."""
        return [vapour.headspace(self.temperature_K) for vapour in self.vapour]

    @cached_property
    def vapour_pressure(self) -> Interval:
        """Pa."""
        return self.gathered(self.vapour, [total for total, _ in self.headspaces])

    @cached_property
    def lower_limit(self) -> Interval:
        """Lower flammable limit of the headspace, mol/mol."""
        found = [
            lower_limits(self.substances, vapour.part, pressures, self.temperature_K)
            for vapour, (_, pressures) in zip(self.vapour, self.headspaces, strict=True)
        ]
        return self.gathered(self.vapour, found)

    @cached_property
    def boiling(self) -> Interval:
        """Initial boiling point, K."""
        found = self.gathered(self.fire, [v.boiling(self.pressure_Pa) for v in self.fire])
        return found.with_some(
            np.flatnonzero(self.lacks_vapour_data),
            Interval.unknown(int(self.lacks_vapour_data.sum())),
        )

    @cached_property
    def flashes(self) -> list[FlashPoints]:
        """Flash points of each of `fire`."""
        return [flash_points(vapour, self.pressure_Pa) for vapour in self.fire]

    @cached_property
    def flash(self) -> Interval:
        """Closed-cup flash point, K."""
        found = self.gathered(self.fire, [one.interval for one in self.flashes])
        status = found.status.copy()
        # what could burn may be among what is left out
        status[(status == "not_applicable") & self.without_groups & ~self.lacks_vapour_data] = (
            "unknown"
        )
        found = Interval.of(found.value, found.low, found.high, status, found.converged)
        where = np.flatnonzero(self.lacks_vapour_data)
        return found.with_some(where, self._bounded(found).only(where)) if where.size else found

    @cached_property
    def is_bounded(self) -> Bools:
        """Blends of which nothing can't be counted but bases of undisclosed composition with a
        flash point of their own."""
        own, sub = self.substances, self.block.pair_sub
        base = own.is_undisclosed & np.isfinite(own.flash_K)
        other = self.block.per_blend((own.is_blind != base)[sub])
        return np.asarray(self.lacks_vapour_data & (other == 0.0))

    def _bounded(self, rest: Interval) -> Interval:
        """Written rule for bases of undisclosed composition: no higher than the lowest of the
        base's own flash point and that of the rest, the low end BASE_MARGIN_K below. Unknown as
        soon as anything else can't be counted."""
        size, own = self.block.size, self.substances
        value, low, high = rest.value.copy(), rest.low.copy(), rest.high.copy()
        value[~rest.is_ok] = np.inf
        in_a_part = np.zeros(size, dtype=bool)
        for part in self.block.parts:
            in_a_part[part.blends] = True
        told = self.is_bounded & ~(in_a_part & (rest.status == "unknown"))
        for number in np.flatnonzero(own.is_undisclosed & np.isfinite(own.flash_K)):
            here = np.unique(self.block.pair_blend[self.block.pair_sub == number])
            base, base_low, base_high = own.pures[int(number)].flash.interval()
            lower = here[base <= value[here]]
            value[lower], high[lower] = base, base_high
            low[here] = np.fmin(low[here], base_low)
        status = np.where(told, "ok", "unknown").astype(object)
        return Interval.of(value, low - BASE_MARGIN_K, high, status, rest.converged | ~told)

    @cached_property
    def oil_flash_share(self) -> Array:
        """Share of Liaw's sum made by natural oils without their carriers; all of it where the
        vapour can't be counted."""
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
        for vapour, flash in zip(self.fire, self.flashes, strict=True):
            part = vapour.part
            found[part.blends] = (flash.shares * share[part.pair] * part.there).sum(axis=1)
        oil = np.array([t.material.kind == "natural_oil" for t in block.templates], dtype=bool)
        rows = np.bincount(block.row_blend, weights=oil[block.row_template], minlength=block.size)
        return np.where(self.lacks_vapour_data, rows, found)

    def largest_share_of_flash(self, which: Bools) -> Array:
        """The largest share of Liaw's sum of a substance that is marked; 0 where the vapour can't
        be counted."""
        found = np.zeros(self.block.size)
        for vapour, flash in zip(self.fire, self.flashes, strict=True):
            part = vapour.part
            shares = np.where(which[part.index] & part.there, flash.shares, 0.0)
            found[part.blends] = shares.max(axis=1)
        return np.where(self.lacks_vapour_data, 0.0, found)

    @cached_property
    def lowest_flash_K(self) -> Array:
        """The lowest flash point among what burns by itself and has groups; NaN without any, and
        where the vapour can't be counted."""
        own = self.substances
        flash = np.where(own.has_groups & np.isfinite(own.flash_K), own.flash_K, np.inf)
        lowest = np.full(self.block.size, np.inf)
        np.minimum.at(lowest, self.block.pair_blend, flash[self.block.pair_sub])
        return np.where(np.isfinite(lowest) & ~self.lacks_vapour_data, lowest, np.nan)

    def warmed_vapour_pressure(self, temperature_K: float) -> Interval:
        """Vapour pressure at another temperature, Pa; unknown where it is unknown at their own."""
        over = [v for v in self.fire if not self.lacks_vapour_data[v.part.blends].all()]
        found = self.gathered(over, [vapour.headspace(temperature_K)[0] for vapour in over])
        untold = np.flatnonzero(~self.vapour_pressure.is_ok)
        return found.with_some(untold, Interval.unknown(untold.size))

    def row_shares_lost(self, exposure: Exposure, time_s: float) -> Array:
        """Share of each row that leaves a vessel in a time; 0 where the vapour can't be counted,
        NaN where the search did not converge."""
        block = self.block
        lost = np.zeros(len(block.pair_sub))
        for vapour, (total, _) in zip(self.vapour, self.headspaces, strict=True):
            told = total.is_ok
            if told.any():
                share = shares_lost(vapour, exposure, time_s)
                own = vapour.part.there & told[:, None]
                lost[vapour.part.pair[own]] = share[own]
        grams = np.bincount(
            block.entry_row,
            weights=block.entry_kg * 1e3 * lost[block.entry_pair],
            minlength=len(block.row_grams),
        )
        return np.asarray(grams / block.row_grams)


def liquid_left(part: Part, crystals: tuple[Array, Bools]) -> Part:
    """What the crystals leave of a part."""
    share, told = crystals
    seen = (np.nan_to_num(share[0]) > SEEN_SHARE).any(axis=1) & told
    factors = np.where(seen[:, None], np.maximum(1.0 - np.nan_to_num(share[0]), LEAST_LEFT), 1.0)
    return part.times(factors)
