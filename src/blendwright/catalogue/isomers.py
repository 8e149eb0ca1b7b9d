"""Are two structures one substance, and do their stereo marks agree?

Two structures are of one constitution when an isomorphism carries one onto the other: elements,
charges, isotopes and hydrogens kept, joined atoms joined. Atoms are sorted into classes by what
surrounds them (Morgan 1965, J. Chem. Doc. 5, 107), then matched atom by atom, going back where a
choice fails. A mark that only one of the two gives is no contradiction.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from blendwright.catalogue.smiles import HYDROGEN, Structure

Image = dict[int, int]  # atoms of one structure -> atoms of the other
_Classes = tuple[list[int], list[int]]


@dataclass(frozen=True)
class Agreement:
    """How the stereo marks of two structures of one constitution compare.

    `shared` marks agree; `only_one` and `only_other` are given by one of the two. With
    `contradicts` the marks differ in every way of laying one structure over the other.
    """

    contradicts: bool
    shared: int = 0
    only_one: int = 0
    only_other: int = 0

    @property
    def is_exact(self) -> bool:
        """Every mark is given by both."""
        return not (self.contradicts or self.only_one or self.only_other)


def agreement(one: Structure, other: Structure) -> Agreement | None:
    """The marks of two structures compared; None where they are of different constitution."""
    if one.elements != other.elements or len(one.atoms) != len(other.atoms):
        return None
    classes = _classes(one, other)
    if sorted(classes[0]) != sorted(classes[1]):
        return None
    image = _image(one, other, classes, lambda found: not _shared(one, other, found)[1])
    if image is not None:
        shared = _shared(one, other, image)[0]
        marks_one, marks_other = (len(s.centres) + len(s.double_bonds) for s in (one, other))
        return Agreement(False, shared, marks_one - shared, marks_other - shared)
    if _image(one, other, classes, lambda found: True) is None:
        return None
    return Agreement(True)


def _classes(one: Structure, other: Structure) -> _Classes:
    """A number for each atom of both, equal where the surroundings are equal; as soon as they can't
    be numbered alike, as far as they are."""
    numbers: dict[object, int] = {}

    def numbered(keys: list[list[object]]) -> _Classes:
        found = [[numbers.setdefault(key, len(numbers)) for key in of_one] for of_one in keys]
        return found[0], found[1]

    both = (one, other)
    classes = numbered([list(structure.atoms) for structure in both])
    count = 0
    while len({*classes[0], *classes[1]}) > count and sorted(classes[0]) == sorted(classes[1]):
        count = len({*classes[0], *classes[1]})
        numbers = {}
        classes = numbered(
            [
                [
                    (own[atom], tuple(sorted(own[n] for n in structure.neighbours[atom])))
                    for atom in range(len(structure.atoms))
                ]
                for structure, own in zip(both, classes, strict=True)
            ]
        )
    return classes


def _image(
    one: Structure, other: Structure, classes: _Classes, is_allowed: Callable[[Image], bool]
) -> Image | None:
    """The first isomorphism that is allowed at every step of building it."""
    order = _order(one)
    image: Image = {}
    taken: set[int] = set()

    def fits(atom: int, target: int) -> bool:
        near = other.neighbours[target]
        return (
            classes[0][atom] == classes[1][target]
            and target not in taken
            and all(image[n] in near for n in one.neighbours[atom] if n in image)
        )

    def extend(step: int) -> bool:
        if step == len(order):
            return True
        atom = order[step]
        known = next((n for n in one.neighbours[atom] if n in image), None)
        targets = range(len(other.atoms)) if known is None else other.neighbours[image[known]]
        for target in targets:
            if fits(atom, target):
                image[atom] = target
                taken.add(target)
                if is_allowed(image) and extend(step + 1):
                    return True
                del image[atom]
                taken.discard(target)
        return False

    return image if extend(0) else None


def _order(structure: Structure) -> list[int]:
    """All atoms, those with a stereo mark first, each after a neighbour wherever there is one."""
    marked = [*structure.centres, *(atom for ends in structure.double_bonds for atom in ends)]
    order: list[int] = []
    for start in (*marked, *range(len(structure.atoms))):
        wave = [start]
        while wave:
            fresh = [atom for atom in dict.fromkeys(wave) if atom not in order]
            order += fresh
            wave = [n for atom in fresh for n in structure.neighbours[atom]]
    return order


def _shared(one: Structure, other: Structure, image: Image) -> tuple[int, int]:
    """How many marks agree and how many contradict, of those whose atoms all have an image."""
    found = [0, 0]
    for atom, around in one.centres.items():
        theirs = other.centres.get(image.get(atom, HYDROGEN))
        if theirs and all(n == HYDROGEN or n in image for n in around):
            ours = tuple(image.get(n, HYDROGEN) for n in around)
            found[_is_odd(ours, theirs)] += 1
    for (a, b), (x, y, is_cis) in one.double_bonds.items():
        if all(atom in image for atom in (a, b, x, y)):
            there = _seen_from(other, image[a], image[b], image[x], image[y])
            if there is not None:
                found[is_cis != there] += 1
    return found[0], found[1]


def _is_odd(ours: tuple[int, ...], theirs: tuple[int, ...]) -> bool:
    """Whether an odd number of swaps leads from one order of four neighbours to the other."""
    places = [theirs.index(n) for n in ours]
    swaps = sum(places[i] > places[j] for i in range(4) for j in range(i + 1, 4))
    return swaps % 2 == 1


def _seen_from(structure: Structure, a: int, b: int, x: int, y: int) -> bool | None:
    """Whether x on a and y on b are cis; None where the structure doesn't say."""
    marks: Mapping[tuple[int, int], tuple[int, int, bool]] = structure.double_bonds
    if (a, b) not in marks:
        a, b, x, y = b, a, y, x
    if (a, b) not in marks:
        return None
    known_x, known_y, is_cis = marks[a, b]
    return is_cis != ((x != known_x) != (y != known_y))
