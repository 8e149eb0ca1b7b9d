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
set that finds no rival at all counts with SETTLED_CHANCE. A single substance can't part: its chance
is ONE_SUBSTANCE, and no voice is asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from blendwright.conditions import ROOM_K
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.mixture.activity import ActivityModel
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import loading
from blendwright.mixture.ensemble import Rule, rules
from blendwright.mixture.liquid_split import stabilities
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import Ints, roots_between

SETTLED_CHANCE = 0.02
ONE_SUBSTANCE = 0.0
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
    """What one voice sees: its margin (None: no rival), and its own standard deviation.

    Not `converged`: the search for a rival ended before it settled.
    """

    margin: float | None
    own_sd: float = 0.0
    converged: bool = True


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


def _set_signs(
    composition: Composition, model: ActivityModel, temperatures_K: Sequence[float]
) -> list[Sign]:
    x = composition.mole_fractions
    found = stabilities(model.at(np.array(temperatures_K)), np.tile(x, (len(temperatures_K), 1)))
    apart = np.maximum(0.5 * np.abs(found.rival - x).sum(axis=1), NEAREST_RIVAL)
    return [
        Sign(float(margin) if seen else None, converged=bool(settled))
        for margin, seen, settled in zip(
            found.distance / apart, found.has_rival, found.converged, strict=True
        )
    ]


def signs_of(
    composition: Composition, voice: str, temperatures_K: Sequence[float]
) -> list[Sign] | None:
    """What one voice sees at each temperature; None where it can't speak of this blend."""
    if voice == COSOLVENCY:
        signs = [_cosolvency_sign(composition, kelvin) for kelvin in temperatures_K]
        heard = [sign for sign in signs if sign is not None]
        return heard if len(heard) == len(signs) else None
    model = composition.ensemble.model(voice)
    return None if model is None else _set_signs(composition, model, temperatures_K)


def sign_of(composition: Composition, voice: str, temperature_K: float) -> Sign | None:
    """The same at one temperature."""
    found = signs_of(composition, voice, [temperature_K])
    return None if found is None else found[0]


def _speaks(composition: Composition, voice: str) -> bool:
    if voice == COSOLVENCY:
        return loading(composition, ROOM_K) is not None
    return composition.ensemble.model(voice) is not None


def chances_of_split(
    composition: Composition, temperatures_K: Sequence[float], level: float | None = None
) -> list[float] | None:
    """All voices at several temperatures; None where none can speak, or one did not converge.

    With `level` only whether each chance is above it is told: the weightiest voices speak first,
    and the others only where they could still tip it.
    """
    if len(composition.substances) == 1:
        return [ONE_SUBSTANCE] * len(temperatures_K)
    voices = _voices(composition)
    if not voices:
        return None
    total = left = sum(rule.weight for rule in voices)
    weighted = dict.fromkeys(temperatures_K, 0.0)
    chances: dict[float, float] = {}
    for rule in sorted(voices, key=lambda rule: -rule.weight):
        signs = signs_of(composition, rule.parameter_set, list(weighted)) or []
        left -= rule.weight
        if not all(sign.converged for sign in signs):
            return None
        for kelvin, sign in zip(list(weighted), signs, strict=True):
            weighted[kelvin] += rule.weight * share_of_parting(sign, rule.bias, rule.scale)
            if level is not None and weighted[kelvin] > level * total:
                chances[kelvin] = weighted.pop(kelvin) / total
            elif level is not None and weighted[kelvin] + left < level * total:
                chances[kelvin] = (weighted.pop(kelvin) + left) / total
        if not weighted:
            break
    chances |= {kelvin: found / total for kelvin, found in weighted.items()}
    return [chances[kelvin] for kelvin in temperatures_K]


def clarity(composition: Composition, temperature_K: float) -> Clarity | None:
    """All voices at one temperature; None where none can speak."""
    chances = chances_of_split(composition, [temperature_K])
    return None if chances is None else Clarity(chances[0], _sources(composition))


