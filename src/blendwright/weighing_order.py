"""In what order do the rows go onto the balance, and what does it show after each?

Written rule (common practice, no source): crystals first, the most of them first, so that a speck
too many is made good by the rest; then the liquids, the heaviest in the vapour's sense first and
the volatile top notes last, so that little of them is lost while the others are weighed; the
carriers at the end, the one that is made up to weight last. A liquid is ranked by its vapour
pressure at 25 °C (of its substances, ideal); one without a known vapour pressure counts as
volatile. Crystals that need warmth are dissolved in a part of the carrier first: `warm` says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from blendwright.conditions import ROOM_K
from blendwright.editing import carriers_of
from blendwright.pure.constants import pure_constants
from blendwright.weighing import WeighedRow, Weighing

Stage = Literal["crystals", "liquids", "carrier"]
_STAGES: tuple[Stage, ...] = ("crystals", "liquids", "carrier")

ORDER_RULE = (
    "Crystals first, then heavy liquids, volatile top notes last, the carrier makes up to weight "
    "(common practice, no source)."
)


@dataclass(frozen=True)
class WeighingStep:
    """One row on the balance: what to add, and what an untared display then shows."""

    row: int
    material: str
    stage: Stage
    grams: float
    running_total_g: float
    makes_up: bool

    def to_dict(self) -> dict[str, object]:
        return {
            "row": self.row,
            "material": self.material,
            "stage": self.stage,
            "grams": self.grams,
            "running_total_g": self.running_total_g,
            "makes_up_to_weight": self.makes_up,
        }


def is_crystal(row: WeighedRow) -> bool:
    """Bought and weighed as a solid."""
    return row.strength is None and row.material.state_20C == "solid"


def vapour_pressure_of_row_Pa(row: WeighedRow) -> float:
    """Of the row as it is poured, by Raoult's law without activity; infinite where unknown."""
    moles = [fraction / part.molar_mass_kg_mol for part, fraction in row.substances]
    total = 0.0
    for (part, _), amount in zip(row.substances, moles, strict=True):
        curve = pure_constants(part).vapour
        if curve is None:
            return math.inf
        total += amount * curve.pressure_Pa(ROOM_K)
    return total / sum(moles)


def make_up_row(weighing: Weighing) -> int | None:
    """The index of the row that is made up to weight: the one written q.s., else the heaviest
    carrier; None where there is no carrier."""
    fillers = {row.line for row in weighing.formula.rows if row.amount.unit == "to weight"}
    for index, row in enumerate(weighing.rows):
        if fillers and fillers & set(row.lines):
            return index
    carriers = carriers_of(weighing)
    return weighing.rows.index(carriers[0]) if carriers else None


def weighing_order(weighing: Weighing) -> tuple[int, ...]:
    """Indices of the rows in the order of the rule above."""
    last = make_up_row(weighing)
    carriers = {id(row) for row in carriers_of(weighing)}

    def place(index: int) -> tuple[int, float, int]:
        row = weighing.rows[index]
        if index == last:
            return len(_STAGES), 0.0, index
        stage = _STAGES.index(_stage(row, carriers))
        rank = vapour_pressure_of_row_Pa(row) if _STAGES[stage] == "liquids" else -row.grams
        return stage, rank, index

    return tuple(sorted(range(len(weighing.rows)), key=place))


def _stage(row: WeighedRow, carriers: set[int]) -> Stage:
    if id(row) in carriers:
        return "carrier"
    return "crystals" if is_crystal(row) else "liquids"


def weighing_steps(
    weighing: Weighing, grams: Sequence[float] | None = None
) -> tuple[WeighingStep, ...]:
    """The rows in order with the running total; `grams` in place of the rows' own, if given."""
    weights = [row.grams for row in weighing.rows] if grams is None else list(grams)
    last = make_up_row(weighing)
    carriers = {id(row) for row in carriers_of(weighing)}
    steps = []
    order = weighing_order(weighing)
    for position, index in enumerate(order):
        row = weighing.rows[index]
        done = order[: position + 1]
        steps.append(
            WeighingStep(
                row=index,
                material=row.label,
                stage="carrier" if index == last else _stage(row, carriers),
                grams=weights[index],
                running_total_g=math.fsum(weights[i] for i in done),
                makes_up=index == last,
            )
        )
    return tuple(steps)
