"""How much oil does watery alcohol or glycol hold before it clouds?

Log-linear cosolvency (Yalkowsky and Roseman 1981): with f_k the volume fraction of each cosolvent
in the solvent (what is left after the oils),

    log10 S_i = log10 S_i,water + sum_k f_k (a_k - b_k log10 S_i,water)        S in mol/L

`cosolvents.csv` holds a and b. For ethanol they are learned from acceptance limits of clearness in
dilute alcohol (`accuracy/split.py`); for the others they follow from the published
log10(S_k / S_water) = N + M log10 Kow (Li and Yalkowsky 1998) with log10 Kow = 0.5 - log10 S_water
for liquids (Jain and Yalkowsky 2001). Between temperatures S goes as the inverse of the activity
coefficient at infinite dilution by the liquid model.

Oils part as one ideal layer where sum_i c_i / S_i > 1; that layer's moles N per volume solve
sum_i c_i / (S_i + N) = 1. Valid where the solvent with water is at least half of the volume.

With all S_i a factor k lower, the share of each oil in the layer is 1 / (1 + u S_i), u = k / N: so
the k at which a given mass leaves follows from one search for u, and N = sum_i c_i / (1 + u S_i).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from blendwright.catalogue.tables import table_rows
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.composition import Composition
from blendwright.mixture.liquid import Liquid, is_covered
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Substances
from blendwright.mixture.water_solubility import LN_10, water_solubility
from blendwright.pure.roots import Bools, Ints, roots_between

LEAST_SOLVENT_SHARE = 0.4  # of the volume; below it the rule is not asked
TRACE = 1e-9
OIL_TOLERANCE = 1e-12  # of all oil
DEFAULT_DENSITY_kg_m3 = 950.0
LN_RANGE = 100.0  # of u, either way: far beyond every solubility
LN_TOLERANCE = 1e-13


@dataclass(frozen=True)
class Cosolvent:
    """log10 S in the pure cosolvent = intercept + (1 - slope) log10 S in water."""

    intercept: float
    slope: float
    source: str


@cache
def cosolvents() -> dict[str, Cosolvent]:
    return {
        row["solvent"]: Cosolvent(float(row["intercept"]), float(row["slope"]), row["source"])
        for row in table_rows("blendwright.mixture", "cosolvents.csv")
    }


@dataclass(frozen=True, eq=False)
class Oils:
    """What the law needs of a part's watery blends: the oils' concentrations and water
    solubilities, per blend and component.

    `applies` tells where the law holds; `log10_water` is that of S in mol/L (infinite for what
    mixes with water), `fractions` the cosolvents' volume fractions of the solvent, `warming_ln`
    ln S(T) - ln S(25 °C), `solvent_share` that of solvents in each blend's volume.
    """

    substances: Substances
    part: Part
    applies: Bools
    there_mol_m3: Array
    log10_water: Array
    log10_sd: Array
    fractions: Array
    warming_ln: Array
    solvent_share: Array

    def _help(self, table: Mapping[str, Cosolvent]) -> tuple[Array, Array]:
        """sum f a and 1 - sum f b of each blend (blends, 1)."""
        names, index = self.substances.names, self.part.index
        intercept = np.array([table[n].intercept if n in table else 0.0 for n in names])
        slope = np.array([table[n].slope if n in table else 0.0 for n in names])
        helped = (self.fractions * intercept[index]).sum(axis=1, keepdims=True)
        return helped, 1.0 - (self.fractions * slope[index]).sum(axis=1, keepdims=True)

    def held_mol_m3(self, table: Mapping[str, Cosolvent] | None = None) -> Array:
        """S of each oil in its blend's solvent; infinite for solvents and what mixes."""
        helped, weight = self._help(table or cosolvents())
        counted = np.isfinite(self.log10_water)
        log10 = helped + weight * np.where(counted, self.log10_water, 0.0)
        held = 1e3 * 10.0 ** np.where(counted, log10, 0.0) * np.exp(self.warming_ln)
        return np.where(counted, held, np.inf)

    def loads(self, table: Mapping[str, Cosolvent] | None = None) -> Array:
        """c / S of each oil."""
        return np.asarray(self.there_mol_m3 / self.held_mol_m3(table))

    def ln_load(self, table: Mapping[str, Cosolvent] | None = None) -> Array:
        """ln(sum c / S) of each blend; minus infinity without oils."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self.loads(table).sum(axis=1)))

    @cached_property
    def ln_sd(self) -> Array:
        """The standard deviation of ln_load from the water solubilities alone."""
        loads = self.loads()
        total = loads.sum(axis=1, keepdims=True)
        shares = loads / np.where(total > 0.0, total, 1.0)
        # the weight with which the water solubilities' own errors come through
        weight = self._help(cosolvents())[1][:, 0]
        return np.asarray(LN_10 * weight * np.sqrt(((shares * self.log10_sd) ** 2).sum(axis=1)))


def oils(substances: Substances, part: Part, temperatures_K: float | Array) -> Oils:
    """The blends of a part as the law sees them, at one temperature or at their own."""
    table, names = cosolvents(), substances.names
    is_cosolvent = np.array([name in table for name in names], dtype=bool)
    is_solvent = is_cosolvent | np.array([name == "water" for name in names], dtype=bool)
    index, there = part.index, part.there
    density, _ = substances.densities(ROOM_K)
    volumes = part.mass_kg / np.where(np.isnan(density), DEFAULT_DENSITY_kg_m3, density)[index]
    solvent = is_solvent[index] & there
    solvent_volume = (volumes * solvent).sum(axis=1)
    volume = volumes.sum(axis=1)
    water = (index == substances.named("water")) & there
    applies = water.any(axis=1) & ~(solvent_volume < LEAST_SOLVENT_SHARE * volume)
    oil = there & ~solvent
    log10_water, log10_sd, known = _in_water(substances, np.unique(index[oil]))
    applies &= (known[index] | ~oil).all(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        fractions = volumes * (is_cosolvent[index] & there) / solvent_volume[:, None]
    return Oils(
        substances,
        part,
        applies,
        part.moles / volume[:, None],
        np.where(oil, log10_water[index], np.inf),
        np.where(oil, log10_sd[index], 0.0),
        np.where(solvent_volume[:, None] > 0.0, fractions, 0.0),
        _warming_ln(substances, part, solvent, temperatures_K),
        solvent_volume / volume,
    )


def _in_water(substances: Substances, needed: Ints) -> tuple[Array, Array, Bools]:
    """log10 of the water solubility (mol/L, infinite for what mixes), its sd, and whether known."""
    table: dict[int, tuple[float, float, bool]] = substances.once(("in water",), dict)
    for i in needed.tolist():
        if i not in table:
            found = water_solubility(substances.pures[i].material)
            if found is None:
                table[i] = (np.inf, 0.0, False)
            elif np.isfinite(found.mol_m3):
                table[i] = (math.log10(found.mol_m3 / 1e3), found.log10_sd, True)
            else:
                table[i] = (np.inf, 0.0, True)
    rows = np.array([table.get(i, (np.inf, 0.0, True)) for i in range(len(substances))], float)
    rows = rows.reshape(-1, 3)
    return rows[:, 0], rows[:, 1], rows[:, 2] > 0.0


def _warming_ln(
    substances: Substances, part: Part, solvent: Bools, temperatures_K: float | Array
) -> Array:
    """ln S(T) - ln S(25 °C) of each component at infinite dilution in the solvent."""
    change = np.zeros(part.index.shape)
    if np.ndim(temperatures_K) == 0 and temperatures_K == ROOM_K:
        return change
    where = np.flatnonzero(is_covered(substances, part) & solvent.any(axis=1))
    if not where.size:
        return change
    x = np.where(solvent, part.moles, 0.0)[where]
    x = np.maximum(x / x.sum(axis=1, keepdims=True), TRACE * part.there[where])
    x = (x / x.sum(axis=1, keepdims=True))[:, None, :]
    member = Liquid(substances, part.only(where).index)
    if isinstance(temperatures_K, float):
        here = member.at(temperatures_K)
    else:
        here = member.at(np.asarray(temperatures_K)[where])
    moved = (here.ln_gamma(x) - member.at(ROOM_K).ln_gamma(x))[:, 0, :]
    change[where] = np.where(solvent[where] | ~part.there[where], 0.0, -moved)
    return change


# One blend


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
        where there is no more oil than that; NaN where the search did not converge.
        """
        counted = np.isfinite(self.held_mol_m3)
        c, s = self.there_mol_m3[counted], self.held_mol_m3[counted]
        mass = mass_kg[counted]
        if float(mass.sum()) <= least_kg:
            return math.inf

        def beyond(ln_u: Array, _: Ints) -> Array:
            leaves = (mass / (1.0 + np.exp(ln_u)[:, None] * s)).sum(axis=1)
            with np.errstate(divide="ignore"):
                return np.asarray(np.log(leaves / least_kg))

        ends = np.array([LN_RANGE])
        found = roots_between(beyond, -ends, ends, LN_TOLERANCE)
        u = math.exp(float(found.root[0]))
        return -math.log(u * float((c / (1.0 + u * s)).sum()))


def loading(composition: Composition, temperature_K: float) -> Loading | None:
    """None where there is no water, too little solvent, or an oil without a water solubility."""
    found = oils_in(composition, temperature_K)
    if found is None:
        return None
    return Loading(
        found.held_mol_m3()[0],
        found.there_mol_m3[0],
        float(found.ln_load()[0]),
        float(found.ln_sd[0]),
        cosolvency_sources(composition),
    )


def oils_in(composition: Composition, temperature_K: float) -> Oils | None:
    """The blend as the law sees it; None where it does not apply."""
    if "water" not in composition.names:
        return None
    found = oils(composition.table, composition.part, temperature_K)
    return found if found.applies[0] else None


def cosolvency_sources(composition: Composition) -> tuple[str, ...]:
    if "water" not in composition.names:
        return ()
    table = cosolvents()
    used = [table[name].source for name in composition.names if name in table]
    for substance in composition.substances:
        if substance.name != "water" and substance.name not in table:
            known = water_solubility(substance.material)
            used += known.sources if known is not None else ()
    return tuple(dict.fromkeys(used))
