"""Rows and effects as one sparse matrix: residual = Z w + noise, w standard normal before any row.

An entry of Z is a row's weight of a coefficient times what the effect is multiplied with there. The
effects come from the package's own `effects`, asked with unit standard deviations, so that a
prior's numbers can be changed without going through the rows again, and the derivative of an entry
by the logarithm of each is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from blendwright.mixture.excess.descriptors import (
    HYDROCARBONS,
    KINDS_OF_GROUP,
    descriptor,
    descriptors,
)
from blendwright.mixture.excess.effects import effects, normals
from blendwright.mixture.excess.learned import DRAWS, fusion_identity, part, shared_fusion_identity
from blendwright.mixture.parameter_sets import Array
from fitting.excess.rows import FitRow
from fitting.excess.systems import Slot, substance

OWN = ("pair", "disagreement", "water pair")  # what the pair's own standard deviation is made of
A_NAMES = ("shared", "hydroxylic class", "other class", "class pair", "pair")
T_NAMES = ("shared", "cosolvent class", "cosolvent", "kind of oil", "oil class", "oil", "pair")
NAMES = (
    "class pair", "class", "substance and class", "substance", "groups",
    "preferred set", "preferred set of class pair", "water groups", *OWN,
    "d", "slope", "water slope", *(f"a {n}" for n in A_NAMES), "a slope", "fusion", "fusion shared",
    *(f"{q} {n}" for q in "tu" for n in (*T_NAMES, "slope")),
)  # fmt: skip
Label = tuple[str, int, str, str]  # coefficient, part, effect, whose
_UNIT = dict.fromkeys(NAMES, 1.0)
_NUMBER = {name: k for k, name in enumerate(NAMES)}
_OWN, _FUSION = -1, -2  # in place of a number: a pair's own effect, a crystal's factor


@dataclass(frozen=True, eq=False)
class SlotEffects:
    """All effects on one coefficient, with unit standard deviations: (effects,) each. `own` (E, 3)
    is the square of each component for a pair's own effect, NaN for the others."""

    names: tuple[str, ...]
    coefficient: Array
    identity: NDArray[np.uint64]
    own: Array
    labels: tuple[str, ...]
    with_water: bool


_SEEN: dict[Slot, SlotEffects] = {}


def slot_effects(slot: Slot) -> SlotEffects:
    if slot not in _SEEN:
        _SEEN[slot] = _slot_effects(slot)
    return _SEEN[slot]


def _slot_effects(slot: Slot) -> SlotEffects:
    quantity, first, second = slot
    two = [substance(first), substance(second)]
    assert two[0] is not None
    assert two[1] is not None
    who = descriptors([two[0], two[1]])
    i, j = np.array([0]), np.array([1])
    found = effects(who, i, j, quantity, _UNIT)
    only = [effects(who, i, j, quantity, _UNIT | dict.fromkeys(OWN, 0.0) | {o: 1.0}) for o in OWN]
    classes = [descriptor(two[0]).chemical_class, descriptor(two[1]).chemical_class]
    names: list[str] = []
    coefficient, identity, own, labels = [], [], [], []
    for k, effect in enumerate(found):
        values, hashes = np.ravel(effect.coefficient), np.ravel(effect.identity)
        parts = np.full((len(values), 3), np.nan)
        if effect.name == "pair":
            squares = [float(o[k].coefficient[0]) ** 2 for o in only]
            parts[0], values = squares, np.sign(values)
        keep = (values != 0.0) & ((effect.name != "pair") | (np.nansum(parts, axis=1) > 0.0))
        names += [effect.name] * int(keep.sum())
        coefficient.append(values[keep])
        identity.append(hashes[keep])
        own.append(parts[keep])
        labels += [_label(effect.name, k, int(n), slot, classes) for n in np.flatnonzero(keep)]
    return SlotEffects(
        tuple(names), np.concatenate(coefficient), np.concatenate(identity), np.vstack(own),
        tuple(labels), "water" in classes,
    )  # fmt: skip


def _label(effect: str, position: int, n: int, slot: Slot, classes: list[str]) -> str:
    """Whose weight it is, for people; `position` is the effect's place on the coefficient."""
    quantity, first, second = slot
    pair = " + ".join(sorted((first, second)) if quantity in "cd" else (first, second))
    if quantity in "cd":
        kinds = np.triu_indices(len(KINDS_OF_GROUP), int(quantity == "d"))
        return {
            "class pair": " + ".join(sorted(classes)),
            "class": classes[(position - 1) % 2],
            "substance and class": (
                f"{first} with {classes[1]}" if position == 3 else f"{second} with {classes[0]}"
            ),
            "substance": first if position == 5 else second,
            "groups": f"{KINDS_OF_GROUP[kinds[0][n]]} and {KINDS_OF_GROUP[kinds[1][n]]}"
            if effect == "groups"
            else "",
            "water groups": KINDS_OF_GROUP[n % len(KINDS_OF_GROUP)],
            "preferred set": "all",
            "preferred set of class pair": " + ".join(sorted(classes)),
            "pair": pair,
        }[effect]
    own = effect.split(" ", 1)[1]
    return {
        "shared": "all",
        "hydroxylic class": classes[0],
        "cosolvent class": classes[0],
        "cosolvent": first,
        "other class": classes[1],
        "class pair": " + ".join(classes),
        "kind of oil": "hydrocarbon" if classes[1] in HYDROCARBONS else "other oil",
        "oil class": f"{classes[1]} ({second} and its like)",
        "oil": second,
        "pair": pair,
    }[own]


