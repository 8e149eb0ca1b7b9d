"""The nouns of the catalogue: a material, its facts, and where each fact came from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from types import MappingProxyType
from typing import Literal

Kind = Literal["substance", "mixture", "natural_oil"]
State = Literal["solid", "liquid"]
Method = Literal["measured", "compiled", "estimated"]
Read = Literal["full", "abstract", "secondary", "memory", "none"]

# IUPAC 2021 abridged standard atomic weights, of the elements that flavour materials hold.
ATOMIC_WEIGHTS_g_mol: Mapping[str, float] = MappingProxyType(
    {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007, "S": 32.06, "P": 30.974, "Cl": 35.45}
)


UNDISCLOSED_MOLAR_MASS_kg_mol = 0.2
OWN = "yours"  # how the sources of the person's own values begin
DRAWN = "from structure"  # the family of a material that only its structure tells of
UNCURATED_FACTOR = 2.5  # common practice, no source


def atoms(formula: str) -> dict[str, int]:
    """The count of each element in a plain molecular formula.

    >>> atoms("C2H6O")
    {'C': 2, 'H': 6, 'O': 1}
    """
    counts: dict[str, int] = {}
    for element, number in re.findall(r"([A-Z][a-z]?)(\d*)", formula):
        counts[element] = counts.get(element, 0) + int(number or 1)
    return counts


READ_WORDS: Mapping[Read, str] = MappingProxyType(
    {
        "full": "read",
        "abstract": "read as its abstract",
        "secondary": "read where another quotes or tabulates it",
        "memory": "from memory",
        "none": "",  # made here, common practice, or the person's own
    }
)


@dataclass(frozen=True)
class Source:
    """One entry of the bibliography.

    `read` says how it was read: the work or data set itself ("full"), its "abstract", elsewhere
    where it is quoted or tabulated ("secondary"), not at all ("memory"); "none" for what was made
    here and for common practice. `licence` is that of the values, where it is known. `item` is
    the record as CSL-JSON (`csl`), empty for a source that is in no file.
    """

    key: str
    kind: str
    author: str
    year: str
    title: str
    published_in: str
    doi: str
    note: str
    url: str = ""
    licence: str = ""
    read: Read = "none"
    item: Mapping[str, object] = field(default_factory=dict, compare=False)

    @property
    def address(self) -> str:
        """Where a person can open it: the DOI as a link, else the URL; "" without either."""
        return f"https://doi.org/{self.doi}" if self.doi else self.url

    @property
    def was_read(self) -> bool:
        """Whether its values were read, rather than remembered or made here."""
        return self.read in ("full", "abstract", "secondary")

    @property
    def reading(self) -> str:
        """In words, how its values were read: shown wherever a number rests on it."""
        return READ_WORDS[self.read]

    def citation(self) -> str:
        """One line of text for a reader."""
        parts = [self.author, self.year, self.title, self.published_in]
        line = ", ".join(part for part in parts if part)
        if self.doi:
            return f"{line} (doi:{self.doi})"
        return f"{line} ({self.url})" if self.url else line


@dataclass(frozen=True)
class Datum:
    """One published value, in SI: K, Pa, kg/m3, J/mol, mol/mol. `rejected` says why it lost."""

    property: str
    value: float
    temperature_K: float | None
    uncertainty: float | None
    method: Method
    source: str
    rejected: str
    note: str


@dataclass(frozen=True)
class Curve:
    """One published correlation: its form, coefficients and range."""

    property: str
    form: str
    coefficients: tuple[float, ...]
    minimum_K: float
    maximum_K: float
    source: str
    rejected: str


@dataclass(frozen=True)
class Constituent:
    """One part of a mixture or a natural oil, in mass fractions."""

    material: str
    typical: float
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class MeasuredSolubility:
    """A crystal's solubility in one carrier, as mole fraction of the solution.

    `ln_sd` is the standard deviation of its logarithm, where it was given.
    """

    solvent: str
    temperature_K: float
    mole_fraction: float
    source: str
    ln_sd: float | None = None

    @property
    def is_own(self) -> bool:
        """The person's, and no published one."""
        return self.source.startswith(OWN)


@dataclass(frozen=True, eq=False)
class Material:
    """One purchasable thing: a substance, a mixture of stated strength, or a natural oil.

    Compared by all that is known of it, and hashed by its identity, so that what is derived from
    it can be cached.

    `groups` maps a column of groups.csv ("original", "dortmund", ...) to {subgroup: count}.
    `curated` is False for a substance taken from the `chemicals` library without review.
    """

    name: str
    kind: Kind
    cas: str
    formula: str
    smiles: str
    inchikey: str
    state_20C: State
    fema: str
    names: tuple[str, ...]
    note: str
    family: str
    data: tuple[Datum, ...] = ()
    curves: tuple[Curve, ...] = ()
    groups: Mapping[str, Mapping[int, int]] = field(default_factory=dict)
    groups_assigned_by: str = ""
    constituents: tuple[Constituent, ...] = ()
    solubilities: tuple[MeasuredSolubility, ...] = ()
    curated: bool = True

    def __repr__(self) -> str:
        return f"<Material {self.name}{f', CAS {self.cas}' if self.cas else ''}>"

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, Material):
            return NotImplemented
        return all(getattr(self, f.name) == getattr(other, f.name) for f in fields(self))

    def __hash__(self) -> int:
        return hash((self.name, self.cas, self.inchikey))

    @cached_property
    def molar_mass_kg_mol(self) -> float:
        """From the formula; raises KeyError for an element outside ATOMIC_WEIGHTS_g_mol.

        A base of undisclosed composition counts with a nominal 200 g/mol, which only touches the
        spread of a density: it is left out wherever moles matter.
        """
        if not self.formula:
            return UNDISCLOSED_MOLAR_MASS_kg_mol
        return (
            sum(ATOMIC_WEIGHTS_g_mol[element] * n for element, n in atoms(self.formula).items())
            / 1e3
        )

    @property
    def trust_factor(self) -> float:
        """By how much an interval is widened: 1, or 2.5 for what nobody curated."""
        return 1.0 if self.curated else UNCURATED_FACTOR

    def accepted(self, name: str) -> tuple[Datum, ...]:
        """The values of a property that were not rejected."""
        return tuple(d for d in self.data if d.property == name and not d.rejected)

    def accepted_curves(self, name: str) -> tuple[Curve, ...]:
        return tuple(c for c in self.curves if c.property == name and not c.rejected)

    @property
    def is_undisclosed(self) -> bool:
        """A bought base known only by its data sheet."""
        return self.kind == "substance" and not self.formula

    @property
    def is_water(self) -> bool:
        return self.cas == "7732-18-5"

    @property
    def is_flammable(self) -> bool:
        """False only for what can't burn. Unknown counts as flammable."""
        return not self.is_water

    @property
    def is_analogue(self) -> bool:
        """True where the groups are those of a similar molecule."""
        return self.groups_assigned_by.startswith("analogue")


def parse_groups(text: str) -> dict[int, int]:
    """Read "1:2 14:1" as {1: 2, 14: 1}.

    >>> parse_groups("1:2 14:1")
    {1: 2, 14: 1}
    """
    return {int(key): int(n) for key, n in (pair.split(":") for pair in text.split())}


def sources_of(facts: Iterable[Datum | Curve]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(fact.source for fact in facts))
