"""A formula from a long table is the formula that a file would give, whichever way it is read."""

from __future__ import annotations

import pickle
import re
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendwright.app.batch.long_rows import LongChunk, LongRows, long_chunks
from blendwright.app.batch.reading import ArrowTable
from blendwright.app.batch.row_cache import Refused, RowCache
from blendwright.catalogue import default_catalogue
from blendwright.errors import FormulaError
from blendwright.formula import Formula
from blendwright.mixture.weighing import DROP_mL, Weighing, weigh
from tests.app.batch.conftest import long_table, many

MATERIALS = (
    "ethyl butyrate", "PG", "vanillin", "cardamom oil", "ethanol 96 %", "MCT oil", "vannilin"
)  # fmt: skip
COLUMNS = "formula material grams strength_pct role"


def chunks_of(table: pa.Table, size: int = 2000) -> list[LongChunk]:
    return list(ArrowTable(table).chunks(size))  # type: ignore[arg-type]


def both_ways(table: pa.Table, batch_g: float | None = None) -> list[tuple[object, object]]:
    """Each formula as the batch has it and as `weigh` has it."""
    row_cache = RowCache(default_catalogue(), DROP_mL)
    pairs = []
    for chunk in chunks_of(table):
        for (name, found), start, end in zip(
            chunk.weighed(row_cache, batch_g),
            chunk.starts,
            [*chunk.starts[1:], len(chunk.rows)],
            strict=True,
        ):
            cells = table.slice(start, end - start).to_pylist()
            rows = [{k: v for k, v in cell.items() if k != "formula"} for cell in cells]
            try:
                formula = Formula.from_rows(rows, name, batch_g)
                pairs.append((found, weigh(formula, default_catalogue())))
            except FormulaError as error:
                pairs.append((found, error))
    return pairs


def same(one: Weighing, other: Weighing) -> None:
    assert [r.label for r in one.rows] == [r.label for r in other.rows]
    assert [r.grams for r in one.rows] == [r.grams for r in other.rows]
    assert [r.role for r in one.rows] == [r.role for r in other.rows]
    assert one.composition.names == other.composition.names
    assert np.array_equal(one.composition.by_row, other.composition.by_row)
    assert one.composition.liquid_as_sold == other.composition.liquid_as_sold
    assert one.summed == other.summed


amounts = st.one_of(
    st.floats(0.0, 50.0), st.sampled_from(["q.s.", "1,5", "250 mg", "x", "-1", "", "nan", "1e3"])
)
rows = st.tuples(
    st.sampled_from(["a", "a", "b", "c"]),
    st.sampled_from(MATERIALS),
    amounts.map(str),
    st.sampled_from(["", "", "10", "x", "50 % vol"]),
    st.sampled_from(["", "carrier"]),
)


@given(st.lists(rows, min_size=1, max_size=12), st.sampled_from([None, 60.0]))
@settings(max_examples=40)
def test_a_row_of_a_long_table_is_weighed_as_in_a_formula_file(
    made: list[tuple[str, ...]], batch_g: float | None
) -> None:
    table = long_table(*sorted(made), columns=COLUMNS)
    for found, expected in both_ways(table, batch_g):
        if isinstance(expected, Weighing):
            assert isinstance(found, Weighing)
            same(found, expected)
        else:
            assert isinstance(found, Refused)


headers = st.sampled_from(
    [
        "formula material grams supplier", "Rezeptur Zutat Menge Charge", "id Stoff mg Lieferant",
        "recette ingrédient % prix", "formula material parts note", "formula name qty strength",
    ]
)  # fmt: skip
typed = st.sampled_from(
    ["1", "2.5", "0,5", "1,250", "1.250", "12,5 mg", "3 mL", "4 %", "q.s.", "x", "", "1 250"]
)
any_rows = st.tuples(
    st.sampled_from(["a", "b", "c"]),
    st.sampled_from(["vanillin", "PG", "ethyl butyrate", "Total", "Summe", ""]),
    typed,
    st.sampled_from(["", "7", "10"]),
)


@given(headers, st.lists(any_rows, min_size=1, max_size=9), st.sampled_from([None, 60.0]))
@settings(max_examples=200)
def test_whatever_its_headings_a_long_table_is_read_as_formula_files_are(
    columns: str, made: list[tuple[str, ...]], batch_g: float | None
) -> None:
    table = long_table(*sorted(made), columns=columns)
    identity = columns.split()[0]
    cells = [{k: v for k, v in row.items() if k != identity} for row in table.to_pylist()]
    (chunk,) = chunks_of(table)
    weighed = chunk.weighed(RowCache(default_catalogue(), DROP_mL), batch_g)
    ends = [*chunk.starts[1:], len(chunk.rows)]
    for (name, found), start, end in zip(weighed, chunk.starts, ends, strict=True):
        try:
            formula = Formula.from_rows(cells[start:end], name, batch_g)
            expected = weigh(formula, default_catalogue())
        except FormulaError:
            assert isinstance(found, Refused)
        else:
            assert isinstance(found, Weighing)
            assert [r.label for r in found.rows] == [r.label for r in expected.rows]
            grams = [r.grams for r in expected.rows]
            assert [r.grams for r in found.rows] == pytest.approx(grams, rel=1e-12)
            assert found.formula.notices == tuple(
                replace(notice, message=rows_of_the_table(notice.message, start))
                for notice in formula.notices
            )


def rows_of_the_table(message: str, start: int) -> str:
    """A formula's rows by their numbers in the whole table."""
    return re.sub(r"\brow (\d+)", lambda found: f"row {int(found[1]) + start}", message)


