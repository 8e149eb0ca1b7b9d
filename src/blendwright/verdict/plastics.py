"""Which plastics and rubbers does the blend attack?

Hansen (2007): Ra^2 = 4 (dD1 - dD2)^2 + (dP1 - dP2)^2 + (dH1 - dH2)^2, RED = Ra / R0. Below 1 the
liquid is expected to dissolve or swell the polymer. The blend's parameters are the volume mean of
those of its substances. That mean hides an ester in a glycol, which the plastic takes up out of it:
so the substances that attack by themselves count too, from ATTACKER_SHARE of the volume; and where
less than that has values, its mean says nothing of the blend. Of those that attack by themselves
the ones that make at least NAMED_SHARE of the attackers' volume are named, and always the largest.

The values stand in `hansen.csv`, the polymers' from memory. For EPDM no published triple was found
(a total parameter near 17 MPa^0.5 is, which tells nothing of esters), and it is not looked at; nor
is stress cracking (alcohols on acrylic glass and polycarbonate), nor the plasticiser that esters
draw out of soft PVC.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

ATTACKS_BELOW_RED = 1.0  # Hansen 2007
ATTACKER_SHARE = 0.05  # of the volume (common practice, no source)
NAMED_SHARE = 0.1  # of the attackers' volume (common practice, no source)


@dataclass(frozen=True)
class Hansen:
    """Dispersion, polar and hydrogen-bonding parameters, MPa^0.5; R0 of a polymer."""

    dD: float
    dP: float
    dH: float
    radius: float | None = None

    def distance(self, other: Hansen) -> float:
        """Ra, MPa^0.5."""
        return math.sqrt(
            4.0 * (self.dD - other.dD) ** 2 + (self.dP - other.dP) ** 2 + (self.dH - other.dH) ** 2
        )


@dataclass(frozen=True)
class Contact:
    """One polymer against the blend: RED of the mean, and what attacks it by itself."""

    polymer: str
    red: float
    attackers: tuple[str, ...]

    @property
    def attacks(self) -> bool:
        return self.red < ATTACKS_BELOW_RED or bool(self.attackers)


@dataclass(frozen=True)
class Contacts:
    """Every polymer of the table, and the share of the volume that has no values."""

    polymers: tuple[Contact, ...]
    not_counted: float


@cache
def hansen_parameters(kind: str) -> Mapping[str, Hansen]:
    """The rows of hansen.csv of one kind, "substance" or "polymer", by name."""
    text = (files("blendwright.verdict") / "hansen.csv").read_text(encoding="utf-8")
    return {
        row["material"]: Hansen(
            float(row["dD"]),
            float(row["dP"]),
            float(row["dH"]),
            float(row["R0"]) if row["R0"] else None,
        )
        for row in csv.DictReader(text.splitlines())
        if row["kind"] == kind
    }


@cache
def _sources(kind: str) -> Mapping[str, str]:
    text = (files("blendwright.verdict") / "hansen.csv").read_text(encoding="utf-8")
    return {
        row["material"]: row["source"]
        for row in csv.DictReader(text.splitlines())
        if row["kind"] == kind
    }


def hansen_source(substance: str) -> str:
    """Where a substance's parameters come from; empty where it has none."""
    return _sources("substance").get(substance, "")


def polymer_sources() -> Mapping[str, str]:
    """Where each polymer's parameters come from."""
    return _sources("polymer")


def contacts(volume_shares: Mapping[str, float]) -> Contacts:
    """The blend, as volume fractions by name, against every polymer of the table."""
    known = hansen_parameters("substance")
    counted = {name: share for name, share in volume_shares.items() if name in known}
    total = sum(counted.values())
    not_counted = 1.0 - total / sum(volume_shares.values())
    if 1.0 - not_counted < ATTACKER_SHARE:
        return Contacts((), not_counted)
    mean = Hansen(
        sum(share * known[name].dD for name, share in counted.items()) / total,
        sum(share * known[name].dP for name, share in counted.items()) / total,
        sum(share * known[name].dH for name, share in counted.items()) / total,
    )
    return Contacts(
        tuple(
            _contact(name, polymer, polymer.radius, mean, counted)
            for name, polymer in hansen_parameters("polymer").items()
            if polymer.radius is not None
        ),
        not_counted,
    )


def _contact(
    name: str, polymer: Hansen, radius: float, mean: Hansen, counted: Mapping[str, float]
) -> Contact:
    known = hansen_parameters("substance")
    alone = {
        substance: share
        for substance, share in counted.items()
        if polymer.distance(known[substance]) / radius < ATTACKS_BELOW_RED
    }
    total = sum(alone.values())
    ranked = sorted(alone, key=lambda substance: -alone[substance])
    named = [s for s in ranked if s == ranked[0] or alone[s] >= NAMED_SHARE * total]
    enough = total >= ATTACKER_SHARE
    return Contact(name, polymer.distance(mean) / radius, tuple(named) if enough else ())
