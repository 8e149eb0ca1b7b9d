"""The example formula, end to end: what a flavour maker reads and may rely on."""

from __future__ import annotations

from pathlib import Path

import pytest

from blendwright import Formula, assess, read_formula

EXAMPLES = Path(__file__).parent.parent / "examples"


ORCHARD = read_formula(EXAMPLES / "orchard-pear-cardamom.csv")
PEAR_ESTERS = (
    "ethyl acetate",
    "isoamyl acetate",
    "hexyl acetate",
    "ethyl butyrate",
    "ethyl 2-methylbutyrate",
    "pear ester",
)


def with_esters_times(factor: float) -> Formula:
    """The concentrate with so many times its esters, made up to the 50 g with the glycol."""
    rows = [
        {**row, "grams": factor * float(str(row["grams"]))}
        if row["material"] in PEAR_ESTERS
        else row
        for row in ORCHARD.to_rows()
    ]
    return Formula.from_rows(rows, "milder orchard pear", batch_g=50.0)


@pytest.mark.parametrize(
    ("formula", "liquids"),
    [(ORCHARD, ("may_cloud", "splits")), (with_esters_times(0.6), ("clear",))],
    ids=["as written", "with six tenths of the esters"],
)
def test_the_orchard_pear_and_cardamom_concentrate(
    formula: Formula, liquids: tuple[str, ...]
) -> None:
    made = assess(formula)
    codes = [finding.code for finding in made.findings]
    assert made.weighing.total_g == pytest.approx(50.0)
    # It is made up with propylene glycol and dissolves on the bench. Its esters are near what the
    # glycol holds: with fewer it stays one liquid, as written it may not, which is said.
    assert made.weighing.rows[-1].material.name == "propylene glycol"
    assert made.dissolution == "dissolves"
    assert made.liquid in liquids
    assert any(code in codes for code in ("SPLITS", "MAY-CLOUD")) == (made.liquid != "clear")
    # Its light esters make it a flammable liquid, although four fifths are propylene glycol.
    assert made.flammability.category in ("2", "3")
    driver = max(made.contributions, key=lambda c: c.flammability_pct)
    assert driver.material == "ethyl acetate"
    # A natural oil is in it, so the class is never called clear.
    assert made.flammability.standing == "too_near"
    # Fifty grams fill about fifty millilitres.
    value, low, high = made.estimates["volume"].in_display_units().interval()
    assert 48.0 < low < value < high < 51.0
    assert {"FLAMMABLE", "EVAPORATES"} <= set(codes)
    # Below 23 °C it is category 2, and it gives off an ignitable vapour on the bench.
    assert ("FLASH-AT-BENCH" in codes) == (made.flammability.category == "2")
    # The gravest comes first.
    order = ["warning", "caution", "info"]
    severities = [order.index(finding.severity) for finding in made.findings]
    assert severities == sorted(severities)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.csv")), ids=lambda p: p.stem)
def test_every_example_is_assessed(path: Path) -> None:
    made = assess(read_formula(path))
    assert all(e.is_ok or e.notes for e in made.estimates.values())
    assert made.flammability.category != "unknown"
