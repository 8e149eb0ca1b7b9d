"""What is said of reactions in the bottle: each kind on its textbook pair, silent on a control."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path

import pytest

from blendwright import assess
from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.verdict import Finding
from blendwright.verdict.reactions import (
    KINDS,
    NO_RATE,
    NOTABLE,
    REACTIONS,
    OneMixed,
    cited,
    facts,
    reactive_groups,
)
from blendwright.verdict.rule import spoken
from tests.conftest import formula

ROOT = Path(__file__).parent.parent.parent


def reaction_findings(parts: Iterable[tuple[Material, float]]) -> list[Finding]:
    one = OneMixed.of(parts)
    return spoken(REACTIONS, one.facts, one)


def reactions(**shares_pct: float) -> dict[str, Finding]:
    """Findings by code of a blend in per cent; what is missing to 100 is triacetin, which carries
    no alcohol, no aldehyde and no amine (its ester needs an alcohol or water)."""
    catalogue = default_catalogue()
    parts = [
        (catalogue.find(name.replace("_", " ")), pct / 100.0) for name, pct in shares_pct.items()
    ]
    rest = 1.0 - sum(share for _, share in parts)
    found = reaction_findings([*parts, (catalogue.find("triacetin"), rest)])
    assert len({f.code for f in found}) == len(found)  # at most one of each kind
    return {finding.code: finding for finding in found}


@pytest.mark.parametrize(
    ("code", "pair", "control"),
    [
        ("ACETAL-FORMS", {"hexanal": 1, "propylene_glycol": 80}, {"hexanal": 1}),
        ("ACETAL-FORMS", {"hexanal": 1, "ethanol": 80}, {"gamma-decalactone": 1, "ethanol": 80}),
        ("ACETAL-FORMS", {"vanillin": 1, "glycerol": 30}, {"eugenol": 1, "glycerol": 30}),
        ("ESTER-EXCHANGE", {"hexyl_acetate": 5, "propylene_glycol": 80}, {"hexyl_acetate": 5}),
        ("SCHIFF-BASE", {"methyl_anthranilate": 1, "citral": 1}, {"methyl_anthranilate": 1}),
        (
            "SCHIFF-BASE",
            {"methyl_anthranilate": 1, "benzaldehyde": 1},
            {"dimethyl_anthranilate": 1, "benzaldehyde": 1},  # a secondary amine makes none
        ),
        ("AMINE-COLOUR", {"vanillin": 2, "indole": 0.1}, {"benzaldehyde": 2, "indole": 0.1}),
        ("AMINE-COLOUR", {"ethyl_vanillin": 2, "methyl_anthranilate": 1}, {"ethyl_vanillin": 2}),
        ("ALDEHYDE-OXIDISES", {"benzaldehyde": 1}, {"vanillin": 1}),  # a phenol stops the chain
        ("TERPENE-OXIDISES", {"limonene": 10}, {"eucalyptol": 10}),  # an ether, no double bond
        ("WATER-HYDROLYSIS", {"ethyl_acetate": 5, "water": 20}, {"ethyl_acetate": 5}),
    ],
    ids=lambda value: "+".join(value) if isinstance(value, dict) else value,
)
def test_each_kind_on_its_textbook_pair_and_silent_on_a_control(
    code: str, pair: dict[str, float], control: dict[str, float]
) -> None:
    found = reactions(**pair)
    assert code in found
    assert found[code].materials
    assert code not in reactions(**control)


def test_negligible_shares_are_not_spoken_of() -> None:
    assert reactions(hexanal=0.05, propylene_glycol=80).keys() == {"ESTER-EXCHANGE"}  # triacetin's
    assert "SCHIFF-BASE" not in reactions(methyl_anthranilate=0.01, citral=1)
    assert "TERPENE-OXIDISES" not in reactions(limonene=0.5)
    assert "WATER-HYDROLYSIS" not in reactions(ethyl_acetate=5, water=1)


def test_an_ethyl_ester_in_ethanol_stays_itself() -> None:
    """Ester exchange with its own alcohol changes nothing; with glycol it does."""
    catalogue = default_catalogue()

    def codes(ester: str, alcohol: str) -> set[str]:
        pair = [(catalogue.find(ester), 0.05), (catalogue.find(alcohol), 0.95)]
        return {f.code for f in reaction_findings(pair)}

    assert "ESTER-EXCHANGE" not in codes("ethyl butyrate", "ethanol")
    assert "ESTER-EXCHANGE" in codes("isoamyl acetate", "ethanol")
    assert "ESTER-EXCHANGE" in codes("ethyl butyrate", "propylene glycol")
    assert "ESTER-EXCHANGE" in codes("delta-decalactone", "ethanol")


def test_the_acetal_finding_names_materials_shares_number_and_source() -> None:
    found = reactions(vanillin=1.8, benzaldehyde=0.1, propylene_glycol=80)["ACETAL-FORMS"]
    assert found.materials == ("vanillin", "benzaldehyde")
    for part in (
        "vanillin 1.8 %",
        "benzaldehyde 0.1 %",
        "up to 40 %",
        "Erythropel and others 2019",
    ):
        assert part in found.message
    assert "ethanol" not in found.message
    spirit = reactions(hexanal=1, ethanol=80)["ACETAL-FORMS"].message
    assert "propylene glycol" not in spirit
    assert "81 % of the aldehyde as hemiacetals" in spirit


def test_a_caution_from_one_per_cent_on_below_it_a_note() -> None:
    assert NOTABLE == 0.01
    assert reactions(benzaldehyde=1.0)["ALDEHYDE-OXIDISES"].severity == "caution"
    assert reactions(benzaldehyde=0.5)["ALDEHYDE-OXIDISES"].severity == "info"


def test_acids_are_said_to_speed_it() -> None:
    with_acid = reactions(ethyl_acetate=5, water=20, citric_acid=1)["WATER-HYDROLYSIS"].message
    assert "Acids in it speed this up: citric acid 1 %" in with_acid
    assert "Acids" not in reactions(ethyl_acetate=5, water=20)["WATER-HYDROLYSIS"].message


def test_where_no_rate_is_known_that_is_said() -> None:
    schiff = reactions(methyl_anthranilate=1, citral=1)["SCHIFF-BASE"].message
    assert NO_RATE in schiff
    assert "dark yellow after 30 min" in schiff
    assert "110 °C" in schiff
    for code, kind in KINDS.items():
        known = any(fact.number for fact in facts() if fact.code == code)
        assert known or not kind.rate_known


def test_every_row_has_a_source_in_the_bibliography_and_a_known_kind() -> None:
    sources = default_catalogue().sources
    assert {fact.source for fact in facts()} <= set(sources)
    assert {fact.code for fact in facts()} == set(KINDS)
    for fact in facts():
        assert ("{amount}" in fact.what) == bool(fact.number)
        assert cited(fact.source) in fact.words()


def test_every_new_source_is_used_or_said_to_be_read() -> None:
    text = (files("blendwright.catalogue") / "data/sources/reactions.json").read_text("utf-8")
    items = json.loads(text)
    assert all(item["note"] for item in items)
    used = {fact.source for fact in facts()}
    assert {item["id"] for item in items} <= used


def test_the_codes_are_documented() -> None:
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    for code in (*KINDS, "REACTIONS-UNKNOWN"):
        assert re.search(f"`{code}`", text), code


@pytest.mark.parametrize(
    ("material", "groups"),
    [
        ("vanillin", "aldehyde phenolic_aldehyde"),
        ("citral", "aldehyde terpene_alkene"),
        ("ethyl butyrate", "ester"),
        ("isoamyl formate", "ester ester_not_ethyl"),
        ("gamma-decalactone", "lactone"),
        ("delta-decalactone", "delta_lactone lactone"),
        ("methyl anthranilate", "ester ester_not_ethyl primary_amine"),
        ("propylene glycol", "alcohol glycol"),
        ("dipropylene glycol", "alcohol"),
        ("triethyl citrate", "ester"),  # its alcohol is tertiary
        ("beta-pinene", "terpene_alkene"),
        ("eucalyptol", ""),
        ("maltol", ""),
        ("piperonal", "aldehyde"),
    ],
)
def test_groups_follow_from_the_structure(material: str, groups: str, catalogue: Catalogue) -> None:
    assert reactive_groups(catalogue.find(material)) == frozenset(groups.split())


def test_the_shipped_table_is_what_the_structures_give(catalogue: Catalogue) -> None:
    from blendwright.pure.structure.reactive import table

    text = (files("blendwright.verdict") / "reactive_groups.csv").read_text(encoding="utf-8")
    shipped = [(row["material"], row["groups"]) for row in csv.DictReader(text.splitlines())]
    made = table(catalogue.material(name) for name in catalogue.names())
    assert shipped == made, "run: python -m blendwright.pure.structure.reactive"


def test_every_substance_of_known_structure_is_in_the_table(catalogue: Catalogue) -> None:
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind == "substance" and material.smiles:
            assert reactive_groups(material) is not None, name


def test_a_material_outside_the_catalogue_is_read_by_its_structure(catalogue: Catalogue) -> None:
    from blendwright.pure.structure import material_from_smiles

    cyclamen = material_from_smiles("CC(C)c1ccc(CC(C)C=O)cc1")
    found = reaction_findings([(cyclamen, 0.05), (catalogue.find("propylene glycol"), 0.95)])
    assert "ACETAL-FORMS" in {f.code for f in found}


def test_an_unknown_structure_is_said_never_taken_for_safe(catalogue: Catalogue) -> None:
    from dataclasses import replace

    base = replace(catalogue.find("ethanol"), name="a bought base", smiles="", formula="")
    carrier = catalogue.find("triacetin")
    found = {f.code: f for f in reaction_findings([(base, 0.1), (carrier, 0.9)])}
    assert found["REACTIONS-UNKNOWN"].materials == ("a bought base",)
    assert reaction_findings([(base, 0.005), (carrier, 0.995)]) == []


def test_the_assessment_says_it() -> None:
    made = assess(formula(("vanillin", 2), ("methyl anthranilate", 1), ("propylene glycol", 97)))
    codes = [f.code for f in made.findings]
    for code in ("ACETAL-FORMS", "SCHIFF-BASE", "AMINE-COLOUR"):
        assert codes.count(code) == 1
