"""The person's own materials: corrections, new ones, sub-blends, bought bases."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from blendwright import FormulaError, assess
from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue
from blendwright.pure.constants import pure_constants
from blendwright.questions.materials.own import read_own_materials
from tests.conftest import formula

Write = Callable[[str, bytes | str], Path]
HEADER = "material,property,value,unit,temperature_C,uncertainty,source,lot,date,note\n"


def own(write: Write, catalogue: Catalogue, *rows: str) -> Catalogue:
    return read_own_materials(write("own.csv", HEADER + "\n".join(rows) + "\n"), catalogue)


def test_a_data_sheet_s_value_wins_and_shows_as_yours(write: Write, catalogue: Catalogue) -> None:
    both = own(write, catalogue, "ethyl butyrate,flash_point,26,°C,,1,sheet,A17,2026-03-01,")
    flash = pure_constants(both.find("ethyl butyrate")).flash
    assert flash.interval()[0] - 273.15 == pytest.approx(26.0)
    assert flash.sources == ("yours: sheet, lot A17, 2026-03-01",)
    lost = [d for d in both.find("ethyl butyrate").data if d.rejected == "yours wins"]
    assert lost
    assert pure_constants(catalogue.find("ethyl butyrate")).flash.sources != flash.sources
    assert both.version() != catalogue.version()


def test_own_dilution_and_sub_blend_from_a_formula_file(write: Write, catalogue: Catalogue) -> None:
    write("sub.csv", "material,grams\nvanillin,1\nethanol,9\n")
    both = own(
        write,
        catalogue,
        "house vanilla,formula_file,sub.csv,,,,,,,",
        "house citrus,constituent,40,,,,,,,limonene",
        "house citrus,constituent,60,,,,,,,ethanol",
    )
    made = assess(formula(("house vanilla", 10), ("house citrus", 10)), catalogue=both)
    blend = made.weighing.composition
    grams = dict(zip(blend.names, blend.mass_kg * 1e3, strict=True))
    assert grams == pytest.approx({"vanillin": 1.0, "ethanol": 15.0, "limonene": 4.0})


def test_a_base_of_undisclosed_composition_is_bounded_never_clear(
    write: Write, catalogue: Catalogue
) -> None:
    both = own(
        write,
        catalogue,
        "pear base,density,0.98,,,,sheet,,,",
        "pear base,flash_point,71,,,,sheet,,,",
        "pear base,solvent,propylene glycol,,,,,,,",
    )
    made = assess(formula(("pear base", 20), ("propylene glycol", 80)), catalogue=both)
    value, low, _ = made.estimates["flash_point_closed_cup"].interval()
    assert value - 273.15 <= 71.0
    assert low < value - 10.0
    assert made.flammability.standing == "too_near"
    assert made.estimates["vapour_pressure"].status == "unknown"
    assert made.estimates["density"].is_ok
    assert {out.material for out in made.left_out} == {"pear base"}
    # A lighter neighbour of known flash point lowers the bound.
    lighter = assess(formula(("pear base", 20), ("ethyl acetate", 80)), catalogue=both)
    assert lighter.estimates["flash_point_closed_cup"].interval()[0] - 273.15 < 0.0


def test_an_own_solubility_counts_in_every_formula_with_that_crystal(
    write: Write, catalogue: Catalogue
) -> None:
    """11 g of vanillin in 100 g of propylene glycol at 20 °C, a figure for this test alone."""
    both = own(write, catalogue, "vanillin,solubility,11,,20,0.5,sheet,,,propylene glycol")
    saturated = formula(("vanillin", 11), ("propylene glycol", 100))
    near = formula(("vanillin", 5), ("ethyl butyrate", 10), ("propylene glycol", 85))
    plain, made = (assess(saturated, catalogue=c) for c in (catalogue, both))
    crystals = made.estimates["dissolution_temperature"]
    assert crystals.interval()[0] == pytest.approx(293.15, abs=0.5)
    assert any(source.startswith("yours: sheet") for source in crystals.sources)
    assert not any("yours" in s for s in plain.estimates["dissolution_temperature"].sources)
    before, after = (
        assess(near, catalogue=c).solids[0].most_20C.interval() for c in (catalogue, both)
    )
    assert after[2] / after[1] < 0.5 * before[2] / before[1]
    stranger = formula(("camphor", 5), ("propylene glycol", 85))
    alone, beside = (assess(stranger, catalogue=c).estimates for c in (catalogue, both))
    assert alone == beside


@pytest.mark.parametrize(
    ("row", "place", "message"),
    [
        ("vanillin,solubility,11,,,,,,,propylene glycol", "column temperature_C", "needs its"),
        ("vanillin,solubility,11,g/L,20,,,,,ethanol", "column unit", "stands in g/100 g"),
        ("vanillin,solubility,11,,20,,,,,nothing known", "column note", "name the carrier"),
        ("vanillin,solubility,11,,20,,,,,orange oil", "column note", "no single carrier"),
        ("vanillin,solubility,11,,95,,,,,ethanol", "column value", "is no crystal"),
        ("limonene,solubility,11,,20,,,,,ethanol", "column value", "is no crystal"),
        ("ethyl butyrate,flash_point,26,K,,,,,,", "row 2, column value", "out of any range"),
        ("ethyl butyrate,flash_point,26,F,,,,,,", "row 2, column unit", "stands in °C or K"),
        ("ethyl butyrate,density,heavy,,,,,,,", "row 2, column value", "not a number"),
        ("ethyl butyrate,colour,red,,,,,,,", "row 2, column property", "unknown property"),
        ("new oil,constituent,40,,,,,,,limonen", "row 2, column note", "unknown material"),
        ("new oil,constituent,40,,,,,,,limonene", "row 2, column value", "add up to 40.0 %"),
        ("new base,density,0.9,,,,,,,", "row 2, column property", "needs its flash_point"),
        ("x,cas,123-45-6,,,,,,,", "row 2, column value", "check digit"),
        ("amyl acetate,density,0.9,,,,,,,", "row 2, column material", "several materials"),
        ("ethyl butyrate,flash_point,200,°C,,,,,,", "row 2, column material", "not below"),
    ],
)
def test_what_is_off_is_named_with_its_place(
    write: Write, catalogue: Catalogue, row: str, place: str, message: str
) -> None:
    with pytest.raises(FormulaError) as caught:
        own(write, catalogue, row)
    assert place in str(caught.value)
    assert message in str(caught.value)


def test_three_errors_of_a_supplier_s_table_come_together(write: Write) -> None:
    path = write(
        "sheet.csv",
        "material,property,value,unit\nethyl butyrate,flash_point,26,F\n"
        "limonene,density,x,g/mL\nvannilin,melting_point,81,°C\n",
    )
    done = CliRunner().invoke(app, ["material", "check", str(path)])
    assert done.exit_code == 2
    for place in ("row 2, column unit", "row 3, column value", "row 4"):
        assert place in done.stderr


def test_materials_option_and_kept_file(
    write: Write, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    runner = CliRunner()
    path = write("own.csv", HEADER + "my ester,constituent,100,,,,,,,ethyl butyrate\n")
    row = ["assess", "--row", "my ester=1"]
    assert runner.invoke(app, row).exit_code == 2
    assert runner.invoke(app, [*row, "--materials", str(path)]).exit_code == 0
    monkeypatch.setattr("blendwright.app.cli.material.own_file", lambda: tmp_path / "kept.csv")
    monkeypatch.setattr("blendwright.app.cli.exit_on_error.own_file", lambda: tmp_path / "kept.csv")
    answers = "my ester\nsheet\nL1\n\n\n\n\n\n\n\nethyl butyrate 100\n"
    added = runner.invoke(app, ["material", "add"], input=answers)
    assert added.exit_code == 0, added.output
    assert runner.invoke(app, row).exit_code == 0
    bad = "bad base\n\n\n0.9\n\n\n\n\n\n\n\n"
    assert runner.invoke(app, ["material", "add"], input=bad).exit_code == 2
    assert "bad base" not in (tmp_path / "kept.csv").read_text(encoding="utf-8")
