"""The search for layers over a range of temperatures: what one search tells isn't asked again.

Every question looks for layers in the same liquid, all of it dissolved, each at temperatures of its
own: bench, fridge, cloud point, where it boils and burns. A `Survey` searches once at both ends of
a range. A blend without any incipient phase at either end has none between them, and one whose
incipient phases lie more than FAR above the tangent plane at both ends stays one liquid between
them: of 9,000 random blends (dry and watery, 3 to 12 substances) some 2,800 were of the first kind
and 3,000 of the second, and at four temperatures between the ends a search found no exception. What
was found at a temperature is kept.

Only what several questions are asked about is worth a survey: `Answers.survey`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blendwright.mixture.liquid import Liquid, LiquidAt, is_covered, search_for_layers
from blendwright.mixture.liquid_split import Stabilities
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.rows import picked
from blendwright.mixture.substances import Substances, made_once
from blendwright.pure.roots import Bools, Ints

COLDEST_K, WARMEST_K = 253.15, 353.15
FAR = 0.05  # RT
FEW = 8  # blends of which all temperatures are searched at side by side
MOST_SHARED = 64  # temperatures of one request that are kept

SURVEY = "survey"


@dataclass(eq=False)
class _AtOne:
    """What was found at one temperature, of the blends that were looked at."""

    found: Stabilities
    is_known: Bools


class Survey:
    """Stabilities of the blends of one part, all dissolved in one liquid.

    `is_bare` marks those without an incipient phase between COLDEST_K and WARMEST_K, `is_far` those
    that are one liquid there.
    """

    def __init__(self, substances: Substances, part: Part, asked_K: Sequence[float] = ()) -> None:
        self.x = part.x
        self._kept: dict[float, _AtOne] = {}
        size = len(part)
        self.is_bare, self.is_far = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
        where = np.flatnonzero(is_covered(substances, part))
        if not where.size:
            return
        side_by_side = where.size <= FEW
        ends = (WARMEST_K, COLDEST_K)
        every = tuple(dict.fromkeys((*ends, *asked_K)))[:MOST_SHARED]
        for kelvins in (every,) if side_by_side else ((kelvin,) for kelvin in ends):
            rows = np.tile(where, len(kelvins))
            liquid = Liquid(substances, part.index[rows])
            self.stabilities(rows, liquid.at(np.repeat(kelvins, where.size)), part.x[rows])
        warm, cold = (self._kept[kelvin].found.only(where) for kelvin in ends)
        bare, far = np.ones(where.size, dtype=bool), np.ones(where.size, dtype=bool)
        for found in (warm, cold):
            bare &= ~found.has_rival & found.settled
            far &= (~found.has_rival | (found.distance > FAR)) & found.settled
        self.is_bare[where], self.is_far[where] = bare, far

    def stabilities(
        self, rows: Ints, model: LiquidAt, x: Array, only_sides: bool = False
    ) -> Stabilities:
        """What a search finds of some blends, each at its temperature. With `only_sides` it need
        only be right about the side of the tangent plane."""
        kelvin = model.temperatures_K
        found = Stabilities.none_yet(x)
        open_ = ~(_inside(kelvin) & (self.is_far if only_sides else self.is_bare)[rows])
        shared = sorted(set(kelvin[open_].tolist()))
        if len(shared) > MOST_SHARED:
            shared = []
        for one in shared:
            kept = self._kept.get(one)
            if kept is not None:
                here = np.flatnonzero(open_ & (kelvin == one))
                here = here[kept.is_known[rows[here]]]
                found.put(here, kept.found.only(rows[here]))
                open_[here] = False
        where = np.flatnonzero(open_)
        if where.size:
            some = model if where.size == len(rows) else model.only(where)
            more = search_for_layers().stabilities(some, picked(x, where))
            found.put(where, more)
            for one in shared:
                own = np.flatnonzero(kelvin[where] == one)
                if own.size:
                    self._keep(one, rows[where[own]], more.only(own))
        return found

    def _keep(self, kelvin: float, rows: Ints, found: Stabilities) -> None:
        kept = self._kept.get(kelvin)
        if kept is None:
            none = Stabilities.none_yet(self.x)
            kept = self._kept[kelvin] = _AtOne(none, np.zeros(len(self.x), dtype=bool))
        kept.found.put(rows, found)
        kept.is_known[rows] = True


def most_unstable(liquid: Liquid, x: Array, temperatures_K: float | Array) -> Stabilities:
    """By the draw with the largest excess energy of each blend."""
    worst = np.argmax(liquid.draw_shifts(x, x, temperatures_K), axis=1)
    return search_for_layers().stabilities(liquid.at(temperatures_K, worst), x)


def make_survey(substances: Substances, part: Part, asked_K: Sequence[float] = ()) -> Survey:
    """The survey of a part, from now on used by all that asks about its blends; `asked_K` are
    temperatures that will be asked about besides."""
    whole, _ = part.origin
    return made_once(whole.kept, SURVEY, lambda: Survey(substances, whole, asked_K))


def _surveyed(part: Part) -> tuple[Survey | None, Ints]:
    whole, rows = part.origin
    survey = whole.kept.get(SURVEY)
    return (survey if isinstance(survey, Survey) else None), rows


def stabilities(part: Part, model: LiquidAt, only_sides: bool = False) -> Stabilities:
    """What `Search.stabilities` finds of the blends of a part, each at the model's temperature."""
    survey, rows = _surveyed(part)
    known = np.flatnonzero(rows >= 0)
    if survey is None or not known.size:
        return search_for_layers().stabilities(model, part.x)
    if known.size == len(part):
        return survey.stabilities(rows, model, part.x, only_sides)
    found = Stabilities.none_yet(part.x)
    other = np.flatnonzero(rows < 0)
    found.put(other, search_for_layers().stabilities(model.only(other), part.x[other]))
    own = survey.stabilities(rows[known], model.only(known), part.x[known], only_sides)
    found.put(known, own)
    return found


def _inside(temperatures_K: float | Array) -> bool | Bools:
    return (temperatures_K >= COLDEST_K) & (temperatures_K <= WARMEST_K)
