"""Which atoms does a SMILES stand for, how are they joined, and which stereo marks does it give?

Reads SMILES (Weininger 1988, J. Chem. Inf. Comput. Sci. 28, 31; OpenSMILES specification 1.0)
without a chemistry toolkit, so that the catalogue knows its structures on every machine. Bond
orders serve to count hydrogens and are then left out: elements, charges, hydrogens and who is
joined to whom tell two structures apart (as the layers of the InChI do: Heller and others 2015,
J. Cheminform. 7, 23), while an aromatic ring may be drawn in several ways.

Not read: wildcards, bonds of order four, and stereo other than tetrahedral centres and double
bonds. pysmiles 2.1, the reader in pure Python on the registries, was tried first: it rejects
CCC/C=C/C=O and counts the hydrogens of furans wrongly.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from blendwright.errors import StructureError

LONGEST_SMILES = 2000
HYDROGEN = -1  # stands for the hydrogen of a centre among its neighbours

_VALENCES: Mapping[str, tuple[int, ...]] = {
    "B": (3,), "C": (4,), "N": (3, 5), "O": (2,), "P": (3, 5), "S": (2, 4, 6),
    "F": (1,), "Cl": (1, 3, 5, 7), "Br": (1, 3, 5, 7), "I": (1, 3, 5, 7),
}  # fmt: skip
_ORDERS: Mapping[str, int] = {"": 1, "-": 1, "/": 1, "\\": 1, ":": 1, "=": 2, "#": 3}
_DIRECTIONS = ("/", "\\")
_TOKEN = re.compile(
    r"(?P<bracket>\[[^\[\]]*\])|(?P<plain>Cl|Br|[BCNOPSFI]|[bcnops])|(?P<bond>[-=#:/\\])"
    r"|(?P<ring>\d|%\d\d)|(?P<open>\()|(?P<close>\))|(?P<dot>\.)"
)
_BRACKET = re.compile(
    r"\[(?P<isotope>\d+)?(?P<symbol>[A-Z][a-z]?|as|se|[bcnops])(?P<chiral>@(?:@|TH[12])?)?"
    r"(?P<hydrogens>H\d?)?(?P<charge>\++|-+|\+\d+|-\d+)?(?::\d+)?\]"
)


@dataclass(frozen=True)
class Atom:
    """One atom; its hydrogens are counted, not listed."""

    element: str
    hydrogens: int = 0
    charge: int = 0
    isotope: int = 0


@dataclass(frozen=True)
class Structure:
    """The atoms of a SMILES, what joins them, and the stereo marks that it gives.

    `neighbours[i]` are the atoms joined to atom i. `centres` maps a tetrahedral atom to its four
    neighbours, in such an order that from the first the others run anticlockwise; HYDROGEN stands
    for a hydrogen. `double_bonds` maps the ends (a, b) to (x, y, is_cis): x is joined to a, y to b.
    """

    atoms: tuple[Atom, ...]
    neighbours: tuple[tuple[int, ...], ...]
    centres: Mapping[int, tuple[int, ...]]
    double_bonds: Mapping[tuple[int, int], tuple[int, int, bool]]

    @cached_property
    def elements(self) -> Mapping[str, int]:
        """The count of each element, hydrogen among them."""
        counts = Counter(atom.element for atom in self.atoms)
        counts["H"] += sum(atom.hydrogens for atom in self.atoms)
        return {element: n for element, n in sorted(counts.items()) if n}

    @cached_property
    def mirrored(self) -> Structure:
        """The mirror image."""
        return replace(self, centres={a: _other_hand(n) for a, n in self.centres.items()})

    @property
    def is_one_molecule(self) -> bool:
        """Whether all atoms are joined: neither a salt nor a hydrate nor a mixture."""
        reached = {0}
        wave = [0]
        while wave:
            wave = list({n for atom in wave for n in self.neighbours[atom]} - reached)
            reached.update(wave)
        return len(reached) == len(self.atoms)


def read_smiles(text: str) -> Structure:
    """The structure of a SMILES. Raises StructureError for a text that is none.

    >>> dict(read_smiles("OCC").elements)
    {'C': 2, 'H': 6, 'O': 1}
    """
    written = text.strip()
    if not written:
        raise StructureError(text, "it is empty; give a SMILES such as CCOC(C)=O")
    if len(written) > LONGEST_SMILES or any(sign.isspace() for sign in written):
        raise StructureError(text[:40], "not one SMILES: it is too long or holds a space")
    drawing = _Drawing()
    try:
        _read(written, drawing)
        return _structure(drawing)
    except _NotSmilesError:
        why = "not a valid SMILES (brackets, ring numbers or valences don't add up)"
        raise StructureError(text, why) from None


class _NotSmilesError(Exception):
    """The text breaks a rule of SMILES."""


@dataclass(frozen=True)
class _Bond:
    """A bond as it is written, from left to right; `sign` is "" where none is written."""

    start: int
    end: int
    sign: str


@dataclass
class _Drawing:
    """What was read so far; explicit hydrogens are still atoms.

    `hydrogens` is None where they follow from the valence. `around` lists the neighbours of an
    atom in the order of the text, as chirality counts them.
    """

    elements: list[str] = field(default_factory=list)
    aromatic: list[bool] = field(default_factory=list)
    hydrogens: list[int | None] = field(default_factory=list)
    charges: list[int] = field(default_factory=list)
    isotopes: list[int] = field(default_factory=list)
    chiral: list[str] = field(default_factory=list)
    around: list[list[int]] = field(default_factory=list)
    bonds: list[_Bond] = field(default_factory=list)

    def add_atom(self, text: str) -> int:
        found = _BRACKET.fullmatch(text) if text.startswith("[") else None
        if found is None and text.startswith("["):
            raise _NotSmilesError
        symbol = found["symbol"] if found else text
        self.elements.append(symbol.capitalize())
        self.aromatic.append(symbol[0].islower())
        self.hydrogens.append(_count(found["hydrogens"], "H") if found else None)
        self.charges.append(_charge(found["charge"]) if found else 0)
        self.isotopes.append(int(found["isotope"] or 0) if found else 0)
        self.chiral.append((found["chiral"] or "") if found else "")
        self.around.append([])
        return len(self.elements) - 1

    def join(self, bond: _Bond) -> None:
        if bond.start == bond.end or bond.end in self.around[bond.start]:
            raise _NotSmilesError
        self.bonds.append(bond)


def _count(text: str | None, sign: str) -> int:
    """How many "H" or "H3" says."""
    return 0 if not text else int(text.removeprefix(sign) or 1)


def _charge(text: str | None) -> int:
    """What "+", "--" or "+2" says."""
    if not text:
        return 0
    size = int(text[1:]) if text[1:].isdigit() else len(text)
    return size if text[0] == "+" else -size


def _read(written: str, drawing: _Drawing) -> None:
    """Fill the drawing from left to right."""
    before: int | None = None
    sign = ""
    branches: list[int] = []
    rings: dict[int, tuple[int, int, str]] = {}  # number -> atom, place in its `around`, sign
    place = 0
    while place < len(written):
        token = _TOKEN.match(written, place)
        if token is None:
            raise _NotSmilesError
        place = token.end()
        kind, text = token.lastgroup, token.group()
        if kind in ("plain", "bracket"):
            atom = drawing.add_atom(text)
            if before is not None:
                drawing.join(_Bond(before, atom, sign))
                drawing.around[before].append(atom)
                drawing.around[atom].append(before)
            elif sign:
                raise _NotSmilesError
            if drawing.hydrogens[atom] == 1:
                drawing.around[atom].append(HYDROGEN)
            before, sign = atom, ""
        elif before is None:
            raise _NotSmilesError
        elif kind == "ring":
            number = int(text.removeprefix("%"))
            if number in rings:
                _close_ring(drawing, rings.pop(number), before, sign)
            else:
                rings[number] = (before, len(drawing.around[before]), sign)
                drawing.around[before].append(-2 - number)
            sign = ""
        elif sign:
            raise _NotSmilesError
        elif kind == "bond":
            sign = text
        elif kind == "open":
            branches.append(before)
        elif kind == "close":
            if not branches:
                raise _NotSmilesError
            before = branches.pop()
        else:
            before = None
    if sign or branches or rings or before is None:
        raise _NotSmilesError


def _close_ring(drawing: _Drawing, opened: tuple[int, int, str], atom: int, sign: str) -> None:
    other, place, other_sign = opened
    if sign and other_sign and _ORDERS[sign] != _ORDERS[other_sign]:
        raise _NotSmilesError
    if sign in _DIRECTIONS or not other_sign:
        drawing.join(_Bond(atom, other, sign))
    else:
        drawing.join(_Bond(other, atom, other_sign))
    drawing.around[other][place] = atom
    drawing.around[atom].append(other)


def _structure(drawing: _Drawing) -> Structure:
    """Hydrogens counted, stereo read, explicit hydrogens folded into what they hang on."""
    orders = [0] * len(drawing.elements)
    for bond in drawing.bonds:
        for atom in (bond.start, bond.end):
            orders[atom] += _ORDERS[bond.sign]
    hydrogens = [_hydrogens(drawing, atom, used) for atom, used in enumerate(orders)]
    joined = [[n for n in around if n != HYDROGEN] for around in drawing.around]
    folded = {
        atom
        for atom, around in enumerate(joined)
        if drawing.elements[atom] == "H"
        and not (drawing.isotopes[atom] or drawing.charges[atom] or hydrogens[atom])
        and len(around) == 1
        and drawing.elements[around[0]] != "H"
    }
    for atom in folded:
        hydrogens[joined[atom][0]] += 1
    kept = [atom for atom in range(len(joined)) if atom not in folded]
    number = {atom: n for n, atom in enumerate(kept)} | dict.fromkeys((*folded, HYDROGEN), HYDROGEN)

    def renumbered(atoms: Sequence[int]) -> tuple[int, ...]:
        return tuple(number[atom] for atom in atoms)

    return Structure(
        atoms=tuple(
            Atom(drawing.elements[a], hydrogens[a], drawing.charges[a], drawing.isotopes[a])
            for a in kept
        ),
        neighbours=tuple(tuple(n for n in renumbered(joined[a]) if n != HYDROGEN) for a in kept),
        centres={
            number[a]: around if drawing.chiral[a] in ("@", "@TH1") else _other_hand(around)
            for a in kept
            if drawing.chiral[a]
            for around in [renumbered(drawing.around[a])]
            if len(set(around)) == 4
        },
        double_bonds={
            (number[a], number[b]): (number[x], number[y], is_cis)
            for (a, b), (x, y, is_cis) in _double_bonds(drawing, folded).items()
        },
    )


def _hydrogens(drawing: _Drawing, atom: int, used: int) -> int:
    """The hydrogens on an atom whose written bonds use up this much of its valence."""
    given = drawing.hydrogens[atom]
    ring = [n for n in drawing.around[atom] if n != HYDROGEN and drawing.aromatic[n]]
    if drawing.aromatic[atom] and len(ring) < 2:
        raise _NotSmilesError  # aromatic, but in no ring
    if given is not None:
        return given
    valences = _VALENCES[drawing.elements[atom]]
    if drawing.aromatic[atom]:
        return max(0, valences[0] - used - 1)
    free = [valence - used for valence in valences if valence >= used]
    if not free:
        raise _NotSmilesError
    return free[0]


def _other_hand(around: tuple[int, ...]) -> tuple[int, ...]:
    return (*around[:2], around[3], around[2])


def _double_bonds(
    drawing: _Drawing, folded: set[int]
) -> dict[tuple[int, int], tuple[int, int, bool]]:
    """Double bonds with a direction at both ends, each seen from a heavy neighbour."""
    above: dict[int, dict[int, bool]] = {}  # atom -> neighbour -> whether it is drawn above
    for bond in drawing.bonds:
        if bond.sign in _DIRECTIONS:
            above.setdefault(bond.start, {})[bond.end] = bond.sign == "/"
            above.setdefault(bond.end, {})[bond.start] = bond.sign != "/"
    found: dict[tuple[int, int], tuple[int, int, bool]] = {}
    for bond in drawing.bonds:
        if bond.sign == "=":
            a, b = bond.start, bond.end
            one = _reference(drawing, above, folded, a, b)
            two = _reference(drawing, above, folded, b, a)
            if one and two:
                found[a, b] = (one[0], two[0], one[1] == two[1])
    return found


def _reference(
    drawing: _Drawing, above: Mapping[int, Mapping[int, bool]], folded: set[int], end: int, far: int
) -> tuple[int, bool] | None:
    """A neighbour of one end of a double bond, and whether it is drawn above that end."""
    heavy = [n for n in drawing.around[end] if n not in folded and n not in (HYDROGEN, far)]
    given = [(x, high) for x, high in above.get(end, {}).items() if x != far]
    for x, high in given:
        if x in heavy:
            return x, high
    return (heavy[0], not given[0][1]) if heavy and given else None
