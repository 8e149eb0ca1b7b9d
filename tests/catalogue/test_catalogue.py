"""The catalogue's text files: complete, sourced, consistent, and found by any name."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from blendwright.catalogue import Catalogue, Material
from blendwright.catalogue.material import atoms
from blendwright.catalogue.names import cas_check_digit_is_right, normalise
from blendwright.errors import AmbiguousMaterialError, CatalogueError, UnknownMaterialError
from blendwright.mixture.weighing import resolve
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.materials.audit import opened


@pytest.fixture(scope="module")
def materials(catalogue: Catalogue) -> list[Material]:
    return [catalogue.material(name) for name in catalogue.names()]


def test_breadth_by_family(materials: list[Material]) -> None:
    count: dict[str, int] = {}
    for material in materials:
        count[material.family] = count.get(material.family, 0) + 1
    least = {
        "esters": 35, "aldehydes": 10, "ketones": 6, "alcohols": 10, "lactones": 6,
        "phenols and ethers": 6, "terpenes": 6, "acids": 4, "crystals": 12, "carriers": 9,
        "natural oils": 3,
    }  # fmt: skip
    assert {family: n for family, n in least.items() if count.get(family, 0) < n} == {}


def test_every_fact_names_a_source_of_the_bibliography(
    catalogue: Catalogue, materials: list[Material]
) -> None:
    for material in materials:
        for fact in (*material.data, *material.curves, *material.constituents):
            assert fact.source in catalogue.sources, (material.name, fact)


def test_every_source_says_how_it_was_read_and_most_open(catalogue: Catalogue) -> None:
    """A remembered source never claims to have been read; what was read and has no address is a
    page or a paper whose place stands in words."""
    for source in catalogue.sources.values():
        assert source.read in ("full", "abstract", "secondary", "memory", "none")
        if source.kind == "from memory":
            assert source.read == "memory", source.key
        if source.was_read:
            assert source.address or source.published_in or source.note, source.key
        if source.address and source.kind == "dataset":
            assert source.licence, source.key


def test_every_accepted_number_leads_to_a_source_that_says_how_it_was_read(
    catalogue: Catalogue, materials: list[Material]
) -> None:
    """Facts, correlations, compositions and solubilities; what was published was read or is
    remembered, what was read names its place, and what was made here is an estimate."""
    walked = 0
    for material in materials:
        facts = [fact for fact in (*material.data, *material.curves) if not fact.rejected]
        for fact in (*facts, *material.constituents, *material.solubilities):
            source = catalogue.sources[fact.source]
            walked += 1
            if source.was_read:
                assert source.address or source.published_in or source.note, source.key
            elif source.read == "none":
                made = getattr(fact, "method", "estimated") == "estimated"
                assert made or source.kind in ("common practice", "own estimate"), (
                    material.name, fact,
                )  # fmt: skip
            else:
                assert source.reading == "from memory"
    assert walked > 8_000


def test_no_value_is_under_a_licence_that_forbids_commerce(catalogue: Catalogue) -> None:
    assert [s.key for s in catalogue.sources.values() if "NC" in s.licence.split("-")] == []
    assert all("BY-NC" not in s.licence + s.published_in for s in catalogue.sources.values())


@pytest.mark.parametrize("fact", ["flash_point", "density", "melting_point", "heat_of_fusion"])
def test_half_of_the_published_values_can_be_opened(catalogue: Catalogue, fact: str) -> None:
    opens, known = opened(catalogue)[fact]
    assert opens >= 0.5 * known


def test_a_source_that_does_not_say_how_it_was_read_is_refused(tmp_path: Path) -> None:
    bad = Catalogue(folder(tmp_path, HEADER))
    item = {"id": "x", "title": "T", "custom": {"kind": "article", "read": "glanced at"}}
    (tmp_path / "sources/all.json").write_text(json.dumps([item]), encoding="utf-8")
    with pytest.raises(CatalogueError, match=r"all.json, x: read 'glanced at'"):
        assert bad.sources


def test_cas_numbers_have_their_check_digit(materials: list[Material]) -> None:
    assert [m.name for m in materials if m.cas and not cas_check_digit_is_right(m.cas)] == []


def test_formula_matches_structure_and_groups_are_there(materials: list[Material]) -> None:
    no_groups = [m.name for m in materials if m.kind == "substance" and not m.groups]
    assert no_groups == []
    for material in materials:
        if material.kind == "substance":
            heavy = len(
                re.findall(r"Cl|Br|[CNOSPcnosp]", re.sub(r"\[|\]|@|H\d?", "", material.smiles))
            )
            assert heavy == sum(n for e, n in atoms(material.formula).items() if e != "H")


def test_oils_and_mixtures_add_up(materials: list[Material]) -> None:
    for material in materials:
        if material.kind != "substance":
            total = sum(part.typical for part in material.constituents)
            assert 0.95 <= total <= 1.02, material.name
            assert all(p.low <= p.typical <= p.high for p in material.constituents), material.name


def test_no_two_materials_claim_one_name(materials: list[Material]) -> None:
    owner: dict[str, str] = {}
    for material in materials:
        for name in (material.name, *material.names):
            assert owner.setdefault(normalise(name), material.name) == material.name, name


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("PG", "propylene glycol"),
        ("TEC", "triethyl citrate"),
        ("mct", "MCT oil"),
        ("Aldehyde C-16", "ethyl methylphenylglycidate"),
        ("aldehyde c16", "ethyl methylphenylglycidate"),
        ("105-54-4", "ethyl butyrate"),
        ("γ-decalactone", "gamma-decalactone"),
        ("GAMMA DECALACTONE", "gamma-decalactone"),
        ("α-Terpineol", "alpha-terpineol"),
        ("Éthyl butyrate", "ethyl butyrate"),
        ("1,8-cineole", "eucalyptol"),
        ("glycerin", "glycerol"),
        ("Ethanol", "ethanol"),
    ],
)
def test_names_that_people_write(catalogue: Catalogue, written: str, meant: str) -> None:
    assert catalogue.find(written).name == meant


def test_a_near_miss_names_what_is_near(catalogue: Catalogue) -> None:
    with pytest.raises(UnknownMaterialError) as caught:
        resolve("vannilin", catalogue)
    assert caught.value.suggestions == ("vanillin",)
    with pytest.raises(UnknownMaterialError) as caught:
        resolve("hexenyl butyrate", catalogue)
    assert caught.value.suggestions[0] in catalogue.find("cis-3-hexenyl butyrate").names


def test_an_ambiguous_name_lists_the_choices(catalogue: Catalogue) -> None:
    with pytest.raises(AmbiguousMaterialError) as caught:
        catalogue.find("amyl acetate")
    assert caught.value.choices == ("isoamyl acetate", "2-methylbutyl acetate", "pentyl acetate")


@pytest.mark.parametrize("name", ["toluene", "108-88-3"])
def test_beyond_the_catalogue_works_and_says_so(catalogue: Catalogue, name: str) -> None:
    found = resolve(name, catalogue)
    assert not found.curated
    assert found.cas == "108-88-3"
    assert found.accepted("flash_point")[0].value - 273.15 == pytest.approx(4.0, abs=3.0)


def test_the_library_s_false_flash_column_is_never_used(catalogue: Catalogue) -> None:
    """Its "Serat DIPPR (2017)" values aren't flash points: ethanol would be -13 °C."""
    for name in catalogue.names():
        assert all("serat" not in d.source for d in catalogue.material(name).data)


