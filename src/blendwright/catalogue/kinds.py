"""What kind of substance is it? One word by its groups, for errors that differ by kind.

By the original UNIFAC's main groups, the first of KINDS that applies; "other" without groups.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache
from typing import Literal, get_args

from blendwright.catalogue.material import Material, atoms

ChemicalKind = Literal[
    "acid",
    "phenol",
    "aromatic",
    "terpene",
    "aliphatic ester",
    "alcohol",
    "carbonyl",
    "hydrocarbon",
    "other",
]
KINDS: tuple[ChemicalKind, ...] = get_args(ChemicalKind)
ACID_GROUPS = {42, 43}
PHENOL_GROUPS = {17}
AROMATIC_GROUPS = {9, 10, 11, 12, 13}
ALKENE_GROUPS = {5, 6, 7, 8, 70}
ESTER_GROUPS = {21, 22, 23, 77}
ALCOHOL_GROUPS = {14}
CARBONYL_GROUPS = {18, 19, 20}
HYDROCARBON_GROUPS = {1, 2, 3, 4} | ALKENE_GROUPS
TERPENE_CARBONS = range(10, 18)  # mono- and sesquiterpenes, and their acetates


@lru_cache(maxsize=4096)
def kind_of(material: Material) -> ChemicalKind:
    """By its groups, its formula and its family in the catalogue."""
    groups = material.groups.get("original", {})
    return kind_by_groups(groups, material.formula, material.family == "terpenes")


def kind_by_groups(
    groups: Collection[int], formula: str, of_terpenes: bool = False
) -> ChemicalKind:
    """The kind from the subgroup numbers of the original UNIFAC.

    Terpenes are known by a double bond (or their family in the catalogue) on 10 to 17 carbons.
    A glycol counts as an alcohol, a lactone as an ester.

    >>> kind_by_groups({1, 2, 22}, "C6H12O2")
    'aliphatic ester'
    """
    found = set(groups)
    carbons = atoms(formula).get("C", 0) if formula else 0
    if found & ACID_GROUPS:
        return "acid"
    if found & PHENOL_GROUPS:
        return "phenol"
    if found & AROMATIC_GROUPS:
        return "aromatic"
    if carbons in TERPENE_CARBONS and (of_terpenes or found & ALKENE_GROUPS):
        return "terpene"
    if found & ESTER_GROUPS:
        return "aliphatic ester"
    if found & CARBONYL_GROUPS:
        return "carbonyl"
    if found & ALCOHOL_GROUPS:
        return "alcohol"
    if found and found <= HYDROCARBON_GROUPS:
        return "hydrocarbon"
    return "other"
