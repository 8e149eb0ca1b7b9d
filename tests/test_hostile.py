"""Extreme formulas get an answer or a reasoned "unknown", from every question that is asked."""

from __future__ import annotations

import json

import pytest

from blendwright import assess
from blendwright.catalogue import default_catalogue
from blendwright.questions.advice.carriers import compare_carriers
from blendwright.questions.drink.dosing import Dose, dose
from tests.conftest import formula
from tests.schemas import validator

EIGHTY = (
    *((name, 1.0) for name in default_catalogue().names()[:80]),
    ("propylene glycol", 200.0),
)
HOSTILE = {
    "all crystals": (("vanillin", 5.0), ("menthol", 5.0), ("camphor", 2.0)),
    "no carrier": (("ethyl butyrate", 5.0), ("limonene", 5.0)),
    "99 % water": (("limonene", 1.0), ("water", 99.0)),
    "pure ethanol": (("ethanol", 1.0),),
    "pure water": (("water", 1.0),),
    "a trace of acetaldehyde": (("acetaldehyde", 0.1), ("propylene glycol", 99.9)),
    "all terpene": (("limonene", 60.0), ("alpha-pinene", 30.0), ("myrcene", 10.0)),
    "it splits": (("limonene", 50.0), ("propylene glycol", 50.0)),
    "crystals and layers": (
        ("menthol", 20.0),
        ("limonene", 30.0),
        ("ethanol", 30.0),
        ("water", 20.0),
    ),
    "eighty rows": EIGHTY,
}


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("celsius", [-20.0, 25.0, 80.0])
def test_every_assessment_is_valid_json_and_says_its_reasons(name: str, celsius: float) -> None:
    made = assess(formula(*HOSTILE[name]), temperature_K=celsius + 273.15)
    data = made.to_dict()
    validator().validate(json.loads(json.dumps(data, allow_nan=False)))
    for estimate in made.estimates.values():
        if estimate.status != "ok":
            assert estimate.notes
        else:
            value, low, high = estimate.interval()
            assert low <= value <= high


def test_a_trace_of_acetaldehyde_in_glycol_is_no_all_clear() -> None:
    """0.1 % of what boils at 21 °C: the flash point is well below the carrier's 104 °C."""
    made = assess(formula(("acetaldehyde", 0.1), ("propylene glycol", 99.9)))
    flash = made.estimates["flash_point_closed_cup"].interval()
    assert flash[0] - 273.15 < 95.0
    assert made.flammability.category != "none"


def test_pure_water_does_not_burn_and_pure_ethanol_is_category_2() -> None:
    assert assess(formula(("water", 1.0))).flammability.category == "none"
    assert assess(formula(("ethanol", 1.0))).flammability.category == "2"


def test_crystals_and_layers_together_balance() -> None:
    """What lies as crystals and what lies in the two layers are not more than was weighed."""
    made = assess(formula(*HOSTILE["crystals and layers"]), temperature_K=278.15)
    assert sum(layer.share for layer in made.layers) == pytest.approx(1.0) or not made.layers
    for solid in made.solids:
        assert 0.0 <= solid.undissolved_here_g <= solid.mass_kg * 1e3 + 1e-9
        assert solid.back_4C_g <= solid.back_minus18C_g + 1e-6


@pytest.mark.parametrize("name", ["all crystals", "99 % water", "all terpene", "eighty rows"])
def test_carriers_and_doses_answer_too(name: str) -> None:
    blend = formula(*HOSTILE[name])
    compare_carriers(blend, ["ethanol"])
    made = dose(blend, "10 % sugar", Dose.of(drops=2, per_mL=100.0))
    json.dumps(made.to_dict(), allow_nan=False)
