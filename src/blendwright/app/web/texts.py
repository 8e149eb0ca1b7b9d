"""The page's own words, one catalogue a language: `texts/en.json` and its translations.

Findings, methods and sources come from the models and stay English; the page says so. A text that
a translation lacks is shown in English.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Literal

Language = Literal["en", "de", "fr"]
LANGUAGES: dict[Language, str] = {"en": "English", "de": "Deutsch", "fr": "Français"}


class Texts:
    """`texts("row.use", name="vanillin")` is the text with its values filled in."""

    def __init__(self, language: Language) -> None:
        self.language = language
        self._texts = {**catalogue_of("en"), **catalogue_of(language)}

    def __call__(self, key: str, **values: object) -> str:
        text = self._texts[key]
        return text.format(**values) if values else text

    def has(self, key: str) -> bool:
        return key in self._texts


@cache
def catalogue_of(language: Language) -> dict[str, str]:
    """All texts of one language, by key."""
    file = files("blendwright.app.web") / "texts" / f"{language}.json"
    found: dict[str, str] = json.loads(file.read_text(encoding="utf-8"))
    return found
