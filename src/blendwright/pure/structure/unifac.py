"""Which groups of the published UNIFAC sets is a molecule made of?

`original` and `dortmund` come from the DDBST tables in `thermo` by InChIKey (then by its first
block), else from `ugropy`; an assignment counts only where its atoms add up to the molecule's.
`liquid_liquid` and `nist` follow from those by renaming, and are left empty where the set divides
molecules otherwise (lactones, epoxides, phenol esters in NIST; the ring ether in UNIFAC-LLE).
What neither divides gets the nearest groups (`nearest_groups`), marked as an analogue; what only
one divides gets the other's nearest groups, as the liquid model needs both.
Sources: Fredenslund, Jones, Prausnitz 1975; Weidlich and Gmehling 1987; Magnussen, Rasmussen,
Fredenslund 1981; Kang, Diky, Frenkel 2015; DDBST assignments as in thermo 0.6.1; ugropy 3.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from blendwright.catalogue.material import atoms
from blendwright.pure.structure.errors import MissingExtraError
from blendwright.pure.structure.molecule import Molecule, toolkit
from blendwright.pure.structure.nearest_groups import NEAREST, nearest_groups

Groups = dict[int, int]

BY_DDBST = "DDBST assignment in thermo"
BY_UGROPY = "ugropy"

# atoms of the groups of C, H, O, N, S, by their name in thermo (upper case)
GROUP_FORMULAS: Mapping[str, str] = {
    "CH3": "CH3", "CH2": "CH2", "CH": "CH", "C": "C",
    "CH2=CH": "C2H3", "CH=CH": "C2H2", "CH2=C": "C2H2", "CH=C": "C2H", "C=C": "C2",
    "CH=-C": "C2H", "C=-C": "C2",
    "ACH": "CH", "AC": "C", "ACCH3": "C2H3", "ACCH2": "C2H2", "ACCH": "C2H",
    "OH": "OH", "OH(P)": "OH", "OH(S)": "OH", "OH(T)": "OH", "CH3OH": "CH4O", "ACOH": "COH",
    "CH3CO": "C2H3O", "CH2CO": "C2H2O", "CHO": "CHO",
    "CH3COO": "C2H3O2", "CH2COO": "C2H2O2", "HCOO": "CHO2", "COO": "CO2",
    "CH3O": "CH3O", "CH2O": "CH2O", "CY-CH2O": "CH2O",
    "COOH": "CHO2", "HCOOH": "CH2O2", "FURFURAL": "C5H4O2", "DOH": "C2H6O2",
    "C2H5O2": "C2H5O2", "C2H4O2": "C2H4O2",
    "CH3NH2": "CH5N", "CH2NH2": "CH4N", "CHNH2": "CH3N", "CNH2": "CH2N",
    "CH3NH": "CH4N", "CH2NH": "CH3N", "CHNH": "CH2N", "CH3N": "CH3N", "CH2N": "CH2N",
    "ACNH2": "CH2N", "C5H5N": "C5H5N", "C5H4N": "C5H4N", "C5H3N": "C5H3N",
    "AC2H2N": "C2H2N", "AC2HN": "C2HN", "AC2N": "C2N",
    "CH3CN": "C2H3N", "CH2CN": "C2H2N", "ACRY": "C3H3N",
    "CH3NO2": "CH3NO2", "CH2NO2": "CH2NO2", "CHNO2": "CHNO2", "ACNO2": "CNO2",
    "CS2": "CS2", "CH3SH": "CH4S", "CH2SH": "CH3S", "CH3S": "CH3S", "CH2S": "CH2S", "CHS": "CHS",
    "C4H4S": "C4H4S", "C4H3S": "C4H3S", "C4H2S": "C4H2S",
    "AC2H2S": "C2H2S", "AC2HS": "C2HS", "AC2S": "C2S", "-S-S-": "S2",
    "DMSO": "C2H6OS", "DMF": "C3H7NO", "CONH2": "CH2NO",
    "CY-CH2": "CH2", "CY-CH": "CH", "CY-C": "C",
    "H2COCH": "C2H3O", "HCOCH": "C2H2O", "COCH": "C2HO", "H2COCH2": "C2H4O", "H2COC": "C2H2O",
}  # fmt: skip
RING_ETHER = 27
RING_ETHER_FORMULAS = {"original": "CH2O", "dortmund": "C2H4O"}  # the id is named THF in both
ALDEHYDE, ETHER_CH = 20, 26  # both named CHO
UGROPY_NAMES: Mapping[str, str] = {
    "OH (P)": "OH(P)", "OH (S)": "OH(S)", "OH (T)": "OH(T)", "CH#C": "CH=-C", "C#C": "C=-C",
}  # fmt: skip

# UNIFAC-LLE counts these under other numbers than the name gives
LLE_ALDEHYDE, LLE_ETHER_CH, LLE_FURFURAL = 21, 29, 22
LLE_WHOLE = {"CCCO": 15, "CC(C)O": 16}  # 1-propanol, 2-propanol
NIST_WHOLE: Mapping[str, Groups] = {"CC(O)CO": {1: 1, 205: 1}, "OCC(O)CO": {204: 1}}

# Dortmund groups that are the same in the NIST set, under the same number
NIST_SAME = frozenset(
    {1, 2, 3, 4, 5, 6, 7, 8, 70, 9, 10, 11, 12, 13, 14, 81, 82, 15, 17, 18, 19, 20, 21, 22, 23, 24,
     25, 26, 28, 29, 30, 85, 31, 32, 33, 34, 35, 36, 37, 38, 39, 40, 41, 42, 43, 54, 55, 56, 57, 59,
     60, 61, 62, 65, 66, 77, 78, 79, 80, 104, 105, 106}
)  # fmt: skip
NIST_SULFIDES = {122: 134, 123: 135, 124: 136}
RING_ALKENES = {(0, 1): (8, 202), (1, 1): (6, 201), (0, 0): (70, 203)}
NIST_OTHERWISE = ("C1OC1", "[C;R](=O)[O;R]", "cOC(=O)[#6]", "c[SX2]")
AROMATIC_PAIRS = (("c[CX3H1]=O", 20, 123), ("cC(=O)[OX2H]", 42, 124))


def unifac_groups(molecule: Molecule) -> tuple[dict[str, Groups], str]:
    """({set: {subgroup: count}}, who assigned); a set without an assignment is left out."""
    assigned: dict[str, Groups] = {}
    by: list[str] = []
    for name in ("original", "dortmund"):
        for author, groups in ((BY_DDBST, _ddbst(molecule, name)), (BY_UGROPY, None)):
            if author == BY_UGROPY:
                groups = _ugropy(molecule, name)
            if groups and _adds_up(molecule, name, groups):
                assigned[name] = groups
                by.append(author)
                break
    missing = {"original", "dortmund"} - set(assigned)
    nearest = nearest_groups(molecule) if missing else {}
    if not assigned:  # nothing divides it exactly
        return dict(nearest), NEAREST
    if missing and nearest:  # the liquid model's base needs both
        (name,) = missing
        if name in nearest:
            assigned[name] = nearest[name]
            by.append(f"{name}: nearest groups")
    if "original" in assigned:
        liquid_liquid = _liquid_liquid(molecule, assigned["original"])
        if liquid_liquid:
            assigned["liquid_liquid"] = liquid_liquid
    if "dortmund" in assigned:
        nist = _nist(molecule, assigned["dortmund"])
        if nist:
            assigned["nist"] = nist
    return assigned, " and ".join(dict.fromkeys(by)) or "none"


@cache
def _subgroups(name: str) -> dict[int, str]:
    """Name of each subgroup in upper case, by number."""
    from thermo import unifac

    tables = {
        "original": unifac.UFSG,
        "dortmund": unifac.DOUFSG,
        "liquid_liquid": unifac.LLEUFSG,
        "nist": unifac.NISTUFSG,
    }
    return {number: str(group.group).upper() for number, group in tables[name].items()}


@cache
def _ddbst_tables(name: str) -> tuple[dict[str, Groups], dict[str, Groups]]:
    """Assignments by InChIKey and by its first block."""
    from thermo import unifac

    unifac.load_group_assignments_DDBST()
    full: dict[str, Groups] = (
        unifac.DDBST_UNIFAC_assignments
        if name == "original"
        else unifac.DDBST_MODIFIED_UNIFAC_assignments
    )
    blocks: dict[str, Groups] = {}
    for key, groups in full.items():
        blocks.setdefault(key[:14], groups)
    return full, blocks


def _ddbst(molecule: Molecule, name: str) -> Groups | None:
    full, blocks = _ddbst_tables(name)
    found = full.get(molecule.inchikey) or blocks.get(molecule.inchikey[:14])
    return dict(found) if found else None


def _ugropy(molecule: Molecule, name: str) -> Groups | None:
    """ugropy's first answer, in thermo's numbers; None where it has none."""
    try:
        from ugropy import dortmund, unifac
    except ImportError as error:
        raise MissingExtraError("ugropy") from error
    model = unifac if name == "original" else dortmund
    try:
        found: Any = model.get_groups(molecule.smiles, "smiles")
    except Exception:  # the solver raises assorted errors on molecules it can't divide
        return None
    names: Mapping[str, int] = (found[0] if isinstance(found, list) else found).subgroups
    numbers = {group: number for number, group in reversed(_subgroups(name).items())}
    groups: Groups = {}
    for own, count in names.items():
        group = UGROPY_NAMES.get(own, own).upper()
        number = {"HCO": ALDEHYDE, "CHO": ETHER_CH}.get(group, numbers.get(group))
        if number is None:
            return None
        groups[number] = groups.get(number, 0) + count
    return groups


def _adds_up(molecule: Molecule, name: str, groups: Groups) -> bool:
    """True where the atoms of the groups are those of the molecule."""
    total: dict[str, int] = {}
    names = _subgroups(name)
    for number, count in groups.items():
        formula = (
            RING_ETHER_FORMULAS[name]
            if number == RING_ETHER
            else GROUP_FORMULAS.get(names.get(number, ""))
        )
        if formula is None:
            return False
        for element, n in atoms(formula).items():
            total[element] = total.get(element, 0) + n * count
    return total == dict(molecule.elements)


def _liquid_liquid(molecule: Molecule, original: Groups) -> Groups | None:
    """The original groups under their numbers in UNIFAC-LLE."""
    if molecule.smiles in LLE_WHOLE:
        return {LLE_WHOLE[molecule.smiles]: 1}
    numbers = {group: number for number, group in _subgroups("liquid_liquid").items()}
    names = _subgroups("original")
    renamed = {ALDEHYDE: LLE_ALDEHYDE, ETHER_CH: LLE_ETHER_CH, 61: LLE_FURFURAL}
    groups: Groups = {}
    for number, count in original.items():
        if number == RING_ETHER:
            return None  # its volume in thermo 0.6.1 is out by a factor of ten thousand
        own = renamed.get(number) or numbers.get(names[number])
        if own is None:
            return None
        groups[own] = groups.get(own, 0) + count
    return groups


def _nist(molecule: Molecule, dortmund: Groups) -> Groups | None:
    """The Dortmund groups in the NIST set, where it divides the molecule alike."""
    chem = toolkit()
    if molecule.smiles in NIST_WHOLE:
        return dict(NIST_WHOLE[molecule.smiles])
    structure = chem.MolFromSmiles(molecule.smiles)
    if any(structure.HasSubstructMatch(chem.MolFromSmarts(s)) for s in NIST_OTHERWISE):
        return None
    if any(number not in NIST_SAME and number not in NIST_SULFIDES for number in dortmund):
        return None
    groups = {NIST_SULFIDES.get(number, number): count for number, count in dortmund.items()}
    for match in structure.GetSubstructMatches(chem.MolFromSmarts("[C;R]=[C;R]")):
        hydrogens = sorted(structure.GetAtomWithIdx(i).GetTotalNumHs() for i in match)
        known = RING_ALKENES.get((hydrogens[0], hydrogens[1]))
        bond = structure.GetBondBetweenAtoms(*match)
        if not bond.IsInRing():
            continue
        if known is None or not _exchange(groups, known[0], known[1]):
            return None
    for smarts, plain, aromatic in AROMATIC_PAIRS:
        for _ in structure.GetSubstructMatches(chem.MolFromSmarts(smarts)):
            if not _exchange(groups, 10, None) or not _exchange(groups, plain, aromatic):
                return None
    return groups


def _exchange(groups: Groups, old: int, new: int | None) -> bool:
    """Turn one group of a kind into one of another; False where there is none."""
    if not groups.get(old):
        return False
    groups[old] -= 1
    if not groups[old]:
        del groups[old]
    if new is not None:
        groups[new] = groups.get(new, 0) + 1
    return True
