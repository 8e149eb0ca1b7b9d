"""The one liquid model: ln(gamma) from one excess Gibbs energy, which every question reads.

    G^E/RT = mean of two complete parameter sets (BASE_SETS) + learned terms (`excess`)

Both sets are complete for every substance with groups, so nothing is ever left out of the mean. A
mean of Gibbs energies is one, so activities keep Gibbs-Duhem, and layers and crystals found with it
agree with its vapour. The learned terms come as a posterior mean, which gives values, and as draws
(`draw_shifts`), which give intervals and chances: one set of draws for all questions.

Arrays are those of a part: (blends, components), padded with fractions of zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from blendwright.mixture import machine
from blendwright.mixture.activity import (
    Layout,
    group_terms,
    interaction_terms,
    layout,
    mixture_terms,
    pure_residual,
)
from blendwright.mixture.excess import BASE_SETS, ExcessAt
from blendwright.mixture.excess.parts import only_blends
from blendwright.mixture.liquid_split import PLAIN, Search
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, GroupArrays
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Picked, Substances
from blendwright.pure.roots import Bools, Ints

if TYPE_CHECKING:
    from blendwright.mixture.machine.activity import Sets

BASE_WEIGHT = 1.0 / len(BASE_SETS)
EXCESS_SOURCE = "excess-terms"
SOURCES = (*(PARAMETER_SETS[name].source for name in BASE_SETS), EXCESS_SOURCE)
TITLE = f"{' and '.join(PARAMETER_SETS[name].title for name in BASE_SETS)} with learned terms"
NO_GROUPS = "its molecules can't be split into the groups of the activity model"


def search_for_layers() -> Search:
    """In machine code where that is ready."""
    if not machine.is_ready():
        return PLAIN
    from blendwright.mixture.machine.layers import COMPILED

    return COMPILED


def is_covered(substances: Substances, part: Part) -> Bools:
    """Whether each blend's components all have groups."""
    return np.asarray((substances.has_groups[part.index] | ~part.there).all(axis=1))


