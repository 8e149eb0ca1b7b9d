"""Each kind of measurement as one linear row: residual = sum of weights times coefficients + noise.

Rows of the fit of pairs (c, d, a and the crystals' factors), what was measured and the residual:

- dilution: ln gamma at infinite dilution; less the base's.
- vapour: total pressure over two liquids; ln P less the base's, weights by the shares of the
  vapour.
- crystal: mole fraction x of a saturated solution; ln a(ideal) - ln x - ln gamma(base) at x.
- water: a liquid's solubility in water; ln a in its own layer less the same in water.
- hydrocarbon: one in water, or water in it; as dilution with ln gamma = -ln x.
- layers: mole fractions of both of two coexisting liquids; the difference of ln(x gamma) of each.
- heat: excess enthalpy; H/R less the base's, on the second parts only.
- alcohol: a stand-in for the many data of small alcohols and glycols with water: ln gamma of
  modified UNIFAC (Dortmund), which was fitted to them, less the base's.

What is left out, by a rule that was written before any figure was seen: a row whose substances have
no groups in both base sets, or no fusion data for a crystal; temperatures outside 250-420 K; mole
fractions of crystals above 0.95 or warmer than 1 K below melting; rows that the reference itself
calls implausible; salts, sugars and what the catalogue calls outside its scope. Long series are
thinned evenly, by the numbers below.

Four clauses were added later, when figures of a fit had been seen, so the figures are not blind to
them: crystals whose entropy of fusion is not between 10 and 200 J/(mol K), that is whose heat or
melting point is wrong; hydrocarbons with water outside 0-60 °C, where most were measured under
pressure and few laboratories agree; amino acids (zwitterions); what has merely the nearest groups
(`systems`). Each states a reason that holds whatever the row's error, but a rule that is written
after looking is a choice that looking may have helped.

A row of dilution, of a hydrocarbon with water or of layers that lies far from what all others say
counts with more noise (`fit.heavy_tailed`).
"""

from __future__ import annotations

import csv
import math
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np

from blendwright.catalogue import Material, default_catalogue
from blendwright.estimate import NORMAL_90, to_kelvin
from blendwright.formula.conditions import ROOM_K, GAS_CONSTANT_J_mol_K
from blendwright.mixture.activity import activity_model
from blendwright.mixture.dissolution import crystallises
from blendwright.mixture.excess.form import INVERSE_TEMPERATURE_SCALE, REFERENCE_K
from blendwright.mixture.excess.form import inverse_temperature as warmth
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, main_group_counts
from blendwright.pure.boiling_point import published_first
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density
from blendwright.pure.fusion import Fusion, correction_shape
from blendwright.questions.accuracy.reference import reference
from fitting.excess.systems import Slot, System, by_structure, of_names, substance, system

HERE = Path(__file__).parent / "reference"
OUTSIDE = "BLENDWRIGHT_REFERENCE"  # a directory with the tables that may not be passed on
LEAST_K, MOST_K = 250.0, 420.0
TRACE = 1e-9
BIN_K = 25.0  # of one pair's infinite dilution: one row, the median
SERIES = {"crystal": 4, "heat": 3, "layers": 4}  # most rows of one series
WATER_mol_m3 = 55345.0  # 997.05 kg/m3 at 25 °C over 18.015 g/mol (IAPWS-95)
HEAT_UNIT_kJ = GAS_CONSTANT_J_mol_K * REFERENCE_K * INVERSE_TEMPERATURE_SCALE / 1e3
NOISE = {
    "dilution": 0.12, "vapour": 0.03, "crystal": 0.15, "water": 0.35, "layers": 0.15,
    "alcohol": 0.06, "hydrocarbon": 0.25,
}  # fmt: skip
ANALOGUE_SD = 0.5  # of ln gamma with a similar molecule's groups (common practice, no source)
ENTROPY_OF_FUSION_J_mol_K = (10.0, 200.0)
HYDROCARBON_K = (273.0, 333.2)
AMINES = frozenset({"CNH2", "CNH", "(C)3N"})  # main groups of UNIFAC; with an acid: zwitterions


