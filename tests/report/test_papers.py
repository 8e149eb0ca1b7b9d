"""Papers say what the assessment says, in every format, and run nothing that a name brings."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from blendwright import Assessment, Formula, FormulaError, assess, read_formula
from blendwright.app.cli.main import app
from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_celsius
from blendwright.formula import formula_bytes, formula_sha256, read_formula_bytes, write_formula
from blendwright.questions.materials.own import read_own_materials
from blendwright.questions.volumes.weighing_order import is_crystal
from blendwright.report.papers import (
    FORMATS,
    PAPERS,
    Label,
    LabelError,
    LabelWish,
    PaperSheet,
    make_papers,
    papers_bytes,
)
from blendwright.report.papers.contents import ESTIMATED, MEASURED, NOT_DETERMINED
from blendwright.report.papers.dossier import Dossier, gather
from blendwright.report.papers.label import STATEMENTS, parse_size_mm
from blendwright.report.papers.markdown import escaped
from blendwright.report.papers.measured import SECTION_9, MeasuredError, parse_measured

from .conftest import DAY, EVIL_NAME, EXAMPLES

PEAR = EXAMPLES / "orchard-pear-cardamom.csv"


def made(dossier: Dossier, suffix: str, *papers: str, wish: LabelWish | None = None) -> bytes:
    sheets = make_papers(dossier, papers or PAPERS, wish, with_pictures=False)  # type: ignore[arg-type]
    return papers_bytes(sheets, dossier, suffix)


def sheet(dossier: Dossier, paper: str) -> PaperSheet:
    (found,) = make_papers(dossier, [paper], with_pictures=False)  # type: ignore[list-item]
    assert isinstance(found, PaperSheet)
    return found


def label(dossier: Dossier, **wish: object) -> Label:
    (found,) = make_papers(dossier, ["label"], LabelWish(**wish))  # type: ignore[arg-type]
    assert isinstance(found, Label)
    return found


class Page(HTMLParser):
    """Tags with their attributes, the texts, and the numbers of `data` elements with theirs."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.numbers: list[tuple[float, str]] = []
        self.words: list[str] = []
        self._open: float | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "data":
            self._open = float(str(dict(attrs)["value"]))

    def handle_data(self, data: str) -> None:
        self.words.append(data)
        if self._open is not None:
            self.numbers.append((self._open, data))
            self._open = None


def numbers_of(assessment: Assessment) -> Iterator[float]:
    """Every number that the technical sheet owes the reader, at the edge."""
    for estimate in assessment.estimates.values():
        shown = estimate.in_display_units()
        if shown.is_ok:
            yield from shown.interval()
    for volume in assessment.row_volumes:
        yield from volume.in_display_units().interval()
    for row, share in zip(assessment.weighing.rows, assessment.contributions, strict=True):
        yield from (row.grams, share.vapour_pct, share.flammability_pct)
    for solid in assessment.solids:
        yield from (solid.mass_kg * 1e3, solid.dissolves.interval()[0] - 273.15)
        yield from (solid.undissolved_here_g, solid.back_4C_g, solid.back_minus18C_g)


# Numbers


@pytest.mark.parametrize("which", ["pear_dossier", "fifteen_dossier"])
def test_html_numbers_are_the_assessments_own(which: str, request: pytest.FixtureRequest) -> None:
    dossier: Dossier = request.getfixturevalue(which)
    page = Page(made(dossier, ".html", "technical").decode())
    held = {value for value, _ in page.numbers}
    assert set(numbers_of(dossier.assessment)) <= held
    for value, words in page.numbers:  # and the words are that number, rounded
        shown = re.match(r"(-?\d+(?:\.(\d+))?)", words)
        if shown is not None:
            digits = len(shown.group(2) or "")
            assert float(shown.group(1)) == pytest.approx(value, abs=0.5001 * 10.0**-digits)


def test_workbook_numbers_are_the_assessments_own(pear_dossier: Dossier) -> None:
    book = load_workbook(io.BytesIO(made(pear_dossier, ".xlsx", "technical")))
    held = {
        cell.value
        for row in book["Technical"].iter_rows()
        for cell in row
        if isinstance(cell.value, int | float)
    }
    kept = {f"{number:.16g}" for number in held}  # openpyxl writes sixteen figures
    assert {f"{number:.16g}" for number in numbers_of(pear_dossier.assessment)} <= kept


