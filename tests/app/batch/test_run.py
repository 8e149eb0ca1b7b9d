"""A run survives what happens to runs: kills, Ctrl-C, full disks, wrong files, second thoughts."""

from __future__ import annotations

import errno
import gc
import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from blendwright.app.batch import checkpoint as parts_module
from blendwright.app.batch import run as run_module
from blendwright.app.batch.checkpoint import Checkpoint
from blendwright.app.batch.duplicate_ids import duplicate_ids
from blendwright.app.cli.main import app
from blendwright.mixture import machine
from tests.app.batch.conftest import long_table, many

runner = CliRunner()
Start = Callable[..., "subprocess.Popen[str]"]
PATIENCE_s = 60.0


def batch(source: object, out: object, *options: object) -> tuple[int, str, str]:
    done = runner.invoke(app, ["batch", str(source), "-o", str(out), *map(str, options)])
    assert "Traceback" not in done.output
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "in.parquet"
    pq.write_table(many(60, bad=[17]), path)
    return path


def wait_for_parts(out: Path, count: int) -> None:
    """Until so many parts of a run in another process are finished."""
    deadline = time.monotonic() + PATIENCE_s
    while len(Checkpoint(out).numbers() if Checkpoint(out).folder.exists() else ()) < count:
        assert time.monotonic() < deadline, "the run doesn't get on"
        time.sleep(0.02)


def interrupted(start: Start, table: Path, out: Path, how: signal.Signals) -> tuple[int, str]:
    process = start(table, out, "--only", "density", "--chunk-size", "2")
    wait_for_parts(out, 3)
    process.send_signal(how)
    _, said = process.communicate(timeout=PATIENCE_s)
    return process.returncode, said


