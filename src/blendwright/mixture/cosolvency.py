"""How much oil does watery alcohol or glycol hold before it clouds?

Log-linear cosolvency (Yalkowsky and Roseman 1981): with f_k the volume fraction of each cosolvent
in the solvent (what is left after the oils),

    log10 S_i = log10 S_i,water + sum_k f_k (a_k - b_k log10 S_i,water)        S in mol/L

`cosolvents.csv` holds a and b. For ethanol they are learned from acceptance limits of clearness in
dilute alcohol (`accuracy/split.py`); for the others they follow from the published
log10(S_k / S_water) = N + M log10 Kow (Li and Yalkowsky 1998) with log10 Kow = 0.5 - log10 S_water
for liquids (Jain and Yalkowsky 2001). Between temperatures S goes as the inverse of the activity
coefficient at infinite dilution by UNIFAC 2.0.

Oils part as one ideal layer where sum_i c_i / S_i > 1; that layer's moles N per volume solve
sum_i c_i / (S_i + N) = 1. Valid where the solvent with water is at least half of the volume.

With all S_i a factor k lower, the share of each oil in the layer is 1 / (1 + u S_i), u = k / N: so
the k at which a given mass leaves follows from one search for u, and N = sum_i c_i / (1 + u S_i).
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from blendwright.conditions import ROOM_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import roots_between
from blendwright.mixture.water_solubility import LN_10, water_solubility
from blendwright.pure.density import liquid_density

LEAST_SOLVENT_SHARE = 0.4  # of the volume; below it the rule is not asked
TRACE = 1e-9
OIL_TOLERANCE = 1e-12  # of all oil
DEFAULT_DENSITY_kg_m3 = 950.0
LN_RANGE = 100.0  # of u, either way: far beyond every solubility
BISECTIONS = 60


@dataclass(frozen=True)
class Cosolvent:
    """log10 S in the pure cosolvent = intercept + (1 - slope) log10 S in water."""

    intercept: float
    slope: float
    source: str


@cache
def cosolvents() -> dict[str, Cosolvent]:
    text = (files("blendwright.mixture") / "cosolvents.csv").read_text(encoding="utf-8")
    return {
        row["solvent"]: Cosolvent(float(row["intercept"]), float(row["slope"]), row["source"])
        for row in csv.DictReader(text.splitlines())
    }


@dataclass(frozen=True, eq=False)
class Oils:
    """What the law needs of a watery blend: the oils' concentrations and water solubilities.

    `log10_water` is that of S in mol/L (infinite for what mixes with water), `fractions` the
    cosolvents' volume fractions of the solvent, `warming_ln` ln S(T) - ln S(25 °C).
    """

    there_mol_m3: Array
    log10_water: Array
    log10_sd: Array
    fractions: dict[str, float]
    warming_ln: Array
    sources: tuple[str, ...]

    def held_mol_m3(self, table: dict[str, Cosolvent]) -> Array:
        """S of each oil in the blend's solvent."""
        log10 = self.log10_water.copy()
        known = np.isfinite(log10)
        for name, f in self.fractions.items():
            law = table[name]
            log10[known] += f * (law.intercept - law.slope * self.log10_water[known])
        return np.asarray(1e3 * 10.0**log10 * np.exp(self.warming_ln))

    def ln_load(self, table: dict[str, Cosolvent]) -> float:
        """ln(sum c / S); minus infinity without oils."""
        total = float((self.there_mol_m3 / self.held_mol_m3(table)).sum())
        return math.log(total) if total > 0.0 else -math.inf


