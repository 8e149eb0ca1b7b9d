"""Dosing a concentrate into water, syrup, soda, wine and spirit."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from blendwright import Formula, FormulaError
from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.mixture.cosolvency import Loading
from blendwright.mixture.drink import Drink, DrinkError, contents, parse_drink
from blendwright.mixture.weighing import weigh
from blendwright.questions.drink.dosing import Dose, DoseError, dose
from blendwright.questions.drink.finished_drink import FinishedDrink
from blendwright.report.dose import verdict_lines
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, SURELY_CLEAR_BELOW
from blendwright.verdict.dosing import Appearance
from tests.conftest import ESTER_RICH_CONCENTRATE, formula

EXAMPLE = str(Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv")
runner = CliRunner()
ESTERS = formula(*ESTER_RICH_CONCENTRATE)
ORANGE = formula(("sweet orange oil", 1.0))
TWO_DROPS = Dose.of(drops=2, per_mL=100)


def pair(catalogue: Catalogue) -> tuple[Material, Material]:
    return catalogue.material("water"), catalogue.material("ethanol")


# What people write


@pytest.mark.parametrize(
    ("text", "ethanol", "sugar", "carbonated"),
    [
        ("water", 0.0, 0.0, False),
        ("Sparkling water", 0.0, 0.0, True),
        ("10 % sugar", 0.0, 10.0, False),
        ("10% sugar syrup", 0.0, 10.0, False),
        ("10 % sugar in water", 0.0, 10.0, False),
        ("12,5 % sugar", 0.0, 12.5, False),
        ("syrup 65 %", 0.0, 65.0, False),
        ("65 brix", 0.0, 65.0, False),
        ("65 °Bx", 0.0, 65.0, False),
        ("soda", 0.0, 10.0, True),
        ("soda 8 % sugar", 0.0, 8.0, True),
        ("diet soda", 0.0, 0.0, True),
        ("wine", 12.5, 0.0, False),
        ("wine 13 %", 13.0, 0.0, False),
        ("beer 4.5 % vol", 4.5, 0.0, True),
        ("spirit 40 %", 40.0, 0.0, False),
        ("40 % vol", 40.0, 0.0, False),
        ("40 % by volume", 40.0, 0.0, False),
        ("liqueur 25 % vol, 20 % sugar", 25.0, 20.0, False),
    ],
)
def test_drinks_are_read_as_people_write_them(
    text: str, ethanol: float, sugar: float, carbonated: bool
) -> None:
    drink = parse_drink(text)
    assert (drink.ethanol_pct_vol, drink.sugar_pct_mass) == (ethanol, sugar)
    assert drink.carbonated is carbonated


def test_what_was_not_told_is_said_to_be_assumed() -> None:
    assert "10 % sugar" in parse_drink("soda").assumed
    assert "12.5 % vol" in parse_drink("wine").assumed
    assert "common practice, no source" in parse_drink("wine").assumed
    assert parse_drink("10 % sugar").assumed == ""


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("mead", "understood are: water"),
        ("", "understood are: water"),
        ("syrup", "needs its strength"),
        ("liqueur 25 % vol", "needs its strength"),
        ("water 5 %", "of what?"),
        ("140 % vol", "outside 0 to 100"),
        ("90 % sugar", "outside 0 to 70"),
        ("-5 % sugar", "outside 0 to 70"),
        ("2000 g/L sugar", "outside 0 to"),
        ("wine 12 % vol 5 %", "of what?"),
    ],
)
def test_what_is_not_understood_is_refused(text: str, message: str) -> None:
    with pytest.raises(DrinkError, match=message):
        parse_drink(text)


# What a drink is made of


def test_density_of_sugar_solutions_is_that_of_the_table(catalogue: Catalogue) -> None:
    """ICUMSA, 20 °C, from memory: 1038.1 at 10 %, 1286.5 at 60 % (the table's own values)."""
    water, ethanol = pair(catalogue)
    for pct, expected in ((10.0, 1038.1), (60.0, 1286.5)):
        made = contents(Drink("sugar", 0.0, pct), water, ethanol)
        assert made.density_kg_m3 == pytest.approx(expected, rel=1e-3)
        assert made.sugar_kg / made.density_kg_m3 == pytest.approx(pct / 100.0)


def test_grams_per_litre_and_per_cent_are_the_same_syrup() -> None:
    """10 % by mass at 1.0381 g/mL is 103.8 g/L."""
    assert parse_drink("103.81 g/L sugar").sugar_pct_mass == pytest.approx(10.0, abs=0.01)


def test_spirit_of_40_pct_vol_is_that_of_the_alcohol_tables(catalogue: Catalogue) -> None:
    """OIML R 22: 40 % vol at 20 °C is 33.3 % by mass, 0.948 g/mL."""
    water, ethanol = pair(catalogue)
    made = contents(Drink("spirit", 40.0), water, ethanol)
    assert made.ethanol_kg / made.density_kg_m3 == pytest.approx(0.333, abs=0.002)
    assert made.density_kg_m3 == pytest.approx(948.0, rel=3e-3)


@given(st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_a_drink_holds_the_alcohol_it_names(ethanol_pct: float, sugar_pct: float) -> None:
    water, ethanol = pair(default_catalogue())
    made = contents(Drink("liqueur", ethanol_pct, sugar_pct), water, ethanol)
    assert made.ethanol_kg / 789.2 == pytest.approx(ethanol_pct / 100.0, rel=2e-3, abs=1e-9)
    assert made.sugar_kg / made.density_kg_m3 == pytest.approx(sugar_pct / 100.0, abs=1e-9)


def test_sugar_needs_water(catalogue: Catalogue) -> None:
    water, ethanol = pair(catalogue)
    with pytest.raises(DrinkError, match="does not stay dissolved"):
        contents(Drink("liqueur", 80.0, 40.0), water, ethanol)


# Clear, hazy, oil


def test_two_drops_of_the_ester_rich_concentrate_leave_sugar_water_clear() -> None:
    dosed = dose(ESTERS, "10 % sugar", TWO_DROPS)
    assert dosed.word == "clear"
    assert dosed.findings == ()
    assert dosed.appearance.oil_kg_m3 == 0.0
    assert any("usual first tasting dose" in sentence for sentence in dosed.said)


@pytest.mark.parametrize("drink", ["water", "10 % sugar", "soda", "wine"])
def test_two_drops_of_orange_oil_are_never_clear_in_a_soft_drink_or_wine(drink: str) -> None:
    dosed = dose(ORANGE, drink, TWO_DROPS)
    assert dosed.word in ("hazy", "oil_ring")
    assert dosed.has_warning
    assert "limonene" in dosed.first_out


def test_orange_oil_floats_and_a_trace_of_it_is_but_haze() -> None:
    """Limonene is 0.84 g/mL and dissolves to about 10 mg/L: 840 mg/L make a ring, 42 a haze."""
    assert dose(ORANGE, "water", TWO_DROPS).word == "oil_ring"
    assert dose(ORANGE, "water", Dose.of(mL=0.05, per_mL=1000)).word == "hazy"


def test_a_heavy_oil_sinks_in_water_and_floats_on_syrup() -> None:
    """Eugenol is 1.067 g/mL, syrup of 65 % 1.316."""
    eugenol = formula(("eugenol", 1.0))
    much = Dose.of(mL=2, per_mL=100)
    assert dose(eugenol, "water", much).word == "oil_sinks"
    assert dose(eugenol, "65 brix", much).word == "oil_ring"


@pytest.mark.parametrize("rows", [ESTERS, ORANGE], ids=["esters", "orange oil"])
def test_more_ethanol_never_lowers_the_largest_clear_dose(rows: Formula) -> None:
    most = []
    for pct in (0.0, 20.0, 40.0, 60.0):
        found = dose(rows, Drink("spirit", pct), TWO_DROPS).largest_clear
        assert found.status in ("ok", "not_applicable")
        most.append(found.value if found.value is not None else 1e3)
    assert most == sorted(most)
    assert most[-1] > 10.0 * most[0]


def test_sugar_takes_the_room_of_water() -> None:
    """A litre of 65 % syrup holds 461 g of water (1316.3 x 0.35) against 998."""
    plain = dose(ESTERS, "water", TWO_DROPS).largest_clear
    syrup = dose(ESTERS, "65 brix", TWO_DROPS).largest_clear
    assert syrup.interval()[0] / plain.interval()[0] == pytest.approx(461 / 998, rel=0.05)


def test_the_pure_material_is_told_apart_from_its_dilution() -> None:
    """10 g of a 10 % dilution and 1 g of the crystals are 2 g of vanillin, and 9 g of ethanol."""
    blend = Formula.from_rows(
        [
            {"material": "vanillin", "grams": 10, "strength_pct": 10, "carrier": "ethanol"},
            {"material": "vanillin", "grams": 1},
            {
                "material": "sweet orange oil",
                "grams": 5,
                "strength_pct": 20,
                "carrier": "triacetin",
            },
            {"material": "propylene glycol", "grams": 84},
        ]
    )
    dosed = dose(blend, "water", TWO_DROPS)
    assert dosed.has_dilutions
    of = {one.name: one.mg_kg for one in dosed.materials}
    total = sum(of.values())
    shares = {"vanillin": 2, "ethanol": 9, "sweet orange oil": 1, "triacetin": 4}
    for name, grams in shares.items():
        assert of[name] / total == pytest.approx(grams / 100.0)
    weighed = {row.name: row.mg_kg for row in dosed.rows}
    assert weighed["vanillin 10 % in ethanol"] / total == pytest.approx(0.1)


def test_without_dilutions_the_rows_are_the_pure_materials() -> None:
    dosed = dose(ORANGE, "water", TWO_DROPS)
    assert not dosed.has_dilutions
    told = {one.name: one for one in dosed.materials}
    for row in dosed.rows:
        assert told[row.name].mg_kg == pytest.approx(row.mg_kg)
        assert told[row.name].oil_pct == pytest.approx(row.oil_pct)


@pytest.mark.parametrize("drink", ["10 % sugar", "spirit 20 %"])
@pytest.mark.parametrize("rows", [ESTERS, ORANGE], ids=["esters", "orange oil"])
def test_twice_the_dose_is_never_clearer(rows: Formula, drink: str, catalogue: Catalogue) -> None:
    glass = FinishedDrink(weigh(rows, catalogue), parse_drink(drink), 293.15, catalogue)
    chances = [glass.at(5e-4 * 2**k).appearance.chance for k in range(6)]
    assert all(b >= a - 0.005 for a, b in pairwise(c for c in chances if c is not None))
    assert len(chances) == 6
    assert None not in chances


def test_limonene_comes_out_before_linalool() -> None:
    """Water takes about 10 mg/L of limonene and 1.6 g/L of linalool."""
    pair = formula(("limonene", 1.0), ("linalool", 1.0))
    out = {one.name: one.oil_pct for one in dose(pair, "water", TWO_DROPS).substances}
    assert out["limonene"] > out["linalool"]
    assert dose(pair, "water", Dose.of(mL=0.001)).first_out[0] == "limonene"


def test_the_largest_clear_dose_of_ethyl_butyrate_is_its_water_solubility() -> None:
    """Published: 4.9 to 6.2 g/L (in the catalogue with sources), 0.879 g/mL."""
    found = dose(formula(("ethyl butyrate", 1.0)), "water", TWO_DROPS, 298.15).largest_clear
    value, low, high = found.interval()
    assert value * 0.879 == pytest.approx(5.5, rel=0.25)
    assert low * 0.879 < 5.5 < high * 0.879


def test_below_the_largest_dose_it_is_clear_and_above_it_is_not() -> None:
    most = dose(ORANGE, "40 % vol", TWO_DROPS).largest_clear.interval()[0]
    assert dose(ORANGE, "40 % vol", Dose.of(mL=0.98 * most, per_mL=1000)).word == "clear"
    assert dose(ORANGE, "40 % vol", Dose.of(mL=1.03 * most, per_mL=1000)).word != "clear"


def test_any_dose_of_propylene_glycol_is_clear() -> None:
    dosed = dose(formula(("propylene glycol", 1.0)), "water", TWO_DROPS)
    assert dosed.word == "clear"
    assert dosed.largest_clear.status == "not_applicable"


# Saturation is not haze

SPARING = formula(("beta-caryophyllene", 0.05), ("propylene glycol", 99.95))


def test_undissolved_oil_below_a_milligram_a_litre_is_a_trace() -> None:
    """Half a milligram of caryophyllene in a litre, of which water takes about a tenth: oil stays,
    and nobody sees it."""
    dosed = dose(SPARING, "water", Dose.of(mL=1.0, per_mL=1000))
    assert dosed.word == "trace"
    assert dosed.appearance.chance_of_oil is not None
    assert dosed.appearance.chance_of_oil > 0.9
    assert dosed.appearance.chance is not None
    assert dosed.appearance.chance < 0.2
    assert not dosed.has_warning
    assert {finding.code for finding in dosed.findings} == {"DOSE-TRACE"}
    assert "hardly visible" in verdict_lines(dosed)[0][1]
    assert "may cloud" not in " ".join(answer for _, answer in verdict_lines(dosed))


def test_ten_times_as_much_is_haze() -> None:
    assert dose(SPARING, "water", Dose.of(mL=10.0, per_mL=1000)).word == "hazy"


@pytest.mark.parametrize("rows", [SPARING, ORANGE, ESTERS], ids=["sparing", "orange", "esters"])
def test_haze_is_never_likelier_than_oil_and_both_rise_with_the_dose(
    rows: Formula, catalogue: Catalogue
) -> None:
    glass = FinishedDrink(weigh(rows, catalogue), parse_drink("water"), 293.15, catalogue)
    seen = [glass.at(1e-5 * 2.0**k).appearance for k in range(11)]
    haze = [one.chance for one in seen if one.chance is not None]
    oil = [one.chance_of_oil for one in seen if one.chance_of_oil is not None]
    assert len(haze) == len(oil) == len(seen)
    assert all(h <= o for h, o in zip(haze, oil, strict=True))
    assert all(b >= a - 0.005 for a, b in pairwise(haze))
    assert all(b >= a - 0.005 for a, b in pairwise(oil))


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 0.01))
def test_a_trace_is_told_only_where_haze_is_unlikely(haze: float, more: float, oil: float) -> None:
    any_oil = haze + more * (1.0 - haze)
    word = Appearance(haze, oil, True, chance_of_oil=any_oil).word
    assert (word == "trace") == (haze < SURELY_CLEAR_BELOW and any_oil >= CLEAR_BELOW)


