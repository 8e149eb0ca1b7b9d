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
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from blendwright.catalogue.material import Material, atoms
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K, check_conditions
from blendwright.mixture.composition import Composition
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid import NO_GROUPS, search_for_layers
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.substances import Substances
from blendwright.mixture.vapour import Vapour, vapour_of
from blendwright.pure.roots import Bools, Ints

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
MOST_STEPS = 5000  # of one blend, those taken back too
FACTORS = np.array([1.0, 1.0 / COEFFICIENT_FACTOR, COEFFICIENT_FACTOR])  # value, low, high
LEAST_LEFT = 1e-12  # of the start, kept so that logarithms exist
ALL_GONE = 1e-6  # of the total
LONGEST_s = 60.0 * 86400.0
METHOD = "Mackay and Matsugu with diffusion below the rim, depletion integrated"
SOURCES = ("mackay-matsugu", "fuller")


def diffusivity_m2_s(
    material: Material, temperature_K: float, pressure_Pa: float = ATMOSPHERE_Pa
) -> float:
    """Estimate the diffusion coefficient of a vapour in air.

    Parameters
    ----------
    material : Material
    temperature_K : float
        About 250 to 500 K.
    pressure_Pa : float

    Returns
    -------
    float
        m2/s, within about 10 %.

    Raises
    ------
    KeyError
        For an element outside DIFFUSION_VOLUMES.

    References
    ----------
    .. [1] E. N. Fuller, P. D. Schettler, J. C. Giddings (1966), Ind. Eng. Chem. 58, 18,
       doi:10.1021/ie50677a007
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
    """Estimate how quickly a vapour leaves a surface into the air that passes over it.

    Parameters
    ----------
    schmidt : array
        Viscosity of air over the diffusion coefficient.
    diameter_m, air_speed_m_s : float

    Returns
    -------
    array
        m/s.

    References
    ----------
    .. [1] D. Mackay, R. S. Matsugu (1973), Can. J. Chem. Eng. 51, 434,
       doi:10.1002/cjce.5450510407
    """
    per_hour = 0.0292 * (air_speed_m_s * 3600.0) ** 0.78 * diameter_m**-0.11 * schmidt**-0.67
    return np.asarray(per_hour / 3600.0)


@dataclass(frozen=True, eq=False)
class Vapours:
    """How each substance's vapour moves: diffusivity in air, and its Schmidt number. Arrays of any
    shape that ends in substances."""

    diffusivity_m2_s: Array
    schmidt: Array


class Vessel(Protocol):
    """Anything that vapour leaves."""

    def conductance_m3_s(self, vapours: Vapours, time_s: Array) -> Array:
        """G of each substance at times after the start, (blends, 1)."""
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

    def conductance_m3_s(self, vapours: Vapours, time_s: Array) -> Array:
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

    def conductance_m3_s(self, vapours: Vapours, time_s: Array) -> Array:
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

    def conductance_m3_s(self, vapours: Vapours, time_s: Array) -> Array:
        return _mouth_m3_s(vapours, self.neck_diameter_m, self.neck_length_m, self.air_speed_m_s)


@dataclass(frozen=True)
class Exposure:
    """A vessel, a temperature held and a pressure. `rate_factor` asks what a doubt does.

    Raises ValueError outside -40 to 150 °C or 10 to 120 kPa.
    """

    vessel: Vessel
    temperature_K: float
    pressure_Pa: float = ATMOSPHERE_Pa
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
        """Share lost of each substance, 0 to 1."""
        return np.asarray(self.lost_mol / self.history_mol[0])


class Evaporating:
    """The blends of a part on their way into the air, each with a step length
    and a factor on its rate of its own.

    n exp(-r dt) with r at the middle of the step: second order, never negative. A step is taken
    where that and n exp(-r dt) with r at its start differ by less than TOLERANCE of what there was
    of each substance at first.
    """

    def __init__(self, one: Vapour, exposure: Exposure, rate_factors: Array) -> None:
        self.one, self.exposure = one, exposure
        self.rate_factors = rate_factors
        temperature_K, pressure_Pa = exposure.temperature_K, exposure.pressure_Pa
        substances, index = one.substances, one.part.index
        self.saturation_Pa = np.exp(substances.curves.ln_pressures(temperature_K))[index]
        self.vapours = vapours(substances, temperature_K, pressure_Pa)
        self.at = at = one.liquid.at(temperature_K)
        self.liquid = Layered(lambda _, blends: at.only(blends), one.x, search_for_layers())
        before = one.state_of_all(temperature_K)
        self.liquid.begin_with(before.layers)
        self.splits = before.has_split
        self.boils = np.zeros(len(one.part), dtype=bool)
        self.converged = np.ones(len(one.part), dtype=bool)

    def moles_left(
        self,
        time_s: float,
        longest_step_s: float,
        after: Callable[[Ints, Array, Array], Bools] | None = None,
    ) -> Array:
        """Moles after a time (blends, components), or when all is gone; of those not `converged`
        as far as they came. `after` sees the blends, times and moles after each step, and says
        which may stop."""
        first = self.one.part.moles
        padding = np.where(self.one.part.there, 0.0, 1.0)
        moles, better = first.copy(), first.copy()
        time, error = np.zeros(len(first)), np.zeros(len(first))
        step = np.full(len(first), longest_step_s)
        decay = np.zeros_like(first)
        fresh = np.ones(len(first), dtype=bool)
        stopped = np.zeros(len(first), dtype=bool)
        running = np.arange(len(first)) if time_s > 0.0 else np.zeros(0, dtype=np.int64)
        for _ in range(MOST_STEPS):
            if not running.size:
                break
            new = running[fresh[running]]
            if new.size:
                decay[new] = self._decay_per_s(moles[new], time[new], new)
                fresh[new] = False
            at = running
            step[at] = np.minimum(np.minimum(step[at], longest_step_s), time_s - time[at])
            own = step[at][:, None]
            least = first[at] * LEAST_LEFT
            middle = np.maximum(moles[at] * np.exp(-decay[at] * own / 2.0), least)
            plain = moles[at] * np.exp(-decay[at] * own)
            halfway = self._decay_per_s(middle, time[at] + step[at] / 2.0, at)
            better[at] = moles[at] * np.exp(-halfway * own)
            error[at] = (np.abs(better[at] - plain) / (first[at] + padding[at])).max(axis=1)
            good = error[at] <= TOLERANCE
            bad = at[~good]
            step[bad] *= np.maximum(LEAST_SHRINK, SAFETY * np.sqrt(TOLERANCE / error[bad]))
            done = at[good]
            moles[done] = np.maximum(better[done], first[done] * LEAST_LEFT)
            time[done] += step[done]
            if after is not None and done.size:
                stopped[done] = after(done, time[done], moles[done])
            step[done] *= np.minimum(
                MOST_GROWTH, SAFETY * np.sqrt(TOLERANCE / np.maximum(error[done], 1e-12))
            )
            fresh[done] = True
            going = (time < time_s * (1.0 - 1e-9)) & ~stopped & self.converged
            going &= moles.sum(axis=1) > ALL_GONE * first.sum(axis=1)
            running = running[going[running]]
        self.converged[running] = False
        return moles

    def _pressures_Pa(self, moles: Array, blends: Ints) -> Array:
        x = moles / moles.sum(axis=1, keepdims=True)
        found = np.empty_like(x)
        plain = np.flatnonzero(~self.splits[blends])
        if plain.size:
            model = self.at.only(blends[plain])
            ln_gamma = model.ln_gamma(x[plain][:, None, :])[:, 0, :]
            found[plain] = x[plain] * np.exp(ln_gamma)
        layered = np.flatnonzero(self.splits[blends])
        if layered.size:
            at = blends[layered]
            self.liquid.x[at] = x[layered]
            kelvin = np.full(at.size, self.exposure.temperature_K)
            own = self.liquid.composition(kelvin, at)
            ln_gamma = self.at.only(at).ln_gamma(own[:, None, :])[:, 0, :]
            found[layered] = own * np.exp(ln_gamma)
            self.converged[at] &= self.liquid.converged[at]
        return np.asarray(found * self.saturation_Pa[blends])

    def _decay_per_s(self, moles: Array, time_s: Array, blends: Ints) -> Array:
        """-d ln n / dt of each component."""
        pressures = self._pressures_Pa(moles, blends)
        share = pressures.sum(axis=1) / self.exposure.pressure_Pa
        self.boils[blends] |= share >= 1.0
        share = np.minimum(share, FULLEST_VAPOUR)
        safe = np.where(share > 0.0, share, 1e-9)
        stefan = np.where(share > 0.0, -np.log1p(-safe) / safe, 1.0)
        thermal = GAS_CONSTANT_J_mol_K * self.exposure.temperature_K
        scale = self.rate_factors[blends] * stefan / thermal
        index, there = self.one.part.index[blends], self.one.part.there[blends]
        own = Vapours(self.vapours.diffusivity_m2_s[index], self.vapours.schmidt[index])
        conductance = self.exposure.vessel.conductance_m3_s(own, time_s[:, None])
        per_mole = pressures / np.where(there, moles, 1.0)
        return np.asarray(scale[:, None] * conductance * per_mole * there)


def vapours(substances: Substances, temperature_K: float, pressure_Pa: float) -> Vapours:
    """Each substance's vapour; what has no groups isn't counted."""

    def made() -> Vapours:
        diffusivity = np.array(
            [
                diffusivity_m2_s(s.material, temperature_K, pressure_Pa) if s.groups else 1.0
                for s in substances.pures
            ]
        )
        return Vapours(diffusivity, air_viscosity_m2_s(temperature_K, pressure_Pa) / diffusivity)

    return substances.once(("vapours", temperature_K, pressure_Pa), made)


def shares_lost(one: Vapour, exposure: Exposure, time_s: float) -> Array:
    """Share of each component that leaves in a time (blends, components); NaN where the search for
    layers, or for a short enough step, did not converge."""
    blends = Evaporating(one, exposure, np.full(len(one.part), exposure.rate_factor))
    left = blends.moles_left(time_s, time_s)
    first, there = one.part.moles, one.part.there
    lost = np.where(there, (first - left) / np.where(there, first, 1.0), 0.0)
    return np.where(blends.converged[:, None], lost, np.nan)


# One blend


def evaporate(
    composition: Composition, exposure: Exposure, time_s: float, points: int = 8
) -> Evaporated:
    """Let a blend stand in the open for a time.

    Parameters
    ----------
    composition : Composition
        One blend.
    exposure : Exposure
        The vessel's mouth, the air, temperature and pressure.
    time_s : float
    points : int
        Steps of the history at the least, unless all is gone before.

    Returns
    -------
    Evaporated
        A substance without a vapour pressure stays; the caller must name it.

    Raises
    ------
    ValueError
        Where the model does not cover the blend, or for a negative time.
    NotConvergedError
        Where a search did not converge.
    """
    if time_s < 0.0:
        raise ValueError("the time must not be negative")
    blend = _evaporating(composition, exposure, np.array([exposure.rate_factor]))
    times, history = [0.0], [composition.moles]

    def after(_: Ints, time: Array, moles: Array) -> Bools:
        times.append(float(time[0]))
        history.append(moles[0].copy())
        return np.zeros(1, dtype=bool)

    blend.moles_left(time_s, time_s / points, after)
    _must_converge(blend)
    left = history[-1] / composition.moles
    remaining = replace(composition, by_row=composition.by_row * left)
    return Evaporated(
        composition, remaining, np.array(times), np.array(history), bool(blend.boils[0])
    )


def losses(composition: Composition, exposure: Exposure, time_s: float) -> tuple[Estimate, ...]:
    """Tell the share of each substance that is lost in a time.

    Parameters
    ----------
    composition : Composition
        One blend.
    exposure : Exposure
    time_s : float

    Returns
    -------
    tuple of Estimate
        kg/kg, the interval by COEFFICIENT_FACTOR on the rate; the errors of the vapour pressures
        and of the activity model come on top of it.

    Raises
    ------
    NotConvergedError
        Where a search did not converge.
    """
    blends = _evaporating(composition, exposure, exposure.rate_factor * FACTORS)
    left = blends.moles_left(time_s, time_s)
    _must_converge(blends)
    value, low, high = 1.0 - left / composition.moles
    return tuple(
        Estimate.ok(v, min(lo, v), max(hi, v), "kg/kg", METHOD, SOURCES)
        for v, lo, hi in zip(value.tolist(), low.tolist(), high.tolist(), strict=True)
    )


def time_to_lose(
    composition: Composition, exposure: Exposure, substance: str, share: float = 0.1
) -> Estimate:
    """Tell the time until a share of one substance is gone.

    Parameters
    ----------
    composition : Composition
        One blend.
    exposure : Exposure
    substance : str
    share : float
        0 to 1.

    Returns
    -------
    Estimate
        s; "out_of_range" after LONGEST_s.

    Raises
    ------
    ValueError
        For a substance that the blend doesn't hold or a share outside 0 to 1.
    NotConvergedError
        Where a search did not converge.
    """
    if not 0.0 < share < 1.0:
        raise ValueError("the share must lie between 0 and 1")
    if substance not in composition.names:
        raise ValueError(f"{substance} is not in the blend")
    value, latest, earliest = _crossings_s(
        composition, exposure, composition.names.index(substance), share
    )
    if value is None or earliest is None:
        return Estimate.absent("s", "out_of_range", f"longer than {LONGEST_s / 86400.0:.0f} days")
    return Estimate.ok(
        value, min(earliest, value), LONGEST_s if latest is None else latest, "s", METHOD, SOURCES
    )


def _crossings_s(
    composition: Composition, exposure: Exposure, index: int, share: float
) -> list[float | None]:
    """When the logarithm of what is left crosses, straight between two steps, by each of
    FACTORS."""
    level = np.log1p(-share)
    blends = _evaporating(composition, exposure, exposure.rate_factor * FACTORS)
    start = float(composition.moles[index])
    last_time, last_ln = np.zeros(len(FACTORS)), np.zeros(len(FACTORS))
    found: list[float | None] = [None] * len(FACTORS)

    def after(which: Ints, time: Array, moles: Array) -> Bools:
        ln_left = np.log(moles[:, index] / start)
        crossed = np.asarray(ln_left <= level)
        before, ln_before = last_time[which], last_ln[which]
        with np.errstate(divide="ignore", invalid="ignore"):
            at = before + (time - before) * (level - ln_before) / (ln_left - ln_before)
        for number in np.flatnonzero(crossed):
            found[int(which[number])] = float(at[number])
        last_time[which], last_ln[which] = time, ln_left
        return crossed

    blends.moles_left(LONGEST_s, LONGEST_s, after)
    _must_converge(blends)
    return found


def _evaporating(composition: Composition, exposure: Exposure, rate_factors: Array) -> Evaporating:
    """The blend once for each factor. Raises ValueError where the model does not cover it."""
    if not composition.is_covered:
        raise ValueError(NO_GROUPS)
    whole = vapour_of(composition)
    whole.state_of_all(exposure.temperature_K)
    copies = whole.only(np.zeros(len(rate_factors), dtype=np.int64))
    return Evaporating(copies, exposure, rate_factors)


def _must_converge(blends: Evaporating) -> None:
    if not blends.converged.all():
        raise NotConvergedError("loss into the air")
