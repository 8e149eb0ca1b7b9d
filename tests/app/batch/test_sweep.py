"""A sweep varies what it is told to vary, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from blendwright import assess_many
from blendwright.app.batch.errors import BatchError
from blendwright.app.batch.row_cache import Refused, RowCache
from blendwright.app.batch.sweep import Hypercube, Sweep, planned
from blendwright.app.cli.main import app
from blendwright.catalogue import default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.formula import Formula
from blendwright.mixture.weighing import DROP_mL, Weighing
from tests.conftest import formula

EXAMPLE = str(Path(__file__).parents[3] / "examples" / "orchard-pear-cardamom.csv")
runner = CliRunner()
MADE_UP = Formula.from_rows(
    [{"material": "ethyl butyrate", "grams": 1}, {"material": "vanillin", "grams": 0.5},
     {"material": "PG", "grams": "q.s."}], batch_g=20.0,
)  # fmt: skip
WEIGHED = formula(("ethyl butyrate", 1.0), ("vanillin", 0.5), ("propylene glycol", 8.5))


def points(made: Formula, *varied: str, to_weight: bool = False) -> list[dict[str, float]]:
    """Grams by material at each point."""
    catalogue = default_catalogue()
    row_cache = RowCache(catalogue, DROP_mL)
    sweep = Sweep(planned(made, varied, catalogue, to_weight))
    found = []
    for chunk in sweep.chunks(2):
        for _, weighing in chunk.weighed(row_cache, None):
            assert isinstance(weighing, Weighing)
            found.append({row.material.name: row.grams for row in weighing.rows})
    assert len(found) == sweep.count
    return found


def test_a_grid_has_every_combination() -> None:
    made = points(WEIGHED, "ethyl butyrate=1..3 g/3", "vanillin=250,500 mg")
    assert [(p["ethyl butyrate"], p["vanillin"]) for p in made] == [
        (1.0, 0.25), (1.0, 0.5), (2.0, 0.25), (2.0, 0.5), (3.0, 0.25), (3.0, 0.5)
    ]  # fmt: skip
    assert {p["propylene glycol"] for p in made} == {8.5}


def test_the_row_made_up_to_weight_takes_the_difference() -> None:
    made = points(MADE_UP, "ethyl butyrate=0..3 g/4")
    assert [p.get("ethyl butyrate", 0.0) for p in made] == [0.0, 1.0, 2.0, 3.0]
    assert [sum(p.values()) for p in made] == pytest.approx([20.0] * 4)


def test_or_else_the_main_carrier_if_asked() -> None:
    made = points(WEIGHED, "ethyl butyrate=0..3 g/4", to_weight=True)
    assert [sum(p.values()) for p in made] == pytest.approx([10.0] * 4)
    assert [p["propylene glycol"] for p in made] == pytest.approx([9.5, 8.5, 7.5, 6.5])


def test_another_carrier_takes_the_place_of_the_main_one() -> None:
    carriers = "carrier=propylene glycol, triacetin, propylene glycol 70 + ethanol 30"
    for made, weight in ((MADE_UP, 18.5), (WEIGHED, 8.5)):
        own, other, mix = points(made, carriers)
        assert own["propylene glycol"] == pytest.approx(weight)
        assert other["triacetin"] == pytest.approx(weight)
        assert "propylene glycol" not in other
        assert mix["ethanol"] == pytest.approx(0.3 * weight)
        assert {p["vanillin"] for p in (own, other, mix)} == {0.5}


def test_a_latin_hypercube_fills_every_slice_once() -> None:
    plan = planned(WEIGHED, ["ethyl butyrate=0..2 g", "carrier=PG,triacetin"], default_catalogue())
    (chunk,) = Sweep(plan, Hypercube(10, 3)).chunks(100)
    weights = [float(point[0]) for point in chunk.points]  # type: ignore[attr-defined]
    assert sorted(int(w / 0.2) for w in weights) == list(range(10))
    carriers = [point[1] for point in chunk.points]  # type: ignore[attr-defined]
    assert carriers.count("PG") == carriers.count("triacetin") == 5
    (again,) = Sweep(plan, Hypercube(10, 3)).chunks(100)
    assert again.points == chunk.points  # type: ignore[attr-defined]


def test_a_point_beyond_the_batch_is_a_row_with_its_error() -> None:
    catalogue = default_catalogue()
    for made, to_weight in ((MADE_UP, False), (WEIGHED, True)):
        (chunk,) = Sweep(planned(made, ["ethyl butyrate=1,30 g"], catalogue, to_weight)).chunks(9)
        (_, good), (_, bad) = chunk.weighed(RowCache(catalogue, DROP_mL), None)
        assert isinstance(good, Weighing)
        assert isinstance(bad, Refused)
        assert "more" in bad.message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("ethyl butyrate", "write it like"),
        ("ethyl butyrate=a lot", "neither a range"),
        ("ethyl butyrate=3..1 g/5", "goes upwards"),
        ("ethyl butyrate=0..1 g/1", "two steps"),
        ("limonene=0..1 g/3", "isn't in"),
        ("limonnene=0..1 g/3", "closest names"),
        ("PG=0..1 g/3", "made up to weight"),
        ("carrier=triacetim", "unknown material"),
    ],
)
def test_what_cannot_be_varied_is_told(text: str, words: str) -> None:
    with pytest.raises(BlendwrightError, match=words):
        planned(MADE_UP, [text], default_catalogue())


def test_varied_twice_or_without_carrier() -> None:
    catalogue = default_catalogue()
    with pytest.raises(BatchError, match="varied twice: vanillin"):
        planned(MADE_UP, ["vanillin=1,2 g", "vanilin=3,4 g".replace("lin", "llin")], catalogue)
    with pytest.raises(BatchError, match="no carrier"):
        planned(formula(("vanillin", 1.0), ("limonene", 9.0)), ["carrier=PG"], catalogue)


def sweep(*arguments: object) -> tuple[int, str]:
    done = runner.invoke(app, ["sweep", EXAMPLE, *map(str, arguments)])
    assert "Traceback" not in done.output
    return done.exit_code, done.output


def test_the_table_is_that_of_the_batch_with_what_was_varied(tmp_path: Path) -> None:
    out = tmp_path / "sweep.parquet"
    vary = ("--vary", "ethyl butyrate=1..3 g/3", "--vary", "carrier=PG,triacetin")
    assert sweep(*vary, "-o", out, "--only", "density")[0] == 0
    table = pq.read_table(out)
    assert table.column("vary_ethyl butyrate_g").to_pylist() == [1.0, 1.0, 2.0, 2.0, 3.0, 3.0]
    assert table.column("vary_carrier").to_pylist() == ["PG", "triacetin"] * 3
    usual = assess_many([], temperature_K=298.15, pressure_Pa=101325.0, only=["density"])
    assert [n for n in table.column_names if not n.startswith("vary_")] == usual.column_names
    assert table.column("density_g_mL").null_count == 0


@pytest.mark.parametrize(
    "vary",
    [
        ["ethyl butyrate=1..3 g/3"],
        ["ethyl butyrate=1..3 g/3", "vanillin=0.5,1 g"],
        ["ethyl butyrate=1..3 g/2", "carrier=PG,triacetin"],
        ["carrier=PG,triacetin"],
    ],
    ids=["line", "map", "line for each carrier", "point for each carrier"],
)
def test_it_draws_what_was_varied(tmp_path: Path, vary: list[str]) -> None:
    picture = tmp_path / "sweep.svg"
    options = [part for text in vary for part in ("--vary", text)]
    code, _ = sweep(
        *options, "-o", tmp_path / "s.csv", "--only", "density", "--plot", picture,
        "--plot-of", "density_g_mL",
    )  # fmt: skip
    assert code == 0
    text = picture.read_text(encoding="utf-8")
    assert "density, g/mL" in text
    assert ("ethyl butyrate, g" in text) == (len(vary) > 1 or "ethyl" in vary[0])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "give at least one --vary"),
        (("--vary", "vanillin=1,2 g", "--plot", "x.pdf"), "a .png or a .svg"),
        (("--vary", "vanillin=1,2 g", "--plot", "x.svg", "--only", "density"), "not asked"),
        (("--vary", "vanillin=0..1 g/30000", "--plot", "x.svg"), "points at most"),
    ],
)
def test_options_that_cannot_be(tmp_path: Path, options: tuple[str, ...], words: str) -> None:
    code, told = sweep(*options, "-o", tmp_path / "s.parquet")
    assert code == 2
    assert words in told
