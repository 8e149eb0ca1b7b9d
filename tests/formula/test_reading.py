"""Formula files as people really write them, and every way in which one can be wrong."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook

from blendwright import Formula, FormulaError, read_formula
from blendwright.catalogue import Catalogue
from blendwright.formula import Amount, Strength
from blendwright.mixture.weighing import weigh

Write = Callable[[str, bytes | str], Path]


def workbook(rows: list[list[object]]) -> bytes:
    book = Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def problems(path: Path, catalogue: Catalogue | None = None) -> list[str]:
    def use() -> None:
        formula = read_formula(path)
        if catalogue is not None:
            weigh(formula, catalogue)

    with pytest.raises(FormulaError) as caught:
        use()
    return [str(problem) for problem in caught.value.problems]


PLAIN = Formula.from_rows(
    [{"material": "ethyl butyrate", "grams": 1.6}, {"material": "propylene glycol", "grams": 8.4}]
)


@pytest.mark.parametrize(
    "text",
    [
        "material,grams\nethyl butyrate,1.6\npropylene glycol,8.4\n",
        "material;grams\nethyl butyrate;1,6\npropylene glycol;8,4\n",
        "material\tgrams\r\nethyl butyrate\t1.6 g\r\npropylene glycol\t8400 mg\r\n",
        "\ufeffMaterial, Grams\n\n# a comment\nethyl butyrate, 1.6\n\npropylene glycol, 8.4\n",
        'material,grams\n"ethyl butyrate","1,6"\n"propylene glycol","8,4"\n',
    ],
    ids=["comma", "semicolon", "tab and units", "byte-order mark and blanks", "quoted comma"],
)
def test_separators_commas_units_and_comments(write: Write, text: str) -> None:
    formula = read_formula(write("f.csv", text))
    assert [r.material for r in formula.rows] == [r.material for r in PLAIN.rows]
    assert [r.amount.number for r in formula.rows] == pytest.approx([1.6, 8.4])


def test_windows_1252(write: Write) -> None:
    data = "material;grams;note\nvanillin;1;für süß\n".encode("cp1252")
    assert read_formula(write("f.csv", data)).rows[0].note == "für süß"


def test_utf_16_as_spreadsheets_save_it(write: Write) -> None:
    data = "material\tgrams\nvanillin\t1\n".encode("utf-16")
    assert read_formula(write("f.txt", data)).rows[0].material == "vanillin"


def test_workbook_reads_like_the_text_file(write: Write) -> None:
    data = workbook([["material", "grams"], ["ethyl butyrate", 1.6], ["propylene glycol", 8.4]])
    formula = read_formula(write("f.xlsx", data))
    assert [r.amount for r in formula.rows] == [Amount(1.6, "g"), Amount(8.4, "g")]


def test_batch_name_and_make_up_to_weight(write: Write, catalogue: Catalogue) -> None:
    text = "# name Trial 7\n# batch 50 g\nmaterial,grams\nvanillin,0.5\nPG,q.s.\n"
    formula = read_formula(write("f.csv", text))
    assert formula.name == "Trial 7"
    weighing = weigh(formula, catalogue)
    assert weighing.total_g == pytest.approx(50.0)
    assert weighing.rows[1].grams == pytest.approx(49.5)


def test_dilution_brings_its_carrier(catalogue: Catalogue) -> None:
    formula = Formula.from_rows(
        [
            {"material": "diacetyl", "grams": 2, "strength_pct": "10 %", "carrier": "triacetin"},
            {"material": "hexanal", "grams": 1, "strength_pct": 1},
        ]
    )
    blend = weigh(formula, catalogue).composition
    grams = dict(zip(blend.names, blend.mass_kg * 1e3, strict=True))
    assert grams == pytest.approx(
        {"diacetyl": 0.2, "triacetin": 1.8, "hexanal": 0.01, "propylene glycol": 0.99}
    )


def test_water_in_spirit_counts(catalogue: Catalogue) -> None:
    """OIML R 22: 96 % by volume is 93.84 % by mass."""
    for material, strength in (("ethanol", "96 % vol"), ("ethanol 96 %", "")):
        rows = [{"material": material, "grams": 100, "strength_pct": strength}]
        blend = weigh(Formula.from_rows(rows), catalogue).composition
        grams = dict(zip(blend.names, blend.mass_kg * 1e3, strict=True))
        assert grams["ethanol"] == pytest.approx(93.84, abs=0.15)


def test_millilitres_and_drops_go_through_the_density(catalogue: Catalogue) -> None:
    formula = Formula.from_rows(
        [{"material": "propylene glycol", "mL": 10}, {"material": "water", "drops": 20}]
    )
    rows = weigh(formula, catalogue, drop_mL=0.05).rows
    assert rows[0].grams == pytest.approx(10.36, abs=0.03)
    assert rows[1].grams == pytest.approx(0.998, abs=0.005)


def test_two_rows_of_one_material_are_summed_and_said(catalogue: Catalogue) -> None:
    formula = Formula.from_rows(
        [{"material": "PG", "grams": 1}, {"material": "propylene glycol", "grams": 2}]
    )
    weighing = weigh(formula, catalogue)
    assert [row.grams for row in weighing.rows] == [3.0]
    assert weighing.summed == ("propylene glycol",)


def test_strength_texts() -> None:
    rows = [
        {"material": "ethanol", "grams": 1, "strength_pct": text}
        for text in ("96 % vol", "92 % mass", "10", "40% ABV", "12,5 %")
    ]
    found = [row.strength for row in Formula.from_rows(rows).rows]
    assert found == [
        Strength(96.0, "vol", True),
        Strength(92.0, "mass", True),
        Strength(10.0, "mass", False),
        Strength(40.0, "vol", True),
        Strength(12.5, "mass", False),
    ]


BAD_FILES: list[tuple[str, str, bytes | str, str]] = [
    ("missing header", "f.csv", "ethyl butyrate,1.6\n", "the header must name the columns"),
    ("no grams column", "f.csv", "material,note\nvanillin,x\n", "the header must name the columns"),
    ("not a number", "f.csv", "material,grams\nvanillin,lots\n", "row 2, column grams: 'lots'"),
    ("negative", "f.csv", "material,grams\nvanillin,-1\n", "row 2, column grams: '-1' is negative"),
    ("no amount", "f.csv", "material,grams\nvanillin,\n", "row 2, column grams: no amount"),
    ("nan", "f.csv", "material,grams\nvanillin,nan\n", "'nan' is not a number"),
    ("empty", "f.csv", "", "the file is empty"),
    ("header only", "f.csv", "material,grams\n", "a header but no rows"),
    ("comments only", "f.csv", "# nothing\n", "holds no table"),
    ("binary", "f.csv", bytes(range(256)) * 4, "binary file"),
    ("picture", "f.csv", b"\x89PNG\r\n\x1a\n1234", "binary file"),
    ("not a workbook", "f.xlsx", "material,grams\n", "isn't a workbook"),
    ("broken workbook", "f.xlsx", b"PK\x03\x04 nonsense", "workbook can't be read"),
    ("over 100 %", "f.csv", "material,grams,strength_pct\nhexanal,1,120\n", "over 100 %"),
    ("zero strength", "f.csv", "material,grams,strength_pct\nhexanal,1,0\n", "leaves nothing"),
    ("unknown unit", "f.csv", "material,grams\nvanillin,1 tsp\n", "'tsp' is not a unit"),
    ("decimal comma", "f.csv", "material,grams\nvanillin,1,5\n", "decimal comma"),
    ("two amounts", "f.csv", "material,grams,mL\nvanillin,1,2\n", "both grams and mL"),
    ("bad batch", "f.csv", "# batch big\nmaterial,grams\nPG,q.s.\n", "not a batch size"),
    ("column twice", "f.csv", "material,grams,grams\nPG,1,2\n", "there twice"),
]


@pytest.mark.parametrize(
    ("name", "file", "content", "message"), BAD_FILES, ids=lambda v: str(v)[:18]
)
def test_one_clear_message_for_a_bad_file(
    write: Write, name: str, file: str, content: bytes | str, message: str
) -> None:
    assert any(message in problem for problem in problems(write(file, content))), name


BAD_BLENDS = [
    ("unknown material", "material,grams\nvannilin,1\n", "the closest names are vanillin"),
    ("ambiguous", "material,grams\namyl acetate,1\n", "write one of: isoamyl acetate"),
    ("zero total", "material,grams\nvanillin,0\n", "add up to nothing"),
    ("q.s. without batch", "material,grams\nPG,q.s.\n", "q.s. needs a batch size"),
    (
        "q.s. exceeded",
        "# batch 5 g\nmaterial,grams\nvanillin,6\nPG,q.s.\n",
        "already more than the batch of 5 g",
    ),
    ("two q.s.", "# batch 5 g\nmaterial,grams\nTEC,q.s.\nPG,q.s.\n", "only one row"),
    ("wrong CAS", "material,grams,cas\nvanillin,1,57-55-6\n", "correct one of them"),
    ("no basis", "material,grams,strength_pct\nethanol,1,96\n", "by volume or by mass"),
    ("carrier alone", "material,grams,carrier\nvanillin,1,PG\n", "no strength_pct"),
    (
        "volume strength of an oil",
        "material,grams,strength_pct\nhexanal,1,5 % vol\n",
        "aqueous materials only",
    ),
]


@pytest.mark.parametrize(("name", "text", "message"), BAD_BLENDS, ids=lambda v: str(v)[:24])
def test_one_clear_message_for_a_bad_blend(
    write: Write, catalogue: Catalogue, name: str, text: str, message: str
) -> None:
    assert any(message in problem for problem in problems(write("f.csv", text), catalogue)), name


def test_several_problems_are_reported_together(write: Write, catalogue: Catalogue) -> None:
    text = "material,grams\nvannilin,1\nethyl butirate,2\namyl acetate,3\n"
    found = problems(write("f.csv", text), catalogue)
    assert [problem.split(",")[0] for problem in found] == ["row 2", "row 3", "row 4"]
    text = "material,grams,strength_pct\nvanillin,x,\nPG,-2,\nhexanal,1,300\n"
    assert len(problems(write("g.csv", text))) == 3


def test_a_hundred_thousand_rows_are_refused_at_once(write: Write) -> None:
    text = "material,grams\n" + "vanillin,1\n" * 100_000
    assert "more than 5000 rows" in problems(write("f.csv", text))[0]


def test_no_such_file_and_a_folder(tmp_path: Path) -> None:
    assert "no such file" in problems(tmp_path / "missing.csv")[0]
    assert "a folder" in problems(tmp_path)[0]
