"""The order of work: common practice, no source. One function tells it, three readers show it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, assess, bench_sheet, read_formula, warm
from blendwright.catalogue import Catalogue
from blendwright.mixture.weighing import weigh
from blendwright.questions.volumes.weighing_order import (
    HELD_BACK,
    ORDER_RULE,
    Stage,
    first_part_g,
    is_light,
    make_up_row,
    vapour_pressure_of_row_Pa,
    weighing_steps,
)
from blendwright.report.papers.bench import weighing_list
from blendwright.report.papers.dossier import gather
from tests.conftest import formula
from tests.report.conftest import DAY

EXAMPLE = Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv"
ORDER: tuple[Stage, ...] = ("carrier", "crystals", "heavy", "light", "top up")


def test_carrier_then_crystals_then_heavy_then_light_then_the_rest_of_the_carrier(
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
        "propylene glycol",
        "vanillin",
        "ethyl maltol",
        "triethyl citrate",
        "hexyl acetate",
        "ethyl acetate",
        "propylene glycol",
    ]
    assert [step.stage for step in steps] == [
        "carrier", "crystals", "crystals", "heavy", "light", "light", "top up",
    ]  # fmt: skip
    assert [step.hint for step in steps] == [
        "first part", "", "until clear", "", "cold", "", "to weight",
    ]  # fmt: skip
    assert [step.makes_up for step in steps] == [False] * 6 + [True]
    assert (steps[0].grams, steps[-1].grams) == pytest.approx((36.0, 4.0))
    assert steps[-1].running_total_g == pytest.approx(44.35)
    assert "common practice, no source" in ORDER_RULE


def test_the_row_written_to_weight_is_first_and_last_even_if_lighter(catalogue: Catalogue) -> None:
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
    assert [step.material for step in steps] == [
        "triacetin", "propylene glycol", "linalool", "triacetin",
    ]  # fmt: skip
    assert steps[-1].running_total_g == pytest.approx(80.0)


def test_a_light_carrier_beside_the_main_one_waits_for_the_light_parts(
    catalogue: Catalogue,
) -> None:
    rows = [("propylene glycol", 60), ("ethanol", 30), ("vanillin", 5), ("hexyl acetate", 5)]
    steps = weighing_steps(weigh(formula(*rows), catalogue))
    assert [(step.material, step.stage) for step in steps] == [
        ("propylene glycol", "carrier"),
        ("vanillin", "crystals"),
        ("hexyl acetate", "light"),
        ("ethanol", "light"),
        ("propylene glycol", "top up"),
    ]


def test_without_a_carrier_nothing_makes_up_and_the_liquids_take_the_crystals(
    catalogue: Catalogue,
) -> None:
    batch = weigh(formula(("linalool", 1), ("eugenol", 1)), catalogue)
    assert make_up_row(batch) is None
    assert [step.material for step in weighing_steps(batch)] == ["eugenol", "linalool"]
    batch = weigh(formula(("menthol", 1), ("linalool", 1), ("eugenol", 5)), catalogue)
    assert [step.material for step in weighing_steps(batch)] == ["eugenol", "menthol", "linalool"]


def test_the_example_goes_through_the_stages_once_and_by_rising_vapour_pressure(
    catalogue: Catalogue,
) -> None:
    batch = weigh(read_formula(EXAMPLE), catalogue)
    steps = weighing_steps(batch)
    assert [s.material for s in steps[-2:]] == ["ethyl acetate", "propylene glycol"]
    places = [ORDER.index(step.stage) for step in steps]
    assert places == sorted(places)
    for stage in ("heavy", "light"):
        rows = [batch.rows[s.row] for s in steps if s.stage == stage]
        pressures = [vapour_pressure_of_row_Pa(row) for row in rows]
        assert pressures == sorted(pressures)
        assert all(is_light(row) == (stage == "light") for row in rows)
    assert steps[-1].running_total_g == pytest.approx(50.0)


@given(st.floats(0.01, 1e5), st.sampled_from([None, 0.001, 0.01, 0.1]))
def test_a_tenth_of_the_carrier_or_a_little_more_is_held_back(
    grams: float, division_g: float | None
) -> None:
    first = first_part_g(grams, division_g)
    assert 0.0 <= first <= grams * (1.0 - HELD_BACK) * (1.0 + 1e-9)
    assert first >= grams * (1.0 - HELD_BACK) * 0.9 - (division_g or 0.0)


@pytest.mark.parametrize(
    "written",
    [
        read_formula(EXAMPLE),
        formula(("vanillin", 30), ("ethyl acetate", 5), ("triethyl citrate", 65)),
    ],
    ids=["orchard", "crystals beside a light part"],
)
def test_warming_bench_sheet_and_volumes_tell_one_order(written: Formula) -> None:
    volumes = bench_sheet(written).steps
    dossier = gather(assess(written), DAY)
    assert dossier.steps == volumes
    shown = [row[2].text for row in weighing_list(dossier).rows]
    assert shown == [step.words for step in volumes]
    first = warm(written).carrier_first
    assert first is not None
    assert first.light == tuple(s.material for s in volumes if s.stage == "light")
    before = {s.material for s in volumes if s.stage in ("carrier", "crystals", "heavy")}
    assert set(first.kept) == before
