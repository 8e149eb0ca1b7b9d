"""How heavy is a litre of the pure liquid?

Rule: where values lie at five or more temperatures, the parabola through them. Else the median of
the accepted values, published or from memory, each carried to the temperature
asked for along the first accepted correlation (or along a straight line with the expansion below),
and of the accepted correlations themselves. A solid counts as the liquid that it
would be (melt, or an estimate). With nothing known, Girolami (1994) from the formula,
with his corrections for rings and hydroxyl groups where the structure is known.

Expansion without a correlation: beta = 0.00248 - 3.2e-6 Tb per kelvin, 0.0006 to 0.0016, a line
through the correlated densities of ethyl acetate and benzyl acetate (common practice, no source).
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import median_low

import numpy as np

from blendwright.catalogue.material import (
    ATOMIC_WEIGHTS_g_mol,
    Curve,
    Datum,
    Material,
    atoms,
    sources_of,
)
from blendwright.catalogue.origins import chosen_words, correlation_words, values_words
from blendwright.catalogue.smiles import Structure, read_smiles
from blendwright.errors import StructureError
from blendwright.estimate import Estimate
from blendwright.pure.boiling_point import boiling_point, published_first, stated_half_width
from blendwright.pure.intervals import interval_factor

MEASURED_SPREAD = 0.003  # of the value, 90 %
ESTIMATED_SPREAD = 0.04
PARABOLA_POINTS = 5
TABLE_SPREAD = 0.001
OUTSIDE_SPREAD_per_K = 0.0002
GIROLAMI_SPREAD = 0.10
DENSER_BY_HYDROXYL, DENSER_BY_RING, DENSER_BY_FUSED_RING = 0.10, 0.10, 0.075
DENSER_AT_MOST = 0.30
USUAL_EXPANSION_per_K = 0.0009
_RELATIVE_VOLUMES = {
    "H": 1.0, "C": 2.0, "N": 2.0, "O": 2.0, "F": 2.0, "P": 4.0, "S": 4.0, "Cl": 4.0,
}  # fmt: skip


def _curve_density(curve: Curve, molar_mass_kg_mol: float, temperature_K: float) -> float:
    c = curve.coefficients
    t: float = float(np.clip(temperature_K, curve.minimum_K, 0.98 * curve.maximum_K))
    if curve.form == "dippr105":
        exponent: float = 1.0 + (1.0 - t / c[2]) ** c[3]
        return c[0] / math.pow(c[1], exponent) * molar_mass_kg_mol
    if curve.form == "vdi_ppds":
        critical_K, critical_density = c[4], c[5]
        tau = 1.0 - t / critical_K
        powers = (0.35, 2.0 / 3.0, 1.0, 4.0 / 3.0)
        return critical_density + sum(
            a * math.pow(tau, power) for a, power in zip(c[:4], powers, strict=True)
        )
    raise ValueError(f"unknown density form {curve.form!r}")


def expansion_per_K(material: Material) -> float:
    """Estimate the thermal expansion of the liquid near room temperature.

    Parameters
    ----------
    material : Material

    Returns
    -------
    float
        1/K.
    """
    for curve in material.accepted_curves("density"):
        warm = _curve_density(curve, material.molar_mass_kg_mol, 308.15)
        cool = _curve_density(curve, material.molar_mass_kg_mol, 288.15)
        return float((cool - warm) / 20.0 / (0.5 * (cool + warm)))
    boiling = boiling_point(material)
    if boiling.value is None:
        return USUAL_EXPANSION_per_K
    return float(np.clip(0.00248 - 3.2e-6 * boiling.value, 0.0006, 0.0016))


@lru_cache(maxsize=16_384)  # one assessment asks for the same ones some two hundred times
def liquid_density(material: Material, temperature_K: float) -> Estimate:
    """Find the density of the (possibly hypothetical) liquid.

    Parameters
    ----------
    material : Material
    temperature_K : float
        About 250 to 400 K.

    Returns
    -------
    Estimate
        kg/m3; "unknown" without a value, curve or formula.
    """
    data = [d for d in published_first(material.accepted("density")) if d.temperature_K is not None]
    curves = material.accepted_curves("density")
    if len({d.temperature_K for d in data}) >= PARABOLA_POINTS:
        return _along_parabola(data, temperature_K)
    if data:
        return _from_values(material, data, temperature_K)
    if curves:
        values = [_curve_density(c, material.molar_mass_kg_mol, temperature_K) for c in curves]
        value = values[0]
        half = max(MEASURED_SPREAD * value, max(abs(v - value) for v in values))
        half *= interval_factor("density, published", "all")
        return Estimate.ok(
            value,
            value - half,
            value + half,
            "kg/m3",
            correlation_words(curves[0]),
            sources_of(curves),
        )
    if not material.formula:
        return Estimate.unknown("kg/m3", f"no density of {material.name}")
    value = girolami_density(material.formula, material.smiles) * (
        1.0 - expansion_per_K(material) * (temperature_K - 293.15)
    )
    half = GIROLAMI_SPREAD * value
    return Estimate.ok(
        value, value - half, value + half, "kg/m3", "Girolami, from the formula", ("girolami",)
    )


def _along_parabola(data: list[Datum], temperature_K: float) -> Estimate:
    at_K = np.array([d.temperature_K for d in data], dtype=float)
    values = np.array([d.value for d in data])
    middle = float(at_K.mean())
    fit = np.polynomial.Polynomial.fit(at_K - middle, values, 2)
    value = float(fit(temperature_K - middle))
    outside_K = max(0.0, float(at_K.min()) - temperature_K, temperature_K - float(at_K.max()))
    half = value * (TABLE_SPREAD + OUTSIDE_SPREAD_per_K * outside_K)
    half *= interval_factor("density, published", "all")
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "kg/m3",
        f"parabola through {values_words(data)}",
        sources_of(data),
    )


def _from_values(material: Material, data: list[Datum], temperature_K: float) -> Estimate:
    curves = material.accepted_curves("density")

    def carried(datum: Datum) -> float:
        at_K = datum.temperature_K or 293.15
        if curves:
            molar_mass = material.molar_mass_kg_mol
            there = _curve_density(curves[0], molar_mass, at_K)
            here = _curve_density(curves[0], molar_mass, temperature_K)
            return datum.value * here / there
        return datum.value * (1.0 - expansion_per_K(material) * (temperature_K - at_K))

    values = [carried(d) for d in data]
    followed = curves if material.state_20C == "liquid" else ()
    values += [_curve_density(c, material.molar_mass_kg_mol, temperature_K) for c in followed]
    value = median_low(values)
    estimated = all(d.method == "estimated" for d in data)
    floor = ESTIMATED_SPREAD if estimated else MEASURED_SPREAD
    floor = stated_half_width(data, floor * value * material.trust_factor)
    half = max(floor, float(np.std(values)) * 1.645)
    if not estimated:
        half *= interval_factor("density, published", "all")
    solid = material.state_20C == "solid" and temperature_K < 313.15
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "kg/m3",
        "estimated liquid density" if estimated else chosen_words([*data, *followed]),
        sources_of(data) + sources_of(curves),
        (f"{material.name} counted as the liquid it would be",) if solid else (),
    )


def girolami_density(formula: str, smiles: str = "") -> float:
    """Girolami (1994): d = M / (5 V), V the sum of relative atomic volumes; kg/m3.

    With a structure 10 % is added for each hydroxyl group (acids' too) and each ring, 7.5 % for
    each ring where rings share atoms, 30 % at most.

    >>> round(girolami_density("C6H14")), round(girolami_density("C6H12", "C1CCCCC1"))
    (663, 771)
    """
    counts = atoms(formula)
    mass = sum(ATOMIC_WEIGHTS_g_mol[element] * n for element, n in counts.items())
    volume = sum(_RELATIVE_VOLUMES[element] * n for element, n in counts.items())
    return mass / (5.0 * volume) * 1e3 * (1.0 + _denser_by(smiles))


def _denser_by(smiles: str) -> float:
    """Girolami's corrections of a structure, as a share; 0 for one that can't be read."""
    try:
        structure = read_smiles(smiles)
    except StructureError:
        return 0.0
    hydroxyls = sum(
        atom.element == "O" and atom.hydrogens == 1 and len(near) == 1
        for atom, near in zip(structure.atoms, structure.neighbours, strict=True)
    )
    rings = sum(map(len, structure.neighbours)) // 2 - len(structure.atoms) + 1
    cyclic = _without_branches(structure)
    shared = any(len(cyclic.intersection(structure.neighbours[atom])) > 2 for atom in cyclic)
    by_ring = DENSER_BY_FUSED_RING if shared else DENSER_BY_RING
    return min(DENSER_BY_HYDROXYL * hydroxyls + by_ring * rings, DENSER_AT_MOST)


def _without_branches(structure: Structure) -> set[int]:
    """The atoms of rings, and of what joins rings."""
    left = set(range(len(structure.atoms)))
    while ends := {a for a in left if len(left.intersection(structure.neighbours[a])) < 2}:
        left -= ends
    return left