def test_numbers_read_from_parquet_are_those_typed() -> None:
    made = [("a", "ethyl butyrate", 0.1 + 0.2), ("a", "PG", 7.0), ("b", "PG", 1e-7)]
    for found, expected in both_ways(long_table(*made)):
        assert isinstance(found, Weighing)
        assert isinstance(expected, Weighing)
        same(found, expected)


@pytest.mark.parametrize(
    ("cells", "kind", "words"),
    [
        (("a", "vannilin", 1.0), "material", "closest names are vanillin"),
        (("a", "vanillin", float("nan")), "grams", "not a number"),
        (("a", "vanillin", float("inf")), "grams", "not a number"),
        (("a", "vanillin", -1.0), "grams", "negative"),
        (("a", "vanillin", None), "grams", "no amount"),
        (("a", None, 1.0), "material", "no material is named"),
        (("", "vanillin", 1.0), "id", "no formula id"),
        (("a", "vanillin", 0.0), "formula", "add up to nothing"),
    ],
)
def test_what_is_wrong_is_told_with_its_row(
    cells: tuple[object, ...], kind: str, words: str
) -> None:
    (chunk,) = chunks_of(long_table(cells))
    ((_, found),) = chunk.weighed(RowCache(default_catalogue(), DROP_mL), None)
    assert isinstance(found, Refused)
    assert found.kind == kind
    assert words in found.message


def test_every_problem_of_a_formula_is_told() -> None:
    table = long_table(("a", "vannilin", "1"), ("a", "PG", "x"), ("a", "ethil butyrate", "2"))
    (chunk,) = chunks_of(table)
    ((_, found),) = chunk.weighed(RowCache(default_catalogue(), DROP_mL), None)
    assert isinstance(found, Refused)
    for place in ("row 1, column material", "row 2, column grams", "row 3, column material"):
        assert place in found.message


def test_a_batch_size_may_stand_in_the_table() -> None:
    columns = "formula material grams batch_g"
    table = long_table(
        ("a", "vanillin", "1", "20"), ("a", "PG", "q.s.", ""),
        ("b", "vanillin", "1", "20"), ("b", "PG", "q.s.", "30"),
        ("c", "vanillin", "1", ""), ("c", "PG", "q.s.", ""),
        columns=columns,
    )  # fmt: skip
    (chunk,) = chunks_of(table)
    a, b, c = (found for _, found in chunk.weighed(RowCache(default_catalogue(), DROP_mL), None))
    assert isinstance(a, Weighing)
    assert a.total_g == pytest.approx(20.0)
    assert isinstance(b, Refused)
    assert "two batch sizes: 20, 30" in b.message
    assert isinstance(c, Refused)
    assert "q.s. needs a batch size" in c.message


@given(st.integers(1, 40), st.integers(1, 7), st.integers(1, 50))
def test_lots_do_not_depend_on_how_the_table_was_cut(formulas: int, size: int, cut: int) -> None:
    table = many(formulas).append_column("line", pa.array(range(3 * formulas)))
    pieces = [(table.slice(n, cut), None) for n in range(0, len(table), cut)]
    chunks = list(long_chunks(pieces, size))
    assert [chunk.number for chunk in chunks] == list(range(1, len(chunks) + 1))
    assert sum(chunk.count for chunk in chunks) == formulas
    assert {chunk.count for chunk in chunks[:-1]} <= {size}
    assert [chunk.first for chunk in chunks] == [1 + n * size for n in range(len(chunks))]
    assert pa.concat_tables([chunk.rows for chunk in chunks]).equals(table)


def test_the_share_read_grows_evenly_with_the_chunks() -> None:
    table = many(40).append_column("line", pa.array(range(120)))
    pieces = [(table.slice(0, 60), 0.5), (table.slice(60), 1.0)]
    shares = [chunk.share for chunk in long_chunks(pieces, 4)]
    assert shares == pytest.approx([n / 10 for n in range(1, 11)], abs=0.03)


def test_a_formula_without_end_is_refused_in_flat_memory() -> None:
    table = pa.table({"formula": ["a"] * 20_000 + ["b"], "material": ["PG"] * 20_001,
                      "grams": [1.0] * 20_001, "line": range(20_001)})  # fmt: skip
    pieces = [(table.slice(n, 1000), None) for n in range(0, len(table), 1000)]
    chunks = list(long_chunks(pieces, 10))
    assert sum(chunk.count for chunk in chunks) == 2
    assert sum(len(chunk.rows) for chunk in chunks) < 7000
    found = [
        f for chunk in chunks for f in chunk.weighed(RowCache(default_catalogue(), DROP_mL), None)
    ]
    assert isinstance(found[0][1], Refused)
    assert "more than 5000 rows" in found[0][1].message
    assert isinstance(found[1][1], Weighing)


def test_a_chunk_travels_with_its_own_rows_only() -> None:
    chunk = chunks_of(many(3000), size=10)[5]
    sent = pickle.dumps(chunk)
    assert len(sent) < 5_000
    back = pickle.loads(sent)
    assert back.rows.equals(chunk.rows)
    assert back.starts == chunk.starts


def test_rows_are_resolved_once_for_a_whole_run(monkeypatch: pytest.MonkeyPatch) -> None:
    row_cache = RowCache(default_catalogue(), DROP_mL)
    opened = []
    monkeypatch.setattr(
        row_cache,
        "_open",
        lambda row, real=row_cache._open: (opened.append(row.material), real(row))[1],
    )
    for chunk in chunks_of(many(100), size=10):
        LongRows(chunk.rows, chunk.starts, row_cache, None).weighed()
    assert sorted(opened) == ["ethyl butyrate", "propylene glycol", "vanillin"]
