"""Which substances can't be calculated here at all: emulsifiers, gums, salts, sugars and the like.

Two rules. By name: `outside_names.csv` lists words of the trade, each with its class; a "word"
counts anywhere in a name as a whole word ("xanthan gum"), a "whole" only alone ("honey"); CAS and
E numbers stand there too (E numbers: Regulation (EC) 1333/2008, Annex II; all from memory). By
structure, for what the library knows or a person draws: salts and ions, elements outside the
models, inorganic substances, sugars and their alcohols (more than MOST_HYDROXYLS on saturated
carbons), and molecules of more than MOST_g_mol. `outside_classes.csv` says of each class what it is
and why it is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NoReturn

from blendwright.catalogue.library_names import Known
from blendwright.catalogue.material import ATOMIC_WEIGHTS_g_mol, atoms
from blendwright.catalogue.names import normalise
from blendwright.catalogue.smiles import Structure, read_smiles
from blendwright.errors import OutsideScopeError, StructureError

MOST_HYDROXYLS = 3  # as glycerol has (common practice, no source)
MOST_g_mol = 600.0  # common practice, no source: nothing larger was tested


@dataclass(frozen=True)
class OutsideClass:
    """A class of substances that is refused: what one of them is, and why."""

    name: str
    what: str
    why: str


class OutsideList:
    """The rows of outside_names.csv and outside_classes.csv, ready to be asked."""

    def __init__(
        self, names: Iterable[Mapping[str, str]], classes: Iterable[Mapping[str, str]]
    ) -> None:
        self._classes = {
            row["class"]: OutsideClass(row["class"], row["what"], row["why"]) for row in classes
        }
        self._whole: dict[str, str] = {}
        self._words: list[tuple[str, str]] = []
        for row in names:
            self._whole[normalise(row["name"])] = row["class"]
            for cas in filter(None, row["cas"].split("|")):
                self._whole[normalise(cas)] = row["class"]
            if row["match"] == "word":
                self._words.append((_spaced(row["name"]), row["class"]))

    def class_of_name(self, name: str) -> OutsideClass | None:
        """The class that a name or CAS number says, if any."""
        whole = self._whole.get(normalise(name))
        if whole is None:
            text = _spaced(name)
            whole = next((kind for word, kind in self._words if word in text), None)
        return self._classes[whole] if whole else None

    def class_of_structure(self, structure: Structure) -> OutsideClass | None:
        """The class that a structure belongs to, if any."""
        kind = _kind(structure)
        return self._classes[kind] if kind else None

    def refuse_known(self, written: str, known: Known) -> None:
        """Raises OutsideScopeError where a substance of the library is outside, by any of its CAS
        number, common name, formula and structure."""
        self.refuse(written, name=known.cas)
        self.refuse(written, name=known.common_name)
        try:
            self.refuse(written, structure=read_smiles(known.smiles))
        except StructureError:
            if any(element not in ATOMIC_WEIGHTS_g_mol for element in atoms(known.formula)):
                self._raise(written, self._classes["element"])

    def refuse(self, written: str, *, name: str = "", structure: Structure | None = None) -> None:
        """Raises OutsideScopeError, of what was written, where its name or structure is outside."""
        found = self.class_of_name(name) if name else None
        if found is None and structure is not None:
            found = self.class_of_structure(structure)
        if found is not None:
            self._raise(written, found)

    def _raise(self, written: str, found: OutsideClass) -> NoReturn:
        raise OutsideScopeError(written, found.what, found.why)


def _spaced(name: str) -> str:
    """Words with a blank around each, folded: " mono and diglycerides "."""
    words = (normalise(word) for word in re.findall(r"\w+", name))
    return f" {' '.join(word for word in words if word)} "


def _kind(structure: Structure) -> str | None:
    elements = structure.elements
    if not structure.is_one_molecule or _has_ions(structure):
        return "salt"
    if any(element not in ATOMIC_WEIGHTS_g_mol for element in elements):
        return "element"
    if "C" not in elements:
        return None if elements == {"H": 2, "O": 1} else "inorganic"
    if sum(_is_hydroxyl(structure, atom) for atom in range(len(structure.atoms))) > MOST_HYDROXYLS:
        return "sugar"
    molar_mass = sum(ATOMIC_WEIGHTS_g_mol[element] * n for element, n in elements.items())
    return "large" if molar_mass > MOST_g_mol else None


def _has_ions(structure: Structure) -> bool:
    """Whether a charge has no opposite one on the next atom, as it has in a nitro group."""
    charges = [atom.charge for atom in structure.atoms]
    return any(
        charge and not any(charge * charges[n] < 0 for n in structure.neighbours[atom])
        for atom, charge in enumerate(charges)
    )


def _is_hydroxyl(structure: Structure, atom: int) -> bool:
    """An oxygen with a hydrogen on a saturated carbon: no phenol, enol or acid."""
    one, near = structure.atoms[atom], structure.neighbours[atom]
    if one.element != "O" or one.hydrogens != 1 or len(near) != 1:
        return False
    carbon = structure.atoms[near[0]]
    return carbon.element == "C" and len(structure.neighbours[near[0]]) + carbon.hydrogens == 4
