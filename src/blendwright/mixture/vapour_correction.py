"""How far the parameter sets' vapour is off over each class of carrier, as learned.

Over glycols every set holds organic solutes too weakly bound, that is too little volatile is said
of them: measured activity coefficients at infinite dilution in eight glycols are higher. A term in
the excess energy of the blend per RT,

    x_g S,   S = sum_i b_i x_i     over the organic solutes i, x_g the glycols, mole fractions

takes that up: ln gamma_i rises by b_i x_g, that of a glycol by S, and all fall by x_g S. b is
learned for each set, apart for hydrocarbons and for solutes with other atoms; what stays
unexplained, by class of carrier, is the standard deviation of ln gamma (`vapour_corrections.csv`,
`accuracy/activity.py`).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from blendwright.catalogue.material import Material, atoms
from blendwright.mixture.parameter_sets import Array

CarrierClass = Literal["glycol", "water", "other"]
GLYCOLS = frozenset(
    {
        "propylene glycol",
        "1,3-propanediol",
        "dipropylene glycol",
        "glycerol",
        "ethylene glycol",
        "diethylene glycol",
        "triethylene glycol",
        "1,6-hexanediol",
    }
)


CLASSES = ("glycol", "glycol_hydrocarbon", "water", "other")


@dataclass(frozen=True)
class Learned:
    """b of one set for hydrocarbons and for other solutes; `ln_sd` by class of carrier after it."""

    hydrocarbon_term: float
    solute_term: float
    ln_sd: dict[str, float]


@cache
def learned() -> dict[str, Learned]:
    """By parameter set; raises KeyError for a set that was not learned."""
    text = (files("blendwright.mixture") / "vapour_corrections.csv").read_text(encoding="utf-8")
    return {
        row["parameter_set"]: Learned(
            float(row["hydrocarbon_term"]),
            float(row["solute_term"]),
            {name: float(row[f"ln_sd_{name}"]) for name in CLASSES},
        )
        for row in csv.DictReader(text.splitlines())
    }


def carrier_class(material: Material) -> CarrierClass:
    """What a substance counts as, where it is the carrier."""
    return "water" if material.is_water else carrier_class_of(material.name)


def carrier_class_of(name: str) -> CarrierClass:
    """The same by the catalogue's name."""
    if name == "water":
        return "water"
    return "glycol" if name in GLYCOLS else "other"


def is_hydrocarbon(material: Material) -> bool:
    return set(atoms(material.formula)) == {"C", "H"}


def glycol_ln_gamma(terms: Array, is_glycol: Array, mole_fractions: Array) -> Array:
    """What the term adds to ln gamma: b of each substance (0 for glycols and water), a mask of 0
    and 1, fractions (..., substances)."""
    x = np.asarray(mole_fractions)
    total = (x * terms).sum(axis=-1, keepdims=True)
    glycols = (x * is_glycol).sum(axis=-1, keepdims=True)
    return np.asarray(terms * glycols + is_glycol * total - glycols * total)