@given(
    st.lists(st.tuples(st.floats(1e-4, 1.0), st.floats(1e-4, 1.0)), min_size=1, max_size=6),
    st.floats(1e-6, 0.9),
)
def test_the_margin_is_what_solubilities_must_fall_by(
    oils: list[tuple[float, float]], share: float
) -> None:
    """With all S lower by the margin exactly that mass leaves (molar mass 0.15 kg/mol)."""
    there = np.array([c for c, _ in oils])
    held = np.array([s for _, s in oils])
    least_kg = share * 0.15 * float(there.sum())
    load = Loading(held, there, math.log(float((there / held).sum())), 0.3, ())
    margin = load.ln_margin(0.15 * there, least_kg)
    lower = held * math.exp(-margin)
    moved = Loading(lower, there, math.log(float((there / lower).sum())), 0.3, ())
    assert float(moved.parted_mol_m3().sum()) * 0.15 == pytest.approx(least_kg, rel=1e-6)
    assert margin >= -load.ln_load - 1e-9  # more must fall than for any oil at all
    assert load.ln_margin(0.15 * there, 0.1501 * float(there.sum())) == math.inf


def test_menthol_comes_out_of_water_as_crystals() -> None:
    """Menthol melts at 42 °C and water takes about 0.45 g/L: 2 g/L stay as crystals."""
    mint = formula(("menthol", 10.0), ("propylene glycol", 90.0))
    dosed = dose(mint, "water", Dose.of(mL=2))
    assert dosed.word in ("crystals", "hazy", "oil_ring")
    assert "menthol" in dosed.appearance.crystals
    assert next(row for row in dosed.rows if row.name == "menthol").crystals_pct > 50.0
    assert dose(mint, "water", TWO_DROPS).appearance.crystals == ()


