"""What a notebook shows: escaped, without scripts or colours, and equal to the numbers."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from IPython.core.formatters import DisplayFormatter

from blendwright import Formula, assess, compare
from blendwright.estimate import Estimate
from blendwright.report.notebook import MOST_ROWS, register_views
from blendwright.report.terminal import estimate_cells

BAD = '<script>alert("1")</script>&'
FORMULA = Formula.from_rows(
    [
        {"material": "ethyl acetate", "grams": 2, "note": BAD},
        {"material": "vanillin", "grams": 1, "strength_pct": 10},
        {"material": "PG", "grams": "q.s."},
    ],
    BAD,
    20,
)
SHOWN = {
    "formula": FORMULA,
    "assessment": assess(FORMULA),
    "estimate": assess(FORMULA).estimates["density"],
    "unknown": Estimate.unknown("K", BAD),
    "comparison": compare(assess(FORMULA), assess(FORMULA.with_grams("vanillin", 2))),
}


class Shell:
    """As much of IPython's shell as a notebook's display needs."""

    def __init__(self) -> None:
        self.display_formatter = DisplayFormatter()


def shown_as(value: object) -> str:
    """What a notebook shows for a value once our views are registered."""
    shell = Shell()
    register_views(shell)  # type: ignore[arg-type]
    data, _ = shell.display_formatter.format(value)
    return str(data["text/html"])


class Balanced(HTMLParser):
    """Every tag is closed, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.open.append(tag)
        self.tags.add(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("shown", SHOWN.values(), ids=SHOWN)
def test_the_html_is_sound_and_takes_the_pages_own_colours(shown: Any) -> None:
    html = shown_as(shown)
    parser = Balanced()
    parser.feed(html)
    assert parser.open == []
    assert parser.tags.isdisjoint({"script", "style", "img", "link", "a"})
    inks = set(re.findall(r"[;\"](?:color|background)\s*:\s*([^;\"]+)", html))
    assert inks <= {"inherit", "transparent"}
    assert len(html) < 20_000


def test_the_assessment_shows_its_own_numbers_and_warnings() -> None:
    made = assess(FORMULA)
    html = shown_as(made)
    for estimate in made.estimates.values():
        assert estimate_cells(estimate)[0] in html
    assert html.count("WARNING") == sum(f.severity == "warning" for f in made.findings)
    assert made.data_version in html


def test_a_long_formula_is_cut_and_says_so() -> None:
    rows = [{"material": "PG", "grams": 1}] * (MOST_ROWS + 7)
    assert "and 7 more rows" in shown_as(Formula.from_rows(rows))
