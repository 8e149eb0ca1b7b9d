"""What is lost into the air from a beaker or an open bottle, and what stays behind?

    dn_i/dt = -G_i p_i / (R T) * F(y),   F = -ln(1 - y) / y,   y = sum p_i / P

p_i are the partial pressures over the blend as it is at that moment (one well mixed liquid, or its
layers), F the log-mean correction for the flow of the vapour itself (Stefan), G_i = k_i A the
conductance of the vessel's mouth (m3/s), with the resistances of the air above and of the still
gas below the rim in series:

    1 / k_i = 1 / k_air + depth / D_i
    k_air   = 0.0292 U^0.78 X^-0.11 Sc_i^-0.67  m/h (U m/h, X m)   Mackay and Matsugu 1973
    D_i     = 0.00143 T^1.75 / (P M_ia^0.5 (v_i^1/3 + v_air^1/3)^2) cm2/s (bar)
              Fuller, Schettler, Giddings 1966, with the volumes as revised in 1969 (Poling,
              Prausnitz, O'Connell 2001, table 11-1); M_ia = 2 / (1/M_i + 1/M_air)
    Sc_i    = nu_air / D_i, viscosity of air by Sutherland 1893

Mackay and Matsugu's is kept because at a draught of 0.15 m/s it comes nearest to the rates
published for quiet rooms: the laminar boundary layer, Sh = 0.664 Re^0.5 Sc^(1/3), gives two to
three times as much (tests/mixture/test_evaporation.py compares both).

Isothermal: a light pure liquid cools itself and loses less than this says. (In the thin films of
ASTM D3539 ethanol goes 1.4 times as fast as butyl acetate, ilpi.com, read; here 3.2 times.) Dry
air: water is overstated in a humid room, and water drawn in from the air is left out. Stirring is
taken as enough to keep the liquid even; it doesn't enter k. Good to about COEFFICIENT_FACTOR
either way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from blendwright.catalogue.material import Material, atoms
from blendwright.conditions import ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K, check_conditions
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import layered, saturation_Pa, vapour_model

# Atomic diffusion volumes, Fuller, Ensley, Giddings 1969 as tabulated by Poling et al. 2001
# (from memory). Phosphorus has none: sulphur's stands in (common practice, no source). The ring
# correction of -18.3 is left out, as a formula shows no rings: aromatics come out 7 % low.
DIFFUSION_VOLUMES = {
    "C": 15.9, "H": 2.31, "O": 6.11, "N": 4.54, "S": 22.9, "P": 22.9, "Cl": 21.0,
}  # fmt: skip
WATER_VOLUME = 13.1
AIR_VOLUME = 19.7
AIR_g_mol = 28.96
SUTHERLAND_Pa_s = 1.458e-6  # US Standard Atmosphere 1976
SUTHERLAND_K = 110.4
# Common practice; the abstract of Math. Biosci. 2022, 108889 has 0.165 m/s on a bench top and 0.72
# in a fume hood.
DRAUGHT_m_s = 0.15
LID_AIR_CHANGES_per_h = 2.0  # a watch glass on a spouted beaker: common practice, no source
COEFFICIENT_FACTOR = 2.0  # of the loss rate, 90 %: published rates in rooms lie so far apart
FULLEST_VAPOUR = 0.98  # of the pressure; F has no end at the boiling point
TOLERANCE = 1e-3  # of what there was of each substance, a step
SAFETY, LEAST_SHRINK, MOST_GROWTH = 0.9, 0.2, 4.0  # usual step control, no source
MOST_HALVINGS = 60  # of one step, until it is short enough
LEAST_LEFT = 1e-12  # of the start, kept so that logarithms exist
ALL_GONE = 1e-6  # of the total
LONGEST_s = 60.0 * 86400.0
METHOD = "Mackay and Matsugu with diffusion below the rim, depletion integrated"
SOURCES = ("mackay-matsugu", "fuller")


def diffusivity_m2_s(
    material: Material, temperature_K: float, pressure_Pa: float = ATMOSPHERE_Pa
) -> float:
    """Diffusion coefficient of the vapour in air, about 250-500 K; within about 10 %.

    Raises KeyError for an element outside DIFFUSION_VOLUMES.
    """
    counts = atoms(material.formula)
    volume = (
        WATER_VOLUME
        if material.is_water
        else sum(DIFFUSION_VOLUMES[element] * n for element, n in counts.items())
    )
    pair_g_mol = 2.0 / (1.0 / (material.molar_mass_kg_mol * 1e3) + 1.0 / AIR_g_mol)
    sizes = (volume ** (1.0 / 3.0) + AIR_VOLUME ** (1.0 / 3.0)) ** 2
    bar = pressure_Pa / 1e5
    return float(1e-4 * 0.00143 * temperature_K**1.75 / (bar * math.sqrt(pair_g_mol) * sizes))


def air_viscosity_m2_s(temperature_K: float, pressure_Pa: float = ATMOSPHERE_Pa) -> float:
    """Kinematic viscosity of dry air (Sutherland; ideal gas)."""
    dynamic = SUTHERLAND_Pa_s * temperature_K**1.5 / (temperature_K + SUTHERLAND_K)
    density = pressure_Pa * AIR_g_mol / 1e3 / (GAS_CONSTANT_J_mol_K * temperature_K)
    return float(dynamic / density)


def air_coefficient_m_s(schmidt: Array, diameter_m: float, air_speed_m_s: float) -> Array:
    """Mackay and Matsugu (1973): from a surface into the air that passes over it."""
    per_hour = 0.0292 * (air_speed_m_s * 3600.0) ** 0.78 * diameter_m**-0.11 * schmidt**-0.67
    return np.asarray(per_hour / 3600.0)


@dataclass(frozen=True, eq=False)
class Vapours:
    """How each substance's vapour moves: diffusivity in air, and its Schmidt number."""

    diffusivity_m2_s: Array
    schmidt: Array


