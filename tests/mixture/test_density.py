"""How much room a blend takes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.mixture.composition import compose
from blendwright.mixture.density import BY_CLASSES, blend_density
from blendwright.mixture.excess_volume import excess_m3_mol, shipped
from blendwright.questions.accuracy.densities import MEASURED_PAIR, WRONG_ROWS, blend_cases
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import figures
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


def excess_volume_cm3_mol(x: dict[str, float]) -> float:
    """Excess volume of a blend, by mole fractions."""
    catalogue = default_catalogue()
    kg = [(catalogue.find(n), s * catalogue.find(n).molar_mass_kg_mol, 0) for n, s in x.items()]
    pairs = compose(kg).pairs
    moles = pairs.kg / pairs.substances.molar_mass_kg_mol[pairs.substance]
    return float(excess_m3_mol(pairs, moles / moles.sum(), shipped())[0][0] * 1e6)


def test_excess_volume_of_propylene_glycol_and_water() -> None:
    """excess_volume_propylene_glycol_water.csv (ThermoML): near 298 K within 0.05 cm3/mol."""
    rows = [
        row
        for row in reference("excess_volume_propylene_glycol_water.csv")
        if abs(float(row["temperature_K"]) - 298.15) < 6
    ]
    errors = []
    for row in rows:
        x = float(row["x_propylene_glycol"])
        found = excess_volume_cm3_mol({"propylene glycol": x, "water": 1 - x})
        errors.append(found - float(row["excess_volume_cm3_mol"]))
    assert np.sqrt(np.mean(np.square(errors))) < 0.05


LIQUIDS = st.sampled_from(
    ["ethanol", "water", "propylene glycol", "ethyl butyrate", "limonene", "benzyl alcohol",
     "acetone", "triacetin", "furfural", "hexanal", "eugenol", "hexanoic acid"]
)  # fmt: skip


@given(LIQUIDS, LIQUIDS, st.floats(1e-6, 1.0 - 1e-6))
def test_an_excess_volume_vanishes_at_both_ends_and_knows_no_order(
    one: str, other: str, x: float
) -> None:
    if one == other:
        return
    there = excess_volume_cm3_mol({one: x, other: 1.0 - x})
    assert there == pytest.approx(excess_volume_cm3_mol({other: 1.0 - x, one: x}), abs=1e-9)
    assert abs(excess_volume_cm3_mol({one: 1.0 - 1e-9, other: 1e-9})) < 1e-6


def test_a_trace_of_a_third_liquid_changes_a_measured_pair_by_a_trace() -> None:
    """Kohler's rule in place of the classes leaves no step where a pair is known."""
    pair = excess_volume_cm3_mol({"ethanol": 0.4, "water": 0.6})
    third = excess_volume_cm3_mol({"ethanol": 0.4, "water": 0.6, "limonene": 1e-7})
    assert third == pytest.approx(pair, abs=1e-5)


def test_systems_left_out_within_a_fifth_of_a_per_cent_and_their_intervals_hold() -> None:
    """density_systems.csv, density_mixtures.csv (ThermoML): each system by a fit without it."""
    cases = [case for case in blend_cases() if case.group == BY_CLASSES]
    found = figures("density", "%", cases)
    half = np.mean([case.half_width for case in cases if case.half_width is not None])
    print(found, f"mean half-width {half:.2f} %")
    assert len({case.substance for case in cases}) >= 40
    assert found.mean_absolute <= 0.20
    assert half <= 0.60
    assert 0.85 <= found.coverage[0].share <= 0.95


def test_a_measured_pair_is_nearer_than_the_classes() -> None:
    """By a series through every other row of it, judged by the rows between."""
    cases = blend_cases()
    error = {
        kind: np.mean([abs(c.error) for c in cases if c.group == kind])
        for kind in (BY_CLASSES, MEASURED_PAIR)
    }
    print(error)
    assert error[MEASURED_PAIR] < 0.5 * error[BY_CLASSES]


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