def test_json_holds_the_assessment_and_the_sheets(pear_dossier: Dossier) -> None:
    data = json.loads(made(pear_dossier, ".json"))
    assert data["schema"] == "blendwright/report/1"
    assert data["assessment"] == json.loads(json.dumps(pear_dossier.assessment.to_dict()))
    assert [paper["paper"] for paper in data["papers"]] == list(PAPERS)
    numbers = next(b for b in data["papers"][1]["blocks"] if b.get("table") == "numbers")
    flash = next(row for row in numbers["rows"] if row[0]["text"] == "Flash point, closed cup")
    estimate = data["assessment"]["estimates"]["flash_point_closed_cup_C"]
    assert [cell["number"] for cell in flash[1:4]] == [
        estimate[k] for k in ("value", "low", "high")
    ]


def test_the_balance_ends_at_the_total_and_every_row_is_weighed_once_but_the_carrier(
    fifteen_dossier: Dossier,
) -> None:
    weighing = fifteen_dossier.assessment.weighing
    table = sheet(fifteen_dossier, "bench").table("weighing")
    assert len(weighing.rows) == 15
    assert len(table.rows) == len(fifteen_dossier.steps) == 16
    assert {step.row for step in fifteen_dossier.steps} == set(range(15))
    shows = [row[4].number for row in table.rows]
    assert shows == sorted(shows, key=float)  # type: ignore[arg-type]
    assert shows[-1] == pytest.approx(weighing.total_g, rel=1e-12)
    assert "make up to weight" in table.rows[-1][2].text
    assert table.rows[0][2].text == "water: the first part"
    assert table.rows[1][2].text.startswith("vanillin")
    millilitres = [row[5].number for row in table.rows if row[5].number is not None]
    assert "mL at 20 °C" in table.columns[5].title
    assert sum(millilitres) == pytest.approx(
        sum(
            v.in_display_units().interval()[0]
            for v, r in zip(fifteen_dossier.assessment.row_volumes, weighing.rows, strict=True)
            if not is_crystal(r)
        )
    )


def test_sources_are_the_bibliographys_in_full(pear_dossier: Dossier) -> None:
    table = sheet(pear_dossier, "technical").table("sources")
    keys = {row[0].text for row in table.rows}
    named = {s for e in pear_dossier.assessment.estimates.values() for s in e.sources}
    assert named & set(pear_dossier.sources) <= keys
    liaw = next(row for row in table.rows if row[0].text == "liaw")
    assert pear_dossier.sources["liaw"].citation() in liaw[1].text
    assert "flash point" in liaw[2].text


def test_technical_sheet_names_version_data_hash_and_date(pear_dossier: Dossier) -> None:
    facts = {name: cell.text for name, cell in sheet(pear_dossier, "technical").facts}
    assessment = pear_dossier.assessment
    assert facts["formula, sha256"] == formula_sha256(assessment.weighing.formula)
    assert facts["blendwright"] == f"{assessment.version}, data {assessment.data_version}"
    assert (facts["date"], facts["lot"]) == ("2026-11-25", "PC-014")


def test_warming_is_on_the_sheet_only_where_there_is_something_to_warm(
    pear_dossier: Dossier, fifteen_dossier: Dossier
) -> None:
    assert pear_dossier.warming is None
    assert fifteen_dossier.warming is not None
    names = [getattr(b, "name", "") for b in sheet(fifteen_dossier, "bench").blocks]
    assert "warming" in names
    assert "warming" not in [getattr(b, "name", "") for b in sheet(pear_dossier, "bench").blocks]


# Harm


def test_html_runs_nothing_and_fetches_nothing(evil_dossier: Dossier) -> None:
    text = made(evil_dossier, ".html").decode()
    page = Page(text)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "iframe", "object", "link", "a", "form"}
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "&lt;script&gt;alert(2)&lt;/script&gt;" in text
    assert any("<script>alert(1)</script>" in words for words in page.words)  # shown as text
    for tag, attributes in page.tags:
        assert not any(name.startswith("on") for name in attributes), tag
        assert not str(attributes.get("src", "data:")).startswith("http")
    policies = [a["content"] for t, a in page.tags if t == "meta" and "http-equiv" in a]
    assert policies == ["default-src 'none'; style-src 'unsafe-inline'; img-src data:"]
    # a source's address may be read, but nothing is fetched from one
    markup = re.sub(r">[^<>]*https?://[^<>]*</(td|p|li|span)>", r"></\1>", text)
    assert "http" not in re.sub(r"https?://www\.w3\.org\S*", "", re.sub(r"http-equiv", "", markup))