# What is in the glass


@pytest.mark.parametrize("drink", ["water", "10 % sugar", "40 % vol"])
def test_mg_per_kg_add_up_to_the_concentrate(drink: str, catalogue: Catalogue) -> None:
    oily = formula(*ESTER_RICH_CONCENTRATE, ("cardamom oil", 1.0), ("ethanol", 5.0, "96 % vol"))
    dosed = dose(oily, drink, TWO_DROPS)
    kilos = dosed.dose_mass.interval()[0]
    total = kilos + 1e-4 * contents(dosed.drink, *pair(catalogue)).density_kg_m3
    for listed in (dosed.materials, dosed.rows, dosed.substances):
        assert sum(one.mg_kg for one in listed) == pytest.approx(kilos / total * 1e6, rel=1e-9)


def test_two_drops_in_100_mL_are_a_gram_in_a_litre() -> None:
    """0.1 mL of about 1.02 g/mL in 100.1 mL."""
    finished = dose(ESTERS, "10 % sugar", TWO_DROPS).finished
    assert finished.flavour_g_L == pytest.approx(1.01, abs=0.02)
    assert finished.sugar_g_L == pytest.approx(103.7, abs=0.3)


def test_the_concentrates_own_spirit_counts() -> None:
    spirit = formula(("ethanol", 1.0, "96 % vol"))
    finished = dose(spirit, "40 % vol", Dose.of(mL=100)).finished
    assert finished.ethanol_pct_vol == pytest.approx(68.0, abs=0.3)


