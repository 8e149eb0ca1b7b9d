"""Workers change nothing but the time; a dead one costs a retry and no answer."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from blendwright.app.batch import cluster
from blendwright.app.batch.chunks import FormulasChunk
from blendwright.app.batch.cluster import local_cluster, on_workers, worked
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.evaluate import BatchRequest, OwnMaterials, evaluated
from blendwright.app.batch.reading import LongTable
from blendwright.app.batch.row_cache import RowCache
from blendwright.app.batch.run import Order, in_process, run
from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.questions.materials.own import read_own_materials
from tests.app.batch.conftest import Perilous, many

ASKED = BatchRequest(298.15, 101325.0, ("density", "vapour"))


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    with local_cluster(2) as made:
        yield made


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "in.parquet"
    pq.write_table(many(24, bad=[5]), path)
    return path


def ran(order: Order, client: Any = None) -> bytes:
    compute = in_process(order) if client is None else on_workers(order, client)
    run(order, compute, lambda count, share: None)
    return order.out.read_bytes()


def test_workers_write_the_same_file_to_the_byte(table: Path, tmp_path: Path, client: Any) -> None:
    here = Order(LongTable(table), tmp_path / "here.parquet", ASKED, default_catalogue(), 5)
    there = Order(LongTable(table), tmp_path / "there.parquet", ASKED, default_catalogue(), 5)
    assert ran(here) == ran(there, client)


def test_many_formulas_go_to_every_core_unless_told_otherwise(
    table: Path, tmp_path: Path, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first chunk is answered here, the others on the workers; a few formulas start none."""
    asked_for = []

    @contextmanager
    def cluster_of(workers: int, memory: str) -> Iterator[Any]:
        asked_for.append(workers)
        yield client

    monkeypatch.setattr(cluster, "local_cluster", cluster_of)
    monkeypatch.setattr(cluster, "cores", lambda memory: 2)
    made = []
    for many_from in (10_000, 20):
        monkeypatch.setattr(cluster, "MANY", many_from)
        out = tmp_path / f"{many_from}.parquet"
        order = Order(LongTable(table), out, ASKED, default_catalogue(), 5)
        run(order, cluster.on_all_cores(order), lambda count, share: None)
        made.append((out.read_bytes(), list(asked_for)))
    assert made[0][0] == made[1][0]
    assert [started for _, started in made] == [[], [2]]


def test_a_run_that_goes_on_counts_what_is_left() -> None:
    """The first chunk of 20,000 formulas leaves all to do, the ninth a few, the last nothing."""
    for first, to_do in ((1, 20_000.0), (16_001, 4_000.0), (18_001, 0.0)):
        chunk = FormulasChunk(0, first, (None,) * 2000, (first + 1999) / 20_000)  # type: ignore[arg-type]
        assert cluster._formulas_from(chunk) == pytest.approx(to_do)


def test_a_few_formulas_wait_for_no_cluster(table: Path, tmp_path: Path) -> None:
    """Importing it alone takes longer than they do."""
    command = ["batch", str(table), "-o", str(tmp_path / "o.csv"), "--only", "density", "--quiet"]
    program = (
        "import sys\nfrom blendwright.app.cli.main import app\n"
        f"app({command!r}, standalone_mode=False)\nassert 'distributed' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_one_worker_is_this_process(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise AssertionError("a worker was started")

    monkeypatch.setattr(cluster, "local_cluster", none)
    out = str(tmp_path / "o.csv")
    command = ["batch", str(table), "-o", out, "--workers", "1", "--only", "density"]
    assert CliRunner().invoke(app, command).exit_code == 0


def test_a_killed_worker_costs_a_retry_not_an_answer(
    table: Path, tmp_path: Path, client: Any
) -> None:
    here = Order(LongTable(table), tmp_path / "here.parquet", ASKED, default_catalogue(), 4)
    there = Order(Perilous(table, 3), tmp_path / "there.parquet", ASKED, default_catalogue(), 4)
    made = ran(there, client)
    killed = int(table.with_suffix(".killed").read_text())
    assert killed != os.getpid()
    assert made == ran(here)


def test_own_materials_travel_with_the_work(tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text("material,property,value,unit,temperature_C\nvanillin,melting_point,80,°C,\n")
    catalogue = read_own_materials(own, default_catalogue())
    carried = OwnMaterials.of(catalogue)
    assert carried is not None
    (chunk,) = LongTable(_written(tmp_path)).chunks(10)
    versions, table = worked(chunk, ASKED, carried)
    assert versions[1] == catalogue.version() != default_catalogue().version()
    assert table.equals(evaluated(chunk, RowCache(catalogue, ASKED.drop_mL), ASKED))


def _written(folder: Path) -> Path:
    path = folder / "in.parquet"
    pq.write_table(many(2), path)
    return path


def test_a_worker_with_other_data_is_refused(
    table: Path, tmp_path: Path, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Catalogue, "version", lambda self: "0ther")
    order = Order(LongTable(table), tmp_path / "out.parquet", ASKED, default_catalogue(), 5)
    with pytest.raises(BatchError, match="install the same everywhere"):
        ran(order, client)


def test_a_scheduler_that_is_not_there_is_told(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("blendwright.app.batch.cluster.PATIENCE_s", 1)
    done = CliRunner().invoke(
        app,
        ["batch", str(table), "-o", str(tmp_path / "o.csv"), "--scheduler", "tcp://127.0.0.1:9"],
    )
    assert done.exit_code == 2
    assert "no Dask scheduler answers at tcp://127.0.0.1:9" in done.stderr


def test_without_dask_the_extra_is_named(
    table: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = CliRunner().invoke(
        app, ["batch", str(table), "-o", str(tmp_path / "o.csv"), "--workers", "2"]
    )
    assert done.exit_code == 2
    assert "pip install 'blendwright[batch]'" in done.stderr
