"""Crystals: measured solubilities, orders, and limits."""

from __future__ import annotations

import math

import pytest

from blendwright import assess
from tests.conftest import formula


@pytest.mark.parametrize(
    ("solid", "solvent", "grams_per_100g_solvent"),
    [
        # solid_solubility.csv: 2.47 mol/L of solution at 25 °C (Open Notebook Science, CC0)
        ("vanillin", "ethanol", 52.0),
        # solid_solubility.csv: 1.12 mol/L of solution at 25 °C (Open Notebook Science, CC0)
        ("cinnamic acid", "ethanol", 22.0),
        # solid_solubility.csv: 28 mL of solvent per g at 25 °C (from memory: Food Chemicals Codex)
        ("maltol", "propylene glycol", 3.4),
    ],
)
def test_the_saturated_solution_saturates_near_the_measured_temperature(
    solid: str, solvent: str, grams_per_100g_solvent: float
) -> None:
    """At the measured solubility the last crystal must go near 25 °C: the interval holds it."""
    made = assess(formula((solid, grams_per_100g_solvent), (solvent, 100)))
    value, low, high = made.estimates["dissolution_temperature_C"].interval()
    assert low - 273.15 <= 25.0 <= high - 273.15
    assert abs(value - 298.15) < 25.0


def test_a_pure_solid_melts_at_its_melting_point() -> None:
    made = assess(formula(("vanillin", 1)))
    assert made.estimates["dissolution_temperature_C"].interval()[0] - 273.15 == pytest.approx(
        81.5, abs=3.0
    )
    assert made.dissolution == "undissolved"


def test_more_solid_needs_more_warmth() -> None:
    found = [
        assess(formula(("vanillin", grams), ("propylene glycol", 100 - grams)))
        .estimates["dissolution_temperature_C"]
        .interval()[0]
        for grams in (5, 15, 30, 50)
    ]
    assert found == sorted(found)


def test_vanillin_dissolves_in_ethanol_before_propylene_glycol_before_water() -> None:
    """Food Chem. 180 (2015) 244: ethanol > propylene glycol > water."""
    found = [
        assess(formula(("vanillin", 1), (solvent, 99)))
        .estimates["dissolution_temperature_C"]
        .interval()[0]
        for solvent in ("ethanol", "propylene glycol", "water")
    ]
    assert found == sorted(found)


def test_liquids_only_have_nothing_to_dissolve() -> None:
    made = assess(formula(("ethyl butyrate", 1), ("propylene glycol", 9)))
    assert made.estimates["dissolution_temperature_C"].status == "not_applicable"
    assert made.dissolution == "dissolves"


def test_heavy_loading_in_water_will_not_dissolve() -> None:
    made = assess(formula(("camphor", 1), ("water", 99)))
    assert made.dissolution == "undissolved"
    assert any(f.code == "WONT-DISSOLVE" for f in made.findings)


def test_medium_chain_triglycerides_do_not_freeze_by_their_pure_parts() -> None:
    """Ph. Eur. type oil is mixed esters and stays liquid; pure tricaprin melts at 31 °C."""
    made = assess(formula(("MCT oil", 10)))
    assert made.estimates["dissolution_temperature_C"].status == "not_applicable"


def test_the_ideal_law_of_fusion() -> None:
    """At the melting point the ideal activity is 1; below, it falls."""
    from blendwright.catalogue import default_catalogue
    from blendwright.pure.fusion import fusion

    melt = fusion(default_catalogue().find("thymol"))
    assert melt is not None
    melting = melt.melting.interval()[0]
    assert melt.ln_ideal_activity(melting) == 0.0
    assert melt.ln_ideal_activity(melting - 20) < melt.ln_ideal_activity(melting - 10) < 0.0
    assert math.exp(melt.ln_ideal_activity(298.15)) < 1.0