def chance_of_haze(
    composition: Composition, temperature_K: float, chance: float, least_kg: float
) -> float:
    """The chance that more oil than `least_kg` stays undissolved, from the chance that any does.

    Only log-linear cosolvency tells how much: its voice is asked again with the margin up to that
    amount (`Loading.ln_margin`). Without it, in a liquid without water, the chance is the same.
    """
    voices = _voices(composition)
    own = next((rule for rule in voices if rule.parameter_set == COSOLVENCY), None)
    found = loading(composition, temperature_K)
    if own is None or found is None or math.isinf(found.ln_load):
        return chance
    until = found.ln_margin(composition.mass_kg, least_kg)
    any_oil = share_of_parting(Sign(-found.ln_load, found.ln_sd), own.bias, own.scale)
    so_much = 0.0
    if math.isfinite(until):
        so_much = share_of_parting(Sign(until, found.ln_sd), own.bias, own.scale)
    share = own.weight / sum(rule.weight for rule in voices)
    return min(chance, max(0.0, chance + share * (so_much - any_oil)))


def _voices(composition: Composition) -> list[Rule]:
    """Of the layers, those that can speak of this blend."""
    return [
        rule
        for rule in rules()
        if rule.question == "split" and rule.medium == composition.medium
        if _speaks(composition, rule.parameter_set)
    ]


def _sources(composition: Composition) -> tuple[str, ...]:
    voices = composition.ensemble.voices("split", composition.medium)
    watery = ("cosolvency-ethanol",) if composition.medium != "organic" else ()
    return (*watery, *(voice.source for voice in voices))


def cloud_temperature(
    composition: Composition, update: Callable[[float, float], float] | None = None
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
    step = (HIGHEST_CLOUD_K - LOWEST_CLOUD_K) / (CLOUD_NODES - 1)
    nodes = [HIGHEST_CLOUD_K - step * i for i in range(CLOUD_NODES)]

    def updated(temperatures_K: Sequence[float], level: float | None = None) -> list[float]:
        found = chances_of_split(composition, temperatures_K, level)
        if found is None:
            return []
        if update is None:
            return found
        return [update(c, kelvin) for c, kelvin in zip(found, temperatures_K, strict=True)]

    rough = updated(nodes, AS_LIKELY_AS_NOT if update is None else None)
    if not rough:
        speaks = any(
            _speaks(composition, rule.parameter_set)
            for rule in rules()
            if rule.question == "split" and rule.medium == composition.medium
        )
        reason = "no parameter set covers every group pair in this blend"
        return Estimate.unknown(
            "K", str(NotConvergedError("cloud temperature")) if speaks else reason
        )
    if rough[0] > AS_LIKELY_AS_NOT:
        return Estimate.absent("K", "out_of_range", "in layers at 80 °C too", method)
    if max(rough) <= AS_LIKELY_AS_NOT:
        return Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C", method)
    fine = updated(nodes) if update is None else rough
    if not fine:
        return Estimate.unknown("K", str(NotConvergedError("cloud temperature")))
    seen = dict(zip(nodes, fine, strict=True))

    def chance(temperature_K: float) -> float:
        if temperature_K not in seen:
            seen[temperature_K] = (updated([temperature_K]) or [math.nan])[0]
        return seen[temperature_K]

    def crossing(level: float) -> float | None:
        """Where the chance first passes a level on the way down; NaN where that is unknown."""

        def over(kelvin: Array, _: Ints) -> Array:
            own = chance(float(kelvin[0]))
            return np.array([math.nan if math.isnan(own) else 1.0 if own > level else -1.0])

        for warm, cool in pairwise(nodes):
            if chance(cool) > level:
                found = roots_between(
                    over,
                    np.array([cool]),
                    np.array([warm]),
                    CLOUD_TOLERANCE_K,
                    np.array([1.0]),
                    np.array([-1.0]),
                )
                return float(0.5 * (found.low + found.high)[0]) if found.converged[0] else math.nan
        return None

    value = crossing(AS_LIKELY_AS_NOT)
    if value is None:
        return Estimate.absent("K", "not_applicable", "clear from -20 to 80 °C", method)
    low = crossing(LIKELY)
    high = HIGHEST_CLOUD_K if seen[nodes[0]] > UNLIKELY else crossing(UNLIKELY)
    if any(end is not None and math.isnan(end) for end in (value, low, high)):
        return Estimate.unknown("K", str(NotConvergedError("cloud temperature")))
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
