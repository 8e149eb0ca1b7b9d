"""The learned tables are what the fit makes of the published measurements."""

from __future__ import annotations

import csv
from importlib.resources import files

import numpy as np
import pytest

from blendwright.questions.accuracy import activity, crystals, split, water_solubility
from blendwright.questions.accuracy.conformal import calibrated
from blendwright.questions.accuracy.figures import Case, acceptance, figures
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


def test_water_solubilities_beat_every_single_set_on_substances_left_out() -> None:
    """reference/water_solubility.csv; aim of the class corrections: 0.35."""
    found = figures("water", "log10", calibrated(water_solubility.uncalibrated()))
    print(found)
    assert found.root_mean_square < 0.45
    assert all(found.root_mean_square < o.root_mean_square for o in found.others if o.n > 70)


def test_a_measurement_at_another_temperature_anchors_a_crystal() -> None:
    judged = crystals.anchored_at_another_temperature()
    found = figures("anchored", "log10", crystals.cases_of(judged))
    print(found)
    assert found.n > 100
    assert found.root_mean_square < 0.15


def test_crystals_of_the_given_tables_without_any_measurement() -> None:
    """reference/solid_solubility.csv and solid_solubility_ethanol.csv."""
    plain = crystals.cases_of(crystals.without_anchor())
    given = [c for c in plain if c.name in crystals.given_names()]
    found = figures("given", "log10", given)
    print(found)
    assert found.root_mean_square < 0.35


def test_the_glycols_hold_solutes_less_than_the_sets_say() -> None:
    """activity_at_infinite_dilution.csv: each set misses over glycols in the same direction."""
    for name in ("dortmund", "dortmund2", "unifac2", "original"):
        assert activity.glycol_term(name, False, activity.pairs()) > 0.0
    ours = figures("ln gamma", "ln", activity.cases())
    print(ours)
    assert all(ours.root_mean_square < o.root_mean_square for o in ours.others if o.n > 100)


def test_what_part_and_what_stays_clear_are_told_apart() -> None:
    """The chance of parting, by all facts, is higher for what parts than for what stays clear."""
    judge = split.judge()
    parts = [judge.chance(f) for f in split.facts() if f.parts == 1.0 and f.weight == 1.0]
    clear = [judge.chance(f) for f in split.facts() if f.parts == 0.0]
    assert np.mean(parts) > 0.85
    assert np.mean(clear) < 0.15


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
