"""The order in which rows go onto the balance: common practice, no source."""

from __future__ import annotations

from pathlib import Path

import pytest

from blendwright import Formula, read_formula
from blendwright.catalogue import Catalogue
from blendwright.weighing import weigh
from blendwright.weighing_order import (
    ORDER_RULE,
    make_up_row,
    vapour_pressure_of_row_Pa,
    weighing_steps,
)
from tests.conftest import formula

EXAMPLE = Path(__file__).parent.parent / "examples" / "orchard-pear-cardamom.csv"


def test_crystals_then_heavy_liquids_then_top_notes_then_the_carrier(
    catalogue: Catalogue,
) -> None:
    written = formula(
        ("propylene glycol", 40),
        ("ethyl acetate", 1.2),
        ("vanillin", 0.9),
        ("triethyl citrate", 0.6),
        ("ethyl maltol", 0.25),
        ("hexyl acetate", 1.4),
    )
    steps = weighing_steps(weigh(written, catalogue))
    assert [step.material for step in steps] == [
        "vanillin",
        "ethyl maltol",
        "triethyl citrate",
        "hexyl acetate",
        "ethyl acetate",
        "propylene glycol",
    ]
    assert [step.stage for step in steps] == ["crystals"] * 2 + ["liquids"] * 3 + ["carrier"]
    assert [step.makes_up for step in steps] == [False] * 5 + [True]
    assert steps[-1].running_total_g == pytest.approx(44.35)
    assert "common practice, no source" in ORDER_RULE


def test_the_row_written_to_weight_comes_last_even_if_lighter(catalogue: Catalogue) -> None:
    written = Formula.from_rows(
        [
            {"material": "triacetin", "grams": "q.s.", "role": "carrier"},
            {"material": "propylene glycol", "grams": 60, "role": "carrier"},
            {"material": "linalool", "grams": 1},
        ],
        batch_g=80,
    )
    batch = weigh(written, catalogue)
    last = make_up_row(batch)
    assert last is not None
    assert batch.rows[last].label == "triacetin"
    steps = weighing_steps(batch)
    assert [step.material for step in steps] == ["linalool", "propylene glycol", "triacetin"]
    assert steps[-1].running_total_g == pytest.approx(80.0)


def test_without_a_carrier_nothing_makes_up(catalogue: Catalogue) -> None:
    batch = weigh(formula(("linalool", 1), ("eugenol", 1)), catalogue)
    assert make_up_row(batch) is None
    assert [step.material for step in weighing_steps(batch)] == ["eugenol", "linalool"]


def test_the_example_ends_with_its_most_volatile_row_before_the_carrier(
    catalogue: Catalogue,
) -> None:
    batch = weigh(read_formula(EXAMPLE), catalogue)
    steps = weighing_steps(batch)
    assert [s.material for s in steps[-2:]] == ["ethyl acetate", "propylene glycol"]
    liquids = [s.row for s in steps if s.stage == "liquids"]
    pressures = [vapour_pressure_of_row_Pa(batch.rows[row]) for row in liquids]
    assert pressures == sorted(pressures)
    assert steps[-1].running_total_g == pytest.approx(50.0)