@dataclass(frozen=True, eq=False)
class FitRow:
    """One measurement, linear in the coefficients.

    A coefficient counts with `first` times its first part and `second` times its second; `fusion`
    is the number that the crystal's weight is multiplied with. `solute` and `carrier` serve what
    is left out together; `reported` turns an error of the row into the unit people report.
    """

    kind: str
    names: tuple[str, ...]
    temperature_K: float
    residual: float
    slots: tuple[Slot, ...]
    weights: Array
    noise: float
    first: float = 1.0
    second: float = 0.0
    fusion: tuple[str, float, float] | None = None  # crystal, coefficient, prior sd but the shared
    measured: float = math.nan
    reported: float = 1.0
    details: dict[str, Any] = field(default_factory=dict)

    @property
    def solute(self) -> str:
        return self.names[0]

    @property
    def carrier(self) -> str:
        return self.names[1]


def table(name: str) -> tuple[dict[str, str], ...]:
    """A table of the project's, of this folder's, or of the directory of what may not be passed
    on; empty, with a line said, where that is missing."""
    places = [HERE / name]
    if os.environ.get(OUTSIDE):
        places.append(Path(os.environ[OUTSIDE]) / name)
    for place in places:
        if place.exists():
            return tuple(csv.DictReader(place.read_text(encoding="utf-8").splitlines()))
    try:
        return reference(name)
    except FileNotFoundError:
        print(f"{name} is missing: set {OUTSIDE} to the directory that holds it")
        return ()


def _row(
    kind: str, two: System, kelvin: float, residual: float, weights: Array, **more: Any
) -> FitRow:
    noise = more.pop("noise", None) or NOISE[kind]
    if any(m.is_analogue for m in two.materials):
        noise = math.hypot(noise, ANALOGUE_SD)
    return FitRow(
        kind, two.names, kelvin, residual, two.slots, weights, noise,
        second=more.pop("second", float(warmth(kelvin))), **more,
    )  # fmt: skip


def in_range(kelvin: float) -> bool:
    return LEAST_K <= kelvin <= MOST_K


# Infinite dilution


def dilution_rows() -> list[FitRow]:
    found: dict[tuple[Material, Material, int], list[tuple[float, float]]] = {}

    def note(
        solute: Material | None, solvent: Material | None, kelvin: float, value: float
    ) -> None:
        if solute is not None and solvent is not None and in_range(kelvin):
            key = (solute, solvent, round(kelvin / BIN_K))
            found.setdefault(key, []).append((kelvin, value))

    for r in table("activity_at_infinite_dilution.csv"):
        pair = substance(r["solute"]), substance(r["solvent"])
        note(*pair, float(r["temperature_K"]), float(r["ln_gamma"]))
    for r in table("activity_in_propylene_glycol.csv"):
        value = math.log(float(r["activity_coefficient_infinite_dilution"]))
        pair = substance(r["solute"]), substance(r["solvent"])
        note(*pair, float(r["temperature_K"]), value)
    for r in table("activity_infinite_dilution_more.csv"):
        pair = by_structure(r["solute_smiles"]), by_structure(r["solvent_smiles"], r["solvent"])
        note(*pair, to_kelvin(float(r["temperature_C"])), float(r["ln_gamma"]))
    return [r for key, values in found.items() for r in _dilute("dilution", *key[:2], values)]


def _dilute(
    kind: str, solute: Material, solvent: Material, values: list[tuple[float, float]]
) -> Iterator[FitRow]:
    """One row a pair and temperature: the median."""
    two = system((solute, solvent))
    if two is None:
        return
    kelvin = float(np.mean([t for t, _ in values]))
    value = float(np.median([v for _, v in values]))
    x = np.array([TRACE, 1.0 - TRACE])
    residual = value - float(two.ln_gamma(x, kelvin)[0])
    weights = two.jacobian(x)[:, 0]
    yield _row(kind, two, kelvin, residual, weights, measured=value)


