"""At what temperature does the vapour over the pure liquid first flash in a closed cup?

Rule: the median of the accepted published values (the lower of two), standards and data sheets
alike; without any, Catoire and Naudet (2004) from boiling point, heat of vaporisation at 25 °C and
number of carbon atoms:

    T = 1.477 Tb^0.79686 Hv^0.16845 n^-0.05948      (K, K, kJ/mol)

whose mean error on this library's data was 7.2 °C (4.6 median): 90 % interval ±15 °C.
"""

from __future__ import annotations

from statistics import median_low

from blendwright.catalogue.material import Material, atoms, sources_of
from blendwright.estimate import Estimate
from blendwright.pure.boiling_point import (
    boiling_point,
    published_first,
    stated_half_width,
)
from blendwright.pure.vapour_pressure import ROOM_K, VapourPressure

PUBLISHED_SPREAD_K = 4.0
ESTIMATED_SPREAD_K = 15.0


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
            "estimated from the structure"
            if all(d.method == "estimated" for d in data)
            else "median of published closed-cup values",
            sources_of(data),
        )
    boiling = boiling_point(material)
    carbons = atoms(material.formula).get("C", 0)
    if boiling.value is None or vapour is None or not carbons:
        return Estimate.unknown("K", f"no flash point of {material.name}, and none to be estimated")
    heat_kJ_mol = vapour.heat_of_vaporisation_J_mol(ROOM_K) / 1e3
    half = ESTIMATED_SPREAD_K * material.trust_factor
    value = 1.477 * boiling.value**0.79686 * heat_kJ_mol**0.16845 * carbons**-0.05948
    return Estimate.ok(
        value,
        value - half,
        value + half,
        "K",
        "Catoire and Naudet",
        ("catoire-naudet", *boiling.sources),
        (f"flash point of {material.name} is estimated",),
    )
