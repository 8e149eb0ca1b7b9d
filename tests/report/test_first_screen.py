"""The first screen answers in 25 lines; --show opens the rest, as complete as the JSON object."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console
from typer.testing import CliRunner

from blendwright import Formula, assess, read_formula
from blendwright.app.cli.main import app
from blendwright.assess import Assessment
from blendwright.estimate import Estimate
from blendwright.questions.advice.advise import advise
from blendwright.questions.advice.carriers import compare_carriers
from blendwright.questions.drink.dosing import Dose, dose
from blendwright.questions.flash_drivers import flash_drivers
from blendwright.questions.volumes.volumes import BenchOrder, bench_sheet
from blendwright.questions.warming import warm
from blendwright.report.advice import print_advice, print_carriers
from blendwright.report.answers_at_a_glance import at_a_glance
from blendwright.report.assessment import PARTS, parts_of, print_assessment
from blendwright.report.dose import print_dose
from blendwright.report.flash_drivers import print_flash_drivers
from blendwright.report.short_cautions import LONGEST, SHORT, by_harm, in_short
from blendwright.report.terminal import NumbersTable
from blendwright.report.thermometer import Mark, thermometer
from blendwright.report.thermometer_line import strip
from blendwright.report.volumes import print_volumes
from blendwright.report.warming import print_warming
from blendwright.verdict import Finding
from blendwright.verdict.warming import window

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = sorted((ROOT / "examples").glob("*.csv"))
PEAR = read_formula(ROOT / "examples" / "orchard-pear-cardamom.csv")
ODD = (
    {"vanillin": 30, "PG": 70},
    {"sweet orange oil": 5, "water": 95},
    {"water": 1},
    {"ethyl acetate": 1},
    {"caffeine": 1, "water": 99},
    {"methyl anthranilate": 5, "hexanal": 5, "ethanol": 90},
    {"geraniol": 20, "acetaldehyde": 20, "MCT oil": 60},
)
CODES = re.compile(r'"([A-Z]+(?:-[A-Z]+)+|FLAMMABLE|DISSOLVES|SPLITS|EVAPORATES|OBSERVED)"')
# never a caution: a warning or a note wherever it is raised, or of another command's answer
NEVER_CAUTIONS = {
    "FLASH-UNKNOWN", "NOT-CLASSED-FLAMMABLE", "FLASH-AT-BENCH", "FLASH-BELOW-WARMING", "DISSOLVES",
    "NEEDS-WARMING", "WONT-DISSOLVE", "SPLITS", "HAZE-MARGIN", "CRYSTAL-FORMS", "FILL-LIMIT",
    "PLASTIC-NO-ATTACK", "ESTER-EXCHANGE", "WATER-HYDROLYSIS", "ROWS-SUMMED", "OBSERVED",
    "CRYSTALS-IN-FREEZER",
}  # fmt: skip
OTHER_ANSWERS = ("WARM-", "DOSE-", "BOTTLE-", "DROP-", "ROW-", "ROUNDING-")


@pytest.fixture(scope="module")
def assessments() -> list[Assessment]:
    formulas = [*(read_formula(path) for path in EXAMPLES), *(Formula.of(odd) for odd in ODD)]
    return [assess(formula, kelvin) for formula in formulas for kelvin in (278.15, 293.15, 313.15)]


def shown(assessment: Assessment, width: int = 80, show: Sequence[str] = ()) -> str:
    out = io.StringIO()
    print_assessment(assessment, Console(file=out, width=width, highlight=False), show)
    return out.getvalue()


# 25 lines


def test_the_example_is_answered_in_25_lines_of_80_columns() -> None:
    done = CliRunner().invoke(app, ["assess", str(EXAMPLES[-2]), "--no-observations"])
    assert "Orchard pear and cardamom" in done.stdout
    lines = done.stdout.splitlines()
    assert len(lines) <= 25
    assert max(map(len, lines)) <= 80
    questions = [line.split("?")[0] for line in lines[1:5]]
    assert questions == ["Dissolves", "One liquid", "Burns", "How much"]
    assert "clears nothing" in lines[-1]


def test_warnings_stand_in_full_and_each_caution_in_one_line(
    assessments: list[Assessment],
) -> None:
    for assessment in assessments:
        text = " ".join(shown(assessment).split())
        for finding in assessment.findings:
            full = " ".join(f"{finding.message} {finding.action}".split())
            if finding.severity == "warning":
                assert full in text
            if finding.severity == "caution":
                assert in_short(finding, assessment.warming) in text
        cautions = [line for line in shown(assessment).splitlines() if line.startswith("CAUTION")]
        count = sum(finding.severity == "caution" for finding in assessment.findings)
        assert len(cautions) == count


def test_every_caution_has_a_line_that_fits() -> None:
    package = ROOT / "src" / "blendwright"
    folders = (package / "verdict", package / "observations")
    found = {
        match
        for folder in folders
        for path in folder.glob("*.py")
        for match in CODES.findall(path.read_text(encoding="utf-8"))
        if not match.startswith(OTHER_ANSWERS)
    }
    assert len(found) > 30
    assert found - NEVER_CAUTIONS == set(SHORT) & found
    names = ("a material whose name is very long", "another", "a third one of them")
    unsafe = window(CRYSTALS, FLASH, False, 293.15)
    for code in SHORT:
        line = in_short(Finding(code, "caution", "x", "y", names), unsafe)
        assert len(line) <= LONGEST, (code, line)


def test_what_is_never_a_caution_is_none_here(assessments: list[Assessment]) -> None:
    for assessment in assessments:
        for finding in assessment.findings:
            assert not (finding.severity == "caution" and finding.code in NEVER_CAUTIONS)


def test_what_can_burn_stands_before_what_harms_the_goods() -> None:
    codes = ("PLASTIC-ATTACK", "EVAPORATES", "CLASS-TOO-NEAR", "FRIDGE-SPARKS")
    found = by_harm(Finding(code, "caution", "", "") for code in codes)
    assert [f.code for f in found] == [
        "CLASS-TOO-NEAR", "FRIDGE-SPARKS", "EVAPORATES", "PLASTIC-ATTACK"
    ]  # fmt: skip


# What --show opens


def test_all_parts_together_hold_what_the_json_object_holds(
    assessments: list[Assessment],
) -> None:
    for assessment in assessments[::2]:
        text = "".join(shown(assessment, 200, tuple(PARTS)).split())

        def is_told(words: str, text: str = text) -> bool:
            return "".join(words.split()) in text

        for finding in assessment.findings:
            assert is_told(f"{finding.message} {finding.action}"), finding.code
        for row in assessment.weighing.rows:
            assert is_told(row.label)
            assert is_told(f"{row.grams:.3f}")
        for classing in assessment.classings:
            assert is_told(classing.words())
            assert is_told(classing.clause)
        for solid in assessment.solids:
            assert is_told(solid.material)
        for caution in assessment.cautions:
            assert is_told(caution)
        assert is_told(assessment.data_version)


def test_parts_are_named_by_comma_and_a_wrong_one_is_told() -> None:
    assert parts_of("rows, classes") == ("rows", "classes")
    assert parts_of("all") == tuple(PARTS)
    assert parts_of("") == ()
    with pytest.raises(ValueError, match="there are rows, crystals"):
        parts_of("row")
    done = CliRunner().invoke(app, ["assess", str(EXAMPLES[0]), "--show", "everything"])
    assert done.exit_code == 2
    assert "crystals" in done.stderr


# Narrow


REPORTS: dict[str, tuple[Callable[[], Any], Callable[[Any, Console], Any]]] = {
    "assess": (  # but for its sources: an address can't be broken
        lambda: assess(PEAR), lambda found, out: print_assessment(found, out, tuple(PARTS)[:-1])
    ),
    "volumes": (lambda: bench_sheet(PEAR, BenchOrder(balance_g=0.01)), print_volumes),
    "warm": (
        lambda: warm(PEAR), lambda found, out: print_warming(found, ("covered", "open"), out)
    ),
    "flash": (lambda: flash_drivers(PEAR), print_flash_drivers),
    "dose": (lambda: dose(PEAR, "water", Dose.of(2, None, 100)), print_dose),
    "advise": (lambda: advise(PEAR, clear_at_K=278.15), print_advice),
    "carriers": (
        lambda: compare_carriers(PEAR), lambda found, out: print_carriers("x", found, out)
    ),
}  # fmt: skip


@cache
def answer(name: str) -> Any:
    return REPORTS[name][0]()


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("name", REPORTS)
def test_no_column_is_one_word_wide(name: str, width: int) -> None:
    out = io.StringIO()
    REPORTS[name][1](answer(name), Console(file=out, width=width, highlight=False))
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    ragged = [len(line.split()) <= 1 and bool(line.strip()) for line in lines]
    for k in range(len(ragged) - 2):
        assert not all(ragged[k : k + 3]), lines[k : k + 3]
    assert "…" not in out.getvalue()  # no cell is cut


def test_a_table_that_would_squeeze_its_words_prints_lines_and_loses_nothing() -> None:
    table = NumbersTable(("Material", "grams", "millilitres", "vapour, %", "of the flash, %"))
    table.add_row("ethyl 2-methylbutyrate from the second bottle", "1.000", "2.000", "3", "4")
    out = io.StringIO()
    Console(file=out, width=50).print(table)
    text = " ".join(out.getvalue().split())
    assert "ethyl 2-methylbutyrate from the second bottle" in text
    assert "grams 1.000; millilitres 2.000; vapour, % 3; of the flash, % 4" in text


def test_plain_when_piped() -> None:
    done = CliRunner().invoke(app, ["assess", str(EXAMPLES[0]), "--show", "all"])
    assert "\x1b[" not in done.stdout


# The strip

CRYSTALS = Estimate.ok(283.15, 263.15, 298.15, "K", "test")
FLASH = Estimate.ok(313.15, 303.15, 323.15, "K", "test")
CLEAR = Estimate.absent("K", "not_applicable", "clear")
temperatures = st.floats(-39.0, 79.0)


@settings(max_examples=200)
@given(crystals=temperatures, flash=temperatures, bench=temperatures, width=st.integers(70, 120))
def test_every_sign_stands_on_the_strip_in_the_order_of_the_temperatures(
    crystals: float, flash: float, bench: float, width: int
) -> None:
    def around(celsius: float) -> Estimate:
        return Estimate.ok(celsius + 273.15, celsius + 268.15, celsius + 278.15, "K", "test")

    last, low = around(crystals), around(flash)
    found = thermometer(window(last, low, False, bench + 273.15), CLEAR, low)
    line = strip(found, width)
    assert len(line) == width
    axis = line.partition("├")[2].partition("┤")[0]
    places = {sign: axis.find(sign) for sign in "◆F B▲".replace(" ", "")}
    assert min(places.values()) >= 0, axis
    at = {"◆": crystals, "F": 4.0, "B": bench, "▲": flash}
    for first in at:
        for second in at:
            if at[first] < at[second] - 1e-9:
                assert places[first] < places[second], axis


def test_no_strip_where_it_has_no_room_and_an_unknown_is_said() -> None:
    unknown = Estimate.unknown("K", "nobody knows")
    found = thermometer(window(unknown, unknown, False, 293.15), CLEAR, unknown)
    assert strip(found, 60) == ""
    assert "◆ dissolved ?" in strip(found, 100)
    assert "▲ flash ?" in strip(found, 100)


# The four answers


def test_a_state_is_never_better_than_the_findings(assessments: list[Assessment]) -> None:
    """Where a warning or a caution is raised, no answer about it is called good."""
    about = {
        "dissolves": ("NEEDS-WARMING", "WONT-DISSOLVE", "DISSOLVES-SLOWLY", "DISSOLUTION-UNKNOWN"),
        "clear": ("SPLITS", "MAY-CLOUD", "PROBABLY-CLEAR", "LAYERS-UNKNOWN"),
        "burns": ("FLAMMABLE", "FLASH-UNKNOWN", "FLASH-AT-BENCH", "CLASS-TOO-NEAR"),
    }
    for assessment in assessments:
        raised = {f.code for f in assessment.findings if f.severity != "info"}
        for answer in at_a_glance(assessment).answers:
            if raised & set(about.get(answer.key, ())):
                assert answer.state != "good", (answer, raised)
            if answer.state == "good":
                assert answer.word != "Unknown"


def test_crystals_in_a_clear_liquid_are_not_called_clear() -> None:
    found = at_a_glance(assess(Formula.of({"vanillin": 30, "PG": 70}), 278.15))
    assert found.dissolves.state == "warning"
    assert found.clear.word.endswith("over crystals")
    assert found.clear.state != "good"


def test_the_end_of_what_was_searched_is_said() -> None:
    mark = Mark("fully dissolved above", Estimate.ok(250.0, 233.15, 300.0, "K", "t"), 233.15)
    assert mark.interval_words == "below -40 to 27 °C"
    assert mark.value_words == "-23 °C"
