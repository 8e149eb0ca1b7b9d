"""How much of a crystal dissolves in a carrier, as the person or a data sheet has it.

A row `solubility`: the value in g to 100 g of the carrier (or, with the unit %, in 100 g of the
solution), at `temperature_C`; the carrier stands in `note`. It becomes a row of the liquid model's
fit (`mixture.excess.measurement`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.catalogue.material import MeasuredSolubility
from blendwright.errors import BlendwrightError, Problem
from blendwright.estimate import to_kelvin
from blendwright.formula.numbers import parse_number, why_no_number
from blendwright.mixture.excess.measurement import solubility_measurement
from blendwright.questions.materials.own_fact import OwnFact

SOLUBILITY = "solubility"
PER_CARRIER = "g/100 g"
PER_SOLUTION = "%"


def with_solubilities(
    solid: Material, facts: Sequence[OwnFact], catalogue: Catalogue, problems: list[Problem]
) -> Material:
    """A material with the person's solubilities before the published ones."""
    made = []
    for fact in facts:
        point = _point(solid, fact, catalogue)
        if isinstance(point, Problem):
            problems.append(point)
            continue
        try:
            solubility_measurement(solid, point)
        except (BlendwrightError, ValueError) as error:
            text = f"the solubility of {solid.name} in {point.solvent} can't be counted: {error}"
            problems.append(Problem(text, fact.line, "value"))
            continue
        made.append(point)
    return replace(solid, solubilities=(*made, *solid.solubilities)) if made else solid


def _point(solid: Material, fact: OwnFact, catalogue: Catalogue) -> MeasuredSolubility | Problem:
    def wrong(text: str, column: str) -> Problem:
        return Problem(text, fact.line, column)

    value, celsius = parse_number(fact.value), parse_number(fact.temperature_C)
    spread = parse_number(fact.uncertainty) if fact.uncertainty else None
    unit = fact.unit or PER_CARRIER
    if unit not in (PER_CARRIER, PER_SOLUTION):
        return wrong(f"a solubility stands in {PER_CARRIER} (of the carrier) or %", "unit")
    if value is None or value <= 0.0 or (unit == PER_SOLUTION and value >= 100.0):
        return wrong(f"{fact.value!r} is not a solubility in {unit}", "value")
    if celsius is None or not -40.0 <= celsius <= 150.0:
        return wrong("needs its temperature, -40 to 150 °C", "temperature_C")
    if fact.uncertainty and (spread is None or not 0.0 < spread < value):
        return wrong(why_no_number(fact.uncertainty), "uncertainty")
    try:
        carrier = default_catalogue().material(catalogue.find(fact.note).name)
    except (BlendwrightError, KeyError) as error:
        return wrong(f"note must name the carrier, a substance of the catalogue ({error})", "note")
    if carrier.kind != "substance" or carrier.name == solid.name:
        return wrong(f"{carrier.name} is no single carrier of {solid.name}", "note")
    per_carrier = value / 100.0 if unit == PER_CARRIER else value / (100.0 - value)
    moles = per_carrier / solid.molar_mass_kg_mol
    x = moles / (moles + 1.0 / carrier.molar_mass_kg_mol)
    ln_sd = None if spread is None else spread / value
    return MeasuredSolubility(carrier.name, to_kelvin(celsius), x, fact.provenance, ln_sd)