class Vessel(Protocol):
    """Anything that vapour leaves."""

    def conductance_m3_s(self, vapours: Vapours, time_s: float) -> Array:
        """G of each substance at a time after the start."""
        ...


def _mouth_m3_s(vapours: Vapours, diameter_m: float, depth_m: float, air_speed_m_s: float) -> Array:
    """A round mouth with still gas of a depth below it."""
    air = air_coefficient_m_s(vapours.schmidt, diameter_m, air_speed_m_s)
    area_m2 = math.pi / 4.0 * diameter_m**2
    return np.asarray(area_m2 / (1.0 / air + depth_m / vapours.diffusivity_m2_s))


@dataclass(frozen=True)
class OpenBeaker:
    """An open vessel, stirred. `freeboard_m`: how far the liquid lies below the rim."""

    diameter_m: float = 0.06
    air_speed_m_s: float = DRAUGHT_m_s
    freeboard_m: float = 0.0

    def conductance_m3_s(self, vapours: Vapours, time_s: float) -> Array:
        return _mouth_m3_s(vapours, self.diameter_m, self.freeboard_m, self.air_speed_m_s)


@dataclass(frozen=True)
class CoveredBeaker:
    """A beaker under a loose lid: the headspace fills with vapour, and leaks by air changes.

    The headspace is one mixed volume V with n air changes a second. With k A from the liquid into
    it, G(t) = k A (1 - s (1 - exp(-(k A / V + n) t))), s = k A / (k A + n V): at first as from an
    open beaker, in the end the leak. What stands in the headspace counts as lost.
    """

    diameter_m: float = 0.06
    headspace_depth_m: float = 0.05
    air_changes_per_h: float = LID_AIR_CHANGES_per_h

    def conductance_m3_s(self, vapours: Vapours, time_s: float) -> Array:
        inside = _mouth_m3_s(vapours, self.diameter_m, 0.0, DRAUGHT_m_s)
        volume_m3 = math.pi / 4.0 * self.diameter_m**2 * self.headspace_depth_m
        per_s = self.air_changes_per_h / 3600.0
        kept = inside / (inside + per_s * volume_m3)
        filled = 1.0 - np.exp(-(inside / volume_m3 + per_s) * time_s)
        return np.asarray(inside * (1.0 - kept * filled))


@dataclass(frozen=True)
class OpenBottle:
    """A bottle without its cap: saturated inside, Stefan diffusion up the neck."""

    neck_diameter_m: float = 0.018
    neck_length_m: float = 0.03
    air_speed_m_s: float = DRAUGHT_m_s

    def conductance_m3_s(self, vapours: Vapours, time_s: float) -> Array:
        return _mouth_m3_s(vapours, self.neck_diameter_m, self.neck_length_m, self.air_speed_m_s)


