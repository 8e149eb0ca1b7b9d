"""How much more or less room do liquids take mixed than apart?

Between classes of surface a, b (UNIFAC main groups gathered in CLASSES, areas Q of modified UNIFAC,
Weidlich and Gmehling 1987), as in a solution of groups of the regular kind,

    V_E = sum_i x_i q_i [ 1/2 f^T A f ]  -  1/2 sum_i x_i q_i f_i^T A f_i

with q_i a molecule's surface, f_i its shares by class, f those of the blend by surface, and A the
symmetric table `excess_volume_classes.csv` (zero on its diagonal), learned from published densities
(`accuracy/excess_volumes.py`). Where a pair was measured, its own series stands in place of the
classes', by Kohler's rule carried into blends of more,

    (x_i + x_j)^2 [ RK(r) - classes(r) ],   r = x_i / (x_i + x_j)
    RK(r) = r (1 - r) sum_k A_k (2 r - 1)^k                             (Redlich and Kister 1948)

with the coefficients of `excess_volume.csv`. A substance without groups mixes ideally here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue.tables import table_rows
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, main_group_surfaces
from blendwright.mixture.part import Pairs
from blendwright.mixture.substances import Substances
from blendwright.pure.roots import Bools

REDLICH_KISTER_TERMS = 6
LEAST_HETEROGENEITY = 0.02  # molecules of one class differ in shape; common practice, no source
USUAL_SURFACE = 5.0  # Q of a molecule like isoamyl acetate, for one whose groups nobody knows
MEASURED_PART = 0.05  # of the doubt is left where a pair was measured; common practice, no source
CLASSES: Mapping[str, tuple[str, ...]] = {
    "alkyl": ("CH2", "C=C", "CY-CH2", "C=-C"),
    "aromatic": ("ACH", "ACCH2"),
    "hydroxyl": ("OH", "CH3OH"),
    "water": ("H2O",),
    "carbonyl": ("CH2CO", "CHO", "FURFURAL"),
    "ester": ("CCOO", "HCOO", "COO"),
    "ether": ("CH2O", "CY-CH2O"),
    "phenol": ("ACOH",),
    "acid": ("COOH", "HCOOH"),
    "other": (),  # nitrogen, sulfur, halogens, carbonates
}
NUMBER_OF_CLASSES = len(CLASSES)
_CLASS_OF = {group: number for number, groups in enumerate(CLASSES.values()) for group in groups}
PairCoefficients = Mapping[tuple[str, str], tuple[tuple[float, ...], str]]


@dataclass(frozen=True, eq=False)
class ExcessVolumes:
    """A in m3/mol of surface (classes, classes), and (first, second) -> (A_k in m3/mol, source)."""

    interactions: Array
    pairs: PairCoefficients


@cache
def shipped() -> ExcessVolumes:
    """Excess volumes of the two tables."""
    interactions = np.zeros((NUMBER_OF_CLASSES, NUMBER_OF_CLASSES))
    names = list(CLASSES)
    for row in table_rows("blendwright.mixture", "excess_volume_classes.csv"):
        a, b = names.index(row["first"]), names.index(row["second"])
        interactions[a, b] = interactions[b, a] = float(row["A_cm3_mol"]) * 1e-6
    pairs = {
        (row["first"], row["second"]): (
            tuple(float(row[f"A{k}_cm3_mol"] or 0.0) * 1e-6 for k in range(REDLICH_KISTER_TERMS)),
            row["source"],
        )
        for row in table_rows("blendwright.mixture", "excess_volume.csv")
    }
    return ExcessVolumes(interactions, pairs)


def surfaces(substances: Substances) -> Array:
    """Surface of each class in a molecule, (substances, classes); zero without groups."""

    def made() -> Array:
        found = np.zeros((len(substances), NUMBER_OF_CLASSES))
        for row, pure in zip(found, substances.pures, strict=True):
            for name in ("dortmund", "original"):
                if groups := pure.groups.get(PARAMETER_SETS[name].groups_of):
                    for group, area in main_group_surfaces(name, groups).items():
                        row[_CLASS_OF.get(group, NUMBER_OF_CLASSES - 1)] += area
                    break
        return found

    return substances.once(("volume surfaces",), made)


def _measured_pairs(
    substances: Substances, excess: ExcessVolumes
) -> list[tuple[int, int, tuple[float, ...]]]:
    """The numbers of two substances that have a measured series, and the series."""

    def made() -> list[tuple[int, int, tuple[float, ...]]]:
        numbered = (
            (substances.named(first), substances.named(second), coefficients)
            for (first, second), (coefficients, _) in excess.pairs.items()
        )
        return [pair for pair in numbered if pair[0] >= 0 and pair[1] >= 0]

    if excess is not shipped():
        return made()
    return substances.once(("measured volume pairs",), made)


def excess_m3_mol(pairs: Pairs, x: Array, excess: ExcessVolumes) -> tuple[Array, Bools]:
    """Excess molar volume of each blend, m3/mol, and where a pair has its own series.

    `x` are the mole fractions of the block's pairs of a blend and a substance.
    """
    own = surfaces(pairs.substances)
    total = _by_classes(pairs, x, own, excess.interactions)
    known = np.zeros(pairs.size, dtype=bool)
    for i, j, coefficients in _measured_pairs(pairs.substances, excess):
        a, b = pairs.amount_of(i, x), pairs.amount_of(j, x)
        both = (a > 0.0) & (b > 0.0)
        known |= both
        a, b = a[both], b[both]
        total[both] += pair_excess_m3_mol(coefficients, a, b) - (a + b) ** 2 * class_binary(
            own[i], own[j], a / (a + b), excess.interactions
        )
    return total, known


def heterogeneity(pairs: Pairs, x: Array, excess: ExcessVolumes) -> Array:
    """How much the molecules of a blend differ, 0 to 1: the variance of their shares by class,

        h = sum_i z_i |f_i|^2 - |sum_i z_i f_i|^2 = sum_(i<j) z_i z_j |f_i - f_j|^2

    with z_i the share of the surface; a measured pair counts with MEASURED_PART of its term, and
    all molecules with LEAST_HETEROGENEITY (1 - sum_i z_i^2) besides. One that has no groups counts
    as unlike all others.
    """
    substances = pairs.substances
    own = surfaces(substances)
    size = own.sum(axis=1)
    lacking = size == 0.0
    size = np.where(lacking, USUAL_SURFACE, size)
    shares = np.column_stack([own / size[:, None], lacking])
    z = x * size[pairs.substance]
    z = z / pairs.per_blend(z)[pairs.blend]
    mean = np.stack([pairs.per_blend(z * of[pairs.substance]) for of in shares.T], axis=1)
    found = pairs.per_blend(z * (shares**2).sum(axis=1)[pairs.substance]) - (mean**2).sum(axis=1)
    for i, j, _ in _measured_pairs(substances, excess):
        term = float(((shares[i] - shares[j]) ** 2).sum())
        both = pairs.amount_of(i, z) * pairs.amount_of(j, z)
        found -= (1.0 - MEASURED_PART) * term * both
    alike = LEAST_HETEROGENEITY * (1.0 - pairs.per_blend(z**2))
    return np.asarray(np.maximum(found, 0.0) + alike)


def _by_classes(pairs: Pairs, x: Array, own: Array, interactions: Array) -> Array:
    """The classes' part, m3/mol."""
    surface = np.stack([pairs.per_blend(x * of[pairs.substance]) for of in own.T], axis=1)
    size = surface.sum(axis=1)
    mixed = np.einsum("ba,ac,bc->b", surface, interactions, surface)
    alone = pairs.per_blend(x * _self_terms(own, interactions)[pairs.substance])
    return np.asarray(0.5 * (np.divide(mixed, size, where=size > 0.0, out=size * 0.0) - alone))


