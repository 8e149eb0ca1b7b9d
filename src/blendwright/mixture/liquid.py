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
    Sums,
    group_terms,
    interaction_terms,
    layout,
    mixture_terms,
    pure_residual,
    sums_of,
)
from blendwright.mixture.excess import BASE_SETS, ExcessAt
from blendwright.mixture.excess.parts import PairTerms
from blendwright.mixture.liquid_split import PLAIN, Search
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array
from blendwright.mixture.part import Part
from blendwright.mixture.rows import Picked, is_all, one_for_all, picked, some_of
from blendwright.mixture.substances import Substances
from blendwright.pure.roots import Bools, Ints

if TYPE_CHECKING:
    from blendwright.mixture.machine.activity import Blends, Tables

BASE_WEIGHT = 1.0 / len(BASE_SETS)
MEAN = -1  # instead of a draw
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
class BaseOfPart:
    """The base sets' sums over groups for the blends of a part, or of one that stands for all, in
    NumPy: rows of `Sums`."""

    substances: Substances
    index: Ints
    inward: Array
    outward: Array

    @classmethod
    def of(cls, substances: Substances, index: Ints) -> BaseOfPart:
        def made() -> Sums:
            layouts = [_layout(substances, name) for name in BASE_SETS]
            return sums_of(layouts, [BASE_WEIGHT] * len(BASE_SETS))

        sums, index = substances.once(("sums",), made), one_for_all(index)
        outward = np.ascontiguousarray(sums.outward.T[index].transpose(0, 2, 1))
        return cls(substances, index, sums.inward[index], outward)

    def only(self, keep: Picked) -> BaseOfPart:
        rows = (some_of(one, keep) for one in (self.index, self.inward, self.outward))
        return BaseOfPart(self.substances, *rows)

    def at(self, temperature_K: float) -> BaseAt:
        """One temperature for all."""
        psi, pure = _shared(self.substances, (temperature_K,))
        return self._with(tuple(one[0] for one in psi), pure[0][self.index])

    def at_own(self, temperatures_K: Array) -> BaseAt:
        """One temperature for each blend."""
        if len(self.index) == 1:  # one list of components: what hangs on the temperature alone
            kelvin, which = np.unique(temperatures_K, return_inverse=True)
            if kelvin.size < which.size:
                return self.at_own(kelvin).only(which)
        found, pure, begin = [], np.zeros((len(temperatures_K), self.index.shape[1])), 0
        for name in BASE_SETS:
            psi = interaction_terms(self.substances.group_arrays(name), temperatures_K)
            area = self.inward[..., begin : begin + psi.shape[-1]]
            own = group_terms(area / area.sum(axis=-1, keepdims=True), psi)
            pure += BASE_WEIGHT * (area * own).sum(axis=-1)
            begin += psi.shape[-1]
            found.append(psi)
        return self._with(tuple(found), pure)

    def _with(self, psi: tuple[Array, ...], pure: Array) -> BaseAt:
        outward = np.broadcast_to(self.outward, (len(pure), *self.outward.shape[1:])).copy()
        outward[:, -1, :] -= pure
        return BaseAt(psi, self.inward, outward)

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) of each blend at all the temperatures."""
        sums = (x[:, None, :] @ self.inward)[:, 0, :]
        psi, pure = _shared(self.substances, tuple(temperatures_K.tolist()))
        # a product for each blend: of all together the last digit hangs on how many they are
        nodes = np.broadcast_to(sums[:, None, :], (len(pure), len(sums), 1, sums.shape[1]))
        terms = mixture_terms(nodes, [one[:, None] for one in psi])[:, :, 0].transpose(1, 0, 2)
        return np.asarray(terms @ self.outward - pure[:, self.index].transpose(1, 0, 2))


@dataclass(frozen=True, eq=False)
class BaseAt:
    """ln gamma of a part's blends by the mean of the base sets, each with rows of its own; psi of
    each set, shared or of each blend."""

    psi: tuple[Array, ...]
    inward: Array
    outward: Array

    def only(self, keep: Picked) -> BaseAt:
        psi = tuple(some_of(one, keep) if one.ndim == 3 else one for one in self.psi)
        return BaseAt(psi, some_of(self.inward, keep), some_of(self.outward, keep))

    def ln_gamma(self, x: Array) -> Array:
        """x is (blends, rows, components)."""
        return np.asarray(mixture_terms(x @ self.inward, self.psi) @ self.outward)


class Liquid:
    """The liquid model of the blends of one part (all of them covered)."""

    def __init__(self, substances: Substances, index: Ints) -> None:
        self.substances = substances
        self.index = index

    @cached_property
    def base(self) -> BaseOfPart:
        """The base sets' sums over groups, for NumPy."""
        return BaseOfPart.of(self.substances, self.index)

    @cached_property
    def learned(self) -> PairTerms:
        """The learned terms of its pairs, for NumPy."""
        return self.substances.excess.of(self.index)

    def only(self, keep: Picked) -> Liquid:
        """For some of its blends."""
        if is_all(keep, len(self.index)):
            return self
        made = Liquid(self.substances, picked(self.index, keep))
        if machine.is_ready():  # then NumPy's tables are hardly read, and not worth copying
            return made
        if "base" in self.__dict__:
            made.__dict__["base"] = self.base.only(keep)
        if "learned" in self.__dict__:
            made.__dict__["learned"] = self.learned.only(keep)
        return made

    def at(self, temperatures_K: float | Array, draws: Ints | None = None) -> LiquidAt:
        """At one temperature for all or at each blend's own; by the posterior mean, or by one draw
        (0 is the first) for each blend."""
        size = len(self.index)
        kelvin = np.full(size, temperatures_K) if np.ndim(temperatures_K) == 0 else temperatures_K
        return LiquidAt(self, np.asarray(kelvin), np.full(size, MEAN) if draws is None else draws)

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) of each blend at all the temperatures."""
        if machine.is_ready():
            from blendwright.mixture.machine import activity

            return activity.at_nodes(self.at(float(temperatures_K[0])), x, temperatures_K)
        learned = self.learned.at_nodes(x, temperatures_K)
        return np.asarray(learned + self.base.at_nodes(x, temperatures_K))

    def draw_shifts(self, x: Array, weights: Array, temperatures_K: float | Array) -> Array:
        """By how much sum_i weights_i ln gamma_i at x differs in each draw (blends, draws)."""
        if machine.is_ready():
            from blendwright.mixture.machine import activity

            return activity.draw_shifts(self.at(temperatures_K), x, weights)
        return self.learned.draw_shifts(x, weights, temperatures_K)


@dataclass(frozen=True, eq=False)
class LiquidAt:
    """The model of some blends, each at its temperature and by its draw (MEAN: posterior mean)."""

    liquid: Liquid
    temperatures_K: Array
    draws: Ints

    def only(self, keep: Picked) -> LiquidAt:
        if is_all(keep, len(self.draws)):
            return self
        kelvin, draws = (picked(one, keep) for one in (self.temperatures_K, self.draws))
        made = LiquidAt(self.liquid.only(keep), kelvin, draws)
        repeats = len(keep) > len(self.draws) and not machine.is_ready()
        if repeats or "_plain" in self.__dict__:  # then it is made once for all repeats
            made.__dict__["_plain"] = self._plain.only(keep)
        return made

    def ln_gamma(self, x: Array) -> Array:
        """x and the result are (blends, rows, components)."""
        if machine.is_ready():
            from blendwright.mixture.machine import activity

            return activity.ln_gammas(self, x)
        return self._plain.ln_gamma(x)

    @cached_property
    def _plain(self) -> PlainLiquid:
        return PlainLiquid.of(self)

    @property
    def blends(self) -> Blends:
        """For machine code."""
        from blendwright.mixture.machine.activity import Blends, for_machine_code

        return Blends(
            for_machine_code(self.liquid.index),
            for_machine_code(self.temperatures_K),
            for_machine_code(self.draws),
        )

    @property
    def tables(self) -> Tables:
        """For machine code."""
        from blendwright.mixture.machine.activity import tables_of

        substances = self.liquid.substances

        def made() -> Tables:
            sets = [
                (substances.group_arrays(name), _layout(substances, name)) for name in BASE_SETS
            ]
            return tables_of([BASE_WEIGHT] * len(sets), sets, substances.excess)

        return substances.once(("machine code",), made)


@dataclass(frozen=True, eq=False)
class PlainLiquid:
    """The model of some blends in NumPy: rows of the base sets' tables, and the learned terms."""

    base: BaseAt
    excess: ExcessAt

    @classmethod
    def of(cls, model: LiquidAt) -> PlainLiquid:
        liquid, kelvin = model.liquid, model.temperatures_K
        shared = kelvin.size > 0 and bool((kelvin == kelvin[0]).all())
        at = float(kelvin[0]) if shared else kelvin
        base = liquid.base.at(at) if isinstance(at, float) else liquid.base.at_own(at)
        draws = model.draws if (model.draws != MEAN).any() else None
        return cls(base, liquid.learned.at(at, draws))

    def only(self, keep: Picked) -> PlainLiquid:
        return PlainLiquid(self.base.only(keep), self.excess.only(keep))

    def ln_gamma(self, x: Array) -> Array:
        """x and the result are (blends, rows, components)."""
        return np.asarray(self.excess.ln_gamma(x) + self.base.ln_gamma(x))


def _layout(substances: Substances, name: str) -> Layout:
    return substances.once(("layout", name), lambda: layout(substances.group_arrays(name)))


def _shared(
    substances: Substances, temperatures_K: tuple[float, ...]
) -> tuple[tuple[Array, ...], Array]:
    """psi (temperatures, groups, groups) of each base set, and the pure substances' residual in
    their mean (temperatures, all)."""

    def made() -> tuple[tuple[Array, ...], Array]:
        sets = [substances.group_arrays(name) for name in BASE_SETS]
        psi = tuple(interaction_terms(one, np.array(temperatures_K)) for one in sets)
        pure = sum(pure_residual(one, own) for one, own in zip(sets, psi, strict=True))
        return psi, np.asarray(BASE_WEIGHT * pure)

    return substances.once(("shared", temperatures_K), made)


def sources_with(pure_sources: Sequence[str]) -> tuple[str, ...]:
    """The pure substances' sources, then the model's."""
    return (*pure_sources, *SOURCES)