def hydrocarbon_rows() -> list[FitRow]:
    """Hydrocarbons and water in one another: so little that it is infinite dilution; the activity
    of the solute is 1 in its own layer."""
    found: dict[tuple[Material, Material, int], list[tuple[float, float]]] = {}
    water = substance("water")
    for r in table("hydrocarbon_water.csv"):
        other = substance(r["hydrocarbon"].split("(")[-1].rstrip(")").replace("d-L", "L")) or (
            substance(r["hydrocarbon_cas"])
        )
        kelvin, x = to_kelvin(float(r["temperature_C"])), float(r["mole_fraction_solute"])
        low, high = HYDROCARBON_K
        if other is None or water is None or not low <= kelvin <= high or not 0.0 < x < 0.05:
            continue
        if crystallises(pure_constants(other).fusion, kelvin):
            continue
        pair = (other, water) if r["direction"] == "hydrocarbon in water" else (water, other)
        found.setdefault((*pair, round(kelvin / BIN_K)), []).append((kelvin, -math.log(x)))
    return [r for key, values in found.items() for r in _dilute("hydrocarbon", *key[:2], values)]


# Vapour


def vapour_rows() -> list[FitRow]:
    made = []
    for r in table("vapour_liquid_points.csv"):
        two = of_names((r["component_1"], r["component_2"]))
        if two is None or "je4004993" in r["source"]:  # called doubtful where it is judged
            continue
        kelvin, x = float(r["temperature_K"]), np.array([float(r["x1"]), 1.0 - float(r["x1"])])
        curves = [pure_constants(m).vapour for m in two.materials]
        if any(c is None for c in curves) or not in_range(kelvin):
            continue
        saturation = np.array([c.pressure_Pa(kelvin) for c in curves if c is not None])
        partial = x * np.exp(two.ln_gamma(x, kelvin)) * saturation
        measured = math.log(float(r["pressure_Pa"]))
        weights = two.jacobian(x) @ (partial / partial.sum())
        residual = measured - math.log(partial.sum())
        made.append(_row("vapour", two, kelvin, residual, weights, measured=measured))
    return made


# Crystals


def crystal_points() -> Iterator[tuple[Material, Material, float, float, str]]:
    """Solid, solvent, temperature (K), mole fraction, source."""
    catalogue = default_catalogue()
    for name in catalogue.names():
        solid = catalogue.material(name)
        points = [
            (p.solvent, p.temperature_K, p.mole_fraction, p.source) for p in solid.solubilities
        ]
        if points or crystallises(pure_constants(solid).fusion, ROOM_K):
            if not any(p[0] == "water" for p in points):
                points += [
                    ("water", d.temperature_K or ROOM_K, x, d.source)
                    for d in solid.accepted("water_solubility")
                    if (x := d.value / solid.molar_mass_kg_mol / WATER_mol_m3) < 0.01
                ]
            yield from _known(solid.name, points)
    for r in table("solid_solubility_beyond.csv"):
        point = (r["solvent"], to_kelvin(float(r["temperature_C"])), float(r["mole_fraction"]))
        yield from _known(r["cas"], [(*point, r["source"])])
    for r in table("solid_solubility_carriers.csv"):
        solid_or_none = by_structure(r["solute_smiles"], r["solute_name"])
        solvent = by_structure(r["solvent_smiles"], r["solvent_name"])
        if solid_or_none is not None and solvent is not None:
            kelvin, x = float(r["temperature_K"]), float(r["mole_fraction"])
            yield solid_or_none, solvent, kelvin, x, r["source"]


def _known(
    name: str, points: Iterable[tuple[str, float, float, str]]
) -> Iterator[tuple[Material, Material, float, float, str]]:
    solid = substance(name)
    for solvent_name, kelvin, x, source in points:
        solvent = substance(solvent_name)
        if solid is not None and solvent is not None:
            yield solid, solvent, kelvin, x, source


def crystal_rows() -> list[FitRow]:
    def series(p: tuple[Material, Material, float, float, str]) -> tuple[str, str, str]:
        return p[0].name, p[1].name, p[4]

    made = []
    points = sorted(crystal_points(), key=lambda p: (*series(p), p[2], p[3]))
    for _, group in groupby(points, key=series):
        rows = [r for p in group if (r := crystal_row(*p)) is not None]
        made += thinned(rows, SERIES["crystal"])
    unlike: dict[tuple[Any, ...], FitRow] = {}
    for row in made:  # the same measurement in two collections counts once
        unlike.setdefault((*row.names, round(row.temperature_K), round(row.measured, 2)), row)
    return list(unlike.values())


