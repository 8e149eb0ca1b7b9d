"""What does the learned excess energy know of one substance?

Its class, the shares of its kinds of group (by count), its size and its identity. The identity is
the first block of the InChIKey (which atoms are joined to which), so that stereoisomers share what
was learned of them; without an InChIKey it is the name. The size is s = (v / 100 cm3/mol)^(1/2)
with v the volume of the liquid at 25 °C. Needs no chemistry toolkit.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material, atoms
from blendwright.catalogue.smiles import Structure, read_smiles
from blendwright.errors import StructureError
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.activity import ln_gamma_in_each
from blendwright.mixture.parameter_sets import (
    PARAMETER_SETS,
    Array,
    main_group_counts,
    tolerant_group_arrays,
)
from blendwright.pure.density import liquid_density

BASE_SETS = ("dortmund2", "unifac2")
CLASSES = (
    "water", "glycerol", "glycol", "short alcohol", "alcohol", "phenol", "acid", "ester",
    "polyester", "lactone", "aldehyde", "ketone", "ether", "aromatic", "hydrocarbon", "other",
)  # fmt: skip
KINDS_OF_GROUP = (
    "alkyl", "double bond", "aromatic", "hydroxyl", "ester", "aldehyde", "ketone", "acid",
    "phenol", "ether", "other", "water", "glycol hydroxyl", "short-alcohol hydroxyl",
)  # fmt: skip
HYDROXYLIC = frozenset(
    {"water", "glycerol", "glycol", "short alcohol", "alcohol", "phenol", "acid"}
)
COSOLVENTS = frozenset({"glycerol", "glycol", "short alcohol"})
HYDROCARBONS = frozenset({"aromatic", "hydrocarbon"})
SHORT_ALCOHOL_CARBONS = 3
REFERENCE_VOLUME_m3_mol = 1e-4
USUAL_DENSITY_kg_m3 = 950.0  # of an organic liquid of unknown density (common practice, no source)
USUAL_DISAGREEMENT = 0.2  # where a base set lacks a pair; about the median over the catalogue
LEAST_UNLIKENESS = 0.2
ALIKE_WITHIN = 0.3  # distance in group shares over which two molecules count as unlike

_KIND_OF_MAIN_GROUP: Mapping[str, str] = {
    "CH2": "alkyl", "CY-CH2": "alkyl", "C=C": "double bond", "ACH": "aromatic", "AC": "aromatic",
    "ACCH2": "aromatic", "OH": "hydroxyl", "CCOO": "ester", "HCOO": "ester", "COO": "ester",
    "CHO": "aldehyde", "CH2CO": "ketone", "COOH": "acid", "HCOOH": "acid", "ACOH": "phenol",
    "CH2O": "ether", "CY-CH2O": "ether", "H2O": "water",
}  # fmt: skip
_AS_SMALLER_GROUPS: Mapping[str, Mapping[str, int]] = {
    "CH3OH": {"OH": 1},
    "DOH": {"CH2": 2, "OH": 2},
    "OCCOH": {"CH2": 1, "CH2O": 1, "OH": 1},
}


@dataclass(frozen=True)
class Descriptor:
    """One substance as the learned terms see it; `shares` is by KINDS_OF_GROUP and sums to 1."""

    identity: str
    name: str
    chemical_class: str
    has_double_bond: bool
    shares: tuple[float, ...]
    size: float
    has_groups: bool

    @cached_property
    def identity_hash(self) -> int:
        """64 bits that stand for the identity on every machine."""
        return hash_of(self.identity)


@dataclass(frozen=True, eq=False)
class Descriptors:
    """A list of substances as arrays of length n.

    `half_difference` (n, n) is half of what the first base set says more than the second of
    ln gamma at infinite dilution of the row's substance in the column's, over its size, at 25 °C;
    NaN where a set lacks one of them.
    """

    identities: NDArray[np.uint64]
    class_number: NDArray[np.intp]
    double_bond: NDArray[np.bool_]
    shares: Array
    size: Array
    has_groups: NDArray[np.bool_]
    half_difference: Array

    @cached_property
    def distance(self) -> Array:
        """(n, n) between group shares: 0 for molecules of the same groups, 1 for wholly other."""
        apart = self.shares[:, None, :] - self.shares[None, :, :]
        return np.asarray(np.minimum(1.0, np.sqrt((apart**2).sum(axis=-1))))

    @cached_property
    def likeness(self) -> Array:
        """(n, n) from 1 for molecules of the same groups to 0 for unlike ones."""
        return np.asarray(np.exp(-((self.distance / ALIKE_WITHIN) ** 2)))

    @cached_property
    def disagreement(self) -> Array:
        """(n, n) root mean square of both directions' half difference."""
        square = self.half_difference**2
        both = np.sqrt((square + square.T) / 2.0)
        return np.asarray(np.where(np.isnan(both), USUAL_DISAGREEMENT, both))

    @cached_property
    def towards_first(self) -> Array:
        """(n, n) what c would have to be to move from the mean to the first base set."""
        return np.asarray(np.nan_to_num(self.half_difference + self.half_difference.T)) / 2.0

    @cached_property
    def skew_towards_first(self) -> Array:
        """(n, n) the same of d, which unlike molecules have."""
        unlike = np.maximum(1.0 - self.likeness, LEAST_UNLIKENESS)
        step = np.nan_to_num(self.half_difference.T - self.half_difference)
        return np.asarray(step / 2.0 / unlike)

    def of_class(self, names: frozenset[str]) -> Array:
        """1 for a substance of one of these classes, else 0; (n,)."""
        marks = np.array([float(name in names) for name in CLASSES])
        return np.asarray(marks[self.class_number])


