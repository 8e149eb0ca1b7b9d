"""What reacts with what in the bottle, and how far that is known.

A kind of reaction is told where a group meets its partner (aldehyde and glycol, ester and water,
terpene and air) and both weigh enough. Groups follow from the structure: `reactive_groups.csv` is
written from the catalogue's SMILES by `structures.reactive`; a material outside it is read there
by its SMILES where the extra `structures` is installed, and is else said not to be looked at.

Published numbers and their sources stand in `reactions.csv`, one fact a row. Nothing is computed
from them: conditions differ, and a reaction that is named may not show for months. Not looked at:
ketones with glycols, sugars, thiols, metals, light by itself, and citral in acid drinks.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue import Material, default_catalogue
from blendwright.catalogue.tables import table_rows
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools, Ints
from blendwright.verdict.finding import Severity, listed
from blendwright.verdict.rule import (
    CAUTION,
    INFO,
    SEVERITY,
    Rule,
    Rules,
    Severities,
    Words,
    when,
)

# Shares of the mass, all common practice, no source
LEAST_REACTIVE = 1e-3  # of aldehydes, esters and lactones together
LEAST_TERPENES = 1e-2
LEAST_COLOURING = 5e-4  # an aldehyde and an amine that colour show at half a gram in a kilogram
LEAST_SOLVENT = 0.1  # of the alcohols together
LEAST_WATER = 0.05
LEAST_UNKNOWN = 1e-2
LEAST_ACID = 1e-3
NOTABLE = 1e-2  # from here on a caution, below a note
NAMED_FROM = 0.1  # of the least share of its kind: less of a material is not named

Groups = frozenset[str]
Members = dict[str, float]  # name -> share of the mass


@dataclass(frozen=True)
class ReactionFact:
    """One row of reactions.csv. `number` is empty where no rate or amount was found."""

    code: str
    first: str
    second: str
    what: str
    number: str
    unit: str
    conditions: str
    source: str

    def words(self) -> str:
        """The fact in words with its source; `what` says where the amount stands in it.

        >>> half_life = "half-life {amount}"
        >>> ReactionFact("X", "ester", "water", half_life, "2", "years", "pH 7", "liaw").words()
        'half-life 2 years (pH 7; Liaw and others 2002)'
        """
        told = self.what.format(amount=f"{self.number} {self.unit}".strip())
        about = "; ".join(part for part in (self.conditions, cited(self.source)) if part)
        return f"{told} ({about})"


@dataclass(frozen=True)
class ReactionKind:
    """A kind of reaction: what is said, what to do, the least shares, how grave."""

    says: str
    action: str
    least_first: float
    least_second: float
    severity: Severity | None = None  # None: a caution from NOTABLE on, else a note
    rate_known: bool = False
    acids_speed_it: bool = False


KINDS: Mapping[str, ReactionKind] = {
    "ACETAL-FORMS": ReactionKind(
        "Acetals form from {first} and {second}, and the smell changes",
        "Let it ripen before you judge it; add no acids.",
        LEAST_REACTIVE,
        LEAST_SOLVENT,
        rate_known=True,
        acids_speed_it=True,
    ),
    "ESTER-EXCHANGE": ReactionKind(
        "Esters and lactones may exchange their alcohol with the carrier: {first} with {second}",
        "Keep it cool, and free of strong acids and bases.",
        NOTABLE,
        LEAST_SOLVENT,
        "info",
        acids_speed_it=True,
    ),
    "SCHIFF-BASE": ReactionKind(
        "A Schiff base and water form from {first} and {second}",
        "It turns yellow: keep the two in separate bottles, or make it fresh.",
        LEAST_COLOURING,
        LEAST_COLOURING,
        "caution",
    ),
    "AMINE-COLOUR": ReactionKind(
        "It may colour: {first} with {second}",
        "Try it on a shelf in the light before you promise a colour.",
        LEAST_COLOURING,
        LEAST_COLOURING,
        "caution",
    ),
    "ALDEHYDE-OXIDISES": ReactionKind(
        "Air oxidises aldehydes to acids (benzaldehyde to crystals of benzoic acid): {first}",
        "Fill bottles well, keep them closed, cool and dark; buy the aldehyde fresh.",
        LEAST_REACTIVE,
        0.0,
    ),
    "TERPENE-OXIDISES": ReactionKind(
        "Air oxidises terpenes to hydroperoxides, which sensitise, and to stale notes: {first}",
        "Fill bottles well, keep them closed, cool and dark, away from copper and brass.",
        LEAST_TERPENES,
        0.0,
    ),
    "WATER-HYDROLYSIS": ReactionKind(
        "Water slowly splits esters and lactones: {first}, in {second}",
        "Keep it neutral and cool; add the water only to the drink.",
        LEAST_REACTIVE,
        LEAST_WATER,
        "info",
        rate_known=True,
        acids_speed_it=True,
    ),
}

NO_RATE = "No published rate for a closed bottle was found."

# What a word of reactions.csv means in groups; air is always there.
MEMBERS: Mapping[str, Callable[[Groups], bool]] = {
    "aldehyde": lambda g: "aldehyde" in g,
    "phenolic aldehyde": lambda g: "phenolic_aldehyde" in g,
    "plain aldehyde": lambda g: "aldehyde" in g and "phenolic_aldehyde" not in g,
    "ester": lambda g: "ester" in g,
    "lactone": lambda g: "lactone" in g,
    "terpene": lambda g: "terpene_alkene" in g,
    "glycol": lambda g: "glycol" in g,
    "other alcohol": lambda g: "alcohol" in g and "glycol" not in g,
    "any alcohol": lambda g: "alcohol" in g,
    "primary amine": lambda g: "primary_amine" in g,
    "indole": lambda g: "indole" in g,
    "any amine": lambda g: bool(g & {"primary_amine", "indole"}),
    "water": lambda g: "water" in g,
    "ethanol": lambda g: "ethanol" in g,
    "ester of another alcohol": lambda g: "ester_not_ethyl" in g,
    "acid": lambda g: "carboxylic_acid" in g,
    "air": lambda g: False,
}


@cache
def facts() -> tuple[ReactionFact, ...]:
    """The rows of reactions.csv."""
    return tuple(ReactionFact(**row) for row in table_rows("blendwright.verdict", "reactions.csv"))


@cache
def cited(key: str) -> str:
    """A source in a few words: who and when, or what it is."""
    source = default_catalogue().sources[key]
    if source.kind == "from memory" and not source.author:
        return source.title
    if not source.author:
        return f"{source.published_in} {source.year}".strip()
    authors = re.split(r"; | and |(?<=\.), ", source.author)
    family = [author.split(",")[0] for author in authors]
    who = " and ".join(family) if len(family) < 3 else f"{family[0]} and others"
    told = f"{who} {source.year}".strip()
    return f"from memory: {told}" if source.kind == "from memory" else told


@cache
def _table() -> Mapping[str, Groups]:
    return {
        row["material"]: frozenset(row["groups"].split())
        for row in table_rows("blendwright.verdict", "reactive_groups.csv")
    }


@cache
def _by_structure(smiles: str) -> Groups | None:
    from blendwright.pure.structure import MissingExtraError, StructureError
    from blendwright.pure.structure.reactive import reactive_groups_of

    try:
        return reactive_groups_of(smiles)
    except (MissingExtraError, StructureError):
        return None


def reactive_groups(material: Material) -> Groups | None:
    """The reactive groups of a material; None where its structure can't be looked at."""
    known = _table().get(material.name)
    if known is not None or not material.smiles:
        return known
    return _by_structure(material.smiles)


