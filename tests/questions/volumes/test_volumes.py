"""The pipetting sheet: volumes, scaling, the command."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from blendwright import assess, read_formula
from blendwright.app.cli.main import app
from blendwright.questions.volumes import volumes as bench
from blendwright.questions.volumes.drops import DropCount
from blendwright.questions.volumes.filling import Bottles
from blendwright.questions.volumes.volumes import BenchError, BenchOrder, bench_sheet
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

EXAMPLE = str(Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv")
runner = CliRunner()


@pytest.mark.parametrize(
    ("percent", "density_g_mL"),
    [
        (10, 0.98471),
        (20, 0.97356),
        (30, 0.96221),
        (40, 0.94805),
        (50, 0.93014),
        (60, 0.90911),
        (70, 0.88556),
        (80, 0.85927),
        (96, 0.80742),
    ],
    ids=lambda value: f"{value} % vol" if isinstance(value, int) else "",
)
def test_volumes_of_spirits_by_oiml_r_22(percent: float, density_g_mL: float) -> None:
    """OIML R 22 (1973), 20 °C, from memory: 100 g of spirit of each strength by volume."""
    sheet = bench_sheet(formula(("ethanol", 100, f"{percent} % vol")))
    value, low, high = sheet.total_20C.in_display_units().interval()
    assert value == pytest.approx(100.0 / density_g_mL, rel=1e-3)
    assert low <= 100.0 / density_g_mL <= high


def test_ten_grams_in_forty_of_propylene_glycol_make_fifty() -> None:
    """Densities at 20 °C from memory (CRC Handbook, data sheets): the volume by adding up mass over
    density agrees with the blend's own density within 0.5 %."""
    rows = [
        ("ethyl acetate", 1.5, 0.9003),
        ("isoamyl acetate", 3.0, 0.876),
        ("ethyl butyrate", 2.5, 0.8785),
        ("linalool", 0.5, 0.862),
        ("benzaldehyde", 0.5, 1.0415),
        ("triethyl citrate", 2.0, 1.137),
        ("propylene glycol", 40.0, 1.0361),
    ]
    sheet = bench_sheet(formula(*((name, grams) for name, grams, _ in rows)))
    assert sheet.weighing.total_g == pytest.approx(50.0)
    added_mL = sum(grams / density for _, grams, density in rows)
    assert sheet.total_20C.in_display_units().value == pytest.approx(added_mL, rel=0.005)
    density = sheet.density.in_display_units().value
    assert density is not None
    assert sheet.total_20C.in_display_units().value == pytest.approx(50.0 / density)


def test_the_sheet_agrees_with_the_assessment() -> None:
    sheet = bench_sheet(read_formula(EXAMPLE), BenchOrder(temperature_K=298.15))
    made = assess(read_formula(EXAMPLE), 298.15)
    assert sheet.density == made.estimates["density"]
    assert sheet.total.interval() == pytest.approx(made.estimates["volume"].interval())
    for line, poured in zip(sheet.rows, made.row_volumes, strict=True):
        assert line.volume.interval() == pytest.approx(poured.interval())


@given(grams=st.floats(0.01, 1e6))
def test_scaling_by_mass_keeps_every_share(grams: float) -> None:
    written = formula(("hexyl acetate", 3), ("vanillin", 1), ("propylene glycol", 46))
    plain = bench_sheet(written)
    sheet = bench_sheet(written, BenchOrder(scale_to_g=grams))
    assert sheet.weighing.total_g == pytest.approx(grams)
    assert sheet.factor == pytest.approx(grams / 50.0)
    assert list(sheet.weighing.composition.mass_fractions) == pytest.approx(
        list(plain.weighing.composition.mass_fractions)
    )
    assert sheet.density.interval() == pytest.approx(plain.density.interval())
    assert sheet.total.interval()[0] == pytest.approx(plain.total.interval()[0] * sheet.factor)


@given(millilitres=st.floats(1, 1e5), fill_C=st.floats(0, 45))
def test_scaling_by_volume_gives_that_volume_where_it_is_measured(
    millilitres: float, fill_C: float
) -> None:
    order = BenchOrder(scale_to_mL=millilitres, fill_K=fill_C + 273.15)
    sheet = bench_sheet(formula(("hexyl acetate", 3), ("propylene glycol", 47)), order)
    assert sheet.total_at_fill.interval()[0] * 1e6 == pytest.approx(millilitres)
    shrunk = sheet.total_at_fill.interval()[0] - sheet.total_20C.interval()[0]
    assert shrunk <= 0.0 if fill_C < 20.0 else shrunk >= 0.0


def test_the_rounded_batch_is_what_is_pipetted_and_weighed() -> None:
    sheet = bench_sheet(
        read_formula(EXAMPLE), BenchOrder(bottles=Bottles(24, 30.0, 33.0, 0.02), balance_g=0.1)
    )
    assert sheet.rounding is not None
    assert sheet.weighing.total_g == pytest.approx(sheet.rounding.total_g)
    assert sheet.steps[-1].running_total_g == pytest.approx(sheet.weighing.total_g)
    assert sheet.total_at_fill.interval()[0] * 1e6 == pytest.approx(734.4, abs=0.1)
    assert {"BOTTLE-ROOM"} == {f.code for f in sheet.findings}


