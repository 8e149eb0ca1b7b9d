"""Which material has this structure?

Stereo marks are compared where both sides give them. A record stands for its mirror image too,
whose properties are the same outside chiral surroundings. `isomers.csv` says which records are
sold as a mixture of isomers (any isomer is taken for them) and which one of several a drawing
without stereo marks is taken for; where nothing decides, the person is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from blendwright.catalogue.isomers import agreement
from blendwright.catalogue.material import Material, atoms
from blendwright.catalogue.names import tells_several_centres, told_sides
from blendwright.catalogue.smiles import Structure, read_smiles
from blendwright.errors import AmbiguousMaterialError

MIXTURE = "mixture"  # of isomers
PLAIN = "plain"  # what a drawing without stereo marks is taken for
WITHOUT_MARKS = "UHFFFAOYSA"  # second block of the InChIKey of a structure without stereo marks


@dataclass(frozen=True)
class Match:
    """The name of a material, and whether its structure is the one asked for, mark by mark."""

    name: str
    is_exact: bool


class StructureIndex:
    """The structures of a set of materials; each is read when first compared."""

    def __init__(self, materials: Iterable[Material], sold_as: Mapping[str, str]) -> None:
        self._sold_as = sold_as
        self._smiles: dict[str, str] = {}
        self.keys: dict[str, str] = {}
        self._structures: dict[str, Structure] = {}
        self._by_elements: dict[frozenset[tuple[str, int]], list[str]] = {}
        for material in materials:
            if material.smiles:
                self._smiles[material.name] = material.smiles
                elements = atoms(material.formula) or read_smiles(material.smiles).elements
                self._by_elements.setdefault(frozenset(elements.items()), []).append(material.name)
            if material.inchikey:
                self.keys.setdefault(material.inchikey, material.name)

    def find(self, structure: Structure, written: str) -> Match | None:
        """The material of a structure; None without. Raises AmbiguousMaterialError."""
        best: dict[str, tuple[int, int]] = {}
        exact: set[str] = set()
        for name in self._by_elements.get(frozenset(structure.elements.items()), []):
            theirs = self._structure(name)
            straight = agreement(structure, theirs)
            if straight is None:
                continue
            if straight.is_exact:
                exact.add(name)
            mirrored = agreement(structure.mirrored, theirs) if structure.centres else None
            ranks = [
                (found.shared, -found.only_other)
                for found in (straight, mirrored)
                if found is not None and not found.contradicts
            ]
            if ranks:
                best[name] = max(ranks)
            elif self._sold_as.get(name) == MIXTURE:
                best[name] = (-1, 0)
        if not best:
            return None
        highest = max(best.values())
        names = [name for name, rank in best.items() if rank == highest]
        has_marks = bool(structure.centres or structure.double_bonds)
        name = self._chosen(names, has_marks, written)
        return Match(name, name in exact)

    def find_key(self, inchikey: str) -> Match | None:
        """The material of an InChIKey; one that differs in stereo marks only is none, unless the
        key has no marks or the material is a mixture. Raises AmbiguousMaterialError."""
        if inchikey in self.keys:
            return Match(self.keys[inchikey], True)
        skeleton, _, rest = inchikey.partition("-")
        alike = {key: name for key, name in self.keys.items() if key.startswith(f"{skeleton}-")}
        if rest.startswith(WITHOUT_MARKS) and alike:
            return Match(self._chosen(list(alike.values()), False, inchikey), False)
        mixtures = [name for name in alike.values() if self._sold_as.get(name) == MIXTURE]
        return Match(mixtures[0], False) if mixtures else None

    def covers(self, name: str, written: str) -> bool:
        """Whether a material may stand for an isomer that a name tells by its leading marks.

        Marks of a double bond must be those of the drawing, as far as it is between two CH; marks
        of several centres tell another substance from one that is drawn with several. What is
        sold as a mixture, or drawn without marks, stands for all.
        """
        if self._sold_as.get(name) == MIXTURE or name not in self._smiles:
            return True
        drawn = self._structure(name)
        told = told_sides(written)
        if told and drawn.double_bonds and told != _drawn_sides(drawn):
            return False
        return not (len(drawn.centres) > 1 and tells_several_centres(written))

    def _chosen(self, names: list[str], has_marks: bool, written: str) -> str:
        if len(names) > 1 and not has_marks:
            names = [name for name in names if self._sold_as.get(name) == PLAIN] or names
        if len(names) > 1:
            raise AmbiguousMaterialError(written, tuple(names))
        return names[0]

    def _structure(self, name: str) -> Structure:
        if name not in self._structures:
            self._structures[name] = read_smiles(self._smiles[name])
        return self._structures[name]


def _drawn_sides(drawn: Structure) -> frozenset[str]:
    """As `told_sides`, of double bonds between two CH; "unknown" for others, ranked by no sign."""
    return frozenset(
        ("cis" if is_cis else "trans")
        if all(drawn.atoms[end].hydrogens == 1 for end in ends)
        else "unknown"
        for ends, (_, _, is_cis) in drawn.double_bonds.items()
    )
