"""At what temperature does the pure liquid boil at 101.325 kPa?

Rule: the median of the accepted values, published or from memory (the method says which); an
estimate counts only where nothing else is. A published value is taken to within 1 °C, or half the
spread; the library's unchecked one to within what other compilations teach (`intervals.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median_low

from blendwright.catalogue.material import Datum, Material, sources_of
from blendwright.catalogue.origins import chosen_words
from blendwright.estimate import Estimate
from blendwright.pure.intervals import interval_factor

LEAST_UNCERTAINTY_K = 1.0
ESTIMATED_UNCERTAINTY_K = 15.0


def published_first(data: Sequence[Datum]) -> tuple[Datum, ...]:
    """The measured and compiled values, or the estimated ones where there is nothing else."""
    published = tuple(d for d in data if d.method != "estimated")
    return published or tuple(data)


def how_chosen(data: Sequence[Datum]) -> str:
    """The method of a median: of published values, of values from memory, or of estimates."""
    estimated = all(d.method == "estimated" for d in data)
    return "estimated" if estimated else chosen_words(data)


def stated_half_width(data: Sequence[Datum], floor: float) -> float:
    """90 % half-width: 1.645 times the smallest uncertainty stated by the person or by an
    estimate; else the floor that the property's module gives published values."""
    stated = [
        d.uncertainty
        for d in data
        if d.uncertainty is not None and (d.method == "estimated" or d.source.startswith("yours"))
    ]
    return 1.645 * min(stated) if stated else floor


def boiling_point(material: Material) -> Estimate:
    """Choose the normal boiling point of a substance by the rule above.

    Parameters
    ----------
    material : Material

    Returns
    -------
    Estimate
        K; "unknown" without any value.
    """
    data = published_first(material.accepted("boiling_point"))
    if not data:
        return Estimate.unknown("K", f"no boiling point of {material.name}")
    values = [d.value for d in data]
    value = median_low(values)
    estimated = all(d.method == "estimated" for d in data)
    floor = (ESTIMATED_UNCERTAINTY_K if estimated else LEAST_UNCERTAINTY_K) * material.trust_factor
    if not estimated and not material.curated:
        floor *= interval_factor("boiling point, from the library", "all")
    floor = stated_half_width(data, floor)
    spread = max(floor, (max(values) - min(values)) / 2.0)
    return Estimate.ok(
        value, value - spread, value + spread, "K", how_chosen(data), sources_of(data)
    )
