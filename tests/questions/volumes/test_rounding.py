"""A formula on a balance of a given resolution."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.questions.volumes.rounding import (
    GOOD_DIVISIONS,
    LARGEST_ERROR,
    LEAST_DIVISIONS,
    BalanceError,
    dilution_strengths_pct,
    rounded_rows,
    rounding,
    to_divisions,
)
from blendwright.questions.volumes.weighing_order import make_up_row, weighing_steps
from tests.conftest import formula

DIVISIONS = st.sampled_from([0.0001, 0.001, 0.01, 0.02, 0.05, 0.1, 0.5, 1.0])
NAMES = ("hexyl acetate", "ethyl butyrate", "linalool", "eugenol", "vanillin")


def weighed(*rows: tuple[str, float] | tuple[str, float, str]) -> Weighing:
    return weigh(formula(*rows), default_catalogue())


def made_up(batch_g: float, *rows: tuple[str, float]) -> Weighing:
    """Rows and propylene glycol to weight."""
    written = [{"material": name, "grams": grams} for name, grams in rows]
    written.append({"material": "propylene glycol", "grams": "q.s."})
    return weigh(Formula.from_rows(written, batch_g=batch_g), default_catalogue())


@given(grams=st.floats(0, 1e4), division=DIVISIONS)
def test_a_weight_is_a_whole_number_of_divisions_within_half_of_one(
    grams: float, division: float
) -> None:
    rounded = to_divisions(grams, division)
    assert Decimal(str(rounded)) % Decimal(str(division)) == 0
    assert abs(rounded - grams) <= 0.5 * division * (1 + 1e-9)
    assert to_divisions(rounded, division) == rounded


@given(
    grams=st.lists(st.floats(0.05, 20), min_size=1, max_size=5),
    division=st.sampled_from([0.001, 0.01, 0.02, 0.05, 0.1]),
)
def test_the_rounded_rows_add_up_within_half_a_division_each(
    grams: list[float], division: float
) -> None:
    batch = weighed(*zip(NAMES, grams, strict=False))
    rows = rounded_rows(batch, division)
    total = math.fsum(row.grams for row in rows)
    assert abs(total - batch.total_g) <= 0.5 * division * len(rows) * (1 + 1e-9)
    for row in rows:
        assert abs(row.grams - row.wanted_g) <= 0.5 * division * (1 + 1e-9)


@given(
    grams=st.lists(st.floats(0.05, 5), min_size=1, max_size=5),
    batch_g=st.floats(30, 500),
    division=st.sampled_from([0.001, 0.01, 0.1]),
)
def test_made_up_to_weight_the_batch_keeps_its_rounded_weight(
    grams: list[float], batch_g: float, division: float
) -> None:
    batch = made_up(batch_g, *zip(NAMES, grams, strict=False))
    rows = rounded_rows(batch, division)
    total = math.fsum(row.grams for row in rows)
    assert total == pytest.approx(to_divisions(batch_g, division), abs=1e-9)
    assert [row.material for row in rows if row.makes_up] == ["propylene glycol"]
    others = len(rows) - 1
    filler = next(row for row in rows if row.makes_up)
    assert abs(filler.grams - filler.wanted_g) <= 0.5 * division * (others + 1) * (1 + 1e-9)


@given(
    grams=st.lists(st.floats(0.05, 5), min_size=1, max_size=5),
    division=st.sampled_from([0.001, 0.01, 0.1]),
)
def test_the_running_total_rises_and_ends_at_the_total(grams: list[float], division: float) -> None:
    batch = made_up(50.0, *zip(NAMES, grams, strict=False))
    weights = [row.grams for row in rounded_rows(batch, division)]
    steps = weighing_steps(batch, weights, division)
    shown = [step.running_total_g for step in steps]
    assert shown == sorted(shown)
    assert shown[-1] == pytest.approx(math.fsum(weights))
    for row, grams_of_row in enumerate(weights):
        added = [step.grams for step in steps if step.row == row]
        assert len(added) == (2 if row == make_up_row(batch) else 1)
        assert math.fsum(added) == pytest.approx(grams_of_row)
        assert all(g == pytest.approx(to_divisions(g, division), abs=1e-9) for g in added)


def test_a_finer_balance_moves_the_numbers_less(catalogue: Catalogue) -> None:
    batch = made_up(20.0, ("ethyl acetate", 0.843), ("vanillin", 0.377), ("hexyl acetate", 1.219))

    def moved(division: float) -> float:
        effects = {e.name: e for e in rounding(batch, division, catalogue).effects}
        return abs(effects["flash_point_closed_cup"].change or 0.0)

    assert moved(0.001) < 0.1
    assert moved(0.001) < moved(0.2)


def test_a_balance_that_shows_every_gram_written_changes_nothing(catalogue: Catalogue) -> None:
    batch = made_up(50.0, ("ethyl acetate", 1.2), ("vanillin", 0.9), ("eugenol", 0.1))
    found = rounding(batch, 0.01, catalogue)
    assert all(abs(row.error) < 1e-12 for row in found.rows)
    assert all(e.is_within for e in found.effects)
    assert all(abs(e.change) < 1e-6 for e in found.effects if e.change is not None)
    assert found.findings == ()


def test_a_row_that_rounds_to_zero_is_warned_of_with_a_dilution(catalogue: Catalogue) -> None:
    """0.004 g on a balance of 0.01 g: 0.4 g of a 1 % dilution has 40 divisions."""
    found = rounding(made_up(50.0, ("ethyl acetate", 1.2), ("eugenol", 0.004)), 0.01, catalogue)
    warned = found.findings[0]
    assert (warned.code, warned.severity) == ("ROW-ROUNDS-TO-ZERO", "warning")
    assert warned.materials == ("eugenol",)
    assert "0.4 g of eugenol at 1 %" in warned.action
    assert "make at least 630 g" in warned.action  # 5 divisions: 50 x 0.05 / 0.004 = 625 g
    assert "eugenol" not in [row.label for row in found.weighing.rows]


def test_a_row_off_by_more_than_a_tenth_is_a_caution(catalogue: Catalogue) -> None:
    """0.014 g becomes 0.01 g, 29 % less; 0.03 g stays, but half a division is 17 % of it."""
    batch = made_up(50.0, ("eugenol", 0.014), ("linalool", 0.03), ("hexyl acetate", 0.06))
    found = {f.code: f for f in rounding(batch, 0.01, catalogue).findings}["ROW-ROUNDS-COARSELY"]
    assert found.severity == "caution"
    assert found.materials == ("eugenol", "linalool")
    assert "eugenol (0.014 g becomes 0.01 g)" in found.message
    assert "linalool (0.03 g, read to ±17 %)" in found.message


def test_a_dilution_in_the_formula_is_thinned_further(catalogue: Catalogue) -> None:
    batch = weigh(
        Formula.from_rows(
            [
                {"material": "cis-3-hexenol", "grams": 0.03, "strength_pct": "10"},
                {"material": "propylene glycol", "grams": 50},
            ]
        ),
        catalogue,
    )
    found = rounding(batch, 0.01, catalogue).findings[0]
    assert "0.3 g of cis-3-hexen-1-ol at 1 %" in found.action


@given(
    grams=st.lists(st.floats(1e-4, 0.05), min_size=1, max_size=6),
    carrier_g=st.floats(0.1, 100),
)
def test_suggested_dilutions_can_be_weighed_and_have_room(
    grams: list[float], carrier_g: float
) -> None:
    division = 0.01
    strengths = dilution_strengths_pct(grams, division, carrier_g)
    if strengths is None:
        return
    diluted = [100.0 * g / s for g, s in zip(grams, strengths, strict=True)]
    assert all(d >= LEAST_DIVISIONS * division * (1 - 1e-6) for d in diluted)
    assert 0.5 * division / min(diluted) <= LARGEST_ERROR * (1 + 1e-6)
    assert sum(diluted) - sum(grams) <= 0.5 * carrier_g * (1 + 1e-9)
    assert GOOD_DIVISIONS > LEAST_DIVISIONS


def test_rounding_that_turns_a_verdict_is_warned_of(catalogue: Catalogue) -> None:
    """0.4 g of ethyl acetate on a balance of 1 g is none, and the blend no longer flashes low."""
    batch = made_up(20.0, ("ethyl acetate", 0.4), ("eugenol", 1.0))
    codes = [f.code for f in rounding(batch, 1.0, catalogue).findings]
    assert "ROUNDING-CHANGES-VERDICT" in codes


def test_a_balance_out_of_range_or_too_coarse_is_refused() -> None:
    batch = weighed(("hexyl acetate", 0.2), ("eugenol", 0.1))
    with pytest.raises(BalanceError, match="outside"):
        rounded_rows(batch, 0.0)
    with pytest.raises(BalanceError, match="larger one"):
        rounded_rows(batch, 10.0)
