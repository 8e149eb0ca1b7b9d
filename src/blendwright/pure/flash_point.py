"""At what temperature does the vapour over the pure liquid first flash in a closed cup?

Rule: the median of the accepted values (the lower of two), standards, data sheets and values from
memory alike; the method says on which it rests. Without any, in this order: the mean of the two
estimates below, where a structure estimate came with the substance (on 425 curated substances, each
left out of both fits, 5.5 °C mean, 3.8 median, 90 % within 12.9 °C; the two alone 5.6 and 5.9 °C),
with the wider of their intervals; the regression on boiling point, formula and groups
(`flash_regression.py`; cross-validated on 643 substances 6.5 °C mean, 4.1 median, 90 % within
14.3 °C: that is its interval); the estimate from the structure; Catoire and Naudet (2004) from
boiling point, heat of vaporisation at 25 °C and number of carbon atoms, ±20 °C,

    T = 1.477 Tb^0.79686 Hv^0.16845 n^-0.05948      (K, K, kJ/mol)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median_low

from blendwright.catalogue.kinds import kind_of
from blendwright.catalogue.material import DRAWN, Datum, Material, atoms, sources_of
from blendwright.catalogue.origins import chosen_words
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K
from blendwright.pure.boiling_point import (
    boiling_point,
    stated_half_width,
)
from blendwright.pure.flash_regression import flash_from_boiling_point
from blendwright.pure.intervals import interval_factor
from blendwright.pure.vapour_pressure import VapourPressure

PUBLISHED_SPREAD_K = 4.0
FLASH_PER_BOILING = 0.7  # K of flash point for a K of boiling point, about the ratio of the two
FLASH_OVER_BOILING = (0.67, 0.82)  # where 98 % of sound values lie; estimates are kept inside
FROM_THE_LIBRARY = "from the library"
REGRESSION = "regression on boiling point and groups"
CATOIRE = "Catoire and Naudet"
STRUCTURE = "estimated from the structure"
BOTH = "mean of the regression on boiling point and groups and of the estimate from the structure"
ESTIMATES = (BOTH, REGRESSION, CATOIRE, STRUCTURE)
STRUCTURE_SOURCE = "structure-estimate"
ESTIMATE_SPREAD_K = {REGRESSION: 14.3, CATOIRE: 20.0}


def flash_point(material: Material, vapour: VapourPressure | None) -> Estimate:
    """Choose the closed-cup flash point of a substance by the rule above.

    Parameters
    ----------
    material : Material
    vapour : VapourPressure, optional

    Returns
    -------
    Estimate
        K; "not_applicable" for what can't burn.
    """
    if not material.is_flammable:
        return Estimate.absent("K", "not_applicable", f"{material.name} does not burn")
    data = material.accepted("flash_point")
    published = [d for d in data if d.method != "estimated"]
    if published:
        return _median(material, published, f"{chosen_words(published)}, closed cup")
    boiling = boiling_point(material)
    carbons = atoms(material.formula).get("C", 0)
    groups = material.groups.get("original")
    elements = set(atoms(material.formula))
    if boiling.value is not None and groups and elements <= set("CHONS") and carbons >= 2:
        low, high = (ratio * boiling.value for ratio in FLASH_OVER_BOILING)
        value = flash_from_boiling_point(material.formula, groups, boiling.value)
        value = min(max(value, low), high)
        spread = ESTIMATE_SPREAD_K[REGRESSION] * material.trust_factor**0.5
        drawn = [d for d in data if d.source == STRUCTURE_SOURCE]
        if drawn:
            value = 0.5 * (value + drawn[0].value)
            sources = ("flash-regression", STRUCTURE_SOURCE)
            spread = max(spread, stated_half_width(drawn, spread))
            return _estimated(material, value, boiling, BOTH, sources, spread)
        return _estimated(material, value, boiling, REGRESSION, ("flash-regression",), spread)
    if data:
        return _median(material, data, STRUCTURE)
    catoire = catoire_naudet_K(material, boiling.value, vapour)
    if catoire is None:
        return Estimate.unknown("K", f"no flash point of {material.name}, and none to be estimated")
    spread = ESTIMATE_SPREAD_K[CATOIRE] * material.trust_factor**0.5
    return _estimated(material, catoire, boiling, CATOIRE, ("catoire-naudet",), spread)


def catoire_naudet_K(
    material: Material, boiling_K: float | None, vapour: VapourPressure | None
) -> float | None:
    """Estimate a flash point from boiling point, heat of vaporisation and number of carbon atoms.

    Parameters
    ----------
    material : Material
    boiling_K : float, optional
    vapour : VapourPressure, optional

    Returns
    -------
    float or None
        K; None without a boiling point, a vapour pressure or carbon.

    References
    ----------
    .. [1] L. Catoire, V. Naudet (2004), J. Phys. Chem. Ref. Data 33, 1083, doi:10.1063/1.1835321
    """
    carbons = atoms(material.formula).get("C", 0)
    if boiling_K is None or vapour is None or not carbons:
        return None
    heat_kJ_mol = vapour.heat_of_vaporisation_J_mol(ROOM_K) / 1e3
    return float(1.477 * boiling_K**0.79686 * heat_kJ_mol**0.16845 * carbons**-0.05948)


def never_narrowed(factor: float) -> float:
    """The learned factor at the low end: for safety's sake it only ever widens."""
    return max(1.0, factor)


def estimated_kind(material: Material) -> str:
    """Which learned factor widens an estimate: the kind of substance, or that nobody curated it."""
    return kind_of(material) if material.curated else FROM_THE_LIBRARY


def _learned_factor(material: Material) -> float:
    if material.family == DRAWN:
        return interval_factor("flash point, from the structure", "all")
    return interval_factor("flash point, estimated", estimated_kind(material))


def _median(material: Material, data: Sequence[Datum], method: str) -> Estimate:
    values = [d.value for d in data]
    value = median_low(values)
    floor = stated_half_width(data, PUBLISHED_SPREAD_K * material.trust_factor)
    half = max(floor, (max(values) - min(values)) / 2.0)
    return Estimate.ok(value, value - half, value + half, "K", method, sources_of(data))


def _estimated(
    material: Material,
    value: float,
    boiling: Estimate,
    method: str,
    sources: tuple[str, ...],
    spread: float,
) -> Estimate:
    boiling_spread = 0.5 * (boiling.interval()[2] - boiling.interval()[1])
    half = math.hypot(spread, FLASH_PER_BOILING * boiling_spread)
    factor = _learned_factor(material)
    return Estimate.ok(
        value,
        value - half * never_narrowed(factor),
        value + half * factor,
        "K",
        method,
        (*sources, *boiling.sources),
        (f"flash point of {material.name} is estimated",),
    )
