"""At what temperature does the pure liquid boil at 101.325 kPa?

Rule: the median of the accepted published values; an estimate counts only where nothing else is.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median_low

from blendwright.catalogue.material import Datum, Material, sources_of
from blendwright.estimate import Estimate

LEAST_UNCERTAINTY_K = 1.0
ESTIMATED_UNCERTAINTY_K = 15.0


def published_first(data: Sequence[Datum]) -> tuple[Datum, ...]:
    """The measured and compiled values, or the estimated ones where there is nothing else."""
    published = tuple(d for d in data if d.method != "estimated")
    return published or tuple(data)


def boiling_point(material: Material) -> Estimate:
    """Normal boiling point, K."""
    data = published_first(material.accepted("boiling_point"))
    if not data:
        return Estimate.unknown("K", f"no boiling point of {material.name}")
    values = [d.value for d in data]
    value = median_low(values)
    estimated = all(d.method == "estimated" for d in data)
    floor = ESTIMATED_UNCERTAINTY_K if estimated else LEAST_UNCERTAINTY_K
    spread = max(floor, (max(values) - min(values)) / 2.0) * material.trust_factor
    method = "estimated" if estimated else "median of published values"
    return Estimate.ok(value, value - spread, value + spread, "K", method, sources_of(data))
