"""The whole road: the JSON contract, and what must hold for any formula."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendwright import Formula, assess
from blendwright.app.batch.answer_table import QUESTIONS, columns
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.weighing import weigh
from tests.conftest import ESTER_RICH_CONCENTRATE, formula
from tests.schemas import validator

NAMES = default_catalogue().names()
NO_FLASH_POINT = {"water"}  # alone; in glycol all have one


def lots(names: Sequence[str], size: int) -> list[tuple[str, ...]]:
    return [tuple(names[first : first + size]) for first in range(0, len(names), size)]


HOSTILE = {
    "pure water": [("water", 1)],
    "pure ethanol": [("ethanol", 1)],
    "all crystals": [("vanillin", 1), ("maltol", 1), ("camphor", 1)],
    "a solid from beyond the catalogue": [("caffeine", 1)],
    "a trace of acetaldehyde": [("acetaldehyde", 0.1), ("propylene glycol", 99.9)],
    "all terpenes": [("limonene", 5), ("alpha-pinene", 3), ("myrcene", 2)],
    "oil and water": [("sweet orange oil", 1), ("water", 99)],
    "not curated": [("toluene", 1), ("triacetin", 9)],
    "a solid from beyond the catalogue in water": [("caffeine", 1), ("water", 9)],
    "a picogram": [("vanillin", 1e-12), ("propylene glycol", 1)],
}


@pytest.mark.parametrize("name", list(HOSTILE))
def test_hostile_blends_get_a_valid_answer(name: str) -> None:
    made = assess(formula(*HOSTILE[name])).to_dict()
    validator().validate(made)
    json.dumps(made, allow_nan=False)


@given(
    rows=st.lists(
        st.tuples(st.sampled_from(NAMES), st.floats(0.01, 100.0)), min_size=1, max_size=8
    ),
    temperature_C=st.floats(-20, 80),
)
def test_any_formula_gets_a_valid_answer(
    rows: list[tuple[str, float]], temperature_C: float
) -> None:
    made = assess(formula(*rows), temperature_K=temperature_C + 273.15)
    validator().validate(made.to_dict())
    for estimate in made.estimates.values():
        if estimate.is_ok:
            value, low, high = estimate.interval()
            assert low <= value <= high
            assert estimate.method
            assert estimate.sources
        else:
            assert estimate.notes


@given(order=st.permutations(range(len(ESTER_RICH_CONCENTRATE))), factor=st.floats(0.01, 1000.0))
def test_order_of_rows_and_batch_size_do_not_matter(order: list[int], factor: float) -> None:
    plain = assess(formula(*ESTER_RICH_CONCENTRATE))
    rows = [ESTER_RICH_CONCENTRATE[i] for i in order]
    other = assess(formula(*((name, grams * factor) for name, grams in rows)))
    for name, estimate in plain.estimates.items():
        if not estimate.is_ok or name == "volume":
            continue
        assert other.estimates[name].interval() == pytest.approx(estimate.interval(), rel=1e-5), (
            name
        )
    assert (plain.dissolution, plain.liquid) == (other.dissolution, other.liquid)


@pytest.mark.parametrize("carrier", [[], [("propylene glycol", 9.0)]], ids=["alone", "in glycol"])
def test_every_material_of_the_catalogue_is_answered(
    carrier: list[tuple[str, float]], catalogue: Catalogue
) -> None:
    unknown: list[str] = []
    for names in lots(NAMES, 40):
        blends = [weigh(formula((name, 1.0), *carrier), catalogue) for name in names]
        found = columns(blends, BENCH_K, ATMOSPHERE_Pa, frozenset(QUESTIONS))
        assert (found["density_g_mL_status"] == "ok").all(), names
        flash = found["flash_point_closed_cup_C_status"] == "ok"
        unknown += [name for name, known in zip(names, flash.tolist(), strict=True) if not known]
    assert set(unknown) <= (set() if carrier else NO_FLASH_POINT)


@pytest.mark.parametrize("names", lots(NAMES, 24), ids=lambda names: names[0])
def test_every_material_of_the_catalogue_is_assessed_in_glycol(names: tuple[str, ...]) -> None:
    made = assess(formula(*((name, 1.0) for name in names), ("propylene glycol", 9.0)))
    assert made.estimates["flash_point_closed_cup"].is_ok
    assert made.estimates["density"].is_ok
    validator().validate(made.to_dict())


@pytest.mark.parametrize("others", [[], [("water", 9.0)], [("propylene glycol", 9.0)]])
def test_a_solid_without_groups_gets_a_valid_answer(
    others: list[tuple[str, float]], with_house_powder: Catalogue
) -> None:
    made = assess(formula(("house powder", 1), *others), catalogue=with_house_powder).to_dict()
    validator().validate(made)
    json.dumps(made, allow_nan=False)


def test_what_is_left_out_is_named_everywhere(with_house_powder: Catalogue) -> None:
    """It has no groups and is heavy, so the rest stands."""
    made = assess(
        formula(("house powder", 1), ("propylene glycol", 9)), catalogue=with_house_powder
    )
    assert {out.material for out in made.left_out} == {"house powder"}
    flash = made.estimates["flash_point_closed_cup"]
    assert any("house powder" in note for note in flash.notes)
    assert made.flammability.standing != "clear"
    assert made.dissolution == "unknown"


def test_cautions_are_always_there() -> None:
    made = assess(formula(("water", 1)))
    text = " ".join(made.cautions)
    assert "not tests" in text
    assert "qualified person" in text
    assert 'not "harmless"' in text


def test_conditions_out_of_range_are_refused() -> None:
    blend = Formula.from_rows([{"material": "water", "grams": 1}])
    with pytest.raises(ValueError, match="temperature"):
        assess(blend, temperature_K=500.0)
    with pytest.raises(ValueError, match="pressure"):
        assess(blend, pressure_Pa=1.0)
