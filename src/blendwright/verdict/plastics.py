"""Which plastics and rubbers does the blend attack?

Hansen (2007): Ra^2 = 4 (dD1 - dD2)^2 + (dP1 - dP2)^2 + (dH1 - dH2)^2, RED = Ra / R0. Below 1 the
liquid is expected to dissolve or swell the polymer. The blend's parameters are the volume mean of
those of its substances. That mean hides an ester in a glycol, which the plastic takes up out of it:
so the substances that attack by themselves count too, from ATTACKER_SHARE of the volume; and where
less than that has values, its mean says nothing of the blend. Among those that attack by themselves
the ones that make at least NAMED_SHARE of the attackers' volume are named, and always the largest.

The values stand in `hansen.csv`, the polymers' from memory. For EPDM no published triple was found
(a total parameter near 17 MPa^0.5 is, which tells nothing of esters), and it is not looked at; nor
is stress cracking (alcohols on acrylic glass and polycarbonate), nor the plasticiser that esters
draw out of soft PVC.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.tables import table_rows
from blendwright.estimate import per_cent
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.roots import Bools, Ints
from blendwright.verdict.finding import listed
from blendwright.verdict.rule import CAUTION, INFO, Rule, Rules, Words, when

ATTACKS_BELOW_RED = 1.0  # Hansen 2007
ATTACKER_SHARE = 0.05  # of the volume (common practice, no source)
NAMED_SHARE = 0.1  # of the attackers' volume (common practice, no source)
MOST_NOT_COUNTED = 0.2  # of the volume: more without Hansen values, and nothing can be said


@dataclass(frozen=True)
class Hansen:
    """Dispersion, polar and hydrogen-bonding parameters, MPa^0.5; R0 of a polymer."""

    dD: float
    dP: float
    dH: float
    radius: float | None = None

    def distance(self, other: Hansen) -> float:
        """Ra, MPa^0.5."""
        return float(distances(np.array([[self.dD, self.dP, self.dH]]), other)[0])


def distances(values: Array, polymer: Hansen) -> Array:
    """Ra of many liquids, MPa^0.5: rows of dD, dP, dH."""
    d, p, h = values.T
    return np.asarray(
        np.sqrt(4.0 * (d - polymer.dD) ** 2 + (p - polymer.dP) ** 2 + (h - polymer.dH) ** 2)
    )


@cache
def hansen_parameters(kind: str) -> Mapping[str, Hansen]:
    """The rows of hansen.csv of one kind, "substance" or "polymer", by name."""
    return {
        row["material"]: Hansen(
            float(row["dD"]),
            float(row["dP"]),
            float(row["dH"]),
            float(row["R0"]) if row["R0"] else None,
        )
        for row in table_rows("blendwright.verdict", "hansen.csv")
        if row["kind"] == kind
    }


@cache
def _sources(kind: str) -> Mapping[str, str]:
    return {
        row["material"]: row["source"]
        for row in table_rows("blendwright.verdict", "hansen.csv")
        if row["kind"] == kind
    }


def hansen_source(substance: str) -> str:
    """Where a substance's parameters come from; empty where it has none."""
    return _sources("substance").get(substance, "")


def polymer_sources() -> Mapping[str, str]:
    """Where each polymer's parameters come from."""
    return _sources("polymer")


@cache
def polymers() -> tuple[tuple[str, Hansen, float], ...]:
    """Name, parameters and R0 of every polymer that can be looked at."""
    return tuple(
        (name, polymer, polymer.radius)
        for name, polymer in hansen_parameters("polymer").items()
        if polymer.radius is not None
    )


@dataclass(frozen=True, eq=False)
class Liquids:
    """Blends as pairs of a blend and one of these substances, each with its volume fraction."""

    names: Sequence[str]
    substance: Ints
    blend: Ints
    volume_share: Array
    size: int

    def per_blend(self, values: NDArray[Any]) -> Array:
        found = np.bincount(self.blend, weights=values, minlength=self.size)
        return found.astype(float)


@dataclass(frozen=True, eq=False)
class Contacts:
    """Blends against every polymer: RED of the mean, and of each pair of a blend and a substance
    whether it attacks the polymer by itself; what share of each blend's volume has values."""

    liquids: Liquids
    red: Array  # (polymers, blends)
    attacks_alone: Bools  # (polymers, pairs)
    counted: Array

    @cached_property
    def can_be_told(self) -> Bools:
        return np.asarray(self.counted >= ATTACKER_SHARE)

    @cached_property
    def not_counted(self) -> Array:
        return np.asarray(1.0 - self.counted)

    @cached_property
    def attackers(self) -> Array:
        """Volume fraction of what attacks each polymer by itself, (polymers, blends)."""
        shares = self.attacks_alone * self.liquids.volume_share
        return np.array([self.liquids.per_blend(row) for row in shares])

    @cached_property
    def attacks(self) -> Bools:
        """(polymers, blends)"""
        by_mean = self.red < ATTACKS_BELOW_RED
        by_part = self.attackers >= ATTACKER_SHARE
        return np.asarray((by_mean | by_part) & self.can_be_told)

    @cached_property
    def some_attacked(self) -> Bools:
        return np.asarray(self.attacks.any(axis=0))

    @cached_property
    def some_spared(self) -> Bools:
        return np.asarray((~self.attacks).any(axis=0) & self.can_be_told)

    @cached_property
    def too_little_counted(self) -> Bools:
        return np.asarray(self.not_counted > MOST_NOT_COUNTED)


