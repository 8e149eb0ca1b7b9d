"""In what order is a batch put together, and what does the balance show after each step?

Written rule (common practice, no source), for everyone who tells an order: most of the carrier
first, crystals in it until clear, the heavy parts, the light parts last and cold, and the rest of
the carrier to make up the weight.

- The carrier is the row written q.s., else the heaviest carrier (`editing.is_carrier`);
  HELD_BACK of it is kept to top up with. Other carriers that are not light go in with it.
- A crystal is bought and weighed as a solid; the most of them first, so that a speck too many is
  made good by the rest.
- A light part holds a substance that flashes below 93 °C, or whose flash point is unknown. Both
  kinds of liquid go in by rising vapour pressure at 25 °C (of their substances, ideal; one without
  a known vapour pressure counts as volatile).
- Without a carrier the heavy parts come before the crystals, as these dissolve in them.

Crystals that the carrier alone does not take dissolve once the light parts are in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.pure.constants import HEAVY_FLASH_K, pure_constants
from blendwright.questions.editing import carriers_of

Stage = Literal["carrier", "crystals", "heavy", "light", "top up"]
Hint = Literal["", "first part", "until clear", "cold", "to weight"]

HELD_BACK = 0.1  # of the carrier, to make up the weight (common practice, no source)
ORDER_RULE = (
    "Most of the carrier first, crystals in it until clear, heavy parts, light parts last and "
    "cold, then top up with the carrier (common practice, no source)."
)


@dataclass(frozen=True)
class WeighingStep:
    """One step on the balance: what to add, what an untared display then shows, and what to mind.

    The carrier has two: its first part, and the rest that makes up the weight.
    """

    row: int
    material: str
    stage: Stage
    grams: float
    running_total_g: float
    hint: Hint = ""

    @property
    def makes_up(self) -> bool:
        return self.stage == "top up"

    @property
    def words(self) -> str:
        """The material, and what to mind."""
        told = {
            "": "",
            "first part": ": the first part",
            "until clear": ": stir until clear",
            "cold": ": from here on cold",
            "to weight": ": make up to weight",
        }[self.hint]
        return f"{self.material}{told}"

    def to_dict(self) -> dict[str, object]:
        return {
            "row": self.row,
            "material": self.material,
            "stage": self.stage,
            "grams": self.grams,
            "running_total_g": self.running_total_g,
            "hint": self.hint,
            "makes_up_to_weight": self.makes_up,
        }


def is_crystal(row: WeighedRow) -> bool:
    """Bought and weighed as a solid."""
    return row.strength is None and row.material.state_20C == "solid"


def is_light(row: WeighedRow) -> bool:
    """Holds a substance that flashes below 93 °C, or whose flash point is unknown."""
    flashes = (pure_constants(material).flash for material, _ in row.substances)
    return any(
        f.status == "unknown" or (f.value is not None and f.value < HEAVY_FLASH_K) for f in flashes
    )


def vapour_pressure_of_row_Pa(row: WeighedRow) -> float:
    """Vapour pressure of the row as it is poured, by Raoult's law without activity; infinite where
    unknown."""
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


def stage_of(weighing: Weighing, number: int) -> Stage:
    """When a row goes in; the carrier's first part, for the one that makes up the weight."""
    row = weighing.rows[number]
    if number == make_up_row(weighing):
        return "carrier"
    if is_crystal(row):
        return "crystals"
    if is_light(row):
        return "light"
    carriers = {id(carrier) for carrier in carriers_of(weighing)}
    return "carrier" if id(row) in carriers else "heavy"


def weighing_steps(
    weighing: Weighing, grams: Sequence[float] | None = None, division_g: float | None = None
) -> tuple[WeighingStep, ...]:
    """The batch by the rule above, with the running total.

    `grams` stand in place of the rows' own, if given; `division_g` is the balance's, which the
    carrier's first part is a multiple of.
    """
    weights = [row.grams for row in weighing.rows] if grams is None else list(grams)
    last = make_up_row(weighing)
    stages = [stage_of(weighing, number) for number in range(len(weighing.rows))]
    order: tuple[Stage, ...] = ("carrier", "crystals", "heavy", "light")
    if "carrier" not in stages:
        order = ("heavy", "crystals", "light")

    def place(number: int) -> tuple[int, bool, float, int]:
        row = weighing.rows[number]
        poured = stages[number] in ("heavy", "light")
        rank = vapour_pressure_of_row_Pa(row) if poured else -row.grams
        return order.index(stages[number]), number != last, rank, number

    portions: list[tuple[int, Stage, float]] = []
    for number in sorted(range(len(stages)), key=place):
        portion = weights[number]
        if number == last:
            portion = first_part_g(portion, division_g)
        if portion > 0.0 or number != last:
            portions.append((number, stages[number], portion))
    if last is not None:
        rest = weights[last] - first_part_g(weights[last], division_g)
        portions.append((last, "top up", rest))
    return tuple(
        WeighingStep(
            number,
            weighing.rows[number].label,
            stage,
            portion,
            math.fsum(g for _, _, g in portions[: position + 1]),
            _hint(portions, position, last),
        )
        for position, (number, stage, portion) in enumerate(portions)
    )


def first_part_g(grams: float, division_g: float | None = None) -> float:
    """First part of the carrier, without what is held back: two figures, rounded down, as the
    balance shows.

    >>> first_part_g(40.05), first_part_g(40.05, 0.01), first_part_g(0.0)
    (36.0, 36.0, 0.0)
    """
    if not grams > 0.0:
        return 0.0
    most = grams * (1.0 - HELD_BACK)
    step = 10.0 ** (math.floor(math.log10(most)) - 1)
    if division_g is not None:
        step = division_g * max(1.0, round(step / division_g))
    digits = max(0, 2 - math.floor(math.log10(step)))
    return round(math.floor(most / step * (1.0 + 1e-12)) * step, digits)


def _hint(portions: Sequence[tuple[int, Stage, float]], position: int, last: int | None) -> Hint:
    number, stage, _ = portions[position]
    before = portions[position - 1][1] if position else None
    after = portions[position + 1][1] if position + 1 < len(portions) else None
    if stage == "top up":
        return "to weight"
    if stage == "carrier" and number == last:
        return "first part"
    if stage == "crystals" and after != "crystals":
        return "until clear"
    return "cold" if stage == "light" and before != "light" else ""
