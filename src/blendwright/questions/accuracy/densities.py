"""Densities of pure liquids and of blends (`reference/density.csv`, `density_mixtures.csv`,
`density_systems.csv`), in per cent."""

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
    BY_CLASSES,
    densities,
)
from blendwright.mixture.excess_volume import shipped
from blendwright.mixture.weighing import resolve
from blendwright.pure.density import girolami_density, liquid_density
from blendwright.pure.intervals import interval_factor
from blendwright.questions.accuracy.conformal import Score, calibrated, left_out
from blendwright.questions.accuracy.excess_volumes import (
    TOO_COARSE,
    MeasuredMixture,
    second_halves,
    systems,
    without,
)
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case

WRONG_ROWS = {("1-hexanol 1.0", "303.15", "759.829")}
"""Contradicted by 6 % by five other rows at the same temperature."""
TAUGHT = "isopropanol;water"
"""Its excess volume was fitted to these three rows, so they don't judge."""
MEASURED_PAIR = "measured pair"
GIROLAMI = "Girolami 1994, from the formula"


@dataclass(frozen=True)
class MeasuredDensity:
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
def measured() -> tuple[MeasuredDensity, ...]:
    """Every row but the wrong ones."""
    catalogue = default_catalogue()
    found = []
    for row in reference("density.csv"):
        if (row["composition"], row["temperature_K"], row["density_kg_m3"]) in WRONG_ROWS:
            continue
        written = [part.rsplit(" ", 1) for part in row["composition"].split("; ")]
        found.append(
            MeasuredDensity(
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
        if row["components"] in (TAUGHT, TOO_COARSE):
            continue
        materials = [resolve(name, catalogue) for name in row["components"].split(";")]
        shares = np.array([float(share) for share in row["fractions"].split(";")])
        if row["basis"] == "mass":
            shares = shares / [m.molar_mass_kg_mol for m in materials]
            shares = shares / shares.sum()
        parts = tuple((m, float(x)) for m, x in zip(materials, shares, strict=True))
        found.append(
            MeasuredDensity(parts, float(row["temperature_K"]), float(row["density_kg_m3"]))
        )
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
    """The cases with the factor that the other substances teach, by kind of substance for show."""
    kinds = {m.name: kind_of(m) for row in measured() for m, _ in row.parts}
    return [replace(case, group=kinds[case.substance]) for case in calibrated(pure_uncalibrated())]


@dataclass(frozen=True)
class JudgedBlend:
    """A blend, all in per cent: the error, that of ideal mixing, the half-width of the pure
    densities alone and that of mixing before any factor."""

    row: MeasuredDensity
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
    """Blends of curated liquids: a library's density says nothing of mixing. Those of the systems
    that the excess volumes were fitted to are judged by a fit without their system, and a measured
    pair also by a series through every other row of it."""
    seen = {mixed.system for mixed in systems()}
    rows = [(row, shipped()) for row in measured() if len(row.parts) > 1]
    rows = [(row, e) for row, e in rows if _has_series(row) or _system(row) not in seen]
    rows += [(_measured(m), without(m.system)) for m in systems()]
    rows += [(_measured(m), excess) for m, excess in second_halves()]
    made = []
    for row, excess in rows:
        if not all(m.curated for m, _ in row.parts):
            continue
        blend = compose([(m, share * m.molar_mass_kg_mol, 0) for m, share in row.parts])
        found = densities(blend.pairs, row.temperature_K, excess)
        value, half, mixing = (float(of[0]) for of in (found.value, found.half, found.mixing))
        pure = [liquid_density(m, row.temperature_K).interval()[0] for m, _ in row.parts]
        masses = np.array([share * m.molar_mass_kg_mol for m, share in row.parts])
        ideal = float(masses.sum() / (masses / pure).sum())
        kind = MEASURED_PAIR if found.with_known_pairs[0] else BY_CLASSES
        made.append(
            JudgedBlend(
                row,
                kind,
                100.0 * (value / row.density_kg_m3 - 1.0),
                100.0 * (ideal / row.density_kg_m3 - 1.0),
                100.0 * math.sqrt(max(half**2 - mixing**2, 0.0)) / value,
                100.0 * mixing / value / interval_factor("density, mixing", BY_CLASSES),
            )
        )
    return tuple(made)


def _measured(mixed: MeasuredMixture) -> MeasuredDensity:
    return MeasuredDensity(mixed.parts, mixed.temperature_K, mixed.density_kg_m3)


def _system(row: MeasuredDensity) -> str:
    return ";".join(sorted(m.name for m, _ in row.parts))


def _has_series(row: MeasuredDensity) -> bool:
    names = {m.name for m, _ in row.parts}
    return any(set(pair) <= names for pair in shipped().pairs)


def mixing_scores() -> list[Score]:
    """Scores of the systems that the classes had not seen; a measured pair teaches nothing of
    them."""
    return [j.score for j in judged_blends() if j.kind == BY_CLASSES]


def blend_cases() -> list[Case]:
    """Errors in per cent, each interval with the factor that the other mixtures teach."""
    taught = iter(left_out(mixing_scores()))
    of_all = interval_factor("density, mixing", BY_CLASSES)
    return [
        Case(
            j.row.name,
            j.error_pct,
            math.hypot(
                j.own_pct, (next(taught) if j.kind == BY_CLASSES else of_all) * j.mixing_pct
            ),
            j.kind,
            (("ideal mixing of volumes (naive)", j.ideal_error_pct),),
            j.pair,
            j.row.density_kg_m3,
        )
        for j in judged_blends()
    ]
