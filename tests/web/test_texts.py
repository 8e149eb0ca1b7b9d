"""The page's words: every language has every text, with the same places to fill in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from blendwright.web.texts import LANGUAGES, Texts, catalogue_of

WEB = Path("src/blendwright/web")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_is_complete(language):
    english, other = catalogue_of("en"), catalogue_of(language)
    assert list(english) == list(other)
    for key, text in english.items():
        places = sorted(re.findall(r"{(\w+)}", text))
        assert sorted(re.findall(r"{(\w+)}", other[key])) == places, key


def test_every_text_that_the_page_asks_for_exists():
    known = catalogue_of("en")
    asked = set()
    for file in WEB.rglob("*.py"):
        asked |= set(re.findall(r'(?<![\w])texts?\(\s*"([a-z_.A-Z]+)"', file.read_text()))
    assert asked <= set(known)
    assert len(asked) > 80


def test_a_value_with_braces_stays_as_it_is():
    assert "{x}" in Texts("en")("row.use", name="{x}")