def test_what_no_model_can_place_is_named_and_unknown(catalogue: Catalogue) -> None:
    """Made for the test: limonene stripped of its groups and water solubilities."""
    weighing = weigh(formula(("limonene", 1.0), ("propylene glycol", 99.0)), catalogue)
    row = weighing.rows[0]
    data = tuple(d for d in row.material.data if d.property != "water_solubility")
    bare = replace(row.material, groups={}, data=data)
    blind = replace(
        weighing,
        rows=(replace(row, substances=((bare, 1.0),)), weighing.rows[1]),
        composition=replace(
            weighing.composition,
            substances=(
                replace(weighing.composition.substances[0], material=bare),
                weighing.composition.substances[1],
            ),
        ),
    )
    glass = FinishedDrink(blind, Drink("water"), 293.15, catalogue)
    assert glass.uncounted == ("limonene",)
    assert glass.at(1e-3).appearance.word == "unknown"


def test_words_follow_the_chance_and_the_oil() -> None:
    assert Appearance(0.1, 0.0, None).word == "clear"
    assert Appearance(0.5, 0.0, None).word == "may_cloud"
    assert Appearance(0.9, 0.01, True).word == "hazy"
    assert Appearance(0.9, 0.2, True).word == "oil_ring"
    assert Appearance(0.9, 0.2, False).word == "oil_sinks"
    assert Appearance(0.1, 0.0, None, ("menthol",)).word == "crystals"
    assert Appearance(None, 0.0, None).word == "unknown"


