"""Which crystals go, at what temperature the last one does, and what comes back in the cold.

A solid is in equilibrium with the liquid where

    ln(x_i gamma_i) + s_i = -(H_i / R) (1 / T - 1 / Tm_i)

with gamma from the mean of the parameter sets for solids and s_i what measured solubilities say
(`measured_solubility`). The last crystal goes at the highest T_i at which a solid, all else being
dissolved, just fits. Below it, all solids at once: each is either wholly dissolved or at
equilibrium with the liquid that is left, which may itself lie in layers.

Pure crystals only: no hydrates, no mixed crystals; of several crystal forms the stable one, whose
solubility is the lowest. What melts in the range but is slow to crystallise (`SLOW`) is not
counted as crystals.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from blendwright.conditions import GAS_CONSTANT_J_mol_K, ROOM_K
from blendwright.estimate import Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.ensemble import MeanModel
from blendwright.mixture.liquid_split import layers, stability
from blendwright.mixture.measured_solubility import Anchor, anchor
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import solve_rising
from blendwright.pure.fusion import Fusion

NORMAL_90 = 1.645
LOWEST_K = 233.15  # -40 °C; below it the answer is "at or below"
SLOW = frozenset(
    {
        "propylene glycol",
        "1,3-propanediol",
        "dipropylene glycol",
        "glycerol",
        "triacetin",
        "triethyl citrate",
        "tributyrin",
        "diethyl phthalate",
        "benzyl benzoate",
    }
)  # set to a glass or stay liquid for months unless seeded (common practice, no source)
ROUNDS = 200
SETTLED_LN = 1e-7
STEP_SHARE = 0.7  # of the full step in ln n: damps the solids' pull on one another
MOST_STEP_LN = 2.0
LAYER_ROUNDS = 6


@dataclass(frozen=True)
class Saturation:
    """One solid: the temperature where it just dissolves in the finished blend."""

    index: int
    name: str
    temperature: Estimate


@dataclass(frozen=True)
class Dissolution:
    """The last crystal's temperature and every solid's own."""

    last: Estimate
    solids: tuple[Saturation, ...]


@dataclass(frozen=True)
class Crystals:
    """What lies undissolved at one temperature: share of each substance, 0 to 1, with 90 % ends."""

    temperature_K: float
    names: tuple[str, ...]
    value: Array
    low: Array
    high: Array
    mass_kg: Array

    @property
    def dissolved_share(self) -> Estimate:
        """Of the mass of all that is a solid here; "not_applicable" without solids."""
        total = float(self.mass_kg[self.high > 0.0].sum())
        if total <= 0.0:
            return Estimate.absent("1", "not_applicable", "no crystals expected")
        left = [float((s * self.mass_kg).sum()) / total for s in (self.low, self.value, self.high)]
        return Estimate.ok(
            1.0 - left[1], 1.0 - left[2], 1.0 - left[0], "1", "solid-liquid equilibrium, all solids"
        )


def crystallises(fusion: Fusion | None, temperature_K: float) -> bool:
    """True for what is a solid by itself at this temperature."""
    return fusion is not None and (fusion.melting.value or 0.0) > temperature_K


def fusion_ln_sd(melt: Fusion, temperature_K: float = ROOM_K) -> float:
    """Standard deviation that the melting data's own errors put on ln(ideal activity)."""
    melting, melting_low, melting_high = melt.melting.interval()
    heat, heat_low, heat_high = melt.heat.interval()
    of_heat = abs(melt.ln_ideal_activity(temperature_K)) * (heat_high - heat_low) / 2.0 / heat
    slope = heat / GAS_CONSTANT_J_mol_K / melting**2
    of_melting = slope * (melting_high - melting_low) / 2.0
    return math.hypot(of_heat, of_melting) / NORMAL_90


