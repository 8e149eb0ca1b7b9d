"""Rates of evaporation from open vessels in a quiet room (`reference/evaporation_rates.csv`).

Errors as ln(predicted / published), at the row's own driving pressure: the mass transfer alone.
"""

from __future__ import annotations

import math

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_kelvin
from blendwright.formula.conditions import GAS_CONSTANT_J_mol_K
from blendwright.mixture.evaporation import (
    COEFFICIENT_FACTOR,
    air_coefficient_m_s,
    air_viscosity_m2_s,
    diffusivity_m2_s,
)
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case


def cases() -> list[Case]:
    """One a published rate; metre-wide pans stand apart, as moist air rises from them."""
    made = []
    for row in reference("evaporation_rates.csv"):
        material = default_catalogue().find(row["substance"])
        kelvin = to_kelvin(float(row["temperature_C"]))
        schmidt = np.array(air_viscosity_m2_s(kelvin) / diffusivity_m2_s(material, kelvin))
        diameter, speed = float(row["diameter_m"]), float(row["air_speed_m_s"])
        coefficient = float(air_coefficient_m_s(schmidt, diameter, speed))
        driving = float(row["driving_pressure_Pa"]) / (GAS_CONSTANT_J_mol_K * kelvin)
        rate_g_m2_h = coefficient * driving * material.molar_mass_kg_mol * 1e3 * 3600.0
        error = math.log(rate_g_m2_h / float(row["rate_g_m2_h"]))
        made.append(Case(row["substance"], error, math.log(COEFFICIENT_FACTOR), row["kind"]))
    return made