def hash_of(text: str) -> int:
    """64 bits of BLAKE2b."""
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "little")


def descriptors(materials: Sequence[Material]) -> Descriptors:
    """The substances as arrays, with the base sets' disagreement of each pair."""
    found = [descriptor(material) for material in materials]
    return Descriptors(
        np.array([d.identity_hash for d in found], dtype=np.uint64),
        np.array([CLASSES.index(d.chemical_class) for d in found], dtype=np.intp),
        np.array([d.has_double_bond for d in found], dtype=bool),
        np.array([d.shares for d in found]).reshape(len(found), len(KINDS_OF_GROUP)),
        np.array([d.size for d in found]),
        np.array([d.has_groups for d in found], dtype=bool),
        half_difference(materials, np.array([d.size for d in found])),
    )


@lru_cache(maxsize=4096)
def descriptor(material: Material) -> Descriptor:
    """Describe one substance by its groups (original UNIFAC's where it has them)."""
    counts = _group_counts(material)
    chemical_class = class_of(material, counts)
    return Descriptor(
        material.inchikey.split("-")[0] or material.name,
        material.name,
        chemical_class,
        counts.get("C=C", 0) > 0,
        _shares(counts, chemical_class),
        size_of(material),
        bool(counts),
    )


def size_of(material: Material) -> float:
    """s = (v / 100 cm3/mol)^(1/2)."""
    density = liquid_density(material, ROOM_K).value or USUAL_DENSITY_kg_m3
    volume = material.molar_mass_kg_mol / density
    return float(np.sqrt(volume / REFERENCE_VOLUME_m3_mol))


def class_of(material: Material, counts: Mapping[str, int]) -> str:
    """The first of the classes that applies, by main groups; "other" without groups."""
    hydroxyls = counts.get("OH", 0)
    esters = sum(counts.get(group, 0) for group in ("CCOO", "HCOO", "COO"))
    if material.is_water:
        return "water"
    if any(group not in _KIND_OF_MAIN_GROUP for group in counts):
        return "other"
    if {"COOH", "HCOOH"} & set(counts):
        return "acid"
    if "ACOH" in counts:
        return "phenol"
    if esters and _is_lactone(material.smiles):
        return "lactone"
    if esters >= 2:
        return "polyester"
    if hydroxyls:
        return _class_of_alcohol(material, counts)
    rules = (
        ("CHO", "aldehyde"), ("CH2CO", "ketone"), ("CCOO", "ester"), ("HCOO", "ester"),
        ("COO", "ester"), ("CH2O", "ether"), ("CY-CH2O", "ether"), ("ACH", "aromatic"),
        ("ACCH2", "aromatic"), ("AC", "aromatic"), ("CH2", "hydrocarbon"),
        ("CY-CH2", "hydrocarbon"), ("C=C", "hydrocarbon"),
    )  # fmt: skip
    return next((name for group, name in rules if group in counts), "other")