# Errors


@pytest.mark.parametrize(
    ("made", "message"),
    [
        ({}, "in drops"),
        ({"drops": 2, "mL": 1}, "either"),
        ({"drops": -2}, "nothing to taste"),
        ({"mL": 0}, "nothing to taste"),
        ({"mL": 101}, "more concentrate"),
        ({"mL": 1, "per_mL": 0}, "nothing to dose into"),
        ({"drops": 1, "drop_mL": 0}, "no drop"),
        ({"mL": float("nan")}, "nothing to taste"),
    ],
)
def test_a_dose_that_cannot_be_is_refused(made: dict[str, float], message: str) -> None:
    with pytest.raises(DoseError, match=message):
        Dose.of(**made)


def test_no_tasting_below_freezing_or_above_60C() -> None:
    for kelvin in (250.0, 350.0):
        with pytest.raises(DoseError, match="0 and 60"):
            dose(ESTERS, "water", TWO_DROPS, kelvin)


def test_a_formula_of_nonsense_is_refused() -> None:
    with pytest.raises(FormulaError, match="unknown material"):
        dose(formula(("unobtainium oil", 1.0)), "water", TWO_DROPS)


# The command


def test_dose_prints_the_verdict_first_in_80_columns() -> None:
    done = runner.invoke(app, ["dose", EXAMPLE, "--into", "10 % sugar", "--dose-drops", "2"])
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert done.stdout.index("Clear?") < done.stdout.index("mg/kg")
    text = " ".join(done.stdout.split())
    for told in ("salting-out", "take more flavour", "national lists", "common practice"):
        assert told in text


