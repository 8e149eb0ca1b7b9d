"""Substances by any name, the base model of a system, and how ln gamma depends on the terms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from blendwright.catalogue import Material, default_catalogue
from blendwright.errors import BlendwrightError, MissingGroupPairError
from blendwright.mixture.activity import ActivityModel, activity_model
from blendwright.mixture.excess.descriptors import (
    BASE_SETS,
    HYDROXYLIC,
    Descriptors,
    descriptors,
)
from blendwright.mixture.excess.effects import oils
from blendwright.mixture.excess.form import COEFFICIENTS, ExcessAt
from blendwright.mixture.excess.learned import pairs_of
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.mixture.weighing import resolve
from blendwright.pure.structure.nearest_groups import NEAREST

SAME_NAMES = {
    "ethyl propanoate": "ethyl propionate",
    "ethyl butanoate": "ethyl butyrate",
    "methyl butanoate": "methyl butyrate",
    "methyl pentanoate": "methyl valerate",
    "n-butanol": "1-butanol",
    "n-hexanol": "1-hexanol",
    "n-hexane": "hexane",
    "n-heptane": "heptane",
    "n-pentyl acetate": "pentyl acetate",
    "n-pentadecane": "pentadecane",
}
Slot = tuple[str, str, str]  # coefficient, and the names of its two substances


KNOWN: dict[str, Material] = {}  # every substance asked for so far, by its own name


def substance(name: str) -> Material | None:
    """None for what the catalogue and the library don't know, what can't be calculated here, and
    what lacks the groups of a base set."""
    return KNOWN.get(name) or _found(name)


@cache
def _found(name: str) -> Material | None:
    try:
        found = resolve(SAME_NAMES.get(name, name), default_catalogue())
    except (BlendwrightError, ValueError, KeyError):
        return None
    if found.constituents or not found.formula:
        return None
    if not all(found.groups.get(PARAMETER_SETS[s].groups_of) for s in BASE_SETS):
        return None
    return KNOWN.setdefault(found.name, found)


@cache
def by_structure(smiles: str, name: str = "") -> Material | None:
    """By its SMILES, else by its name."""
    return substance(smiles) or (substance(name) if name else None)


@dataclass(frozen=True, eq=False)
class System:
    """A list of substances with the base model and the learned form."""

    materials: tuple[Material, ...]
    models: tuple[ActivityModel, ...]

    @cached_property
    def who(self) -> Descriptors:
        return descriptors(self.materials)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(m.name for m in self.materials)

    def ln_gamma(self, x: Array, temperature_K: float) -> Array:
        """The base: the mean of its sets."""
        return np.asarray(np.mean([m.ln_gamma(x, temperature_K) for m in self.models], axis=0))

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """The coefficients of this system, as names."""
        return tuple(
            (quantity, self.names[a], self.names[b])
            for quantity in COEFFICIENTS
            for a, b in zip(*pairs_of(self.who, quantity), strict=True)
        )

    def at(self, values: Array) -> ExcessAt:
        """The form with given coefficients; `values` (K, slots)."""
        n, values = len(self.materials), np.atleast_2d(values)
        squares = {q: np.zeros((len(values), n, n)) for q in COEFFICIENTS}
        place = {name: k for k, name in enumerate(self.names)}
        for k, (quantity, first, second) in enumerate(self.slots):
            a, b = place[first], place[second]
            squares[quantity][:, a, b] = values[:, k]
            if quantity in ("c", "d"):
                squares[quantity][:, b, a] = values[:, k] * (-1.0 if quantity == "d" else 1.0)
        return ExcessAt.of(
            self.who.size, self.who.of_class(HYDROXYLIC), oils(self.who),
            self.who.of_class(frozenset({"water"})), likeness=self.who.likeness, **squares,
        )  # fmt: skip

    @cached_property
    def _unit(self) -> ExcessAt:
        return self.at(np.eye(len(self.slots)))

    def jacobian(self, x: Array) -> Array:
        """d ln gamma / d coefficient: (slots, ..., n)."""
        return self._unit.ln_gamma(x)


@cache
def system(materials: tuple[Material, ...]) -> System | None:
    """None where a base set lacks a pair of groups, two are one substance, or one has merely the
    nearest groups: what the base then misses is no lesson for its class."""
    if len({m.name for m in materials}) < len(materials):
        return None
    if any(NEAREST in m.groups_assigned_by for m in materials):
        return None
    try:
        models = tuple(
            activity_model(
                PARAMETER_SETS[s], [m.groups[PARAMETER_SETS[s].groups_of] for m in materials]
            )
            for s in BASE_SETS
        )
    except (MissingGroupPairError, ValueError, KeyError):
        return None
    return System(materials, models)


def of_names(names: Sequence[str]) -> System | None:
    """The system of these substances; None where one is not known."""
    found = [m for name in names if (m := substance(name)) is not None]
    return system(tuple(found)) if len(found) == len(names) else None
