"""One clear liquid or layers: the verdict of the parameter sets together, and the cloud point.

Each complete set gives its tangent-plane distance; how far that lies from where splits really
begin is its bias and scale in `ensemble.csv`. The chance of a split is the weighted mean of
Phi(-(distance + bias) / scale); a set that finds no rival composition at all counts with
SETTLED_CHANCE.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.liquid_split import stability

SETTLED_CHANCE = 0.02
LOWEST_CLOUD_K = 253.15
HIGHEST_CLOUD_K = 353.15
CLOUD_NODES = 6
CLOUD_SPREAD_K = 10.0
CLOUD_TOLERANCE_K = 0.5


@dataclass(frozen=True)
class Clarity:
    """Chance that the liquid parts into layers, and which parameter sets say so."""

    chance_of_split: float
    sources: tuple[str, ...]


def clarity(composition: Composition, temperature_K: float) -> Clarity | None:
    """The ensemble's view at one temperature; None where no parameter set is complete."""
    voices = composition.ensemble.voices("split", composition.medium)
    if not voices:
        return None
    x = composition.mole_fractions
    chance = 0.0
    for voice in voices:
        found = stability(voice.model, x, temperature_K)
        if found.rival is None:
            chance += voice.weight * SETTLED_CHANCE
            continue
        z = -(found.distance + voice.bias) / voice.scale
        chance += voice.weight * 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))
    return Clarity(chance, tuple(v.source for v in voices))


def cloud_temperature(composition: Composition) -> Estimate:
    """The highest temperature between -20 and 80 °C at which a split is as likely as not, K.

    "not_applicable" where it is clear over the whole range, "out_of_range" where it is split at
    the top, "unknown" where no parameter set is complete.
    """
    method = "tangent-plane distance by the weighted parameter sets, -20 to 80 °C"
    if len(composition.substances) < 2:
        return Estimate.absent("K", "not_applicable", "a single substance", method)
    if not composition.ensemble.voices("split", composition.medium):
        return Estimate.unknown("K", "no parameter set covers every group pair in this blend")

    def split_likely(temperature_K: float) -> bool:
        found = clarity(composition, temperature_K)
        return found is not None and found.chance_of_split > 0.5

    step = (HIGHEST_CLOUD_K - LOWEST_CLOUD_K) / (CLOUD_NODES - 1)
    nodes = [HIGHEST_CLOUD_K - step * i for i in range(CLOUD_NODES)]
    if split_likely(nodes[0]):
        return Estimate.absent("K", "out_of_range", "in layers at 80 °C too", method)
    for warm, cool in pairwise(nodes):
        if split_likely(cool):
            low, high = cool, warm
            while high - low > CLOUD_TOLERANCE_K:
                middle = 0.5 * (low + high)
                if split_likely(middle):
                    low = middle
                else:
                    high = middle
            value = 0.5 * (low + high)
            found = clarity(composition, value)
            return Estimate.ok(
                value,
                value - CLOUD_SPREAD_K,
                value + CLOUD_SPREAD_K,
                "K",
                method,
                found.sources if found else (),
                ("interval: common practice, no source",),
            )
    return Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C", method)
