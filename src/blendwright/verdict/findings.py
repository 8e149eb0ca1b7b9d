"""What the person should know: every finding of one blend, and the codes of a block's.

`SECTIONS` holds all sets of rules in the order of the bench's questions. Each rule reads the same
facts of a block as of one blend; here it is said where they come from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

import numpy as np

from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate, per_cent
from blendwright.formula.conditions import FREEZER_K, FRIDGE_K
from blendwright.mixture.evaporation import Exposure, OpenBeaker, evaporate
from blendwright.mixture.interval import Interval
from blendwright.mixture.storage import (
    GAS_LIMIT_K,
    ClosedBottle,
    adr_fill_limit,
    liquid_full_at_55C,
    pressure_in_bottle,
    vapour_pressure_at_50C,
    volume_shares,
)
from blendwright.verdict import Finding, gravest_first
from blendwright.verdict.blend import Blend
from blendwright.verdict.contributions import contributions
from blendwright.verdict.crystal_findings import (
    DISSOLUTION,
    IN_THE_COLD,
    ColdCrystals,
    LyingCrystals,
    OneBench,
    OneInTheCold,
)
from blendwright.verdict.crystal_forms import crystal_forms
from blendwright.verdict.dissolution_and_layers import needed_K
from blendwright.verdict.evaporation import EVAPORATION, Loss, OneLoss, STIRRED_s
from blendwright.verdict.facts import Facts
from blendwright.verdict.flash_findings import FIRE, OneFire
from blendwright.verdict.inputs import INPUTS, OneInput
from blendwright.verdict.layer_findings import LAYERS, OneLiquid
from blendwright.verdict.plastics import PLASTICS, OneContact
from blendwright.verdict.reactions import REACTIONS, OneMixed
from blendwright.verdict.rule import Coded, Rules, coded, spoken
from blendwright.verdict.storage import COOL, FILLING, OneCool, OneFilling

DRIVER_PCT = 10.0  # a row with less of the flammability is not named as driving it
MOST_DRIVERS = 3
LAYER_NAMES = 2
Read = TypeVar("Read")
Read_co = TypeVar("Read_co", covariant=True)


class Named(Protocol[Read_co]):
    """What the words name of one blend, with what its rules read."""

    @property
    def facts(self) -> Read_co: ...


One = TypeVar("One", bound=Named[Any])


@dataclass(frozen=True)
class RuleSection(Generic[Read, One]):
    """Rules on one question: what they read of a block, what they read and name of one blend."""

    rules: Rules[Read, One]
    of_block: Callable[[Facts], Read]
    of_one: Callable[[Blend], One]

    def codes(self, facts: Facts) -> list[Coded]:
        return coded(self.rules, self.of_block(facts))

    def findings(self, blend: Blend) -> list[Finding]:
        one = self.of_one(blend)
        return spoken(self.rules, one.facts, one)


def findings_of(blend: Blend) -> list[Finding]:
    """All findings, the gravest first, otherwise in the order of the bench's questions."""
    return gravest_first(found for section in SECTIONS for found in section.findings(blend))


def codes_of(facts: Facts) -> list[Coded]:
    """Every finding's code and its severity for each blend, in the same order."""
    return [code for section in SECTIONS for code in section.codes(facts)]


# Crystals and layers


def _bench(blend: Blend) -> OneBench:
    return OneBench(blend.window, tuple(s.name for s in blend.dissolved.solids))


def lying_crystals(blend: Blend, temperature_K: float) -> LyingCrystals:
    """What lies as crystals at a temperature, of every substance with groups."""
    found = blend.crystals_at(temperature_K)
    if found is None:
        nothing = np.zeros(len(blend.modelled_components.names))
        return LyingCrystals(temperature_K, nothing, nothing, blend.modelled_components.mass_kg)
    return LyingCrystals(temperature_K, found.value, found.high, found.mass_kg)


def _cold(blend: Blend) -> OneInTheCold:
    names = blend.modelled_components.names
    stays = np.zeros(len(names), dtype=bool)
    for solid in blend.dissolved.solids:
        stays[solid.index] = solid.temperature.interval()[2] > FRIDGE_K
    facts = ColdCrystals(
        np.array([blend.dissolution_word == "dissolves"]),
        blend.temperature_K,
        np.zeros(len(names), dtype=np.int64),
        lying_crystals(blend, FRIDGE_K),
        lying_crystals(blend, FREEZER_K),
        stays,
        np.array([name in crystal_forms() for name in names], dtype=bool),
    )
    return OneInTheCold(facts, names)


def _liquid(blend: Blend) -> OneLiquid:
    chances = blend.chance, blend.chance_in_fridge
    return OneLiquid(*chances, blend.temperature_K, blend.cloud, layers_words(blend))