@dataclass(frozen=True, eq=False)
class Loading:
    """The oils of a watery blend against what it holds at one temperature.

    Per substance: `held_mol_m3` is S (infinite for solvents and what mixes), `there_mol_m3` the
    concentration. `ln_load` is ln(sum c / S): above 0 it parts. `ln_sd` is its standard deviation
    from the water solubilities alone.
    """

    held_mol_m3: Array
    there_mol_m3: Array
    ln_load: float
    ln_sd: float
    sources: tuple[str, ...]

    def parted_mol_m3(self) -> Array:
        """What leaves as oil, per volume of the whole; zeros where it is clear, NaN where the
        search did not converge."""
        c, s = self.there_mol_m3, self.held_mol_m3
        if self.ln_load <= 0.0:
            return np.zeros_like(c)
        most = float(c[np.isfinite(s)].sum())
        found = roots_between(
            lambda n, _: (c / (s + n[:, None])).sum(axis=1) - 1.0,
            np.zeros(1),
            np.array([most]),
            OIL_TOLERANCE * most,
        )
        n = float(found.root[0])
        return np.asarray(c * np.where(np.isfinite(s), n / (s + n), 0.0))

    def ln_margin(self, mass_kg: Array, least_kg: float) -> float:
        """By how much ln S of every oil must fall until more than `least_kg` of them leaves.

        `mass_kg` is what there is of each substance. Negative where more leaves already; infinite
        where there is no more oil than that.
        """
        counted = np.isfinite(self.held_mol_m3)
        c, s = self.there_mol_m3[counted], self.held_mol_m3[counted]
        mass = mass_kg[counted]
        if float(mass.sum()) <= least_kg:
            return math.inf
        low, high = -LN_RANGE, LN_RANGE
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            if float((mass / (1.0 + math.exp(middle) * s)).sum()) > least_kg:
                low = middle
            else:
                high = middle
        u = math.exp(0.5 * (low + high))
        return -math.log(u * float((c / (1.0 + u * s)).sum()))


def loading(
    composition: Composition, temperature_K: float, water_ln_shift: float = 0.0
) -> Loading | None:
    """None where there is no water, too little solvent, or an oil without a water solubility.

    `water_ln_shift` is added to ln S in water of every oil (salting-out).
    """
    oils = oils_in(composition, temperature_K)
    if oils is None:
        return None
    table = cosolvents()
    water_share = 1.0 - sum(oils.fractions.values())
    held = oils.held_mol_m3(table) * math.exp(water_share * water_ln_shift)
    loads = oils.there_mol_m3 / held
    total = float(loads.sum())
    if total <= 0.0:
        return Loading(held, oils.there_mol_m3, -math.inf, 0.0, oils.sources)
    # the weight with which the water solubilities' own errors come through
    weight = 1.0 - sum(f * table[name].slope for name, f in oils.fractions.items())
    spread = LN_10 * weight * math.sqrt(float(((loads / total * oils.log10_sd) ** 2).sum()))
    return Loading(held, oils.there_mol_m3, math.log(total), spread, oils.sources)


def oils_in(composition: Composition, temperature_K: float) -> Oils | None:
    """The blend as the law sees it; None where it does not apply."""
    names = composition.names
    if "water" not in names:
        return None
    volumes = composition.mass_kg / np.array(
        [
            liquid_density(s.material, ROOM_K).value or DEFAULT_DENSITY_kg_m3
            for s in composition.substances
        ]
    )
    table = cosolvents()
    is_solvent = np.array([name == "water" or name in table for name in names])
    solvent_volume = float(volumes[is_solvent].sum())
    if solvent_volume < LEAST_SOLVENT_SHARE * float(volumes.sum()):
        return None
    fractions = {
        name: float(v) / solvent_volume
        for name, v in zip(names, volumes, strict=True)
        if name in table
    }
    log10_water = np.full(len(names), math.inf)
    log10_sd = np.zeros(len(names))
    sources: list[str] = [table[name].source for name in fractions]
    for i, substance in enumerate(composition.substances):
        if is_solvent[i]:
            continue
        found = water_solubility(substance.material)
        if found is None:
            return None
        sources += found.sources
        if math.isfinite(found.mol_m3):
            log10_water[i] = math.log10(found.mol_m3 / 1e3)
            log10_sd[i] = found.log10_sd
    return Oils(
        composition.moles / float(volumes.sum()),
        log10_water,
        log10_sd,
        fractions,
        _warming_ln(composition, is_solvent, temperature_K),
        tuple(dict.fromkeys(sources)),
    )


def _warming_ln(composition: Composition, is_solvent: Array, temperature_K: float) -> Array:
    """ln S(T) - ln S(25 °C) of each substance at infinite dilution in the solvent."""
    if temperature_K == ROOM_K:
        return np.zeros(len(composition.substances))
    model = composition.ensemble.model("unifac2")
    if model is None:
        return np.zeros(len(composition.substances))
    x = np.where(is_solvent, composition.moles, 0.0)
    x = x / x.sum()
    x = np.maximum(x, TRACE)
    x = x / x.sum()
    change = model.ln_gamma(x, temperature_K) - model.ln_gamma(x, ROOM_K)
    return np.asarray(np.where(is_solvent, 0.0, -change))