def _class_of_alcohol(material: Material, counts: Mapping[str, int]) -> str:
    if counts["OH"] >= 3:
        return "glycerol"
    if counts["OH"] == 2:
        return "glycol"
    carbons = atoms(material.formula).get("C", 0)
    only = set(counts) <= {"CH2", "OH"}
    return "short alcohol" if only and carbons <= SHORT_ALCOHOL_CARBONS else "alcohol"


def _group_counts(material: Material) -> dict[str, int]:
    """Main groups of original UNIFAC (else of the modified one), larger ones taken apart."""
    column = "original" if material.groups.get("original") else "dortmund"
    found: dict[str, int] = {}
    for group, n in main_group_counts(column, material.groups.get(column, {})).items():
        for smaller, k in _AS_SMALLER_GROUPS.get(group, {group: 1}).items():
            found[smaller] = found.get(smaller, 0) + n * k
    return found


def _shares(counts: Mapping[str, int], chemical_class: str) -> tuple[float, ...]:
    found = dict.fromkeys(KINDS_OF_GROUP, 0.0)
    for group, n in counts.items():
        found[_KIND_OF_MAIN_GROUP.get(group, "other")] += n
    if chemical_class in ("glycol", "glycerol"):
        found["glycol hydroxyl"] = found.pop("hydroxyl")
    if chemical_class == "short alcohol":
        found["short-alcohol hydroxyl"] = found.pop("hydroxyl")
    total = sum(found.values()) or 1.0
    return tuple(found.get(kind, 0.0) / total for kind in KINDS_OF_GROUP)


def _is_lactone(smiles: str) -> bool:
    """Whether an ester's oxygen and its carbonyl carbon stand in one ring."""
    try:
        structure = read_smiles(smiles)
    except StructureError:
        return False
    for oxygen, near in enumerate(structure.neighbours):
        if structure.atoms[oxygen].element != "O" or len(near) != 2:
            continue
        for carbon in near:
            if _is_carbonyl(structure, carbon) and _connected_without(structure, oxygen, carbon):
                return True
    return False


def _is_carbonyl(structure: Structure, atom: int) -> bool:
    one, near = structure.atoms[atom], structure.neighbours[atom]
    return one.element == "C" and any(
        structure.atoms[n].element == "O"
        and len(structure.neighbours[n]) == 1
        and not structure.atoms[n].hydrogens
        for n in near
    )


def _connected_without(structure: Structure, first: int, second: int) -> bool:
    """Whether a path joins two neighbours beside their own bond."""
    reached, to_visit = {first}, [n for n in structure.neighbours[first] if n != second]
    while to_visit:
        atom = to_visit.pop()
        if atom == second:
            return True
        if atom not in reached:
            reached.add(atom)
            to_visit += structure.neighbours[atom]
    return False


def half_difference(materials: Sequence[Material], size: Array) -> Array:
    """(n, n), as in `Descriptors`."""
    n = len(materials)
    found = np.full((n, n), np.nan)
    both = [
        i for i, m in enumerate(materials)
        if all(m.groups.get(PARAMETER_SETS[s].groups_of) for s in BASE_SETS)
    ]  # fmt: skip
    if not both:
        return found
    sets = [
        tolerant_group_arrays(
            PARAMETER_SETS[s], [materials[i].groups[PARAMETER_SETS[s].groups_of] for i in both]
        )
        for s in BASE_SETS
    ]
    first, second = (ln_gamma_in_each(arrays, ROOM_K) for arrays in sets)
    # ln gamma of row i says: all components in pure i; its transpose is i in each solvent
    half = ((first - second) / 2.0 / size[both]).T
    for arrays in sets:
        there = (arrays.group_area > 0.0).astype(int)
        half[there @ arrays.lacking.astype(int) @ there.T > 0] = np.nan
        half[~arrays.known] = half[:, ~arrays.known] = np.nan
    found[np.ix_(both, both)] = half
    return found
