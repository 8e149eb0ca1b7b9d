"""Vapour pressures at 25 °C from the boiling point or the structure alone, against published curves
and points.

Every substance of the catalogue with a published boiling point and a vapour pressure of its own,
which is then not looked at. The three constants of the estimate were fitted to 89 of them as one:
leaving out a substance would hardly move them, so they are kept. From the structure alone, boiling
point and all: by a model that has not seen the molecule (`structure_left_out.py`).
"""

from __future__ import annotations

import math
from functools import cache

from blendwright.catalogue import Material, default_catalogue
from blendwright.catalogue.kinds import kind_of
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.vapour_pressure import (
    LN_UNCERTAINTY,
    hydrogen_bonders,
    vapour_pressure,
    vapour_pressure_from_boiling_point,
)
from blendwright.questions.accuracy.structure_left_out import from_structure_unseen
from blendwright.questions.accuracy.table_lines import Case

TROUTON_J_mol_K = 88.0  # entropy of vaporisation at the boiling point (Trouton's rule)


@cache
def _published() -> tuple[tuple[Material, float], ...]:
    """Substances with a vapour pressure of their own: ln P at 25 °C, in the catalogue's order."""
    catalogue = default_catalogue()
    found = []
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or material.is_water or material.is_undisclosed:
            continue
        known = vapour_pressure(material)
        if known is not None and known.kind != "boiling point" and not known.estimated:
            found.append((material, float(known.ln_pressure(ROOM_K))))
    return tuple(found)


def structure_cases() -> list[Case]:
    """Errors in ln P of the estimate from the structure alone."""
    return [
        Case(
            material.name,
            unseen.ln_vapour_pressure_25C_Pa - published,
            unseen.ln_half_width,
            kind_of(material),
        )
        for material, published in _published()
        if (unseen := from_structure_unseen(material)) is not None
    ]


@cache
def uncalibrated() -> tuple[Case, ...]:
    """Errors in ln P, in the catalogue's order, with the half-width before any factor."""
    made = []
    for material, published in _published():
        boiling = boiling_point(material).value
        if boiling is None:
            continue
        estimate = vapour_pressure_from_boiling_point(boiling, *hydrogen_bonders(material))
        trouton = math.log(ATMOSPHERE_Pa) + TROUTON_J_mol_K / GAS_CONSTANT_J_mol_K * (
            1.0 - boiling / ROOM_K
        )
        made.append(
            Case(
                material.name,
                float(estimate.ln_pressure(ROOM_K)) - published,
                LN_UNCERTAINTY["boiling point"],
                kind_of(material),
                (("Trouton's rule (naive)", trouton - published),),
            )
        )
    return tuple(made)
