"""The answers about one weighed blend, each computed once and only when asked for.

`assess` gathers all of them; the advice asks for a few.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from blendwright.estimate import Estimate, to_celsius
from blendwright.formula.conditions import BENCH_K, FREEZER_K, FRIDGE_K
from blendwright.mixture.answers import LEAST_LEFT, SEEN_SHARE, Answers
from blendwright.mixture.block import Block
from blendwright.mixture.clarity import COARSE, KNOTS_K, cloud_temperature
from blendwright.mixture.composition import Composition
from blendwright.mixture.density import blend_density, volume
from blendwright.mixture.dissolution import (
    LOWEST_K,
    Crystals,
    Dissolution,
    crystallises,
    crystals_of,
    dissolution,
    melting_points_K,
    most_dissolved,
    solids_at,
)
from blendwright.mixture.flammable_limit import blend_lower_limit
from blendwright.mixture.flash_point import BlendFlash, blend_flash_point
from blendwright.mixture.layers import TwoLayers, two_layers
from blendwright.mixture.liquid import NO_GROUPS
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.storage import GAS_LIMIT_K
from blendwright.mixture.survey import make_survey
from blendwright.mixture.vapour import (
    Headspace,
    headspace,
    initial_boiling_point,
    saturation_Pa,
    vapour_of,
)
from blendwright.mixture.weighing import Weighing
from blendwright.pure.constants import PureConstants
from blendwright.verdict import listed
from blendwright.verdict.dissolution_and_layers import (
    SURELY_CLEAR_BELOW,
    DissolutionWord,
    LiquidWord,
    chance_of_crystals,
    dissolution_word,
    liquid_word,
)
from blendwright.verdict.doubts import DoubtFacts, OneDoubt
from blendwright.verdict.flammability import Classing, Doubts, classings
from blendwright.verdict.inputs import LeftOut, left_out_of
from blendwright.verdict.warming import LowEnd, WarmingWindow, window

FEW_CRYSTALS = 4  # whose melting points are looked at for layers beforehand
MOST_AT_K = (293.15, 278.15)  # where the largest amount that stays dissolved is told


@dataclass(frozen=True)
class Solid:
    """One crystal of the blend: where it goes, how much stays dissolved, what comes back (kg)."""

    name: str
    mass_kg: float
    dissolves: Estimate
    most_20C: Estimate
    most_5C: Estimate


def _without(composition: Composition, found: Crystals | None) -> Composition:
    """What the crystals leave of a blend."""
    if found is None or not (found.value > SEEN_SHARE).any():
        return composition
    return composition.times(np.maximum(1.0 - found.value, LEAST_LEFT))


def _told(chance: Array) -> float | None:
    """One blend's, None where it can't be told."""
    return None if np.isnan(chance[0]) else float(chance[0])


class Blend:
    """One weighing at one temperature and pressure. Raises nothing: what can't be said is unknown.

    `modelled_components` is the composition without what has no groups, `condensed` the same as
    crystals and layers are asked of it (measurements of crystals move it: `ObservedBlend`);
    `without_vapour_data` names what makes the vapour unknown.
    """

    def __init__(self, weighing: Weighing, temperature_K: float, pressure_Pa: float) -> None:
        self.weighing = weighing
        self.temperature_K = temperature_K
        self.pressure_Pa = pressure_Pa
        self.all_components = weighing.composition
        self.modelled_components = self.all_components.only(lambda s: bool(s.groups))
        self.condensed = self.modelled_components
        self.without_groups = [s for s in self.all_components.substances if not s.groups]
        self.notes: tuple[str, ...] = ()
        if self.without_groups:
            names = listed([s.name for s in self.without_groups])
            self.notes = (f"left out for want of groups: {names}",)
        self.without_vapour_data = [s.name for s in self.without_groups if not s.is_heavy]
        self.without_vapour_data += [
            s.name for s in self.modelled_components.substances if s.vapour is None
        ]

    @cached_property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What can't be counted where."""
        return tuple(out for s in self.all_components.substances for out in left_out_of(s))

    def mass_share(self, substances: Iterable[PureConstants]) -> float:
        names = {s.name for s in substances}
        return float(
            sum(
                w
                for s, w in zip(
                    self.all_components.substances, self.all_components.mass_fractions, strict=True
                )
                if s.name in names
            )
        )

    @cached_property
    def density(self) -> Estimate:
        return blend_density(self.all_components, self.temperature_K)

    @property
    def volume(self) -> Estimate:
        return volume(self.weighing.total_g / 1e3, self.density)

    # Layers

    @cached_property
    def answers(self) -> Answers:
        """The engine's, of a block of one."""
        block = Block.of_one(self.weighing, self.condensed)
        return Answers(block, self.temperature_K, self.pressure_Pa)

    def survey(self) -> None:
        """Look for layers and crystals where most questions ask, all at once: worth it where
        everything will be asked."""
        if not self.condensed.is_covered:
            return
        bench, knots = self.temperature_K, KNOTS_K[::COARSE].tolist()
        asked_K = (
            bench,
            FRIDGE_K,
            FREEZER_K,
            *knots,
            *self._boiling_as_one_K(),
            *self._ends_of_crystals_K(),
        )
        make_survey(self.condensed.table, self.condensed.part, asked_K)
        self.answers.solve_crystals((bench, FRIDGE_K, FREEZER_K), self._solve_states())

    def _solve_states(self) -> list[float]:
        """Solve side by side for states that are asked about; the temperatures at which they hold
        no crystals."""
        if self.without_vapour_data or self.condensed is not self.modelled_components:
            return []
        vapour = vapour_of(self.modelled_components)
        asked_K = (BENCH_K, FREEZER_K, GAS_LIMIT_K)
        vapour.solve_states(asked_K)
        states = [(kelvin, vapour.state_of_all(kelvin)) for kelvin in asked_K]
        return [
            kelvin
            for kelvin, found in states
            if found.converged.all() and not found.has_crystals.any()
        ]

    def _boiling_as_one_K(self) -> tuple[float, ...]:
        """Where it would boil as one liquid: there layers are looked for first."""
        if self.without_vapour_data:
            return ()
        found, _ = vapour_of(self.modelled_components).boiling_as_one(self.pressure_Pa)
        return () if np.isnan(found[0]) else (float(found[0]),)

    def _ends_of_crystals_K(self) -> tuple[float, ...]:
        """Between which crystals dissolve over layers: up to their melting points."""
        table, part = self.condensed.table, self.condensed.part
        solids = np.flatnonzero(solids_at(table, part, BENCH_K)[0])
        melting = sorted(melting_points_K(table)[solids].tolist(), reverse=True)
        return (LOWEST_K, *melting[:FEW_CRYSTALS]) if melting else ()

    def liquid_left(self, temperature_K: float) -> Composition:
        """What stays liquid at a temperature."""
        return _without(self.modelled_components, self.crystals_at(temperature_K))

    def chance_of_split(self, temperature_K: float) -> float | None:
        """Chance of layers in the liquid that is left there; None where it can't be told."""
        own = self.answers
        if not own.layers_can_be_told[0]:
            return None
        here = temperature_K == self.temperature_K
        if here:
            return _told(own.chance)
        crystals = own.crystals_at(temperature_K)
        every = np.ones(1, dtype=bool)
        return _told(own.chance_of_layers(temperature_K, crystals, every))

    @cached_property
    def chance(self) -> float | None:
        return self.chance_of_split(self.temperature_K)

    @cached_property
    def chance_in_fridge(self) -> float | None:
        if self.temperature_K <= FRIDGE_K:
            return self.chance
        return self.chance_of_split(FRIDGE_K)

    @cached_property
    def liquid_word(self) -> LiquidWord:
        return liquid_word(self.chance)

    @property
    def may_split(self) -> bool:
        """At its own temperature. Told with caution: layers are counted already at a chance
        of a fifth."""
        return self.chance is not None and self.chance >= SURELY_CLEAR_BELOW

    # What belongs to the formula, and to no bench

    @property
    def at_20C(self) -> Blend:
        """This weighing at 20 °C, where labels and data sheets stand."""
        return self if self.temperature_K == BENCH_K else self._at_20C_too

    @cached_property
    def _at_20C_too(self) -> Blend:
        return Blend(self.weighing, BENCH_K, self.pressure_Pa)

    @cached_property
    def _chance_as_one(self) -> float | None:
        """Chance of layers at 20 °C with every crystal dissolved: it belongs to the formula
        alone."""
        return _told(self.answers.chance_as_one)

    @property
    def burns_in_layers(self) -> bool:
        """Whether layers may lie under the flame of the flash-point test, so that no flash point is
        clear of a limit. Written rule: a chance of a fifth or more at 20 °C with every crystal
        dissolved; it belongs to the formula alone."""
        chance = self._chance_as_one
        return chance is not None and chance >= SURELY_CLEAR_BELOW

    @cached_property
    def cloud(self) -> Estimate:
        if self.chance is None:
            return Estimate.unknown("K", "too much of it has no groups")
        return cloud_temperature(self.condensed)

    @cached_property
    def layers(self) -> TwoLayers | None:
        """What each layer would hold, where it may part."""
        return two_layers(self.condensed, self.temperature_K) if self.may_split else None

    # Crystals

    @cached_property
    def dissolved(self) -> Dissolution:
        if not self.modelled_components.substances:
            return Dissolution(Estimate.unknown("K", "nothing in it has groups"), ())
        return dissolution(self.condensed, BENCH_K)

    @cached_property
    def last_crystal(self) -> Estimate:
        if self._hidden_solids:
            return Estimate.unknown("K", self._hidden_solids)
        return self.dissolved.last

    @cached_property
    def _hidden_solids(self) -> str:
        """Which solids no model can dissolve; empty where there are none."""
        hidden = [s.name for s in self.without_groups if crystallises(s.fusion, self.temperature_K)]
        return f"no groups of {listed(hidden)}, a solid by itself" if hidden else ""

    @cached_property
    def dissolution_word(self) -> DissolutionWord:
        return dissolution_word(self.last_crystal, self.temperature_K)

    @property
    def chance_of_crystals(self) -> float | None:
        """At its own temperature; None where it can't be told."""
        return chance_of_crystals(self.last_crystal, self.temperature_K)

    @cached_property
    def _crystals(self) -> dict[float, Crystals | None]:
        return {}

    def crystals_at(self, temperature_K: float) -> Crystals | None:
        """What lies undissolved at a temperature; None where it can't be told."""
        if temperature_K not in self._crystals:
            self._crystals[temperature_K] = self._solved_crystals(temperature_K)
        return self._crystals[temperature_K]

    def _solved_crystals(self, temperature_K: float) -> Crystals | None:
        if not self.modelled_components.is_covered:
            return None
        (part,), ((share, _),) = self.answers.block.parts, self.answers.crystals_at(temperature_K)
        names = [self.answers.substances.names[i] for i in part.index[0]]
        order = [names.index(name) for name in self.modelled_components.names]
        return crystals_of(self.modelled_components, temperature_K, share[:, 0, order])

    @property
    def dissolved_share(self) -> Estimate:
        """Dissolved share of the crystals, at its own temperature."""
        if self._hidden_solids:
            return Estimate.unknown("1", self._hidden_solids)
        here = self.crystals_at(self.temperature_K)
        return Estimate.unknown("1", NO_GROUPS) if here is None else here.dissolved_share

    @cached_property
    def solids(self) -> tuple[Solid, ...]:
        """The crystals of the blend at its own temperature."""
        found = self.dissolved.solids
        indices = [s.index for s in found]
        most = most_dissolved(self.condensed, indices, MOST_AT_K)
        return tuple(
            Solid(
                s.name, float(self.modelled_components.mass_kg[s.index]), s.temperature, warm, cold
            )
            for s, warm, cold in zip(found, *most, strict=True)
        )

    # Vapour and fire

    @cached_property
    def _vapour(self) -> Headspace | None:
        """As it was calculated: its total may be unknown."""
        return (
            None
            if self.without_vapour_data
            else headspace(self.modelled_components, self.temperature_K)
        )

    @property
    def headspace(self) -> Headspace | None:
        found = self._vapour
        return found if found is not None and found.total.is_ok else None

    @property
    def _without_headspace(self) -> str:
        """Why there is no headspace."""
        if self.without_vapour_data:
            return f"the vapour of {listed(self.without_vapour_data)} can't be counted"
        if self._vapour is not None:
            return "; ".join(self._vapour.total.notes)
        return NO_GROUPS

    @property
    def vapour_pressure(self) -> Estimate:
        if self.headspace is None:
            return Estimate.unknown("Pa", self._without_headspace)
        return self.headspace.total.with_notes(*self.notes)

    @property
    def lower_limit(self) -> Estimate:
        """Lower flammable limit of the vapour over it."""
        if self.headspace is None:
            return Estimate.unknown("mol/mol", self._without_headspace)
        return blend_lower_limit(
            self.modelled_components, self.headspace.pressures_Pa, self.temperature_K
        )

    @cached_property
    def boiling(self) -> Estimate:
        if self.without_vapour_data:
            return Estimate.unknown(
                "K", f"the vapour of {listed(self.without_vapour_data)} can't be counted"
            )
        found = initial_boiling_point(self.modelled_components, self.pressure_Pa)
        return found.with_notes(*self.notes)

    @cached_property
    def flash(self) -> BlendFlash:
        return self._flash_without_observations()

    def _flash_without_observations(self) -> BlendFlash:
        nothing = np.zeros(len(self.modelled_components.substances))
        if self.without_vapour_data:
            return BlendFlash(self._bounded_flash(), nothing)
        found = blend_flash_point(self.modelled_components, self.pressure_Pa)
        first = self._boils_first(found.estimate)
        if self.notes and found.estimate.status == "not_applicable":
            reason = "what could burn in it is left out: " + "; ".join(self.notes)
            return BlendFlash(Estimate.unknown("K", reason), nothing)
        return BlendFlash(found.estimate.with_notes(*first, *self.notes), found.shares)

    def _boils_first(self, flash: Estimate) -> tuple[str, ...]:
        """What is to be said of a flash point above the boiling point."""
        if not flash.is_ok:
            return ()
        flash_K = flash.interval()[0]
        if saturation_Pa(self.modelled_components, flash_K).sum() < self.pressure_Pa:
            return ()  # it can't boil below
        boiling = self.boiling
        if not boiling.is_ok or boiling.interval()[0] >= flash_K:
            return ()
        return (
            f"boils first, at {to_celsius(boiling.interval()[0]):.0f} °C: what then stays behind "
            "may flash lower",
        )

    def _bounded_flash(self) -> Estimate:
        """Words for a flash point that bases of undisclosed composition bound (`Answers.flash`)."""
        hidden = listed(self.without_vapour_data)
        if not self.answers.is_bounded[0]:
            return Estimate.unknown("K", f"the vapour of {hidden} can't be counted")
        parts = [s.flash for s in self.all_components.substances if s.material.is_undisclosed]
        if self.modelled_components.substances:
            rest = self.flash_of(self.modelled_components)
            if rest.status == "unknown":
                return rest
            parts += [rest] if rest.is_ok else []
        return Estimate.ok(
            *self.answers.flash.ends(),
            "K",
            "bounded: the lowest flash point among the parts",
            [source for e in parts for source in e.sources],
            (f"undisclosed composition: {hidden}",),
        )

    # What it becomes when it is warmed, and what measurements (`ObservedBlend`) do to that

    def flash_of(self, liquid: Composition) -> Estimate:
        """Flash point of a liquid that it becomes: over its crystals, or after a loss."""
        return blend_flash_point(liquid, self.pressure_Pa).estimate

    @cached_property
    def liquids_over_crystals(self) -> tuple[Composition, ...]:
        """What may stand over undissolved crystals at its temperature; none without crystals."""
        left = self.liquid_left(self.temperature_K)
        return () if left is self.modelled_components else (left,)

    @cached_property
    def window(self) -> WarmingWindow:
        """How far it may be warmed from its temperature."""
        one = len(self.all_components.substances) == 1
        flash = self._cautious_flash
        return window(self.last_crystal, flash, one, self.temperature_K, self.held_low_end)

    @property
    def _cautious_flash(self) -> Estimate:
        """The blend's flash point, its low end that of the liquid over undissolved crystals if
        lower: at the start of the warming that is what stands in the beaker."""
        whole = self.flash.estimate
        if not whole.is_ok or self.without_vapour_data:
            return whole
        over = [self.flash_of(left) for left in self.liquids_over_crystals]
        lowest = min((flash.interval()[1] for flash in over if flash.is_ok), default=math.inf)
        if lowest >= whole.interval()[1]:
            return whole
        return replace(whole, low=lowest).with_notes(
            "low end as the liquid over the undissolved crystals"
        )

    @property
    def flash_shift_K(self) -> float:
        """By how much measurements move its flash point."""
        return 0.0

    def log_odds_shift(self, temperature_K: float) -> float:
        """By how much what was seen moves the log-odds of layers at a temperature."""
        return 0.0

    @property
    def burns_unlike_the_model(self) -> bool:
        """Whether its flash point is a measured one, where the model has none."""
        return False

    @property
    def held_low_end(self) -> LowEnd | None:
        """What holds the warming below the low end of its flash point; None where nothing does."""
        return None

    @cached_property
    def _doubt(self) -> DoubtFacts:
        there = self.at_20C
        return DoubtFacts(
            np.array([sum(self.oil_flash_shares.values())]),
            np.array([max(self._estimated_flash_shares.values(), default=0.0)]),
            np.array([self.burns_in_layers]),
            np.array([there.liquid_word], dtype=object),
            np.array([there.dissolution_word], dtype=object),
            np.array([bool(self.without_groups)]),
            np.array([bool(self.without_vapour_data)]),
        )

    @cached_property
    def never_clear(self) -> tuple[str, ...]:
        """What forbids the standing "clear of the limit"; crystals and layers as at 20 °C."""
        return OneDoubt(
            self._doubt,
            self.oil_flash_shares,
            self._estimated_flash_shares,
            self.notes,
            self.without_vapour_data,
        ).reasons()

    @property
    def _estimated_flash_shares(self) -> dict[str, float]:
        """The share of Liaw's sum of every substance that rests on an estimate."""
        return {
            name: float(share)
            for name, share, estimated in zip(
                self.modelled_components.names,
                self.flash.shares,
                self.modelled_components.table.rests_on_an_estimate,
                strict=True,
            )
            if estimated
        }

    @cached_property
    def oil_flash_shares(self) -> dict[str, float]:
        """Each natural oil's share of Liaw's sum at the flash point, without its carrier.

        All of it where the vapour can't be counted.
        """
        found: dict[str, float] = {}
        for row, kg in zip(self.weighing.rows, self.modelled_components.by_row, strict=True):
            if row.material.kind != "natural_oil":
                continue
            own = np.array([name in row.oil_substances for name in self.modelled_components.names])
            share = (
                1.0
                if self.without_vapour_data
                else float((kg * own / self.modelled_components.mass_kg) @ self.flash.shares)
            )
            found[row.material.name] = found.get(row.material.name, 0.0) + share
        return found

    @property
    def doubts(self) -> Doubts:
        """About the class, beside the flash point's interval."""
        return Doubts(self.never_clear, float(self._doubt.flash_K[0]))

    @cached_property
    def classings(self) -> tuple[Classing, ...]:
        return classings(self.flash.estimate, self.boiling, self.doubts)