def test_workbook_texts_are_never_formulas(evil_dossier: Dossier) -> None:
    content = made(evil_dossier, ".xlsx")
    book = load_workbook(io.BytesIO(content))
    ours = re.compile(
        r'=D\d+\*\$E\$\d+|=SUM\(\$?[DEG]\$?\d+:[DEG]\d+\)|=IF\(G\d+="","",G\d+-E\d+\)'
    )
    seen = set()
    for tab in book:
        for row in tab.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert ours.fullmatch(str(cell.value)), cell.value
                elif isinstance(cell.value, str) and cell.value.startswith("="):
                    assert cell.data_type == "s"
                    assert cell.quotePrefix
                    seen.add(cell.value)
    assert "=cmd|' /C calc'!A0" in seen  # the lot, and a material
    assert "=1+1" in seen  # the role, on the formula's tab
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for name in archive.namelist():
            assert b"<f>cmd" not in archive.read(name)


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@sum", "\t=1", "#N/A"])
def test_no_text_of_a_formula_becomes_a_command_in_xlsx(start: str) -> None:
    formula = Formula.from_rows([{"material": "ethyl butyrate", "grams": 1, "note": start}], start)
    book = load_workbook(io.BytesIO(formula_bytes(formula, ".xlsx")))
    assert all(c.data_type in ("s", "n") for row in book.active.iter_rows() for c in row)


def test_markdown_escapes_pipes_and_html(evil_dossier: Dossier) -> None:
    text = made(evil_dossier, ".md").decode()
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    assert "](javascript" not in text.replace("\\]", "")
    heads = [line for line in text.splitlines() if re.fullmatch(r"(\| (---:?|---) ?)+\|", line)]
    assert heads
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if line in heads:  # every row of a table has as many cells as its head
            columns = line.count("|")
            for row in lines[number:]:
                if not row.startswith("|"):
                    break
                assert len(re.findall(r"(?<!\\)\|", row)) == columns


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a|b", "a\\|b"), ("<b>", "&lt;b&gt;"), ("- x", "\\- x"), ("1. x", "1\\. x"),
        ("1.25 g", "1.25 g"), ("-30 °C", "-30 °C"), ("*x*", "\\*x\\*"),
    ],
)  # fmt: skip
def test_markdown_shows_a_text_as_it_is(text: str, shown: str) -> None:
    assert escaped(text) == shown


def test_control_signs_and_turned_text_go(evil_dossier: Dossier) -> None:
    for suffix in (".html", ".md"):
        text = made(evil_dossier, suffix).decode()
        assert "\x07" not in text
        assert "\u202e" not in text
    assert "\u202e" in EVIL_NAME


# Reproducible


@pytest.mark.parametrize("suffix", FORMATS)
def test_same_input_same_bytes(pear: Assessment, pear_dossier: Dossier, suffix: str) -> None:
    again = gather(pear, DAY, lot="PC-014")
    first = papers_bytes(make_papers(pear_dossier, PAPERS), pear_dossier, suffix)
    assert papers_bytes(make_papers(again, PAPERS), again, suffix) == first


def test_command_makes_the_same_bytes_in_two_processes(tmp_path: Path) -> None:
    made_twice = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.xlsx"
        subprocess.run(
            [sys.executable, "-m", "blendwright", "report", str(PEAR), "-o", str(out)],
            check=True,
            capture_output=True,
            env={"PYTHONPATH": ":".join(sys.path), "PYTHONHASHSEED": seed,
                 "SOURCE_DATE_EPOCH": "1764028800", "PATH": "/usr/bin", "HOME": str(tmp_path)},
        )  # fmt: skip
        made_twice.append(out.read_bytes())
    assert made_twice[0] == made_twice[1]
    with zipfile.ZipFile(io.BytesIO(made_twice[0])) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(2025, 11, 25, 0, 0, 0)}
        assert b"2025-11-25T00:00:00Z" in archive.read("docProps/core.xml")


