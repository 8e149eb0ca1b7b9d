"""What people write above a column is what is read, in three languages, or the column is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from blendwright import Formula, FormulaError
from blendwright.app.web.texts import text as page_text
from blendwright.formula.columns import Columns
from blendwright.formula.headings import (
    AMOUNT_WORDS,
    AMOUNTS,
    SHARES,
    UNITS,
    WORDS,
    heading_of,
)
from blendwright.formula.notices import UNUSED

DOCS = Path("docs/formula-files.md")
EVERY_WORD = [(column, word) for column, words in WORDS.items() for word in words] + [
    (column, word) for (column, _), words in UNITS.items() for word in words
]
EVERY_AMOUNT = [
    (column, f"{word}{left}{unit}{right}")
    for kinds, words in AMOUNT_WORDS.items()
    for word in words
    for (column, _), units in UNITS.items()
    if column in kinds
    for unit in units
    for left, right in ((" (", ")"), (" [", "]"), (", ", ""), (" ", ""))
]


def umlauts_written_out(word: str) -> str:
    for umlaut, letters in {"ä": "ae", "ö": "oe", "ü": "ue"}.items():
        word = word.replace(umlaut, letters)
    return word


@pytest.mark.parametrize("case", [str, str.upper, str.lower, str.title])
@pytest.mark.parametrize("spelt", [str, umlauts_written_out])
def test_case_blanks_and_umlauts_do_not_matter(
    case: Callable[[str], str], spelt: Callable[[str], str]
) -> None:
    """Every heading that the lists can make, not a sample: a draw of them once left a fault out."""
    misread = []
    for column, text in EVERY_WORD + EVERY_AMOUNT:
        cased = str if "µ" in text or "ß" in text else case
        for blank in ("", " ", "\u00a0 "):
            found = heading_of(f"{blank}{cased(spelt(text))}{blank}")
            if found is None or found.column != column:
                misread.append((column, text, found))
    assert not misread


@pytest.mark.parametrize(
    ("heading", "column", "unit"),
    [
        ("Ingredient", "material", ""),
        ("Ingredient(s)", "material", ""),
        ("Matière(s) première(s)", "material", ""),
        ("Weight (g)", "grams", "g"),
        ("Menge [mg]", "grams", "mg"),
        ("Poids, kg", "grams", "kg"),
        ("Quantity in oz", "grams", "oz"),
        ("Poids en g", "grams", "g"),
        ("mass_g", "grams", "g"),
        ("mL", "mL", "mL"),
        ("Volume (µL)", "mL", "µL"),
        ("Tropfen", "drops", "drops"),
        ("%", "percent", "%"),
        ("Gew.-%", "percent", "%"),
        ("Anteil (%)", "percent", "%"),
        ("% (w/w)", "percent", "%"),
        ("Teile", "parts", "parts"),
        ("Dilution", "strength_pct", ""),
        ("Strength, %", "strength_pct", ""),
        ("Verdünnung (%)", "strength_pct", ""),
        ("Strength (% vol)", "strength_pct", "% vol"),
        ("Solvent", "carrier", ""),
        ("in", "carrier", ""),
        ("Lösungsmittel", "carrier", ""),
        ("Loesungsmittel", "carrier", ""),
        ("solvant", "carrier", ""),
        ("CAS-Nr.", "cas", ""),
        ("N° CAS", "cas", ""),
        ("Bemerkungen", "note", ""),
    ],
)
def test_headings_of_bench_books(heading: str, column: str, unit: str) -> None:
    found = heading_of(heading)
    assert found is not None
    assert (found.column, found.unit) == (column, unit)


@pytest.mark.parametrize(
    ("key", "column"),
    [
        ("grid.material", "material"),
        ("grid.strength_pct", "strength_pct"),
        ("grid.carrier", "carrier"),
        ("grid.share", "percent"),
        ("grid.grams", "grams"),
        ("grid.grams_head", "grams"),
        ("grid.volume", "mL"),
        ("grid.volume_head", "mL"),
        ("volumes.drops", "drops"),
    ],
)
def test_the_pages_own_headings_are_read_back(key: str, column: str) -> None:
    found = heading_of(page_text(key))
    assert found is not None, page_text(key)
    assert found.column == column, page_text(key)


def test_a_word_means_one_column() -> None:
    meanings: dict[str, set[str]] = {}
    for column, words in WORDS.items():
        for word in words:
            meanings.setdefault(word.casefold(), set()).add(column)
    for (column, unit), words in UNITS.items():
        for word in words:
            meanings.setdefault(word.casefold(), set()).add(column + unit)
    assert [word for word, found in meanings.items() if len(found) > 1] == []


@pytest.mark.parametrize("heading", ["Supplier", "Price (EUR)", "Volume %", "mol %", "Lot", "No."])
def test_other_headings_are_not_guessed_at(heading: str) -> None:
    assert heading_of(heading) is None
    row = {"material": "vanillin", "grams": 1, heading: "7"}
    assert [c.name for c in Formula.from_rows([row]).unused_columns] == [heading]


@pytest.mark.parametrize("heading", ["Dilution in ethanol", "Solvent type", "% Verdünnung in PG"])
def test_a_heading_that_speaks_of_strengths_is_asked_about(heading: str) -> None:
    row = {"material": "vanillin", "grams": 1, heading: "10"}
    with pytest.raises(FormulaError, match="speaks of a strength or a carrier"):
        Formula.from_rows([row])
    row[heading] = ""
    assert Formula.from_rows([row]).notices == ()


def test_the_documented_headings_are_read() -> None:
    table = DOCS.read_text().partition("| column | some of its headings |")[2]
    read = 0
    for line in table.partition("\n\n")[0].splitlines()[2:]:
        columns, headings = (cell.strip() for cell in line.strip("|").split("|"))
        ours = [name.strip("` ").replace("%", "percent") for name in columns.split(",")]
        for word in headings.replace(";", ",").split(","):
            found = heading_of(word.strip())
            assert found is not None, word
            assert found.column in ours, word
            read += 1
    assert read > 50


def test_every_code_of_a_notice_is_documented() -> None:
    source = "".join(file.read_text() for file in Path("src/blendwright").rglob("*.py"))
    codes = set(re.findall(r'\bNotice\(\s*"([A-Z-]+)"', source)) | {UNUSED}
    assert len(codes) > 8
    told = Path("docs/json.md").read_text()
    assert [code for code in codes if f"`{code}`" not in told] == []


def test_every_amount_column_has_a_bare_unit_as_its_heading() -> None:
    named = {column for column, _ in UNITS}
    assert named == {*AMOUNTS, *SHARES}


@pytest.mark.parametrize("header", [["Item", "Ingredient", "g"], ["Ingredient", "Item", "g"]])
def test_item_numbers_the_rows_where_another_column_names_the_material(header: list[str]) -> None:
    columns = Columns.of(header)
    material = columns.heading("material")
    assert material is not None
    assert material.written == "Ingredient"
    assert [name for _, name in columns.unused] == ["Item"]


def test_item_is_the_material_where_nothing_else_is() -> None:
    made = Formula.from_rows([{"Item": "vanillin", "Qty (g)": "1"}, {"Item": "PG", "Qty (g)": "9"}])
    assert [row.material for row in made.rows] == ["vanillin", "PG"]