def crystal_row(
    solid: Material, solvent: Material, kelvin: float, x: float, source: str
) -> FitRow | None:
    melt = pure_constants(solid).fusion
    two = system((solid, solvent))
    if melt is None or melt.melting.value is None or two is None or not in_range(kelvin):
        return None
    if kelvin > melt.melting.value - 1.0 or not 1e-9 < x < 0.95 or is_zwitterion(solid):
        return None
    heat, low, high = melt.heat.interval()
    least, most = ENTROPY_OF_FUSION_J_mol_K
    if not least <= heat / melt.melting.value <= most:
        return None
    fractions = np.array([x, 1.0 - x])
    ideal = melt.ln_ideal_activity(kelvin)
    residual = ideal - math.log(x) - float(two.ln_gamma(fractions, kelvin)[0])
    step = min(1e-4, x * 1e-2)
    near = two.ln_gamma(np.array([[x, 1 - x], [x + step, 1 - x - step]]), kelvin)[:, 0]
    slope = max(1.0 + x * float(near[1] - near[0]) / step, 0.15)
    return _row(
        "crystal", two, kelvin, residual, two.jacobian(fractions)[:, 0],
        fusion=(solid.name, -correction(melt, kelvin), (high - low) / 2.0 / NORMAL_90 / heat),
        measured=math.log10(x), reported=1.0 / (slope * math.log(10.0)),
        details={"source": source, "ideal": ideal},
    )  # fmt: skip


def correction(melt: Fusion, kelvin: float) -> float:
    """`correction_shape` of one crystal."""
    melting, heat = melt.melting.interval()[0], melt.heat.interval()[0]
    return float(correction_shape(np.array(heat), np.array(melting), np.array(kelvin)))


def is_zwitterion(material: Material) -> bool:
    groups = main_group_counts("original", material.groups["original"])
    return "COOH" in groups and bool(AMINES & set(groups))


def thinned(rows: list[Any], most: int) -> list[Any]:
    """At most so many, evenly over their order."""
    if len(rows) <= most:
        return rows
    return [rows[k] for k in np.linspace(0, len(rows) - 1, most).round().astype(int)]


# Water


def water_rows() -> list[FitRow]:
    """Liquids in water at 25 °C. The activity in the substance's own layer is the base's, which
    for what takes up little water is 1 less that little."""
    found: dict[str, tuple[Material, list[float]]] = {}
    catalogue = default_catalogue()
    for r in table("water_solubility.csv"):
        material = substance(f"InChIKey={r['inchikey']}") if r["inchikey"] else None
        material = material or substance(r["material"])
        if material is not None and material.name not in found:
            found[material.name] = (material, [float(r["log10_molar"])])
    for name in catalogue.names():
        material = substance(name)
        published = published_first(material.accepted("water_solubility")) if material else ()
        if material is None or material.name in found or not published:
            continue
        logs = [math.log10(d.value / material.molar_mass_kg_mol / 1e3) for d in published]
        found[material.name] = (material, logs)
    made = []
    for material, logs in found.values():
        row = _in_water(material, float(np.median(logs)))
        if row is not None:
            made.append(row)
    return made


