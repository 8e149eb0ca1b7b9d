"""What a maker may change in a formula, each change turned until the goals are met (`knobs`).

Carriers first: another in the place of one, more of one, a co-solvent. Then the aromatics: a less
volatile relative, a dilution, less of one. A change holds the grams as they would be weighed (four
digits), and what is said of it is read from those grams.

Several materials together are found by COBYLA (Powell 1994, in scipy): least sum of squared
relative changes under the margins as constraints.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from blendwright.catalogue import Catalogue
from blendwright.errors import BlendwrightError
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.questions.advice.knobs import Aim, Turned, turned
from blendwright.questions.editing import diluted_row, new_row, reweighed
from blendwright.verdict import listed

Kind = Literal[
    "warm",
    "swap",
    "more_carrier",
    "cosolvent",
    "relative",
    "dilution",
    "two_bottles",
    "less",
    "several",
]
GRAMS_DIGITS = 4
WHOLE_FROM = 0.8  # of a row: where more than this goes, all of it does, if that meets the goals too
NOTHING_LEFT = 0.01  # of a row: less of it is left out
MOST_TIMES_BATCH = 4.0  # of a carrier on top of a batch: the dose is then five times as large
STRENGTHS_PCT = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0)  # of dilutions that stand on a shelf
KNOBS = 5  # of the change of several


@dataclass(frozen=True)
class Change:
    """A change or two together: `kinds` of them, and what comes of it.

    `headline` says what to do, without grams; `size` is the relative change, for ranking among its
    like; `nearness` is that of `Aim`: 0 where the goals are met.
    """

    kinds: tuple[Kind, ...]
    headline: str
    size: float
    weighing: Weighing
    nearness: float

    brings_in: int = 0  # materials that were not there

    @property
    def meets(self) -> bool:
        return self.nearness >= 0.0


@dataclass(frozen=True)
class Solvent:
    """A carrier of a formula: the rows that are it, and those that are dilutions in it."""

    name: str
    rows: tuple[str, ...]
    dilutions: tuple[str, ...] = ()


def told_grams(before: Weighing, after: Weighing) -> str:
    """Every row that differs, with its grams as they are weighed: "triacetin 12.5 g (new)"."""
    old = {row.label: row.grams for row in before.rows}
    new = {row.label: row.grams for row in after.rows}
    told = []
    for label in dict.fromkeys([*old, *new]):
        was, now = old.get(label, 0.0), new.get(label, 0.0)
        if was == now:
            continue
        if now == 0.0:
            told.append(f"no {label} (was {in_grams(was)})")
        elif was == 0.0:
            told.append(f"{label} {in_grams(now)} (new)")
        else:
            told.append(f"{label} {in_grams(now)} (was {in_grams(was)})")
    return ", ".join(told)


def in_grams(grams: float) -> str:
    return f"{grams:.{GRAMS_DIGITS}g} g"


def with_rows(
    weighing: Weighing, grams: Mapping[str, float], rows: Sequence[WeighedRow] = ()
) -> Weighing:
    """Other grams for some rows by label, and further rows; what changes is as it is weighed."""
    changed = [
        replace(row, grams=_weighable(grams[row.label])) if row.label in grams else row
        for row in weighing.rows
    ]
    made = reweighed(weighing, [*changed, *rows])
    old = {row.label: row.grams for row in weighing.rows}
    return reweighed(
        weighing,
        [
            row if row.grams == old.get(row.label) else replace(row, grams=_weighable(row.grams))
            for row in made.rows
        ],
    )


def _weighable(grams: float) -> float:
    return float(f"{grams:.{GRAMS_DIGITS}g}")


def topped_up(
    weighing: Weighing, grams: Mapping[str, float], carrier: str | None, catalogue: Catalogue
) -> Weighing:
    """Other grams for some rows, a carrier making up the weight; without one it is not made up."""
    old = {row.label: row.grams for row in weighing.rows}
    freed = sum(old[label] - amount for label, amount in grams.items())
    if carrier is None:
        return with_rows(weighing, grams)
    if carrier in old:
        return with_rows(weighing, {**grams, carrier: old[carrier] + freed})
    return with_rows(weighing, grams, [new_row(carrier, freed, catalogue)])


# Carriers


def swap(
    weighing: Weighing, aim: Aim, solvent: Solvent, other: str, catalogue: Catalogue
) -> Change | None:
    """Another carrier in the place of one, weight for weight: a part of it, or all of it, also in
    dilutions."""
    old = {row.label: row for row in weighing.rows}
    total_g = sum(old[label].grams for label in solvent.rows)

    def part(share: float) -> Weighing:
        left = {label: old[label].grams * (1.0 - share) for label in solvent.rows}
        return with_rows(weighing, left, [new_row(other, total_g * share, catalogue)])

    def whole() -> Weighing:
        gone = dict.fromkeys([*solvent.rows, *solvent.dilutions], 0.0)
        new = [_in_other_carrier(old[label], other, catalogue) for label in solvent.dilutions]
        if total_g > 0.0:
            new.append(new_row(other, total_g, catalogue))
        return with_rows(weighing, gone, new)

    made = whole()
    all_of_it = Turned(1.0, made, aim.nearness(made))
    found = turned(part, aim) if solvent.rows else None
    if not solvent.rows or _prefer_whole(all_of_it, found):
        if not all_of_it.nearness > aim.nearness(weighing):
            return None
        found = all_of_it
    if found is None:
        return None
    is_whole = found is all_of_it
    diluted = [old[label].material.name for label in solvent.dilutions]
    headline = _swap_words(solvent, other, diluted if is_whole else None, other in old)
    moved_g = total_g * found.turn
    if is_whole:
        moved_g += sum(
            old[label].grams * (1.0 - old[label].active_fraction) for label in solvent.dilutions
        )
    size = moved_g / weighing.total_g
    brings_in = int(other not in old)
    return Change(("swap",), headline, size, found.weighing, found.nearness, brings_in)


def _prefer_whole(whole: Turned, part: Turned | None) -> bool:
    """All of it where a part does not do, or where little would be left."""
    if part is None:
        return True
    if part.meets:
        return part.turn > WHOLE_FROM and whole.meets
    return whole.nearness >= part.nearness


def _swap_words(solvent: Solvent, other: str, diluted: Sequence[str] | None, is_there: bool) -> str:
    """`diluted` are the materials whose dilutions change; None where only a part is replaced."""
    if diluted is None:
        return f"replace part of the {solvent.name} with {other}"
    if not solvent.rows:
        return f"dilute {listed(diluted)} in {other} instead of {solvent.name}"
    also = f", also in the dilution of {listed(diluted)}" if diluted else ""
    if is_there:
        return f"leave out the {solvent.name} and make up with {other}{also}"
    return f"use {other} instead of {solvent.name}{also}"


def _in_other_carrier(row: WeighedRow, other: str, catalogue: Catalogue) -> WeighedRow:
    assert row.strength is not None
    return diluted_row(row, row.strength.percent, other, catalogue)


def more_carrier(weighing: Weighing, aim: Aim, carrier: str) -> Change | None:
    """More of a carrier that is there."""
    grams = next(row.grams for row in weighing.rows if row.label == carrier)

    def knob(batches: float) -> Weighing:
        return with_rows(weighing, {carrier: grams + batches * weighing.total_g})

    found = turned(knob, aim, MOST_TIMES_BATCH)
    if found is None:
        return None
    size = (found.weighing.total_g - weighing.total_g) / weighing.total_g
    headline = f"add more {carrier}"
    return Change(("more_carrier",), headline, size, found.weighing, found.nearness)


def cosolvent(
    weighing: Weighing, aim: Aim, name: str, most: float, catalogue: Catalogue
) -> Change | None:
    """Some of a solvent that is not there yet on top, at most a multiple of the batch."""

    def knob(share: float) -> Weighing:
        return with_rows(weighing, {}, [new_row(name, share * weighing.total_g, catalogue)])

    found = turned(knob, aim, most)
    if found is None:
        return None
    brings_in = int(all(row.label != name for row in weighing.rows))
    return Change(
        ("cosolvent",), f"add {name}", found.turn, found.weighing, found.nearness, brings_in
    )


# Aromatics


def relative(
    weighing: Weighing, aim: Aim, label: str, other: str, catalogue: Catalogue
) -> Change | None:
    """A less volatile relative in the place of a material, gram for gram."""
    row = next(r for r in weighing.rows if r.label == label)

    def knob(share: float) -> Weighing:
        new = new_row(other, row.grams * share, catalogue)
        return with_rows(weighing, {label: row.grams * (1.0 - share)}, [new])

    found = turned(knob, aim)
    if found is None:
        return None
    if found.turn > WHOLE_FROM:
        whole = knob(1.0)
        nearness = aim.nearness(whole)
        if nearness >= found.nearness:
            found = Turned(1.0, whole, nearness)
    part = "" if found.turn == 1.0 else "part of "
    headline = f"use {other} instead of {part}the {label}"
    return Change(("relative",), headline, found.turn, found.weighing, found.nearness)


def dilution(
    weighing: Weighing, aim: Aim, label: str, carrier: str, catalogue: Catalogue
) -> Change | None:
    """A material as the strongest usual dilution that meets the goals, gram for gram; where none
    does, as the one that comes nearest."""
    row = next(r for r in weighing.rows if r.label == label)
    start = aim.nearness(weighing)
    best: Change | None = None
    for percent in STRENGTHS_PCT:
        strength = percent * row.active_fraction
        try:
            new = diluted_row(row, strength, carrier, catalogue)
        except BlendwrightError:
            return best
        made = with_rows(weighing, {label: 0.0}, [new])
        nearness = aim.nearness(made)
        headline = f"take {row.material.name} as a {strength:g} % dilution in {carrier}"
        change = Change(("dilution",), headline, 1.0 - percent / 100.0, made, nearness)
        if change.meets:
            return change
        if nearness > (start if best is None else best.nearness):
            best = change
    return best


def less(
    weighing: Weighing, aim: Aim, label: str, carrier: str | None, catalogue: Catalogue
) -> Change | None:
    """Less of one material, its place taken by a carrier."""
    row = next(r for r in weighing.rows if r.label == label)

    def knob(share: float) -> Weighing:
        return topped_up(weighing, {label: row.grams * (1.0 - share)}, carrier, catalogue)

    found = turned(knob, aim)
    if found is None:
        return None
    if found.turn > 1.0 - NOTHING_LEFT:
        whole = knob(1.0)
        found = Turned(1.0, whole, aim.nearness(whole))
    made_up = "" if carrier is None else f", made up with {carrier}"
    words = f"leave out {label}" if found.turn == 1.0 else f"take less {label}"
    # a flavour is its materials: what is taken from one counts by its own share, not by weight
    size = max(found.turn, found.turn * row.grams / weighing.total_g)
    return Change(("less",), words + made_up, size, found.weighing, found.nearness)


def several(weighing: Weighing, aim: Aim, drivers: Sequence[str], carrier: str) -> Change | None:
    """A little less of several materials and more of a carrier together, by COBYLA."""
    names = list(drivers)[:KNOBS]
    if len(names) < 2:
        return None
    grams = {row.label: row.grams for row in weighing.rows}
    carrier_g = grams[carrier]

    def knob(turns: Array) -> Weighing:
        parts = np.clip(turns, 0.0, 1.0)
        changed = {
            name: grams[name] * (1.0 - float(t)) for name, t in zip(names, parts, strict=False)
        }
        freed = sum(grams[name] - amount for name, amount in changed.items())
        extra = weighing.total_g * MOST_TIMES_BATCH * float(parts[-1])
        return with_rows(weighing, {**changed, carrier: carrier_g + freed + extra})

    def size(turns: Array) -> float:
        weights = np.array([*(1.0 for _ in names), MOST_TIMES_BATCH])
        return float(((weights * turns) ** 2).sum())

    def spare(turns: Array) -> float:
        return aim.worst_margin(knob(turns))

    count = len(names) + 1
    start = np.full(count, 0.3)
    start[-1] = 0.1
    constraints = [{"type": "ineq", "fun": spare}]
    for i in range(count):
        constraints.append({"type": "ineq", "fun": lambda t, i=i: t[i]})
        constraints.append({"type": "ineq", "fun": lambda t, i=i: 0.95 - t[i]})
    from scipy.optimize import minimize  # a second of importing, which few answers need

    found = minimize(
        size,
        start,
        method="COBYLA",
        constraints=constraints,
        options={"maxiter": 120, "rhobeg": 0.2, "tol": 2e-3},
    )
    turns = np.clip(found.x, 0.0, 0.95)
    if spare(turns) < 0.0:
        # COBYLA may end a hair outside: move towards more of everything until it is inside
        for _ in range(10):
            turns = np.clip(turns * 1.05 + 1e-3, 0.0, 0.95)
            if spare(turns) >= 0.0:
                break
        else:
            return None
    changed = [name for name, t in zip(names, turns, strict=False) if t > 0.0]
    headline = f"take less of {listed(changed)}, made up with more {carrier}"
    return Change(("several",), headline, float(np.sqrt(size(turns))), knob(turns), 0.0)
