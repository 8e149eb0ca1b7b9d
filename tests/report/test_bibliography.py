"""The bibliography of one assessment: complete, honest about what nobody published, and citable."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import jsonschema
import pytest
from pybtex.database import parse_string
from typer.testing import CliRunner

from blendwright import Assessment, assess, bibliography, read_formula
from blendwright.app.cli.main import app
from blendwright.catalogue import Material, Source, default_catalogue
from blendwright.errors import CatalogueError
from blendwright.observations import KINDS, Observation, measured_blend
from blendwright.questions.materials.own import read_own_materials
from blendwright.report.bibliography import bibliography_text, bibtex, csl_json
from blendwright.report.schema import schema_text
from blendwright.report.sources import Entry
from tests.conftest import formula
from tests.test_hostile import HOSTILE

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.csv"))
runner = CliRunner()


@cache
def assessed(name: str) -> Assessment:
    """An example's file, or a hostile formula by name."""
    if name in HOSTILE:
        return assess(formula(*HOSTILE[name]))
    return assess(read_formula(next(path for path in EXAMPLES if path.name == name)))


NAMES = [path.name for path in EXAMPLES] + [n for n in HOSTILE if n != "a trace of acetaldehyde"]


def materials(made: Assessment) -> Iterator[Material]:
    """Every substance, and every oil, mixture and carrier that was opened."""
    yield from (s.material for s in made.weighing.composition.substances)
    for row in made.weighing.rows:
        yield from (m for m in (row.material, row.carrier) if m is not None)


@pytest.mark.parametrize("name", NAMES)
def test_every_source_of_every_estimate_is_in_the_bibliography(name: str) -> None:
    made = assessed(name)
    keys = {entry.key for entry in bibliography(made)}
    estimates = [
        *made.estimates.values(),
        *(e for s in made.solids for e in (s.dissolves, s.most_20C, s.most_5C)),
        *made.row_volumes,
    ]
    for estimate in estimates:
        assert set(estimate.sources) <= keys, estimate.method
    assert {c.edition for c in made.classings} <= keys


@pytest.mark.parametrize("name", NAMES)
def test_every_property_that_was_used_names_its_substance(name: str) -> None:
    """The accepted facts behind each substance's constants, walked here by themselves."""
    made = assessed(name)
    entries = {entry.key: entry for entry in bibliography(made)}
    for s in made.weighing.composition.substances:
        wanted = {
            "flash point": s.flash.sources,
            "vapour pressure": s.vapour.sources if s.vapour else (),
            "lower flammable limit": s.lower_limit.sources,
            "melting point": s.fusion.melting.sources if s.fusion else (),
        }
        for what, sources in wanted.items():
            for key in sources:
                assert s.name in dict(entries[key].uses)[what], (key, what, s.name)
        if s.material.groups_assigned_by:
            assert s.name in dict(entries[s.material.groups_assigned_by].uses)["UNIFAC groups"]
    for material in materials(made):
        for part in material.constituents:
            assert material.name in dict(entries[part.source].uses)["composition"]


@pytest.mark.parametrize("name", NAMES)
def test_what_was_not_published_stands_apart(name: str) -> None:
    sources = default_catalogue().sources
    for entry in bibliography(assessed(name)):
        told = entry.citation().casefold()
        kind = sources[entry.key].kind if entry.key in sources else ""
        if entry.standing == "published":
            assert "from memory" not in told
            assert kind not in ("from memory", "own estimate", "common practice", "web page")
            assert "blendwright authors" not in told
        if kind == "from memory" or "from memory" in told:
            assert entry.standing == "from memory"
        assert entry.uses


def test_every_source_of_the_catalogue_has_words_and_a_standing() -> None:
    """Facts of materials that no example holds can be cited too."""
    catalogue = default_catalogue()
    for name in catalogue.names():
        material = catalogue.material(name)
        facts = (
            *material.data, *material.curves, *material.constituents, *material.solubilities,
        )  # fmt: skip
        for fact in facts:
            assert fact.source in catalogue.sources, (name, fact.source)
    for source in catalogue.sources.values():
        assert source.title, source.key
        assert source.kind, source.key


def test_a_key_without_an_entry_is_refused() -> None:
    made = assessed(EXAMPLES[0].name)
    flash = replace(made.estimates["flash_point_closed_cup"], sources=("nobody-2026",))
    broken = replace(made, estimates={**made.estimates, "flash_point_closed_cup": flash})
    with pytest.raises(CatalogueError, match="nobody-2026"):
        bibliography(broken)


def test_a_material_of_the_library_cites_the_library() -> None:
    made = assess(formula(("isobutyl butyrate", 1.0), ("toluene", 1.0), ("ethanol", 8.0)))
    assert any(not s.material.curated for s in made.weighing.composition.substances)
    entries = {entry.key: entry for entry in bibliography(made)}
    assert "toluene" in " ".join(entries["chemicals-library"].used_for())


