"""One table of answers for a block of blends: what `assess` says of each, without a Python loop.

`columns` takes weighed formulas, `block_columns` a `Block` (which `Block.from_long` makes of a long
table). The numbers are those of `assess`: both ask `mixture.answers`.

A block pays from some hundred blends up, and best with 2,000 to 4,000: many steps are needed by a
few blends only, and cost the same for one of them as for a hundred.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.app.batch.questions import ESTIMATES, QUESTIONS
from blendwright.estimate import to_celsius
from blendwright.mixture.answers import Answers
from blendwright.mixture.block import Block
from blendwright.mixture.interval import Interval
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.weighing import Weighing
from blendwright.verdict.facts import Facts
from blendwright.verdict.findings import codes_of
from blendwright.verdict.rule import joined

AnyArray = NDArray[Any]
# asked about at several temperatures: the search for layers looks at the ends first
SEVERAL_TEMPERATURES = frozenset({"cloud", "findings"})
OTHERS = {
    "flash": ("ghs_category", "ghs_standing", "ghs_treat_as"),
    "crystals": ("dissolution",),
    "layers": ("chance_of_layers", "liquid"),
    "findings": ("findings", "has_warning"),
}


def columns(
    weighings: Sequence[Weighing],
    temperature_K: float,
    pressure_Pa: float,
    only: frozenset[str],
) -> dict[str, AnyArray]:
    """Arrays of the length of `weighings`, in display units; `only` names QUESTIONS.

    Raises ValueError for a question that isn't one of them.
    """
    return block_columns(Block.from_weighings(weighings), temperature_K, pressure_Pa, only)


def block_columns(
    block: Block, temperature_K: float, pressure_Pa: float, only: frozenset[str]
) -> dict[str, AnyArray]:
    """The columns of a block."""
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
    """The columns of a block: `Answers` in display units, its words and findings."""

    def __init__(
        self, block: Block, temperature_K: float, pressure_Pa: float, only: frozenset[str]
    ) -> None:
        unknown = only - set(QUESTIONS)
        if unknown:
            raise ValueError(f"no such question: {', '.join(sorted(unknown))}")
        self.answers = Answers(block, temperature_K, pressure_Pa)
        self.only = only
        self._made: dict[str, AnyArray] = {}

    def columns(self) -> dict[str, AnyArray]:
        """All columns of the questions asked, in their order."""
        block = self.answers.block
        if not block.size:
            return {name: np.zeros(0) for name in column_names(self.only)}
        self._made = {"mass_g": block.mass_g}
        if self.only & SEVERAL_TEMPERATURES:
            self.answers.survey()
        for question in QUESTIONS:
            if question in self.only:
                getattr(self, f"_{question}")()
        return self._made

    def _tell(self, name: str, found: Interval, in_display_units: Callable[[Array], Array]) -> None:
        """Value, low and high in its display unit, and the status."""
        for end, value in (("", found.value), ("_low", found.low), ("_high", found.high)):
            self._made[name + end] = in_display_units(value)
        self._made[f"{name}_status"] = found.status

    def _density(self) -> None:
        density = self.answers.density
        self._tell("density_g_mL", density, lambda v: v / 1e3)
        mass = self.answers.block.mass_g / 1e3
        volume = Interval.of(
            mass / density.value, mass / density.high, mass / density.low, density.status
        )
        self._tell("volume_mL", volume, lambda v: v * 1e6)

    def _vapour(self) -> None:
        self._tell("vapour_pressure_kPa", self.answers.vapour_pressure, lambda v: v / 1e3)
        self._tell("lower_flammable_limit_vol_pct", self.answers.lower_limit, lambda v: v * 100.0)

    def _boiling(self) -> None:
        self._tell("initial_boiling_point_C", self.answers.boiling, to_celsius)

    def _flash(self) -> None:
        self._tell("flash_point_closed_cup_C", self.answers.flash, to_celsius)
        self._made["ghs_category"] = self.facts.classes.category
        self._made["ghs_standing"] = self.facts.classes.standing
        self._made["ghs_treat_as"] = self.facts.classes.treat_as

    def _crystals(self) -> None:
        self._tell("dissolved_share", self.answers.dissolved_share, lambda v: 100.0 * v)
        self._tell("dissolution_temperature_C", self.answers.last_crystal, to_celsius)
        self._made["dissolution"] = self.facts.dissolution
        self._made["chance_of_crystals"] = self.facts.chance_of_crystals

    def _layers(self) -> None:
        self._made["chance_of_layers"] = self.answers.chance
        self._made["liquid"] = self.facts.liquid

    def _cloud(self) -> None:
        self._tell("cloud_temperature_C", self.answers.cloud, to_celsius)

    def _findings(self) -> None:
        self._made["findings"], self._made["has_warning"] = joined(codes_of(self.facts))

    @cached_property
    def facts(self) -> Facts:
        return Facts(self.answers, every_cloud="cloud" in self.only)
