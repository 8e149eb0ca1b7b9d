"""ln(gamma) of whole parts by one parameter set, a member of the ensemble: at temperatures that all
blends share, or at one for each.

The equations are those of `mixture.activity`; here each blend has its own list of components, so
the groups' surfaces come as (blends, components, main groups). A set is a member for a blend only
where it is complete for it (`complete`), as `mixture.ensemble` has it.
"""

from __future__ import annotations

from dataclasses import dataclass
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
from blendwright.mixture.ensemble import Rule, rules
from blendwright.mixture.liquid_split import PLAIN, Search
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, GroupArrays
from blendwright.mixture.part import Part
from blendwright.mixture.substances import Picked, Substances
from blendwright.pure.roots import Bools

if TYPE_CHECKING:
    from blendwright.mixture.machine.activity import Sets


def search_for_layers() -> Search:
    """In machine code where that is ready."""
    if not machine.is_ready():
        return PLAIN
    from blendwright.mixture.machine.layers import COMPILED

    return COMPILED


def complete(substances: Substances, name: str, part: Part) -> Bools:
    """Whether the set has every group of each blend, and every pair of them."""
    arrays = substances.group_arrays(name)
    known = (arrays.known[part.index] | ~part.there).all(axis=1)
    if not arrays.lacking.any():
        return np.asarray(known)
    area = arrays.group_area[part.index] * part.there[..., None]
    present = (area > 0.0).any(axis=1).astype(float)
    return np.asarray(known & (np.einsum("bm,bm->b", present @ arrays.lacking, present) == 0.0))


@dataclass(frozen=True)
class CompleteSet:
    """A parameter set that answers a question for one blend, and the share of its weight."""

    name: str
    weight: float

    @property
    def title(self) -> str:
        return PARAMETER_SETS[self.name].title

    @property
    def source(self) -> str:
        return PARAMETER_SETS[self.name].source


def set_rules(question: str, medium: str = "any") -> tuple[Rule, ...]:
    """The parameter sets for a question, the leading one first."""
    return tuple(r for r in rules() if r.question == question and r.medium == medium and r.is_set)


def complete_sets(
    substances: Substances, part: Part, question: str, medium: str = "any"
) -> tuple[CompleteSet, ...]:
    """The sets that are complete for a part of one blend, the leading one first, weights summing
    to 1: for the words about it."""
    if not part.index.shape[1]:
        return ()
    found = [
        r
        for r in set_rules(question, medium)
        if bool(complete(substances, r.parameter_set, part)[0])
    ]
    total = sum(rule.weight for rule in found)
    return tuple(CompleteSet(rule.parameter_set, rule.weight / total) for rule in found)


class Member:
    """One parameter set for one part (all its blends must be complete in it)."""

    def __init__(self, substances: Substances, name: str, part: Part) -> None:
        self.name = name
        self.substances = substances
        self.arrays: GroupArrays = substances.group_arrays(name)
        plan = _layout(substances, name)
        self.index = part.index
        self.inward = plan.inward[part.index]
        self.outward = np.ascontiguousarray(plan.outward.T[part.index].transpose(0, 2, 1))

    def only(self, keep: Picked) -> Member:
        """For some of its blends."""
        made = object.__new__(Member)
        made.name, made.arrays, made.substances = self.name, self.arrays, self.substances
        made.index = self.index[keep]
        made.inward, made.outward = self.inward[keep], self.outward[keep]
        return made

    def at(self, temperature_K: float) -> AtTemperature:
        """One temperature for all."""
        psi, pure = _shared(self.substances, self.name, (temperature_K,))
        return AtTemperature(self, psi[0], pure[0][self.index])

    def at_own(self, temperatures_K: Array) -> AtTemperature:
        """One temperature for each blend."""
        psi = interaction_terms(self.arrays, temperatures_K)
        groups = psi.shape[-1]
        area = self.inward[..., :groups]
        own = group_terms(area / area.sum(axis=-1, keepdims=True), psi)
        return AtTemperature(self, psi, np.einsum("bpm,bpm->bp", area, own))

    def at_nodes(self, x: Array, temperatures_K: Array) -> Array:
        """ln gamma (blends, temperatures, components) of each blend at all the temperatures."""
        sums = (x[:, None, :] @ self.inward)[:, 0, :]
        psi, pure = _shared(self.substances, self.name, tuple(temperatures_K.tolist()))
        nodes = np.broadcast_to(sums, (len(psi), *sums.shape))
        terms = mixture_terms(nodes, psi).transpose(1, 0, 2)
        return np.asarray(terms @ self.outward - pure[:, self.index].transpose(1, 0, 2))


class AtTemperature:
    """ln gamma of a part's blends, each with rows of its own; psi shared or of each blend."""

    def __init__(self, member: Member, psi: Array, pure: Array) -> None:
        self.psi = psi
        self.inward = member.inward
        self.outward = member.outward.copy()
        self.outward[:, psi.shape[-1], :] -= pure

    def only(self, keep: Picked) -> AtTemperature:
        made = object.__new__(AtTemperature)
        made.psi = self.psi[keep] if self.psi.ndim == 3 else self.psi
        made.inward, made.outward = self.inward[keep], self.outward[keep]
        return made

    def ln_gamma(self, x: Array) -> Array:
        """x is (blends, rows, components)."""
        sums = x @ self.inward
        if self.psi.ndim == 3:
            return np.asarray(mixture_terms(sums, self.psi) @ self.outward)
        terms = mixture_terms(sums.reshape(-1, sums.shape[-1]), self.psi)
        return np.asarray(terms.reshape(*sums.shape[:2], terms.shape[-1]) @ self.outward)

    def sets(self) -> Sets:
        """For machine code."""
        from blendwright.mixture.machine.activity import one_set

        return one_set(self.inward, self.outward, self.psi)


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
