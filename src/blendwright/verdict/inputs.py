"""What was left out of the answers, what is not curated, and what was summed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.estimate import per_cent
from blendwright.pure.constants import PureConstants
from blendwright.pure.roots import Bools
from blendwright.verdict.finding import MOST_NAMES, listed
from blendwright.verdict.rule import CAUTION, INFO, WARNING, Rule, Rules, Words, when


@dataclass(frozen=True)
class LeftOut:
    """A material that could not be counted in one of the answers, and why."""

    material: str
    left_from: str
    why: str


def left_out_of(substance: PureConstants) -> tuple[LeftOut, ...]:
    """Where a substance can't be counted. Written rule:

    No groups: left out of every activity model. A heavy one (flash point at 93 °C or more and
    boiling at 200 °C or more) leaves the answers standing, with a note; any other makes vapour and
    flash point unknown. No vapour pressure: vapour and flash point unknown.
    """
    found, name = [], substance.name
    if not substance.groups:
        hidden = substance.material.is_undisclosed
        why = "undisclosed composition" if hidden else "no UNIFAC groups"
        found.append(LeftOut(name, "activity", why))
    if substance.vapour is None:
        found.append(LeftOut(name, "vapour", "no vapour pressure is known for it"))
    if substance.flash.status == "unknown":
        found.append(LeftOut(name, "flash point", "no flash point is known or to be estimated"))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class InputFacts:
    """For each blend whether something is left out, whether that makes its vapour unknown, whether
    something is not curated, and whether rows were summed."""

    left_out: Bools
    lacks_vapour_data: Bools
    not_curated: Bools
    summed: Bools


@dataclass(frozen=True)
class OneInput:
    """Those of one blend; `left_out_share` is the share of its mass that is left out somewhere."""

    left_out: Sequence[LeftOut]
    left_out_share: float
    without_vapour_data: Sequence[str]
    not_curated: tuple[str, ...]
    summed: tuple[str, ...]

    @property
    def facts(self) -> InputFacts:
        what = self.left_out, self.without_vapour_data, self.not_curated, self.summed
        return InputFacts(*(np.array([bool(some)]) for some in what))

    def counted_nowhere(self) -> Words:
        first, more = self.left_out[:MOST_NAMES], len(self.left_out) - MOST_NAMES
        return (
            f"{per_cent(self.left_out_share, 1)} of the mass can't be counted everywhere: "
            + "; ".join(f"{o.material} from {o.left_from} ({o.why})" for o in first)
            + (f"; and {more} more." if more > 0 else "."),
            "The answers are less certain; a measured value helps.",
            tuple(dict.fromkeys(out.material for out in self.left_out)),
        )

    def unchecked(self) -> Words:
        return (
            f"Not in our catalogue, taken unchecked from a library: {listed(self.not_curated)}.",
            "Check the name, and the supplier's data sheet.",
            self.not_curated,
        )

    def added_up(self) -> Words:
        return (
            f"Rows of one material were added up: {listed(self.summed)}.",
            "Check that the second row is not a mistake.",
            self.summed,
        )


INPUTS: Rules[InputFacts, OneInput] = (
    Rule(
        "LEFT-OUT",
        lambda facts: facts.left_out * np.where(facts.lacks_vapour_data, WARNING, CAUTION),
        OneInput.counted_nowhere,
    ),
    Rule("NOT-CURATED", lambda facts: when(facts.not_curated, CAUTION), OneInput.unchecked),
    Rule("ROWS-SUMMED", lambda facts: when(facts.summed, INFO), OneInput.added_up),
)