@dataclass(frozen=True)
class Exposure:
    """A vessel, a temperature held and a pressure. `rate_factor` asks what a doubt does.

    Raises ValueError outside -40 to 150 °C or 10 to 120 kPa.
    """

    vessel: Vessel
    temperature_K: float
    pressure_Pa: float = ATMOSPHERE_Pa
    may_split: bool = False
    rate_factor: float = 1.0

    def __post_init__(self) -> None:
        check_conditions(self.temperature_K, self.pressure_Pa)


@dataclass(frozen=True, eq=False)
class Evaporated:
    """What became of a blend: `history_mol` is times x substances, from start to end.

    `boils` is True where the vapour pressure reached the air's: the loss is then a lower bound.
    """

    start: Composition
    remaining: Composition
    times_s: Array
    history_mol: Array
    boils: bool

    @property
    def lost_mol(self) -> Array:
        return np.asarray(self.history_mol[0] - self.history_mol[-1])

    @property
    def lost_kg(self) -> Array:
        return np.asarray(self.lost_mol * self.start.molar_mass_kg_mol)

    @property
    def share_lost(self) -> Array:
        """Of each substance, 0 to 1."""
        return np.asarray(self.lost_mol / self.history_mol[0])


def evaporate(
    composition: Composition, exposure: Exposure, time_s: float, points: int = 8
) -> Evaporated:
    """Let a blend stand for a time, s. By the leading activity model for vapour.

    The history has at least `points` steps, unless all is gone before. A substance without a
    vapour pressure stays; the caller must name it. Raises ValueError where no parameter set covers
    the blend, or for a negative time; NotConvergedError.
    """
    if time_s < 0.0:
        raise ValueError("the time must not be negative")
    blend = _Evaporating(composition, exposure)
    times, moles = [0.0], [composition.moles]
    for time, left in blend.steps(time_s, time_s / points):
        times.append(time)
        moles.append(left)
    return Evaporated(
        composition, blend.at(moles[-1]), np.array(times), np.array(moles), blend.boils
    )


def losses(composition: Composition, exposure: Exposure, time_s: float) -> tuple[Estimate, ...]:
    """Share of each substance lost, kg/kg, the interval by COEFFICIENT_FACTOR on the rate.

    The errors of the vapour pressures and of the activity model come on top of it. Raises
    NotConvergedError.
    """
    value, low, high = (
        evaporate(composition, replace(exposure, rate_factor=factor), time_s, 1).share_lost
        for factor in _factors(exposure)
    )
    return tuple(
        Estimate.ok(v, min(lo, v), max(hi, v), "kg/kg", METHOD, SOURCES)
        for v, lo, hi in zip(value.tolist(), low.tolist(), high.tolist(), strict=True)
    )


