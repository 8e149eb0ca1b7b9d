"""Densities of pure liquids and of blends (`reference/density.csv`, `density_mixtures.csv`), in
per cent."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from blendwright.catalogue import Material, default_catalogue
from blendwright.catalogue.kinds import kind_of
from blendwright.estimate import to_celsius
from blendwright.mixture.composition import compose
from blendwright.mixture.density import (
    WITH_KNOWN_PAIRS,
    WITHOUT_KNOWN_PAIRS,
    blend_density,
    excess_volume_m3_mol,
    mixing_spread,
)
from blendwright.mixture.weighing import resolve
from blendwright.pure.density import girolami_density, liquid_density
from blendwright.pure.intervals import interval_factor
from blendwright.questions.accuracy.conformal import Score, calibrated, left_out
from blendwright.questions.accuracy.figures import Case
from blendwright.questions.accuracy.reference import reference

WRONG_ROWS = {("1-hexanol 1.0", "303.15", "759.829")}
"""Contradicted by 6 % by five other rows at the same temperature."""
TAUGHT = "isopropanol;water"
"""Its excess volume was fitted to these three rows, so they don't judge."""
OFF_BY_ITS_PURE_LIQUIDS = "1-propanol;benzaldehyde"
"""Its paper (doi:10.1021/je900212d, ±0.35 %) has 803.2 and 1047.0 kg/m3 for the pure liquids at
25 °C, 0.5 and 0.3 % above the middle of 34 and 3 papers in ThermoML: too coarse to judge mixing."""
GIROLAMI = "Girolami 1994, from the formula"


@dataclass(frozen=True)
class Measured:
    """One published density: mole fractions by material, K, kg/m3."""

    parts: tuple[tuple[Material, float], ...]
    temperature_K: float
    density_kg_m3: float

    @property
    def name(self) -> str:
        names = " + ".join(
            material.name if len(self.parts) == 1 else f"{material.name} {share:.3g}"
            for material, share in self.parts
        )
        return f"{names}, {to_celsius(self.temperature_K):.0f} °C"


@cache
def measured() -> tuple[Measured, ...]:
    """Every row but the wrong ones."""
    catalogue = default_catalogue()
    found = []
    for row in reference("density.csv"):
        if (row["composition"], row["temperature_K"], row["density_kg_m3"]) in WRONG_ROWS:
            continue
        written = [part.rsplit(" ", 1) for part in row["composition"].split("; ")]
        found.append(
            Measured(
                tuple(
                    (catalogue.find(name), float(share))
                    for name, share in written
                    if float(share) > 0.0
                ),
                float(row["temperature_K"]),
                float(row["density_kg_m3"]),
            )
        )
    for row in reference("density_mixtures.csv"):
        if row["components"] in (TAUGHT, OFF_BY_ITS_PURE_LIQUIDS):
            continue
        materials = [resolve(name, catalogue) for name in row["components"].split(";")]
        shares = np.array([float(share) for share in row["fractions"].split(";")])
        if row["basis"] == "mass":
            shares = shares / [m.molar_mass_kg_mol for m in materials]
            shares = shares / shares.sum()
        parts = tuple((m, float(x)) for m, x in zip(materials, shares, strict=True))
        found.append(Measured(parts, float(row["temperature_K"]), float(row["density_kg_m3"])))
    return tuple(found)


@cache
def pure_uncalibrated() -> tuple[Case, ...]:
    """Errors of the pure liquids in per cent, with the half-width before any factor."""
    factor = interval_factor("density, published", "all")
    made = []
    for row in measured():
        if len(row.parts) > 1:
            continue
        material = row.parts[0][0]
        value, low, _ = liquid_density(material, row.temperature_K).interval()
        scale = 100.0 / row.density_kg_m3
        guess = 100.0 * (girolami_density(material.formula) / row.density_kg_m3 - 1.0)
        made.append(
            Case(
                row.name,
                scale * (value - row.density_kg_m3),
                scale * (value - low) / factor,
                "all",
                ((GIROLAMI, guess),),
                material.name,
            )
        )
    return tuple(made)


def pure_cases() -> list[Case]:
    """The same with the factor that the other substances teach, by kind of substance for show."""
    kinds = {m.name: kind_of(m) for row in measured() for m, _ in row.parts}
    return [replace(case, group=kinds[case.substance]) for case in calibrated(pure_uncalibrated())]


@dataclass(frozen=True)
class JudgedBlend:
    """A blend, all in per cent: the error, that of ideal mixing, the half-width of the pure
    densities alone and that of mixing before any factor."""

    row: Measured
    kind: str
    error_pct: float
    ideal_error_pct: float
    own_pct: float
    mixing_pct: float

    @property
    def pair(self) -> str:
        return " + ".join(m.name for m, _ in self.row.parts)

    @property
    def score(self) -> Score:
        """What mixing must bear of the error, in quadrature, over its half-width."""
        left = math.sqrt(max(self.error_pct**2 - self.own_pct**2, 0.0))
        return Score(self.pair, self.kind, left / self.mixing_pct)


@cache
def judged_blends() -> tuple[JudgedBlend, ...]:
    """Blends of curated liquids: a library's density says nothing of mixing."""
    made = []
    for row in measured():
        if len(row.parts) == 1 or not all(m.curated for m, _ in row.parts):
            continue
        blend = compose([(m, share * m.molar_mass_kg_mol, 0) for m, share in row.parts])
        x = blend.mole_fractions
        value, low, _ = blend_density(blend, row.temperature_K).interval()
        pure = [liquid_density(m, row.temperature_K).interval()[0] for m, _ in row.parts]
        ideal = 1.0 / float((blend.mass_fractions / pure).sum())
        known = bool(excess_volume_m3_mol(blend.names, x)[1])
        kind = WITH_KNOWN_PAIRS if known else WITHOUT_KNOWN_PAIRS
        mixing = 100.0 * float(mixing_spread((x**2).sum(), np.asarray(known)))
        half = 100.0 * (value - low) / value
        made.append(
            JudgedBlend(
                row,
                kind,
                100.0 * (value / row.density_kg_m3 - 1.0),
                100.0 * (ideal / row.density_kg_m3 - 1.0),
                math.sqrt(max(half**2 - mixing**2, 0.0)),
                mixing / interval_factor("density, mixing", kind),
            )
        )
    return tuple(made)


def blend_cases() -> list[Case]:
    """Errors in per cent, each interval with the factor that the other mixtures teach."""
    factors = left_out([j.score for j in judged_blends()])
    return [
        Case(
            j.row.name,
            j.error_pct,
            math.hypot(j.own_pct, factor * j.mixing_pct),
            j.kind,
            (("ideal mixing of volumes (naive)", j.ideal_error_pct),),
            j.pair,
            j.row.density_kg_m3,
        )
        for j, factor in zip(judged_blends(), factors, strict=True)
    ]
