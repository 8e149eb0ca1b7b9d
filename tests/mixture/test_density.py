"""How much room a blend takes."""

from __future__ import annotations

import numpy as np
import pytest

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.composition import compose
from blendwright.mixture.density import blend_density
from blendwright.questions.accuracy.densities import WRONG_ROWS
from blendwright.questions.accuracy.reference import reference
from tests.conftest import formula

DENSITIES = [
    row
    for row in reference("density.csv")
    if (row["composition"], row["temperature_K"], row["density_kg_m3"]) not in WRONG_ROWS
]


def relative_error(row: dict[str, str]) -> float:
    catalogue = default_catalogue()
    parts = [part.rsplit(" ", 1) for part in row["composition"].split("; ")]
    blend = compose(
        [
            (catalogue.find(name), float(x) * catalogue.find(name).molar_mass_kg_mol, 0)
            for name, x in parts
        ]
    )
    found = blend_density(blend, float(row["temperature_K"])).interval()[0]
    return found / float(row["density_kg_m3"]) - 1.0


def test_densities_within_half_a_per_cent_and_none_over_two_and_a_half() -> None:
    """density.csv (ThermoML archive, NIST, and others named on each row)."""
    errors = np.array([relative_error(row) for row in DENSITIES])
    assert len(errors) > 350
    assert np.abs(errors).mean() <= 0.005
    worst = int(np.abs(errors).argmax())
    assert abs(errors[worst]) <= 0.025, DENSITIES[worst]


def test_excess_volume_of_propylene_glycol_and_water() -> None:
    """excess_volume_propylene_glycol_water.csv (ThermoML): near 298 K within 0.05 cm3/mol."""
    from blendwright.mixture.density import excess_volume_m3_mol

    rows = [
        row
        for row in reference("excess_volume_propylene_glycol_water.csv")
        if abs(float(row["temperature_K"]) - 298.15) < 6
    ]
    errors = []
    for row in rows:
        x = float(row["x_propylene_glycol"])
        found, _ = excess_volume_m3_mol(("propylene glycol", "water"), np.array([x, 1 - x]))
        errors.append(found * 1e6 - float(row["excess_volume_cm3_mol"]))
    assert np.sqrt(np.mean(np.square(errors))) < 0.05


@pytest.mark.parametrize(
    ("percent", "density_g_mL"), [(40, 0.9481), (96, 0.8074)], ids=["40 % vol", "96 % vol"]
)
def test_aqueous_ethanol_by_volume(percent: float, density_g_mL: float) -> None:
    """OIML R 22 at 20 °C: 0.94806 at 40 % vol and 0.8074 at 96 % vol."""
    made = assess(formula(("ethanol", 10, f"{percent} % vol")), temperature_K=293.15)
    found = made.estimates["density"].interval()[0] / 1e3
    assert found == pytest.approx(density_g_mL, abs=0.0015)


def test_volume_is_mass_over_density_and_scales() -> None:
    small = assess(formula(("ethyl butyrate", 1), ("propylene glycol", 4))).estimates
    large = assess(formula(("ethyl butyrate", 10), ("propylene glycol", 40))).estimates
    assert large["volume"].interval()[0] == pytest.approx(10 * small["volume"].interval()[0])
    assert large["density"].interval() == pytest.approx(small["density"].interval())
