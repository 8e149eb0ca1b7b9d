"""What was learned, and the terms of a list of substances made from it.

`effects.npz` holds the weights that measurements told something of (posterior mean and DRAWS
posterior draws); `effects.csv` the same for people, in the coefficients' own unit, with standard
deviations; `prior.csv` the standard deviations before any measurement. A weight that no measurement
touched has mean 0 and draws that depend on its identity alone, so a term depends on its own two
substances and on nothing else in the list.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material
from blendwright.catalogue.tables import table_rows
from blendwright.mixture.excess.descriptors import (
    COSOLVENTS,
    HYDROXYLIC,
    Descriptors,
    descriptor,
    descriptors,
    hash_of,
)
from blendwright.mixture.excess.effects import (
    Effect,
    Hashes,
    Index,
    Prior,
    effects,
    mixed,
    normals,
    oils,
    slope_factor,
)
from blendwright.mixture.excess.form import COEFFICIENTS, ExcessTerms
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.fusion import Fusion

DRAWS = 16
LEAST_FUSION_FACTOR = 0.2  # a heat of fusion stays positive (own rule)
INTERVAL_SD = 1.645  # half-width of a 90 % interval over the standard deviation


@dataclass(frozen=True, eq=False)
class Weights:
    """Weights of effects: `identity` sorted, `values` (1 + DRAWS, weights), the mean first."""

    identity: Hashes
    values: Array

    def of(self, identity: Hashes) -> Array:
        """(1 + DRAWS, ...) of any weights; one that was not learned has the prior's."""
        asked, where = np.unique(identity, return_inverse=True)
        found = np.zeros((1 + DRAWS, len(asked)))
        at = np.searchsorted(self.identity, asked)
        at = np.minimum(at, max(len(self.identity) - 1, 0))
        known = self.identity[at] == asked if len(self.identity) else np.zeros(len(asked), bool)
        found[:, known] = self.values[:, at[known]]
        found[1:, ~known] = normals(asked[~known], DRAWS)
        return found[:, where.reshape(np.shape(identity))]

    def of_each(self, summed: Sequence[Effect], number: int) -> list[Array]:
        """The weights of each effect's first (0) or second (1) part, looked up all at once: it
        takes hardly longer than for one effect."""
        each = [effect.identity for effect in summed]
        ends = np.cumsum([identity.size for identity in each])[:-1]
        found = self.of(part(np.concatenate([identity.ravel() for identity in each]), number))
        return [
            values.reshape(-1, *identity.shape)
            for identity, values in zip(each, np.split(found, ends, axis=1), strict=True)
        ]


@cache
def prior() -> Prior:
    """Standard deviations before any measurement, by effect."""
    rows = table_rows("blendwright.mixture.excess", "prior.csv")
    return {row["effect"]: float(row["sd"]) for row in rows}


@cache
def learned_weights() -> Weights:
    """The shipped weights."""
    data = (files("blendwright.mixture.excess") / "effects.npz").read_bytes()
    with np.load(io.BytesIO(data)) as table:
        mean = table["mean"].astype(float)
        return Weights(
            table["identity"], np.vstack([mean, mean + table["deviation"].astype(float)])
        )


def part(identity: Hashes, number: int) -> Hashes:
    """The weight of the first (0) or second (1) part of a coefficient."""
    return mixed(identity, 7) if number else identity


def excess_terms(
    materials: Sequence[Material], weights: Weights | None = None, sds: Prior | None = None
) -> ExcessTerms:
    """The learned terms of these substances; set 0 is the posterior mean, the others draws.

    A pair's coefficients depend on that pair alone: neither on the order of the substances nor on
    which others are there. A substance without groups has no terms: its marks and coefficients are
    zero (`Descriptor.has_groups`), as the base model has none of it either.
    """
    who = descriptors(materials)
    known = learned_weights() if weights is None else weights
    standard = prior() if sds is None else sds
    n = len(materials)
    parts: dict[str, Array] = {}
    for quantity in COEFFICIENTS:
        i, j = pairs_of(who, quantity)
        for number, flat in enumerate(coefficients(who, i, j, quantity, known, standard)):
            square = np.zeros((1 + DRAWS, n, n))
            square[:, i, j] = flat
            if quantity in ("c", "d"):
                square[:, j, i] = -flat if quantity == "d" else flat
            parts[f"{quantity}{number}"] = square
    return ExcessTerms(
        size=who.size,
        hydroxylic=who.of_class(HYDROXYLIC) * who.has_groups,
        oil=oils(who) * who.has_groups,
        water=who.of_class(frozenset({"water"})),
        likeness=who.likeness,
        **parts,
    )


