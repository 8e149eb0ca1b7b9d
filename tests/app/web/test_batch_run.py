"""A list through the batch's own machinery, in a process that can be stopped."""

from __future__ import annotations

import asyncio
import io
import tempfile
import zipfile
from pathlib import Path

import pytest

from blendwright.app.web.batch_run import (
    MOST_UNPACKED_BYTES,
    BatchResult,
    BatchRun,
    ListRequest,
    Progress,
)
from blendwright.app.web.worker_pool import RefusedError

ROWS = (
    "formula,material,grams\n"
    "a,ethyl butyrate,1.6\na,propylene glycol,8.4\n"
    "b,ethyl butyrate,much\n"
    "c,ethyl butyrate,2\nc,propylene glycol,8\n"
)


def request(content: bytes, name: str = "list.csv", result: str = ".csv") -> ListRequest:
    return ListRequest(name, content, result, 298.15, 101325.0, 0.05, None, ("flash", "density"))


async def followed(run: BatchRun, stop: bool = False) -> list[Progress | BatchResult]:
    told = []
    async for one in run.follow():
        told.append(one)
        if stop and isinstance(one, Progress) and one.total:
            run.stop()
    return told


@pytest.fixture(autouse=True)
def own_temporary_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Other tests at the same time leave theirs elsewhere."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))


def folders() -> set[Path]:
    return set(Path(tempfile.gettempdir()).glob("blendwright-*"))


@pytest.mark.parametrize("result", [".csv", ".parquet"])
def test_a_list_comes_out_as_the_batch_writes_it(result: str, tmp_path: Path):
    from blendwright import assess_many

    before = folders()
    told = asyncio.run(followed(BatchRun(request(ROWS.encode(), result=result))))
    came = told[-1]
    assert isinstance(came, BatchResult)
    assert came.summary["formulas"] == 3
    assert came.summary["answered"] == 2
    assert [name for name, _ in came.refused] == ["b"]
    assert "much" in came.refused[0][1]
    last = [one for one in told if isinstance(one, Progress)][-1]
    assert (last.finished, last.total) == (3, 3)
    assert last.share == 1.0
    assert last.seconds_left == 0.0
    source, out = tmp_path / "list.csv", tmp_path / f"out{result}"
    source.write_text(ROWS)
    out.write_bytes(came.content)
    if result == ".parquet":
        import pyarrow.parquet as pq

        alone = assess_many(
            str(source), temperature_K=298.15, pressure_Pa=101325.0, only=["flash", "density"]
        )
        came_out = pq.read_table(out)
        assert came_out.to_pylist() == alone.cast(came_out.schema).to_pylist()
        assert came_out.equals(alone.cast(came_out.schema))
    else:
        assert out.read_text().count("\n") == 4
    assert folders() == before


def test_a_run_that_is_stopped_leaves_nothing():
    before = folders()
    run = BatchRun(request(ROWS.encode()))
    told = asyncio.run(followed(run, stop=True))
    assert run.is_stopped
    assert not any(isinstance(one, BatchResult) for one in told)
    assert folders() == before


def test_what_is_no_list_is_refused_by_its_own_name():
    for name, content, words in (
        ("pears.csv", b"", "pears.csv: the file is empty"),
        ("pears.csv", b"a,b\n1,2\n", "no column formula"),
        ("pears.parquet", b"nonsense", "not a whole Parquet file"),
    ):
        with pytest.raises(RefusedError, match=words):
            asyncio.run(followed(BatchRun(request(content, name))))


def test_a_workbook_bomb_is_refused():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (MOST_UNPACKED_BYTES + 1))
    assert len(packed.getvalue()) < 1_000_000
    with pytest.raises(RefusedError, match=r"pears\.xlsx: the workbook unfolds"):
        asyncio.run(followed(BatchRun(request(packed.getvalue(), "pears.xlsx"))))