def _in_water(material: Material, log10_molar: float) -> FitRow | None:
    melt = pure_constants(material).fusion
    if material.is_water or (melt is not None and (melt.melting.value or 0.0) > ROOM_K):
        return None
    two = of_names((material.name, "water"))
    if two is None:
        return None
    molar = 10.0**log10_molar * 1e3
    volume = material.molar_mass_kg_mol / (liquid_density(material, ROOM_K).value or 950.0)
    if molar * volume > 0.3:  # mixes with water, or nearly
        return None
    water = (1.0 - molar * volume) * WATER_mol_m3
    x = np.array([molar / (molar + water), water / (molar + water)])
    own = saturated_with_water(two, ROOM_K)
    residual = (
        float(np.log(own[0]) + two.ln_gamma(own, ROOM_K)[0])
        - math.log(x[0])
        - float(two.ln_gamma(x, ROOM_K)[0])
    )
    weights = two.jacobian(x)[:, 0] - two.jacobian(own)[:, 0]
    return _row(
        "water", two, ROOM_K, residual, weights,
        measured=log10_molar, reported=1.0 / math.log(10.0),
        details={"base": log10_molar + residual / math.log(10.0)},
    )  # fmt: skip


def saturated_with_water(two: System, kelvin: float) -> Array:
    """A substance (first) with the water that it takes up by the base; water's activity is 1."""
    grid = np.concatenate([np.geomspace(1e-6, 0.02, 60), np.linspace(0.025, 0.6, 60)])
    x = np.column_stack([1.0 - grid, grid])
    over = np.flatnonzero(np.log(grid) + two.ln_gamma(x, kelvin)[:, 1] >= 0.0)
    return np.asarray(x[over[0]] if len(over) else x[-1])


# Layers of two liquids


def layer_rows() -> list[FitRow]:
    found: dict[tuple[Material, Material], list[list[tuple[float, float]]]] = {}
    for r in table("liquid_liquid_binary.csv"):
        first = by_structure(r["smiles_1"], r["component_1"].lower().replace("_", " "))
        second = by_structure(r["smiles_2"], r["component_2"].lower().replace("_", " "))
        if first is None or second is None:
            continue
        both = found.setdefault((first, second), [[], []])
        for k in (0, 1):
            text = r[f"x1_phase_{k + 1}"]
            if text and 0.0 < float(text) < 1.0:
                both[k].append((float(r["temperature_C"]), float(text)))
    made = []
    for pair, (one, other) in found.items():
        two = system(pair)
        if two is not None:
            made += list(_tie_lines(two, np.array(one), np.array(other)))
    return made


def _tie_lines(two: System, one: Array, other: Array) -> Iterator[FitRow]:
    """At most four temperatures between 5 and 65 °C; each branch smoothed over 8 K."""
    if not len(one) or not len(other):
        return
    low = max(5.0, one[:, 0].min() - 2.0, other[:, 0].min() - 2.0)
    high = min(65.0, one[:, 0].max() + 2.0, other[:, 0].max() + 2.0)
    if high < low:
        return
    for celsius in np.unique(np.linspace(low, high, SERIES["layers"]).round(1)):
        ends = [smoothed(branch, celsius) for branch in (one, other)]
        if None in ends or abs(ends[0] - ends[1]) < 0.08:  # type: ignore[operator]
            continue
        x = np.array([[end, 1.0 - end] for end in ends])  # type: ignore[operator]
        yield from equal_activities("layers", two, to_kelvin(celsius), x, least=3e-5)


def smoothed(branch: Array, celsius: float) -> float | None:
    """The logit of a mole fraction at a temperature, by a local line."""
    away = branch[:, 0] - celsius
    near = np.exp(-0.5 * (away / 8.0) ** 2)
    use = near > 0.1
    if not use.any():
        return None
    logit = np.log(branch[:, 1] / (1.0 - branch[:, 1]))
    if use.sum() < 3 or np.ptp(branch[use, 0]) < 4.0:
        value = float(near @ logit / near.sum())
    else:
        root = np.sqrt(near)
        columns = np.column_stack([np.ones(len(away)), away])
        value = float(np.linalg.lstsq(columns * root[:, None], logit * root, rcond=None)[0][0])
    return float(1.0 / (1.0 + np.exp(-value)))


def equal_activities(
    kind: str, many: System, kelvin: float, x: Array, least: float, **more: Any
) -> Iterator[FitRow]:
    """A row for each component that both layers hold more than a trace of; x is (2, n)."""
    ln_gamma = many.ln_gamma(x, kelvin)
    jacobian = many.jacobian(x)
    for k in range(x.shape[1]):
        if x[:, k].min() < least:
            continue
        residual = -float(np.log(x[0, k] / x[1, k]) + ln_gamma[0, k] - ln_gamma[1, k])
        weights = jacobian[:, 0, k] - jacobian[:, 1, k]
        yield _row(kind, many, kelvin, residual, weights, details={"component": k, "x": x}, **more)


