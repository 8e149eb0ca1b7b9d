"""Changing a weighed formula: other grams, another carrier, one row more. The input stays as is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.formula import Formula, Row, Strength
from blendwright.formula.numbers import Amount
from blendwright.mixture.composition import substances_of
from blendwright.mixture.weighing import (
    DROP_mL,
    WeighedRow,
    Weighing,
    compose_rows,
    open_row,
    resolve,
)

CARRIER_FAMILY = "carriers"
SOLVENTS = ("ethanol", "isopropanol", "1-propanol", "benzyl alcohol")  # carriers of other families
CARRIER_ROLES = ("carrier", "solvent")
LIGHT_SOLVENTS = ("ethanol", "isopropanol", "1-propanol")
LEAST_CARRIER_SHARE = 0.1  # of the batch (common practice, no source)


def is_carrier(row: WeighedRow, total_g: float) -> bool:
    """A row that the others are dissolved in.

    Written rule: of the catalogue's family "carriers" (or one of SOLVENTS), and its role is carrier
    or solvent, or no role is written and it weighs at least LEAST_CARRIER_SHARE of the batch. A
    little triethyl citrate is a fixative, and the carrier inside a dilution stays there.
    """
    if row.strength is not None and row.material.name != "ethanol":
        return False
    if row.material.family != CARRIER_FAMILY and row.material.name not in SOLVENTS:
        return False
    role = row.role.strip().casefold()
    return role in CARRIER_ROLES or (not role and row.grams >= LEAST_CARRIER_SHARE * total_g)


def is_little_solvent(row: WeighedRow) -> bool:
    """A light solvent however little there is of it: it carries no flavour of its own."""
    role = row.role.strip().casefold()
    return row.material.name in LIGHT_SOLVENTS and (not role or role in CARRIER_ROLES)


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


def diluted_row(row: WeighedRow, percent: float, carrier: str, catalogue: Catalogue) -> WeighedRow:
    """A row's material as a dilution by mass, gram for gram. Raises FormulaError where it can't."""
    problems: list[Problem] = []
    asked = replace(as_row(row), strength=Strength(percent, "mass"), carrier=carrier)
    made = open_row(asked, catalogue, DROP_mL, problems)
    if made is None:
        raise FormulaError(row.label, problems)
    return made


def as_row(row: WeighedRow) -> Row:
    """A weighed row as it would be written into a formula, in grams."""
    return Row(
        material=row.written,
        amount=Amount(row.grams, "g"),
        strength=row.strength,
        carrier="" if row.carrier is None else row.carrier.name,
        role=row.role,
        smiles="" if row.material.curated else row.material.smiles,
        note=row.note,
    )


def as_formula(weighing: Weighing) -> Formula:
    """A weighed formula as it would be written down, every row in grams."""
    rows = tuple(replace(as_row(row), line=line) for line, row in enumerate(weighing.rows, start=1))
    return Formula(weighing.formula.name, rows)


def reweighed(weighing: Weighing, rows: Sequence[WeighedRow]) -> Weighing:
    """The formula with other rows; rows of nothing are dropped, twins added up."""
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
    """The aromatics in other carriers of the same total weight, in these mass shares."""
    out = {row.label for row in carriers_of(weighing)}
    kept = [row for row in weighing.rows if row.label not in out]
    room_g = weighing.total_g - sum(row.grams for row in kept)
    total = sum(share for _, share in shares)
    added = [new_row(name, room_g * share / total, catalogue) for name, share in shares]
    return reweighed(weighing, [*kept, *added])