def test_your_own_values_and_measurements_are_yours(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(
        "material,property,value,source,lot\nethyl butyrate,flash_point,26,supplier's sheet,A17\n",
        encoding="utf-8",
    )
    catalogue = read_own_materials(path, default_catalogue())
    blend = formula(("ethyl butyrate", 1.0), ("propylene glycol", 5.0))
    composition = assess(blend, catalogue=catalogue).weighing.composition
    seen = Observation(
        "flash_point", 310.0, KINDS["flash_point"].half, date(2026, 11, 20),
        measured_blend(composition), "pear", 101325.0, id=7,
    )  # fmt: skip
    made = assess(blend, catalogue=catalogue, observations=[seen])
    for known in (catalogue, None):
        yours = [e for e in bibliography(made, known) if e.standing == "yours"]
        assert {e.key for e in yours} == {
            "yours: supplier's sheet, lot A17", "yours: measurement 7 of 2026-11-20",
        }  # fmt: skip
    read_bibtex(bibtex(bibliography(made, catalogue)))


def test_the_text_says_what_for_and_fits_the_terminal() -> None:
    name = "orchard-pear-cardamom.csv"
    text = bibliography_text("the pear", bibliography(assessed(name)))
    assert max(len(line) for line in text.splitlines() if "://" not in line) <= 80
    flat = " ".join(text.split())
    assert "Liaw, H.-J." in flat
    assert "used for: flash point of the blend" in flat
    assert re.search(r"used for: [^-]*flash point of [^;]*ethyl acetate", flat)
    assert "composition of cardamom oil" in flat
    assert flat.index("Published") < flat.index("From memory, in whole or in part")
    assert "Common practice, no source" in flat


def test_a_source_is_told_once() -> None:
    for name in NAMES:
        keys = [entry.key for entry in bibliography(assessed(name))]
        assert len(keys) == len(set(keys))


# BibTeX, read again

TYPES = {"article": {"title", "journal", "year"}, "misc": {"title"}}
LEFT_BARE = re.compile(r"(?<!\\)[&%#_$~^]")


def read_bibtex(text: str) -> dict[str, dict[str, str]]:
    """As a reader of BibTeX has it, with the people joined by "and"; fails where one would."""
    found: dict[str, dict[str, str]] = {}
    for key, entry in parse_string(text, "bibtex").entries.items():
        assert re.fullmatch(r"[A-Za-z0-9-]+", key)
        fields = dict(entry.fields)
        for role, people in entry.persons.items():
            fields[role] = " and ".join(str(person) for person in people)
        assert TYPES[entry.type] <= set(fields), (key, fields)
        for name, value in fields.items():
            assert value.strip()
            assert value.count("{") == value.count("}")
            assert name in ("url", "doi") or not LEFT_BARE.search(value), value
        found[key] = fields
    assert len(found) == text.count("@article{") + text.count("@misc{")
    return found


@pytest.mark.parametrize("name", NAMES)
def test_bibtex_parses_and_holds_every_entry(name: str) -> None:
    entries = bibliography(assessed(name))
    found = read_bibtex(bibtex(entries))
    assert len(found) == len(entries)
    assert all("Used for: " in fields["note"] for fields in found.values())


def test_every_source_of_the_catalogue_makes_bibtex() -> None:
    entries = [
        Entry(source, "published", (("a test", ()),))
        for source in default_catalogue().sources.values()
    ]
    found = read_bibtex(bibtex(entries))
    assert len(found) == len(entries)
    liaw = found["liaw"]
    assert liaw["journal"] == "J. Loss Prev. Process Ind."
    assert (liaw["volume"], liaw["pages"], liaw["year"]) == ("15", "429", "2002")
    assert liaw["author"].split(" and ")[0] == "Liaw, H.-J."
    assert len(liaw["author"].split(" and ")) == 5
    assert found["crc-organics"]["editor"] == "Haynes, W. M."


def test_signs_that_bibtex_reads_as_its_own_are_escaped() -> None:
    author, title = "Muller & Co", "50 % of A_1 #2 ~$5^2 {"
    source = Source("a/b", "article", author, "2020", title, "", "", "a \\ b }")
    found = read_bibtex(bibtex([Entry(source, "published", (("a & b", ()),))]))
    assert found["a-b"]["title"].startswith("{50 \\% of A\\_1 \\#2")


def test_csl_json_holds_every_entry_and_says_how_it_was_read() -> None:
    entries = bibliography(assessed(NAMES[0]))
    items = json.loads(csl_json(entries))
    assert [item["id"] for item in items] == [entry.key for entry in entries]
    for item, entry in zip(items, entries, strict=True):
        assert item["type"]
        assert item["title"]
        assert item["custom"]["read"] == entry.source.read
        assert item["custom"]["used-for"] == entry.used_for()


def test_addresses_stand_whole_beside_their_sources() -> None:
    entries = bibliography(assessed(NAMES[0]))
    lines = {line.strip() for line in bibliography_text("the blend", entries).splitlines()}
    assert {entry.source.address for entry in entries if entry.source.address} <= lines


# The command

PEAR = str(next(path for path in EXAMPLES if "pear-blossom" in path.name))


def test_sources_are_shown_as_text_or_written_as_bibtex(tmp_path: Path) -> None:
    plain = runner.invoke(app, ["assess", PEAR, "--show", "sources"])
    assert plain.exit_code == 0
    assert "Liaw" in plain.stdout
    assert "used for:" in plain.stdout
    on_screen = runner.invoke(app, ["assess", PEAR, "--bibtex", "-"]).stdout
    assert "liaw" in read_bibtex(on_screen)
    kept = tmp_path / "pear.bib"
    beside = runner.invoke(app, ["assess", PEAR, "--bibtex", str(kept)])
    assert "Dissolves?" in beside.stdout
    assert kept.read_text(encoding="utf-8") == on_screen
    again = runner.invoke(app, ["assess", PEAR, "--bibtex", str(kept)])
    assert again.exit_code == 2
    assert "--force" in again.stderr


def test_json_holds_the_bibliography_only_where_it_is_asked_for() -> None:
    schema = json.loads(schema_text())
    plain = json.loads(runner.invoke(app, ["assess", PEAR, "--json"]).stdout)
    told = json.loads(runner.invoke(app, ["assess", PEAR, "--json", "--show", "sources"]).stdout)
    for data in (plain, told):
        jsonschema.validate(data, schema)
    listed = told.pop("bibliography")
    assert told == plain
    assert {"published", "from memory"} <= {entry["standing"] for entry in listed}
