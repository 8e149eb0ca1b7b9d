"""Odorants by name and by structure: each is found, and has every property that can be estimated.

odorants.csv holds names and structures written from memory for this test; the formula beside each
was written down apart, and must be that of the structure.
"""

from __future__ import annotations

import csv
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from rdkit import Chem
from rdkit.Chem.rdMolDescriptors import CalcMolFormula

from blendwright.catalogue import Catalogue, Material
from blendwright.catalogue.names import normalise
from blendwright.errors import BlendwrightError
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.weighing import from_structure, resolve
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density

FOUND_BY_NAME, FULLY_ESTIMATED = 0.95, 0.98  # issue 19


@dataclass(frozen=True)
class Odorant:
    name: str
    formula: str
    smiles: str

    @property
    def skeleton(self) -> str:
        return str(Chem.MolToInchiKey(Chem.MolFromSmiles(self.smiles))[:14])


ODORANTS = tuple(
    Odorant(row["name"], row["formula"], row["smiles"])
    for row in csv.DictReader(
        (Path(__file__).parent / "odorants.csv").read_text(encoding="utf-8").splitlines()
    )
)


def lacking(material: Material) -> list[str]:
    """The properties without a value of the substance or of its structure."""
    pure, density = pure_constants(material), liquid_density(material, ROOM_K)
    has = {
        "vapour pressure": pure.vapour is not None,
        "boiling point": pure.vapour is not None,
        "flash point": pure.flash.is_ok,
        "density": density.is_ok and "girolami" not in density.sources,
        "lower limit": pure.lower_limit.is_ok,
        "groups": bool(material.groups),
    }
    return [name for name, there in has.items() if not there]


@pytest.mark.parametrize("odorant", ODORANTS, ids=lambda odorant: odorant.name)
def test_the_list_s_structures_have_the_formulas_beside_them(odorant: Odorant) -> None:
    assert CalcMolFormula(Chem.MolFromSmiles(odorant.smiles)) == odorant.formula


def test_of_150_odorants_95_percent_are_found_by_name_and_none_as_another_substance(
    catalogue: Catalogue,
) -> None:
    assert len(ODORANTS) >= 150
    unknown = []
    for odorant in ODORANTS:
        try:
            found = resolve(odorant.name, catalogue)
        except BlendwrightError as error:
            unknown.append(f"{odorant.name}: {error}")
            continue
        assert found.inchikey[:14] == odorant.skeleton, odorant.name
    share = 1.0 - len(unknown) / len(ODORANTS)
    print(f"{share:.1%} of {len(ODORANTS)} odorants by name alone; unknown: {unknown}")
    assert share >= FOUND_BY_NAME


def test_98_percent_are_fully_estimated_by_either_road(catalogue: Catalogue) -> None:
    short: dict[str, list[str]] = {}
    curated = 0
    for odorant in ODORANTS:
        drawn = from_structure(odorant.smiles, catalogue)
        curated += drawn.curated
        roads = [drawn]
        with suppress(BlendwrightError):  # counted by the test above
            roads.append(resolve(odorant.name, catalogue))
        for material in roads:
            if lacks := lacking(material):
                short[odorant.name] = lacks
    share = 1.0 - len(short) / len(ODORANTS)
    print(
        f"{share:.1%} of {len(ODORANTS)} fully estimated, {curated} of them curated; not: {short}"
    )
    assert share >= FULLY_ESTIMATED


@pytest.mark.parametrize("odorant", ODORANTS[::5], ids=lambda odorant: odorant.name)
def test_a_name_and_its_structure_lead_to_equal_values(
    odorant: Odorant, catalogue: Catalogue
) -> None:
    named, drawn = resolve(odorant.name, catalogue), from_structure(odorant.smiles, catalogue)
    if named.inchikey != drawn.inchikey:
        return  # the name tells an isomer that the drawing leaves open
    assert normalise(named.cas) == normalise(drawn.cas)
    assert sorted(map(repr, named.data)) == sorted(map(repr, drawn.data))
    assert dict(named.groups) == dict(drawn.groups)


# As a supplier writes it: what it is there, and what a chemist would expect of it at 20-25 °C.
SUPPLIERS_LIST = (
    # written, state, density g/mL low and high, flash point °C low and high
    ("Isobornyl Formate", None, 0.98, 1.05, 70, 100),
    ("Furfuryl Isovalerate", "liquid", 0.98, 1.08, 70, 110),
    ("2-Methyl-3-furanthiol, natural", "liquid", 1.08, 1.20, 25, 60),
    ("grapefruit mercaptan", "liquid", 0.91, 0.98, 60, 105),
    ("Dipropyl disulphide", "liquid", 0.93, 0.99, 50, 80),
    ("3-(Methylthio)propionaldehyde", "liquid", 1.00, 1.08, 45, 75),
    ("2-Isobutyl-3-methoxypyrazine", "liquid", 0.96, 1.02, 65, 100),
    ("g-Decalactone", "liquid", 0.94, 0.97, 105, 150),
    ("delta-Dodecalactone", "liquid", 0.92, 0.97, 110, 165),
    ("Massoia lactone", "liquid", 0.95, 1.03, 95, 135),
    ("Vanillin", "solid", 1.10, 1.30, 140, 165),
    ("Ethyl maltol", "solid", 1.10, 1.35, 95, 160),
    ("l-Menthol", "solid", 0.87, 0.92, 85, 105),
    ("Raspberry ketone", "solid", 1.02, 1.16, 130, 190),
    ("benzaldehyde PG acetal", "liquid", 1.03, 1.09, 75, 105),
    ("(Z)-3-Hexenyl isovalerate", "liquid", 0.85, 0.90, 60, 85),
    ("Aldehyde C-12 MNA", "liquid", 0.80, 0.85, 75, 105),
    ("12-methyltridecanal", "liquid", 0.80, 0.86, 90, 130),
    ("Sweet orange oil", "liquid", 0.83, 0.86, None, None),
    ("Acetaldehyde 50% in ethanol", "liquid", 0.77, 0.81, None, None),
)


@pytest.mark.parametrize(
    ("written", "state", "light", "heavy", "cool", "hot"), SUPPLIERS_LIST, ids=lambda v: str(v)
)
def test_a_supplier_s_list_resolves_with_sensible_numbers(
    written: str, state: str | None, light: float, heavy: float, cool: float, hot: float,
    catalogue: Catalogue,
) -> None:  # fmt: skip
    material = resolve(written, catalogue)
    if state is not None:  # where an estimated melting point doesn't tell, ±50 °C
        assert material.state_20C == state
    if material.kind != "substance" and not material.accepted("density"):
        return  # of its constituents: tests/catalogue/test_catalogue.py
    density = liquid_density(material, ROOM_K)
    assert light <= density.interval()[0] / 1e3 <= heavy
    if cool is not None:
        assert cool <= pure_constants(material).flash.interval()[0] - 273.15 <= hot
