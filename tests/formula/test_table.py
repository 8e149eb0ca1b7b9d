"""Any table that we can write reads back as the same formula, whatever its headings are called, and
what of a table isn't used is named."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from blendwright import Formula, FormulaError, read_formula
from blendwright.catalogue import Catalogue
from blendwright.formula import Amount, Row, Strength, UnusedColumn
from blendwright.formula.headings import AMOUNT_WORDS, UNITS, WORDS, heading_of, is_weighty
from blendwright.formula.numbers import choices, number_text
from blendwright.formula.reading import read_formula_bytes
from blendwright.formula.row import EMPTY
from blendwright.formula.totals import WORDS as TOTALS
from blendwright.formula.totals import is_total_word
from blendwright.formula.writing import formula_table, table_text, table_workbook
from blendwright.mixture.weighing import weigh

Write = Callable[[str, bytes | str], Path]
Table = list[list[str | float]]

letters = st.text(
    st.characters(categories=["L", "N", "P", "S", "Zs"], exclude_characters="#"), max_size=12
).map(str.strip)
names = letters.filter(lambda t: t and not is_total_word(t) and not t.isspace())
amounts = st.builds(
    Amount, st.floats(1e-6, 1e6), st.sampled_from(["g", "g", "mL", "drops"])
) | st.just(Amount(0.0, "to weight"))
strengths = st.none() | st.builds(Strength, st.floats(1e-3, 100.0), st.just("mass"))
strengths |= st.builds(
    Strength, st.floats(1e-3, 100.0), st.sampled_from(["mass", "vol"]), st.just(True)
)
rows = st.builds(
    Row, names, amounts, strengths, letters.filter(lambda t: t not in EMPTY), letters,
    note=letters,
)  # fmt: skip
formulas = st.builds(
    Formula, st.just("trial"), st.lists(rows, min_size=1, max_size=6).map(tuple),
    st.none() | st.floats(1e-3, 1e6),
)  # fmt: skip
headings = letters.filter(
    lambda t: t and heading_of(t) is None and not is_weighty(t) and "\x1f" not in t
)
extras = st.dictionaries(headings, st.lists(letters, min_size=6, max_size=6), max_size=3)

GRAMS = [
    form.format(word, unit)
    for kinds, words in AMOUNT_WORDS.items()
    if "grams" in kinds
    for word in words
    for unit in UNITS["grams", "g"]
    for form in ("{} ({})", "{} [{}]", "{}, {}")
]
SYNONYMS: dict[str, list[str]] = {
    **{column: [column, *words] for column, words in WORDS.items()},
    "grams": [*GRAMS, *UNITS["grams", "g"], "grams"],
    "mL": [*UNITS["mL", "mL"], "Volume (mL)", "Volumen [mL]"],
    "drops": list(UNITS["drops", "drops"]),
}
SUFFIXES = {".csv": ",", ".tsv": "\t", ";": ";", ".xlsx": ""}


@st.composite
def renamed(draw: st.DrawFn) -> tuple[Formula, Table, dict[str, int]]:
    """A formula, its table with other headings, columns in any order and more of them, and how many
    rows hold a value in each column more."""
    formula = draw(formulas)
    *comments, header = formula_table(formula)[: -len(formula.rows)]
    lines = formula_table(formula)[-len(formula.rows) :]
    more = draw(extras)
    columns = {
        draw(st.sampled_from(SYNONYMS[str(name)])): [line[n] for line in lines]
        for n, name in enumerate(header)
    }
    columns |= {name: list(cells[: len(lines)]) for name, cells in more.items()}
    order = draw(st.permutations(list(columns)))
    table: Table = [*comments, list(order)]
    table += [[columns[name][n] for name in order] for n in range(len(lines))]
    used = {name: sum(bool(c) for c in cells[: len(lines)]) for name, cells in more.items()}
    return formula, table, {name: count for name, count in used.items() if count}


def read_as(table: Table, kind: str) -> Formula:
    if kind == ".xlsx":
        return read_formula_bytes(table_workbook(table), "trial.xlsx")
    return read_formula_bytes(table_text(table, SUFFIXES[kind]).encode(), "trial.csv")


def without_lines(formula: Formula) -> list[Row]:
    return [replace(row, line=None) for row in formula.rows]


@settings(max_examples=150)
@given(renamed(), st.sampled_from(list(SUFFIXES)))
def test_a_table_with_other_headings_reads_back_alike_and_names_what_is_not_used(
    made: tuple[Formula, Table, dict[str, int]], kind: str
) -> None:
    formula, table, unused = made
    if kind == ";":  # where semicolons part cells, lone points may group thousands
        table = [[_unmistakable(cell) for cell in line] for line in table]
    found = read_as(table, kind)
    assert without_lines(found) == without_lines(formula)
    assert found.batch_g == formula.batch_g
    assert {column.name: column.cells for column in found.unused_columns} == unused


def _unmistakable(cell: str | float) -> str | float:
    return number_text(cell) if isinstance(cell, float) else cell


@given(
    st.lists(st.tuples(st.sampled_from(["vanillin", "PG", "linalool"]), st.floats(1e-3, 1e3)),
             min_size=1, max_size=6),
    st.integers(0, 5),
)  # fmt: skip
def test_a_table_with_decimal_commas_reads_alike_or_is_asked_about(
    grams: list[tuple[str, float]], digits: int
) -> None:
    texts = [f"{value:.{digits}f}".replace(".", ",") for _, value in grams]
    lines = [f"{name};{text}" for (name, _), text in zip(grams, texts, strict=True)]
    content = "\n".join(["Zutat;Menge (g)", *lines]).encode()
    expected = [float(text.replace(",", ".")) for text in texts]
    if all(choices(text) for text in texts):  # not one of them settles it
        with pytest.raises(FormulaError, match="can be") as asked:
            read_formula_bytes(content, "x.csv")
        assert digits == 3
        assert len(asked.value.problems) == len(texts)
    else:
        found = read_formula_bytes(content, "x.csv")
        assert [row.amount.number for row in found.rows] == expected


@pytest.mark.parametrize("unit", ["mg", "kg", "oz", "lb", "µg"])
@given(grams=st.lists(st.floats(1e-3, 1e3), min_size=1, max_size=4))
def test_a_heading_in_another_unit_weighs_the_same(unit: str, grams: list[float]) -> None:
    per_g = {"mg": 1e3, "kg": 1e-3, "oz": 1 / 28.349523125, "lb": 1 / 453.59237, "µg": 1e6}[unit]
    rows = [{"Zutat": "PG", f"Gewicht [{unit}]": value * per_g} for value in grams]
    found = Formula.from_rows(rows)
    assert [row.amount.number for row in found.rows] == pytest.approx(grams)


# A formula as seen: a dilution under other words than ours


@pytest.mark.parametrize(
    "header",
    ["Ingredient,Weight (g),Dilution,Solvent", "Material,g,strength %,in",
     "Zutat,Menge [g],Verdünnung,Lösungsmittel", "Ingrédient,Poids (g),Dilution (%),Solvant",
     "component,qty,dil.,carrier"],
)  # fmt: skip
def test_a_dilution_is_a_dilution_whatever_the_columns_are_called(
    write: Write, catalogue: Catalogue, header: str
) -> None:
    formula = read_formula(write("f.csv", f"{header}\nhexanal,10,10 %,ethanol\nPG,90,,\n"))
    blend = weigh(formula, catalogue).composition
    grams = dict(zip(blend.names, blend.mass_kg * 1e3, strict=True))
    assert grams == pytest.approx({"hexanal": 1.0, "ethanol": 9.0, "propylene glycol": 90.0})
    assert formula.unused_columns == ()


def test_a_dilution_may_name_its_carrier_in_the_cell(catalogue: Catalogue) -> None:
    row = {"material": "hexanal", "grams": 10, "dilution": "10 % in ethanol"}
    assert Formula.from_rows([row]).rows[0].carrier == "ethanol"
    with pytest.raises(FormulaError, match="two carriers"):
        Formula.from_rows([{**row, "solvent": "PG"}])


# Shares

shares = st.lists(st.floats(0.1, 50.0), min_size=2, max_size=6)


@given(shares, st.sampled_from(["parts", "Teile", "mass fraction"]), st.floats(1.0, 1e4))
def test_parts_make_up_the_batch_in_their_proportions(
    parts: list[float], heading: str, batch_g: float
) -> None:
    rows = [{"material": "PG", heading: part} for part in parts]
    found = Formula.from_rows(rows, batch_g=batch_g)
    grams = [row.amount.number for row in found.rows]
    assert grams == pytest.approx([part / sum(parts) * batch_g for part in parts])
    assert [notice.code for notice in found.notices] == ["AMOUNTS-BY-SHARE"]


@given(shares, st.sampled_from(["%", "wt%", "Anteil (%)", "pourcentage"]))
def test_per_cent_without_a_batch_size_is_of_100_g_and_says_so(
    grams: list[float], heading: str
) -> None:
    pct = [100.0 * value / sum(grams) for value in grams]
    found = Formula.from_rows([{"material": "PG", heading: value} for value in pct])
    assert [row.amount.number for row in found.rows] == pytest.approx(pct)
    (notice,) = found.notices
    assert (notice.code, notice.severity) == ("AMOUNTS-BY-SHARE", "info")
    assert "100 g, as no batch size is given" in notice.message


def test_per_cents_that_do_not_add_up_are_said(write: Write) -> None:
    text = "# batch 50 g\ningredient,%\nvanillin,2\nPG,90\n"
    found = read_formula(write("f.csv", text))
    assert [row.amount.number for row in found.rows] == [1.0, 45.0]
    assert found.notices[0].severity == "caution"
    assert "add up to 92 %" in found.notices[0].message


def test_a_row_may_fill_up_the_per_cents(write: Write, catalogue: Catalogue) -> None:
    text = "# batch 50 g\ningredient,%\nvanillin,2\nPG,q.s.\n"
    found = weigh(read_formula(write("f.csv", text)), catalogue)
    assert [row.grams for row in found.rows] == pytest.approx([1.0, 49.0])


@given(shares)
def test_shares_beside_grams_that_agree_are_checked_and_the_grams_count(
    grams: list[float],
) -> None:
    total = sum(grams)
    rows = [
        {"material": "PG", "grams": g, "%": f"{100.0 * g / total:.1f}", "parts": ""} for g in grams
    ]
    found = Formula.from_rows(rows)
    assert [row.amount.number for row in found.rows] == grams
    assert [notice.code for notice in found.notices] == ["SHARES-CHECKED"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([("hexanal", "5", "10"), ("PG", "45", "90")], None),
        ([("hexanal", "5", "12"), ("PG", "45", "88")], "is 10 % of the formula by the amounts"),
        ([("hexanal", "5", "10"), ("PG", "45", "")], "stands in 1 of 2 rows"),
        ([("hexanal", "5", "100"), ("PG", "45", "100")], "if '%' is the strength of dilutions"),
        ([("hexanal", "5", "10"), ("PG", "q.s.", "90")], "not every row's grams are known"),
        ([("hexanal", "5", "lots"), ("PG", "45", "90")], "'lots' is not a number"),
    ],
)
def test_per_cent_beside_grams_is_checked_or_asked_about(
    rows: list[tuple[str, str, str]], words: str | None
) -> None:
    cells = [dict(zip(("material", "grams", "%"), row, strict=True)) for row in rows]
    if words is None:
        assert Formula.from_rows(cells).notices[0].code == "SHARES-CHECKED"
    else:
        with pytest.raises(FormulaError, match=words):
            Formula.from_rows(cells)


# Total rows


@given(
    st.lists(st.floats(0.01, 1e3), min_size=1, max_size=8),
    st.sampled_from(sorted(TOTALS)),
    st.integers(0, 4),
    st.sampled_from([0, 0, 1, -1, 5]),
)
def test_a_total_row_is_no_material_and_its_number_is_checked(
    grams: list[float], word: str, digits: int, off: int
) -> None:
    texts = [f"{value:.{digits}f}" for value in grams]
    total = sum(map(float, texts)) + off * 10.0**-digits
    rows = [{"material": "PG", "grams": text} for text in texts]
    rows.append({"material": word, "grams": f"{total:.{digits}f}"})
    if total < 0.0:
        return
    found = Formula.from_rows(rows)
    assert [row.amount.number for row in found.rows] == [float(text) for text in texts]
    told = [notice for notice in found.notices if notice.code == "TOTAL-ROW"]
    assert [notice.severity for notice in told] == (["caution"] if off else [])


def test_a_last_row_without_a_name_is_a_total_where_it_adds_up(write: Write) -> None:
    text = "material,grams,note\nvanillin,1.5,x\nPG,48.5,\n,50.0,\n"
    assert len(read_formula(write("f.csv", text)).rows) == 2
    with pytest.raises(FormulaError, match="no material is named"):
        read_formula(write("g.csv", text.replace("50.0", "60.0")))


def test_a_total_gives_the_batch_of_a_row_made_up_to_weight(
    write: Write, catalogue: Catalogue
) -> None:
    text = "Zutat;Menge [g]\nVanillin;1,5\nPG;q.s.\nSumme;50\n"
    found = read_formula(write("f.csv", text))
    assert weigh(found, catalogue).total_g == pytest.approx(50.0)
    assert [notice.code for notice in found.notices] == ["BATCH-FROM-TOTAL"]
    again = read_formula(write("f.csv", text), batch_g=60.0)
    assert again.batch_g == 60.0
    assert "the rows make 60 g" in again.notices[0].message


def test_a_total_in_the_middle_is_asked_about(write: Write) -> None:
    text = "material,grams\nvanillin,1\nTotal,1\nPG,9\n"
    with pytest.raises(FormulaError, match="row 3, column material: this reads like a total"):
        read_formula(write("f.csv", text))


# What else of a file isn't read


def test_lines_above_the_header_and_columns_without_one_are_named(write: Write) -> None:
    text = "Pear base;;\n;;\nZutat;Menge [g];\nVanillin;1,5;Nord\nPG;8,5;\n"
    found = read_formula(write("f.csv", text))
    assert len(found.rows) == 2
    assert [notice.code for notice in found.notices] == ["LINES-ABOVE", "COLUMN-UNUSED"]
    assert "Pear base" in found.notices[0].message
    assert found.unused_columns == (UnusedColumn("column 3 (no heading)", 1),)


def test_a_header_may_call_its_row_numbers_by_a_hash(write: Write) -> None:
    found = read_formula(write("f.csv", "#,Ingredient,g\n1,vanillin,1\n2,PG,9\n"))
    assert [row.material for row in found.rows] == ["vanillin", "PG"]
    assert found.unused_columns == (UnusedColumn("#", 2),)


def test_rows_commented_out_are_counted_and_comments_are_not(write: Write) -> None:
    text = "# pear, green, 3\nmaterial,grams\n# a remark, with a comma\nvanillin,1\n#PG,9\nPG,8\n"
    (notice,) = read_formula(write("f.csv", text)).notices
    assert notice.code == "ROWS-COMMENTED"
    assert notice.message.endswith("as comments: 5.")


def workbook(rows: list[list[object]], formats: dict[str, str], *more: str) -> bytes:
    book = Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    for place, shown in formats.items():
        book.active[place].number_format = shown
    for title in more:
        book.create_sheet(title)["A1"] = "more"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_cell_shown_as_per_cent_is_per_cent(write: Write) -> None:
    cells: list[list[object]] = [["material", "g", "strength"], ["hexanal", 5, 0.1], ["PG", 45]]
    found = read_formula(write("f.xlsx", workbook(cells, {"C2": "0.0%"})))
    assert found.rows[0].strength == Strength(10.0, "mass")
    found = read_formula(write("g.xlsx", workbook(cells, {"C2": '0.0" %"'})))
    assert found.rows[0].strength == Strength(0.1, "mass")  # only words beside the number


def test_a_workbooks_own_numbers_are_never_doubtful(write: Write) -> None:
    cells: list[list[object]] = [["material", "g"], ["vanillin", 1.125], ["linalool", "0,5"]]
    found = read_formula(write("f.xlsx", workbook(cells, {})))
    assert [row.amount.number for row in found.rows] == [1.125, 0.5]


def test_a_calculation_without_its_result_is_not_an_empty_cell(write: Write) -> None:
    cells: list[list[object]] = [["material", "g", "strength"], ["hexanal", 1, "=100/10"]]
    with pytest.raises(FormulaError, match="cell C2 holds a calculation without its result"):
        read_formula(write("f.xlsx", workbook(cells, {})))


def test_other_sheets_of_a_workbook_are_named(write: Write) -> None:
    data = workbook([["material", "g"], ["vanillin", 1]], {}, "base", "costs")
    (notice,) = read_formula(write("f.xlsx", data)).notices
    assert notice.code == "SHEETS-UNREAD"
    assert "'base', 'costs'" in notice.message


def test_amounts_without_a_unit_are_said_to_be_grams(write: Write) -> None:
    found = read_formula(write("f.csv", "Zutat,Menge\nvanillin,250 mg\nPG,9\nwater,2 mL\n"))
    units = [(row.amount.number, row.amount.unit) for row in found.rows]
    assert units == [(0.25, "g"), (9.0, "g"), (2.0, "mL")]
    assert [notice.code for notice in found.notices] == ["UNIT-TAKEN"]
    found = read_formula(write("g.csv", "Zutat,Menge\nvanillin,2 %\nPG,98 %\n"))
    assert [notice.code for notice in found.notices] == ["AMOUNTS-BY-SHARE"]


def test_two_headings_of_one_meaning_are_asked_about_where_it_matters(write: Write) -> None:
    with pytest.raises(FormulaError, match=r"grams is there twice \('Weight \(g\)' and 'Qty'\)"):
        read_formula(write("f.csv", "material,Weight (g),Qty\nvanillin,1,3\n"))
    found = read_formula(write("g.csv", "Name,material,grams\nx,vanillin,1\n"))
    assert found.rows[0].material == "vanillin"
    assert [column.name for column in found.unused_columns] == ["Name"]


def test_problems_call_a_column_as_the_file_does(write: Write) -> None:
    with pytest.raises(FormulaError, match=r"row 2, column Menge \[g\]: 'viel' is not a number"):
        read_formula(write("f.csv", "Zutat,Menge [g]\nvanillin,viel\n"))
