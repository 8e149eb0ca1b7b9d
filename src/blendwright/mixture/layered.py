"""Which liquid the vapour stands over, where a blend may lie in layers: of one set, block by block.

Over either of two layers at equilibrium the vapour is the same, so one of them will do. While a
temperature is being solved for, the layers of the last two temperatures are the start of the next
one's (ln k goes on straight in 1/T); only where there were none, or where they run together, are
all trial compositions looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.liquid_split import PLAIN, BlockModel, Search, Stabilities
from blendwright.mixture.parameter_sets import Array

Ints = NDArray[np.int64]
LEAST_AHEAD = 1e-9  # 1/K, 1e-4 K at the bench: nearer temperatures tell no slope

ModelAt = Callable[[Array, Ints], BlockModel]
Look = Callable[[Any, Ints], Stabilities]


class Layered:
    """Blends of mole fractions x (blends, components); `model_at` takes temperatures and numbers
    of blends. `x` may be changed as the blends lose of it. `look` says which blends are unstable
    where that is known already."""

    def __init__(
        self, model_at: ModelAt, x: Array, search: Search = PLAIN, look: Look | None = None
    ) -> None:
        self.model_at = model_at
        self.search = search
        self._look = look
        self.x = np.array(x)
        self.parted = np.zeros(len(x), dtype=bool)
        self.converged = np.ones(len(x), dtype=bool)
        self.ln_k = np.zeros_like(x)
        self.ln_k_slope_K = np.zeros_like(x)  # by 1/T
        self.kelvin = np.full(len(x), np.nan)  # where ln_k is known
        self.second = np.zeros_like(x)  # the other liquid beside the one that was told last
        self._moles = np.zeros(len(x))  # its share of the moles

    def begin_with(
        self, parted: NDArray[np.bool_], ln_k: Array, slope_K: Array, kelvin: Array
    ) -> None:
        """Layers found before, at temperatures near by, from which the search goes on."""
        self.parted, self.ln_k = parted.copy(), ln_k.copy()
        self.ln_k_slope_K, self.kelvin = slope_K.copy(), kelvin.copy()

    def composition(self, temperature_K: Array, blends: Ints) -> Array:
        """The composition to take (blends, components), for some of the blends; `parted` then says
        which of them lie in layers, `converged` whether that is sure."""
        return self._composition(self.model_at(temperature_K, blends), temperature_K, blends)

    def _composition(self, model: BlockModel, temperature_K: Array, blends: Ints) -> Array:
        x = self.x[blends].copy()
        warm = np.flatnonzero(self.parted[blends])
        parted = np.zeros(len(blends), dtype=bool)
        self.converged[blends] = True
        if warm.size:
            own = blends[warm]
            ahead = (1.0 / temperature_K[warm] - 1.0 / self.kelvin[own])[:, None]
            before = self.ln_k[own]
            self._part(model, blends, x, parted, warm, before + self.ln_k_slope_K[own] * ahead)
            tells = np.flatnonzero((np.abs(ahead[:, 0]) > LEAST_AHEAD) & parted[warm])
            new = self.ln_k[own[tells]] - before[tells]
            self.ln_k_slope_K[own[tells]] = new / ahead[tells]
        cold = np.flatnonzero(~parted)
        if cold.size:
            some = model.only(cold)
            if self._look is None:
                found = self.search.stabilities(some, self.x[blends[cold]])
            else:
                found = self._look(some, blends[cold])
            self.converged[blends[cold]] = found.converged
            splits = np.flatnonzero(found.unstable)
            if splits.size:
                rival = np.stack([x[cold[splits]], found.rival[splits]], axis=1)
                ln_gamma = some.only(splits).ln_gamma(rival)
                self._part(model, blends, x, parted, cold[splits], ln_gamma[:, 0] - ln_gamma[:, 1])
                # a split that is certain and of which no layers were found
                self.converged[blends[cold[splits]]] &= parted[cold[splits]]
        fresh = blends[parted & ~self.parted[blends]]
        self.ln_k_slope_K[fresh] = 0.0
        self.parted[blends] = parted
        self.kelvin[blends] = temperature_K
        return x

    def in_second(self) -> Array:
        """The share of each component that is in the `second` liquid; zeros where it is one."""
        held = self._moles[:, None] * self.second / np.where(self.x > 0.0, self.x, 1.0)
        return np.asarray(np.clip(held, 0.0, 1.0) * self.parted[:, None])

    def ln_activity(self, temperature_K: Array, blends: Ints) -> Array:
        """ln(x gamma) of each component, over its layers where there are such; 0 in the padding."""
        model = self.model_at(temperature_K, blends)
        taken = self._composition(model, temperature_K, blends)
        ln_taken = np.log(np.where(taken > 0.0, taken, 1.0))
        found = ln_taken + model.ln_gamma(taken[:, None, :])[:, 0, :]
        return np.where(taken > 0.0, found, 0.0)

    def ln_offsets(self, temperature_K: Array, blends: Ints) -> Array:
        """ln(x gamma) over the layers, where it is equal, less that of the one liquid; zeros where
        it is one, and in the padding."""
        own = self.x[blends]
        model = self.model_at(temperature_K, blends)
        taken = self._composition(model, temperature_K, blends)
        offset = np.zeros_like(own)
        where = np.flatnonzero(self.parted[blends])
        if where.size:
            both = np.stack([taken[where], own[where]], axis=1)
            ln_gamma = model.only(where).ln_gamma(both)
            there = own[where] > 0.0
            ratio = np.where(there, taken[where], 1.0) / np.where(there, own[where], 1.0)
            offset[where] = (np.log(ratio) + ln_gamma[:, 0] - ln_gamma[:, 1]) * there
        return offset

    def _part(
        self,
        model: BlockModel,
        blends: Ints,
        x: Array,
        parted: NDArray[np.bool_],
        where: Ints,
        ln_k: Array,
    ) -> None:
        found = self.search.layers(model.only(where), self.x[blends[where]], ln_k)
        yes = where[found.parted]
        x[yes] = found.first[found.parted]
        parted[yes] = True
        self.converged[blends[where]] &= found.converged
        self.ln_k[blends[yes]] = found.ln_k[found.parted]
        self.second[blends[yes]] = found.second[found.parted]
        self._moles[blends[yes]] = found.fraction[found.parted]
