"""The smallest changes that make a formula meet its goals, each of one kind, and one of several.

One knob at a time (more carrier, part of the carrier swapped, less of one material, a co-solvent)
is turned to the first point where the worst margin reaches zero: a scan for the bracket, then
Brent's method. Several knobs together are found by COBYLA (Powell 1994, in scipy): least sum of
squared relative changes under the margins as constraints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq, minimize

from blendwright.advice.goals import Goal, worst_margin
from blendwright.catalogue import Catalogue
from blendwright.editing import carriers_of, new_row, reweighed, with_grams
from blendwright.mixture.parameter_sets import Array
from blendwright.weighing import Weighing

SCAN = 8
SMALLEST_CHANGE = 1e-3
MOST_CARRIER_FACTOR = 5.0
MOST_COSOLVENT = 0.5  # of the batch
COSOLVENTS = ("ethanol", "benzyl alcohol", "triacetin", "triethyl citrate")
SWAPS = (
    "triacetin",
    "triethyl citrate",
    "ethanol",
    "propylene glycol",
    "MCT oil",
    "benzyl alcohol",
)
MOST_REDUCED = 4  # materials that are tried by themselves
KNOBS = 5  # of the change of several


@dataclass(frozen=True)
class Change:
    """One way to meet the goals. `size` is the relative change, for ranking; `weighing` the result.

    `kind` is "more_carrier", "swap", "less", "cosolvent" or "several".
    """

    kind: str
    words: str
    size: float
    weighing: Weighing


def first_crossing(margin: Callable[[float], float], most: float) -> float | None:
    """The smallest turn of a knob in 0..most with a margin of zero; None where there is none."""
    turns = [most * (i / SCAN) ** 2 for i in range(SCAN + 1)]
    before, value_before = turns[0], margin(turns[0])
    if value_before >= 0.0:
        return 0.0
    for turn in turns[1:]:
        value = margin(turn)
        if value >= 0.0:
            found = brentq(margin, before, turn, xtol=most * SMALLEST_CHANGE)
            # the root's upper side, where the margin is not negative
            return (
                float(found)
                if margin(float(found)) >= 0.0
                else min(most, float(found) + 2.0 * most * SMALLEST_CHANGE)
            )
        before, value_before = turn, value
    return None


def more_carrier(weighing: Weighing, goals: tuple[Goal, ...]) -> Change | None:
    """More of the main carrier."""
    carriers = carriers_of(weighing)
    if not carriers:
        return None
    main = carriers[0]

    def turned(factor: float) -> Weighing:
        return with_grams(weighing, {main.label: main.grams * (1.0 + factor)})

    found = first_crossing(
        lambda f: worst_margin(goals, turned(f).composition), MOST_CARRIER_FACTOR
    )
    if not found:
        return None
    made = turned(found)
    added = made.total_g - weighing.total_g
    words = f"add {added:.3g} g more {main.label} (to {main.grams + added:.4g} g)"
    return Change("more_carrier", words, added / weighing.total_g, made)


def swap(
    weighing: Weighing, goals: tuple[Goal, ...], other: str, catalogue: Catalogue
) -> Change | None:
    """Part of the main carrier replaced by another, weight for weight."""
    carriers = carriers_of(weighing)
    if not carriers or carriers[0].material.name == other:
        return None
    main = carriers[0]

    def turned(share: float) -> Weighing:
        rows = [
            replace(row, grams=row.grams * (1.0 - share)) if row.label == main.label else row
            for row in weighing.rows
        ]
        return reweighed(weighing, [*rows, new_row(other, main.grams * share, catalogue)])

    found = first_crossing(lambda s: worst_margin(goals, turned(s).composition), 1.0)
    if not found:
        return None
    words = f"swap {found:.0%} of the {main.label} for {other} ({main.grams * found:.3g} g)"
    if found > 0.995:
        words = f"use {other} instead of {main.label}"
    size = found * main.grams / weighing.total_g
    return Change("swap", words, size, turned(found))


def less(weighing: Weighing, goals: tuple[Goal, ...], label: str) -> Change | None:
    """Less of one material, its place taken by the main carrier."""
    row = next(r for r in weighing.rows if r.label == label)

    def turned(share: float) -> Weighing:
        return _made_up(weighing, {label: row.grams * (1.0 - share)})

    found = first_crossing(lambda s: worst_margin(goals, turned(s).composition), 1.0)
    if not found:
        return None
    left = row.grams * (1.0 - found)
    words = f"lower {label} from {row.grams:.3g} g to {left:.3g} g, the rest made up with carrier"
    if left < 0.01 * row.grams:
        words = f"leave out {label}"
    # a flavour is its materials: what is taken from one counts by its own share, not by weight
    return Change("less", words, max(found, found * row.grams / weighing.total_g), turned(found))


def cosolvent(
    weighing: Weighing, goals: tuple[Goal, ...], name: str, catalogue: Catalogue
) -> Change | None:
    """Some of a co-solvent on top."""
    if any(row.material.name == name for row in carriers_of(weighing)[:1]):
        return None

    def turned(share: float) -> Weighing:
        row = new_row(name, share * weighing.total_g, catalogue)
        return reweighed(weighing, [*weighing.rows, row])

    found = first_crossing(lambda s: worst_margin(goals, turned(s).composition), MOST_COSOLVENT)
    if not found:
        return None
    words = f"add {found * weighing.total_g:.3g} g of {name}"
    return Change("cosolvent", words, found, turned(found))


def several(weighing: Weighing, goals: tuple[Goal, ...], drivers: Sequence[str]) -> Change | None:
    """A little less of several materials and more carrier together, by COBYLA."""
    carriers = carriers_of(weighing)
    names = list(drivers)[:KNOBS]
    if not carriers or len(names) < 2:
        return None
    main = carriers[0]
    grams = {row.label: row.grams for row in weighing.rows}

    def turned(turns: Array) -> Weighing:
        parts = np.clip(turns, 0.0, 1.0)
        changed = {
            name: grams[name] * (1.0 - float(t)) for name, t in zip(names, parts, strict=False)
        }
        made = _made_up(weighing, changed)
        extra = main.grams * MOST_CARRIER_FACTOR * float(parts[-1])
        row = next(r for r in made.rows if r.label == main.label)
        return with_grams(made, {main.label: row.grams + extra})

    def size(turns: Array) -> float:
        weights = np.array([*(1.0 for _ in names), MOST_CARRIER_FACTOR])
        return float(((weights * turns) ** 2).sum())

    def spare(turns: Array) -> float:
        return worst_margin(goals, turned(turns).composition)

    count = len(names) + 1
    start = np.full(count, 0.3)
    start[-1] = 0.1
    constraints = [{"type": "ineq", "fun": spare}]
    for i in range(count):
        constraints.append({"type": "ineq", "fun": lambda t, i=i: t[i]})
        constraints.append({"type": "ineq", "fun": lambda t, i=i: 0.95 - t[i]})
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
    made = turned(turns)
    parts = [
        f"{name} to {grams[name] * (1 - t):.3g} g"
        for name, t in zip(names, turns, strict=False)
        if t > 0.02
    ]
    extra = main.grams * MOST_CARRIER_FACTOR * float(turns[-1])
    if extra > 0.01 * main.grams:
        parts.append(f"{extra:.3g} g more {main.label}")
    if len(parts) < 2:
        return None
    return Change("several", "together: " + ", ".join(parts), float(np.sqrt(size(turns))), made)


def _made_up(weighing: Weighing, grams: dict[str, float]) -> Weighing:
    """Other grams for some rows, the main carrier making up the weight."""
    carriers = carriers_of(weighing)
    freed = sum(row.grams - grams.get(row.label, row.grams) for row in weighing.rows)
    if carriers:
        grams = {**grams, carriers[0].label: carriers[0].grams + freed}
    return with_grams(weighing, grams)