def folder(tmp_path: Path, properties: str) -> Path:
    files = {
        "materials/esters.csv": "material,kind,cas,formula,smiles,inchikey,state_20C,fema,names,"
        "note\n"
        "ethyl acetate,substance,141-78-6,C4H8O2,CCOC(C)=O,,liquid,,,\n",
        "properties/esters.csv": properties,
        "curves/esters.csv": "material,property,form,c1,c2,c3,c4,c5,minimum_K,maximum_K,source,"
        "rejected\n",
        "groups.csv": "material,original,dortmund,liquid_liquid,nist,assigned_by\n",
        "compositions.csv": "material,constituent,typical_pct,low_pct,high_pct,source,note\n",
        "solubility.csv": "solid,solvent,temperature_C,mole_fraction,as_published,source\n",
        "sources/all.json": "[]",
    }
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


HEADER = "material,property,value,unit,temperature_C,uncertainty,method,source,rejected,note\n"


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("ethyl acetate,boiling_point,77,bar,,,compiled,x,,", "stands in °C or K"),
        ("ethyl acetate,boiling_point,hot,°C,,,compiled,x,,", "not a number"),
        ("ethyl acetate,boiling_point,7700,°C,,,compiled,x,,", "out of any range"),
        ("ethyl acetate,density,0.9,g/mL,,,compiled,x,,", "needs a temperature"),
        ("ethyl acetate,colour,3,°C,,,compiled,x,,", "unknown property"),
        ("ethyl acetate,density,0.9,g/mL,20,,guessed,x,,", "method 'guessed'"),
        ("acetone,boiling_point,56,°C,,,compiled,x,,", "no material 'acetone'"),
        ("ethyl acetate,boiling_point,77,°C", "4 cells, the header has 10"),
    ],
)
def test_the_loader_names_what_is_wrong_and_where(tmp_path: Path, row: str, message: str) -> None:
    bad = Catalogue(folder(tmp_path, HEADER + row + "\n"))
    with pytest.raises(CatalogueError, match=re.escape(message)) as caught:
        bad.find("ethyl acetate")
    assert "esters.csv row 2" in str(caught.value)


def test_reference_names_resolve(catalogue: Catalogue) -> None:
    for row in reference("propylene_glycol_miscibility.csv"):
        assert catalogue.find(row["material"]).curated
