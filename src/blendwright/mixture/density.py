"""How much room does the blend take?

The pure liquids' volumes and the excess volume of mixing (`excess_volume`),

    V = sum n_i M_i / rho_i + n V_E

Dissolved solids count with their liquid density.

The interval takes in quadrature the pure densities' errors by their share of the volume, and what
mixing may do besides, MIXING_SPREAD times the root of how much the molecules differ
(`excess_volume.heterogeneity`), times a factor learned from systems that the classes had
not seen (`intervals`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blendwright.catalogue.material import Material
from blendwright.catalogue.origins import origin_words
from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.excess_volume import (
    ExcessVolumes,
    excess_m3_mol,
    heterogeneity,
    shipped,
    sources_of_pairs,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Pairs
from blendwright.mixture.substances import made_once
from blendwright.pure.intervals import interval_factor
from blendwright.pure.roots import Bools

CLASS_SOURCE = "thermoml"
MIXING_SPREAD = 0.01  # of the value, before the learned factor
BY_CLASSES = "by classes"


@dataclass(frozen=True, eq=False)
class Densities:
    """Densities of blends and half of their intervals, kg/m3 (not a number where one substance's is
    unknown), the share of the half that mixing brings, and where a pair was measured."""

    value: Array
    half: Array
    mixing: Array
    with_known_pairs: Bools


def densities(pairs: Pairs, temperature_K: float, excess: ExcessVolumes | None = None) -> Densities:
    """Find the densities of homogeneous liquids.

    Parameters
    ----------
    pairs : Pairs
        Of blends and their substances.
    temperature_K : float
        About 270 to 360 K.
    excess : ExcessVolumes, optional
        The shipped ones unless given.

    Returns
    -------
    Densities
        kg/m3.
    """
    if excess is None:
        kept = pairs.kept
        mixed = made_once(kept, "mixing", lambda: _Mixing.of(pairs, shipped()))
        key = "densities", temperature_K
        return made_once(kept, key, lambda: _densities(pairs, temperature_K, mixed))
    return _densities(pairs, temperature_K, _Mixing.of(pairs, excess))


def _densities(pairs: Pairs, temperature_K: float, mixed: _Mixing) -> Densities:
    own, sub = pairs.substances, pairs.substance
    density, half = own.densities(temperature_K)
    parts = pairs.mass_share / density[sub]
    specific = pairs.per_blend(parts) + mixed.m3_kg
    share = parts / specific[pairs.blend]
    inputs = np.sqrt(pairs.per_blend((half[sub] / density[sub] * share) ** 2))
    value = 1.0 / specific
    whole_half = value * np.hypot(inputs, mixed.spread)
    return Densities(value, whole_half, value * mixed.spread, mixed.with_known_pairs)


@dataclass(frozen=True, eq=False)
class _Mixing:
    """What mixing does to each blend's volume, at any temperature: the excess volume, m3/kg, half
    of the interval that it brings, and where a pair was measured."""

    m3_kg: Array
    spread: Array
    with_known_pairs: Bools

    @classmethod
    def of(cls, pairs: Pairs, excess: ExcessVolumes) -> _Mixing:
        molar_kg = pairs.substances.molar_mass_kg_mol[pairs.substance]
        moles = pairs.kg / molar_kg
        x = moles / pairs.per_blend(moles)[pairs.blend]
        m3_mol, known = excess_m3_mol(pairs, x, excess)
        spread = mixing_spread(heterogeneity(pairs, x, excess))
        return cls(m3_mol / pairs.per_blend(x * molar_kg), spread, known)


def blend_density(composition: Composition, temperature_K: float) -> Estimate:
    """Find the density of one blend as a homogeneous liquid.

    Parameters
    ----------
    composition : Composition
        One blend.
    temperature_K : float
        About 270 to 360 K.

    Returns
    -------
    Estimate
        kg/m3; "unknown" where a substance has no density.
    """
    pures = composition.table.pure_densities(temperature_K)
    unknown = [
        s.name for s, d in zip(composition.substances, pures, strict=True) if d.value is None
    ]
    if unknown:
        return Estimate.unknown("kg/m3", f"no liquid density of {', '.join(unknown)}")
    found = densities(composition.pairs, temperature_K)
    value, half = float(found.value[0]), float(found.half[0])
    sources: tuple[str, ...] = ()
    method = "liquid density"
    if len(composition.substances) > 1:
        sources = (CLASS_SOURCE, *sources_of_pairs(composition.names))
        method = "pure volumes and excess volume by classes" + (
            " and of measured pairs" if found.with_known_pairs[0] else ""
        )
    all_sources = (*(source for d in pures for source in d.sources), *sources)
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "kg/m3",
        origin_words(method, all_sources),
        all_sources,
        [note for d in pures for note in d.notes],
    )


def mixing_spread(heterogeneity: Array) -> Array:
    """Half-width (90 %) of the relative error that mixing brings."""
    factor = interval_factor("density, mixing", BY_CLASSES)
    return np.asarray(MIXING_SPREAD * factor * np.sqrt(heterogeneity))


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
        origin_words("mass over density", density.sources),
        density.sources,
        density.notes,
    )
