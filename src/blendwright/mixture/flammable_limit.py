"""How little of this blend's vapour in air can burn?

Le Chatelier: 1 / L = sum y_i / L_i over the flammable part of the headspace, each L_i at the
temperature (Zabetakis 1965).
"""

from __future__ import annotations

import math

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.flammable_limit import at_temperature


def blend_lower_limit(
    composition: Composition, pressures_Pa: Array, temperature_K: float
) -> Estimate:
    """Lower flammable limit of the headspace, mole fraction in air."""
    burning = [s.lower_limit.status == "ok" for s in composition.substances]
    shares = np.where(burning, pressures_Pa, 0.0)
    if not shares.sum() > 0.0:
        return Estimate.absent("mol/mol", "not_applicable", "nothing in the vapour burns")
    shares = shares / shares.sum()
    terms, spread = 0.0, 0.0
    sources: list[str] = ["le-chatelier", "zabetakis"]
    for s, share in zip(composition.substances, shares, strict=True):
        if share <= 0.0:
            continue
        value, low, _ = s.lower_limit.interval()
        limit = at_temperature(value, temperature_K)
        terms += share / limit
        spread += (share / limit * math.log(value / low)) ** 2
        sources.extend(s.lower_limit.sources)
    half = math.sqrt(spread) / terms
    value = 1.0 / terms
    return Estimate.ok(
        value,
        value * math.exp(-half),
        value * math.exp(half),
        "mol/mol",
        "Le Chatelier over the headspace",
        sources,
    )