@dataclass(frozen=True, eq=False)
class SetOfPart:
    """One parameter set's group sums for the blends of a part."""

    substances: Substances
    name: str
    index: Ints
    inward: Array
    outward: Array

    @classmethod
    def of(cls, substances: Substances, name: str, part: Part) -> SetOfPart:
        plan = _layout(substances, name)
        outward = np.ascontiguousarray(plan.outward.T[part.index].transpose(0, 2, 1))
        return cls(substances, name, part.index, plan.inward[part.index], outward)

    @property
    def arrays(self) -> GroupArrays:
        return self.substances.group_arrays(self.name)

    def only(self, keep: Picked) -> SetOfPart:
        return SetOfPart(
            self.substances, self.name, self.index[keep], self.inward[keep], self.outward[keep]
        )

    def at(self, temperature_K: float) -> SetAt:
        """One temperature for all."""
        psi, pure = _shared(self.substances, self.name, (temperature_K,))
        return SetAt.of(self, psi[0], pure[0][self.index])

    def at_own(self, temperatures_K: Array) -> SetAt:
        """One temperature for each blend."""
        psi = interaction_terms(self.arrays, temperatures_K)
        groups = psi.shape[-1]
        area = self.inward[..., :groups]
        own = group_terms(area / area.sum(axis=-1, keepdims=True), psi)
        return SetAt.of(self, psi, np.einsum("bpm,bpm->bp", area, own))

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) of each blend at all the temperatures."""
        sums = (x[:, None, :] @ self.inward)[:, 0, :]
        psi, pure = _shared(self.substances, self.name, tuple(temperatures_K.tolist()))
        nodes = np.broadcast_to(sums, (len(psi), *sums.shape))
        terms = mixture_terms(nodes, psi).transpose(1, 0, 2)
        return np.asarray(terms @ self.outward - pure[:, self.index].transpose(1, 0, 2))


@dataclass(frozen=True, eq=False)
class SetAt:
    """ln gamma of a part's blends by one set, each with rows of its own; psi shared or of each
    blend."""

    psi: Array
    inward: Array
    outward: Array

    @classmethod
    def of(cls, one: SetOfPart, psi: Array, pure: Array) -> SetAt:
        outward = one.outward.copy()
        outward[:, psi.shape[-1], :] -= pure
        return cls(psi, one.inward, outward)

    def only(self, keep: Picked) -> SetAt:
        psi = self.psi[keep] if self.psi.ndim == 3 else self.psi
        return SetAt(psi, self.inward[keep], self.outward[keep])

    def ln_gamma(self, x: Array) -> Array:
        """x is (blends, rows, components)."""
        sums = x @ self.inward
        if self.psi.ndim == 3:
            return np.asarray(mixture_terms(sums, self.psi) @ self.outward)
        terms = mixture_terms(sums.reshape(-1, sums.shape[-1]), self.psi)
        return np.asarray(terms.reshape(*sums.shape[:2], terms.shape[-1]) @ self.outward)


class Liquid:
    """The liquid model of the blends of one part (all of them covered)."""

    def __init__(self, substances: Substances, part: Part) -> None:
        self.substances = substances
        self.index = part.index
        self.base = tuple(SetOfPart.of(substances, name, part) for name in BASE_SETS)

    def only(self, keep: Picked) -> Liquid:
        """For some of its blends."""
        made = object.__new__(Liquid)
        made.substances, made.index = self.substances, self.index[keep]
        made.base = tuple(one.only(keep) for one in self.base)
        return made

    def at(self, temperature_K: float) -> LiquidAt:
        """One temperature for all."""
        excess = self.substances.excess.at(self.index, temperature_K)
        return LiquidAt(tuple(one.at(temperature_K) for one in self.base), excess)

    def at_own(self, temperatures_K: Array) -> LiquidAt:
        """One temperature for each blend."""
        excess = self.substances.excess.at(self.index, temperatures_K)
        return LiquidAt(tuple(one.at_own(temperatures_K) for one in self.base), excess)

    def at_each(self, temperatures_K: Array) -> LiquidAt:
        """`at` where all temperatures are one, else `at_own`."""
        if temperatures_K.size and (temperatures_K == temperatures_K[0]).all():
            return self.at(float(temperatures_K[0]))
        return self.at_own(temperatures_K)

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) of each blend at all the temperatures."""
        found = self.substances.excess.at_nodes(self.index, x, temperatures_K)
        for one in self.base:
            found = found + BASE_WEIGHT * one.at_nodes(x, temperatures_K)
        return np.asarray(found)

    def with_draws(self, model: LiquidAt, draws: Ints, temperatures_K: float | Array) -> LiquidAt:
        """The model at a temperature with one draw of the terms for each blend."""
        excess = self.substances.excess.with_draws(self.index, draws, temperatures_K)
        return LiquidAt(model.base, excess)

    def draw_shifts(self, x: Array, weights: Array, temperatures_K: float | Array) -> Array:
        """By how much sum_i weights_i ln gamma_i at x differs in each draw (blends, draws)."""
        return self.substances.excess.draw_shifts(self.index, x, weights, temperatures_K)


@dataclass(frozen=True, eq=False)
class LiquidAt:
    """The model of some blends at a temperature, or at each blend's own."""

    base: tuple[SetAt, ...]
    excess: ExcessAt

    def only(self, keep: Picked) -> LiquidAt:
        return LiquidAt(tuple(one.only(keep) for one in self.base), only_blends(self.excess, keep))

    def ln_gamma(self, x: Array) -> Array:
        """x and the result are (blends, rows, components)."""
        found = self.excess.ln_gamma(x)
        for one in self.base:
            found = found + BASE_WEIGHT * one.ln_gamma(x)
        return np.asarray(found)

    @cached_property
    def _sets(self) -> Sets:
        from blendwright.mixture.machine.activity import sets_of

        return sets_of([BASE_WEIGHT] * len(self.base), self.base, self.excess)

    def sets(self) -> Sets:
        """For machine code."""
        return self._sets


def _layout(substances: Substances, name: str) -> Layout:
    return substances.once(("layout", name), lambda: layout(substances.group_arrays(name)))


def _shared(
    substances: Substances, name: str, temperatures_K: tuple[float, ...]
) -> tuple[Array, Array]:
    """psi (temperatures, groups, groups) and the pure substances' residual (temperatures, all)."""

    def made() -> tuple[Array, Array]:
        arrays = substances.group_arrays(name)
        psi = interaction_terms(arrays, np.array(temperatures_K))
        return psi, pure_residual(arrays, psi)

    return substances.once(("shared", name, temperatures_K), made)


def sources_with(pure_sources: Sequence[str]) -> tuple[str, ...]:
    """The pure substances' sources, then the model's."""
    return (*pure_sources, *SOURCES)
