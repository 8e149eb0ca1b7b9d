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
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from blendwright.conditions import ROOM_K, GAS_CONSTANT_J_mol_K
from blendwright.errors import NotConvergedError
from blendwright.estimate import NORMAL_90, Estimate
from blendwright.mixture.composition import Composition
from blendwright.mixture.ensemble import MeanModel
from blendwright.mixture.layered import Layered
from blendwright.mixture.liquid_split import OneBlend, anderson
from blendwright.mixture.measured_solubility import Anchor, anchor
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.roots import Ints, roots_between
from blendwright.pure.fusion import Fusion, ideal_ln_activity

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
Z_ENDS = np.array([-NORMAL_90, 0.0, NORMAL_90])  # of the anchors: most soluble, best, least
NODES = 15  # of ln(x gamma) in 1/T: within 1e-10 over -40 to 170 °C
TOLERANCE_K = 1e-10
LAYER_NODES = 15
LOGIT_TOLERANCE = 4e-8  # of ln n
LEAST_LOGIT, MOST_LOGIT = -25.0, 12.0  # ln of a solid's moles over the others'
ROUNDS = 1000
SETTLED_LN = 1e-12
STEP_SHARE = 0.7  # of the full step in ln n: damps the solids' pull on one another
MOST_STEP_LN = 2.0
LEAST_DISSOLVED = 1e-60  # of the whole: where all is solid nothing stays liquid
LAYER_ROUNDS = 30
SETTLED_OFFSET_LN = 1e-4
MOST_TO_REST = 10.0  # kg of a crystal to one of the rest (common practice, no source)
NO_SOLIDS = "nothing in it is a solid by itself"


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