@dataclass(frozen=True, eq=False)
class Mixed:
    """Blends as pairs of a blend and one of these materials, each with its share of the mass."""

    groups: Sequence[Groups | None]
    material: Ints
    blend: Ints
    mass_share: Array
    size: int

    def per_blend(self, values: NDArray[Any]) -> Array:
        found = np.bincount(self.blend, weights=values, minlength=self.size)
        return found.astype(float)

    @cached_property
    def members(self) -> Mapping[str, Bools]:
        """Which pairs belong to each word of MEMBERS."""
        return {
            word: np.array([g is not None and belongs(g) for g in self.groups], dtype=bool)[
                self.material
            ]
            for word, belongs in MEMBERS.items()
        }

    def share_of(self, pairs: Bools) -> Array:
        """Share of each blend's mass."""
        return self.per_blend(self.mass_share * pairs)

    @cached_property
    def shares(self) -> Mapping[str, Array]:
        return {word: self.share_of(pairs) for word, pairs in self.members.items()}

    @cached_property
    def is_hidden(self) -> Bools:
        """Pairs whose structure is not known."""
        return np.array([groups is None for groups in self.groups], dtype=bool)[self.material]

    @cached_property
    def too_much_hidden(self) -> Bools:
        return np.asarray(self.share_of(self.is_hidden) >= LEAST_UNKNOWN)

    @cached_property
    def change_their_alcohol(self) -> Bools:
        """Pairs that become another ester or lactone: in ethanol an ethyl ester becomes itself
        again, and there only the others change."""
        other_alcohols = self.shares["any alcohol"] - self.shares["ethanol"]
        unlike = self.members["ester of another alcohol"] | self.members["lactone"]
        return np.asarray((other_alcohols >= NOTABLE)[self.blend] | unlike)

    @cached_property
    def meetings(self) -> Mapping[str, Sequence[Meeting]]:
        """Every fact of each kind."""
        found: dict[str, list[Meeting]] = {code: [] for code in KINDS}
        for fact in facts():
            kind, reactive = KINDS[fact.code], self.members[fact.first]
            if fact.code == "ESTER-EXCHANGE":
                reactive = reactive & self.change_their_alcohol
            enough = self.shares[fact.second] >= kind.least_second
            enough = enough & (self.share_of(reactive) >= kind.least_first)
            found[fact.code].append(Meeting(fact, reactive, self.members[fact.second], enough))
        return found

    def severity(self, code: str) -> Severities:
        """Severity of one kind."""
        kind, meetings = KINDS[code], self.meetings[code]
        found = np.any([meeting.takes_place for meeting in meetings], axis=0)
        first = np.any([m.first & m.takes_place[self.blend] for m in meetings], axis=0)
        notable = np.where(self.share_of(first) >= NOTABLE, CAUTION, INFO)
        return np.where(found, notable if kind.severity is None else SEVERITY[kind.severity], 0)


