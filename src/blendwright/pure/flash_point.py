"""At what temperature does the vapour over the pure liquid first flash in a closed cup?

Rule: the median of the accepted published values (the lower of two), standards and data sheets
alike. Without any, in this order: the regression on boiling point, formula and groups
(`flash_regression.py`; cross-validated on 460 substances 7.4 °C mean, 4.6 median, 90 % within
16 °C: that is its interval); Catoire and Naudet (2004) from boiling point, heat of vaporisation at
25 °C and number of carbon atoms, ±20 °C,

    T = 1.477 Tb^0.79686 Hv^0.16845 n^-0.05948      (K, K, kJ/mol)
"""

from __future__ import annotations

import math
from statistics import median_low

from blendwright.catalogue.material import Material, atoms, sources_of
from blendwright.estimate import Estimate
from blendwright.pure.boiling_point import (
    boiling_point,
    published_first,
    stated_half_width,
)
from blendwright.pure.flash_regression import flash_from_boiling_point
from blendwright.pure.vapour_pressure import ROOM_K, VapourPressure

PUBLISHED_SPREAD_K = 4.0
FLASH_PER_BOILING = 0.7  # K of flash point for a K of boiling point, about the ratio of the two
LEAST_CARBONS = 2
REGRESSION = "regression on boiling point and groups"
CATOIRE = "Catoire and Naudet"
STRUCTURE = "estimated from the structure"
ESTIMATES = (REGRESSION, CATOIRE, STRUCTURE)
REGRESSION_SPREAD_K = 16.0
CATOIRE_SPREAD_K = 20.0


def flash_point(material: Material, vapour: VapourPressure | None) -> Estimate:
    """Closed-cup flash point, K; "not_applicable" for what can't burn."""
    if not material.is_flammable:
        return Estimate.absent("K", "not_applicable", f"{material.name} does not burn")
    data = published_first(material.accepted("flash_point"))
    if data:
        values = [d.value for d in data]
        value = median_low(values)
        floor = stated_half_width(data, PUBLISHED_SPREAD_K * material.trust_factor)
        half = max(floor, (max(values) - min(values)) / 2.0)
        return Estimate.ok(
            value,
            value - half,
            value + half,
            "K",
            STRUCTURE
            if all(d.method == "estimated" for d in data)
            else "median of published closed-cup values",
            sources_of(data),
        )
    boiling = boiling_point(material)
    carbons = atoms(material.formula).get("C", 0)
    if boiling.value is None or vapour is None or not carbons:
        return Estimate.unknown("K", f"no flash point of {material.name}, and none to be estimated")
    groups = material.groups.get("original")
    elements = set(atoms(material.formula))
    if groups and elements <= set("CHONS") and carbons >= LEAST_CARBONS:
        value = flash_from_boiling_point(material.formula, groups, boiling.value)
        method, source, spread = REGRESSION, "flash-regression", REGRESSION_SPREAD_K
    else:
        heat_kJ_mol = vapour.heat_of_vaporisation_J_mol(ROOM_K) / 1e3
        value = 1.477 * boiling.value**0.79686 * heat_kJ_mol**0.16845 * carbons**-0.05948
        method, source, spread = CATOIRE, "catoire-naudet", CATOIRE_SPREAD_K
    boiling_spread = 0.5 * (boiling.interval()[2] - boiling.interval()[1])
    half = math.hypot(spread * material.trust_factor**0.5, FLASH_PER_BOILING * boiling_spread)
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "K",
        method,
        (source, *boiling.sources),
        (f"flash point of {material.name} is estimated",),
    )
