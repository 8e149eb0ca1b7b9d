"""Changing a weighed formula: other grams, another carrier, one row more. The input stays as is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blendwright.catalogue import Catalogue
from blendwright.mixture.composition import substances_of
from blendwright.weighing import WeighedRow, Weighing, compose_rows, resolve

CARRIER_FAMILY = "carriers"
SOLVENTS = ("ethanol", "benzyl alcohol", "isopropanol")
SOLVENT_SHARE = 0.2  # of the mass: from here on an alcohol counts as the carrier (own rule)


def is_carrier(row: WeighedRow, total_g: float) -> bool:
    """A row that the others are dissolved in: by its role, by its family, or by its amount."""
    if row.role.casefold() == "carrier":
        return True
    if row.strength is not None and row.material.name != "ethanol":
        return False
    if row.material.family == CARRIER_FAMILY:
        return True
    return row.material.name in SOLVENTS and row.grams >= SOLVENT_SHARE * total_g


def carriers_of(weighing: Weighing) -> tuple[WeighedRow, ...]:
    """The rows that the others are dissolved in, the heaviest first."""
    found = [row for row in weighing.rows if is_carrier(row, weighing.total_g)]
    return tuple(sorted(found, key=lambda row: -row.grams))


def new_row(name: str, grams: float, catalogue: Catalogue) -> WeighedRow:
    """A row of a material that was not in the formula. Raises UnknownMaterialError."""
    material = resolve(name, catalogue)
    return WeighedRow(
        written=name,
        material=material,
        strength=None,
        carrier=None,
        grams=grams,
        substances=tuple(substances_of(material, catalogue.material)),
        role="",
        note="",
        lines=(),
    )


def reweighed(weighing: Weighing, rows: Sequence[WeighedRow]) -> Weighing:
    """The same formula with other rows; rows of nothing are dropped, twins added up."""
    kept: dict[str, WeighedRow] = {}
    for row in rows:
        if row.grams > 0.0:
            twin = kept.get(row.label)
            kept[row.label] = replace(row, grams=row.grams + twin.grams) if twin else row
    made = tuple(kept.values())
    return Weighing(weighing.formula, made, compose_rows(made), weighing.summed)


def with_grams(weighing: Weighing, grams: dict[str, float]) -> Weighing:
    """Other grams for some rows, by label."""
    return reweighed(
        weighing,
        [replace(row, grams=grams.get(row.label, row.grams)) for row in weighing.rows],
    )


def in_carriers(
    weighing: Weighing, shares: Sequence[tuple[str, float]], catalogue: Catalogue
) -> Weighing:
    """The same aromatics in other carriers of the same total weight, in these mass shares."""
    out = {row.label for row in carriers_of(weighing)}
    kept = [row for row in weighing.rows if row.label not in out]
    room_g = weighing.total_g - sum(row.grams for row in kept)
    total = sum(share for _, share in shares)
    added = [new_row(name, room_g * share / total, catalogue) for name, share in shares]
    return reweighed(weighing, [*kept, *added])
