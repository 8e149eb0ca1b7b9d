"""Solubility of crystals: from models alone, and with a measurement in another carrier or at
another temperature.

The points are those of the catalogue (`solubility.csv`), of `reference/solid_solubility_beyond.csv`
(solids outside the catalogue) and the water solubilities of the catalogue's crystals. Errors are
in log10 of the mole fraction, each solid judged with spreads that were learned without it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import minimize

from blendwright.catalogue import Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import NORMAL_90, to_celsius, to_kelvin
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.activity import LnGamma
from blendwright.mixture.dissolution import crystallises, fusion_ln_sd
from blendwright.mixture.ensemble import Ensemble
from blendwright.mixture.measured_solubility import needed_shift
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.mixture.vapour_correction import carrier_class
from blendwright.mixture.water_solubility import LN_10, WATER_mol_m3
from blendwright.mixture.weighing import resolve
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.conformal import Score, left_out
from blendwright.questions.accuracy.figures import SINGLE_SETS, Case, Counted
from blendwright.questions.accuracy.reference import reference

FEWEST_TO_LEARN = 20
FEW_FACTOR = 1.5  # widening of the ordinary spreads for a class with fewer points (own rule)
LEAST_MEASUREMENT_LN = 0.1  # what careful laboratories differ by (common practice, no source)


@dataclass(frozen=True)
class Point:
    """One measured solubility and the shift in ln that the model would have needed."""

    solid: Material
    solvent: Material
    temperature_K: float
    mole_fraction: float
    ln_needed: float
    fusion_ln_sd: float
    source: str

    @property
    def name(self) -> str:
        celsius = to_celsius(self.temperature_K)
        return f"{self.solid.name} in {self.solvent.name}, {celsius:.0f} °C"


@cache
def points() -> tuple[Point, ...]:
    """Every point whose solid and solvent have groups and whose solid has fusion data."""
    catalogue = default_catalogue()
    found: list[tuple[Material, str, float, float, str]] = []
    for name in catalogue.names():
        material = catalogue.material(name)
        found += [
            (material, p.solvent, p.temperature_K, p.mole_fraction, p.source)
            for p in material.solubilities
        ]
        if crystallises(pure_constants(material).fusion, ROOM_K) and not any(
            p.solvent == "water" for p in material.solubilities
        ):
            found += [
                (material, "water", d.temperature_K or ROOM_K, x, d.source)
                for d in material.accepted("water_solubility")
                if (x := d.value / material.molar_mass_kg_mol / WATER_mol_m3) < 0.01
            ]
    for row in reference("solid_solubility_beyond.csv"):
        try:
            material = resolve(row["cas"], catalogue)
        except BlendwrightError:
            continue
        kelvin = to_kelvin(float(row["temperature_C"]))
        found.append((material, row["solvent"], kelvin, float(row["mole_fraction"]), row["source"]))
    made = []
    for solid, solvent_name, kelvin, x, source in found:
        solvent = catalogue.material(solvent_name)
        melt = pure_constants(solid).fusion
        shift = needed_shift(solid, solvent, kelvin, x)
        if melt is None or shift is None or not crystallises(melt, kelvin):
            continue
        made.append(Point(solid, solvent, kelvin, x, shift, fusion_ln_sd(melt, kelvin), source))
    return tuple(made)


def _solids(found: Sequence[Point]) -> dict[str, list[Point]]:
    by_solid: dict[str, list[Point]] = {}
    for point in found:
        by_solid.setdefault(point.solid.name, []).append(point)
    return by_solid


def _covariance(found: Sequence[Point], solid: float, carrier: float, measurement: float) -> Array:
    of_solid = solid**2 + float(np.mean([p.fusion_ln_sd for p in found])) ** 2
    same = np.array([[a.solvent.name == b.solvent.name for b in found] for a in found])
    return np.asarray(of_solid + same * carrier**2 + np.eye(len(found)) * measurement**2)


def learned_spreads(found: Sequence[Point]) -> tuple[float, float, float]:
    """Solid, carrier, measurement: by maximum likelihood of the needed shifts."""
    groups = list(_solids(found).values())
    values = [np.array([p.ln_needed for p in group]) for group in groups]

    def cost(logs: Array) -> float:
        solid, carrier, measurement = np.exp(logs)
        total = 0.0
        for group, d in zip(groups, values, strict=True):
            k = _covariance(group, solid, carrier, measurement)
            total += 0.5 * (np.linalg.slogdet(k)[1] + d @ np.linalg.solve(k, d))
        return float(total)

    bounds = [(math.log(0.05), 2.0)] * 2 + [(math.log(LEAST_MEASUREMENT_LN), 1.0)]
    found_best = minimize(cost, np.log([0.6, 0.5, 0.15]), bounds=bounds, method="L-BFGS-B")
    solid, carrier, measurement = np.exp(found_best.x)
    return float(solid), float(carrier), float(measurement)


def fitted_table() -> str:
    """The text of mixture/solubility_spreads.csv."""
    ordinary = [p for p in points() if not p.solid.is_analogue]
    analogue = [p for p in points() if p.solid.is_analogue]
    spreads = {"ordinary": learned_spreads(ordinary)}
    if len(_solids(analogue)) >= FEWEST_TO_LEARN:
        spreads["analogue"] = learned_spreads(analogue)
    else:
        solid, carrier, measurement = spreads["ordinary"]
        spreads["analogue"] = (solid * FEW_FACTOR, carrier * FEW_FACTOR, measurement)
    lines = ["groups,solid,carrier,measurement"]
    lines += [f"{name},{s:.3f},{c:.3f},{m:.3f}" for name, (s, c, m) in spreads.items()]
    return "\n".join(lines) + "\n"


def predicted_x(point: Point, ln_shift: float, model: LnGamma | None = None) -> float:
    """Mole fraction at saturation with a shift, by bisection in ln x (the lean branch)."""
    melt = pure_constants(point.solid).fusion
    assert melt is not None
    model = model or Ensemble([point.solid.groups, point.solvent.groups]).mean("solid")
    assert model is not None
    target = melt.ln_ideal_activity(point.temperature_K) - ln_shift
    grid = np.linspace(math.log(1e-9), math.log(0.999), 400)
    x = np.exp(grid)
    ln_a = grid + model.ln_gamma(np.column_stack([x, 1.0 - x]), point.temperature_K)[:, 0]
    above = np.flatnonzero(ln_a >= target)
    if not len(above):
        return 0.999
    i = int(above[0])
    if i == 0:
        return float(x[0])
    share = (target - ln_a[i - 1]) / (ln_a[i] - ln_a[i - 1])
    return float(math.exp(grid[i - 1] + share * (grid[i] - grid[i - 1])))


@dataclass(frozen=True)
class Judged:
    """A point, the shift that was said of it, and the deviation claimed before any factor."""

    point: Point
    ln_shift: float
    ln_sd: float

    @property
    def score(self) -> Score:
        ratio = abs(self.point.ln_needed - self.ln_shift) / (NORMAL_90 * self.ln_sd)
        return Score(self.point.solid.name, carrier_class(self.point.solvent), ratio)


def cases_of(judged: Sequence[Judged]) -> list[Case]:
    """Errors in log10 x, each interval with the factor that the other solids teach."""
    widths = left_out([j.score for j in judged])
    return [_case(j, factor) for j, factor in zip(judged, widths, strict=True)]


def _case(judged: Judged, factor: float) -> Case:
    point, shift = judged.point, judged.ln_shift
    error = math.log10(predicted_x(point, shift) / point.mole_fraction)
    reach = NORMAL_90 * factor * judged.ln_sd
    edges = [
        math.log10(predicted_x(point, shift + sign * reach) / point.mole_fraction)
        for sign in (-1.0, 1.0)
    ]
    # the edge on the measured side: the interval is asymmetric in x where the liquid is not dilute
    half = abs(edges[0] - error) if error < 0.0 else abs(edges[1] - error)
    ideal = pure_constants(point.solid).fusion
    assert ideal is not None
    naive = ideal.ln_ideal_activity(point.temperature_K) / LN_10
    others = [("ideal solution (naive)", naive - math.log10(point.mole_fraction))]
    if shift == 0.0:
        others += _single_sets(point)
    kind = carrier_class(point.solvent)
    measured = math.log10(point.mole_fraction)
    return Case(point.name, error, half, kind, tuple(others), point.solid.name, measured)


def _single_sets(point: Point) -> list[tuple[str, float]]:
    """Of each set as it is; with a measurement to lean on no published set stands beside."""
    found = []
    both = Ensemble([point.solid.groups, point.solvent.groups])
    for name in SINGLE_SETS:
        model = both.model(name)
        if model is not None:
            said = predicted_x(point, 0.0, model)
            found.append((PARAMETER_SETS[name].title, math.log10(said / point.mole_fraction)))
    return found


def without_anchor() -> list[Judged]:
    """One a solid and carrier (the temperature nearest 25 °C), nothing of the solid being known."""
    made = []
    by_solid = _solids(points())
    for group in by_solid.values():
        solid, carrier, measurement = _spread_for(group[0])
        for solvent in dict.fromkeys(p.solvent.name for p in group):
            there = [p for p in group if p.solvent.name == solvent]
            point = min(there, key=lambda p: abs(p.temperature_K - ROOM_K))
            sd = math.sqrt(solid**2 + carrier**2 + measurement**2 + point.fusion_ln_sd**2)
            made.append(Judged(point, 0.0, sd))
    return made


@cache
def _spreads_without(name: str) -> tuple[float, float, float]:
    return learned_spreads(
        [p for p in points() if p.solid.name != name and not p.solid.is_analogue]
    )


def _spread_for(point: Point) -> tuple[float, float, float]:
    solid, carrier, measurement = _spreads_without(point.solid.name)
    if point.solid.is_analogue:
        return solid * FEW_FACTOR, carrier * FEW_FACTOR, measurement
    return solid, carrier, measurement


def _anchored(point: Point, known: Sequence[Point]) -> tuple[float, float]:
    """Best linear prediction of the point's shift from known ones, and its deviation."""
    spread = _spread_for(point)
    everyone = [point, *known]
    k = _covariance(everyone, *spread)
    weights = np.linalg.solve(k[1:, 1:], k[0, 1:])
    value = float(weights @ np.array([p.ln_needed for p in known]))
    return value, math.sqrt(max(float(k[0, 0] - weights @ k[0, 1:]), spread[2] ** 2))