def contacts(liquids: Liquids) -> Contacts:
    """Every blend against every polymer of the table."""
    table = hansen_parameters("substance")
    known = np.array([name in table for name in liquids.names], dtype=bool)
    found = [table[name] if name in table else Hansen(0.0, 0.0, 0.0) for name in liquids.names]
    values = np.array([(h.dD, h.dP, h.dH) for h in found]).reshape(-1, 3)
    share = liquids.volume_share * known[liquids.substance]
    counted = liquids.per_blend(share)
    divisor = np.where(counted > 0.0, counted, 1.0)
    mean = np.array(
        [liquids.per_blend(share * values[liquids.substance, k]) / divisor for k in range(3)]
    ).T
    red = [distances(mean, polymer) / radius for _, polymer, radius in polymers()]
    alone = [
        known & (distances(values, polymer) / radius < ATTACKS_BELOW_RED)
        for _, polymer, radius in polymers()
    ]
    return Contacts(liquids, np.array(red), np.array(alone)[:, liquids.substance], counted)


@dataclass(frozen=True)
class Contact:
    """One polymer against one blend: RED of the mean, and what attacks it by itself."""

    polymer: str
    red: float
    attackers: tuple[str, ...]
    attacks: bool


@dataclass(frozen=True, eq=False)
class OneContact:
    """The contacts of one blend."""

    facts: Contacts

    @classmethod
    def of(cls, volume_shares: Mapping[str, float]) -> OneContact:
        """From volume fractions by name."""
        share = np.array(list(volume_shares.values()), dtype=float)
        every = np.arange(len(share))
        blend = np.zeros(len(share), dtype=np.int64)
        names = tuple(volume_shares)
        return cls(contacts(Liquids(names, every, blend, share / share.sum(), 1)))

    @property
    def not_counted(self) -> float:
        return float(self.facts.not_counted[0])

    @cached_property
    def polymers(self) -> tuple[Contact, ...]:
        """None where too little of it has values."""
        facts = self.facts
        if not facts.can_be_told[0]:
            return ()
        return tuple(
            Contact(name, float(facts.red[k, 0]), self._named(k), bool(facts.attacks[k, 0]))
            for k, (name, _, _) in enumerate(polymers())
        )

    def _named(self, polymer: int) -> tuple[str, ...]:
        """The substances to blame for an attack, the largest first."""
        liquids, total = self.facts.liquids, self.facts.attackers[polymer, 0]
        if total < ATTACKER_SHARE:
            return ()
        share = liquids.volume_share
        ranked = sorted(np.flatnonzero(self.facts.attacks_alone[polymer]), key=lambda i: -share[i])
        named = [i for i in ranked if i == ranked[0] or share[i] >= NAMED_SHARE * total]
        return tuple(liquids.names[liquids.substance[i]] for i in named)

    @property
    def _attacked(self) -> list[Contact]:
        return [contact for contact in self.polymers if contact.attacks]

    def attack(self) -> Words:
        names = ", ".join(f"{c.polymer} ({c.red:.1f})" for c in self._attacked)
        attackers = tuple(dict.fromkeys(name for c in self._attacked for name in c.attackers))
        by = f", by {listed(attackers)}" if attackers else ""
        return (
            f"These may swell, crack or dissolve (Hansen RED of the blend){by}: {names}.",
            "Use glass; test caps and liners with it.",
            attackers,
        )

    def unknown(self) -> Words:
        rest = "other plastics" if self._attacked else "plastics"
        return (
            f"The effect on {rest} is unknown: {per_cent(self.not_counted)} of the volume has "
            "no Hansen parameters here.",
            "Use glass, or test a bottle.",
            (),
        )

    def no_attack(self) -> Words:
        spared = ", ".join(c.polymer for c in self.polymers if not c.attacks)
        return (
            f"By this estimate it does not attack: {spared} "
            f"({per_cent(self.not_counted)} of the volume not counted). EPDM, soft PVC and "
            "stress cracking are not assessed.",
            "Test a bottle.",
            (),
        )


PLASTICS: Rules[Contacts, OneContact] = (
    Rule("PLASTIC-ATTACK", lambda facts: when(facts.some_attacked, CAUTION), OneContact.attack),
    Rule(
        "PLASTIC-UNKNOWN",
        lambda facts: when(facts.too_little_counted, CAUTION),
        OneContact.unknown,
    ),
    Rule(
        "PLASTIC-NO-ATTACK",
        lambda facts: when(~facts.too_little_counted & facts.some_spared, INFO),
        OneContact.no_attack,
    ),
)