def layers_words(blend: Blend) -> str:
    """Which layer would hold what, for a sentence; empty where the best estimate is one liquid."""
    parted = blend.layers
    if parted is None:
        return ""
    total_g = 1e3 * float(parted.top_kg.sum() + parted.bottom_kg.sum())
    parts = []
    for place, mass_kg in (("top", parted.top_kg), ("bottom", parted.bottom_kg)):
        order = np.argsort(-mass_kg)[:LAYER_NAMES]
        names = " and ".join(blend.modelled_components.names[i] for i in order if mass_kg[i] > 0.0)
        share = 1e3 * float(mass_kg.sum()) / total_g
        parts.append(f"{place} {per_cent(share)} mostly {names}")
    return ": by weight " + ", ".join(parts)


# Fire and vapour


def top_rows(blend: Blend) -> tuple[str, ...]:
    """The rows that make it flash."""
    ranked = sorted(contributions(blend), key=lambda c: -c.flammability_pct)
    return tuple(c.material for c in ranked if c.flammability_pct >= DRIVER_PCT)[:MOST_DRIVERS]


def _drivers(blend: Blend) -> tuple[str, ...]:
    """The rows that make it flash; where they can't be told, what can't be counted."""
    return top_rows(blend) or tuple(blend.without_vapour_data)


def _fire(blend: Blend) -> OneFire:
    burning = [s for s in blend.modelled_components.substances if s.flash.value is not None]
    lowest = None
    if not blend.without_vapour_data and burning:
        lowest = min(burning, key=lambda s: s.flash.interval()[0])
    needed = needed_K(Interval.from_estimate(blend.last_crystal), blend.temperature_K)
    return OneFire(
        blend.flash.estimate,
        blend.classings[0],
        blend.temperature_K,
        float(needed[0]),
        _drivers(blend),
        lowest.flash if lowest is not None else None,
        lowest.name if lowest is not None else "",
    )


def _losses(blend: Blend) -> OneLoss:
    if blend.headspace is None:
        return OneLoss(())
    exposure = Exposure(OpenBeaker(), blend.temperature_K, blend.pressure_Pa)
    try:
        gone = evaporate(blend.modelled_components, exposure, STIRRED_s, points=1)
    except NotConvergedError:
        return OneLoss(())
    lost_g = blend.modelled_components.row_shares(gone.lost_kg) * 1e3
    return OneLoss(
        [
            Loss(row.label, float(grams), float(grams) / row.grams, row.material.is_water)
            for row, grams in zip(blend.weighing.rows, lost_g, strict=True)
        ]
    )


# The bottle


def _filling(blend: Blend) -> OneFilling:
    bottle = ClosedBottle(closed_at_Pa=blend.pressure_Pa)
    if blend.headspace is None:
        vapour = Estimate.unknown("Pa", "its vapour pressure is unknown")
    else:
        vapour = vapour_pressure_at_50C(blend.modelled_components)
    return OneFilling(
        adr_fill_limit(blend.all_components),
        liquid_full_at_55C(blend.all_components),
        vapour,
        pressure_in_bottle(blend.all_components, bottle, GAS_LIMIT_K, vapour),
        bottle.fill,
        bottle.closed_at_Pa,
    )


def _contact(blend: Blend) -> OneContact:
    return OneContact.of(volume_shares(blend.all_components))


def _cool(blend: Blend) -> OneCool:
    return OneCool(blend.flash.estimate, _drivers(blend))


def _mixed(blend: Blend) -> OneMixed:
    shares = blend.all_components.mass_fractions.tolist()
    materials = (s.material for s in blend.all_components.substances)
    return OneMixed.of(zip(materials, shares, strict=True))


def _input(blend: Blend) -> OneInput:
    left_out = {out.material for out in blend.left_out}
    substances = blend.all_components.substances
    return OneInput(
        blend.left_out,
        blend.mass_share(s for s in substances if s.name in left_out),
        blend.without_vapour_data,
        tuple(dict.fromkeys(s.name for s in substances if not s.material.curated)),
        blend.weighing.summed,
    )


SECTIONS: tuple[RuleSection[Any, Any], ...] = (
    RuleSection(DISSOLUTION, Facts.bench_crystals, _bench),
    RuleSection(IN_THE_COLD, Facts.cold_crystals, _cold),
    RuleSection(LAYERS, Facts.liquids, _liquid),
    RuleSection(FIRE, Facts.fire, _fire),
    RuleSection(EVAPORATION, Facts.row_losses, _losses),
    RuleSection(FILLING, Facts.filling, _filling),
    RuleSection(PLASTICS, Facts.contacts, _contact),
    RuleSection(COOL, Facts.cool, _cool),
    RuleSection(REACTIONS, Facts.mixed, _mixed),
    RuleSection(INPUTS, Facts.inputs, _input),
)
