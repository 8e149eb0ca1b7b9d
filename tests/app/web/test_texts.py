"""The page's words: each that is asked for exists, none is left over, and there is one language."""

from __future__ import annotations

import re
from pathlib import Path

from blendwright.app.web.texts import text, texts

WEB = Path("src/blendwright/app/web")
CODE = {file: file.read_text() for file in WEB.rglob("*.py")}
KEY = r"[a-z_.A-Z0-9]+"


def test_every_text_that_the_page_asks_for_exists():
    asked = {
        key for code in CODE.values() for key in re.findall(rf'(?<!\w)text\(\s*"({KEY})"', code)
    }
    assert asked <= set(texts())
    assert len(asked) > 80


def test_no_text_is_left_that_nothing_asks_for():
    code = "".join(CODE.values())
    whole = set(re.findall(rf"[\"']({KEY})[\"']", code))
    made = [  # "status.{word}" and its like stand for every key of that form
        re.compile(re.sub(r"\\{.*?\\}", ".+", re.escape(form)))
        for form in re.findall(
            r"(?:(?:text\(\s*|key = )f[\"']|f[\"'](?=[a-z]+\.))((?:[a-z_.A-Z0-9]|\{[^}]*\})+)[\"']",
            code,
        )
    ]
    left = [key for key in texts() if key not in whole and not any(m.fullmatch(key) for m in made)]
    assert not left, left


def test_there_is_one_language_and_one_set_of_units():
    """A half is worse than none: nothing of a switch is left, in words, code or addresses."""
    told = " ".join(texts().values())
    for word in ("°F", "Fahrenheit", "Ounce", " oz", "Deutsch", "Français", "Units and language"):
        assert word not in told
    for file, code in CODE.items():
        for name in ("LANGUAGES", "hreflang", "degree_F", "OUNCE", "Fahrenheit", "°F"):
            assert name not in code, (file, name)
    assert [file.name for file in WEB.rglob("*.json")] == ["texts.json"]


def test_the_words_are_plain_english():
    """Coinages and openings that the project's style leaves out."""
    for key, words in texts().items():
        for sentence in re.split(r"(?<=[.!?]) ", words):
            assert not sentence.startswith(("Of ", "The same ")), key
        for coinage in ("eckon", "voice", "to mend", "of its like", "goes at", "go at"):
            assert coinage not in words, key


def test_a_value_with_braces_stays_as_it_is():
    assert "{x}" in text("row.use", name="{x}")