@dataclass(frozen=True, eq=False)
class Meeting:
    """A fact, the pairs on both of its sides, and the blends with enough of both."""

    fact: ReactionFact
    first: Bools
    second: Bools
    takes_place: Bools


@dataclass(frozen=True, eq=False)
class OneMixed:
    """One blend of these materials."""

    facts: Mixed
    names: Sequence[str]

    @classmethod
    def of(cls, parts: Iterable[tuple[Material, float]]) -> OneMixed:
        """From materials and their shares of the mass."""
        materials, shares = zip(*parts, strict=True)
        count = len(materials)
        groups = [reactive_groups(material) for material in materials]
        blend = np.zeros(count, dtype=np.int64)
        mixed = Mixed(groups, np.arange(count), blend, np.array(shares, dtype=float), 1)
        return cls(mixed, [material.name for material in materials])

    def _seen(self, pairs: Bools, least: float) -> Members:
        """Those of at least this share, the most first."""
        share = self.facts.mass_share
        ranked = sorted(np.flatnonzero(pairs).tolist(), key=lambda i: -share[i])
        return {self.names[i]: float(share[i]) for i in ranked if share[i] >= least}

    def words(self, code: str) -> Words:
        """Words for one kind."""
        kind = KINDS[code]
        rows = [meeting for meeting in self.facts.meetings[code] if meeting.takes_place[0]]
        named = self._seen(
            np.any([row.first for row in rows], axis=0), NAMED_FROM * kind.least_first
        )
        partner = self._seen(
            np.any([row.second for row in rows], axis=0), NAMED_FROM * kind.least_second
        )
        says = kind.says.format(first=_listed(named), second=_listed(partner))
        sentences = [f"{says}: {'; '.join(row.fact.words() for row in rows)}."]
        if not kind.rate_known:
            sentences.append(NO_RATE)
        acids = self._seen(self.facts.members["acid"], NAMED_FROM * LEAST_ACID)
        if kind.acids_speed_it and sum(acids.values()) >= LEAST_ACID:
            sentences.append(f"Acids in it speed this up: {_listed(acids)}.")
        return " ".join(sentences), kind.action, tuple(named)

    def hidden(self) -> Words:
        named = _listed(self._seen(self.facts.is_hidden, NAMED_FROM * LEAST_UNKNOWN))
        return (
            f"What these react with can't be told, their structure is not known here: {named}.",
            "Ask the supplier; keep a sample and smell it after a month.",
            tuple(self.names[i] for i in np.flatnonzero(self.facts.is_hidden).tolist()),
        )


def _rule(code: str) -> Rule[Mixed, OneMixed]:
    return Rule(code, lambda facts: facts.severity(code), lambda one: one.words(code))


REACTIONS: Rules[Mixed, OneMixed] = (
    *map(_rule, KINDS),
    Rule("REACTIONS-UNKNOWN", lambda facts: when(facts.too_much_hidden, CAUTION), OneMixed.hidden),
)


def _listed(members: Members) -> str:
    """Names with their shares.

    >>> _listed({"vanillin": 0.018, "hexanal": 0.002})
    'vanillin 1.8 %, hexanal 0.2 %'
    """
    return listed([f"{name} {100.0 * share:.2g} %" for name, share in members.items()])