def test_a_run_killed_at_any_moment_goes_on_without_loss(
    table: Path, tmp_path: Path, slow_batch: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, whole = tmp_path / "out.parquet", tmp_path / "whole.parquet"
    assert batch(table, whole, "--only", "density", "--chunk-size", "2")[0] == 0
    code, _ = interrupted(slow_batch, table, out, signal.SIGKILL)
    assert code == -signal.SIGKILL
    assert not out.exists()
    finished = Checkpoint(out).numbers()
    assert 3 <= len(finished) < 30
    computed = []
    real = run_module.evaluated
    monkeypatch.setattr(
        run_module,
        "evaluated",
        lambda chunk, *a: (computed.append(chunk.number), real(chunk, *a))[1],
    )
    assert batch(table, out, "--only", "density", "--chunk-size", "2")[0] == 0
    assert set(computed) == set(range(1, 31)) - finished
    assert pq.read_table(out).equals(pq.read_table(whole))
    assert out.read_bytes() == whole.read_bytes()
    assert not Checkpoint(out).folder.exists()


def test_the_size_of_the_lots_changes_no_byte(table: Path, tmp_path: Path) -> None:
    machine.load()  # NumPy, with which a new installation begins, has other last digits
    made = set()
    for size in (7, 25, 60):
        out = tmp_path / f"{size}.parquet"
        assert batch(table, out, "--chunk-size", size)[0] == 0
        made.add(out.read_bytes())
    assert len(made) == 1


def test_ctrl_c_says_how_to_go_on(table: Path, tmp_path: Path, slow_batch: Start) -> None:
    out, whole = tmp_path / "out.csv", tmp_path / "whole.csv"
    code, said = interrupted(slow_batch, table, out, signal.SIGINT)
    assert code == 130
    assert "interrupted; the finished parts are kept" in said
    assert "blendwright batch" in said
    assert "Traceback" not in said
    for path in (out, whole):
        assert batch(table, path, "--only", "density", "--chunk-size", "2")[0] == 0
    assert out.read_bytes() == whole.read_bytes()


def stopped_after(count: int, monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Let the writing of the next part fail."""
    real = pq.write_table
    left = iter(range(count))

    def failing(*given: object, **named: object) -> None:
        if next(left, None) is None:
            raise error
        real(*given, **named)

    monkeypatch.setattr(parts_module.pq, "write_table", failing)


def test_a_full_disk_stops_with_what_to_do(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.parquet"
    with monkeypatch.context() as full:
        stopped_after(3, full, OSError(errno.ENOSPC, "No space left on device"))
        code, _, said = batch(table, out, "--only", "density", "--chunk-size", "5")
    assert code == 2
    assert "the disk is full" in said
    assert "make room and run it again" in said
    assert len(Checkpoint(out).numbers()) == 3
    assert not out.exists()
    assert not list(Checkpoint(out).folder.glob("*.tmp"))
    assert batch(table, out, "--only", "density", "--chunk-size", "5")[0] == 0
    assert len(pq.read_table(out)) == 60


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(folder)]
    if os.name != "posix" or os.geteuid() or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("a small disk can be mounted by root only")
    try:
        yield folder
    finally:
        gc.collect()  # what failed to write is still open in a traceback that nobody holds any more
        subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_is_really_full(table: Path, small_disk: Path) -> None:
    out = small_disk / "out.parquet"
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"\0" * 350_000)
    code, _, said = batch(table, out, "--only", "density", "--chunk-size", "5")
    assert code == 2
    assert "the disk is full" in said
    assert Checkpoint(out).numbers()
    assert not out.exists()
    ballast.unlink()
    assert batch(table, out, "--only", "density", "--chunk-size", "5")[0] == 0
    assert pq.read_table(out).column("number").to_pylist() == list(range(1, 61))


def test_a_changed_input_or_question_is_not_mixed_with_the_old(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.parquet"
    with monkeypatch.context() as full:
        stopped_after(2, full, OSError(errno.EIO, "Input/output error"))
        assert batch(table, out, "--only", "density", "--chunk-size", "5")[0] == 2
    code, _, said = batch(
        table, out, "--only", "density", "--chunk-size", "5", "--temperature-C", 30
    )
    assert code == 2
    assert "the options are others" in said
    assert "--force" in said
    pq.write_table(many(12), table)
    code, _, said = batch(table, out, "--only", "density", "--chunk-size", "5")
    assert code == 2
    assert "the input has changed" in said
    assert batch(table, out, "--only", "density", "--chunk-size", "5", "--force")[0] == 0
    assert len(pq.read_table(out)) == 12


def test_a_finished_out_is_not_overwritten_by_chance(table: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.parquet"
    out.write_bytes(b"precious")
    code, _, said = batch(table, out, "--only", "density")
    assert code == 2
    assert "is there already" in said
    assert out.read_bytes() == b"precious"


def test_two_runs_do_not_write_one_out(table: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.parquet"
    other = Checkpoint(out)
    other.begin({"input": "elsewhere"}, fresh=False)
    code, _, said = batch(table, out, "--only", "density")
    other.release()
    assert code == 2
    assert "another run is writing" in said


@pytest.mark.parametrize(
    ("out", "words"),
    [
        ("nowhere/out.parquet", "there is no folder"),
        ("folder.parquet", "is a folder"),
        ("out.xlsx", "written as .parquet"),
        ("in.parquet", "is the input"),
        ("/sys/out.parquet", "can't be written"),
    ],
)
def test_an_out_that_cannot_be_written_is_refused_at_once(
    table: Path, tmp_path: Path, out: str, words: str
) -> None:
    if out.startswith("/sys") and not Path("/sys").is_dir():
        pytest.skip("no /sys here")
    (tmp_path / "folder.parquet").mkdir()
    code, _, said = batch(table, tmp_path / out, "--only", "density", "--force")
    assert code == 2
    assert words in said
    assert len(pq.read_table(table)) == 180


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "no such file"),
        ("formula,material,grams\n", "no formulas"),
        ("material,grams\nPG,1\n", "no column formula"),
    ],
)
def test_an_input_without_formulas_is_refused(
    tmp_path: Path, content: str | None, words: str
) -> None:
    path = tmp_path / "in.csv"
    if content is not None:
        path.write_text(content)
    code, _, said = batch(path, tmp_path / "out.csv")
    assert code == 2
    assert words in said
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (("--only", "taste"), "no such question: taste"),
        (("--temperature-C", "900"), "outside -40 to 150"),
        (("--batch-g", "heaps"), "not a batch size"),
        (("--workers", "2", "--scheduler", "tcp://nowhere"), "not both"),
        (("--workers", "0"), "outside 1 to"),
    ],
)
def test_options_that_cannot_be(
    table: Path, tmp_path: Path, option: tuple[str, ...], words: str
) -> None:
    code, _, said = batch(table, tmp_path / "out.parquet", *option)
    assert code == 2
    assert words in said


def test_one_bad_row_among_five_thousand(tmp_path: Path) -> None:
    lines = [f"F{n // 5},{m},{1 + n % 3}" for n in range(1000)
             for m in ("ethyl butyrate", "vanillin", "PG", "linalool", "triacetin")]  # fmt: skip
    lines[2503] = lines[2503].rsplit(",", 1)[0] + ",plenty"
    path, out = tmp_path / "in.csv", tmp_path / "out.csv"
    path.write_text("formula,material,grams\n" + "\n".join(lines) + "\n")
    code, said, _ = batch(path, out, "--only", "density", "--json")
    assert code == 0
    made = json.loads(said)
    assert (made["formulas"], made["answered"], made["refused"]) == (200, 199, {"grams": 1})
    table = pyarrow.csv.read_csv(out)
    (wrong,) = [row for row in table.to_pylist() if row["error"]]
    assert wrong["formula"] == "F100"
    assert "row 2505, column grams: 'plenty'" in wrong["error"]


def test_strict_and_hopeless_runs_exit_as_other_commands_do(tmp_path: Path) -> None:
    path, out = tmp_path / "in.parquet", tmp_path / "out.parquet"
    pq.write_table(many(4, bad=[2]), path)
    assert batch(path, out, "--only", "density", "--strict")[0] == 1
    pq.write_table(many(3, bad=[0, 1, 2]), path)
    code, _, said = batch(path, out, "--only", "density", "--force")
    assert code == 2
    assert "none of the 3 formulas" in said
    assert len(pq.read_table(out)) == 3


def test_duplicate_ids_are_found_across_parts(tmp_path: Path) -> None:
    path, out = tmp_path / "in.parquet", tmp_path / "out.parquet"
    pq.write_table(pa.concat_tables([many(7), long_table(("F2", "PG", 1.0))]), path)
    code, said, _ = batch(path, out, "--only", "density", "--chunk-size", "2", "--json")
    assert code == 0
    assert json.loads(said)["refused"] == {"duplicate id": 2}
    assert pq.read_table(out).column("error_kind").to_pylist() == [
        "duplicate id" if n in (2, 7) else None for n in range(8)
    ]


def test_ids_are_compared_in_buckets_as_at_once(tmp_path: Path) -> None:
    ids = [f"F{n % 190}" for n in range(200)] + ["", ""]
    columns = [pa.chunked_array([ids[n : n + 30]]) for n in range(0, len(ids), 30)]
    at_once = duplicate_ids(columns, len(ids))
    assert duplicate_ids(columns, len(ids), tmp_path, bucket=16) == at_once
    assert set(at_once) == {*range(1, 11), *range(191, 201)}
    assert at_once[1] == 191
    assert at_once[191] == 1
    assert not list(tmp_path.iterdir())


def test_the_summary_counts_each_kind(table: Path, tmp_path: Path) -> None:
    path = tmp_path / "in.csv"
    path.write_text(
        "formula,material,grams\n"
        "a,PG,10\nb,vanillin,5\nb,water,5\nc,ethyl acetate,9\nd,vannilin,1\n"
    )
    code, said, _ = batch(path, tmp_path / "out.csv")
    assert code == 0
    assert "4 formulas" in said
    assert "3 answered, 1 refused" in said
    for words in ("refused: material in 1", "GHS by the estimate: ", "dissolution: ", "liquid: "):
        assert words in said
    again = batch(path, tmp_path / "out.csv", "--force", "--json")[1]
    made = json.loads(again)
    assert sum(made["dissolution"].values()) == sum(made["ghs_category"].values()) == 3
