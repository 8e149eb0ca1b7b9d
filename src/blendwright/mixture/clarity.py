"""One clear liquid or layers: the verdict of the models together, and the cloud point.

Each voice gives a sign with a margin, negative where it says that the liquid parts:

- a parameter set: the lowest tangent-plane distance of a rival composition (`liquid_split`), over
  how far that rival lies from the blend (half the sum of the mole fractions' differences), as a
  model's errors grow with that;
- log-linear cosolvency, for watery blends: minus the logarithm of the oils' load (`cosolvency`).

How margins stand to what is seen at the bench was learned: the chance that the liquid parts is the
weighted mean of F(-(margin + bias) / scale), with weight, bias and scale of each voice by medium in
`ensemble.csv` (`accuracy/split.py` fits them). F is Student's t distribution with two degrees of
freedom, F(z) = (1 + z / sqrt(2 + z^2)) / 2: models that are mostly near and sometimes far off. A
set that finds no rival at all counts with SETTLED_CHANCE.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import loading
from blendwright.mixture.ensemble import rules
from blendwright.mixture.liquid_split import stability
from blendwright.mixture.parameter_sets import Array

SETTLED_CHANCE = 0.02
NEAREST_RIVAL = 0.05  # nearer ones count as this far: near a critical point all is uncertain
LOWEST_CLOUD_K = 253.15
HIGHEST_CLOUD_K = 353.15
CLOUD_NODES = 4
CLOUD_TOLERANCE_K = 0.5
AS_LIKELY_AS_NOT = 0.5
LIKELY, UNLIKELY = 0.8, 0.2  # the ends of the cloud temperature's interval
COSOLVENCY = "cosolvency"


@dataclass(frozen=True)
class Sign:
    """What one voice sees: its margin (None: no rival), and its own standard deviation."""

    margin: float | None
    own_sd: float = 0.0


@dataclass(frozen=True)
class Clarity:
    """Chance that the liquid parts into layers, and which voices say so."""

    chance_of_split: float
    sources: tuple[str, ...]


def share_of_parting(sign: Sign, bias: float, scale: float) -> float:
    """The chance that the liquid parts, by one voice."""
    margin = math.nan if sign.margin is None else sign.margin
    return float(shares_of_parting(np.asarray(margin), np.asarray(sign.own_sd), bias, scale))


def shares_of_parting(margin: Array, own_sd: Array, bias: float, scale: float) -> Array:
    """The same for many blends; a margin of NaN is that of no rival."""
    chance = student_share(-(margin + bias) / np.hypot(scale, own_sd))
    return np.where(np.isnan(margin), SETTLED_CHANCE, chance)


def student_share(z: Array | float) -> Array:
    """F(z) of the docstring above, of any shape."""
    return np.asarray(0.5 * (1.0 + z / np.sqrt(2.0 + z * z)))


def _cosolvency_sign(composition: Composition, temperature_K: float) -> Sign | None:
    found = loading(composition, temperature_K)
    if found is None:
        return None
    if math.isinf(found.ln_load):
        return Sign(None)
    return Sign(-found.ln_load, found.ln_sd)


def _set_sign(composition: Composition, name: str, temperature_K: float) -> Sign | None:
    model = composition.ensemble.model(name)
    if model is None:
        return None
    x = composition.mole_fractions
    found = stability(model, x, temperature_K)
    if found.rival is None:
        return Sign(None)
    apart = 0.5 * float(np.abs(found.rival - x).sum())
    return Sign(found.distance / max(apart, NEAREST_RIVAL))


def sign_of(composition: Composition, voice: str, temperature_K: float) -> Sign | None:
    """What one voice sees; None where it can't speak of this blend."""
    if voice == COSOLVENCY:
        return _cosolvency_sign(composition, temperature_K)
    return _set_sign(composition, voice, temperature_K)


def clarity(composition: Composition, temperature_K: float) -> Clarity | None:
    """All voices at one temperature; None where none can speak."""
    total = weighted = 0.0
    for rule in rules():
        if rule.question != "split" or rule.medium != composition.medium:
            continue
        sign = sign_of(composition, rule.parameter_set, temperature_K)
        if sign is not None:
            total += rule.weight
            weighted += rule.weight * share_of_parting(sign, rule.bias, rule.scale)
    if total == 0.0:
        return None
    return Clarity(weighted / total, _sources(composition))


def _sources(composition: Composition) -> tuple[str, ...]:
    voices = composition.ensemble.voices("split", composition.medium)
    watery = ("cosolvency-ethanol",) if composition.medium != "organic" else ()
    return (*watery, *(voice.source for voice in voices))


def _as_it_is(chance: float, temperature_K: float) -> float:
    return chance


def cloud_temperature(
    composition: Composition, update: Callable[[float, float], float] = _as_it_is
) -> Estimate:
    """The highest temperature between -20 and 80 °C at which a split is as likely as not, K.

    Its interval runs to where a split is UNLIKELY (above) and LIKELY (below). "not_applicable"
    where it is clear over the whole range, "out_of_range" where it is split at the top, "unknown"
    where no voice can speak. `update` turns the models' (chance, temperature) into the chance that
    what was seen at the bench leaves.
    """
    method = "chance of a split by all voices together, -20 to 80 °C"
    if len(composition.substances) < 2:
        return Estimate.absent("K", "not_applicable", "a single substance", method)
    seen: dict[float, float] = {}

    def chance(temperature_K: float) -> float | None:
        if temperature_K not in seen:
            found = clarity(composition, temperature_K)
            if found is None:
                return None
            seen[temperature_K] = update(found.chance_of_split, temperature_K)
        return seen[temperature_K]

    step = (HIGHEST_CLOUD_K - LOWEST_CLOUD_K) / (CLOUD_NODES - 1)
    nodes = [HIGHEST_CLOUD_K - step * i for i in range(CLOUD_NODES)]
    top = chance(nodes[0])
    if top is None:
        return Estimate.unknown("K", "no parameter set covers every group pair in this blend")
    if top > AS_LIKELY_AS_NOT:
        return Estimate.absent("K", "out_of_range", "in layers at 80 °C too", method)

    def crossing(level: float) -> float | None:
        """Where the chance first passes a level on the way down."""
        for warm, cool in pairwise(nodes):
            if (chance(cool) or 0.0) > level:
                low, high = cool, warm
                while high - low > CLOUD_TOLERANCE_K:
                    middle = 0.5 * (low + high)
                    if (chance(middle) or 0.0) > level:
                        low = middle
                    else:
                        high = middle
                return 0.5 * (low + high)
        return None

    value = crossing(AS_LIKELY_AS_NOT)
    if value is None:
        return Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C", method)
    low = crossing(LIKELY)
    high = HIGHEST_CLOUD_K if top > UNLIKELY else crossing(UNLIKELY)
    notes = () if low is not None else ("the low end is the end of the range looked at",)
    return Estimate.ok(
        value,
        min(value, LOWEST_CLOUD_K if low is None else low),
        max(value, value if high is None else high),
        "K",
        method,
        _sources(composition),
        notes,
    )
