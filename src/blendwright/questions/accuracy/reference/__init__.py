"""Published measurements that the models are judged by and learned from, one CSV a question.

Each row names its source. Nothing here feeds an assessment directly: what a substance *is* stands
in `catalogue`; what was learned stands beside the model that uses it.
"""

from __future__ import annotations

from functools import cache

from blendwright.catalogue.tables import table_rows


@cache
def reference(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one table ("azeotropes.csv"), each with its source."""
    return table_rows("blendwright.questions.accuracy.reference", name)
