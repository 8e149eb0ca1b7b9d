"""ln(gamma) of whole parts by one parameter set: shared temperatures, or one for each blend.

The equations are those of `mixture.activity`; here each blend has its own list of components, so
the groups' surfaces come as (blends, components, main groups). A set speaks for a blend only where
it is complete for it (`complete`), as `mixture.ensemble` has it.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np

from blendwright.many.rows import Part
from blendwright.many.substances import Bools, Picked, Substances
from blendwright.mixture.activity import (
    Layout,
    group_terms,
    interaction_terms,
    layout,
    mixture_terms,
    pure_residual,
)
from blendwright.mixture.liquid_split import PLAIN, Search
from blendwright.mixture.parameter_sets import Array, GroupArrays

if TYPE_CHECKING:
    from blendwright.many.machine.activity import Sets


def search_for_layers() -> Search:
    """In machine code where numba is installed (extra `batch`)."""
    if find_spec("numba") is None:
        return PLAIN
    from blendwright.many.machine.layers import COMPILED

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


class Voice:
    """One parameter set for one part (all its blends must be complete in it)."""

    def __init__(self, substances: Substances, name: str, part: Part) -> None:
        self.name = name
        self.substances = substances
        self.arrays: GroupArrays = substances.group_arrays(name)
        plan = _layout(substances, name)
        self.index = part.index
        self.inward = plan.inward[part.index]
        self.outward = np.ascontiguousarray(plan.outward.T[part.index].transpose(0, 2, 1))

    def only(self, keep: Picked) -> Voice:
        """For some of its blends."""
        made = object.__new__(Voice)
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

    def __init__(self, voice: Voice, psi: Array, pure: Array) -> None:
        self.psi = psi
        self.inward = voice.inward
        self.outward = voice.outward.copy()
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
        from blendwright.many.machine.activity import one_set

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
