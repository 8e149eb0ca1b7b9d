"""Vapour pressures at 25 °C from the boiling point alone, against published curves and points.

Every substance of the catalogue with a published boiling point and a vapour pressure of its own,
which is then not looked at. The three constants of the estimate were fitted to 89 of them as one:
leaving out a substance would hardly move them, so they are kept.
"""

from __future__ import annotations

import math
from functools import cache

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.kinds import kind_of
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.vapour_pressure import (
    LN_UNCERTAINTY,
    hydrogen_bonders,
    vapour_pressure,
    vapour_pressure_from_boiling_point,
)
from blendwright.questions.accuracy.table_lines import Case

TROUTON_J_mol_K = 88.0  # entropy of vaporisation at the boiling point (Trouton's rule)


@cache
def uncalibrated() -> tuple[Case, ...]:
    """Errors in ln P, in the catalogue's order, with the half-width before any factor."""
    catalogue = default_catalogue()
    made = []
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or material.is_water or material.is_undisclosed:
            continue
        known, boiling = vapour_pressure(material), boiling_point(material).value
        if known is None or known.kind == "boiling point" or known.estimated or boiling is None:
            continue
        published = float(known.ln_pressure(ROOM_K))
        estimate = vapour_pressure_from_boiling_point(boiling, *hydrogen_bonders(material))
        trouton = math.log(ATMOSPHERE_Pa) + TROUTON_J_mol_K / GAS_CONSTANT_J_mol_K * (
            1.0 - boiling / ROOM_K
        )
        made.append(
            Case(
                name,
                float(estimate.ln_pressure(ROOM_K)) - published,
                LN_UNCERTAINTY["boiling point"],
                kind_of(material),
                (("Trouton's rule (naive)", trouton - published),),
            )
        )
    return tuple(made)
