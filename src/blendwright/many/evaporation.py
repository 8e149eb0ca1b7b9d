"""What stands to be lost from an open beaker, many blends at once: `mixture.evaporation`.

The same steps as `evaporate`, each blend with a step length of its own.
"""

from __future__ import annotations

import numpy as np

from blendwright.conditions import GAS_CONSTANT_J_mol_K
from blendwright.many.substances import Ints, Substances
from blendwright.many.vapour import VapourPart
from blendwright.mixture.evaporation import (
    ALL_GONE,
    FULLEST_VAPOUR,
    LEAST_LEFT,
    LEAST_SHRINK,
    MOST_GROWTH,
    SAFETY,
    TOLERANCE,
    OpenBeaker,
    Vapours,
    air_viscosity_m2_s,
    diffusivity_m2_s,
)
from blendwright.mixture.parameter_sets import Array

MOST_STEPS = 5000  # of one blend, those taken back too


def conductances_m3_s(substances: Substances, temperature_K: float, pressure_Pa: float) -> Array:
    """Of the open beaker, per substance; zero for what has no groups (it is not counted)."""

    def made() -> Array:
        diffusivity = np.array(
            [
                diffusivity_m2_s(s.material, temperature_K, pressure_Pa) if s.groups else 1.0
                for s in substances.pures
            ]
        )
        viscosity = air_viscosity_m2_s(temperature_K, pressure_Pa)
        return OpenBeaker().conductance_m3_s(Vapours(diffusivity, viscosity / diffusivity), 0.0)

    return substances.once(("conductance", temperature_K, pressure_Pa), made)


def shares_lost(one: VapourPart, conditions: tuple[float, float], time_s: float) -> Array:
    """Share of each component that leaves an open beaker (blends, components); NaN where the
    search for layers, or for a short enough step, did not converge."""
    temperature_K, pressure_Pa = conditions
    rates = _Rates(one, temperature_K, pressure_Pa)
    first = one.part.moles
    there = one.part.there
    padding = np.where(there, 0.0, 1.0)  # keeps the division by the start's moles defined
    moles = first.copy()
    time = np.zeros(len(first))
    step = np.full(len(first), time_s)
    error = np.zeros(len(first))
    middle, better = first.copy(), first.copy()
    running = np.arange(len(first))
    decay = np.zeros_like(first)
    fresh = np.ones(len(first), dtype=bool)
    for _ in range(MOST_STEPS):
        if not running.size:
            break
        new = running[fresh[running]]
        if new.size:
            decay[new] = rates.decay_per_s(moles[new], new)
            fresh[new] = False
        at = running
        step[at] = np.minimum(np.minimum(step[at], time_s), time_s - time[at])
        own = step[at][:, None]
        middle[at] = np.maximum(moles[at] * np.exp(-decay[at] * own / 2.0), first[at] * LEAST_LEFT)
        plain = moles[at] * np.exp(-decay[at] * own)
        better[at] = moles[at] * np.exp(-rates.decay_per_s(middle[at], at) * own)
        error[at] = (np.abs(better[at] - plain) / (first[at] + padding[at])).max(axis=1)
        good = error[at] <= TOLERANCE
        bad = at[~good]
        step[bad] *= np.maximum(LEAST_SHRINK, SAFETY * np.sqrt(TOLERANCE / error[bad]))
        done = at[good]
        moles[done] = np.maximum(better[done], first[done] * LEAST_LEFT)
        time[done] += step[done]
        step[done] *= np.minimum(
            MOST_GROWTH, SAFETY * np.sqrt(TOLERANCE / np.maximum(error[done], 1e-12))
        )
        fresh[done] = True
        going = (time < time_s * (1.0 - 1e-9)) & (moles.sum(axis=1) > ALL_GONE * first.sum(axis=1))
        running = running[going[running] & rates.sure[running]]
    rates.sure[running] = False
    lost = np.where(there, (first - moles) / (first + padding), 0.0)
    return np.where(rates.sure[:, None], lost, np.nan)


class _Rates:
    """Decay rates of a part's blends at one temperature and pressure."""

    def __init__(self, one: VapourPart, temperature_K: float, pressure_Pa: float) -> None:
        self.one = one
        self.pressure_Pa = pressure_Pa
        self.temperature_K = temperature_K
        substances, index = one.substances, one.part.index
        self.saturation_Pa = np.exp(substances.curves.ln_pressures(temperature_K))[index]
        self.conductance = conductances_m3_s(substances, temperature_K, pressure_Pa)[index]
        self.at = one.voice.at(temperature_K)
        self.liquid = one.layered()
        self.splits = np.zeros(len(one.part), dtype=bool)
        self.splits[one.split] = True
        self.sure = np.ones(len(one.part), dtype=bool)  # of every liquid so far

    def _pressures_Pa(self, moles: Array, blends: Ints) -> Array:
        x = moles / moles.sum(axis=1, keepdims=True)
        found = np.empty_like(x)
        plain = np.flatnonzero(~self.splits[blends])
        if plain.size:
            model = self.one.over_glycols(self.at, blends[plain])
            ln_gamma = model.ln_gamma(x[plain][:, None, :])[:, 0, :]
            found[plain] = x[plain] * np.exp(ln_gamma)
        layered = np.flatnonzero(self.splits[blends])
        if layered.size:
            at = blends[layered]
            self.liquid.x[at] = x[layered]
            kelvin = np.full(at.size, self.temperature_K)
            own, ln_gamma = self.liquid.liquid(kelvin, at)
            found[layered] = own * np.exp(ln_gamma)
            self.sure[at] &= self.liquid.converged[at]
        return np.asarray(found * self.saturation_Pa[blends])

    def decay_per_s(self, moles: Array, blends: Ints) -> Array:
        """-d ln n / dt of each component."""
        pressures = self._pressures_Pa(moles, blends)
        share = np.minimum(pressures.sum(axis=1) / self.pressure_Pa, FULLEST_VAPOUR)
        safe = np.where(share > 0.0, share, 1.0e-9)
        stefan = np.where(share > 0.0, -np.log1p(-safe) / safe, 1.0)
        scale = stefan / (GAS_CONSTANT_J_mol_K * self.temperature_K)
        there = self.one.part.there[blends]
        per_mole = pressures / np.where(there, moles, 1.0)
        return np.asarray(scale[:, None] * self.conductance[blends] * per_mole * there)
