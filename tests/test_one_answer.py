"""The same question has one answer everywhere: at every bench, in every command, on every paper."""

from __future__ import annotations

import csv
import inspect
import io
import json
import math
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import typer
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.console import Console
from typer.testing import CliRunner

from blendwright import Assessment, Formula, WarmBath, assess, bench_sheet, read_formula, warm
from blendwright.app.batch import assess_many
from blendwright.app.batch.answer_table import columns
from blendwright.app.batch.run import in_process, run
from blendwright.app.cli.main import app
from blendwright.app.settings import AT_THE_BENCH, Settings, standard_pressure_Pa
from blendwright.app.web import jobs
from blendwright.app.web.answers import Request, amounts, assessment_data, everything, glance
from blendwright.app.web.batch_run import ListRequest
from blendwright.app.web.batch_run import _order as list_order
from blendwright.app.web.observation_files import file_age
from blendwright.app.web.serving import Serving
from blendwright.app.web.sheet import Line, Sheet
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.estimate import DISPLAY_NAMES, Estimate
from blendwright.formula.conditions import BENCH_C, BENCH_K, ATMOSPHERE_Pa
from blendwright.mixture.weighing import weigh
from blendwright.observations import Observation, read_observations
from blendwright.questions.advice.advise import advise
from blendwright.questions.advice.carriers import compare_carriers
from blendwright.questions.drink.dosing import dose
from blendwright.questions.flash_drivers import flash_drivers
from blendwright.questions.volumes.rounding import rounding
from blendwright.questions.volumes.volumes import BenchOrder
from blendwright.report.answers_at_a_glance import at_a_glance
from blendwright.report.assessment import print_assessment
from blendwright.report.papers import PAPERS, LabelWish
from blendwright.report.terminal import LABELS
from blendwright.verdict.blend import Blend
from tests.conftest import formula

OF_THE_FORMULA = frozenset({"flash", "boiling"})
BENCHES_K = st.floats(258.15, 353.15)


def rows(*pairs: tuple[str, float]) -> tuple[tuple[str, float], ...]:
    return pairs


# One liquid, one that parts in the cold, one that parts, crystals in plenty, in the cold, an oil in
# spirit, a solid melting near the bench
BLENDS = (
    rows(("ethyl butyrate", 10.0), ("propylene glycol", 90.0)),
    rows(("isoamyl acetate", 6.0), ("hexyl acetate", 5.0), ("propylene glycol", 60.0)),
    rows(("limonene", 10.0), ("propylene glycol", 90.0)),
    rows(("vanillin", 40.0), ("ethanol", 20.0), ("water", 60.0)),
    rows(("menthol", 30.0), ("ethyl butyrate", 5.0), ("propylene glycol", 65.0)),
    rows(("cardamom oil", 4.0), ("ethanol", 60.0), ("water", 40.0)),
    rows(("anethole", 8.0), ("thymol", 6.0), ("ethanol", 20.0), ("propylene glycol", 66.0)),
)


def of_the_formula(blend: Blend) -> tuple[object, ...]:
    return (
        blend.flash.estimate,
        blend.boiling,
        [(c.category, c.standing, c.reasons) for c in blend.classings],
    )


@settings(max_examples=20, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(BLENDS), BENCHES_K, st.sampled_from([70e3, ATMOSPHERE_Pa]))
def test_flash_and_boiling_point_and_class_belong_to_the_formula_and_the_air(
    pairs: tuple[tuple[str, float], ...], bench_K: float, pressure_Pa: float
) -> None:
    weighing = weigh(formula(*pairs), default_catalogue())
    here, there = Blend(weighing, bench_K, pressure_Pa), Blend(weighing, BENCH_K, pressure_Pa)
    assert of_the_formula(here) == of_the_formula(there)


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
@given(BENCHES_K)
def test_they_do_so_in_a_batch(bench_K: float) -> None:
    weighings = [weigh(formula(*pairs), default_catalogue()) for pairs in BLENDS]
    here = columns(weighings, bench_K, ATMOSPHERE_Pa, OF_THE_FORMULA)
    there = columns(weighings, BENCH_K, ATMOSPHERE_Pa, OF_THE_FORMULA)
    for name, values in there.items():
        for one, other in zip(here[name], values, strict=True):
            if isinstance(other, float) and math.isnan(other):
                assert math.isnan(one)
            elif isinstance(other, float):
                assert one == pytest.approx(other, abs=1e-6), name
            else:
                assert one == other, name


