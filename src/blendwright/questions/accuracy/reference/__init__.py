"""Published measurements that the models are judged by and learned from, one CSV a question.

Each row names its source. Nothing here feeds an assessment directly: what a substance *is* stands
in `catalogue`; what was learned stands beside the model that uses it.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def reference(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one table ("azeotropes.csv"), each with its source."""
    text = (files("blendwright.questions.accuracy.reference") / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
