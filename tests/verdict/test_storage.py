"""What is said of bottles, plastics and the fridge."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from blendwright import assess
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.estimate import Estimate
from blendwright.verdict import Finding
from blendwright.verdict.plastics import PLASTICS, Hansen, OneContact, hansen_parameters
from blendwright.verdict.rule import spoken
from blendwright.verdict.storage import COOL, FILLING, OneCool, OneFilling
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

ADR = Estimate.ok(95.6, 95.1, 96.1, "%", "test")
FULL = Estimate.ok(97.1, 96.6, 97.7, "%", "test")
AIR_Pa = 101325.0


def kPa(value: float, high: float | None = None) -> Estimate:
    return Estimate.ok(value * 1e3, value * 1e3, (high or value) * 1e3, "Pa", "test")


def flash(low_C: float) -> Estimate:
    return Estimate.ok(low_C + 283.15, low_C + 273.15, low_C + 293.15, "K", "test")


contacts = OneContact.of


def filled(vapour: Estimate, bottle: Estimate, fill: float = 0.9) -> dict[str, Finding]:
    one = OneFilling(ADR, FULL, vapour, bottle, fill, AIR_Pa)
    return by_code(spoken(FILLING, one.facts, one))


def plastic_findings(one: OneContact) -> list[Finding]:
    return spoken(PLASTICS, one.facts, one)


def cool_findings(flash: Estimate) -> list[Finding]:
    one = OneCool(flash, ())
    return spoken(COOL, one.facts, one)


def attacked(found: OneContact) -> set[str]:
    return {c.polymer for c in found.polymers if c.attacks}


def by_code(findings: list[Finding]) -> dict[str, Finding]:
    return {finding.code: finding for finding in findings}


@pytest.mark.parametrize(
    ("vapour", "bottle", "severity"),
    [
        (kPa(6), kPa(151), None),
        (kPa(38), kPa(217), "caution"),  # more than 110 kPa above the air
        (kPa(100, 115), kPa(200), "caution"),  # may pass 110 kPa at 50 °C
        (kPa(280, 310), kPa(500), "warning"),  # may pass 300 kPa: UN 1.2.1, a gas
        (kPa(320), kPa(500), "warning"),
    ],
)
def test_pressure_at_50_degrees(vapour: Estimate, bottle: Estimate, severity: str | None) -> None:
    found = filled(vapour, bottle).get("PRESSURE-WARM")
    assert (found.severity if found else None) == severity


def test_a_bottle_that_is_liquid_full_at_50_degrees_is_warned_of() -> None:
    full = Estimate.absent("Pa", "out_of_range", "liquid-full at 50 °C")
    found = filled(kPa(6), full, 0.99)["PRESSURE-WARM"]
    assert found.severity == "warning"


def test_the_fill_limit_takes_the_cautious_ends_and_rounds_down() -> None:
    found = filled(kPa(6), kPa(151))["FILL-LIMIT"]
    assert "95 % at most" in found.message
    assert "50 above the air" in found.message


def test_unknown_density_or_pressure_is_said() -> None:
    unknown = Estimate.unknown("%", "no liquid density of a base")
    one = OneFilling(unknown, unknown, kPa(6), kPa(151), 0.9, AIR_Pa)
    found = by_code(spoken(FILLING, one.facts, one))
    assert found["FILL-UNKNOWN"].severity == "caution"
    blind = Estimate.unknown("Pa", "its vapour pressure is unknown")
    said = filled(blind, blind)["FILL-LIMIT"]
    assert "can't be said" in said.message


def test_hansen_distance_by_hand() -> None:
    """Ethyl acetate and polystyrene: 4 x 5.5^2 + 0.5^2 + 2.9^2 = 129.66, root 11.39; RED 0.897."""
    ester = hansen_parameters("substance")["ethyl acetate"]
    plastic = hansen_parameters("polymer")["polystyrene"]
    assert ester.distance(plastic) == pytest.approx(11.387, abs=0.001)
    assert ester.distance(ester) == 0.0
    assert plastic.radius == 12.7


def test_what_is_known_to_attack_does() -> None:
    """Common knowledge of the laboratory: ethyl acetate dissolves polystyrene and acrylic glass,
    acetone polycarbonate, limonene polystyrene."""
    assert {"polystyrene", "PMMA (acrylic glass)"} <= attacked(contacts({"ethyl acetate": 1.0}))
    assert "polycarbonate" in attacked(contacts({"acetone": 1.0}))
    assert "polystyrene" in attacked(contacts({"limonene": 1.0}))


@pytest.mark.parametrize("liquid", ["water", "propylene glycol", "glycerol"])
def test_carriers_attack_nothing(liquid: str) -> None:
    assert attacked(contacts({liquid: 1.0})) == set()


def test_esters_hidden_in_glycol_still_count() -> None:
    """The mean of 10 % ester in glycol is far from polystyrene; the plastic picks the ester out."""
    found = contacts({"ethyl acetate": 0.10, "propylene glycol": 0.90})
    polystyrene = next(c for c in found.polymers if c.polymer == "polystyrene")
    assert polystyrene.red > 1.0
    assert polystyrene.attackers == ("ethyl acetate",)
    assert attacked(contacts({"ethyl acetate": 0.01, "propylene glycol": 0.99})) == set()


def test_more_than_a_fifth_without_values_is_unknown_never_safe() -> None:
    found = by_code(plastic_findings(contacts({"vetivone": 0.3, "propylene glycol": 0.7})))
    assert set(found) == {"PLASTIC-UNKNOWN"}
    nothing = by_code(plastic_findings(contacts({"vetivone": 1.0})))
    assert set(nothing) == {"PLASTIC-UNKNOWN"}
    assert "100 %" in nothing["PLASTIC-UNKNOWN"].message


def test_the_best_verdict_still_asks_for_a_test() -> None:
    found = by_code(plastic_findings(contacts({"water": 1.0})))["PLASTIC-NO-ATTACK"]
    assert found.severity == "info"
    assert found.action == "Test a bottle."
    assert "safe" not in found.message


def test_hansen_rows_have_sources_and_their_substances_are_in_the_catalogue() -> None:
    catalogue = default_catalogue()
    text = (files("blendwright.verdict") / "hansen.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert all(row["source"] for row in rows)
    assert len({row["material"] for row in rows}) == len(rows)
    for name, value in hansen_parameters("substance").items():
        assert catalogue.find(name).name == name
        assert value.radius is None
    assert all(value.radius for value in hansen_parameters("polymer").values())
    assert Hansen(15.5, 16.0, 42.3) == hansen_parameters("substance")["water"]


@pytest.mark.parametrize(
    ("low_C", "code"),
    [
        (-10, "FRIDGE-SPARKS"),
        (20, "FRIDGE-SPARKS"),
        (21, "KEEP-COOL"),
        (40, "KEEP-COOL"),
        (41, None),
    ],
)
def test_where_to_keep_it(low_C: float, code: str | None) -> None:
    """15 °C under the low end (EN 1127-1, TRGS 721) against a fridge at 5 °C; 40 °C a hot store."""
    found = cool_findings(flash(low_C))
    assert [f.code for f in found] == ([code] if code else [])


def test_an_unknown_flash_point_is_kept_from_the_fridge() -> None:
    assert cool_findings(Estimate.unknown("K", "no data"))[0].code == "FRIDGE-SPARKS"
    assert cool_findings(Estimate.absent("K", "not_applicable", "nothing burns")) == []


def test_the_assessment_says_all_of_it() -> None:
    codes = {f.code for f in assess(formula(*ESTER_RICH_CONCENTRATE)).findings}
    assert {"EVAPORATES", "FILL-LIMIT", "PLASTIC-ATTACK", "FRIDGE-SPARKS"} <= codes


def test_a_blend_of_unknown_vapour_gets_no_loss_and_says_so(with_house_powder: Catalogue) -> None:
    made = assess(formula(("house powder", 5), ("water", 5)), catalogue=with_house_powder)
    assert any(f.code in ("FILL-LIMIT", "FILL-UNKNOWN") for f in made.findings)
