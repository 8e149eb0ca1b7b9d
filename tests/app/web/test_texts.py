"""The page's words: every language has every text, with the same places to fill in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from blendwright.app.web.answers import Verdicts
from blendwright.app.web.sentences import burns, one_liquid
from blendwright.app.web.texts import LANGUAGES, Texts, catalogue_of
from blendwright.app.web.units import Units
from blendwright.estimate import Estimate
from blendwright.verdict.flammability import classing

WEB = Path("src/blendwright/app/web")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_is_complete(language):
    english, other = catalogue_of("en"), catalogue_of(language)
    assert list(english) == list(other)
    for key, text in english.items():
        places = sorted(re.findall(r"{(\w+)}", text))
        assert sorted(re.findall(r"{(\w+)}", other[key])) == places, key


def test_every_text_that_the_page_asks_for_exists():
    known = catalogue_of("en")
    request = set()
    for file in WEB.rglob("*.py"):
        request |= set(re.findall(r'(?<![\w])texts?\(\s*"([a-z_.A-Z]+)"', file.read_text()))
    assert request <= set(known)
    assert len(request) > 80


def test_a_value_with_braces_stays_as_it_is():
    assert "{x}" in Texts("en")("row.use", name="{x}")


HOT = Estimate.ok(393.0, 392.0, 394.0, "K", "test")


def verdicts(flash_C: float, half_K: float = 4.0, chance: float = 0.02) -> Verdicts:
    kelvin = flash_C + 273.15
    flash = Estimate.ok(kelvin, kelvin - half_K, kelvin + half_K, "K", "test")
    none = Estimate.absent("K", "not_applicable", "nothing in it is a solid by itself")
    fire = classing("ghs", flash, HOT)
    return Verdicts("dissolves", "clear", chance, none, None, flash, HOT, fire)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_page_leads_with_what_to_treat_it_as(language):
    text, units = Texts(language), Units()
    said = burns(verdicts(25.0), text, units)
    assert said.index("GHS" if language != "fr" else "SGH") < said.index("2") < said.index("3")
    clear = burns(verdicts(42.0), text, units)
    assert text("standing.clear") in clear
    near = burns(verdicts(21.0), text, units)
    assert text("standing.near") in near


def test_the_page_tells_no_chance_of_layers_of_a_single_substance():
    text, units = Texts("en"), Units()
    assert one_liquid(verdicts(42.0, chance=0.0), text, units) == "Yes, one clear liquid."
    assert "Chance of layers 2%" in one_liquid(verdicts(42.0), text, units)
