"""How much room does the blend take?

Ideal mixing of the pure liquids' volumes plus the excess volume of pairs that are known for it,

    V = sum n_i M_i / rho_i + n sum_(i<j) x_i x_j sum_k A_k ((x_i - x_j) / (x_i + x_j))^k

(Redlich-Kister, carried into blends by Kohler's rule) with the pairs in `excess_volume.csv`,
fitted to the measurements named there. Dissolved solids count with their liquid density.

The interval takes in quadrature the pure densities' errors by their share of the volume, and what
mixing may do, MIXING_SPREAD (1 - sum x^2), times a factor learned apart for blends with and without
a known pair (`intervals`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material
from blendwright.catalogue.origins import told
from blendwright.catalogue.tables import table_rows
from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Pairs
from blendwright.pure.intervals import interval_factor
from blendwright.pure.roots import Bools

REDLICH_KISTER_TERMS = 6
MIXING_SPREAD = 0.004  # of the value, before the learned factor
WITH_KNOWN_PAIRS, WITHOUT_KNOWN_PAIRS = "with known pairs", "without known pairs"


@cache
def excess_pairs() -> dict[tuple[str, str], tuple[tuple[float, ...], str]]:
    """(first, second) -> (A_k in m3/mol at 298 K, source)."""
    return {
        (row["first"], row["second"]): (
            tuple(float(row[f"A{k}_cm3_mol"] or 0.0) * 1e-6 for k in range(REDLICH_KISTER_TERMS)),
            row["source"],
        )
        for row in table_rows("blendwright.mixture", "excess_volume.csv")
    }


def excess_volume_m3_mol(names: tuple[str, ...], x: Array) -> tuple[float, tuple[str, ...]]:
    """Excess molar volume of the known pairs, and their sources."""
    total, sources = 0.0, []
    position = {name: i for i, name in enumerate(names)}
    for (first, second), (coefficients, source) in excess_pairs().items():
        if first in position and second in position:
            a, b = x[position[first]], x[position[second]]
            total += float(pair_excess_m3_mol(coefficients, a, b))
            sources.append(source)
    return float(total), tuple(sources)


def pair_excess_m3_mol(coefficients: tuple[float, ...], a: Array, b: Array) -> Array:
    """One pair's part, from the two mole fractions (one of them above zero).

    Kohler: inside a larger blend the pair keeps the series of its own ratio.
    """
    ratio = (a - b) / (a + b)
    return np.asarray(a * b * sum(c * ratio**k for k, c in enumerate(coefficients)))


@dataclass(frozen=True, eq=False)
class Densities:
    """Densities of blends and half of their intervals, kg/m3 (not a number where one substance's is
    unknown), and where the excess volume of a pair is known."""

    value: Array
    half: Array
    with_known_pairs: Bools


def densities(pairs: Pairs, temperature_K: float) -> Densities:
    """Of homogeneous liquids, about 270-360 K."""
    own, sub = pairs.substances, pairs.substance
    density, half = own.densities(temperature_K)
    moles = pairs.kg / own.molar_mass_kg_mol[sub]
    x = moles / pairs.per_blend(moles)[pairs.blend]
    mean_mass = pairs.per_blend(x * own.molar_mass_kg_mol[sub])
    excess = np.zeros(pairs.size)
    known = np.zeros(pairs.size, dtype=bool)
    for (first, second), (coefficients, _) in excess_pairs().items():
        if own.named(first) < 0 or own.named(second) < 0:
            continue
        a, b = pairs.amount_of(first, x), pairs.amount_of(second, x)
        both = (a > 0.0) & (b > 0.0)
        known |= both
        excess[both] += pair_excess_m3_mol(coefficients, a[both], b[both])
    parts = pairs.mass_share / density[sub]
    specific = pairs.per_blend(parts) + excess / mean_mass
    share = parts / specific[pairs.blend]
    inputs = np.sqrt(pairs.per_blend((half[sub] / density[sub] * share) ** 2))
    value = 1.0 / specific
    mixing = mixing_spread(pairs.per_blend(x**2), known)
    return Densities(value, value * np.hypot(inputs, mixing), known)


def blend_density(composition: Composition, temperature_K: float) -> Estimate:
    """Density of the homogeneous liquid, kg/m3, about 270-360 K."""
    pures = composition.table.pure_densities(temperature_K)
    unknown = [
        s.name for s, d in zip(composition.substances, pures, strict=True) if d.value is None
    ]
    if unknown:
        return Estimate.unknown("kg/m3", f"no liquid density of {', '.join(unknown)}")
    found = densities(composition.pairs, temperature_K)
    value, half = float(found.value[0]), float(found.half[0])
    sources: tuple[str, ...] = ()
    if found.with_known_pairs[0]:
        sources = excess_volume_m3_mol(composition.names, composition.mole_fractions)[1]
    method = "ideal mixing of volumes" + (" with excess volume of known pairs" if sources else "")
    all_sources = (*(source for d in pures for source in d.sources), *sources)
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "kg/m3",
        told(method, all_sources),
        all_sources,
        [note for d in pures for note in d.notes],
    )


def mixing_spread(sum_of_squares: Array, with_known_pairs: NDArray[np.bool_]) -> Array:
    """Half-width (90 %) of the relative error that mixing brings, from sum x^2 of each blend."""
    factor = np.where(
        with_known_pairs,
        interval_factor("density, mixing", WITH_KNOWN_PAIRS),
        interval_factor("density, mixing", WITHOUT_KNOWN_PAIRS),
    )
    return np.asarray(MIXING_SPREAD * (1.0 - sum_of_squares) * factor)


def material_density(substances: list[tuple[Material, float]], temperature_K: float) -> Estimate:
    """Density of one purchasable material from its substances and their mass fractions."""
    return blend_density(
        compose([(material, fraction, 0) for material, fraction in substances]), temperature_K
    )


def volume(mass_kg: float, density: Estimate) -> Estimate:
    """Mass over density, m3; unknown where the density is."""
    if not density.is_ok:
        return Estimate.unknown("m3", "; ".join(density.notes))
    value, low, high = density.interval()
    return Estimate.ok(
        mass_kg / value,
        mass_kg / high,
        mass_kg / low,
        "m3",
        told("mass over density", density.sources),
        density.sources,
        density.notes,
    )
