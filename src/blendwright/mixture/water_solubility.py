"""How much of one substance does water alone take at 25 °C?

The liquid's solubility, in mol/m3 of solution; a crystal counts as the liquid it would melt to
(its own solubility divided by its ideal activity), so that it can be told apart from a layer.

Rule: the median of accepted values, published or from memory. Without one, the saturated solution
of the pair with water by modified UNIFAC 2.0, corrected by what that set is found to miss for each
kind of group (`water_solubility_classes.csv`, learned from `reference/water_solubility.csv`):

    log10 S = log10 S(model) - sum_k c_k n_k

with n_k the number of groups of a kind. Where only UNIFAC 2.0 has the groups it is used as it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from blendwright.catalogue.kinds import kind_of
from blendwright.catalogue.material import Material, sources_of
from blendwright.catalogue.origins import chosen_words
from blendwright.catalogue.tables import table_rows
from blendwright.errors import MissingGroupPairError
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.activity import ActivityModel, activity_model
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, main_group_counts
from blendwright.pure.boiling_point import published_first
from blendwright.pure.density import liquid_density
from blendwright.pure.fusion import fusion
from blendwright.pure.intervals import interval_factor

WATER_GROUPS: Mapping[str, Mapping[int, int]] = {
    "original": {16: 1},
    "dortmund": {16: 1},
    "liquid_liquid": {17: 1},
    "nist": {16: 1},
}
WATER_mol_m3 = 55345.0  # 997.05 kg/m3 at 25 °C over 18.015 g/mol (IAPWS-95)
MEASURED_LOG10_SD = 0.15  # common between compilations that agree (common practice, no source)
UNCORRECTED_LOG10_SD = 0.60  # UNIFAC 2.0 as it is on reference/water_solubility.csv, rounded up
ANALOGUE_LOG10_SD = 1.0  # groups of a similar molecule (common practice, no source)
ITERATIONS = 300
CONVERGED = 1e-10
ONE_LIQUID = 1e-4
LN_10 = math.log(10.0)


@dataclass(frozen=True)
class WaterSolubility:
    """Of the liquid at 25 °C: `mol_m3` is infinite for what mixes with water.

    `log10_sd` is the standard deviation of its decadic logarithm.
    """

    mol_m3: float
    log10_sd: float
    method: str
    sources: tuple[str, ...]


@lru_cache(maxsize=4096)
def water_solubility(material: Material) -> WaterSolubility | None:
    """None where neither an accepted value nor groups are at hand."""
    published = published_first(material.accepted("water_solubility"))
    if not published:
        return estimated_water_solubility(material)
    logs = [math.log10(d.value / material.molar_mass_kg_mol) for d in published]
    log10 = float(np.median(logs))
    sd = max(MEASURED_LOG10_SD, float(np.std(logs)))
    melt = fusion(material)
    if melt is not None and (melt.melting.value or 0.0) > ROOM_K:
        log10 -= melt.ln_ideal_activity(ROOM_K) / LN_10
    return WaterSolubility(10.0**log10, sd, chosen_words(published), sources_of(published))


def estimated_water_solubility(material: Material) -> WaterSolubility | None:
    """From groups alone, whatever was measured (the accuracy figures ask for this)."""
    for name in ("dortmund2", "unifac2"):
        model = pair_with_water(name, material)
        if model is None:
            continue
        found = saturated_mol_m3(model, molar_volume_m3(material))
        rule = PARAMETER_SETS[name]
        sd = ANALOGUE_LOG10_SD if material.is_analogue else class_sd(name)
        sd *= interval_factor("water solubility", kind_of(material))
        if found is None:
            return WaterSolubility(
                math.inf, sd, f"mixes with water by {rule.title}", (rule.source,)
            )
        log10 = math.log10(found) - class_correction(name, material.groups.get("original", {}))
        return WaterSolubility(
            10.0**log10, sd, f"{rule.title}, corrected by kind of group", (rule.source,)
        )
    return None


def pair_with_water(name: str, material: Material) -> ActivityModel | None:
    """The material and water by one set; None where it lacks the groups or a pair."""
    rule = PARAMETER_SETS[name]
    groups = material.groups.get(rule.groups_of, {})
    if not groups:
        return None
    try:
        return activity_model(rule, [groups, WATER_GROUPS[rule.groups_of]])
    except (MissingGroupPairError, ValueError):
        return None


def molar_volume_m3(material: Material) -> float:
    """Of the liquid at 25 °C, m3/mol; a middling density where none is known."""
    density = liquid_density(material, ROOM_K).value or 950.0
    return material.molar_mass_kg_mol / density


def saturated_mol_m3(model: ActivityModel, molar_volume_m3: float) -> float | None:
    """Of the first component in the second (water) at 25 °C; None where they mix.

    Successive substitution of both compositions, from the two pure liquids.
    """
    in_water, water_in = 1e-6, 1e-2
    for _ in range(ITERATIONS):
        x = np.array([[in_water, 1.0 - in_water], [1.0 - water_in, water_in]])
        gamma = np.exp(np.clip(model.ln_gamma(x, ROOM_K), -60.0, 60.0))
        # K_i = x_i(water layer) / x_i(oil layer) = gamma_i(oil) / gamma_i(water layer)
        k_solute, k_water = gamma[1] / gamma[0]
        if k_water <= 1.0 or k_solute >= 1.0:
            return None
        new_water_in = (1.0 - k_solute) / (k_water - k_solute)
        new_in_water = k_solute * (1.0 - new_water_in)
        change = abs(math.log(new_in_water / in_water)) + abs(new_water_in - water_in)
        in_water, water_in = new_in_water, new_water_in
        if abs(1.0 - water_in - in_water) < ONE_LIQUID:
            return None
        if change < CONVERGED:
            break
    volume = in_water * molar_volume_m3 + (1.0 - in_water) / WATER_mol_m3
    return in_water / volume


KINDS: Mapping[str, tuple[str, ...]] = {
    "alkyl": ("CH2",),
    "aromatic": ("ACH", "ACCH2", "AC"),
    "double bond": ("C=C",),
    "ester": ("CCOO", "HCOO", "COO"),
    "hydroxyl": ("OH",),
    "aldehyde": ("CHO",),
    "ketone": ("CH2CO",),
    "acid": ("COOH",),
    "phenol": ("ACOH",),
    "ether": ("CH2O",),
}
"""Kinds of group, by the main groups of the original set."""


def class_features(groups: Mapping[int, int]) -> dict[str, float]:
    """What the correction is linear in: 1, counts by kind, further esters, hydrocarbon or not."""
    counts = main_group_counts("original", groups)
    found = {
        kind: float(sum(counts.get(main, 0) for main in mains)) for kind, mains in KINDS.items()
    }
    esters = found["ester"]
    found["ester"], found["further ester"] = min(esters, 1.0), max(esters - 1.0, 0.0)
    carbon_only = {m for kind in ("alkyl", "aromatic", "double bond") for m in KINDS[kind]}
    found["hydrocarbon"] = float(bool(counts) and set(counts) <= carbon_only)
    return {"constant": 1.0, **found}


@cache
def classes(parameter_set: str) -> dict[str, float]:
    """The learned corrections of one set, by feature."""
    return {
        row["feature"]: float(row["log10_correction"])
        for row in table_rows("blendwright.mixture", "water_solubility_classes.csv")
        if row["parameter_set"] == parameter_set
    }


def class_correction(parameter_set: str, groups: Mapping[int, int]) -> float:
    """log10 of model over measured, as learned; 0 for a set without a table."""
    learned = classes(parameter_set)
    return sum(learned.get(name, 0.0) * n for name, n in class_features(groups).items())


def class_sd(parameter_set: str) -> float:
    """Standard deviation of log10 on substances left out, as learned."""
    return classes(parameter_set).get("standard deviation", UNCORRECTED_LOG10_SD)


def features_matrix(all_groups: list[Mapping[int, int]]) -> tuple[tuple[str, ...], Array]:
    """Feature names and the matrix substances x features, for the fit."""
    rows = [class_features(groups) for groups in all_groups]
    names = tuple(rows[0])
    return names, np.array([[row[name] for name in names] for row in rows])
