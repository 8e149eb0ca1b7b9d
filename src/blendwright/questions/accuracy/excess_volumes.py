"""The excess volumes that `mixture/excess_volume.py` reads, fitted to published densities.

Data: `reference/density_systems.csv`, systems of two and three liquids, a few rows of each near
25 °C. With V the measured molar volume and the pure ones as we have them, V - sum x_i V_i is fitted
by the classes' terms (ridge) and, for each system apart, by an error of its pure volumes
(PURE_ERROR, so that a wrong pure density doesn't pass for mixing); a system weighs by the root of
its rows, and outliers by Huber. The measured pairs of curated substances then get a series of
their own, fitted likewise. Folds are dealt by system, from its names: nothing is random.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import combinations

import numpy as np

from blendwright.catalogue import Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.mixture.composition import compose
from blendwright.mixture.excess_volume import (
    CLASSES,
    NUMBER_OF_CLASSES,
    REDLICH_KISTER_TERMS,
    ExcessVolumes,
    PairCoefficients,
    shipped,
    surfaces,
)
from blendwright.mixture.weighing import resolve
from blendwright.pure.density import liquid_density
from blendwright.pure.roots import Array
from blendwright.questions.accuracy.reference import reference

FOLDS = 10
PENALTY = 30.0
NOISE_cm3_mol = 0.25
PURE_ERROR = 0.0015  # of a pure liquid's volume
HUBER = 2.0
ROUNDS = 6
RARE = 0.5  # of the usual size of a term: a term seen less often is held back the more
FEWEST_OF_A_PAIR = 6  # rows, for a series of its own
SPAN = (0.35, 0.65)  # and some below and above these mole fractions
PAIR_TERMS, PAIR_PENALTY = 3, 0.03
SOURCE = "thermoml"
LARGEST_ERROR_pct = 3.0  # beyond it a row or a pure density is wrong (butyl ether in heptane)
TOO_COARSE = "1-propanol;benzaldehyde"
"""doi:10.1021/je900212d, ±0.35 %: its pure liquids are 0.5 and 0.3 % above all others."""
PUBLISHED = ("propylene glycol;water", "ethanol;water", "glycerol;water", "isopropanol;water")
"""Pairs whose series in excess_volume.csv were fitted to more than the rows kept here."""
TERMS = tuple(combinations(range(NUMBER_OF_CLASSES), 2))


@dataclass(frozen=True)
class MeasuredMixture:
    """One measured mixture: mole fractions by material, K, kg/m3."""

    parts: tuple[tuple[Material, float], ...]
    temperature_K: float
    density_kg_m3: float

    @cached_property
    def system(self) -> str:
        return ";".join(sorted(m.name for m, _ in self.parts))


@dataclass(frozen=True, eq=False)
class _Row:
    """What the fit sees of a mixture: its excess and ideal volumes, cm3/mol, and its terms."""

    mixed: MeasuredMixture
    excess: float
    ideal: float
    terms: Array


@cache
def systems() -> tuple[MeasuredMixture, ...]:
    """density_systems.csv; a substance that nobody finds is left out with its rows."""
    catalogue = default_catalogue()
    found = []
    for row in reference("density_systems.csv"):
        if row["components"] == TOO_COARSE:
            continue
        try:
            materials = [resolve(name, catalogue) for name in row["components"].split(";")]
        except BlendwrightError:
            continue
        shares = [float(x) for x in row["mole_fractions"].split(";")]
        found.append(
            MeasuredMixture(
                tuple(zip(materials, shares, strict=True)),
                float(row["temperature_K"]),
                float(row["density_kg_m3"]),
            )
        )
    return tuple(found)


@cache
def _fit_rows() -> tuple[_Row, ...]:
    """Rows of liquids with published densities, in groups that all have."""
    made = []
    for mixed in systems():
        materials = [m for m, _ in mixed.parts]
        x = np.array([share for _, share in mixed.parts])
        pure = [liquid_density(m, mixed.temperature_K) for m in materials]
        published = all(
            d.is_ok and any(f.method != "estimated" for f in m.accepted("density"))
            for m, d in zip(materials, pure, strict=True)
        )
        if not published or not all(m.groups for m in materials):
            continue
        molar = np.array([m.molar_mass_kg_mol for m in materials]) * 1e6
        ideal = float((x * molar / [d.interval()[0] for d in pure]).sum())
        excess = float((x * molar).sum()) / mixed.density_kg_m3 - ideal
        if 100.0 * abs(excess) / ideal <= 2.0 * LARGEST_ERROR_pct:
            made.append(_Row(mixed, excess, ideal, _terms(mixed, x)))
    return tuple(made)


def _terms(mixed: MeasuredMixture, x: Array) -> Array:
    """The factor of each pair of classes in V_E."""
    blend = compose([(m, share * m.molar_mass_kg_mol, 0) for m, share in mixed.parts])
    order = [blend.names.index(m.name) for m, _ in mixed.parts]
    own = surfaces(blend.pairs.substances)[order]
    size = own.sum(axis=1)
    total, amount = float(x @ size), x @ own
    return np.array(
        [
            amount[a] * amount[b] / total - float(x @ (own[:, a] * own[:, b] / size))
            for a, b in TERMS
        ]
    )


def fold_of(system: str) -> int:
    """0 to 9 by a hash of the system's names."""
    return int(hashlib.sha256(system.encode()).hexdigest(), 16) % FOLDS