def pairs_of(who: Descriptors, quantity: str) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The ordered pairs that have this coefficient (c and d once a pair)."""
    here = who.has_groups[:, None] & who.has_groups[None, :]
    if quantity in ("c", "d"):
        here = here & np.triu(np.ones_like(here), 1)
    elif quantity == "a":
        bonds = who.of_class(HYDROXYLIC) > 0.0
        here = here & bonds[:, None] & ~bonds[None, :]
    else:
        if not (who.of_class(frozenset({"water"})) > 0.0).any():
            here = np.zeros_like(here)
        here = here & (who.of_class(COSOLVENTS) > 0.0)[:, None] & (oils(who) > 0.0)[None, :]
    i, j = np.nonzero(here)
    return i, j


def coefficients(
    who: Descriptors, i: Index, j: Index, quantity: str, known: Weights, sds: Prior
) -> tuple[Array, Array]:
    """Both parts of a coefficient of the pairs (i, j), each (1 + DRAWS, P)."""
    first, second = np.zeros((2, 1 + DRAWS, len(i)))
    if not len(i):
        return first, second
    summed = effects(who, i, j, quantity, sds)
    for number, found in enumerate((first, second)):
        for effect, values in zip(summed, known.of_each(summed, number), strict=True):
            found += _contribution(effect, values)
    return first, second * slope_factor(who, i, j, quantity, sds)


def _contribution(effect: Effect, values: Array) -> Array:
    if effect.coefficient.ndim == 2:
        if values.ndim == 2:  # weights that all pairs share
            return _products(values, effect.coefficient)
        return np.asarray((values * effect.coefficient).sum(axis=-1))
    return values * effect.coefficient


def _products(values: Array, coefficient: Array) -> Array:
    """values (K, F) times the coefficients (P, F) of each pair (K, P), pair by pair.

    In one product for all the linear algebra library sums in another order where there are other
    pairs, and a pair's last digit would hang on them.
    """
    each = coefficient[:, None, :] @ np.ascontiguousarray(values.T)
    return np.asarray(each[:, 0, :].T)


# Crystals: one learned factor on the heat of fusion


def fusion_identity(identity: int) -> Hashes:
    """The weight of a crystal's factor."""
    return mixed(hash_of("fusion"), identity)


def shared_fusion_identity() -> Hashes:
    """The weight that all crystals' factors share: the heat capacity that the ideal activity leaves
    out makes it less steep in temperature."""
    return mixed(hash_of("fusion shared"))


def fusion_sd(fusion: Fusion, sds: Prior) -> float:
    """Standard deviation of the factor before any solubility was measured: that of the heat of
    fusion, and of what the liquid's terms miss of one solute in all carriers."""
    heat, low, high = fusion.heat.interval()
    return float(np.hypot(sds["fusion"], (high - low) / 2.0 / INTERVAL_SD / heat))


def fusion_factors(
    materials: Sequence[Material],
    fusions: Sequence[Fusion | None],
    weights: Weights | None = None,
    sds: Prior | None = None,
) -> Array:
    """(1 + DRAWS, n): factors f of crystals, with which the saturated liquid has

        ln(x gamma) = ln a(ideal, T) + (f - 1) shape(T)

    (`pure.fusion.correction_shape`, which is the ideal term at 25 °C and fades at melting). A
    crystal without a measured solubility has what all crystals share, and the prior's draws
    about it.
    """
    known = learned_weights() if weights is None else weights
    standard = prior() if sds is None else sds
    identity = np.array([descriptor(m).identity_hash for m in materials], dtype=np.uint64)
    sd = np.array([0.0 if f is None else fusion_sd(f, standard) for f in fusions])
    values = known.of(mixed(hash_of("fusion"), identity)) * sd
    values = values + known.of(shared_fusion_identity())[:, None] * standard["fusion shared"]
    return np.asarray(np.maximum(1.0 + values, LEAST_FUSION_FACTOR))
