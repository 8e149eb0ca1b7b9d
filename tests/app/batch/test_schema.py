"""The documented columns are those written, in the same order and by the same question."""

from __future__ import annotations

import re
from pathlib import Path

import pyarrow.parquet as pq
from typer.testing import CliRunner

from blendwright.app.batch.row_cache import Refused
from blendwright.app.batch.schema import AS_READ, HEAD, QUESTIONS, answer_fields, schema_of
from blendwright.app.cli.main import app
from tests.app.batch.conftest import many

PAGE = (Path(__file__).parents[3] / "docs" / "batch.md").read_text(encoding="utf-8")
ENDS = ("", "_low", "_high", "_status")


def documented() -> list[tuple[str, str]]:
    """(column, question) of docs/batch.md, estimates opened into their four columns."""
    found = re.search(r"<!-- columns -->\n(.*?)<!-- /columns -->", PAGE, re.DOTALL)
    assert found is not None
    columns = []
    for line in found.group(1).splitlines()[2:]:
        name, kind, question = (cell.strip(" `") for cell in line.split("|")[1:4])
        columns += [(f"{name}{end}", question) for end in (ENDS if kind == "estimate" else ("",))]
    return columns


def test_the_documented_columns_are_the_written_ones(tmp_path: Path) -> None:
    source, out = tmp_path / "in.parquet", tmp_path / "out.parquet"
    pq.write_table(many(1), source)
    done = CliRunner().invoke(app, ["batch", str(source), "-o", str(out)])
    assert done.exit_code == 0
    assert pq.read_schema(out).names == [name for name, _ in documented()]


def test_each_column_comes_with_its_question() -> None:
    for question in QUESTIONS:
        written = [field.name for field in answer_fields([question])]
        assert written == [name for name, request in documented() if request == question]
    always = [field.name for field in (*HEAD, *AS_READ)]
    assert always == [name for name, request in documented() if request == "always"]


def test_parquet_says_what_the_page_says_that_it_says(tmp_path: Path) -> None:
    source, out = tmp_path / "in.parquet", tmp_path / "out.parquet"
    pq.write_table(many(1), source)
    CliRunner().invoke(app, ["batch", str(source), "-o", str(out), "--only", "density"])
    said = {key.decode() for key in pq.read_schema(out).metadata}
    assert {key for key in said if key.startswith("blendwright.")} == set(
        re.findall(r"`(blendwright\.[a-z_]+)`", PAGE)
    )


def test_every_kind_of_refusal_is_explained() -> None:
    source = Path(__file__).parents[3] / "src" / "blendwright"
    kinds = {"material", "grams", "mL", "drops", "strength_pct", "carrier", "cas", "smiles"}
    for path in (source / "app" / "batch").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        kinds |= set(re.findall(r'Refused\("([a-z ]+)"', text))
        kinds |= set(re.findall(r'DUPLICATE = "([a-z ]+)"', text))
    assert {"program", "id", "duplicate id"} <= kinds
    assert {kind for kind in kinds if f"`{kind}`" not in PAGE} == set()
    assert Refused("id", "").kind == "id"


def test_all_columns_have_one_order() -> None:
    assert schema_of(QUESTIONS).names == [name for name, _ in documented()]
