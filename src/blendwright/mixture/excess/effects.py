"""What is a learned coefficient made of?

Each coefficient (c, d, a of a pair; t, u of a cosolvent and an oil) is a sum of effects: shared by
classes, by groups, by a substance, and one of the pair's own. An effect is a normal weight of mean
0 and standard deviation 1 before any measurement, times a number that depends on the two molecules:

    c_ij = sum_e h_e g_e(i, j) w_e(i, j)

h are the standard deviations in `prior.csv`; g carries the distance in group shares (or the base
sets' disagreement), so that it vanishes for alike molecules. The identity of a weight is a hash of
what it belongs to. The second part of each coefficient (its change with 1/T) has weights of its
own, with standard deviations h times `slope`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.excess.descriptors import (
    CLASSES,
    COSOLVENTS,
    HYDROCARBONS,
    HYDROXYLIC,
    KINDS_OF_GROUP,
    Descriptors,
    hash_of,
)
from blendwright.mixture.parameter_sets import Array

Hashes = NDArray[np.uint64]
Index = NDArray[np.intp]
Prior = Mapping[str, float]
Whose = NDArray[Any] | int  # what a weight belongs to: hashes or numbers of classes
_WATER = CLASSES.index("water")
_KIND_FIRST, _KIND_SECOND = np.triu_indices(len(KINDS_OF_GROUP))
_SKEW_FIRST, _SKEW_SECOND = np.triu_indices(len(KINDS_OF_GROUP), 1)
_MULTIPLIER = np.uint64(0x9E3779B97F4A7C15)
_MIX = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


@dataclass(frozen=True, eq=False)
class Effect:
    """One effect on P pairs.

    `coefficient` is (P,) or (P, F), what a standard normal weight is multiplied with; `identity`
    the weights' hashes, of the same shape or (F,).
    """

    name: str
    coefficient: Array
    identity: Hashes


def mixed(*parts: Whose) -> Hashes:
    """A hash of several, in this order."""
    found: Hashes = np.asarray(0x243F6A8885A308D3, dtype=np.uint64)
    with np.errstate(over="ignore"):
        for part in parts:
            found = scrambled(found ^ np.asarray(part, dtype=np.uint64))
    return np.asarray(found)


def scrambled(value: Hashes) -> Hashes:
    """The finaliser of SplitMix64 (Steele, Lea, Flood 2014, doi:10.1145/2714064.2660195)."""
    with np.errstate(over="ignore"):
        z = np.asarray(value, dtype=np.uint64) + _MULTIPLIER
        z = (z ^ (z >> np.uint64(30))) * _MIX[0]
        z = (z ^ (z >> np.uint64(27))) * _MIX[1]
        return np.asarray(z ^ (z >> np.uint64(31)))


def normals(identity: Hashes, count: int) -> Array:
    """(count, ...) standard normal numbers that depend on the identities alone (Box, Muller)."""
    shape = (count,) + (1,) * np.ndim(identity)
    turn = np.arange(1, count + 1, dtype=np.uint64).reshape(shape)
    first = scrambled(mixed(identity, 1)[None] ^ scrambled(turn))
    second = scrambled(first ^ _MULTIPLIER)
    u = ((first >> np.uint64(11)).astype(float) + 0.5) / 2.0**53
    v = (second >> np.uint64(11)).astype(float) / 2.0**53
    return np.asarray(np.sqrt(-2.0 * np.log(u)) * np.cos(2.0 * np.pi * v))


def pair_effects(who: Descriptors, i: Index, j: Index, quantity: str, prior: Prior) -> list[Effect]:
    """On c (symmetric) or d (antisymmetric) of the pairs (i, j) of substances, each (P,)."""
    skew = quantity == "d"
    scale = prior["d"] if skew else 1.0
    ki, kj = who.class_number[i], who.class_number[j]
    hi, hj = who.identities[i], who.identities[j]
    apart = who.distance[i, j] * scale
    with_water = ((ki == _WATER) != (kj == _WATER)).astype(float) * scale
    sign = np.where(ki < kj, 1.0, np.where(ki > kj, -1.0, 0.0)) if skew else 1.0
    own_sign = np.where(hi < hj, 1.0, -1.0) if skew else 1.0
    minus = -1.0 if skew else 1.0
    classes = np.minimum(ki, kj) * len(CLASSES) + np.maximum(ki, kj)

    def effect(name: str, coefficient: Array, *identity: Whose) -> Effect:
        return Effect(
            name, prior[name] * coefficient, mixed(hash_of(f"{quantity} {name}"), *identity)
        )

    def preferred(name: str, whose: Whose) -> Effect:
        """One weight for c and d: a base set is preferred as a whole."""
        return Effect(name, prior[name] * better, mixed(hash_of(name), whose))

    def grouped(name: str, coefficient: Array) -> Effect:
        kinds = np.arange(coefficient.shape[1], dtype=np.uint64)
        return effect(name, coefficient, kinds)

    fi, fj = who.shares[i], who.shares[j]
    if skew:
        groups = fi[:, _SKEW_FIRST] * fj[:, _SKEW_SECOND] - fi[:, _SKEW_SECOND] * fj[:, _SKEW_FIRST]
        groups = 2.0 * groups
    else:
        step = fi - fj
        groups = step[:, _KIND_FIRST] * step[:, _KIND_SECOND]
        groups = groups * np.where(_KIND_FIRST == _KIND_SECOND, 1.0, np.sqrt(2.0))
    solute = np.where((ki == _WATER)[:, None], fj, fi)
    water_sign = np.where(kj == _WATER, 1.0, -1.0) if skew else 1.0
    own = np.sqrt(
        (prior["pair"] * apart) ** 2
        + (prior["disagreement"] * who.disagreement[i, j] * scale) ** 2
        + (prior["water pair"] * with_water) ** 2
    )
    damped = np.minimum(apart, scale)
    better = who.skew_towards_first[i, j] if skew else who.towards_first[i, j]
    return [
        effect("class pair", sign * damped, classes),
        effect("class", damped, ki),
        effect("class", minus * damped, kj),
        effect("substance and class", damped, hi, kj),
        effect("substance and class", minus * damped, hj, ki),
        effect("substance", damped, hi),
        effect("substance", minus * damped, hj),
        grouped("groups", groups * scale),
        preferred("preferred set", np.zeros(len(ki), dtype=np.intp)),
        preferred("preferred set of class pair", classes),
        grouped("water groups", solute * np.atleast_1d(water_sign * with_water)[:, None]),
        Effect(
            "pair",
            own * own_sign,
            mixed(hash_of(f"{quantity} pair"), np.minimum(hi, hj), np.maximum(hi, hj)),
        ),
    ]


def association_effects(who: Descriptors, i: Index, j: Index, prior: Prior) -> list[Effect]:
    """On a of the hydroxylic substances i in the others j, each (P,)."""
    ki, kj = who.class_number[i], who.class_number[j]
    hi, hj = who.identities[i], who.identities[j]
    marks = who.of_class(HYDROXYLIC)
    here = marks[i] * (1.0 - marks[j])

    def effect(name: str, *identity: Whose) -> Effect:
        return Effect(
            f"a {name}", prior[f"a {name}"] * here, mixed(hash_of(f"a {name}"), *identity)
        )

    zero = np.zeros(len(ki), dtype=np.uint64)
    return [
        effect("shared", zero),
        effect("hydroxylic class", ki),
        effect("other class", kj),
        effect("class pair", ki, kj),
        effect("pair", hi, hj),
    ]


def three_body_effects(
    who: Descriptors, i: Index, j: Index, quantity: str, prior: Prior
) -> list[Effect]:
    """On t or u of the cosolvents i and the oils j with water, each (P,)."""
    hi, hj = who.identities[i], who.identities[j]
    ki, kj = who.class_number[i], who.class_number[j]
    here = who.of_class(COSOLVENTS)[i] * oils(who)[j]
    carbon = who.of_class(HYDROCARBONS)[j].astype(np.uint64)
    fine = kj * 2 + (carbon.astype(bool) & who.double_bond[j])

    def effect(name: str, *identity: Whose) -> Effect:
        h = prior[f"{quantity} {name}"]
        return Effect(
            f"{quantity} {name}", h * here, mixed(hash_of(f"{quantity} {name}"), *identity)
        )

    zero = np.zeros(len(ki), dtype=np.uint64)
    return [
        effect("shared", zero),
        effect("cosolvent class", ki),
        effect("cosolvent", hi),
        effect("kind of oil", carbon),
        effect("oil class", fine),
        effect("oil", hj),
        effect("pair", hi, hj),
    ]


def effects(who: Descriptors, i: Index, j: Index, quantity: str, prior: Prior) -> list[Effect]:
    """On one coefficient ("c", "d", "a", "t", "u") of the ordered pairs (i, j)."""
    if quantity in ("c", "d"):
        return pair_effects(who, i, j, quantity, prior)
    if quantity == "a":
        return association_effects(who, i, j, prior)
    return three_body_effects(who, i, j, quantity, prior)


def slope_of(quantity: str, prior: Prior) -> float:
    """Standard deviation of the second part of a coefficient over that of the first."""
    return prior["slope"] if quantity in ("c", "d") else prior[f"{quantity} slope"]


def slope_factor(who: Descriptors, i: Index, j: Index, quantity: str, prior: Prior) -> Array:
    """`slope_of`, with water's pairs apart; (P,)."""
    water = (who.class_number[i] == _WATER) | (who.class_number[j] == _WATER)
    usual = slope_of(quantity, prior)
    return np.asarray(np.where(water & (quantity in ("c", "d")), prior["water slope"], usual))


def oils(who: Descriptors) -> Array:
    """1 for what is neither water nor a cosolvent; (n,)."""
    return 1.0 - who.of_class(COSOLVENTS | {"water"})
