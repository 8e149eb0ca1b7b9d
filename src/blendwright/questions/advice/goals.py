"""What a formula should be: clear at some temperature, flashing above some temperature.

Each goal has a margin, at least zero where it is met: that the liquid is one with a chance of
layers below TARGET_CHANCE, that every crystal is likely dissolved (as the word "dissolves" has it),
that the flash point lies at or above the limit (by the best estimate).

The margins are those of the models, moved by what `Moved` holds: the air pressure, and what the
person's own measurements say of one blend. `of_blend` gives the goals that belong to a blend, so
that a margin is met where an assessment of that blend says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from blendwright.errors import NotConvergedError
from blendwright.estimate import to_celsius
from blendwright.mixture.clarity import clarity
from blendwright.mixture.composition import Composition
from blendwright.mixture.dissolution import undersaturations
from blendwright.mixture.excess.measurement import Shift
from blendwright.mixture.flash_point import barometric_K, flash_temperature_K
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, LIKELY_Z, SURELY_CLEAR_BELOW

TARGET_CHANCE = 0.9 * SURELY_CLEAR_BELOW  # a little inside, so that rounded grams keep it
STILL_CLEAR_CHANCE = 0.9 * CLEAR_BELOW
TARGET_UNDERSATURATION_LN = 0.02
FLASH_UNIT_K = 10.0  # one unit of margin
FLASH_SPARE_K = 0.2
MOST_MARGIN = 5.0
UNTOLD = -100.0  # the margin of what can't be told: further off than any flash point


@dataclass(frozen=True)
class Moved:
    """By how much a blend differs from the models at 101.3 kPa: its flash point (K), the log-odds
    of layers at a goal's temperature, and the liquid model by measured crystals."""

    flash_K: float = 0.0
    log_odds: float = 0.0
    shifts: tuple[Shift, ...] = ()


@dataclass(frozen=True)
class Goal:
    """`kind` "clear" (surely no layers, no crystals at `temperature_K`), "stays" (still more likely
    clear than not, no crystals) or "flash" (flash point at or above it)."""

    kind: str
    temperature_K: float
    moved: Moved = Moved()

    @property
    def words(self) -> str:
        celsius = to_celsius(self.temperature_K)
        if self.kind == "clear":
            return f"clear and dissolved at {celsius:g} °C"
        if self.kind == "stays":
            return f"still one liquid without crystals at {celsius:g} °C"
        return f"flash point at {celsius:g} °C or above"


def margins(goal: Goal, composition: Composition) -> list[float]:
    """The margins of a goal: of the flash point; or of the liquid and of each crystal.

    At least zero where it is met; UNTOLD where it can't be told.
    """
    if goal.kind == "flash":
        return [_flash_margin(composition, goal.temperature_K - goal.moved.flash_K)]
    composition = composition.given(goal.moved.shifts)
    found = clarity(composition, goal.temperature_K)
    if found is None:
        return [UNTOLD]
    # in log-odds, so that a certain split still has a slope
    chance = min(max(found.chance_of_split, 1e-6), 1.0 - 1e-6)
    target = TARGET_CHANCE if goal.kind == "clear" else STILL_CLEAR_CHANCE
    liquid = _logit(target) - _logit(chance) - goal.moved.log_odds
    solids = undersaturations(composition, goal.temperature_K, LIKELY_Z)
    every = [liquid, *(float(s) - TARGET_UNDERSATURATION_LN for s in solids)]
    return [max(-MOST_MARGIN, min(m, MOST_MARGIN)) for m in every]


def of_blend(goals: tuple[Goal, ...], blend: Blend) -> tuple[Goal, ...]:
    """The goals with what the air and the person's observations say of a blend."""
    barometric = barometric_K(blend.pressure_Pa)
    return tuple(
        replace(
            goal,
            moved=Moved(
                barometric + blend.flash_shift_K,
                blend.log_odds_shift(goal.temperature_K),
                blend.condensed.shifts,
            ),
        )
        for goal in goals
    )


def margin(goal: Goal, composition: Composition) -> float:
    """The least margin of one goal."""
    return min(margins(goal, composition))


def shortfall(goals: tuple[Goal, ...], composition: Composition) -> float:
    """The sum of all negative margins: 0 where every goal is met."""
    return sum(min(0.0, m) for goal in goals for m in margins(goal, composition))


def _logit(chance: float) -> float:
    return math.log(chance / (1.0 - chance))


def _flash_margin(composition: Composition, limit_K: float) -> float:
    """Not bounded below, so that of two blends that fall short the nearer one shows."""
    burning = [s for s in composition.substances if s.flash.status != "not_applicable"]
    if not burning:
        return MOST_MARGIN
    lacking = any(s.vapour is None or s.flash.value is None for s in burning)
    if not composition.is_covered or lacking:
        return UNTOLD
    try:
        found = flash_temperature_K(composition, limit_K)
    except NotConvergedError:
        return UNTOLD
    if found is None:
        return MOST_MARGIN
    return min((found - limit_K - FLASH_SPARE_K) / FLASH_UNIT_K, MOST_MARGIN)


def worst_margin(goals: tuple[Goal, ...], composition: Composition) -> float:
    """The least of all goals' margins."""
    return min(margin(goal, composition) for goal in goals)