def test_some_of_these_blends_part_at_one_bench_and_not_at_another(catalogue: Catalogue) -> None:
    """Else the rules above would say nothing."""
    words = [
        {
            Blend(weigh(formula(*pairs), catalogue), kelvin, ATMOSPHERE_Pa).may_split
            for kelvin in (263.15, 293.15, 343.15)
        }
        for pairs in BLENDS
    ]
    assert sum(len(found) == 2 for found in words) >= 2


# One answer in every place that shows it

EXAMPLE = Path(__file__).parent.parent / "examples" / "orchard-pear-cardamom.csv"
STRAWBERRY = """\
# name Strawberry cup concentrate
# Invented for this test.
# batch 80 g
material,grams,strength_pct,carrier,role
ethyl butyrate,4.2,,,
ethyl 2-methylbutyrate,1.1,,,
cis-3-hexenol,0.8,10,propylene glycol,green
furaneol,2.4,,,
ethyl maltol,1.6,,,
vanillin,0.6,,,
gamma-decalactone,0.9,,,
aldehyde C-16,1.0,,,
ethanol,6,96 % vol,,solvent
propylene glycol,q.s.,,,carrier
"""
AS_IT_COMES = ""
IN_THE_HILLS = "temperature_C = 12.0\naltitude_m = 1500\n"
runner = CliRunner()
Figures = dict[str, object]


@dataclass(frozen=True)
class Desk:
    """A formula file, the person's settings and what the bench saw, and the same for Python."""

    file: Path
    bench_K: float
    pressure_Pa: float
    observations: tuple[Observation, ...]
    folder: Path

    def json_of(self, *words: str) -> dict[str, Any]:
        done = runner.invoke(app, [words[0], str(self.file), *words[1:], "--json"])
        assert done.exit_code == 0, done.output
        found: dict[str, Any] = json.loads(done.stdout)
        return found

    @property
    def assessment(self) -> Assessment:
        formula = read_formula(self.file)
        return assess(formula, self.bench_K, self.pressure_Pa, observations=self.observations)

    @property
    def asked(self) -> Request:
        conditions = Sheet(bench_C=self.bench_K - 273.15, pressure_kPa=self.pressure_Pa / 1e3)
        sheet = Sheet.from_formula(read_formula(self.file), conditions)
        file, age = file_age(Path(os.environ["BLENDWRIGHT_OBSERVATIONS"]))
        return Request(sheet, observations=file, observations_age_ns=age)


