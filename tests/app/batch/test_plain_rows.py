"""A piece of a CSV that is read as arrays is the table that its lines give one by one."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendwright.app.batch import text_rows
from blendwright.app.batch.plain_rows import plain_table
from blendwright.app.batch.reading import columns_of
from blendwright.formula.columns import Columns

HEADERS = ("formula,material,grams", "id,Stoff,Menge mg,Lot,note", "recette,name,mL,strength,a,b")


def columns_and(header: list[str], *_: object) -> Columns:
    return columns_of(header, "table.csv")


def read(path: Path, piece_bytes: int, monkeypatch: pytest.MonkeyPatch, plain: bool) -> pa.Table:
    """All rows of a file."""
    with monkeypatch.context() as patch:
        patch.setattr(text_rows, "PIECE_BYTES", piece_bytes)
        if not plain:
            patch.setattr(text_rows, "plain_table", lambda *_: None)
        tables = [t for t, _ in text_rows.text_rows(path, columns_and, 7)]  # type: ignore[arg-type]
    return pa.concat_tables(tables).combine_chunks() if tables else pa.table({})


cells = st.sampled_from(
    ["a", "b", "vanillin", "1.5", "2", "250", "1 g", "q.s.", "", "", " x ", "é", "\u00a0", '"a"',
     '"a,b"', '"', 'a"b', '""', '"a""b"', '"a" ', ' "a"', '"a\nb"', "\t", "\r", "\x0b", "\x1f",
     "\x85", "\u2028", "\ufeff", "\udce9", "12,5"]
)  # fmt: skip
tidy = st.sampled_from(
    ["a", "vanillin", "1.5", '"2"', '"a,b"', "", "é", " x ", "250", "\u2028x\x85"]
)
ends = st.sampled_from(["\n", "\n", "\n", "\r\n", "\n\n", "\r", ""])


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    header = draw(st.sampled_from(HEADERS))
    width = header.count(",") + 1
    text = draw(st.sampled_from(["", "\ufeff", "# told\n"])) + header + draw(ends)
    for _ in range(draw(st.integers(0, 12))):
        if draw(st.integers(0, 9)) == 0:
            text += "," * (width - 1) + "\n"
        odd = draw(st.integers(0, 5)) == 0
        count = draw(st.integers(1, width + 1)) if odd else width
        text += ",".join(draw(cells if odd else tidy) for _ in range(count))
        text += draw(ends) if odd else "\n"
    return text.encode("utf-8", "surrogateescape")


@given(tables(), st.sampled_from([1, 20, 60, 10_000]))
@settings(max_examples=400)
def test_a_table_reads_alike_by_arrays_and_line_by_line(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, piece_bytes: int
) -> None:
    path = tmp_path_factory.mktemp("tables") / "table.csv"
    path.write_bytes(content)
    both = []
    with pytest.MonkeyPatch.context() as monkeypatch:
        for plain in (True, False):
            try:
                both.append(read(path, piece_bytes, monkeypatch, plain))
            except Exception as error:
                both.append((type(error), str(error)))
    assert both[0] == both[1]


@pytest.mark.parametrize(
    ("piece", "why"),
    [
        (b'a,"vanillin,1\n', "an open quotation mark"),
        (b'a,"vani"llin,1\n', "a quotation mark inside a cell"),
        (b'a,"vani\nllin",1\n', "a line break in a cell"),
        (b"a,vanillin\n", "a short row"),
        (b"a,vanillin,1,2\n", "a long row"),
        (b"a,vanillin,1\n\nb,PG,2\n", "a blank line"),
        (b"a,vanillin,1\n,,\n", "an empty row"),
        (b"a,vanillin,1\rb,PG,2\n", "a lone carriage return"),
        (b"a,vanillin\x00,1\n", "a control sign"),
        (b"a,vanill\xefn,1\n", "another encoding"),
        (b"\xef\xbb\xbfa,vanillin,1\n", "a byte-order mark"),
        (b"a,%b,1\n" % (b"v" * 150_000), "a cell without end"),
    ],
)
def test_what_needs_a_look_at_its_lines_is_left_to_that(piece: bytes, why: str) -> None:
    columns = columns_and(["formula", "material", "grams"])
    assert plain_table(piece + b"z,PG,1\n", columns, ",", 2) is None, why


def test_what_programs_write_is_read_as_arrays() -> None:
    columns = columns_and(["formula", "material", "mg", "lot"])
    table = plain_table(b'"a","1,2-propanediol",5,\r\n"a"," PG",2 g,7\r\n', columns, ",", 2)
    assert table is not None
    assert table.column("material").to_pylist() == ["1,2-propanediol", "PG"]
    assert table.column("grams").to_pylist() == ["5 mg", "2 g"]
    assert table.column("unused").to_pylist() == ["", "lot\x1f"]
    assert table.column("line").to_pylist() == [2, 3]
