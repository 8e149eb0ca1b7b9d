"""Flash points of mixtures against published ones, beside ideal liquids.

`reference/flash_point_ethanol_water.csv` (read as % by volume) and `mixture_flash_points.csv`: rows
whose source was read count; rows from memory and open cups stand apart. Few mixtures could be had,
so the activity part is tested by itself (`left_out`), boiling mixtures by azeotropes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_celsius, to_kelvin
from blendwright.formula import Formula
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.composition import Composition
from blendwright.mixture.flash_point import FLASH_START_K
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import HIGHEST_K, LOWEST_K
from blendwright.mixture.weighing import resolve, weigh
from blendwright.pure.density import liquid_density
from blendwright.pure.roots import Ints, temperatures_where_zero
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case, Counted
from blendwright.verdict.blend import Blend
from blendwright.verdict.classes import category_of
from blendwright.verdict.flammability import lower_bound_K
from blendwright.verdict.limits import rank


@dataclass(frozen=True)
class MeasuredFlash:
    """One published mixture: grams by name, the flash point, and whether its row counts."""

    words: str
    grams: tuple[tuple[str, float], ...]
    flash_C: float
    group: str


@cache
def measured() -> tuple[MeasuredFlash, ...]:
    """Every published mixture."""
    catalogue = default_catalogue()
    found = []
    for row in reference("flash_point_ethanol_water.csv"):
        percent = float(row["ethanol_pct"])
        found.append(
            MeasuredFlash(
                f"ethanol {percent:g} % vol in water",
                (("ethanol", percent), ("water", 100.0 - percent)),
                float(row["flash_closed_cup_C"]),
                "closed cup, vol",
            )
        )
    for row in reference("mixture_flash_points.csv"):
        names = row["components"].split(";")
        shares = [float(f) for f in row["fractions"].split(";")]
        materials = [resolve(name, catalogue) for name in names]
        if row["basis"] == "mole":
            grams = [s * m.molar_mass_kg_mol * 1e3 for s, m in zip(shares, materials, strict=True)]
        elif row["basis"] == "volume":
            grams = [
                s * (liquid_density(m, ROOM_K).value or 1000.0)
                for s, m in zip(shares, materials, strict=True)
            ]
        else:
            grams = shares
        group = "open cup" if row["cup"] == "open" else "closed cup"
        found.append(
            MeasuredFlash(
                " + ".join(f"{n} {s:g}" for n, s in zip(names, shares, strict=True)),
                tuple(zip(names, grams, strict=True)),
                float(row["flash_C"]),
                "from memory" if row["read"] == "memory" else group,
            )
        )
    return tuple(found)


def _formula(one: MeasuredFlash) -> Formula:
    if one.group == "closed cup, vol":
        percent = one.grams[0][1]
        return Formula.from_rows(
            [{"material": "ethanol", "grams": 100, "strength_pct": f"{percent:g} % vol"}]
        )
    return Formula.from_rows({"material": n, "grams": g} for n, g in one.grams if g > 0.0)


def ideal_flash_K(composition: Composition) -> float | None:
    """Liaw's sum with gamma = 1 (Le Chatelier with Raoult)."""
    table = composition.table
    x = composition.mole_fractions

    def above(temperature_K: Array, _: Ints) -> Array:
        terms = x * np.exp(table.curves.ln_pressures(temperature_K) - table.ln_reference)
        return np.asarray(np.log(terms.sum(axis=1)))

    found = temperatures_where_zero(above, np.array([FLASH_START_K]), LOWEST_K, HIGHEST_K)
    return float(found.root[0]) if found.converged[0] else None


@cache
def _blends() -> tuple[tuple[MeasuredFlash, Blend], ...]:
    """Each mixture with its answers, worked out once for all that is asked of them."""
    catalogue = default_catalogue()
    return tuple(
        (one, Blend(weigh(_formula(one), catalogue), ROOM_K, ATMOSPHERE_Pa)) for one in measured()
    )


def _closed_cup() -> list[tuple[MeasuredFlash, Blend]]:
    return [(one, blend) for one, blend in _blends() if one.group != "open cup"]


def cases() -> list[Case]:
    """Errors in K; the ideal liquid beside."""
    made = []
    for one, blend in _blends():
        value, low, high = blend.flash.estimate.interval()
        target = to_kelvin(one.flash_C)
        others = []
        ideal = ideal_flash_K(blend.modelled_components)
        if ideal is not None:
            others.append(("ideal liquid, gamma = 1 (naive)", ideal - target))
        half = high - value if target > value else value - low
        group = "closed cup" if one.group.startswith("closed cup") else one.group
        made.append(
            Case(one.words, value - target, half, group, tuple(others), measured=one.flash_C)
        )
    return made


def milder_than_measured() -> Counted:
    """How many were measured in no worse a category than they are to be treated as."""
    asked, wrong = _closed_cup(), []
    for one, blend in asked:
        boiling = blend.boiling.value
        truth = category_of(one.flash_C, to_celsius(boiling) if boiling else None)
        if rank("ghs", truth) < rank("ghs", blend.classings[0].treat_as):
            wrong.append(one.words)
    question = "measured in no worse a GHS category than the one to treat it as"
    return Counted(question, len(asked) - len(wrong), len(asked), 1.0, tuple(wrong))


def above_the_safety_bound() -> Counted:
    """Measured closed-cup flash points at or above the one-sided 99 % bound of the estimate."""
    asked = _closed_cup()
    missed = tuple(
        one.words
        for one, blend in asked
        if to_kelvin(one.flash_C) < lower_bound_K(blend.flash.estimate)
    )
    question = "flash points of mixtures: none measured below the one-sided 99 % bound"
    return Counted(question, len(asked) - len(missed), len(asked), 1.0, missed)
