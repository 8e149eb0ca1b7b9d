"""Which groups of a molecule react in a flavour concentrate? By SMARTS, from its structure.

A molecule may have several. `python -m blendwright.pure.structure.reactive` writes the catalogue's
answers to verdict/reactive_groups.csv, so that running needs no structure toolkit.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from blendwright.catalogue import Material, default_catalogue
from blendwright.pure.structure.errors import StructureError
from blendwright.pure.structure.molecule import toolkit

TABLE = Path(__file__).parents[2] / "verdict" / "reactive_groups.csv"
FEWEST_TERPENE_CARBONS = 10  # two isoprene units

SMARTS: Mapping[str, str] = MappingProxyType(
    {
        "aldehyde": "[CX3H1](=O)[#6]",
        # OH and CHO on one ring: vanillin and its kin, salicylaldehyde
        "phenolic_aldehyde": "[CX3H1](=O)[$(c1c([OX2H])cccc1),$(c1cc([OX2H])ccc1),"
        "$(c1ccc([OX2H])cc1)]",
        "ester": "[CX3;!$(C(=O)(O)O)](=O)[OX2;!R][#6;!$([#6]=[OX1])]",
        "ester_not_ethyl": "[CX3;!$(C(=O)(O)O)](=O)[OX2;!R][#6;!$([CH2][CH3]);!$([#6]=[OX1])]",
        "lactone": "[CX3;R](=O)[OX2;R]",
        "delta_lactone": "[CX3;R]1(=O)[OX2;R][#6;R]~[#6;R]~[#6;R]~[#6;R]~1",
        "primary_amine": "[NX3;H2;!$(N[#6]=[O,S,N])][#6]",
        "indole": "c1ccc2[nH]ccc2c1",
        # a carbon of the double bond that carries two carbons, one of them with hydrogen on it
        "terpene_alkene": "[CX4;!H0][CX3;!$(C[#6]=O)]([#6])=[CX3;!$(C[#6]=O)]",
        # 1,2 or 1,3: the ring of the acetal has five or six members
        "glycol": "[OX2H][CX4;!H0;$([CX4][CX4;!H0][OX2H]),$([CX4][CX4][CX4;!H0][OX2H])]",
        "alcohol": "[OX2H][CX4;!H0]",
        "ethanol": "[OX2H][CH2][CH3]",
        "water": "[OX2H2]",
        "carboxylic_acid": "[CX3](=O)[OX2H1]",
    }
)


@cache
def _patterns() -> dict[str, Any]:
    return {name: toolkit().MolFromSmarts(smarts) for name, smarts in SMARTS.items()}


def reactive_groups_of(smiles: str) -> frozenset[str]:
    """The reactive groups of a structure.

    Raises StructureError for what can't be read, MissingExtraError without rdkit.
    """
    molecule = toolkit().MolFromSmiles(smiles)
    if molecule is None:
        raise StructureError(smiles, "it can't be read")
    found = {name for name, p in _patterns().items() if molecule.HasSubstructMatch(p)}
    carbons = sum(atom.GetSymbol() == "C" for atom in molecule.GetAtoms())
    if carbons < FEWEST_TERPENE_CARBONS:
        found.discard("terpene_alkene")
    return frozenset(found)


def table(materials: Iterable[Material]) -> list[tuple[str, str]]:
    """(material, groups) of every material with a structure, those without any group too."""
    return [
        (material.name, " ".join(sorted(reactive_groups_of(material.smiles))))
        for material in materials
        if material.smiles
    ]


def main() -> None:
    """Write the catalogue's table."""
    catalogue = default_catalogue()
    with TABLE.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(("material", "groups"))
        writer.writerows(table(catalogue.material(name) for name in catalogue.names()))


if __name__ == "__main__":
    main()
