"""A dilution written as one name is opened as if its strength and carrier had columns of their own,
and said so; what could be meant otherwise is asked about."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from blendwright import Formula, FormulaError, assess
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue
from blendwright.formula.dilution_names import dilution_in_name
from blendwright.mixture.weighing import DROP_mL, Weighing, weigh

CODE = "STRENGTH-IN-NAME"
TO_COLUMNS = "strength_pct, carrier"


def weighed(catalogue: Catalogue, **cells: object) -> Weighing:
    return weigh(Formula.from_rows([{"grams": 10.0, **cells}]), catalogue)


@pytest.mark.parametrize(
    ("written", "material", "percent", "carrier"),
    [
        ("vanillin 7% in PG", "vanillin", 7.0, "propylene glycol"),
        ("diacetyl 12 % (triacetin)", "diacetyl", 12.0, "triacetin"),
        ("ethyl maltol 5%/ethanol", "ethyl maltol", 5.0, "ethanol"),
        ("ethyl maltol (5 % in ethanol)", "ethyl maltol", 5.0, "ethanol"),
        ("linalool 2,5 % MCT", "linalool", 2.5, "MCT oil"),
        ("2,5-dimethylpyrazine 10 % w/w in 1,3-propanediol", "2,5-dimethylpyrazine", 10.0,
         "1,3-propanediol"),
        ("citral 7 % in limonene", "citral", 7.0, "limonene"),
    ],
)  # fmt: skip
def test_a_plain_name_is_opened_as_its_columns_would_be(
    written: str, material: str, percent: float, carrier: str, catalogue: Catalogue
) -> None:
    by_name = weighed(catalogue, material=written)
    by_columns = weighed(catalogue, material=material, strength_pct=percent, carrier=carrier)
    (row,), (columns,) = by_name.rows, by_columns.rows
    assert (row.label, row.written) == (f"{material} {percent:g} % in {carrier}", written)
    assert row.substances == columns.substances
    assert row.active_fraction == pytest.approx(percent / 100.0)
    (notice,) = by_name.formula.notices
    assert (notice.code, notice.severity) == (CODE, "info")
    assert written in notice.message
    assert row.label in notice.message
    assert by_columns.formula.notices == ()


@pytest.mark.parametrize(
    "written",
    [
        "furaneol 17 PG",  # no per cent sign
        "diacetyl 12%",  # no carrier
        "decalactone 10 % in PG",  # which decalactone?
        "orange oil 5 % citral",  # orange oil that holds citral
        "vanillin 5-7 % in PG",  # a range
        "vanillin < 7 % in PG",  # a limit
        "vanillin 7 % in unobtainium",
        "vanillin 7 % in PG 50 %",
        "vanillin 150 % in PG",
    ],
)
def test_what_could_be_meant_otherwise_is_asked_about(written: str, catalogue: Catalogue) -> None:
    with pytest.raises(FormulaError, match=TO_COLUMNS):
        weighed(catalogue, material=written)


@pytest.mark.parametrize("written", ["vanillin 10% in PG", "ethanol 96 %", "furaneol 15% in PG"])
def test_a_material_of_that_very_name_wins(written: str, catalogue: Catalogue) -> None:
    found = weighed(catalogue, material=written)
    assert found.rows[0].strength is None
    assert found.formula.notices == ()


def test_columns_that_are_filled_in_are_not_contradicted_by_a_name(catalogue: Catalogue) -> None:
    with pytest.raises(FormulaError, match="unknown material"):
        weighed(catalogue, material="vanillin 7 % in PG", strength_pct=10, carrier="PG")


def test_a_number_beside_the_name_is_that_of_what_is_diluted(catalogue: Catalogue) -> None:
    """A row with vanillin's CAS number is no pure vanillin when its name says 7 %."""
    found = weighed(catalogue, material="vanillin 7 % in PG", cas="121-33-5")
    assert found.rows[0].active_fraction == pytest.approx(0.07)
    with pytest.raises(FormulaError, match="correct one of"):
        weighed(catalogue, material="vanillin 7 % in PG", cas="64-17-5")


def test_aqueous_ethanol_still_needs_its_basis(catalogue: Catalogue) -> None:
    with pytest.raises(FormulaError, match="by volume or by mass"):
        weighed(catalogue, material="ethanol 50 % in water")
    found = weighed(catalogue, material="ethanol 50 % vol in water")
    assert found.rows[0].active_fraction == pytest.approx(0.425, abs=0.003)  # OIML R 22


def test_an_answer_a_batch_and_every_command_say_how_it_was_read(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    rows = [{"material": "vanillin 7 % in PG", "grams": 1.0}, {"material": "PG", "grams": 9.0}]
    formula = Formula.from_rows(rows)
    assert [f.code for f in assess(formula).findings].count(CODE) == 1
    cached = RowCache(catalogue, DROP_mL).weigh(formula)
    assert [notice.code for notice in cached.formula.notices] == [CODE]
    file = tmp_path / "x.csv"
    file.write_text("material,grams\nvanillin 7 % in PG,1\nPG,9\n", encoding="utf-8")
    for command in ("assess", "volumes", "flash"):
        said = " ".join(CliRunner().invoke(app, [command, str(file)]).output.split())
        assert said.count("is read as vanillin 7 % in propylene glycol") == 1, command


def test_names_that_are_dilutions_are_not_among_the_problems_of_another_row(
    tmp_path: Path,
) -> None:
    file = tmp_path / "x.csv"
    file.write_text("material,grams\nvanillin 7 % in PG,x\nnonsuch,1\n", encoding="utf-8")
    said = CliRunner().invoke(app, ["assess", str(file)]).output
    assert "unknown material 'nonsuch'" in " ".join(said.split())
    assert "unknown material 'vanillin" not in " ".join(said.split())


@given(st.text(alphabet="vanil 105%,./()in-PG<", max_size=30))
def test_whatever_is_read_has_a_name_a_carrier_and_less_than_100_percent(written: str) -> None:
    told = dilution_in_name(written)
    if told is not None:
        assert told.name.strip()
        assert told.carrier.strip()
        assert 0.0 < told.strength.percent < 100.0
        assert "%" not in told.name + told.carrier
