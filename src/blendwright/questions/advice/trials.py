"""Which changes are tried for a formula, and in which order: first what a maker would try.

Written rule (common practice, no source):

1. The carriers, the aromatics staying as they are: for a flash point, leave out or replace what
   flashes below the wanted one, first by a carrier that is there; add more of a carrier that does
   not; for clearness, another carrier, more of one, a co-solvent. Where no single one is enough,
   two of them together.
2. The aromatics that count most for the flash point: a less volatile relative, or a dilution; where
   no single change of 1 and 2 is enough, together with one of the carriers.
3. Less of one material; less of several only where few ways are found.

They are told in the order of RANK; then one change before two, what is there before what is brought
in, and the smaller before the larger.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from blendwright.catalogue import Catalogue, Material
from blendwright.mixture.composition import substances_of
from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.pure.constants import pure_constants
from blendwright.questions.advice.changes import (
    MOST_TIMES_BATCH,
    Change,
    Kind,
    Solvent,
    cosolvent,
    dilution,
    less,
    more_carrier,
    relative,
    several,
    swap,
    with_rows,
)
from blendwright.questions.advice.goals import Goal, shortfall
from blendwright.questions.advice.knobs import Aim
from blendwright.questions.advice.less_volatile import less_volatile_relatives
from blendwright.questions.editing import carriers_of, is_little_solvent

RANK: Mapping[Kind, int] = {
    "warm": 0,
    "swap": 1,
    "more_carrier": 2,
    "cosolvent": 2,
    "relative": 3,
    "dilution": 3,
    "two_bottles": 4,
    "less": 5,
    "several": 6,
}
FEW = 3  # ways: with fewer, less of several materials is tried too
CARRIERS = (
    "propylene glycol",
    "triacetin",
    "triethyl citrate",
    "ethanol",
    "MCT oil",
    "benzyl alcohol",
)
COSOLVENTS = ("ethanol", "benzyl alcohol", "triacetin", "triethyl citrate")
OF_CARRIERS = 2  # the last rank that leaves the aromatics as they are
MOST_COSOLVENT = 0.5  # of the batch, for clearness beside a carrier
MOST_SWAPS = 4  # carriers that are tried in the place of one
MOST_REDUCED = 4  # materials that are tried by themselves
MOST_MOVED = 2  # materials that are tried as a relative or a dilution
MOST_FIRST = 3  # changes that others are tried together with
PROBE = 0.2  # share taken from a row to see how much it matters


def rank_of(kinds: Sequence[Kind]) -> int:
    """Rank of the change among some that is tried last."""
    return max(RANK[kind] for kind in kinds)


def order_of(change: Change) -> tuple[int, int, int, float]:
    """What is told first."""
    return rank_of(change.kinds), len(change.kinds), change.brings_in, change.size


def drivers_of(weighing: Weighing, goals: tuple[Goal, ...]) -> list[str]:
    """The rows whose lessening helps where the goals are missed, the most helpful first."""
    carriers = {row.label for row in carriers_of(weighing)}
    start = shortfall(goals, weighing.composition)
    gains = []
    for row in weighing.rows:
        if row.label in carriers:
            continue
        lessened = with_rows(weighing, {row.label: row.grams * (1.0 - PROBE)})
        gains.append((shortfall(goals, lessened.composition) - start, row.label))
    return [label for gain, label in sorted(gains, reverse=True) if gain > 1e-6]


@dataclass(frozen=True)
class Trials:
    """The changes that are tried on one formula for one aim."""

    weighing: Weighing
    aim: Aim
    catalogue: Catalogue

    def found(self) -> list[Change]:
        """What meets the goals, in the order of the rule; then what falls short, the nearest
        first."""
        swaps, moved = self._swaps(), self._moved(MOST_MOVED)
        carriers = [*swaps, *self._more_carrier(), *self._cosolvents()]
        tried = [*carriers, *moved, *self._less()]
        if not _any_meets([*carriers, *moved]):
            tried += self._together(swaps, lambda then: [*then._swaps(), *then._more_carrier()])
            first = [*_nearest(swaps), *_nearest(moved)[:1]]
            tried += self._together(first, lambda then: then._moved(1))
            tried += self._together(_nearest(moved)[:1], Trials._more_carrier)
        if not _any_meets(tried):
            tried += self._together(_nearest(swaps)[:1], Trials._less)
        if sum(change.meets for change in tried) < FEW:
            tried += self._several()
        met = sorted((change for change in tried if change.meets), key=order_of)
        return met + _nearest([change for change in tried if not change.meets], len(tried))

    def _together(
        self, first: Sequence[Change], seconds: Callable[[Trials], list[Change]]
    ) -> list[Change]:
        """Changes of the formula that another has changed already."""
        return [
            Change(
                one.kinds + then.kinds,
                f"{one.headline}; {then.headline}",
                one.size + then.size,
                then.weighing,
                then.nearness,
                one.brings_in + then.brings_in,
            )
            for one in _nearest(first)
            for then in seconds(replace(self, weighing=one.weighing))
        ]

    # What the formula has

    @cached_property
    def _limit_K(self) -> float | None:
        """The flash point that is wanted and missed."""
        missed = [goal.temperature_K for goal in self.aim.missed if goal.kind == "flash"]
        return max(missed, default=None)

    def _flashes_too_low(self, material: Material) -> bool:
        """Whether any of its substances flashes below what is wanted."""
        if self._limit_K is None:
            return False
        parts = substances_of(material, self.catalogue.material)
        known = [pure_constants(part).flash.value for part, _ in parts]
        return any(flash_K is not None and flash_K < self._limit_K for flash_K in known)

    @cached_property
    def _solvents(self) -> list[Solvent]:
        """What another carrier may take the place of: for a flash point alone, what flashes too
        low; else every carrier."""
        carriers = {row.label for row in carriers_of(self.weighing)}
        every = any(goal.kind != "flash" for goal in self.aim.missed)
        rows: dict[str, list[str]] = {}
        dilutions: dict[str, list[str]] = {}
        for row in self.weighing.rows:
            name = row.material.name
            if row.label in carriers or is_little_solvent(row):
                if every or self._flashes_too_low(row.material):
                    rows.setdefault(name, []).append(row.label)
            elif row.carrier and _is_dilution(row) and self._flashes_too_low(row.carrier):
                dilutions.setdefault(row.carrier.name, []).append(row.label)
        return [
            Solvent(name, tuple(rows.get(name, ())), tuple(dilutions.get(name, ())))
            for name in dict.fromkeys([*rows, *dilutions])
        ]

    @cached_property
    def _carriers(self) -> list[str]:
        """The carriers that may stay, the heaviest first."""
        return [
            row.label
            for row in carriers_of(self.weighing)
            if row.strength is None and not self._flashes_too_low(row.material)
        ]

    @cached_property
    def _fit_carriers(self) -> list[str]:
        """Carriers that could be brought in."""
        return [n for n in CARRIERS if not self._flashes_too_low(self.catalogue.material(n))]

    @cached_property
    def _filler(self) -> str | None:
        """What makes up the weight of what is taken out; None in a formula without a carrier."""
        if not carriers_of(self.weighing):
            return None
        return next(iter([*self._carriers, *self._fit_carriers]), None)

    @cached_property
    def _drivers(self) -> list[str]:
        """The aromatics that stand in the way, the worst first."""
        solvents = {label for solvent in self._solvents for label in solvent.rows}
        every = drivers_of(self.weighing, self.aim.goals)
        return [label for label in every if label not in solvents]

    # The changes

    def _swaps(self) -> list[Change]:
        others = list(dict.fromkeys([*self._carriers, *self._fit_carriers]))
        return _some(
            swap(self.weighing, self.aim, solvent, other, self.catalogue)
            for solvent in self._solvents
            for other in [o for o in others if o != solvent.name][:MOST_SWAPS]
        )

    def _more_carrier(self) -> list[Change]:
        return _some(more_carrier(self.weighing, self.aim, name) for name in self._carriers)

    def _cosolvents(self) -> list[Change]:
        there = {row.label for row in carriers_of(self.weighing)}
        names = COSOLVENTS if self._limit_K is None else self._fit_carriers
        most = MOST_COSOLVENT if there and self._limit_K is None else MOST_TIMES_BATCH
        return _some(
            cosolvent(self.weighing, self.aim, name, most, self.catalogue)
            for name in [n for n in names if n not in there][:MOST_SWAPS]
        )

    def _moved(self, most: int) -> list[Change]:
        """Relatives and dilutions of the aromatics that count most for the flash point."""
        if self._limit_K is None:
            return []
        made: list[Change | None] = []
        for label in self._drivers[:most]:
            row = next(r for r in self.weighing.rows if r.label == label)
            if row.strength is None:
                made += [
                    relative(self.weighing, self.aim, label, other.name, self.catalogue)
                    for other in less_volatile_relatives(row.material, self.catalogue)
                ]
            if self._filler is not None and (row.strength is None or _is_dilution(row)):
                made.append(dilution(self.weighing, self.aim, label, self._filler, self.catalogue))
        return _some(made)

    def _less(self) -> list[Change]:
        return _some(
            less(self.weighing, self.aim, label, self._filler, self.catalogue)
            for label in self._drivers[:MOST_REDUCED]
        )

    def _several(self) -> list[Change]:
        if not self._carriers:
            return []
        return _some([several(self.weighing, self.aim, self._drivers, self._carriers[0])])


def _is_dilution(row: WeighedRow) -> bool:
    """By mass, in a carrier that can be another."""
    return row.strength is not None and row.strength.basis == "mass" and row.carrier is not None


def _some(changes: Iterable[Change | None]) -> list[Change]:
    return [change for change in changes if change is not None]


def _any_meets(changes: Iterable[Change]) -> bool:
    return any(change.meets for change in changes)


def _nearest(changes: Sequence[Change], most: int = MOST_FIRST) -> list[Change]:
    """Those that come nearest to the goals."""
    return sorted(changes, key=lambda change: (-change.nearness, order_of(change)))[:most]
