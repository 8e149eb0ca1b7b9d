"""Which liquid the vapour stands over, where a blend may lie in layers: of one set, block by block.

Over either of two layers at equilibrium the vapour is the same, so one of them will do. While a
temperature is being solved for, the layers of the last two temperatures are the start of the next
one's (ln k goes on straight in 1/T); only where there were none, or where they run together, are
all trial compositions looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.liquid_split import (
    PLAIN,
    BlockModel,
    Search,
    Stabilities,
    no_secants,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.rows import picked

Ints = NDArray[np.int64]
LEAST_AHEAD = 1e-9  # 1/K, 1e-4 K at the bench: nearer temperatures tell no slope

ModelAt = Callable[[Array, Ints], BlockModel]
Look = Callable[[Any, Ints], Stabilities]


@dataclass(frozen=True, eq=False)
class KnownLayers:
    """Layers from which a search near by begins: which blends have some (`parted`), ln k (blends,
    components) with its slope by 1/T as far as that is known, at temperatures `kelvin` (blends,),
    and the secants of the last search."""

    parted: NDArray[np.bool_]
    ln_k: Array
    slope_K: Array
    kelvin: Array
    secants: Array

    @classmethod
    def none_yet(cls, x: Array, secants: int) -> KnownLayers:
        """Before anything was found of blends x (blends, components)."""
        return cls(
            np.zeros(len(x), dtype=bool),
            np.zeros_like(x),
            np.zeros_like(x),
            np.full(len(x), np.nan),
            no_secants(x, secants),
        )

    def only(self, keep: NDArray[Any]) -> KnownLayers:
        """Some blends'."""
        each = (getattr(self, field.name) for field in fields(KnownLayers))
        return KnownLayers(*(picked(one, keep) for one in each))

    def put(self, where: Ints, some: KnownLayers) -> None:
        """Some blends' from another."""
        for field in fields(KnownLayers):
            getattr(self, field.name)[where] = getattr(some, field.name)


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
        self.known = KnownLayers.none_yet(x, search.secants)
        self.converged = np.ones(len(x), dtype=bool)
        self.second = np.zeros_like(x)  # the other liquid beside the one that was told last
        self._moles = np.zeros(len(x))  # its share of the moles

    @property
    def parted(self) -> NDArray[np.bool_]:
        """Which blends lie in layers."""
        return self.known.parted

    def begin_with(self, known: KnownLayers) -> None:
        """Layers found before, at temperatures near by, from which the search goes on."""
        self.known.put(np.arange(len(self.x)), known)

    def composition(self, temperature_K: Array, blends: Ints) -> Array:
        """The composition to take (blends, components), for some of the blends; `parted` then says
        which of them lie in layers, `converged` whether that is sure."""
        return self._composition(self.model_at(temperature_K, blends), temperature_K, blends)

    def _composition(self, model: BlockModel, temperature_K: Array, blends: Ints) -> Array:
        known = self.known
        x = picked(self.x, blends)
        warm = np.flatnonzero(known.parted[blends])
        parted = np.zeros(len(blends), dtype=bool)
        self.converged[blends] = True
        if warm.size:
            own = known.only(blends[warm])
            ahead = (1.0 / temperature_K[warm] - 1.0 / own.kelvin)[:, None]
            ln_k = own.ln_k + own.slope_K * ahead
            self._part(model, blends, x, parted, warm, ln_k, own.secants)
            tells = np.flatnonzero((np.abs(ahead[:, 0]) > LEAST_AHEAD) & parted[warm])
            new = known.ln_k[blends[warm[tells]]] - own.ln_k[tells]
            known.slope_K[blends[warm[tells]]] = new / ahead[tells]
        cold = np.flatnonzero(~parted)
        if cold.size:
            some = model.only(cold)
            if self._look is None:
                found = self.search.stabilities(some, picked(x, cold))
            else:
                found = self._look(some, blends[cold])
            self.converged[blends[cold]] = found.converged
            splits = np.flatnonzero(found.unstable)
            if splits.size:
                rival = np.stack([x[cold[splits]], found.rival[splits]], axis=1)
                ln_gamma = some.only(splits).ln_gamma(rival)
                ln_k = ln_gamma[:, 0] - ln_gamma[:, 1]
                none = no_secants(ln_k, self.search.secants)
                self._part(model, blends, x, parted, cold[splits], ln_k, none)
                # a split that is certain and of which no layers were found
                self.converged[blends[cold[splits]]] &= parted[cold[splits]]
        fresh = blends[parted & ~known.parted[blends]]
        known.slope_K[fresh] = 0.0
        known.parted[blends] = parted
        known.kelvin[blends] = temperature_K
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
        own = picked(self.x, blends)
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
        secants: Array,
    ) -> None:
        own = picked(self.x, blends[where])
        found = self.search.layers(model.only(where), own, ln_k, secants)
        yes = where[found.parted]
        x[yes] = found.first[found.parted]
        parted[yes] = True
        self.converged[blends[where]] &= found.converged
        self.known.ln_k[blends[yes]] = found.ln_k[found.parted]
        self.known.secants[blends[yes]] = found.secants[found.parted]
        self.second[blends[yes]] = found.second[found.parted]
        self._moles[blends[yes]] = found.fraction[found.parted]