def anchored_in_another_carrier() -> list[Judged]:
    """Each solid and carrier predicted from that solid's other carriers."""
    made = []
    for group in _solids(points()).values():
        for solvent in dict.fromkeys(p.solvent.name for p in group):
            known = [p for p in group if p.solvent.name != solvent]
            there = [p for p in group if p.solvent.name == solvent]
            if known:
                point = min(there, key=lambda p: abs(p.temperature_K - ROOM_K))
                made.append(Judged(point, *_anchored(point, known)))
    return made


def anchored_at_another_temperature() -> list[Judged]:
    """Each point predicted from one point of that solid and carrier, 10 K or more away: the
    nearest such."""
    made = []
    for group in _solids(points()).values():
        for point in group:
            away = [
                p
                for p in group
                if p.solvent.name == point.solvent.name
                and abs(p.temperature_K - point.temperature_K) >= 9.5
            ]
            if away:
                nearest = min(away, key=lambda p: abs(p.temperature_K - point.temperature_K))
                made.append(Judged(point, *_anchored(point, [nearest])))
    return made


@cache
def given_names() -> frozenset[str]:
    """Names of the points that stand in the two reference tables of crystals."""
    catalogue = default_catalogue()
    found: set[tuple[str, str]] = set()
    for row in reference("solid_solubility.csv"):
        try:
            found.add((resolve(row["solid"], catalogue).name, row["solvent"]))
        except BlendwrightError:
            continue
    for row in reference("solid_solubility_ethanol.csv"):
        try:
            found.add((resolve(row["cas"], catalogue).name, "ethanol"))
        except BlendwrightError:
            continue
    return frozenset(p.name for p in points() if (p.solid.name, p.solvent.name) in found)


def false_dissolves() -> Counted:
    """At twice the measured solubility the best estimate must not say "dissolves": by the anchors
    that an assessment uses, at the point's own temperature."""
    missed = []
    for point in points():
        known = [p for p in points() if p.solid.name == point.solid.name]
        value, _ = _anchored(point, known)
        if predicted_x(point, value) > 2.0 * point.mole_fraction and point.mole_fraction < 0.45:
            missed.append(point.name)
    count = sum(1 for p in points() if p.mole_fraction < 0.45)
    return Counted(
        'crystals at twice the measured limit: not "dissolves"',
        count - len(missed),
        count,
        1.0,
        tuple(missed),
    )
