"""`assess_many` gives the numbers of `assess`, a row for each formula, and never stops."""

from __future__ import annotations

import gc
import math
import sys
from pathlib import Path

import pyarrow as pa
import pytest

from blendwright import Formula, assess, assess_many, read_formula
from blendwright.app.batch import engine
from blendwright.app.batch.errors import MissingBatchExtraError
from blendwright.app.batch.schema import QUESTIONS
from tests.app.batch.conftest import long_table, many
from tests.conftest import formula

HERE = {"temperature_K": 298.15, "pressure_Pa": 101325.0}
EXAMPLES = Path(__file__).parents[3] / "examples"
RELATIVE = 1e-9


def test_a_chunk_leaves_no_formula_behind_for_the_garbage_collector() -> None:
    """Memory would grow with the chunks: what lies in a circle waits until Python looks for it."""
    formulas = [formula(("vanillin", 5.0 + n), ("propylene glycol", 20.0)) for n in range(40)]
    assess_many(formulas, **HERE, only=["density"])
    gc.collect()
    gc.disable()
    try:
        assess_many(formulas, **HERE, only=["density"])
        assert gc.collect() < len(formulas)
    finally:
        gc.enable()


def test_the_numbers_are_those_of_assess() -> None:
    formulas = [
        read_formula(EXAMPLES / "orchard-pear-cardamom.csv"),
        formula(("vanillin", 5.0), ("propylene glycol", 20.0)),
        formula(("limonene", 5.0), ("ethanol", 3.0), ("water", 20.0)),
        formula(("water", 5.0)),
        formula(("maltol", 3.0), ("ethyl acetate", 20.0)),
    ]
    table = assess_many(formulas, **HERE).to_pylist()
    for row, one in zip(table, formulas, strict=True):
        made = assess(one, **HERE)
        told = made.to_dict()
        assert row["mass_g"] == pytest.approx(made.weighing.total_g, rel=RELATIVE)
        assert row["dissolution"] == made.dissolution
        assert row["liquid"] == made.liquid
        assert row["ghs_category"] == made.flammability.category
        assert row["ghs_treat_as"] == made.flammability.treat_as
        assert row["ghs_standing"] == made.flammability.standing
        assert row["findings"] == ";".join(finding.code for finding in made.findings)
        assert row["has_warning"] == made.has_warning
        assert (row["chance_of_layers"] is None) == (made.chance_of_layers is None)
        estimates = told["estimates"]
        assert isinstance(estimates, dict)
        for name, estimate in estimates.items():
            assert row[f"{name}_status"] == estimate["status"], name
            for column, key in ((name, "value"), (f"{name}_low", "low"), (f"{name}_high", "high")):
                if estimate[key] is None:
                    assert row[column] is None, column
                else:
                    assert row[column] == pytest.approx(estimate[key], rel=RELATIVE), column


def test_one_row_for_each_formula_in_the_order_of_the_input() -> None:
    table = assess_many(many(50, bad=[7, 31]), only=["density"], **HERE)
    assert table.column("formula").to_pylist() == [f"F{n}" for n in range(50)]
    assert table.column("number").to_pylist() == list(range(1, 51))
    wrong = [n for n, text in enumerate(table.column("error").to_pylist()) if text]
    assert wrong == [7, 31]
    assert table.column("density_g_mL").null_count == 2


def test_questions_come_alone_or_together() -> None:
    table = long_table(("a", "ethyl butyrate", 1.0), ("a", "PG", 9.0))
    every = assess_many(table, **HERE)
    for question in QUESTIONS:
        alone = assess_many(table, only=[question], **HERE)
        assert alone.num_columns < every.num_columns
        for name in alone.column_names:
            assert alone.column(name).equals(every.column(name)), name


def test_formulas_of_one_name_are_told_apart_by_their_place() -> None:
    same: list[Formula] = [formula(("PG", 1.0)), formula(("PG", 2.0))]
    table = assess_many(same, only=["density"], **HERE)
    assert table.column("mass_g").to_pylist() == [1.0, 2.0]


def test_an_id_that_returns_is_refused_in_both_places() -> None:
    table = assess_many(
        long_table(("a", "PG", 1.0), ("b", "PG", 1.0), ("a", "vanillin", 1.0)),
        only=["density"],
        **HERE,
    )
    assert table.column("error_kind").to_pylist() == ["duplicate id", None, "duplicate id"]
    assert table.column("density_g_mL").to_pylist()[0] is None
    assert "formula number 3" in table.column("error")[0].as_py()


def test_a_blend_that_breaks_the_program_costs_its_own_row(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = engine.block_columns

    def fragile(block, *given):  # type: ignore[no-untyped-def]
        if any(math.isclose(mass_g, 23.7) for mass_g in block.mass_g):
            raise ZeroDivisionError("by zero")
        return real(block, *given)

    monkeypatch.setattr(engine, "block_columns", fragile)
    table = assess_many(many(10), only=["density"], **HERE)
    kinds = table.column("error_kind").to_pylist()
    assert kinds == ["program" if n == 3 else None for n in range(10)]
    assert "ZeroDivisionError: by zero" in table.column("error")[3].as_py()
    assert table.column("mass_g").to_pylist()[4] == pytest.approx(24.7)


def test_the_table_says_what_it_is_of() -> None:
    said = assess_many(many(1), only=["density"], **HERE).schema.metadata
    assert said[b"blendwright.schema"] == b"blendwright/batch/1"
    assert b'"temperature_C": 25.0' in said[b"blendwright.conditions"]
    assert len(said[b"blendwright.data_version"]) == 12


@pytest.mark.parametrize(
    "given",
    [{"temperature_K": 900.0, "pressure_Pa": 1e5}, {"temperature_K": 298.0, "pressure_Pa": 1.0}],
)
def test_conditions_out_of_range_are_refused(given: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must lie between"):
        assess_many(many(1), **given)


def test_a_question_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="no such question: taste"):
        assess_many(many(1), only=["taste"], **HERE)


def test_without_pyarrow_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(MissingBatchExtraError, match=r"pip install 'blendwright\[batch\]'"):
        assess_many([formula(("PG", 1.0))], **HERE)


def test_no_formulas_make_an_empty_table() -> None:
    table = assess_many([], **HERE)
    assert isinstance(table, pa.Table)
    assert len(table) == 0
