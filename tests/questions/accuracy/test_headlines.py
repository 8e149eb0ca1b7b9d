"""The accuracy page is what the program says, no headline figure gets worse unseen, and the learned
tables are what the fit makes of the published measurements.

All stand in one file because all ask for the refits and the cases that the first of them computes.

`recorded.csv` holds the figures; one that gets worse by more than NOISE must be recorded anew in
the same commit with a reason (`python docs/accuracy.py --record`, then write the reason).
"""

from __future__ import annotations

import csv
import importlib.util
import sys
from importlib.resources import files
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from blendwright.questions.accuracy import crystals, split
from blendwright.questions.accuracy.left_out import left_out
from blendwright.questions.accuracy.table_lines import FEWEST_JUDGED, Case, acceptance, figures
from blendwright.questions.accuracy.targets import Answer
from fitting.learned_tables import TABLES

ROOT = Path(__file__).parents[3]
NOISE = 0.02  # of the figure, or NOISE_LEAST: what another machine's arithmetic does to a refit
NOISE_LEAST = 0.005
NOT_INSIDE = {
    "flash points of mixtures, open cup",  # open cups read higher; 2 points
    "evaporation, large pan",  # out of the model's range; 2 points
    "vapour pressures of two-component liquids, doubtful sets",
    "vapour pressures of two-component liquids",  # too wide: said on the page
    # molecules that the library lacks, too, are rare ones: 71 % of 41; said on the page
    "boiling points of substances as if not curated (library, else structure)",
    # acids and alcohols 72 and 79 %: said on the page
    "vapour pressures at 25 °C, from the structure alone, molecule left out",
    # too wide, by what the pure liquids' values leave
    "densities of blends, a pair measured, other rows of it",
}


@pytest.fixture(scope="module")
def page() -> ModuleType:
    spec = importlib.util.spec_from_file_location("accuracy_page", ROOT / "docs" / "accuracy.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def found(page: ModuleType) -> dict[str, list[Answer]]:
    answers: dict[str, list[Answer]] = page.answers()
    return answers


def test_the_accuracy_page_is_fresh(page: ModuleType, found: dict[str, list[Answer]]) -> None:
    assert not page.is_stale(found), "run python docs/accuracy.py"


def test_no_headline_figure_is_worse_than_recorded(found: dict[str, list[Answer]]) -> None:
    with (Path(__file__).parent / "recorded.csv").open(encoding="utf-8", newline="") as handle:
        recorded = {row["question"]: row for row in csv.DictReader(handle)}
    now = {a.question: a.headline for answers in found.values() for a in answers}
    assert set(now) == set(recorded), "record the new question: python docs/accuracy.py --record"
    worse = []
    for question, head in now.items():
        row = recorded[question]
        assert row["why"], f"{question}: a recorded figure needs a reason"
        kept = float(row["value"])
        noise = max(NOISE * abs(kept), NOISE_LEAST)
        if head.value > kept + noise if head.better == "low" else head.value < kept - noise:
            worse.append(f"{question}: {head.what} {kept:.4f} became {head.value:.4f}")
    assert not worse, "; ".join(worse)


def test_the_intervals_hold_as_often_as_they_say(found: dict[str, list[Answer]]) -> None:
    """Inside the 95 % binomial region of 90 %, every question and kind of 20 points or more."""
    outside = [
        f"{answer.question}, {c.kind}: {c.by_substance:.0%} of {c.substances}"
        for answers in found.values()
        for answer in answers
        for c in (answer.figures.coverage if answer.figures else ())
        if c.n >= FEWEST_JUDGED and not c.accepted and answer.question not in NOT_INSIDE
    ]
    assert not outside, "; ".join(outside)


def test_same_numbers_but_for_the_last_digits(page: ModuleType) -> None:
    assert page.same("rms 0.35 of 20", "rms 0.36 of 20")
    assert not page.same("rms 0.35 of 20", "rms 0.45 of 20")
    assert not page.same("rms 0.35 met", "rms 0.35 MISSED")


# The learned tables


@pytest.mark.parametrize("place", list(TABLES))
def test_the_shipped_table_is_a_refit(place: str) -> None:
    shipped = files("blendwright").joinpath(place).read_text(encoding="utf-8")
    fitted = TABLES[place]()
    ours, theirs = (list(csv.reader(text.splitlines())) for text in (fitted, shipped))
    assert len(ours) == len(theirs)
    for mine, kept in zip(ours, theirs, strict=True):
        for a, b in zip(mine, kept, strict=True):
            try:
                assert float(a) == pytest.approx(float(b), abs=0.02)
            except ValueError:
                assert a == b


def test_the_learned_terms_help_on_what_they_did_not_see() -> None:
    """left_out.csv: the sum over all questions that have a base to compare with."""
    found = list(left_out().values())
    better = [one for one in found if one.rms < one.base]
    assert len(better) >= 0.8 * len(found), [one.question for one in found if one not in better]


def test_twice_the_measured_solubility_is_hardly_ever_said_to_dissolve() -> None:
    found = crystals.false_dissolves()
    assert found.n > 80
    assert found.share >= 0.94, found.missed  # levulinic acid, near its melting point, is the rest


def test_what_part_and_what_stays_clear_are_told_apart() -> None:
    """The chance of layers is higher for what splits than for what stays clear."""
    parts = [f.chance for f in split.facts() if f.parts == 1.0 and f.weight == 1.0]
    clear = [f.chance for f in split.facts() if f.parts == 0.0]
    assert np.mean(parts) > 0.85
    assert np.mean(clear) < 0.25


def test_figures_count_what_they_should() -> None:
    found = figures("x", "K", [Case("a", 1.0, 2.0), Case("b", -3.0, 2.0), Case("c", 0.5, None)])
    assert found.n == 3
    assert found.mean_absolute == pytest.approx(1.5)
    assert found.coverage[0].share == pytest.approx(0.5)
    assert found.worst[0] == ("b", -3.0)
    low, high = acceptance(200)
    assert low < 0.9 < high
    with pytest.raises(ValueError, match="nothing to compare"):
        figures("x", "K", [])
