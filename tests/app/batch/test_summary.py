"""What came of a batch, in words: every count has commas, and each kind says in how many."""

from __future__ import annotations

import io
from collections import Counter

from rich.console import Console

from blendwright.app.batch.summary import Summary, print_summary


def test_counts_have_commas_and_a_category_is_called_one() -> None:
    summary = Summary(
        formulas=12_345,
        errors=Counter(unknown_material=1_000),
        words={"ghs_treat_as": Counter({"2": 9_345, "none": 2_000})},
        warnings=9_345,
    )
    out = io.StringIO()
    print_summary(summary, "answers.csv", Console(file=out, width=80))
    assert out.getvalue().splitlines() == [
        "12,345 formulas in answers.csv: 11,345 answered, 1,000 refused",
        "  refused: unknown material in 1,000",
        "  treat as GHS: category 2 in 9,345, none in 2,000",
        "  with a warning: 9,345",
    ]
