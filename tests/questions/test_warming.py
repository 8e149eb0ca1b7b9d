"""How far a blend may be warmed, what the warming costs, and what moves the flash point."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from blendwright import FormulaError, WarmBath, Warming, read_formula, warm
from blendwright.app.cli.main import app
from blendwright.catalogue import default_catalogue
from blendwright.estimate import Estimate
from blendwright.mixture.weighing import weigh
from blendwright.questions.flash_drivers import FlashDrivers, diluted, flash_drivers
from blendwright.questions.warming import InBeaker, carrier_row
from blendwright.report.warming import verdict_sentence
from blendwright.verdict.blend import Blend
from blendwright.verdict.warming import WarmingWindow, window
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

EXAMPLE = Path(__file__).parents[2] / "examples" / "orchard-pear-cardamom.csv"
Rows = tuple[tuple[str, float], ...]
VANILLIN_HEAVY: Rows = (
    *((name, grams) for name, grams in ESTER_RICH_CONCENTRATE if name != "vanillin"),
    ("vanillin", 60.0),
)
CRYSTALS_IN_CITRATE: Rows = (("vanillin", 30.0), ("triethyl citrate", 70.0))
runner = CliRunner()


@cache
def warmed(rows: Rows, to_C: float | None = None, minutes: float = 20.0) -> Warming:
    bath = WarmBath(None if to_C is None else to_C + 273.15, minutes)
    return warm(formula(*rows), bath)


@cache
def example(to_C: float | None = None) -> Warming:
    bath = WarmBath(None if to_C is None else to_C + 273.15)
    return warm(read_formula(EXAMPLE), bath)


@cache
def drivers() -> FlashDrivers:
    return flash_drivers(read_formula(EXAMPLE))


def celsius(value: float, low: float, high: float) -> Estimate:
    return Estimate.ok(value + 273.15, low + 273.15, high + 273.15, "K", "test")


def judged(dissolution: Estimate, flash: Estimate, one: bool = False) -> WarmingWindow:
    return window(dissolution, flash, one, 298.15)


def share(beaker: InBeaker, material: str) -> float:
    return next(r for r in beaker.rows if r.material == material).share.interval()[0]


def codes(warming: Warming) -> set[str]:
    return {finding.code for finding in warming.findings}


# The window


@pytest.mark.parametrize(
    ("dissolves", "flash", "word"),
    [
        (celsius(40, 35, 50), celsius(80, 71, 90), "safe window"),  # 55 fits below 56
        (celsius(40, 35, 50), celsius(80, 69, 90), "narrow"),  # 55 does not fit below 54
        (celsius(40, 35, 50), celsius(70, 61, 80), "narrow"),  # 45 fits below 46
        (celsius(40, 35, 50), celsius(70, 59, 80), "none"),  # 45 does not fit below 44
        (celsius(20, 10, 24), celsius(30, 20, 40), "not needed"),
        (celsius(80, 75, 90), celsius(180, 170, 190), "none"),  # more than 70 °C
        (celsius(40, 35, 50), Estimate.unknown("K", "no data"), "unknown"),
        (Estimate.unknown("K", "no groups"), celsius(80, 71, 90), "unknown"),
        (celsius(40, 35, 50), Estimate.absent("K", "not_applicable", "no fuel"), "safe window"),
    ],
)
def test_window_by_the_written_rule(dissolves: Estimate, flash: Estimate, word: str) -> None:
    assert judged(dissolves, flash).word == word


def test_margin_is_5_for_one_substance_and_15_for_a_mixture() -> None:
    assert warmed((("ethanol", 10.0),), 26.0).window.margin_K == 5.0
    assert example().window.margin_K == 15.0
    flash = celsius(80, 61, 90)
    assert judged(celsius(40, 35, 50), flash, one=True).word == "safe window"
    assert judged(celsius(40, 35, 50), flash).word == "narrow"


def test_temperature_to_warm_to_never_goes_beyond_the_margin() -> None:
    """Rounded up to 5 °C it would be 45: the margin allows 43."""
    found = judged(celsius(37, 35, 38), celsius(70, 58.5, 80))
    assert found.highest_K == pytest.approx(316.15)
    assert found.target_K == found.highest_K


def test_ester_rich_concentrate_with_much_vanillin_has_no_window_but_its_carrier_has() -> None:
    made = warmed(VANILLIN_HEAVY)
    assert made.window.word == "none"
    assert made.has_warning
    assert "WARM-NO-WINDOW" in codes(made)
    assert made.keeps_margin is False
    first = made.carrier_first
    assert first is not None
    assert {"ethyl acetate", "ethyl butyrate", "hexanal"} <= set(first.light)
    assert {"vanillin", "propylene glycol", "triethyl citrate"} <= set(first.kept)
    own, whole = first.window.flash.interval(), made.window.flash.interval()
    assert own[0] > whole[0] + 40.0  # propylene glycol flashes at 99 °C or more
    assert first.window.word in ("safe window", "narrow")
    assert "WARM-ORDER" in codes(made)


def test_where_the_light_part_is_the_solvent_no_order_is_advised() -> None:
    """Benzoic acid dissolves in dilute ethanol, and hardly in its water alone (0.3 g in 100 mL,
    from memory)."""
    made = warmed((("benzoic acid", 5.0), ("ethanol", 45.0), ("water", 50.0)))
    assert made.window.word == "not needed"
    assert made.carrier_first is not None
    assert made.carrier_first.light == ("ethanol",)
    assert made.carrier_first.window.word == "none"
    assert "WARM-ORDER" not in codes(made)


def test_an_oil_is_no_crystal() -> None:
    """Some of its constituents are solids by themselves."""
    assert warmed((("cardamom oil", 5.0), ("limonene", 5.0), ("MCT", 90.0))).carrier_first is None


def test_crystals_in_a_heavy_carrier_have_a_safe_window() -> None:
    """Triethyl citrate flashes at about 150 °C."""
    made = warmed(CRYSTALS_IN_CITRATE)
    assert made.window.word == "safe window"
    assert made.keeps_margin is True
    assert made.at_K == made.window.target_K
    assert made.carrier_first is None
    assert not made.has_warning


def test_undissolved_crystals_only_lower_the_low_end() -> None:
    """What stands in the beaker at first is richer in esters than the finished blend."""
    made = warmed(VANILLIN_HEAVY)
    finished = Blend(made.weighing, made.bench_K, made.pressure_Pa).flash.estimate.interval()
    value, low, high = made.window.flash.interval()
    assert (value, high) == (finished[0], finished[2])
    assert low < finished[1]


def test_unknown_flash_point_is_unknown_and_never_safe(
    write: Callable[[str, bytes | str], Path],
) -> None:
    """An ester that nothing but its formula is known of."""
    own = write("own.csv", "material,property,value\nodd ester,formula,C7H14O2\n")
    rows = ["--row", "odd ester=5", "--row", "vanillin=40", "--row", "PG=55"]
    done = runner.invoke(app, ["warm", *rows, "--to-C", "40", "--materials", str(own), "--json"])
    assert done.exit_code == 0, done.output
    made = json.loads(done.stdout)
    assert made["window"] == "unknown"
    assert made["keeps_margin"] is None
    assert made["highest_with_margin_C"] is None
    found = {f["code"]: f["severity"] for f in made["findings"]}
    assert found["WARM-UNKNOWN"] == found["WARM-ASKED"] == found["WARM-IGNITION"] == "warning"
    assert all(row["lost_g"]["status"] == "unknown" for row in made["beakers"][0]["rows"])
    text = runner.invoke(app, ["warm", *rows, "--materials", str(own)]).stdout
    assert "Whether warming is safe is unknown" in text
    assert "No row loses" not in text
    assert text.count("unknown") > 6


def test_what_needs_no_warming_is_said_and_still_answered_for() -> None:
    calm, asked = example(), example(50.0)
    assert calm.window.word == asked.window.word == "not needed"
    assert calm.at_K == calm.bench_K
    assert asked.at_K == pytest.approx(323.15)
    assert asked.keeps_margin is False
    assert "does not keep the margin" in verdict_sentence(asked)
    assert next(f for f in asked.findings if f.code == "WARM-ASKED").severity == "warning"


def test_asking_for_too_little_warmth_says_that_crystals_stay() -> None:
    made = warmed(CRYSTALS_IN_CITRATE, 30.0)
    asked = next(f for f in made.findings if f.code == "WARM-ASKED")
    assert asked.severity == "info"
    assert "crystals stay" in asked.message


def test_nothing_burns_in_water() -> None:
    made = warmed((("water", 10.0),), 50.0)
    assert made.window.flash.status == "not_applicable"
    assert made.when_warm.ratio.status == "not_applicable"
    assert not made.has_warning


# Losses


@pytest.mark.parametrize("to_C", [25.0, 40.0, 60.0])
def test_covered_loses_less_than_open(to_C: float) -> None:
    covered, opened = example(to_C).beakers
    for one, other in zip(covered.rows, opened.rows, strict=True):
        if one.share.is_ok:
            assert one.share.interval()[0] <= other.share.interval()[0]
    assert share(covered, "ethyl acetate") < 0.5 * share(opened, "ethyl acetate")


@pytest.mark.parametrize("freeboard_m", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("minutes", [1.0, 20.0])
def test_a_lid_never_adds_to_the_loss_in_a_deep_beaker(freeboard_m: float, minutes: float) -> None:
    bath = WarmBath(313.15, minutes, freeboard_m=freeboard_m)
    covered, opened = warm(read_formula(EXAMPLE), bath).beakers
    assert share(covered, "ethyl acetate") <= share(opened, "ethyl acetate") * (1.0 + 1e-3)


def test_a_hotter_and_a_longer_step_lose_more() -> None:
    rows = (("ethyl butyrate", 10.0), ("propylene glycol", 90.0))
    for number in (0, 1):
        cool = share(warmed(rows, 30.0).beakers[number], "ethyl butyrate")
        hot = share(warmed(rows, 50.0).beakers[number], "ethyl butyrate")
        longer = share(warmed(rows, 30.0, 60.0).beakers[number], "ethyl butyrate")
        assert cool < hot
        assert cool < longer


def test_losses_are_weighed_within_their_interval() -> None:
    for beaker in example(40.0).beakers:
        for row in beaker.rows:
            value, low, high = row.lost.interval()
            assert 0.0 <= low <= value <= high <= row.mass_kg * (1.0 + 1e-9)
            assert row.share.interval()[0] == pytest.approx(value / row.mass_kg)


def test_top_note_goes_by_a_tenth_sooner_open_than_covered() -> None:
    made = example(40.0)
    assert made.top_note == "ethyl acetate"
    covered, opened = (beaker.ten_per_cent.interval()[0] for beaker in made.beakers)
    assert opened < covered


def test_light_last_says_the_reason_in_numbers() -> None:
    made = example(50.0)
    covered, opened = (f"{100 * share(b, 'ethyl acetate'):.0f} %" for b in made.beakers)
    found = next(f for f in made.findings if f.code == "WARM-LIGHT-LAST")
    assert f"ethyl acetate loses {covered} covered, {opened} open" in found.message


# Flash point and headspace


def test_flash_point_rises_as_the_light_parts_leave() -> None:
    made = example(50.0)
    before = made.window.flash.interval()[0]
    covered, opened = (b.flash_after.interval()[0] for b in made.beakers)
    assert before < covered < opened
    assert before < made.bottle_flash_after.interval()[0]
    assert before < made.part_filled_flash.interval()[0]


def test_headspace_over_its_limit_grows_with_warmth_and_passes_1_where_it_should() -> None:
    made = example(40.0)
    assert made.at_bench.ratio.interval()[0] < made.when_warm.ratio.interval()[0]
    reaches = made.reaches_lower_limit.interval()[0]
    assert (made.at_bench.ratio.interval()[0] > 1.0) == (reaches < made.bench_K)
    assert reaches == pytest.approx(made.window.flash.interval()[0], abs=10.0)


def test_warming_past_the_boiling_point_is_said() -> None:
    made = warmed((("ethyl acetate", 10.0),), 80.0)
    assert "WARM-BOILS" in codes(made)
    assert made.beakers[1].boils


@pytest.mark.parametrize(("grams", "said"), [(4000.0, False), (6000.0, True)])
def test_grounding_above_five_litres(grams: float, said: bool) -> None:
    made = warmed((("propylene glycol", grams),), 40.0)
    assert ("WARM-GROUNDING" in codes(made)) == said
    assert "WARM-VESSEL" not in codes(made)  # the beaker is taken wide enough


def test_a_batch_too_deep_for_the_vessel_is_said() -> None:
    made = warm(formula(("propylene glycol", 5000.0)), WarmBath(313.15, diameter_m=0.06))
    assert "WARM-VESSEL" in codes(made)
    assert made.depth_m is not None
    assert made.depth_m == pytest.approx(made.volume.interval()[0] / (0.0009 * 3.14159), rel=1e-3)


# What drives the flash point


def test_a_light_ester_lowers_it_and_the_carrier_raises_it() -> None:
    sensitivities = {pull.material: pull.per_mass.interval() for pull in drivers().sensitivities}
    assert sensitivities["ethyl acetate"][2] < 0.0
    assert sensitivities["propylene glycol"][1] > 0.0
    assert min(sensitivities, key=lambda name: sensitivities[name][0]) == "ethyl acetate"


def test_pull_foretells_a_small_addition() -> None:
    """A tenth of a gram more ethyl acetate, by the curve and by the slope."""
    rows = (("ethyl acetate", 3.0), ("propylene glycol", 97.0))
    found = flash_drivers(formula(*rows), factors=())
    slope = found.sensitivities[0].per_mass.in_display_units().interval()[0]
    more = flash_drivers(formula(("ethyl acetate", 3.1), rows[1]), factors=())
    moved = more.flash.interval()[0] - found.flash.interval()[0]
    assert moved == pytest.approx(0.1 * slope, rel=0.05)


def test_one_substance_has_no_pull() -> None:
    """Its own flash point whatever the amount."""
    found = flash_drivers(formula(("ethanol", 10.0)), factors=())
    assert found.sensitivities[0].per_mass.interval()[0] == pytest.approx(0.0, abs=1e-3)


def test_dilution_curve_rises_and_starts_at_the_blend() -> None:
    curve = drivers().curve
    values = [point.flash.interval()[0] for point in curve]
    assert [point.factor for point in curve] == [1.0, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0]
    assert values == sorted(values)
    assert values[0] == pytest.approx(drivers().flash.interval()[0])
    assert drivers().carrier == "propylene glycol"
    json.dumps(drivers().to_dict(), allow_nan=False)


def test_dilution_marks_layers() -> None:
    """Limonene in watery spirit parts."""
    curve = flash_drivers(formula(("limonene", 2), ("ethanol", 38), ("water", 60))).curve
    assert curve[-1].liquid in ("may_cloud", "splits")


def test_dilution_multiplies_the_mass_with_carrier_alone() -> None:
    weighing = weigh(read_formula(EXAMPLE), default_catalogue())
    thin = diluted(weighing, 3.0)
    assert thin.total_g == pytest.approx(3.0 * weighing.total_g)
    assert thin.composition.mass_kg.sum() == pytest.approx(thin.total_g / 1e3)
    assert [r.grams for r in thin.rows[:-1]] == [r.grams for r in weighing.rows[:-1]]
    with pytest.raises(ValueError, match="at least 1"):
        diluted(weighing, 0.5)


def test_carrier_is_the_heaviest_carrier_else_the_heaviest_row() -> None:
    def name(*rows: tuple[str, float]) -> str:
        weighing = weigh(formula(*rows), default_catalogue())
        return weighing.rows[carrier_row(weighing)].label

    assert name(("limonene", 60.0), ("propylene glycol", 40.0)) == "propylene glycol"
    assert name(("ethanol", 95.0), ("triethyl citrate", 1.0)) == "ethanol"


# Errors, and the command line


@pytest.mark.parametrize(
    ("bath", "message"),
    [
        ({"to_K": 500.0}, "-40 and 150"),
        ({"minutes": 0.0}, "minutes"),
        ({"diameter_m": 0.0}, "diameter"),
        ({"freeboard_m": 5.0}, "freeboard"),
    ],
)
def test_baths_outside_the_ranges_are_refused(bath: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        WarmBath(**bath)


def test_conditions_outside_the_ranges_are_refused() -> None:
    made = formula(("ethanol", 1.0))
    with pytest.raises(ValueError, match="bench_K=500 must lie between"):
        warm(made, bench_K=500.0)
    with pytest.raises(ValueError, match="pressure"):
        warm(made, pressure_Pa=1e6)
    with pytest.raises(ValueError, match="below the bench"):
        warm(made, WarmBath(280.0))
    with pytest.raises(FormulaError, match="unknown material"):
        warm(formula(("unobtainium oil", 1.0)))


def test_command_prints_the_window_first_in_80_columns() -> None:
    done = runner.invoke(app, ["warm", str(EXAMPLE), "--to-C", "40", "--diameter-cm", "8"])
    assert done.exit_code == 0
    assert max(map(len, done.stdout.splitlines())) <= 80
    where = [done.stdout.index(w) for w in ("No warming needed", "ethyl acetate", "Cautions")]
    assert where == sorted(where)
    one = runner.invoke(app, ["warm", str(EXAMPLE), "--covered", "--freeboard-cm", "3"]).stdout
    assert "covered, g" in one
    assert "open, g" not in one


def test_command_json_and_strict() -> None:
    made = json.loads(runner.invoke(app, ["warm", str(EXAMPLE), "--to-C", "40", "--json"]).stdout)
    assert made["schema"] == "blendwright/warming/1"
    assert made["conditions"]["at_C"] == pytest.approx(40.0)
    assert [b["cover"] for b in made["beakers"]] == ["covered", "open"]
    rows = made["beakers"][0]["rows"]
    assert len(rows) == 16
    assert rows[0]["lost_g"]["unit"] == "g"
    assert made["beakers"][0]["top_note_10_pct_lost_after_min"]["unit"] == "min"
    assert runner.invoke(app, ["warm", str(EXAMPLE), "--strict"]).exit_code == 1
    calm = ["warm", "--row", "triethyl citrate=1", "--strict"]
    assert runner.invoke(app, calm).exit_code == 0


def test_flash_command_prints_and_gives_data() -> None:
    shown = runner.invoke(app, ["flash", str(EXAMPLE)])
    assert shown.exit_code == 0
    assert max(map(len, shown.stdout.splitlines())) <= 80
    made = json.loads(runner.invoke(app, ["flash", str(EXAMPLE), "--json"]).stdout)
    assert made["schema"] == "blendwright/flash-drivers/1"
    assert len(made["dilution"]) == 7
    assert made["rows"][0]["flash_point_C_per_g"]["unit"] == "°C/g"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["warm"], "give a formula file"),
        (["warm", str(EXAMPLE), "--to-C", "15"], "outside 20 to 150"),
        (["warm", str(EXAMPLE), "--minutes", "0"], "--minutes"),
        (["warm", str(EXAMPLE), "--diameter-cm", "900"], "--diameter-cm"),
        (["warm", str(EXAMPLE), "--freeboard-cm", "0"], "--freeboard-cm"),
        (["warm", str(EXAMPLE), "--pressure-kPa", "1"], "--pressure-kPa"),
        (["flash", str(EXAMPLE), "--temperature-C", "900"], "outside -40 to 150"),
        (["flash", "--row", "vannilin=1"], "the closest names are vanillin"),
    ],
)
def test_unusable_input_exits_with_2(arguments: list[str], message: str) -> None:
    done = runner.invoke(app, arguments)
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output


def test_pictures_are_drawn_when_asked_for(tmp_path: Path) -> None:
    bar, curve = tmp_path / "bar.png", tmp_path / "curve.svg"
    rows = ["--row", "vanillin=18", "--row", "ethyl butyrate=3", "--row", "PG=79"]
    assert runner.invoke(app, ["warm", *rows, "--plot", str(bar)]).exit_code == 0
    assert bar.read_bytes().startswith(b"\x89PNG")
    assert runner.invoke(app, ["flash", *rows, "--plot", str(curve)]).exit_code == 0
    assert "flash point" in curve.read_text(encoding="utf-8")
    wrong = runner.invoke(app, ["flash", *rows, "--plot", "curve.jpg"])
    assert wrong.exit_code == 2
    assert ".png" in wrong.stderr