# Excess enthalpy


def heat_rows() -> list[FitRow]:
    """H/RT = -T d(G/RT)/dT: only the second parts of the coefficients count, as S F times
    5 * 298.15 K * R."""

    def key(r: dict[str, str]) -> tuple[str, str, str]:
        return r["smiles_1"], r["smiles_2"], r["source"]

    made = []
    rows = sorted(table("excess_enthalpy.csv"), key=lambda r: (*key(r), float(r["temperature_C"])))
    for (first, second, _), group in groupby(rows, key=key):
        one, other = by_structure(first), by_structure(second)
        two = system((one, other)) if one is not None and other is not None else None
        if two is None:
            continue
        here = [
            r for r in group
            if 0.05 < float(r["x_1"]) < 0.95 and in_range(to_kelvin(float(r["temperature_C"])))
        ]  # fmt: skip
        here.sort(key=lambda r: (float(r["temperature_C"]), float(r["x_1"])))
        most = SERIES["heat"]
        if len(here) > most:  # the middles of as many equal stretches
            places = (np.arange(most) + 0.5) / most * len(here)
            here = [here[int(k)] for k in places]
        made += [_heat_row(two, r) for r in here]
    return made


def _heat_row(two: System, r: dict[str, str]) -> FitRow:
    kelvin, measured = to_kelvin(float(r["temperature_C"])), float(r["kJ_mol"])
    x = np.array([float(r["x_1"]), 1.0 - float(r["x_1"])])
    base = base_heat_kJ(two, x, kelvin)
    noise = math.hypot(0.05, 0.05 * measured) / HEAT_UNIT_kJ
    row = _row(
        "heat", two, kelvin, (measured - base) / HEAT_UNIT_kJ, two.jacobian(x) @ x,
        noise=noise, second=1.0, first=0.0, measured=measured, reported=HEAT_UNIT_kJ,
    )  # fmt: skip
    return row


def base_heat_kJ(many: System, x: Array, kelvin: float, step_K: float = 0.5) -> float:
    """Excess enthalpy of the base, by a central difference in 1/T."""
    ends = [float(x @ many.ln_gamma(x, kelvin + d)) for d in (-step_K, step_K)]
    inverse = 1.0 / (kelvin + step_K) - 1.0 / (kelvin - step_K)
    return (ends[1] - ends[0]) / inverse * GAS_CONSTANT_J_mol_K / 1e3


# Alcohols and glycols with water


def alcohol_rows() -> list[FitRow]:
    names = (
        "methanol", "ethanol", "1-propanol", "isopropanol", "propylene glycol", "ethylene glycol",
        "glycerol",
    )  # fmt: skip
    made = []
    for name in names:
        two = of_names((name, "water"))
        if two is None:
            continue
        rule = PARAMETER_SETS["dortmund"]
        known = activity_model(rule, [m.groups["dortmund"] for m in two.materials])
        for kelvin in (298.15, 345.0):
            for first in (0.03, 0.1, 0.25, 0.5, 0.75, 0.9):
                x = np.array([first, 1.0 - first])
                residual = known.ln_gamma(x, kelvin) - two.ln_gamma(x, kelvin)
                jacobian = two.jacobian(x)
                made += [
                    _row("alcohol", two, kelvin, float(residual[k]), jacobian[:, k]) for k in (0, 1)
                ]
    return made


PAIR_KINDS = {
    "dilution": dilution_rows,
    "hydrocarbons in water": hydrocarbon_rows,
    "vapour": vapour_rows,
    "crystals": crystal_rows,
    "water": water_rows,
    "layers": layer_rows,
    "heats": heat_rows,
    "alcohols": alcohol_rows,
}


def pair_rows() -> list[FitRow]:
    """All rows of the fit of pairs."""
    return [row for make in PAIR_KINDS.values() for row in make()]