def test_pictures_are_in_the_html_and_their_absence_is_said(
    pear_dossier: Dossier, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_them = papers_bytes(make_papers(pear_dossier, ["technical"]), pear_dossier, ".html")
    images = [a for t, a in Page(with_them.decode()).tags if t == "img"]
    assert [str(a["src"])[:26] for a in images] == ["data:image/svg+xml;base64,"] * 2
    assert all(a["alt"] for a in images)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    without = papers_bytes(make_papers(pear_dossier, ["technical"]), pear_dossier, ".html").decode()
    assert "<img" not in without
    assert without.count("No pictures:") == 1


# Round trips


def rows_of(formula: Formula) -> list[object]:
    return [dataclasses.replace(row, line=None) for row in formula.rows]


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.csv")), ids=lambda p: p.stem)
@pytest.mark.parametrize("suffix", [".csv", ".tsv", ".xlsx", ".json"])
def test_formula_to_a_file_and_back(example: Path, suffix: str, tmp_path: Path) -> None:
    formula = read_formula(example)
    write_formula(formula, tmp_path / f"f{suffix}")
    back = read_formula(tmp_path / f"f{suffix}")
    assert (back.name, back.batch_g, rows_of(back)) == (
        formula.name, formula.batch_g, rows_of(formula),
    )  # fmt: skip
    assert formula_sha256(back) == formula_sha256(formula)


@pytest.mark.parametrize("text", ["=cmd|' /C calc'!A0", "'=x", "''+y", "@z", "-carvone", "'tis"])
@pytest.mark.parametrize("suffix", [".csv", ".tsv", ".xlsx", ".json"])
def test_texts_like_commands_come_back_as_they_were(text: str, suffix: str) -> None:
    row = {"material": text, "grams": 0.1 + 0.2, "note": f"{text}, and more"}
    formula = Formula.from_rows([row], "f")
    content = formula_bytes(formula, suffix)
    assert rows_of(read_formula_bytes(content, f"f{suffix}")) == rows_of(formula)
    if suffix == ".csv":
        cells = [c for row in csv.reader(io.StringIO(content.decode())) for c in row]
        assert not any(c.startswith(("=", "+", "-", "@")) for c in cells)


@pytest.mark.parametrize("suffix", [".xlsx", ".json"])
def test_a_report_reads_back_as_its_formula(pear_dossier: Dossier, suffix: str) -> None:
    formula = pear_dossier.assessment.weighing.formula
    back = read_formula_bytes(made(pear_dossier, suffix), f"report{suffix}")
    assert (back.name, rows_of(back)) == (formula.name, rows_of(formula))


def test_an_assessment_is_not_taken_for_a_formula(pear: Assessment) -> None:
    with pytest.raises(FormulaError, match="strengths"):
        read_formula_bytes(json.dumps(pear.to_dict()).encode(), "a.json")


def test_hash_is_of_what_is_weighed_not_of_how_it_is_written() -> None:
    one = read_formula_bytes(
        b"# name A\n# batch 50 g\nmaterial,grams,strength_pct\nlinalool,1.10,10\nPG,q.s.,\n",
        "a.csv",
    )
    same = read_formula_bytes(
        b"# batch 0.05 kg\nnote;strength_pct;grams;material\n;;to weight;PG\n"
        b"x;10 %;1100 mg;Linalool",
        "b.csv",
    )
    other = read_formula_bytes(b"# batch 50 g\nmaterial,grams\nlinalool,1.1\nPG,q.s.\n", "c.csv")
    assert formula_sha256(one) == formula_sha256(same)
    assert formula_sha256(one) != formula_sha256(other)  # undiluted


# Data sheet


def test_data_sheet_names_every_property_once_and_its_standing(pear_dossier: Dossier) -> None:
    table = sheet(pear_dossier, "data-sheet").table("section 9")
    assert [row[0].text for row in table.rows] == [p.name for p in SECTION_9]
    for name, value, standing, _ in table.rows:
        assert standing.text in (ESTIMATED, MEASURED, NOT_DETERMINED)
        assert bool(value.text) == (standing.text != NOT_DETERMINED), name.text


def test_no_number_without_a_standing(fifteen_dossier: Dossier) -> None:
    dossier = dataclasses.replace(
        fifteen_dossier, measured=(parse_measured("density=1.02 g/mL"), parse_measured("pH=4.1"))
    )
    found = {r[0].text: r for r in sheet(dossier, "data-sheet").table("section 9").rows}
    for _, value, standing, _ in found.values():
        if re.search(r"\d", value.text):
            assert standing.text in (ESTIMATED, MEASURED)
    assert [found["density"][i].text for i in (1, 2)] == ["1.02 g/mL", MEASURED]
    assert [found["pH"][i].text for i in (1, 2)] == ["4.1", MEASURED]


@pytest.mark.parametrize(
    "name",
    ["pH", "auto-ignition temperature", "decomposition temperature", "kinematic viscosity",
     "colour", "odour", "melting point", "partition coefficient"],
)  # fmt: skip
def test_what_nobody_knows_stays_not_determined(pear_dossier: Dossier, name: str) -> None:
    rows = {r[0].text: r for r in sheet(pear_dossier, "data-sheet").table("section 9").rows}
    assert (rows[name][1].text, rows[name][2].text) == ("", NOT_DETERMINED)


def test_unknown_estimates_are_not_determined(tmp_path: Path) -> None:
    """With a material of which only the formula is known nothing of the vapour can be told."""
    own = tmp_path / "own.csv"
    own.write_text(
        "material,property,value\nhouse base,density,0.98\nhouse base,formula,C9H12O2\n",
        encoding="utf-8",
    )
    catalogue = read_own_materials(own, default_catalogue())
    formula = Formula.from_rows(
        [{"material": "house base", "grams": 5}, {"material": "PG", "grams": 5}]
    )
    dossier = gather(assess(formula, catalogue=catalogue), DAY, catalogue=catalogue)
    rows = {r[0].text: r for r in sheet(dossier, "data-sheet").table("section 9").rows}
    for name in ("flash point", "vapour pressure", "flammability"):
        assert (rows[name][1].text, rows[name][2].text) == ("", NOT_DETERMINED)
    assert "unknown" in " ".join(label(dossier).fire)


def test_a_measured_flash_point_takes_the_place_of_the_estimate(pear: Assessment) -> None:
    dossier = gather(pear, DAY, measured=[parse_measured("flash point=41 °C, ISO 2719")])
    rows = {r[0].text: r for r in sheet(dossier, "data-sheet").table("section 9").rows}
    assert [c.text for c in rows["flash point"][1:3]] == ["41 °C, ISO 2719", MEASURED]
    assert rows["flammability"][1].text == "flammable liquid, treat as GHS category 2"
    assert rows["flammability"][2].text == ESTIMATED  # more cautious than the measured category 3
    assert "falls in GHS category 3 (23 to 60 °C)" in rows["flammability"][3].text
    text = made(dossier, ".md", "data-sheet").decode()
    assert "18 °C" not in text
    assert "qualified person must complete it" in text


@pytest.mark.parametrize(
    ("measured", "words", "standing", "where"),
    [
        ("15 °C", "flammable liquid, treat as GHS category 2", MEASURED, "in GHS category 2"),
        ("41 °C", "flammable liquid, treat as GHS category 2", ESTIMATED, "in GHS category 3"),
        ("101 °C", "flammable liquid, treat as GHS category 2", ESTIMATED, "above every category"),
    ],
)
def test_the_sheet_tells_whose_range_the_measurement_falls_in_and_leads_with_the_graver(
    pear: Assessment, measured: str, words: str, standing: str, where: str
) -> None:
    dossier = gather(pear, DAY, measured=[parse_measured(f"flash point={measured}")])
    rows = {r[0].text: r for r in sheet(dossier, "data-sheet").table("section 9").rows}
    assert [c.text for c in rows["flammability"][1:3]] == [words, standing]
    assert where in rows["flammability"][3].text
    assert label(dossier).fire[0].startswith("Treat as GHS category 2 (")


def test_a_measurement_that_is_no_plain_number_sets_no_class(pear: Assessment) -> None:
    dossier = gather(pear, DAY, measured=[parse_measured("flash point=<23 °C")])
    rows = {r[0].text: r for r in sheet(dossier, "data-sheet").table("section 9").rows}
    assert rows["flammability"][2].text == NOT_DETERMINED
    assert "Class: to be set from the measured value" in label(dossier).fire


def test_section_14_asks_and_answers_nothing(pear_dossier: Dossier) -> None:
    table = sheet(pear_dossier, "data-sheet").table("section 14")
    assert all(row[0].text.endswith("?") and not row[1].text for row in table.rows)
    flash = pear_dossier.assessment.estimates["flash_point_closed_cup"]
    told = f"Flash point, estimated: {to_celsius(flash.interval()[0]):.0f} °C ("
    assert told in made(pear_dossier, ".md", "data-sheet").decode()


@pytest.mark.parametrize(
    "text",
    ["flash point=41", "flash point", "taste=sweet", "density=1.01", "vapour pressure=3 bars"],
)
def test_a_measurement_without_name_or_unit_is_refused(text: str) -> None:
    with pytest.raises(MeasuredError, match=r"--measured"):
        parse_measured(text)


# Label


def test_label_says_estimate_and_keeps_it_from_flames(pear_dossier: Dossier) -> None:
    made_label = label(pear_dossier, copies=24, bottle_mL=30.0)
    assert made_label.fire[0] == "Treat as GHS category 2 (estimate: too near to call)"
    assert "flames" in made_label.fire[-1]
    density = pear_dossier.assessment.estimates["density"].in_display_units().interval()[0]
    assert dict(made_label.lines)["mass"].number == pytest.approx(30.0 * density, rel=1e-12)
    assert "15 to 25 °C" in made_label.store
    page = Page(made(pear_dossier, ".html", "label", wish=LabelWish(copies=24)).decode())
    assert sum(a.get("class") == "label" for _, a in page.tags) == 24
    assert not {"img", "svg"} & {tag for tag, _ in page.tags}  # no pictogram
    assert made_label.mark == "Incomplete label, estimate only"


@pytest.mark.parametrize(
    ("measured", "has_flame", "mark"),
    [("19 °C", True, ""), ("41 °C", True, ""), ("<23 °C", False, "no plain number")],
)
def test_the_flame_stands_only_on_a_label_with_a_measured_flash_point(
    pear: Assessment, measured: str, has_flame: bool, mark: str
) -> None:
    dossier = gather(pear, DAY, measured=[parse_measured(f"flash point={measured}")])
    found = label(dossier, maker="Orchard Lane Flavours, 1 Example Road")
    assert found.has_flame == has_flame
    assert mark in found.mark
    assert bool(found.mark) == (not has_flame)
    assert found.fire[-1].startswith("P210 Keep away from heat")
    assert found.maker == "Maker: Orchard Lane Flavours, 1 Example Road"
    page = Page(made(dossier, ".html", "label").decode())
    assert [a["alt"] for tag, a in page.tags if tag == "img"] == [
        "GHS pictogram: flame"
    ] * has_flame


def test_a_stated_category_alone_draws_no_flame(pear_dossier: Dossier) -> None:
    found = label(pear_dossier, measured_category="2")
    assert not found.has_flame
    assert found.mark == "Incomplete label: no measured flash point"


def test_a_blend_above_every_category_that_was_measured_has_no_flame() -> None:
    found = assess(Formula.from_rows([{"material": "PG", "grams": 9}, {"material": "vanillin",
                                                                       "grams": 1}]))  # fmt: skip
    dossier = gather(found, DAY, measured=[parse_measured("flash point=101 °C")])
    assert not label(dossier).has_flame
    assert "P210" not in " ".join(label(dossier).fire)


def test_a_label_fits_a_bottle_of_ten_millilitres(pear: Assessment, pear_dossier: Dossier) -> None:
    """25 x 50 mm, with and without the flame, in letters of 1.2 mm and more."""
    flash = parse_measured("flash point=19 °C, ISO 2719")
    complete = gather(pear, DAY, measured=[flash], lot="PC-014")
    size = parse_size_mm("25x50")
    for dossier in (pear_dossier, complete):
        found = label(dossier, size_mm=size, maker="Orchard Lane Flavours, 1 Example Road, Town")
        assert found.text_pt * 25.4 / 72.0 >= 1.2 - 0.001


def test_what_does_not_fit_a_label_is_refused_rather_than_cut_off(pear_dossier: Dossier) -> None:
    with pytest.raises(LabelError, match="choose a larger one"):
        _ = label(pear_dossier, size_mm=(50.0, 25.0), maker="word " * 80).text_pt


@pytest.mark.parametrize(
    ("category", "signal", "code"),
    [("1", "DANGER", "H224"), ("2", "DANGER", "H225"), ("3", "WARNING", "H226"),
     ("4", "WARNING", "H227")],
)  # fmt: skip
def test_a_stated_category_brings_its_words(
    pear_dossier: Dossier, category: str, signal: str, code: str
) -> None:
    """They lead where they are as cautious as the model, which has category 2; else the model."""
    first, second, *_ = label(pear_dossier, measured_category=category).fire
    stated = f"{signal} {code} {STATEMENTS[code]}"
    if category in ("1", "2"):
        assert first == stated
    else:
        assert first == f"Treat as GHS category 2 (model; measured: category {category})"
        assert second == f"Measured: {stated}"


def test_without_a_stated_category_no_signal_word(pear_dossier: Dossier) -> None:
    words = " ".join(label(pear_dossier).fire)
    assert not re.search(r"H22\d|DANGER|WARNING", words)


def test_a_category_that_contradicts_the_measured_flash_point_is_refused(pear: Assessment) -> None:
    dossier = gather(pear, DAY, measured=[parse_measured("flash point=41 °C")])
    with pytest.raises(LabelError, match="category 3, not 4"):
        label(dossier, measured_category="4")
    assert "41 °C" in " ".join(label(dossier, measured_category="3").fire)


# Printing

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


def pages(html: bytes, size: str, folder: Path) -> int:
    import pypdf

    assert CHROMIUM is not None
    sized = html.replace(b"</head>", f"<style>@page {{ size: {size}; }}</style></head>".encode())
    source, out = folder / "paper.html", folder / "paper.pdf"
    source.write_bytes(sized)
    subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={out}", source.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return len(pypdf.PdfReader(out).pages)


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium to print with: apt-get install chromium")
@pytest.mark.parametrize("size", ["A4", "letter"])
@pytest.mark.parametrize("which", ["pear_dossier", "fifteen_dossier"])
def test_a_bench_sheet_of_fifteen_rows_is_one_page(
    which: str, size: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    dossier: Dossier = request.getfixturevalue(which)
    assert len(dossier.steps) >= 15
    assert pages(made(dossier, ".html", "bench"), size, tmp_path) == 1


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium to print with: apt-get install chromium")
def test_twenty_four_labels_fit_an_a4_sheet(pear_dossier: Dossier, tmp_path: Path) -> None:
    html = made(pear_dossier, ".html", "label", wish=LabelWish(copies=24))
    assert pages(html, "A4", tmp_path) == 1


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium to print with: apt-get install chromium")
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_the_papers_of_one_bottle_batch_fit_four_pages(
    pear: Assessment, size: str, tmp_path: Path
) -> None:
    """Bench, technical and data sheet, and a row of labels, of the example."""
    dossier = gather(pear, DAY, measured=[parse_measured("flash point=19 °C")], lot="PC-014")
    wish = LabelWish(copies=3, bottle_mL=10.0)
    assert pages(made(dossier, ".html", *PAPERS, wish=wish), size, tmp_path) <= 4


# The command


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["-o", "x.pdf"], ".html"),
        (["-o", "x.html", "--paper", "poster"], "bench, technical"),
        (["-o", "x.html", "--date", "25.11.2026"], "2026-11-25"),
        (["-o", "x.html", "--label-mm", "wide"], "64x34"),
        (["-o", "x.html", "--measured-category", "9"], "GHS category"),
        (["-o", "x.html", "--measured", "pH"], "flash point=41"),
        (["-o", "/nowhere/x.html"], "written"),
    ],
)
def test_what_is_asked_wrongly_is_said(arguments: list[str], word: str) -> None:
    row = ["--row", "ethyl butyrate=1", "--row", "PG=9"]
    result = CliRunner().invoke(app, ["report", *row, *arguments])
    assert result.exit_code == 2
    assert word in result.output


def test_the_command_writes_what_is_asked_for_and_spares_the_formula(tmp_path: Path) -> None:
    own = tmp_path / "f.json"
    own.write_bytes(b'{"schema": "blendwright/formula/1", "name": "F", "batch_g": null, '
                    b'"rows": [{"material": "PG", "grams": 9}, '
                    b'{"material": "ethyl butyrate", "grams": 1}]}')  # fmt: skip
    out = tmp_path / "f.md"
    run = CliRunner().invoke(app, ["report", str(own), "-o", str(out), "--paper", "data-sheet"])
    assert run.exit_code == 0, run.output
    text = out.read_text(encoding="utf-8")
    assert text.startswith("# F")
    assert "Section 9" in text
    assert "Bench sheet" not in text
    assert CliRunner().invoke(app, ["report", str(own), "-o", str(own)]).exit_code == 2
    assert read_formula(own).name == "F"