@dataclass(frozen=True, eq=False)
class Crystals:
    """What lies undissolved at one temperature: share of each substance, 0 to 1, with 90 % ends.

    `solids` are the indices of what is a solid by itself here, dissolved or not.
    """

    temperature_K: float
    names: tuple[str, ...]
    value: Array
    low: Array
    high: Array
    mass_kg: Array
    solids: tuple[int, ...]
    sources: tuple[str, ...]

    @property
    def converged(self) -> bool:
        return not bool(np.isnan(self.value).any())

    @property
    def dissolved_share(self) -> Estimate:
        """Of the mass of all that is a solid by itself here; "not_applicable" without solids."""
        if not self.converged:
            return Estimate.unknown("1", str(NotConvergedError("crystals")))
        if not self.solids:
            return Estimate.absent("1", "not_applicable", NO_SOLIDS)
        total = float(self.mass_kg[list(self.solids)].sum())
        left = [float((s * self.mass_kg).sum()) / total for s in (self.low, self.value, self.high)]
        return Estimate.ok(
            1.0 - left[1],
            1.0 - left[2],
            1.0 - left[0],
            "1",
            "solid-liquid equilibrium, all solids",
            self.sources,
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


def saturation_between(
    cold_inverse: Array | float,
    warm_inverse: Array | float,
    ln_a: Array,
    melting_K: Array,
    sought: Callable[[Array, Array], Array],
    z: Array = Z_ENDS,
    straight: bool = False,
) -> Array:
    """Where each solid's ln(x gamma) meets the one sought (z, solids), from -40 °C to melting.

    `ln_a` (nodes, solids) is given at Chebyshev nodes between two inverse temperatures (of all, or
    of each solid), or evenly spaced with `straight` lines between them; `sought` takes temperatures
    (z, solids) and z. NaN where the search did not converge.
    """
    shape = melting_K.shape
    middle = np.broadcast_to(0.5 * (cold_inverse + warm_inverse), shape)
    half = np.broadcast_to(0.5 * (cold_inverse - warm_inverse), shape)
    if not straight:
        count = len(ln_a)
        angles = np.pi * (np.arange(count) + 0.5) / count
        matrix = 2.0 / count * np.cos(np.outer(np.arange(count), angles))
        matrix[0] *= 0.5
        coefficients = matrix @ ln_a

    column = np.tile(np.arange(ln_a.shape[1]), len(z))
    level = np.repeat(np.arange(len(z)), ln_a.shape[1])

    def over(t: Array, which: Ints) -> Array:
        """Above zero where it does not all dissolve."""
        own = column[which]
        place = (1.0 / t - middle[own]) / half[own]
        grid = np.full((len(z), ln_a.shape[1]), ROOM_K)
        grid[level[which], own] = t
        wanted = sought(grid, z)[level[which], own]
        if straight:
            steps = np.clip(0.5 * (place + 1.0), 0.0, 1.0) * (len(ln_a) - 1)
            left = np.minimum(steps.astype(np.int64), len(ln_a) - 2)
            part = steps - left
            return np.asarray((1.0 - part) * ln_a[left, own] + part * ln_a[left + 1, own] - wanted)
        angle = np.arccos(np.clip(place, -1.0, 1.0))
        powers = np.cos(angle[:, None] * np.arange(len(ln_a)))
        return np.asarray(np.einsum("kn,nk->k", powers, coefficients[:, own]) - wanted)

    every = np.arange(len(column))
    low = np.full(len(column), LOWEST_K)
    high = melting_K[column]
    f_low, f_high = over(low, every), over(high, every)
    found = roots_between(over, low, high, TOLERANCE_K, f_low, f_high)
    never = (f_low > 0.0) & (f_high > 0.0)  # never before it melts
    root = np.where(f_low <= 0.0, low, np.where(never, high, found.root))
    return np.asarray(root.reshape(len(z), -1))


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
    def _anchors(self) -> dict[int, Anchor]:
        return {}

    def anchor(self, index: int) -> Anchor:
        """What the measured solubilities say of one solid here."""
        if index not in self._anchors:
            substance = self.composition.substances[index]
            assert substance.fusion is not None
            self._anchors[index] = anchor(
                substance.material, self.carrier_shares, fusion_ln_sd(substance.fusion)
            )
        return self._anchors[index]

    def fusion(self, index: int) -> Fusion:
        melt = self.composition.substances[index].fusion
        assert melt is not None
        return melt

    def solids(self, temperature_K: float) -> list[int]:
        """Indices of what can crystallise at this temperature."""
        return [
            i
            for i, s in enumerate(self.composition.substances)
            if crystallises(s.fusion, temperature_K)
            and s.name not in self.composition.liquid_as_sold
            and s.name not in SLOW
        ]

    def ln_activities(self, x: Array, temperature_K: float | Array) -> Array:
        """ln(x gamma) of one liquid of each composition (compositions, substances), or of one
        composition at each temperature."""
        assert self.model is not None
        return np.asarray(np.log(x) + self.model.ln_gamma(np.atleast_2d(x), temperature_K))

    def layered(self, x: Array) -> Layered:
        """Liquids of these compositions, in layers where the model says so."""
        model = self.model
        assert model is not None
        return Layered(lambda temperature_K, _: OneBlend(model, float(temperature_K[0])), x)

    def targets(self, solids: list[int], temperature_K: float | Array, z: Array) -> Array:
        """ln(x gamma) at which each solid is saturated (z, solids), its anchor moved by z sd, at
        one temperature or at (z, solids)."""
        kelvin = np.broadcast_to(temperature_K, (len(z), len(solids)))
        melts, pulls = [self.fusion(i) for i in solids], [self.anchor(i) for i in solids]
        ideal = ideal_ln_activity(
            np.array([melt.heat.interval()[0] for melt in melts]),
            np.array([melt.melting.interval()[0] for melt in melts]),
            kelvin,
        )
        shift = np.stack([p.ln_shift(t) for p, t in zip(pulls, kelvin.T, strict=True)], axis=1)
        return np.asarray(ideal - shift - z[:, None] * np.array([p.ln_sd for p in pulls]))

    def saturation_K(self, solids: list[int], z: Array) -> Array:
        """Where each solid just dissolves, all others dissolved (z, solids), -40 °C to melting.

        ln(x gamma) is interpolated in 1/T between a few temperatures (a Chebyshev polynomial; lines
        where layers put kinks in it), then bisection.
        """
        x = self.composition.mole_fractions
        melting = np.array([self.fusion(i).melting.interval()[0] for i in solids])
        warm, cold = 1.0 / LOWEST_K, 1.0 / float(melting.max())
        middle, half = 0.5 * (warm + cold), 0.5 * (warm - cold)
        if self.may_split:
            nodes = np.linspace(-1.0, 1.0, LAYER_NODES)
        else:
            nodes = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
        kelvins = 1.0 / (middle + half * nodes)
        table = self.ln_activities(x, kelvins)
        if self.may_split:
            liquid = self.layered(x[None])
            first = np.zeros(1, dtype=np.int64)
            offsets, sure = [], []
            for t in kelvins:
                offsets.append(liquid.ln_offsets(np.array([t]), first)[0])
                sure.append(bool(liquid.converged[0]))
            table += np.where(np.array(sure)[:, None], np.array(offsets), np.nan)
        table = table[:, solids]

        def sought(t: Array, z: Array) -> Array:
            return self.targets(solids, t, z)

        return saturation_between(warm, cold, table, melting, sought, z, self.may_split)

    def undersaturations(self, temperature_K: float) -> Array:
        """ln of how far each solid is from falling out, all being dissolved; empty without solids.
        Negative: it falls out."""
        solids = self.solids(temperature_K)
        if not solids or self.model is None:
            return np.zeros(0)
        ln_a = self.ln_activities(self.composition.mole_fractions, temperature_K)[0]
        return np.asarray(self.targets(solids, temperature_K, np.zeros(1))[0] - ln_a[solids])

    def undissolved(self, temperature_K: float, z: Array) -> Array:
        """Share of each substance that lies as crystals (z, substances), all solids at once; NaN
        where that does not converge.

        Every solid's dissolved amount n is moved by its supersaturation, ln n -= 0.7 ln(a / a_sat),
        and held between nothing and all of it, until nothing moves.
        """
        total = self.composition.moles
        share = np.zeros((len(z), len(total)))
        solids = self.solids(temperature_K)
        if not solids or self.model is None:
            return share
        sought = self.targets(solids, temperature_K, z)
        dissolved = np.tile(total, (len(z), 1))
        offset = np.zeros_like(dissolved)
        liquid = self.layered(dissolved)
        converged = False
        moves: list[Array] = []
        values: list[Array] = []
        for _ in range(LAYER_ROUNDS if self.may_split else 1):
            converged = False
            for _ in range(ROUNDS):
                x = dissolved / dissolved.sum(axis=1, keepdims=True)
                excess = (self.ln_activities(x, temperature_K) + offset)[:, solids] - sought
                step = np.clip(STEP_SHARE * excess, -MOST_STEP_LN, MOST_STEP_LN)
                new = dissolved[:, solids] * np.exp(-step)
                new = np.clip(new, LEAST_DISSOLVED * total[solids], total[solids])
                moved = float(np.abs(np.log(new / dissolved[:, solids])).max())
                dissolved[:, solids] = new
                if moved < SETTLED_LN:
                    converged = True
                    break
            if not self.may_split:
                break
            liquid.x[:] = dissolved / dissolved.sum(axis=1, keepdims=True)
            latest = liquid.ln_offsets(np.full(len(z), temperature_K), np.arange(len(z)))
            converged &= bool(liquid.converged.all())
            moves = [latest - offset, *moves[:2]]
            values = [latest, *values[:2]]
            if float(np.abs(moves[0]).max()) < SETTLED_OFFSET_LN:
                break
            offset = next_offset(moves, values)
        else:
            converged = False
        share[:, solids] = 1.0 - dissolved[:, solids] / total[solids]
        return share if converged else np.full_like(share, np.nan)

    def most_dissolved_kg(self, solids: list[int], temperature_K: float, z: Array) -> Array:
        """The largest mass of each solid that stays dissolved, the rest being as it is (z, solids).

        By bisection on its share of the moles (the lean side of any gap); NaN where that does not
        converge.
        """
        moles = self.composition.moles
        rest = np.maximum(float(moles.sum()) - moles[solids], 1e-12 * float(moles.sum()))
        sought = self.targets(solids, temperature_K, z)
        columns = np.tile(solids, len(z))
        every = np.tile(rest, len(z))

        def over(logit: Array, which: Ints) -> Array:
            """1 where it is too much, else -1."""
            blends = np.tile(moles, (len(which), 1))
            blends[np.arange(len(which)), columns[which]] = every[which] * np.exp(logit)
            x = blends / blends.sum(axis=1, keepdims=True)
            ln_a = self.ln_activities(x, temperature_K)[np.arange(len(which)), columns[which]]
            return np.where(ln_a > sought.ravel()[which], 1.0, -1.0)

        size = sought.size
        found = roots_between(
            over,
            np.full(size, LEAST_LOGIT),
            np.full(size, MOST_LOGIT),
            LOGIT_TOLERANCE,
            np.full(size, -1.0),
            np.full(size, 1.0),
        )
        middle = np.where(found.converged, 0.5 * (found.low + found.high), np.nan)
        masses = np.array(
            [self.composition.substances[i].material.molar_mass_kg_mol for i in solids]
        )
        return np.asarray(rest * np.exp(middle.reshape(sought.shape)) * masses)


def next_offset(moves: list[Array], values: list[Array]) -> Array:
    """What the layers do to ln(x gamma), from the last three rounds (blends, components), newest
    first: the latest as it is, or by Anderson's mixing."""
    if len(moves) < 3:
        return values[0]
    steps, points = ([a[:, None, :] for a in some] for some in (moves, values))
    weights = np.ones_like(steps[0])
    mixed = anderson(steps, points, weights, np.ones(weights.shape[:2], dtype=bool))
    return np.asarray(values[0] - mixed[:, 0, :])


def dissolution(
    composition: Composition, solid_below_K: float, may_split: bool = False
) -> Dissolution:
    """The temperatures at which the solids of this blend dissolve.

    A substance counts as a solid when it melts above `solid_below_K` (K). "not_applicable" where
    there is none, "unknown" where no parameter set is complete or the search did not converge.
    """
    system = SolidLiquid(composition, may_split)
    solids = system.solids(solid_below_K)
    if not solids:
        return Dissolution(Estimate.absent("K", "not_applicable", NO_SOLIDS), ())
    if system.model is None:
        reason = "no parameter set covers every group pair in this blend"
        return Dissolution(Estimate.unknown("K", reason), ())
    found = system.saturation_K(solids, Z_ENDS)
    if np.isnan(found).any():
        return Dissolution(Estimate.unknown("K", str(NotConvergedError("crystals"))), ())
    saturations = [_saturation(system, i, found[:, k]) for k, i in enumerate(solids)]
    last = max(saturations, key=lambda s: s.temperature.interval()[0])
    high = max(s.temperature.interval()[2] for s in saturations)
    estimate = replace(last.temperature, high=high).with_notes(f"the last to go: {last.name}")
    return Dissolution(estimate, tuple(saturations))


def _saturation(system: SolidLiquid, index: int, found: Array) -> Saturation:
    substance = system.composition.substances[index]
    melt, pull = system.fusion(index), system.anchor(index)
    assert system.model is not None
    low, value, high = (float(t) for t in found)
    notes = list(melt.heat.notes)
    if pull.carriers:
        notes.append(f"solubility of {substance.name}: {pull.words}")
    if substance.material.is_analogue:
        notes.append(f"{substance.name}: {substance.material.groups_assigned_by}")
    if value <= LOWEST_K + 0.1:
        notes.append("at or below -40 °C")
    estimate = Estimate.ok(
        value,
        min(low, value),
        max(high, value),
        "K",
        f"solid-liquid equilibrium with {system.model.title}",
        (*system.model.sources, *melt.melting.sources, *melt.heat.sources, *pull.sources),
        notes,
    )
    return Saturation(index, substance.name, estimate)


def crystals(
    composition: Composition, temperature_K: float, may_split: bool = False
) -> Crystals | None:
    """What lies undissolved at one temperature; None where no parameter set is complete. The shares
    are NaN where the search did not converge."""
    system = SolidLiquid(composition, may_split)
    if system.model is None:
        return None
    low, value, high = system.undissolved(temperature_K, Z_ENDS)
    return Crystals(
        temperature_K,
        composition.names,
        value,
        np.minimum(low, value),
        np.maximum(high, value),
        composition.mass_kg,
        tuple(system.solids(temperature_K)),
        system.model.sources,
    )


def most_dissolved(
    composition: Composition, solids: list[int], temperature_K: float
) -> tuple[Estimate, ...]:
    """The largest mass of each solid that stays dissolved, the rest as it is, kg.

    Written rule: any amount ("not_applicable") where it melts below that temperature, or where more
    than MOST_TO_REST times what all the rest weighs stays dissolved: that is no longer this blend,
    but the molten crystal with a little of it. No interval reaches beyond. "unknown" without a
    complete set, or without anything else to dissolve in.
    """
    system = SolidLiquid(composition)
    if system.model is None:
        reason = "no parameter set covers every group pair in this blend"
        return tuple(Estimate.unknown("kg", reason) for _ in solids)
    there = [i for i in solids if i in system.solids(temperature_K)]
    if there:
        found = system.most_dissolved_kg(there, temperature_K, -Z_ENDS)
    made = []
    for i in solids:
        if i not in there:
            reason = "a liquid by itself at this temperature"
            made.append(Estimate.absent("kg", "not_applicable", reason))
            continue
        if np.isnan(found[:, there.index(i)]).any():
            made.append(Estimate.unknown("kg", str(NotConvergedError("crystals"))))
            continue
        masses = sorted(float(mass) for mass in found[:, there.index(i)])
        rest_kg = float(np.delete(composition.mass_kg, i).sum())
        made.append(_most_of(masses, MOST_TO_REST * rest_kg, system.model))
    return tuple(made)


def _most_of(masses: list[float], most_kg: float, model: MeanModel) -> Estimate:
    """The largest amount from its low end, best estimate and high end, by the rule above."""
    low, value, high = masses
    if not most_kg > 0.0:
        return Estimate.unknown("kg", "nothing else is in it to dissolve in")
    method = f"solid-liquid equilibrium with {model.title}"
    if value > most_kg:
        reason = f"any amount: more than {MOST_TO_REST:g} times what all the rest weighs"
        return Estimate.absent("kg", "not_applicable", reason, method)
    notes = [f"the high end is more than {MOST_TO_REST:g} times the rest"] if high > most_kg else []
    return Estimate.ok(value, low, min(high, most_kg), "kg", method, model.sources, notes)