@dataclass(frozen=True, eq=False)
class Design:
    """The rows' matrix, by entry: place, shape (the value at unit standard deviations), which
    standard deviations it is multiplied with, and the identity of each column's weight."""

    rows: tuple[FitRow, ...]
    residual: Array
    row: NDArray[np.intp]
    column: NDArray[np.intp]
    shape: Array
    name: NDArray[np.intp]  # number in NAMES, or _OWN, _FUSION
    own: Array
    is_skew: NDArray[np.bool_]
    slope: NDArray[np.intp]  # number in NAMES, -1 for a first part
    fusion_own: Array
    identity: NDArray[np.uint64]
    labels: tuple[Label, ...]

    @property
    def columns(self) -> int:
        return len(self.identity)

    def values(self, prior: Mapping[str, float]) -> tuple[Array, dict[str, Array]]:
        """Each entry, and its derivatives by the logarithms of the prior's standard deviations."""
        h = np.array([prior[name] for name in NAMES])
        value = self.shape.copy()
        by: dict[str, Array] = {}
        plain = self.name >= 0
        value[plain] *= h[self.name[plain]]
        mine = self.name == _OWN
        squares = self.own[mine] * h[[NAMES.index(o) for o in OWN]] ** 2
        total = squares.sum(axis=1)
        value[mine] *= np.sqrt(total)
        crystal = self.name == _FUSION
        spread = np.hypot(prior["fusion"], self.fusion_own[crystal])
        value[crystal] *= spread
        skew_at = NAMES.index("d")
        value[self.is_skew] *= h[skew_at]
        steep = self.slope >= 0
        value[steep] *= h[self.slope[steep]]
        for k, name in enumerate(NAMES):
            by[name] = ((self.name == k) | (self.slope == k)).astype(float)
        for k, name in enumerate(OWN):
            by[name][mine] = squares[:, k] / total
        by["fusion"][crystal] = (prior["fusion"] / spread) ** 2
        by["d"][self.is_skew] = 1.0
        return value, by

    def matrix(self, value: Array) -> sparse.csr_matrix:
        shape = (len(self.rows), self.columns)
        return sparse.csr_matrix((value, (self.row, self.column)), shape=shape)

    def prior_draws(self) -> Array:
        """(DRAWS, columns): the draws that a weight has without any row."""
        return normals(self.identity, DRAWS)


class MatrixEntry(NamedTuple):
    """One number of the matrix; see `Design`."""

    row: int
    column: int
    shape: float
    name: int
    own: tuple[float, ...] = (0.0, 0.0, 0.0)
    is_skew: bool = False
    slope: int = -1
    fusion_own: float = 0.0


class WeightColumns:
    """The weights met so far, by identity, each with its column and what people call it."""

    def __init__(self) -> None:
        self.identities: dict[int, int] = {}
        self.labels: list[Label] = []

    def of(self, identity: NDArray[np.uint64] | np.uint64, label: Label) -> int:
        key = int(identity)
        if key not in self.identities:
            self.identities[key] = len(self.identities)
            self.labels.append(label)
        return self.identities[key]


def design(rows: Sequence[FitRow], quantities: str) -> Design:
    """The effects on these coefficients ("cda" or "tu") of all rows."""
    columns = WeightColumns()
    entries: list[MatrixEntry] = []
    for r, row in enumerate(rows):
        for slot, weight in zip(row.slots, row.weights, strict=True):
            if slot[0] in quantities and abs(weight) > 1e-9:
                entries += _entries(r, row, slot, float(weight), columns)
        if row.fusion is not None and "c" in quantities:
            entries += _fusion_entries(r, row.fusion, columns)
    table = list(zip(*entries, strict=True))
    return Design(
        tuple(rows), np.array([r.residual for r in rows]), np.array(table[0]), np.array(table[1]),
        np.array(table[2]), np.array(table[3]), np.array(table[4]), np.array(table[5], bool),
        np.array(table[6]), np.array(table[7]), np.array(list(columns.identities), np.uint64),
        tuple(columns.labels),
    )  # fmt: skip


def _entries(
    r: int, row: FitRow, slot: Slot, weight: float, columns: WeightColumns
) -> Iterator[MatrixEntry]:
    """A row's dependence on both parts of one coefficient."""
    quantity, found = slot[0], slot_effects(slot)
    steepness = "slope" if quantity in "cd" else f"{quantity} slope"
    if quantity in "cd" and found.with_water:
        steepness = "water slope"
    for k, (factor, slope) in enumerate(((row.first, -1), (row.second, _NUMBER[steepness]))):
        if not factor:
            continue
        hashes = part(found.identity, k)
        for e, effect in enumerate(found.names):
            label = (quantity, k + 1, effect.removeprefix(f"{quantity} "), found.labels[e])
            yield MatrixEntry(
                r, columns.of(hashes[e], label), weight * factor * float(found.coefficient[e]),
                _OWN if effect == "pair" else _NUMBER[effect],
                tuple(found.own[e]) if effect == "pair" else (0.0, 0.0, 0.0),
                quantity == "d" and not effect.startswith("preferred"), slope,
            )  # fmt: skip


def _fusion_entries(
    r: int, fusion: tuple[str, float, float], columns: WeightColumns
) -> Iterator[MatrixEntry]:
    """A row's dependence on its crystal's factor, and on what all crystals share."""
    name, coefficient, own_sd = fusion
    material = substance(name)
    assert material is not None
    identity = fusion_identity(descriptor(material).identity_hash)
    label = ("fusion factor", 1, "fusion", name)
    yield MatrixEntry(r, columns.of(identity, label), coefficient, _FUSION, fusion_own=own_sd)
    label = ("fusion factor", 1, "fusion shared", "all")
    shared = columns.of(shared_fusion_identity(), label)
    yield MatrixEntry(r, shared, coefficient, _NUMBER["fusion shared"])
