"""The example formula, end to end: what a flavour maker reads and may rely on."""

from __future__ import annotations

from pathlib import Path

import pytest

from blendwright import assess, read_formula

EXAMPLES = Path(__file__).parent.parent / "examples"


def test_the_orchard_pear_and_cardamom_concentrate() -> None:
    made = assess(read_formula(EXAMPLES / "orchard-pear-cardamom.csv"))
    assert made.weighing.total_g == pytest.approx(50.0)
    # It is made up with propylene glycol, dissolves on the bench and stays one liquid.
    assert made.weighing.rows[-1].material.name == "propylene glycol"
    assert made.dissolution == "dissolves"
    assert made.liquid == "clear"
    # Its light esters make it a flammable liquid, although four fifths are propylene glycol.
    assert made.flammability.category in ("2", "3")
    driver = max(made.contributions, key=lambda c: c.flammability_pct)
    assert driver.material == "ethyl acetate"
    # A natural oil is in it, so the class is never called clear.
    assert made.flammability.standing == "too_near"
    # Fifty grams fill about fifty millilitres.
    value, low, high = made.estimates["volume"].at_the_edge().interval()
    assert 48.0 < low < value < high < 51.0
    codes = [finding.code for finding in made.findings]
    assert {"FLAMMABLE", "FLASH-AT-BENCH", "EVAPORATES"} <= set(codes)
    # The gravest comes first.
    order = ["warning", "caution", "info"]
    severities = [order.index(finding.severity) for finding in made.findings]
    assert severities == sorted(severities)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.csv")), ids=lambda p: p.stem)
def test_every_example_is_assessed(path: Path) -> None:
    made = assess(read_formula(path))
    assert all(e.is_ok or e.notes for e in made.estimates.values())
    assert made.flammability.category != "unknown"
