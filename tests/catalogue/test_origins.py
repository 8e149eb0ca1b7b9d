"""What rests on memory says so: the words of every accepted number follow from its sources."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.catalogue.origins import (
    all_from_memory,
    chosen_words,
    memory_keys,
    values_words,
)
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.mixture.measured_solubility import measurements, where_known
from blendwright.mixture.water_solubility import water_solubility
from blendwright.mixture.weighing import weigh
from blendwright.pure.constants import pure_constants
from blendwright.pure.flammable_limit import upper_flammable_limit
from blendwright.questions.materials.audit import substances, weaknesses
from blendwright.questions.materials.own import read_own_materials
from blendwright.report.material import chosen_values
from blendwright.verdict.blend import Blend
from tests.conftest import formula

MEMORY = "memory"
ESTIMATED = ("method", "own estimate", "own fit")  # kinds of source that are no value's origin


def told(material: Material) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """(fact, how it is said to be chosen, the sources behind it), everything of one material."""
    for name, estimate in chosen_values(material).items():
        if estimate.is_ok:
            yield name, estimate.method, estimate.sources
    upper = upper_flammable_limit(material)
    if upper.is_ok:
        yield "upper flammable limit", upper.method, upper.sources
    found = water_solubility(material)
    if found is not None:
        yield "water solubility", found.method, found.sources


def origins(sources: tuple[str, ...], catalogue: Catalogue) -> set[str]:
    """How the sources that hold values were read."""
    known = [catalogue.sources[key] for key in sources if key in catalogue.sources]
    return {source.read for source in known if source.kind not in ESTIMATED}


def test_words_of_every_accepted_number_follow_from_its_sources(catalogue: Catalogue) -> None:
    remembered = published = 0
    for material in substances(catalogue):
        for fact, method, sources in told(material):
            place = f"{material.name}, {fact}: {method!r} by {sources}"
            kinds = origins(sources, catalogue)
            if kinds == {MEMORY} and "estimate" not in method and len(sources) == 1:
                assert "from memory" in method, place
            if kinds == {MEMORY}:
                assert "published" not in method, place
                remembered += 1
            elif MEMORY not in kinds:
                assert "from memory" not in method, place
                published += 1
    assert remembered > 100
    assert published > 500


def test_flash_points_that_rest_on_memory_alone_are_reported_so(catalogue: Catalogue) -> None:
    """19 of the 535 substances that have a flash point of their own."""
    own = [m for m in substances(catalogue) if m.accepted("flash_point")]
    words = {m.name: pure_constants(m).flash.method for m in own}
    alone = [m.name for m in own if all_from_memory(d.source for d in m.accepted("flash_point"))]
    assert len(alone) >= 10
    assert all("from memory" in words[name] for name in alone)
    assert not any("published" in words[name] for name in alone)


def test_a_blend_of_one_substance_tells_of_memory_as_its_card_does(catalogue: Catalogue) -> None:
    """On the road of `assess`: flash point and density of every substance by itself."""
    for material in list(substances(catalogue))[::4]:
        blend = Blend(weigh(formula((material.name, 1.0)), catalogue), ROOM_K, ATMOSPHERE_Pa)
        pure = pure_constants(material).flash
        flash = blend.flash.estimate
        if flash.is_ok and all_from_memory(pure.sources):
            assert "100 % of what flashes by flash points from memory" in flash.method
            assert f"flash points from memory: {material.name}" in flash.notes
        elif flash.is_ok:
            assert "from memory" not in flash.method
        if blend.density.is_ok and all_from_memory(blend.density.sources):
            assert blend.density.method.endswith("from memory")
            assert blend.volume.method.endswith("from memory")


def test_an_anchor_of_solubility_tells_which_carrier_is_from_memory(catalogue: Catalogue) -> None:
    seen = 0
    for material in substances(catalogue):
        if not (material.solubilities or material.accepted("water_solubility")):
            continue
        by_carrier: dict[str, list[str]] = {}
        for carrier, source in measurements(material):
            by_carrier.setdefault(carrier, []).append(source)
        measured, _, remembered = where_known(material).partition("from memory in ")
        for carrier, sources in by_carrier.items():
            told_of, other = (
                (remembered, measured) if all_from_memory(sources) else (measured, remembered)
            )
            assert carrier in told_of
            assert carrier not in other
            seen += 1
    assert seen > 30


def test_the_audit_lists_what_rests_on_memory_alone(catalogue: Catalogue) -> None:
    listed = {(w.material, w.what) for w in weaknesses(catalogue) if w.kind == "from memory alone"}
    for material in substances(catalogue):
        alone = all_from_memory(
            d.source for d in material.accepted("flash_point") if d.method != "estimated"
        )
        assert ((material.name, "flash point") in listed) == alone, material.name


def test_the_persons_own_value_is_neither_published_nor_from_memory(write) -> None:  # type: ignore[no-untyped-def]
    path = write(
        "own.csv",
        "material,property,value,unit,temperature_C,uncertainty,source,cas,smiles,note\n"
        "linalool,flash_point,74,,,,sheet,,,\n",
    )
    own = read_own_materials(path, default_catalogue()).material("linalool")
    assert pure_constants(own).flash.method == "your own value, closed cup"


@pytest.mark.parametrize(
    ("name", "fact", "words"),
    [
        ("ethanol", "flash_point", "median of published values"),
        ("ethyl hexanoate", "flash_point", "median of published values and a value from memory"),
        ("isopulegol", "flash_point", "a value from memory"),
    ],
)
def test_words_name_the_origin(catalogue: Catalogue, name: str, fact: str, words: str) -> None:
    facts = [d for d in catalogue.material(name).accepted(fact) if d.method != "estimated"]
    assert chosen_words(facts) == words
    assert words.endswith(values_words(facts))


def test_memory_keys_are_those_of_the_bibliography(catalogue: Catalogue) -> None:
    assert {"memory-sds", "memory-physprop", "iapws-95"} <= memory_keys()
    assert not {"crc-organics", "iec-60079-20-1"} & memory_keys()
