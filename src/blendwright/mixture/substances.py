"""Distinct substances: every constant that the questions need, as arrays."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, MutableMapping, Sequence
from functools import cached_property
from typing import Any, ClassVar, TypeVar

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.excess.measurement import Shift, terms_with
from blendwright.mixture.excess.parts import LearnedTerms
from blendwright.mixture.parameter_sets import PARAMETER_SETS, Array, GroupArrays
from blendwright.mixture.parameter_sets import tolerant_group_arrays as group_arrays
from blendwright.pure.constants import PureConstants
from blendwright.pure.density import liquid_density
from blendwright.pure.flash_point import ESTIMATES
from blendwright.pure.roots import Bools
from blendwright.pure.vapour_pressure import PressureTable, VapourPressure

MOST_KEPT = 64
Made = TypeVar("Made")


def made_once(kept: MutableMapping[Any, object], key: object, make: Callable[[], Made]) -> Made:
    """What is kept under a key, made when first asked for."""
    if key not in kept:
        kept[key] = make()
    return kept[key]  # type: ignore[return-value]


def ln_slope_per_K(vapour: VapourPressure, temperature_K: float) -> float:
    """Slope of ln Psat."""
    near = vapour.ln_pressure(np.array([temperature_K - 0.5, temperature_K + 0.5]))
    return float(near[1] - near[0])


class Substances:
    """Constants of a list of substances; every array is per substance."""

    _latest: ClassVar[OrderedDict[tuple[int, ...], Substances]] = OrderedDict()

    @classmethod
    def of(cls, pures: tuple[PureConstants, ...], shifts: tuple[Shift, ...] = ()) -> Substances:
        """One object for equal substances, of the MOST_KEPT asked for last: what they
        share (group tables, constants at a temperature) is then made once."""
        key = (*map(id, pures), 0, *map(id, shifts))
        found = cls._latest.get(key)
        if found is None:
            found = cls._latest[key] = cls(pures, shifts)
            while len(cls._latest) > MOST_KEPT:
                cls._latest.popitem(last=False)
        else:
            cls._latest.move_to_end(key)
        return found

    def __init__(self, pures: Sequence[PureConstants], shifts: Sequence[Shift] = ()) -> None:
        self.pures = tuple(pures)
        self.shifts = tuple(shifts)  # what measurements of blends do to the learned terms
        self._kept: dict[tuple[object, ...], object] = {}
        self.names = tuple(s.name for s in pures)
        self.position = {name: i for i, name in enumerate(self.names)}
        self.molar_mass_kg_mol = np.array([s.material.molar_mass_kg_mol for s in pures])
        self.has_groups = np.array([bool(s.groups) for s in pures], dtype=bool)
        self.is_blind = np.array(
            [(not s.groups and not s.is_heavy) or (bool(s.groups) and not s.vapour) for s in pures],
            dtype=bool,
        )
        self.is_undisclosed = np.array([s.material.is_undisclosed for s in pures])

    def given(self, shifts: tuple[Shift, ...]) -> Substances:
        """These substances, with what measurements of blends do to their learned terms."""
        return Substances.of(self.pures, shifts) if shifts else self

    @property
    def unshifted(self) -> Substances:
        """These substances before any measurement of blends."""
        return Substances.of(self.pures)

    def __len__(self) -> int:
        return len(self.pures)

    def once(self, key: tuple[object, ...], make: Callable[[], Made]) -> Made:
        """What is the same for all parts of the block, made when first asked for."""
        return made_once(self._kept, key, make)

    def named(self, name: str) -> int:
        """Its number; -1 where it is in no blend."""
        return self.position.get(name, -1)

    def pure_densities(self, temperature_K: float) -> tuple[Estimate, ...]:
        """Liquid density of each substance, kg/m3."""
        return self.once(
            ("density", temperature_K),
            lambda: tuple(liquid_density(s.material, temperature_K) for s in self.pures),
        )

    def densities(self, temperature_K: float) -> tuple[Array, Array]:
        """Densities as arrays, with half of the interval; not a number where unknown."""

        def made() -> tuple[Array, Array]:
            ends = np.array(
                [
                    d.interval() if d.is_ok else (math.nan, math.nan, math.nan)
                    for d in self.pure_densities(temperature_K)
                ]
            ).reshape(-1, 3)
            return ends[:, 0], (ends[:, 2] - ends[:, 1]) / 2.0

        return self.once(("densities", temperature_K), made)

    # Vapour and fire

    @cached_property
    def curves(self) -> PressureTable:
        return PressureTable([s.vapour for s in self.pures])

    @cached_property
    def ln_uncertainty(self) -> tuple[Array, Array, Array]:
        """Inside the range, and the range's ends, K."""
        rows = [
            (s.vapour.ln_uncertainty, s.vapour.minimum_K, s.vapour.maximum_K)
            if s.vapour
            else (0.0, 0.0, np.inf)
            for s in self.pures
        ]
        table = np.array(rows).T
        return table[0], table[1], table[2]

    @cached_property
    def burns(self) -> Bools:
        """All but what can't burn; with the unknown ones."""
        return np.array([s.flash.status != "not_applicable" for s in self.pures])

    @cached_property
    def flash_known(self) -> Bools:
        return np.array([s.vapour is not None and s.flash.value is not None for s in self.pures])

    @cached_property
    def flash_K(self) -> Array:
        return np.array(
            [s.flash.value if s.flash.value is not None else np.nan for s in self.pures]
        )

    @cached_property
    def ln_reference(self) -> Array:
        """ln Psat at the own flash point; infinite for what does not burn."""
        return np.array(
            [
                math.log(s.vapour.pressure_Pa(s.flash.value))
                if s.vapour is not None and s.flash.value is not None
                else math.inf
                for s in self.pures
            ]
        )

    @cached_property
    def flash_ln_error(self) -> Array:
        """What the error of the own flash point is worth in ln Psat."""
        found = np.zeros(len(self))
        for i, s in enumerate(self.pures):
            if s.vapour is not None and s.flash.value is not None:
                value, low, _ = s.flash.interval()
                found[i] = ln_slope_per_K(s.vapour, value) * (value - low)
        return found

    @cached_property
    def rests_on_an_estimate(self) -> Bools:
        """With more than a little of Liaw's sum it keeps a class from being clear."""
        return np.array(
            [
                s.flash.method in ESTIMATES
                or not s.material.curated
                or s.material.is_analogue
                or (s.vapour is not None and s.vapour.estimated)
                for s in self.pures
            ]
        )

    @cached_property
    def lower_limit(self) -> tuple[Bools, Array, Array]:
        """Whether it has one, the limit (mol/mol at 25 °C) and ln of it over its low end."""
        known = np.array([s.lower_limit.status == "ok" for s in self.pures])
        ends = [
            s.lower_limit.interval() if k else (1.0, 1.0, 1.0)
            for s, k in zip(self.pures, known, strict=True)
        ]
        value = np.array([end[0] for end in ends])
        return known, value, np.log(value / np.array([end[1] for end in ends]))

    # Activity

    @cached_property
    def excess(self) -> LearnedTerms:
        """The learned terms of the liquid model."""
        return LearnedTerms(*terms_with(self.pures, self.shifts))

    @cached_property
    def _sets(self) -> dict[str, GroupArrays]:
        return {}

    def group_arrays(self, name: str) -> GroupArrays:
        """One parameter set laid out for these substances, with what is missing marked."""
        if name not in self._sets:
            rule = PARAMETER_SETS[name]
            self._sets[name] = group_arrays(
                rule, [s.groups.get(rule.groups_of, {}) for s in self.pures]
            )
        return self._sets[name]
