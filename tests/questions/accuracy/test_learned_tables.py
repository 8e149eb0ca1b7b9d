"""The learned tables are what the fit makes of the published measurements."""

from __future__ import annotations

import csv
from importlib.resources import files

import numpy as np
import pytest

from blendwright.questions.accuracy import crystals, split
from blendwright.questions.accuracy.left_out import left_out
from blendwright.questions.accuracy.table_lines import Case, acceptance, figures
from fitting.learned_tables import TABLES


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