class SolidLiquid:
    """The solids of one blend against its liquid. `may_split` lets the liquid lie in layers."""

    def __init__(self, composition: Composition, may_split: bool = False) -> None:
        self.composition = composition
        self.may_split = may_split
        self.model: MeanModel | None = composition.ensemble.mean("solid")

    @cached_property
    def carrier_shares(self) -> dict[str, float]:
        """Mass shares in the liquid: without what is a solid by itself at 25 °C."""
        liquid = {
            s.name: float(m)
            for s, m in zip(self.composition.substances, self.composition.mass_kg, strict=True)
            if not crystallises(s.fusion, ROOM_K)
        }
        total = sum(liquid.values())
        return {name: mass / total for name, mass in liquid.items()} if total else {}

    @cached_property
    def anchors(self) -> tuple[Anchor | None, ...]:
        """Of each substance that can crystallise at all above -40 °C."""
        return tuple(
            anchor(s.material, self.carrier_shares, fusion_ln_sd(s.fusion))
            if s.fusion is not None and crystallises(s.fusion, LOWEST_K)
            else None
            for s in self.composition.substances
        )

    def solids(self, temperature_K: float) -> list[int]:
        """Indices of what can crystallise at this temperature."""
        return [
            i
            for i, s in enumerate(self.composition.substances)
            if crystallises(s.fusion, temperature_K)
            and s.name not in self.composition.liquid_as_sold
            and s.name not in SLOW
        ]

    def ln_activity(self, x: Array, temperature_K: float) -> Array:
        """ln(x gamma) of each substance; where the liquid lies in layers, theirs (it is equal)."""
        assert self.model is not None
        if self.may_split:
            x = self._first_layer(x, temperature_K)
        return np.asarray(np.log(x) + self.model.ln_gamma(x, temperature_K))

    def _first_layer(self, x: Array, temperature_K: float) -> Array:
        assert self.model is not None
        found = stability(self.model, x, temperature_K)
        if found.splits and found.rival is not None:
            parted = layers(self.model, x, temperature_K, found.rival)
            if parted is not None:
                return parted.first
        return x

    def excess_ln(
        self, index: int, ln_activity: float, temperature_K: float, z: float = 0.0
    ) -> float:
        """ln of the supersaturation of one solid, its shift moved by z standard deviations."""
        melt, pull = self.composition.substances[index].fusion, self.anchors[index]
        assert melt is not None
        assert pull is not None
        shift = pull.ln_shift(temperature_K) + z * pull.ln_sd
        return ln_activity + shift - melt.ln_ideal_activity(temperature_K)

    def saturation_K(self, index: int, z: float = 0.0) -> float:
        """Where one solid just dissolves, all others dissolved; never above its melting point."""
        melt = self.composition.substances[index].fusion
        assert melt is not None
        melting = melt.melting.interval()[0]
        x = self.composition.mole_fractions

        def under(t: float) -> float:
            return -self.excess_ln(index, float(self.ln_activity(x, t)[index]), t, z)

        found = solve_rising(under, min(300.0, melting), LOWEST_K, melting)
        if found is None:
            return melting if under(melting) < 0.0 else LOWEST_K
        return found

    def undissolved(self, temperature_K: float, z: float = 0.0) -> Array:
        """Share of each substance that lies as crystals, all solids at once.

        Every solid's dissolved amount n is moved by its supersaturation, ln n -= 0.7 ln(a / a_sat),
        and held between nothing and all of it, until nothing moves.
        """
        total = self.composition.moles
        share = np.zeros(len(total))
        solids = self.solids(temperature_K)
        if not solids or self.model is None:
            return share
        dissolved = total.copy()
        for _ in range(ROUNDS):
            x = dissolved / dissolved.sum()
            ln_a = self.ln_activity(x, temperature_K)
            moved = 0.0
            for i in solids:
                step = STEP_SHARE * self.excess_ln(i, float(ln_a[i]), temperature_K, z)
                step = max(-MOST_STEP_LN, min(MOST_STEP_LN, step))
                new = min(total[i], dissolved[i] * math.exp(-step))
                moved = max(moved, abs(math.log(new / dissolved[i])))
                dissolved[i] = new
            if moved < SETTLED_LN:
                break
        share[solids] = 1.0 - dissolved[solids] / total[solids]
        return share

    def most_dissolved_kg(self, index: int, temperature_K: float, z: float = 0.0) -> float:
        """The largest amount of one solid that stays dissolved, the rest being as it is, kg.

        Infinite where any amount does (it melts below this temperature).
        """
        substance = self.composition.substances[index]
        if not crystallises(substance.fusion, temperature_K):
            return math.inf
        moles = self.composition.moles.copy()
        low, high = math.log(float(moles.sum()) * 1e-9), math.log(float(moles.sum()) * 1e3)
        for _ in range(50):
            middle = 0.5 * (low + high)
            moles[index] = math.exp(middle)
            x = moles / moles.sum()
            ln_a = float(self.ln_activity(x, temperature_K)[index])
            if self.excess_ln(index, ln_a, temperature_K, z) > 0.0:
                high = middle
            else:
                low = middle
        return math.exp(0.5 * (low + high)) * substance.material.molar_mass_kg_mol


