"""The page's own words, in one file (`texts.json`) where they can be read in one go."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files


def text(key: str, **values: object) -> str:
    """A text with its values filled in; a count has a comma between thousands.

    >>> text("row.use", name="vanillin")
    'Use vanillin'
    >>> text("verdict.notes", count=1250)
    '1,250 notes'
    """
    shown = {
        name: f"{value:,}" if isinstance(value, int) else value for name, value in values.items()
    }
    return texts()[key].format(**shown) if values else texts()[key]


def has_text(key: str) -> bool:
    return key in texts()


@cache
def texts() -> dict[str, str]:
    """All texts, by key."""
    file = files("blendwright.app.web") / "texts.json"
    found: dict[str, str] = json.loads(file.read_text(encoding="utf-8"))
    return found