def test_rows_in_drops_follow_the_persons_own_drop() -> None:
    from blendwright import Formula

    written = Formula.from_rows(
        [{"material": "linalool", "drops": 40}, {"material": "propylene glycol", "grams": 20}]
    )
    usual = bench_sheet(written)
    own = bench_sheet(written, BenchOrder(drop=DropCount(drops_per_mL=40)))
    assert own.weighing.rows[0].grams == pytest.approx(usual.weighing.rows[0].grams / 2)
    assert own.rows[0].drops.value == pytest.approx(40.0)


def test_crystals_are_weighed_not_dropped() -> None:
    sheet = bench_sheet(formula(("vanillin", 1), ("propylene glycol", 9)))
    assert sheet.rows[0].is_crystal
    assert sheet.rows[0].drops.status == "not_applicable"
    assert sheet.rows[0].volume.is_ok  # the room that it takes once dissolved


def test_two_sizes_at_once_are_refused() -> None:
    with pytest.raises(BenchError, match="not to both"):
        BenchOrder(scale_to_g=500, bottles=Bottles(24, 30.0))
    with pytest.raises(BenchError, match="can't be made"):
        BenchOrder(scale_to_g=0)


def test_the_json_is_whole() -> None:
    asked = [
        "volumes", EXAMPLE, "--bottles", "24x30", "--brim-mL", "31", "--loss-pct", "2",
        "--balance-g", "0.1", "--fill-temperature-C", "25", "--counted-drops", "50",
        "--counted-drops-g",
        "1.1", "--dose-mL", "0.1", "--json",
    ]  # fmt: skip
    made = json.loads(runner.invoke(app, asked).stdout)
    assert made["schema"] == "blendwright/volumes/1"
    # 24 bottles of 30 mL and 2 % lost, filled at 25 °C: so many times the 50 g as written
    assert made["filling"]["needed_mL"] == pytest.approx(734.4)
    at_20C, at_25C = (
        assess(read_formula(EXAMPLE), kelvin).estimates["density"].in_display_units().value or 0.0
        for kelvin in (293.15, 298.15)
    )
    assert made["scaled_by"] == pytest.approx(734.4 * at_25C / 50.0, rel=1e-6)
    assert made["drop_mL"] == pytest.approx(1.1 / 50 / at_20C, rel=1e-6)
    assert made["weighing_order"][-1]["makes_up_to_weight"]
    assert made["weighing_order"][-1]["running_total_g"] == pytest.approx(made["total_g"])
    estimates = assess(read_formula(EXAMPLE)).to_dict()["estimates"]
    assert isinstance(estimates, dict)
    assert set(made["rounding"]["effects"]) == set(estimates)
    assert made["findings"][0]["code"] == "BOTTLE-OVERFULL"
    assert runner.invoke(app, [*asked[:-1], "--strict"]).exit_code == 1


def test_the_sheet_fits_80_columns_and_says_what_it_assumes() -> None:
    done = runner.invoke(app, ["volumes", EXAMPLE, "--balance-g", "0.01", "--bottles", "10x5"])
    assert done.exit_code == 0
    assert max(map(len, done.stdout.splitlines())) <= 80
    for words in ("common practice", "Weigh in this order", "Effect of rounding", "fills"):
        assert words in done.stdout


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--bottles", "many"], "write it like 24x30"),
        (["--bottles", "2x30", "--scale-to-g", "100"], "not to both"),
        (["--counted-drops", "50"], "--counted-drops-g"),
        (["--drops-per-mL", "20", "--drop-mL", "0.05"], "in one way"),
        (["--balance-g", "0"], "outside"),
        (["--brim-mL", "31"], "belong to --bottles"),
        (["--bottles", "2x30", "--brim-mL", "20"], "to the brim"),
        (["--fill-temperature-C", "400"], "outside -40 to 150"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_unusable_orders_exit_with_2_and_say_what_to_do(arguments: list[str], message: str) -> None:
    done = runner.invoke(app, ["volumes", EXAMPLE, *arguments])
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output


def test_the_codes_are_documented() -> None:
    text = (Path(EXAMPLE).parent.parent / "docs" / "json.md").read_text(encoding="utf-8")
    package = Path(bench.__file__).parent
    codes = {
        code
        for name in ("volumes", "filling", "rounding")
        for code in re.findall(
            r'"([A-Z]+(?:-[A-Z]+)+)"', (package / f"{name}.py").read_text(encoding="utf-8")
        )
    }
    assert len(codes) == 8
    assert {code for code in codes if f"`{code}`" not in text} == set()


def test_the_ester_rich_concentrate_needs_no_finding() -> None:
    assert bench_sheet(formula(*ESTER_RICH_CONCENTRATE)).findings == ()
