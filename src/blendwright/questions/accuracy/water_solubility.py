"""Solubility of liquids in water by groups alone, each substance left out of its own correction.

`reference/water_solubility.csv`, the rows that are liquids at 25 °C and don't mix with water.
Substances with groups of a similar molecule are judged but not learned from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.catalogue.kinds import kind_of
from blendwright.errors import BlendwrightError
from blendwright.estimate import NORMAL_90
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.mixture.water_solubility import (
    features_matrix,
    molar_volume_m3,
    pair_with_water,
    saturated_mol_m3,
)
from blendwright.mixture.weighing import resolve
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.figures import SINGLE_SETS, Case
from blendwright.questions.accuracy.reference import reference

LEARNED_SETS = ("dortmund2", "unifac2")
RIDGE = 1.0  # pulls each kind's correction to zero; as strong as one substance with one such group
RIDGE_CONSTANT = 0.1


@dataclass(frozen=True)
class Row:
    """One liquid: its measured log10 (mol/L) and each set's, None where the set says miscible."""

    material: Material
    measured: float
    by_set: dict[str, float]


@cache
def rows() -> tuple[Row, ...]:
    """The liquids of the table that some set says part from water, one a substance."""
    catalogue = default_catalogue()
    found: dict[str, Row] = {}
    for line in reference("water_solubility.csv"):
        material = _material(line, catalogue)
        if material is None or material.name in found or material.is_water:
            continue
        fusion = pure_constants(material).fusion
        if fusion is not None and (fusion.melting.value or 0.0) > ROOM_K:
            continue
        by_set: dict[str, float] = {}
        for name in SINGLE_SETS:
            model = pair_with_water(name, material)
            solubility = saturated_mol_m3(model, molar_volume_m3(material)) if model else None
            if solubility is not None:
                by_set[name] = math.log10(solubility / 1e3)
        if by_set:
            found[material.name] = Row(material, float(line["log10_molar"]), by_set)
    return tuple(found.values())


def _material(line: dict[str, str], catalogue: Catalogue) -> Material | None:
    known = catalogue.by_inchikey(line["inchikey"]) if line["inchikey"] else None
    if known is not None:
        return known
    try:
        return resolve(line["material"], catalogue)
    except BlendwrightError:
        return None


def learned(parameter_set: str) -> list[Row]:
    return [r for r in rows() if parameter_set in r.by_set and not r.material.is_analogue]


def ridge(features: Array, errors: Array) -> Array:
    """Coefficients that correct log10(model) - log10(measured)."""
    penalty = RIDGE * np.eye(features.shape[1])
    penalty[0, 0] = RIDGE_CONSTANT
    return np.asarray(np.linalg.solve(features.T @ features + penalty, features.T @ errors))


def errors_and_features(parameter_set: str) -> tuple[list[Row], tuple[str, ...], Array, Array]:
    used = learned(parameter_set)
    names, features = features_matrix([r.material.groups.get("original", {}) for r in used])
    errors = np.array([r.by_set[parameter_set] - r.measured for r in used])
    return used, names, features, errors


def left_out_errors(parameter_set: str) -> dict[str, float]:
    """log10 error of each substance by the correction that never saw it."""
    used, _, features, errors = errors_and_features(parameter_set)
    found = {}
    for i, row in enumerate(used):
        keep = np.arange(len(used)) != i
        found[row.material.name] = float(
            errors[i] - features[i] @ ridge(features[keep], errors[keep])
        )
    return found


def fitted_table() -> str:
    """The text of mixture/water_solubility_classes.csv."""
    lines = ["parameter_set,feature,log10_correction"]
    for name in LEARNED_SETS:
        _, names, features, errors = errors_and_features(name)
        coefficients = ridge(features, errors)
        lines += [f"{name},{k},{c:.4f}" for k, c in zip(names, coefficients, strict=True)]
        spread = float(np.sqrt(np.mean(np.square(list(left_out_errors(name).values())))))
        lines.append(f"{name},standard deviation,{spread:.3f}")
    return "\n".join(lines) + "\n"


@cache
def uncalibrated() -> tuple[Case, ...]:
    """Errors in log10 (mol/L) of each liquid that has groups of its own, with the half-width before
    any factor; each single set beside."""
    errors = [left_out_errors(name) for name in LEARNED_SETS]
    made = []
    for row in rows():
        name = row.material.name
        found = next((e for e in errors if name in e), None)
        if found is None:
            continue
        # the spread that the others give: no substance speaks for itself
        rest = [e for other, e in found.items() if other != name]
        half = NORMAL_90 * float(np.sqrt(np.mean(np.square(rest))))
        others = [("mean of all (naive)", _naive(name) - row.measured)]
        others += [(PARAMETER_SETS[s].title, v - row.measured) for s, v in row.by_set.items()]
        kind = kind_of(row.material)
        made.append(Case(name, found[name], half, kind, tuple(others), measured=row.measured))
    return tuple(made)


def _naive(name: str) -> float:
    return float(np.mean([r.measured for r in rows() if r.material.name != name]))