def _fitted(rows: Sequence[_Row], terms: Array, penalty: float) -> Array:
    """Coefficients of the terms, with an error of each pure volume of each system beside them."""
    size = Counter(row.mixed.system for row in rows)
    place_of = {name: 3 * number for number, name in enumerate(sorted(size))}
    pure = np.zeros((len(rows), 3 * len(size)))
    for number, row in enumerate(rows):
        place = place_of[row.mixed.system]
        for i, (_, share) in enumerate(sorted(row.mixed.parts, key=lambda part: part[0].name)):
            pure[number, place + i] = share * row.ideal * PURE_ERROR
    excess = np.array([row.excess for row in rows])
    trust = np.array([size[row.mixed.system] ** -0.5 for row in rows])
    seen = np.sqrt((terms**2).mean(axis=0))
    scale = np.maximum(seen, RARE * np.median(seen[seen > 0.0]))
    matrix = np.hstack([terms / scale, pure])
    penalties = np.diag(np.r_[np.full(terms.shape[1], penalty), np.ones(pure.shape[1])])
    weights = trust.copy()
    for _ in range(ROUNDS):
        weighed = matrix * weights[:, None] / NOISE_cm3_mol**2
        solution = np.linalg.solve(weighed.T @ matrix + penalties, weighed.T @ excess)
        left = np.abs(excess - matrix @ solution)
        weights = trust * np.minimum(1.0, HUBER * NOISE_cm3_mol / np.maximum(left, 1e-9))
    return np.asarray(solution[: terms.shape[1]] / scale)


@cache
def interactions_without(fold: int | None) -> Array:
    """A in m3/mol, from all systems but those of a fold."""
    rows = [r for r in _fit_rows() if fold is None or fold_of(r.mixed.system) != fold]
    found = np.zeros((NUMBER_OF_CLASSES, NUMBER_OF_CLASSES))
    solution = _fitted(rows, np.array([row.terms for row in rows]), PENALTY)
    for (a, b), value in zip(TERMS, solution, strict=True):
        found[a, b] = found[b, a] = value * 1e-6
    return found


def without(system: str) -> ExcessVolumes:
    """Excess volumes that have not seen a system, neither as a pair nor in the classes."""
    names = set(system.split(";"))
    pairs: PairCoefficients = {
        pair: series for pair, series in shipped().pairs.items() if not set(pair) <= names
    }
    return replace(shipped(), interactions=interactions_without(fold_of(system)), pairs=pairs)


def fitted_classes() -> str:
    """The text of excess_volume_classes.csv."""
    names, found = list(CLASSES), interactions_without(None)
    return _text(
        ["first", "second", "A_cm3_mol"],
        [
            [names[a], names[b], f"{found[a, b] * 1e6:.4f}"]
            for a, b in TERMS
            if abs(found[a, b]) > 1e-9
        ],
    )


def fitted_pairs() -> str:
    """The text of excess_volume.csv: the published series as they are, and those fitted here."""
    kept = [
        [*pair, *(f"{1e6 * a:.4f}" if a else "" for a in series), source]
        for pair, (series, source) in shipped().pairs.items()
        if ";".join(pair) in PUBLISHED
    ]
    fitted = []
    for rows in measured_pairs():
        first, second = _pair(rows)
        series = [f"{value:.4f}" for value in _series_cm3_mol(rows)]
        blank = [""] * (REDLICH_KISTER_TERMS - PAIR_TERMS)
        fitted.append([first, second, *series, *blank, SOURCE])
    columns = [f"A{k}_cm3_mol" for k in range(REDLICH_KISTER_TERMS)]
    return _text(["first", "second", *columns, "source"], kept + fitted)


@cache
def measured_pairs() -> tuple[tuple[_Row, ...], ...]:
    """The rows of each pair of curated substances that was measured over most of its range."""
    known = {frozenset(pair.split(";")) for pair in PUBLISHED}
    by_system: dict[str, list[_Row]] = {}
    for row in _fit_rows():
        if len(row.mixed.parts) == 2 and all(m.curated for m, _ in row.mixed.parts):
            by_system.setdefault(row.mixed.system, []).append(row)
    found = []
    for system, rows in sorted(by_system.items()):
        shares = [_share(row, _pair(rows)[0]) for row in rows]
        spans = min(shares) <= SPAN[0] and max(shares) >= SPAN[1]
        if len(rows) >= FEWEST_OF_A_PAIR and spans and frozenset(system.split(";")) not in known:
            found.append(tuple(rows))
    return tuple(found)


def _pair(rows: Sequence[_Row]) -> tuple[str, str]:
    first, second = sorted(m.name for m, _ in rows[0].mixed.parts)
    return first, second


def _series_cm3_mol(rows: Sequence[_Row]) -> Array:
    """The coefficients A_k of one pair."""
    a, b = np.array([[_share(row, name) for name in _pair(rows)] for row in rows]).T
    terms = np.stack([a * b * (a - b) ** k for k in range(PAIR_TERMS)], axis=1)
    return _fitted(rows, terms, PAIR_PENALTY)


@cache
def second_halves() -> tuple[tuple[MeasuredMixture, ExcessVolumes], ...]:
    """Every other row of each measured pair, with a series through the rest of its rows."""
    found = []
    for rows in measured_pairs():
        ordered = sorted(
            rows, key=lambda row: (_share(row, _pair(rows)[0]), row.mixed.temperature_K)
        )
        series = tuple(1e-6 * _series_cm3_mol(ordered[::2]))
        pairs = {**shipped().pairs, _pair(rows): (series, SOURCE)}
        found += [(row.mixed, replace(shipped(), pairs=pairs)) for row in ordered[1::2]]
    return tuple(found)


def _text(header: list[str], rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header, *rows])
    return out.getvalue()


def _share(row: _Row, name: str) -> float:
    return next(share for material, share in row.mixed.parts if material.name == name)