def time_to_lose(
    composition: Composition, exposure: Exposure, substance: str, share: float = 0.1
) -> Estimate:
    """Time until a share of one substance is gone, s; "out_of_range" after LONGEST_s.

    Raises ValueError for a substance that the blend doesn't hold or a share outside 0 to 1;
    NotConvergedError.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("the share must lie between 0 and 1")
    if substance not in composition.names:
        raise ValueError(f"{substance} is not in the blend")
    index = composition.names.index(substance)
    value, latest, earliest = (
        _crossing_s(composition, replace(exposure, rate_factor=factor), index, share)
        for factor in _factors(exposure)
    )
    if value is None or earliest is None:
        return Estimate.absent("s", "out_of_range", f"longer than {LONGEST_s / 86400.0:.0f} days")
    return Estimate.ok(
        value, min(earliest, value), LONGEST_s if latest is None else latest, "s", METHOD, SOURCES
    )


def _factors(exposure: Exposure) -> tuple[float, float, float]:
    rate = exposure.rate_factor
    return rate, rate / COEFFICIENT_FACTOR, rate * COEFFICIENT_FACTOR


def _crossing_s(
    composition: Composition, exposure: Exposure, index: int, share: float
) -> float | None:
    """When the logarithm of what is left crosses, straight between two steps."""
    level = math.log1p(-share)
    start = float(composition.moles[index])
    time, ln_left = 0.0, 0.0
    for next_time, left in _Evaporating(composition, exposure).steps(LONGEST_s, LONGEST_s):
        next_ln = math.log(float(left[index]) / start)
        if next_ln <= level:
            return time + (next_time - time) * (level - ln_left) / (next_ln - ln_left)
        time, ln_left = next_time, next_ln
    return None


class _Evaporating:
    """One blend in one exposure: its rates, and the steps in time."""

    def __init__(self, composition: Composition, exposure: Exposure) -> None:
        voices = composition.ensemble.voices("vapour")
        if not voices:
            raise ValueError("no parameter set covers every group pair in this blend")
        self.model = voices[0].model
        self.corrected = vapour_model(self.model, composition)
        self.layered = layered(self.model, composition)
        self.composition = composition
        self.exposure = exposure
        temperature_K, pressure_Pa = exposure.temperature_K, exposure.pressure_Pa
        diffusivity = np.array(
            [
                diffusivity_m2_s(s.material, temperature_K, pressure_Pa)
                for s in composition.substances
            ]
        )
        viscosity = air_viscosity_m2_s(temperature_K, pressure_Pa)
        self.vapours = Vapours(diffusivity, viscosity / diffusivity)
        self.saturation_Pa = saturation_Pa(composition, temperature_K)
        self.boils = False

    def at(self, moles: Array) -> Composition:
        """The same blend, with each row keeping its share of what is left."""
        left = moles / self.composition.moles
        return Composition(
            self.composition.substances,
            self.composition.by_row * left,
            self.composition.liquid_as_sold,
        )

    def _pressures_Pa(self, moles: Array) -> Array:
        temperature_K = self.exposure.temperature_K
        x = moles / moles.sum()
        if self.exposure.may_split:
            self.layered.x[0] = x
            own, own_ln_gamma = self.layered.liquid(
                np.array([temperature_K]), np.zeros(1, dtype=np.int64)
            )
            if not self.layered.converged[0]:
                raise NotConvergedError("layers")
            return np.asarray(own[0] * np.exp(own_ln_gamma[0]) * self.saturation_Pa)
        ln_gamma = self.corrected.ln_gamma(x, temperature_K)
        return np.asarray(x * np.exp(ln_gamma) * self.saturation_Pa)

    def _decay_per_s(self, moles: Array, time_s: float) -> Array:
        """-d ln n / dt of each substance."""
        pressures = self._pressures_Pa(moles)
        share = float(pressures.sum()) / self.exposure.pressure_Pa
        if share >= 1.0:
            self.boils = True
        share = min(share, FULLEST_VAPOUR)
        stefan = -math.log1p(-share) / share if share > 0.0 else 1.0
        conductance = self.exposure.vessel.conductance_m3_s(self.vapours, time_s)
        thermal = GAS_CONSTANT_J_mol_K * self.exposure.temperature_K
        scale = self.exposure.rate_factor * stefan / thermal
        return np.asarray(scale * conductance * pressures / moles)

    def steps(self, time_s: float, longest_step_s: float) -> Iterator[tuple[float, Array]]:
        """(time, moles left) after each step, up to a time or until all is gone.

        n exp(-r dt) with r at the middle of the step: second order, never negative. A step is
        taken where that and n exp(-r dt) with r at its start differ by less than TOLERANCE of
        what there was of each substance at first.
        """
        first = self.composition.moles
        moles, time, step = first, 0.0, longest_step_s
        while time < time_s * (1.0 - 1e-9) and moles.sum() > ALL_GONE * first.sum():
            decay = self._decay_per_s(moles, time)
            for _ in range(MOST_HALVINGS):
                step = min(step, longest_step_s, time_s - time)
                middle = np.maximum(moles * np.exp(-decay * step / 2.0), first * LEAST_LEFT)
                plain = moles * np.exp(-decay * step)
                better = moles * np.exp(-self._decay_per_s(middle, time + step / 2.0) * step)
                error = float((np.abs(better - plain) / first).max())
                if error <= TOLERANCE:
                    break
                step *= max(LEAST_SHRINK, SAFETY * math.sqrt(TOLERANCE / error))
            else:
                raise NotConvergedError("loss into the air")
            moles, time = np.maximum(better, first * LEAST_LEFT), time + step
            yield time, moles
            step *= min(MOST_GROWTH, SAFETY * math.sqrt(TOLERANCE / max(error, 1e-12)))
