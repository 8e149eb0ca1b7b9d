"""Tables and folders as people have them: what can be read is, what can't is told and not lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from blendwright import assess_many
from blendwright.app.batch import reading
from blendwright.app.cli.main import app
from blendwright.errors import FormulaError
from tests.app.batch.conftest import long_table, many

Write = Callable[[str, bytes | str], Path]
HEAD = "formula,material,grams\n"


def answered(path: Path) -> pa.Table:
    return assess_many(path, temperature_K=298.15, pressure_Pa=101325.0, only=["density"])


def kinds(table: pa.Table) -> dict[str, str | None]:
    return dict(
        zip(
            table.column("formula").to_pylist(), table.column("error_kind").to_pylist(), strict=True
        )
    )


@pytest.mark.parametrize(
    "content",
    [
        "formula,material,grams\na,vanillin,1.5\na,PG,10\n",
        "# a comment\nFormula ID;Ingredient;g\na;vanillin;1,5\na;PG;10\n",
        "\ufeffid\tmaterial\tgrams\na\tvanillin\t1.5\n\na\tPG\t10\n",
        'formula,note,grams,material\na,"two\nlines",1.5,vanillin\na,,10,PG\n',
    ],
    ids=[
        "plain",
        "semicolons and decimal commas",
        "tabs and a byte-order mark",
        "note of two lines",
    ],
)
def test_tables_as_people_have_them(write: Write, content: str) -> None:
    table = answered(write("in.csv", content))
    assert kinds(table) == {"a": None}
    assert table.column("mass_g").to_pylist() == pytest.approx([11.5])


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16", "utf-8"])
def test_names_in_any_encoding(write: Write, encoding: str) -> None:
    table = answered(write("in.csv", f"{HEAD}crème,vanillin,1\ncrème,PG,9\n".encode(encoding)))
    assert kinds(table) == {"crème": None}


def test_a_row_of_nonsense_spoils_its_own_formula_only(write: Write) -> None:
    path = write(
        "in.csv",
        f"{HEAD}a,vanillin,1\na,PG,9\nb,vanillin,1\nb,PG,9,8,7\nc,vanillin,1\nc,PG,9\n",
    )
    table = answered(path)
    assert kinds(table) == {"a": None, "b": "row", "c": None}
    assert "row 5, column row: more cells than" in table.column("error")[1].as_py()


def test_a_formula_torn_by_nonsense_is_never_answered_by_half(write: Write) -> None:
    path = write("in.csv", f"{HEAD}a,vanillin,1\n@@@@\na,PG,9\nb,PG,9\n")
    table = answered(path)
    assert table.column("formula").to_pylist() == ["a", "@@@@", "a", "b"]
    assert table.column("error_kind").to_pylist() == [
        "duplicate id", "material", "duplicate id", None
    ]  # fmt: skip


def test_an_open_quotation_mark_swallows_nothing(write: Write) -> None:
    path = write("in.csv", f'{HEAD}a,"vanillin,1\na,PG,9\nb,vanillin,1\nb,PG,9\nc,PG,"1"\n')
    assert kinds(answered(path)) == {"a": "grams", "b": None, "c": None}


def test_a_very_long_open_quotation_swallows_nothing(write: Write) -> None:
    rest = "".join(f"F{n:060d},PG,{1 + n % 9}\n" for n in range(2500))
    found = kinds(answered(write("in.csv", f'{HEAD}a,"vanillin,1\n{rest}')))
    assert len(found) == 2501
    assert [name for name, kind in found.items() if kind] == ["a"]


def test_a_formula_named_like_a_comment_is_not_lost(write: Write) -> None:
    assert kinds(answered(write("in.csv", f"{HEAD}#1,PG,9\n#2,PG,9\n"))) == {"#1": None, "#2": None}


def test_a_workbook(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["formula", "material", "grams"], ["a", "vanillin", 1.5], [], ["a", "PG", "q.s."],
                [2, "PG", 3], [2, "vannilin", 1]):  # fmt: skip
        sheet.append(row)
    book.save(tmp_path / "in.xlsx")
    table = answered(tmp_path / "in.xlsx")
    assert kinds(table) == {"a": "grams", "2": "material"}
    assert "row 6" in table.column("error")[1].as_py()


NOTED = (
    "Rezeptur;Zutat;Menge [mg];Verdünnung;Lösungsmittel;Lieferant\n"
    "A;hexanal;3000;10;ethanol;Nord\nA;PG;7000;;;\nA;Summe;10000;;;\n"
    "B;vanillin;1,250;;;Nord\nB;PG;8000;;;\nC;vanillin;500,5;;;\nC;PG;1,250;;;\n"
)


def test_a_batch_names_the_columns_that_it_does_not_use(write: Write) -> None:
    table = answered(write("in.csv", NOTED))
    assert kinds(table) == {"A": None, "B": "grams", "C": None}
    assert "column Menge [mg]: '1,250 mg' can be" in table.column("error")[1].as_py()
    assert table.column("mass_g").to_pylist() == pytest.approx([10.0, None, 0.50175])
    assert table.column("unused_columns").to_pylist() == ["Lieferant", None, None]
    assert table.column("reading").to_pylist() == ["COLUMN-UNUSED", None, "DECIMAL-COMMA"]


def test_a_batch_counts_the_columns_that_it_does_not_use(write: Write, tmp_path: Path) -> None:
    path = write("in.csv", NOTED)
    request = ["batch", str(path), "-o", str(tmp_path / "out.csv"), "--only", "density", "--quiet"]
    done = CliRunner().invoke(app, request)
    assert "column not used: 'Lieferant', which holds values in 1 formula" in done.output
    made = json.loads(CliRunner().invoke(app, [*request, "--force", "--json"]).stdout)
    assert made["unused_columns"] == {"Lieferant": 1}
    assert made["reading"] == {"COLUMN-UNUSED": 1, "DECIMAL-COMMA": 1}


def test_a_batch_tells_of_names_that_it_reads_as_dilutions(write: Write) -> None:
    rows = "A,vanillin 10 % in ethanol,2\nA,PG,8\nB,vanillin,2\nB,PG,8\n"
    table = answered(write("in.csv", "formula,material,grams\n" + rows))
    assert kinds(table) == {"A": None, "B": None}
    assert table.column("reading").to_pylist() == ["STRENGTH-IN-NAME", None]


def test_unused_columns_of_any_arrow_type_are_named() -> None:
    table = pa.table(
        {
            "formula": ["a", "a", "b", "b"],
            "material": ["vanillin", "PG"] * 2,
            "mg": pa.array([1000, 9000, 500, 9500], pa.int64()),
            "lot": pa.array([7, None, None, None], pa.int32()),
            "when": pa.array([None, None, 1, None], pa.timestamp("s")),
            "price": [float("nan"), None, None, 2.5],
            "words": [" ", "", None, "x"],
            "tags": pa.array([None, ["x"], None, None], pa.list_(pa.string())),
        }
    )
    made = assess_many(table, temperature_K=298.15, pressure_Pa=101325.0, only=["density"])
    assert made.column("mass_g").to_pylist() == pytest.approx([10.0, 10.0])
    assert made.column("unused_columns").to_pylist() == ["lot; tags", "when; price; words"]


def test_shares_are_of_the_batch_that_a_run_gives(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("ingredient,%\nvanillin,2\nPG,98\n")
    (tmp_path / "b.csv").write_text("# batch 20 g\ningredient,parts\nvanillin,1\nPG,9\n")
    request = ["batch", str(tmp_path), "-o", str(tmp_path / "out.parquet"), "--only", "density"]
    assert CliRunner().invoke(app, [*request, "--batch-g", "50", "--quiet"]).exit_code == 0
    made = pq.read_table(tmp_path / "out.parquet")
    assert made.column("mass_g").to_pylist() == pytest.approx([50.0, 20.0])
    assert made.column("reading").to_pylist() == ["AMOUNTS-BY-SHARE"] * 2


def test_a_folder_of_formula_files(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text("# batch 50 g\nmaterial,grams\nvanillin,1\nPG,q.s.\n")
    (tmp_path / "a.csv").write_text("material,grams\nPG,9\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "big.csv").write_bytes(b"material,grams\n" + b"PG,1\n" * 1_100_000)
    (tmp_path / "readme.md").write_text("not a formula")
    table = answered(tmp_path)
    assert kinds(table) == {
        "a.csv": None, "b.csv": None, "big.csv": "formula", "empty.csv": "formula"
    }  # fmt: skip
    assert table.column("mass_g").to_pylist()[:2] == pytest.approx([9.0, 50.0])


def test_columns_of_any_arrow_type(tmp_path: Path) -> None:
    table = many(3)
    odd = pa.table(
        {
            "formula": pa.array([1, 1, 1, 2, 2, 2, 3, 3, 3]),
            "material": table.column("material").combine_chunks().dictionary_encode(),
            "grams": pa.array([1, 2, 3] * 3, pa.int32()),
            "colour": ["blue"] * 9,
        }
    )
    pq.write_table(odd, tmp_path / "in.parquet", row_group_size=2)
    made = answered(tmp_path / "in.parquet")
    assert kinds(made) == {"1": None, "2": None, "3": None}
    assert made.column("mass_g").to_pylist() == pytest.approx([6.0] * 3)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "the file is empty"),
        ("\n\n", "holds no table"),
        ("material,grams\nPG,1\n", "no column formula"),
        ("formula,material\na,PG\n", "no column grams"),
        ("formula,grams\na,1\n", "no column material"),
        ("formula,material,grams,g\na,PG,1,2\n", "the column grams is there twice"),
        (b"\x89PNG\x00\x00", "binary file"),
    ],
)
def test_what_is_no_long_table_is_refused(write: Write, content: str | bytes, words: str) -> None:
    with pytest.raises(FormulaError, match=words):
        answered(write("in.csv", content))


def test_a_missing_input_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FormulaError, match="no such file or folder"):
        answered(tmp_path / "in.parquet")


@pytest.mark.parametrize("kept", [0.5, 0.99])
def test_a_truncated_parquet_file_is_refused(tmp_path: Path, kept: float) -> None:
    path = tmp_path / "in.parquet"
    pq.write_table(many(500), path)
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data))])
    with pytest.raises(FormulaError, match="not a whole Parquet file"):
        answered(path)


def test_a_parquet_file_with_a_hole_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "ROWS_AT_ONCE", 256)
    path = tmp_path / "in.parquet"
    pq.write_table(many(200), path, row_group_size=300, compression="zstd")
    data = bytearray(path.read_bytes())
    column = pq.ParquetFile(path).metadata.row_group(1).column(1)
    end = column.data_page_offset + column.total_compressed_size
    data[end - 40 : end] = b"\xff" * 40
    path.write_bytes(bytes(data))
    with pytest.raises(FormulaError, match="not a whole Parquet file, unreadable after row"):
        answered(path)


def test_a_table_of_no_rows_has_all_columns() -> None:
    table = assess_many(
        long_table(("a", "PG", 1.0)).slice(0, 0), temperature_K=298.15, pressure_Pa=101325.0
    )
    assert len(table) == 0
    assert "flash_point_closed_cup_C_low" in table.column_names