def dissolution(
    composition: Composition, solid_below_K: float, may_split: bool = False
) -> Dissolution:
    """The temperatures at which the solids of this blend dissolve.

    A substance counts as a solid when it melts above `solid_below_K` (K). "not_applicable" where
    there is none, "unknown" where no parameter set is complete.
    """
    system = SolidLiquid(composition, may_split)
    solids = system.solids(solid_below_K)
    if not solids:
        return Dissolution(
            Estimate.absent("K", "not_applicable", "nothing in it is a solid by itself"), ()
        )
    if system.model is None:
        reason = "no parameter set covers every group pair in this blend"
        return Dissolution(Estimate.unknown("K", reason), ())
    saturations = [_saturation(system, i) for i in solids]
    last = max(saturations, key=lambda s: s.temperature.interval()[0])
    high = max(s.temperature.interval()[2] for s in saturations)
    estimate = replace(last.temperature, high=high).with_notes(f"the last to go: {last.name}")
    return Dissolution(estimate, tuple(saturations))


def _saturation(system: SolidLiquid, index: int) -> Saturation:
    substance = system.composition.substances[index]
    melt, pull = substance.fusion, system.anchors[index]
    assert melt is not None
    assert pull is not None
    assert system.model is not None
    value = system.saturation_K(index)
    low = min(value, system.saturation_K(index, -NORMAL_90))
    high = max(value, system.saturation_K(index, NORMAL_90))
    notes = list(melt.heat.notes)
    if pull.carriers:
        notes.append(f"{substance.name}: measured in {', '.join(pull.carriers)}")
    if substance.material.is_analogue:
        notes.append(f"{substance.name}: {substance.material.groups_assigned_by}")
    if value <= LOWEST_K:
        notes.append("at or below -40 °C")
    estimate = Estimate.ok(
        value,
        low,
        high,
        "K",
        f"solid-liquid equilibrium with {system.model.title}",
        (*system.model.sources, *melt.melting.sources, *melt.heat.sources, *pull.sources),
        notes,
    )
    return Saturation(index, substance.name, estimate)


def crystals(
    composition: Composition, temperature_K: float, may_split: bool = False
) -> Crystals | None:
    """What lies undissolved at one temperature; None where no parameter set is complete."""
    system = SolidLiquid(composition, may_split)
    if system.model is None:
        return None
    by_z = [system.undissolved(temperature_K, z) for z in (-NORMAL_90, 0.0, NORMAL_90)]
    return Crystals(
        temperature_K,
        composition.names,
        by_z[1],
        np.minimum(by_z[0], by_z[1]),
        np.maximum(by_z[2], by_z[1]),
        composition.mass_kg,
    )


def most_dissolved(composition: Composition, index: int, temperature_K: float) -> Estimate:
    """The largest mass of one solid that stays dissolved at a temperature, the rest as it is, kg.

    "not_applicable" where it melts below that temperature, "unknown" without a complete set.
    """
    system = SolidLiquid(composition)
    if system.model is None:
        return Estimate.unknown("kg", "no parameter set covers every group pair in this blend")
    value = system.most_dissolved_kg(index, temperature_K)
    if math.isinf(value):
        return Estimate.absent("kg", "not_applicable", "a liquid by itself at this temperature")
    low = system.most_dissolved_kg(index, temperature_K, NORMAL_90)
    high = system.most_dissolved_kg(index, temperature_K, -NORMAL_90)
    return Estimate.ok(
        value,
        min(low, value),
        max(high, value),
        "kg",
        f"solid-liquid equilibrium with {system.model.title}",
        system.model.sources,
    )
