"""The page's own words, in one file (`texts.json`) where they can be read in one go."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files


def text(key: str, **values: object) -> str:
    """A text with its values filled in.

    >>> text("row.use", name="vanillin")
    'Use vanillin'
    """
    found = texts()[key]
    return found.format(**values) if values else found


def has_text(key: str) -> bool:
    return key in texts()


@cache
def texts() -> dict[str, str]:
    """All texts, by key."""
    file = files("blendwright.app.web") / "texts.json"
    found: dict[str, str] = json.loads(file.read_text(encoding="utf-8"))
    return found
