"""How does a person's own measurement enter? As one more linear row of the fit, at once.

A measurement says y = h + noise of a quantity h that is linear in the terms. With v the variance of
h over the draws, r the measurement's standard deviation and h0 the value by the mean, h becomes

    mean:   h0' = h0 + V / (V + r^2) (y - h0),         V = max(v, (y - h0)^2 / 1.645^2)
    draws:  h' - h0' = (h - h0) sqrt(v' / v),          v' = min(v, V r^2 / (V + r^2))

and every term q of the measured crystal (of its pairs, and its factor) follows by its regression
over the draws on the part u of h that these terms make:

    q' = q + cov(q, u) / var(u) (h' - h)

This is the square-root form of the ensemble Kalman update (Whitaker, Hamill 2002, doi:10.1175/
1520-0493(2002)130<1913:EDAWPO>2.0.CO;2). It needs no random numbers, and where V is v it is the
row of a Gaussian process: the variance of h falls to v r^2 / (v + r^2). V is larger where the
measurement lies outside the model's 90 % interval, which shows that the interval was too narrow
there: the answer then goes to the measurement, and its variance falls to the measurement's own.

The mean follows h at the temperature of the measurement; the draws follow it at 25 °C, where
`dissolution` takes their spread for all temperatures.

So h becomes h' exactly, and of the crystal in any one carrier no variance of any quantity rises.
The terms of other pairs stay: sixteen draws would tell of them more by chance than by knowledge,
and a trace of the crystal changes nothing of what it is in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.material import Material, MeasuredSolubility
from blendwright.errors import BlendwrightError
from blendwright.estimate import NORMAL_90
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.activity import activity_model
from blendwright.mixture.excess.descriptors import BASE_SETS, descriptor
from blendwright.mixture.excess.form import COEFFICIENTS, ExcessTerms
from blendwright.mixture.excess.learned import (
    LEAST_FUSION_FACTOR,
    excess_terms,
    fusion_factors,
)
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.pure.constants import PureConstants, pure_constants
from blendwright.pure.fusion import Fusion, correction_shape

LEAST_NOISE = 0.02  # of ln x: what weighing leaves (common practice, no source)
SOLUBILITY_NOISE = 0.15  # of ln x, as of the published ones (`src/fitting/excess/rows.py`)
STEP_K = 1.0
_NAMES = tuple(f"{name}{number}" for name in COEFFICIENTS for number in (0, 1))


@dataclass(frozen=True, eq=False)
class Measurement:
    """A crystal's solubility: ln gamma(learned terms, x, T) - (f - 1) shape = value + noise.

    `crystal` numbers the crystal among the substances, `shape` is that of its factor f at T
    (`pure.fusion.correction_shape`), the value is ln a(ideal) - ln x - ln gamma(base) and `noise`
    its standard deviation.
    """

    pures: tuple[PureConstants, ...]
    mole_fractions: Array
    temperature_K: float
    crystal: int
    shape: float
    value: float
    noise: float

    def predicted(self, terms: ExcessTerms, factors: Array, kelvin: float | None = None) -> Array:
        """The value that each set of coefficients says, (K,), also at another temperature."""
        at = terms.at(self.temperature_K if kelvin is None else kelvin)
        ln_gamma = at.ln_gamma(self.mole_fractions)[:, self.crystal]
        return np.asarray(ln_gamma - (factors[:, self.crystal] - 1.0) * self.shape)

    def spread(self, terms: ExcessTerms, factors: Array) -> Array:
        """By how much each draw differs from the mean (K - 1,), at 25 °C."""
        found = self.predicted(terms, factors, ROOM_K)
        return np.asarray(found[1:] - found[0])


@dataclass(frozen=True, eq=False)
class Shift:
    """What one measurement does to the terms of a crystal, known by its identity.

    The measured quantity moves by `step`, its draws' spread by `spread_step` (K - 1,). `own` is the
    part of it that the crystal's terms make, as each draw differs from the mean (K - 1,), at the
    temperature of the measurement, `own_spread` at 25 °C.
    """

    crystal: int
    step: float
    spread_step: Array
    own: Array
    own_spread: Array

    def on(self, values: Array) -> Array:
        """Terms (K, m) that follow the measured quantity."""
        off = values[1:] - values[0]
        mean = values[:1] + self.step * (self.own @ off) / float(self.own @ self.own)
        slope = (self.own_spread @ off) / float(self.own_spread @ self.own_spread)
        return np.vstack([mean, mean + off + self.spread_step[:, None] * slope])


def moved(spread: Array, off: float, noise: float) -> tuple[float, Array]:
    """By how much a quantity moves, and what is left of its draws' spread, where it was measured
    to be `off` more than by the mean; see the module."""
    variance = float(spread @ spread) / len(spread)
    seen = max(variance, (off / NORMAL_90) ** 2)
    left = min(variance, seen * noise**2 / (seen + noise**2))
    return seen / (seen + noise**2) * off, spread * math.sqrt(left / variance)


def terms_with(
    pures: Sequence[PureConstants], shifts: Iterable[Shift] = ()
) -> tuple[ExcessTerms, Array]:
    """Learned terms and crystals' factors of these substances, by all that was measured: what was
    published, the own solubilities that their materials hold, and then `shifts`."""
    terms = excess_terms([p.material for p in pures])
    factors = fusion_factors([p.material for p in pures], [p.fusion for p in pures])
    identities = np.array([descriptor(p.material).identity_hash for p in pures], dtype=np.uint64)
    own = [shift for p in pures if p.fusion for shift in own_shifts(p.material)]
    for shift in (*own, *shifts):
        crystal = identities == np.uint64(shift.crystal)
        if not crystal.any():
            continue
        i, j = np.nonzero(crystal[:, None] | crystal[None, :])
        old = np.stack([getattr(terms, name)[:, i, j] for name in _NAMES], axis=1)
        new = shift.on(old.reshape(len(old), -1)).reshape(old.shape)
        changed = {}
        for number, name in enumerate(_NAMES):
            square = getattr(terms, name).copy()
            square[:, i, j] = new[:, number]
            changed[name] = square
        terms = replace(terms, **changed)
        factors = factors.copy()
        moved_factors = shift.on(factors[:, crystal])
        factors[:, crystal] = np.maximum(moved_factors, LEAST_FUSION_FACTOR)
    return terms, factors


def shifts_of(measurements: Iterable[Measurement]) -> list[Shift]:
    """What the measurements do, one after the other."""
    made: list[Shift] = []
    for one in measurements:
        terms, factors = terms_with(one.pures, made)
        alone = _of_one(terms, one.crystal)
        own, own_spread = one.predicted(alone, factors), one.spread(alone, factors)
        if not (np.ptp(own) > 0.0 and own_spread.any()):
            continue  # of a crystal by itself nothing is uncertain in the liquid
        spread = one.spread(terms, factors)
        off = one.value - float(one.predicted(terms, factors)[0])
        step, left = moved(spread, off, one.noise)
        identity = descriptor(one.pures[one.crystal].material).identity_hash
        made.append(Shift(identity, step, left - spread, own[1:] - own[0], own_spread))
    return made


def _of_one(terms: ExcessTerms, number: int) -> ExcessTerms:
    """Without the terms of pairs of the others."""
    others = np.ones((len(terms.size), len(terms.size)), dtype=bool)
    others[number] = others[:, number] = False
    return replace(terms, **{n: np.where(others, 0.0, getattr(terms, n)) for n in _NAMES})


# A crystal's solubility


def crystal_measurement(
    pures: tuple[PureConstants, ...],
    mole_fractions: Array,
    crystal: int,
    temperature_K: float,
    half_width_K: float = 0.0,
    noise: float = LEAST_NOISE,
    ln_offset: float = 0.0,
) -> Measurement:
    """At this temperature a crystal of the blend just dissolves.

    `half_width_K` is half of a 90 % interval of the temperature, `noise` the standard deviation of
    ln x for other reasons. `ln_offset` is by how much ln(x gamma) over two layers is more than that
    of the one liquid. Raises ValueError where the crystal is none at this temperature, and
    MissingGroupPairError where the base has no activity of it.
    """
    melt = pures[crystal].fusion
    melting_K = melt.melting.value if melt else None
    if melt is None or melting_K is None or melting_K <= temperature_K:
        raise ValueError(f"{pures[crystal].name} is no crystal at {temperature_K:g} K")
    terms, factors = terms_with(pures)
    ln_x = math.log(mole_fractions[crystal]) + ln_offset

    def row(kelvin: float, ln_noise: float) -> Measurement:
        base = float(_base_ln_gamma(pures, mole_fractions, kelvin)[crystal])
        value = melt.ln_ideal_activity(kelvin) - ln_x - base
        shape = _shape(melt, melting_K, kelvin)
        return Measurement(pures, mole_fractions, kelvin, crystal, shape, value, ln_noise)

    def short_of_saturation(kelvin: float) -> float:
        there = row(kelvin, noise)
        return there.value - float(there.predicted(terms, factors)[0])

    if half_width_K:
        warm = min(temperature_K + STEP_K, melting_K)
        cold = temperature_K - STEP_K
        slope = (short_of_saturation(warm) - short_of_saturation(cold)) / (warm - cold)
        noise = math.hypot(noise, slope * half_width_K / NORMAL_90)
    return row(temperature_K, noise)


def _shape(melt: Fusion, melting_K: float, kelvin: float) -> float:
    heat = melt.heat.interval()[0]
    return float(correction_shape(np.array(heat), np.array(melting_K), np.array(kelvin)))


def _base_ln_gamma(pures: Sequence[PureConstants], x: Array, kelvin: float) -> Array:
    """By the mean of the base sets."""
    rules = [PARAMETER_SETS[name] for name in BASE_SETS]
    found = [
        activity_model(rule, [p.groups[rule.groups_of] for p in pures]).ln_gamma(x, kelvin)
        for rule in rules
    ]
    return np.asarray(np.mean(found, axis=0))


def solubility_measurement(solid: Material, point: MeasuredSolubility) -> Measurement:
    """A solubility in one carrier. Raises as `crystal_measurement`, and UnknownMaterialError."""
    bare = replace(solid, solubilities=())  # without what is being counted in
    two = (pure_constants(bare), pure_constants(default_catalogue().find(point.solvent)))
    x = np.array([point.mole_fraction, 1.0 - point.mole_fraction])
    noise = SOLUBILITY_NOISE if point.ln_sd is None else max(point.ln_sd, LEAST_NOISE)
    return crystal_measurement(two, x, 0, point.temperature_K, noise=noise)


@lru_cache(maxsize=4096)
def own_shifts(solid: Material) -> tuple[Shift, ...]:
    """What the person's own solubilities of a crystal do; what was published is in the fit."""
    own = [point for point in solid.solubilities if point.is_own]
    rows = []
    for point in sorted(own, key=lambda p: (p.solvent, p.temperature_K, p.mole_fraction)):
        with suppress(BlendwrightError, ValueError):  # told where the own materials are read
            rows.append(solubility_measurement(solid, point))
    return tuple(shifts_of(rows))