def test_dose_as_json() -> None:
    done = runner.invoke(
        app,
        ["dose", EXAMPLE, "--into", "wine 13 %", "--dose-mL", "0.1", "--per-mL", "50", "--json"],
    )
    assert done.exit_code == 0
    made = json.loads(done.stdout)
    assert made["schema"] == "blendwright/dose/1"
    assert made["drink"]["ethanol_pct_vol"] == 13.0
    assert made["dose"]["per_mL"] == 50.0
    assert made["verdict"] == "clear"
    assert made["largest_clear_dose_mL_L"]["unit"] == "mL/L"
    assert {row["material"] for row in made["rows"]} >= {"vanillin", "cardamom oil"}
    assert "limonene" in {one["material"] for one in made["substances"]}


def test_strict_dose_exits_with_1_on_an_oil_ring() -> None:
    oil = [
        "dose",
        "--row",
        "sweet orange oil=1",
        "--dose-drops",
        "2",
        "--into",
        "water",
        "--strict",
    ]
    assert runner.invoke(app, oil).exit_code == 1
    esters = [
        "dose",
        "--row",
        "ethyl butyrate=1",
        "--dose-drops",
        "1",
        "--into",
        "water",
        "--strict",
    ]
    assert runner.invoke(app, esters).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--into", "water"], "--dose-drops"),
        (["--dose-drops", "2"], "--into"),
        (["--into", "mead", "--dose-drops", "2"], "understood are"),
        (["--into", "water", "--dose-drops", "-2"], "nothing to taste"),
        (["--into", "water", "--dose-mL", "200"], "more concentrate than drink"),
        (["--into", "water", "--dose-drops", "2", "--temperature-C", "90"], "outside 0 to 60"),
        (["--into", "water", "--dose-drops", "2", "--drop-mL", "5"], "outside 0.001 to 1"),
    ],
)
def test_unusable_doses_exit_with_2(arguments: list[str], message: str) -> None:
    done = runner.invoke(app, ["dose", EXAMPLE, *arguments])
    assert done.exit_code == 2
    assert message in done.stderr
    assert "Traceback" not in done.output
