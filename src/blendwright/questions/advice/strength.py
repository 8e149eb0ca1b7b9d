"""How much more of a changed concentrate gives the same strength, material by material?

A material arrives in the drink in the same amount where the dose, by weight, is multiplied by

    (its share of the mass before) / (its share of the mass after)

A dilution counts by what it holds of the material. What the others are dissolved in has no
strength.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.mixture.weighing import WeighedRow, Weighing
from blendwright.questions.editing import CARRIER_FAMILY, SOLVENTS, is_carrier, is_little_solvent

SAME_FACTOR = 0.01


@dataclass(frozen=True)
class SameStrength:
    """`factor` is what the dose is multiplied by; None where the material is left out."""

    material: str
    factor: float | None

    def to_dict(self) -> dict[str, object]:
        return {"material": self.material, "dose_factor": self.factor}


def same_strengths(before: Weighing, after: Weighing) -> tuple[SameStrength, ...]:
    """For each aromatic of the formula as it is, in the order of its rows."""
    old, new = aromatic_shares(before, before), aromatic_shares(after, before)
    return tuple(
        SameStrength(name, share / new[name] if new.get(name, 0.0) > 0.0 else None)
        for name, share in old.items()
    )


def aromatic_shares(weighing: Weighing, original: Weighing) -> dict[str, float]:
    """Mass share of each material that is no solvent, in the original formula or brought in."""
    there = {row.material.name: _dissolves(row, original) for row in original.rows}
    shares: dict[str, float] = {}
    for row in weighing.rows:
        name = row.material.name
        if there.get(name, _is_brought_in_to_dissolve(row)):
            continue
        held = row.grams * row.active_fraction / weighing.total_g
        shares[name] = shares.get(name, 0.0) + held
    return shares


def _dissolves(row: WeighedRow, weighing: Weighing) -> bool:
    """A carrier of the formula, or what is one in another however little of it there is."""
    of_carriers = row.material.family == CARRIER_FAMILY or is_little_solvent(row)
    return of_carriers or is_carrier(row, weighing.total_g)


def _is_brought_in_to_dissolve(row: WeighedRow) -> bool:
    return row.material.family == CARRIER_FAMILY or row.material.name in SOLVENTS


def strength_words(strengths: Sequence[SameStrength]) -> str:
    """One sentence for all materials; "" where there are none."""
    told: list[tuple[float | None, list[str]]] = []
    for one in strengths:
        like = next((names for factor, names in told if _is_same(factor, one.factor)), None)
        if like is None:
            told.append((one.factor, [one.material]))
        else:
            like.append(one.material)
    if len(told) == 1 and told[0][0] is not None:
        return f"every material keeps its strength at {_times(told[0][0])}, by weight"
    parts = [f"{', '.join(names)} at {_times(f)}" for f, names in told if f is not None]
    kept = [f"to keep its strength, by weight: {'; '.join(parts)}"] if parts else []
    gone = [f"no dose brings back {', '.join(names)}" for f, names in told if f is None]
    return "; ".join([*kept, *gone])


def _is_same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one / other - 1.0) <= SAME_FACTOR


def _times(factor: float) -> str:
    if _is_same(factor, 1.0):
        return "the same dose"
    return f"{factor:.3g} times the dose"