@pytest.fixture(params=["orchard", "strawberry"])
def file(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    if request.param == "orchard":
        return EXAMPLE
    made = tmp_path / "strawberry.csv"
    made.write_text(STRAWBERRY, encoding="utf-8")
    return made


@pytest.fixture(params=["as it comes", "in the hills", "with what the bench saw"])
def desk(
    request: pytest.FixtureRequest, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Desk:
    settings_file = tmp_path / "settings.toml"
    in_the_hills = request.param == "in the hills"
    settings_file.write_text(IN_THE_HILLS if in_the_hills else AS_IT_COMES)
    monkeypatch.setenv("BLENDWRIGHT_SETTINGS", str(settings_file))
    monkeypatch.setenv("BLENDWRIGHT_OBSERVATIONS", str(tmp_path / "seen.sqlite"))
    if request.param == "with what the bench saw":
        saw = [
            "--flash-C",
            "29",
            "--density",
            "1.013",
            "--dissolved-at-C",
            "9",
            "--cloudy-at-C",
            "24",
        ]
        done = runner.invoke(app, ["observe", str(file), *saw])
        assert done.exit_code == 0, done.output
    observations = read_observations(tmp_path / "seen.sqlite")
    if in_the_hills:
        return Desk(file, 285.15, standard_pressure_Pa(1500.0), observations, tmp_path)
    return Desk(file, 293.15, 101325.0, observations, tmp_path)


SI_NAMES = {shown: name for name, shown in DISPLAY_NAMES.items()}
ESTIMATES = {
    "flash": "flash_point_closed_cup_C",
    "boiling": "initial_boiling_point_C",
    "density": "density_g_mL",
    "volume": "volume_mL",
    "dissolves": "dissolution_temperature_C",
}


def told(assessment: dict[str, Any]) -> Figures:
    """The figures of an assessment's JSON: value, low and high."""
    estimates, verdicts = assessment["estimates"], assessment["verdicts"]
    ends = {
        what: tuple(estimates[name][end] for end in ("value", "low", "high"))
        for what, name in ESTIMATES.items()
    }
    return {
        **ends,
        "category": verdicts["flammability"]["ghs"]["category"],
        "standing": verdicts["flammability"]["ghs"]["standing"],
        "dissolution": verdicts["dissolution"],
        "liquid": verdicts["liquid"],
        "chance": assessment["chance_of_layers"],
        "warming": verdicts["warming"]["window"],
        "advice": verdicts["warming"]["advice"],
    }


def ends_of(estimate: dict[str, Any]) -> tuple[float | None, ...]:
    return tuple(estimate[end] for end in ("value", "low", "high"))


def agree(where: str, found: Figures, expected: Figures) -> None:
    for what, value in found.items():
        there = expected[what]
        if isinstance(there, tuple) and isinstance(value, tuple):
            assert value == pytest.approx(there[: len(value)], rel=1e-6, abs=1e-6), (where, what)
        elif isinstance(there, float):
            assert value == pytest.approx(there, rel=1e-6), (where, what)
        else:
            assert value == there, (where, what)


def places(desk: Desk) -> Iterator[tuple[str, Figures]]:
    """Every command's figures, and the page's."""
    yield "assess", told(desk.json_of("assess"))
    found = desk.json_of("warm")
    yield (
        "warm",
        {
            "flash": ends_of(found["flash_point_closed_cup_C"])[:1],
            "dissolves": ends_of(found["dissolution_temperature_C"]),
            "warming": found["window"],
        },
    )
    found = desk.json_of("flash")
    yield "flash", {"flash": ends_of(found["flash_point_closed_cup_C"])}
    yield "flash, undiluted", {"flash": ends_of(found["dilution"][0]["flash_point_closed_cup_C"])}
    yield "advise", now(desk.json_of("advise", "--flash-above-C", "-20")["now"])
    carriers = desk.json_of("carriers", "--in", "triacetin")["carriers"][0]
    yield (
        "carriers",
        {
            "flash": ends_of(carriers["flash_point_C"]),
            "dissolves": ends_of(carriers["dissolution_temperature_C"]),
            "density": ends_of(carriers["density_g_mL"]),
            "category": carriers["ghs_category"],
            "liquid": carriers["at_bench"]["liquid"],
            "chance": carriers["at_bench"]["chance_of_layers"],
        },
    )
    sheet = desk.json_of("volumes")
    yield "volumes", volumes_of(sheet)
    yield from papers_of(desk)
    yield from tables_of(desk)
    yield from page_of(desk)


def now(state: dict[str, Any]) -> Figures:
    return {
        "flash": (state["flash_point_C"], state["flash_point_low_C"]),
        "dissolves": (state["dissolution_temperature_C"],),
        "density": (state["density_g_mL"],),
        "category": state["ghs_category"],
        "chance": state["chance_of_layers"],
    }


def volumes_of(sheet: dict[str, Any]) -> Figures:
    return {"density": ends_of(sheet["density_g_mL"]), "volume": ends_of(sheet["total_volume_mL"])}


def papers_of(desk: Desk) -> Iterator[tuple[str, Figures]]:
    out = desk.folder / "papers.json"
    papers = [word for paper in PAPERS for word in ("--paper", paper)]
    done = runner.invoke(app, ["report", str(desk.file), "-o", str(out), *papers])
    assert done.exit_code == 0, done.output
    yield from in_papers("papers", json.loads(out.read_text(encoding="utf-8")))


def in_papers(where: str, report: dict[str, Any]) -> Iterator[tuple[str, Figures]]:
    """The assessment in the file, and the numbers that the sheets print."""
    yield f"{where}, assessment", told(report["assessment"])
    sheets = {paper["paper"]: paper for paper in report["papers"]}
    (numbers,) = (b for b in sheets["technical"]["blocks"] if b.get("table") == "numbers")
    rows = {row[0]["text"]: tuple(cell["number"] for cell in row[1:4]) for row in numbers["rows"]}
    yield (
        f"{where}, technical sheet",
        {what: rows[LABELS[SI_NAMES[name]]] for what, name in ESTIMATES.items()},
    )
    facts = {name: cell["number"] for name, cell in sheets["bench"]["facts"].items()}
    yield (
        f"{where}, bench sheet",
        {"flash": (facts["flash point, estimate"],), "volume": (facts["about"],)},
    )


def tables_of(desk: Desk) -> Iterator[tuple[str, Figures]]:
    """batch, sweep, the page's list, and `assess_many`."""
    formulas, out = desk.folder / "formulas", desk.folder / "out.csv"
    formulas.mkdir()
    shutil.copy(desk.file, formulas)
    for words in (
        ["batch", str(formulas), "-o", str(out), "--quiet"],
        ["sweep", str(desk.file), "--vary", "vanillin=" + grams_of_vanillin(desk), "-o", str(out)],
    ):
        done = runner.invoke(app, [*words, "--force"])
        assert done.exit_code == 0, done.output
        with out.open(encoding="utf-8", newline="") as lines:
            (row,) = csv.DictReader(lines)
        yield words[0], in_row(row)
    asked = desk.asked
    wanted = ListRequest(
        desk.file.name, long_table(desk), ".csv", asked.bench_K, asked.pressure_Pa, asked.drop_mL,
        observations=asked.observations,
    )  # fmt: skip
    source = desk.folder / "list.csv"
    source.write_bytes(wanted.content)
    order = list_order(wanted, source, desk.folder / "list-out.csv")
    run(order, in_process(order), lambda count, share: None)
    with (desk.folder / "list-out.csv").open(encoding="utf-8", newline="") as lines:
        (row,) = csv.DictReader(lines)
    yield "the page's list", in_row(row)
    table = assess_many(
        [read_formula(desk.file)],
        temperature_K=desk.bench_K,
        pressure_Pa=desk.pressure_Pa,
        observations=desk.observations,
    )
    yield "assess_many", in_row({k: str(v) for k, v in table.to_pylist()[0].items()})


def grams_of_vanillin(desk: Desk) -> str:
    (row,) = (r for r in read_formula(desk.file).rows if r.material == "vanillin")
    return f"{row.amount.number:g} g"


def long_table(desk: Desk) -> bytes:
    """The formula as weighed, in the long form of a list."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("formula", "material", "grams", "strength_pct", "carrier"))
    for row in weigh(read_formula(desk.file), default_catalogue()).rows:
        strength = (
            "" if row.strength is None else f"{row.strength.percent:g} % {row.strength.basis}"
        )
        carrier = "" if row.carrier is None else row.carrier.name
        writer.writerow(("one", row.material.name, repr(row.grams), strength, carrier))
    return out.getvalue().encode()


def in_row(row: dict[str, str]) -> Figures:
    assert row["error"] in ("", "None"), row["error"]
    return {
        **{
            what: tuple(float(row[name + end]) for end in ("", "_low", "_high"))
            for what, name in ESTIMATES.items()
        },
        "category": row["ghs_category"],
        "standing": row["ghs_standing"],
        "dissolution": row["dissolution"],
        "liquid": row["liquid"],
        "chance": float(row["chance_of_layers"]),
    }


def page_of(desk: Desk) -> Iterator[tuple[str, Figures]]:
    """What the page's processes send back."""
    asked = desk.asked
    yield "page, assessment", told(assessment_data(asked))
    first, second, third = amounts(asked), glance(asked), everything(asked)
    assert second is not None
    assert third is not None
    assert first.density is not None
    assert first.volume is not None
    yield "page, amounts", {"density": edge(first.density), "volume": edge(first.volume)}
    yield (
        "page, answers",
        {
            "flash": edge(second.thermometer.flash.estimate),
            "dissolves": edge(second.thermometer.dissolved.estimate),
            "answers": list(second.answers),
        },
    )
    yield (
        "page, numbers",
        {
            **{what: edge(third.estimates[SI_NAMES[name]]) for what, name in ESTIMATES.items()},
            "category": third.classings[0].category,
            "standing": third.classings[0].standing,
        },
    )
    yield "page, warm", {"flash": edge(jobs.warming(asked, WarmBath()).window.flash)[:1]}
    yield "page, burn", {"flash": edge(jobs.drivers(asked).flash)}
    one = jobs.carriers(asked, ("triacetin",))[0]
    yield "page, carriers", {"flash": edge(one.flash), "density": edge(one.density)}
    yield "page, fix", now(jobs.advice(asked, None, 253.15).now.to_dict())
    order = BenchOrder(desk.bench_K, desk.bench_K, desk.pressure_Pa)
    yield "page, volumes", volumes_of(jobs.work_sheet(asked, order).to_dict())
    wish = jobs.PapersWish(PAPERS, ".json", date(2026, 11, 25), "", (), LabelWish())
    yield from in_papers("page, papers", json.loads(jobs.papers(asked, wish)))


def edge(estimate: Estimate) -> tuple[float | None, ...]:
    there = estimate.in_display_units()
    return there.value, there.low, there.high


def test_every_place_shows_the_same_figures(desk: Desk) -> None:
    assessment = desk.assessment
    expected = {**told(assessment.to_dict()), "answers": list(at_a_glance(assessment).answers)}
    seen = dict(places(desk))
    assert len(seen) >= 24
    for where, found in seen.items():
        agree(where, found, expected)


def test_the_dose_weighs_what_the_density_at_20_C_says(desk: Desk) -> None:
    formula = read_formula(desk.file)
    there = assess(formula, BENCH_K, observations=desk.observations).estimates["density"]
    found = desk.json_of("dose", "--into", "water", "--dose-mL", "2")
    assert found["dose"]["mass_g"]["value"] == pytest.approx(2.0 * (edge(there)[0] or 0.0))
    drops = jobs.Pour("water", 2.0, 100.0, BENCH_K)
    assert edge(jobs.dosed(desk.asked, drops).dose_mass)[0] == found["dose"]["mass_g"]["value"]
    row = desk.json_of("carriers", "--in", "triacetin")["carriers"][0]
    tasting = desk.json_of("dose", "--into", "water", "--dose-drops", "2")
    assert row["two_drops_in_100_mL_of_water"] == tasting["verdict"]


# One bench, one air


def commands() -> dict[str, Any]:
    group: Any = typer.main.get_command(app)
    return dict(group.commands)


def test_one_default_bench_in_every_command_function_and_on_the_page() -> None:
    temperatures = {
        (name, option.name): option.default
        for name, command in commands().items()
        for option in command.params
        if isinstance(option.name, str) and option.name.endswith(("temperature_C", "map_at"))
    }
    assert len(temperatures) >= 11
    assert set(temperatures.values()) <= {BENCH_C, None}  # None: the bench's own
    functions = (
        assess, warm, flash_drivers, advise, compare_carriers, dose, assess_many, rounding,
    )  # fmt: skip
    for function in functions:
        parameters = inspect.signature(function).parameters
        (bench,) = (p for n, p in parameters.items() if n in ("bench_K", "temperature_K"))
        assert bench.default == BENCH_K, function
        pressure = parameters.get("pressure_Pa")
        assert pressure is None or pressure.default == ATMOSPHERE_Pa
    assert Sheet().bench_C == Serving(Path()).bench_C == BENCH_C
    assert BenchOrder().temperature_K == BenchOrder().fill_K == BENCH_K


# the drink's and the density's own temperature, and what knows neither bench nor air
NO_BENCH = {"dose", "observe"}
NEITHER = {
    "accuracy", "doctor", "schema", "material", "settings", "observations",
}  # fmt: skip


def test_bench_and_altitude_of_the_settings_count_in_every_command() -> None:
    asked = {
        name: {option.name for option in command.params} for name, command in commands().items()
    }
    answering = asked.keys() - NEITHER
    for name in answering - NO_BENCH:
        assert {"temperature_C", "pressure_kPa"} <= asked[name], name
    assert set(AT_THE_BENCH) == answering - NO_BENCH
    given = Settings(temperature_C=12.0, altitude_m=1500.0).defaults(list(asked))
    for name in AT_THE_BENCH:
        assert given[name]["temperature_C"] == 12.0
        assert given[name]["pressure_kPa"] == pytest.approx(84.56, abs=0.01)  # ISO 2533


def test_every_answering_command_counts_observations_unless_told_not_to() -> None:
    asked = {
        name: {option.name for option in command.params} for name, command in commands().items()
    }
    for name in asked.keys() - NEITHER - {"observe", "serve"}:  # the page's own switch is its notes
        assert {"observations", "no_observations"} <= asked[name], name


def test_advice_for_the_fridge_is_told_for_the_fridge() -> None:
    """Issue 15: `advise --clear-at-C 4` told the chance of layers at 20 °C."""
    esters = formula(("hexyl acetate", 10.0), ("propylene glycol", 90.0))
    words = ["--row", "hexyl acetate=10", "--row", "propylene glycol=90", "--clear-at-C", "4"]
    made = runner.invoke(app, ["advise", *words, "--json"])
    now_there = json.loads(made.stdout)["now"]
    there = assess(esters, 277.15)
    assert now_there["temperature_C"] == pytest.approx(4.0)
    assert now_there["chance_of_layers"] == pytest.approx(there.chance_of_layers)
    assert there.chance_of_layers != pytest.approx(assess(esters).chance_of_layers, rel=0.01)
    said = runner.invoke(app, ["advise", *words]).stdout
    assert "at 4 °C" in " ".join(said.split())
    assert "at 20 °C" not in " ".join(said.split())


# Warmth only where its window is safe

ADVISED = re.compile(r"[Ww]arm-water bath|Let it stand warm|Warm to about|Warm it in|warm it, cov")
HEAVY = rows(("vanillin", 30.0), ("triethyl citrate", 70.0))
WARMED = (
    *BLENDS,
    HEAVY,
    rows(("vanillin", 1.0), ("triethyl citrate", 99.0)),
    rows(("vanillin", 30.0), ("ethyl acetate", 5.0), ("triethyl citrate", 65.0)),
    rows(("vanillin", 9.0), ("ethyl maltol", 2.0), ("propylene glycol", 89.0)),
    rows(("vanillin", 8.0), ("water", 92.0)),
)


@pytest.mark.parametrize("pairs", WARMED, ids=lambda pairs: " ".join(n for n, _ in pairs))
@pytest.mark.parametrize("bench_K", [277.15, BENCH_K])
def test_warmth_is_advised_only_where_warm_finds_a_safe_window(
    pairs: tuple[tuple[str, float], ...], bench_K: float
) -> None:
    written = formula(*pairs)
    found = warm(written, bench_K=bench_K)
    may_warm = found.window.may_warm_to_K is not None
    assert may_warm == (
        found.window.word == "safe window"
        or (
            found.window.word == "not needed"
            and found.window.keeps_margin(found.window.most_needed_K) is True
        )
    )
    assert found.window.advice.startswith("Do not warm it") != may_warm
    made = assess(written, bench_K)
    assert made.warming == found.window
    actions = [f.action for f in (*made.findings, *found.findings) if f.code != "WARM-ORDER"]
    texts = [*actions, *(way for way in advised(written, bench_K))]
    for text in texts:
        if ADVISED.search(text):
            assert may_warm, text
    crystals = [f for f in made.findings if f.code in ("NEEDS-WARMING", "DISSOLVES-SLOWLY")]
    if crystals and not may_warm:
        assert all("Do not warm it" in f.action for f in crystals)


def advised(written: Formula, bench_K: float) -> list[str]:
    made = advise(written, clear_at_K=bench_K, bench_K=bench_K, most_ways=1)
    return [way.words for way in made.ways if way.kind == "warm"]


def test_some_of_them_may_be_warmed_and_some_not() -> None:
    windows = {warm(formula(*pairs)).window.may_warm_to_K is not None for pairs in WARMED}
    assert windows == {True, False}
    assert warm(formula(*HEAVY)).window.word == "safe window"


# Volumes of one table stand at one temperature


@pytest.mark.parametrize("bench_K", [BENCH_K, 298.15])
def test_volumes_of_one_table_stand_at_one_temperature(bench_K: float) -> None:
    """A lone liquid's row and its total are one volume wherever both are shown."""
    lone = formula(("ethanol", 10.0))
    made = assess(lone, bench_K)
    assert edge(made.row_volumes[0])[0] == pytest.approx(edge(made.estimates["volume"])[0])
    sheet = bench_sheet(lone, BenchOrder(bench_K, bench_K))
    assert edge(sheet.rows[0].volume)[0] == pytest.approx(edge(sheet.total)[0])
    lines = Sheet("one", "", (Line("ethanol", "10"),), bench_C=bench_K - 273.15).tidied()
    found = amounts(Request(lines))
    assert found.volume_20C is not None
    assert found.rows[0].mL == pytest.approx(edge(found.volume_20C)[0])
    here = f"{bench_K - 273.15:.0f} °C"
    out = io.StringIO()
    print_assessment(made, Console(file=out, width=80), ["rows"])
    assert f"mL, {here}" in out.getvalue()
