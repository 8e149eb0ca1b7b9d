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

import csv
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material
from blendwright.catalogue.origins import told
from blendwright.estimate import Estimate
from blendwright.intervals import interval_factor
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.density import liquid_density

REDLICH_KISTER_TERMS = 6
MIXING_SPREAD = 0.004  # of the value, before the learned factor
WITH_KNOWN_PAIRS, WITHOUT_KNOWN_PAIRS = "with known pairs", "without known pairs"


@cache
def excess_pairs() -> dict[tuple[str, str], tuple[tuple[float, ...], str]]:
    """(first, second) -> (A_k in m3/mol at 298 K, source)."""
    text = (files("blendwright.mixture") / "excess_volume.csv").read_text(encoding="utf-8")
    return {
        (row["first"], row["second"]): (
            tuple(float(row[f"A{k}_cm3_mol"] or 0.0) * 1e-6 for k in range(REDLICH_KISTER_TERMS)),
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
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


def blend_density(composition: Composition, temperature_K: float) -> Estimate:
    """Density of the homogeneous liquid, kg/m3, about 270-360 K."""
    pures = [liquid_density(s.material, temperature_K) for s in composition.substances]
    unknown = [
        s.name for s, d in zip(composition.substances, pures, strict=True) if d.value is None
    ]
    if unknown:
        return Estimate.unknown("kg/m3", f"no liquid density of {', '.join(unknown)}")
    w = composition.mass_fractions
    rho = np.array([d.interval()[0] for d in pures])
    half = np.array([(d.interval()[2] - d.interval()[1]) / 2.0 for d in pures])
    x = composition.mole_fractions
    mean_mass = float(x @ composition.molar_mass_kg_mol)
    specific = float((w / rho).sum())
    excess, sources = excess_volume_m3_mol(composition.names, x)
    specific += excess / mean_mass
    value = 1.0 / specific
    shares = w / rho / specific
    own = float(np.sqrt((((half / rho) * shares) ** 2).sum()))
    spread = value * float(np.hypot(own, mixing_spread((x**2).sum(), np.asarray(bool(sources)))))
    method = "ideal mixing of volumes" + (" with excess volume of known pairs" if sources else "")
    all_sources = (*(source for d in pures for source in d.sources), *sources)
    return Estimate.ok(
        value,
        value - spread,
        value + spread,
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