def _self_terms(own: Array, interactions: Array) -> Array:
    """q f^T A f of each substance."""
    size = own.sum(axis=1)
    terms = np.einsum("sa,ac,sc->s", own, interactions, own)
    return np.asarray(np.divide(terms, size, where=size > 0.0, out=size * 0.0))


def class_binary(one: Array, other: Array, share: Array, interactions: Array) -> Array:
    """V_E by the classes of two substances alone, m3/mol, at mole fractions of the first."""
    both = share[:, None] * one + (1.0 - share[:, None]) * other
    alone = _self_terms(np.stack([one, other]), interactions)
    apart = share * alone[0] + (1.0 - share) * alone[1]
    return np.asarray(0.5 * (_self_terms(both, interactions) - apart))


def pair_excess_m3_mol(coefficients: tuple[float, ...], a: Array, b: Array) -> Array:
    """One measured pair's part, from the two mole fractions (one of them above zero).

    Kohler: inside a larger blend the pair keeps the series of its own ratio.
    """
    ratio = (a - b) / (a + b)
    return np.asarray(a * b * sum(c * ratio**k for k, c in enumerate(coefficients)))


def sources_of_pairs(names: tuple[str, ...]) -> tuple[str, ...]:
    """The sources of the measured pairs in a blend."""
    there = frozenset(names)
    return tuple(
        source
        for (first, second), (_, source) in shipped().pairs.items()
        if first in there and second in there
    )
