"""What does a SMILES stand for, and which fragments is it made of?

Every heavy atom belongs to exactly one "atom" fragment of fragments.csv: the first, in the order
of the file, whose SMARTS begins at that atom. The "correction" fragments are counted as often as
they occur, on top of those. Covered: one neutral closed-shell organic molecule of C, H, O, N and
S, 2 to 60 heavy atoms (the fits behind the estimates hold molecules of 2 to 25).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from blendwright.catalogue.tables import table_rows
from blendwright.pure.structure.errors import MissingExtraError, StructureError

ELEMENTS = frozenset({"C", "H", "O", "N", "S"})
FEWEST_HEAVY_ATOMS = 2
MOST_HEAVY_ATOMS = 60
MOST_FITTED_HEAVY_ATOMS = 25
MOST_MATCHES = 10000
LONGEST_SMILES = 2000
FINGERPRINT_RADIUS = 2


@dataclass(frozen=True)
class Fragment:
    """One row of fragments.csv: its name, whether it claims an atom, and its compiled SMARTS."""

    name: str
    claims_atom: bool
    pattern: Any


@dataclass(frozen=True)
class Molecule:
    """A checked structure: identifiers, heavy atoms, hydrogens and counts of fragments.

    `environments` counts the atom environments up to two bonds away (Morgan 1965), by hash.
    """

    smiles: str
    inchikey: str
    formula: str
    elements: Mapping[str, int]
    fragments: Mapping[str, int]
    environments: Mapping[int, int]

    @property
    def heavy_atoms(self) -> int:
        return sum(n for element, n in self.elements.items() if element != "H")


def toolkit() -> Any:
    """rdkit's Chem module; raises MissingExtraError where it isn't installed."""
    try:
        from rdkit import Chem
    except ImportError as error:
        raise MissingExtraError("rdkit") from error
    return Chem


@cache
def fragments() -> tuple[Fragment, ...]:
    """The fragments of fragments.csv in their order."""
    chem = toolkit()
    return tuple(
        Fragment(row["name"], row["kind"] == "atom", chem.MolFromSmarts(row["smarts"]))
        for row in table_rows(__package__, "fragments.csv")
    )


@cache
def _environment_counter() -> Any:
    from rdkit.Chem import rdFingerprintGenerator

    return rdFingerprintGenerator.GetMorganGenerator(radius=FINGERPRINT_RADIUS)


def read_molecule(smiles: str) -> Molecule:
    """The molecule that a SMILES stands for, in canonical form.

    Raises StructureError for what can't be read or isn't covered, MissingExtraError without rdkit.
    """
    chem = toolkit()
    from rdkit import rdBase

    written = smiles.strip()
    if "." in written:
        raise StructureError(
            smiles, "a salt, a hydrate or a mixture; give each part as a material of its own"
        )
    with rdBase.BlockLogs():
        molecule = _parsed(smiles)
        _check(written, molecule)
        key = str(chem.MolToInchiKey(molecule))
    elements = _elements(molecule)
    return Molecule(
        smiles=str(chem.MolToSmiles(molecule)),
        inchikey=key,
        formula=_formula(elements),
        elements=MappingProxyType(elements),
        fragments=MappingProxyType(_fragment_counts(written, molecule)),
        environments=MappingProxyType(
            dict(_environment_counter().GetCountFingerprint(molecule).GetNonzeroElements())
        ),
    )


def identity(smiles: str) -> str:
    """The standard InChIKey of a SMILES, also of what the estimates don't cover (salts, metals).

    Raises StructureError for what can't be read, MissingExtraError without rdkit.
    """
    chem = toolkit()
    from rdkit import rdBase

    with rdBase.BlockLogs():
        key = str(chem.MolToInchiKey(_parsed(smiles)))
    if not key:
        raise StructureError(smiles, "it has no InChIKey; is it a pattern and not a molecule?")
    return key


def _parsed(smiles: str) -> Any:
    """rdkit's molecule of one SMILES, hydrogens implicit."""
    chem = toolkit()
    written = smiles.strip()
    if not written:
        raise StructureError(smiles, "it is empty; give a SMILES such as CCOC(C)=O")
    if len(written) > LONGEST_SMILES or any(character.isspace() for character in written):
        raise StructureError(smiles[:40], "not one SMILES: it is too long or holds a space")
    molecule = chem.MolFromSmiles(written)
    if molecule is None or not molecule.GetNumAtoms():
        raise StructureError(
            smiles, "not a valid SMILES (brackets, ring numbers or valences don't add up)"
        )
    return chem.RemoveHs(molecule)


def _check(written: str, molecule: Any) -> None:
    """Raise StructureError for what the estimates don't cover."""
    atoms = list(molecule.GetAtoms())
    strange = sorted({atom.GetSymbol() for atom in atoms} - ELEMENTS)
    if strange:
        raise StructureError(
            written, f"it holds {', '.join(strange)}; only C, H, O, N and S are covered"
        )
    if sum(atom.GetFormalCharge() for atom in atoms):
        raise StructureError(written, "it is an ion; give the neutral molecule")
    if any(atom.GetNumRadicalElectrons() for atom in atoms):
        raise StructureError(written, "it is a radical; is a hydrogen missing?")
    if any(atom.GetIsotope() for atom in atoms):
        raise StructureError(written, "it names isotopes, which are not covered; leave them out")
    if not any(atom.GetSymbol() == "C" for atom in atoms):
        raise StructureError(written, "it holds no carbon; only organic molecules are covered")
    heavy = sum(atom.GetSymbol() != "H" for atom in atoms)
    if not FEWEST_HEAVY_ATOMS <= heavy <= MOST_HEAVY_ATOMS:
        raise StructureError(
            written,
            f"it has {heavy} heavy atoms; {FEWEST_HEAVY_ATOMS} to {MOST_HEAVY_ATOMS} are covered",
        )


def _elements(molecule: Any) -> dict[str, int]:
    counts: dict[str, int] = {}
    for atom in molecule.GetAtoms():
        counts[atom.GetSymbol()] = counts.get(atom.GetSymbol(), 0) + 1
        counts["H"] = counts.get("H", 0) + atom.GetTotalNumHs()
    return {element: n for element, n in sorted(counts.items()) if n}


def _formula(elements: Mapping[str, int]) -> str:
    """Hill order: carbon, hydrogen, then the alphabet."""
    order = sorted(elements, key=lambda e: ({"C": 0, "H": 1}.get(e, 2), e))
    return "".join(f"{e}{elements[e] if elements[e] > 1 else ''}" for e in order)


def _fragment_counts(written: str, molecule: Any) -> dict[str, int]:
    claimed: dict[int, str] = {}
    counts: dict[str, int] = {}
    for fragment in fragments():
        matches = molecule.GetSubstructMatches(fragment.pattern, maxMatches=MOST_MATCHES)
        if fragment.claims_atom:
            for match in matches:
                claimed.setdefault(match[0], fragment.name)
        elif matches:
            counts[fragment.name] = len(matches)
    for atom in molecule.GetAtoms():
        if atom.GetIdx() not in claimed:
            raise StructureError(written, f"no estimate covers the group around {atom.GetSmarts()}")
    for name in claimed.values():
        counts[name] = counts.get(name, 0) + 1
    return dict(sorted(counts.items()))
