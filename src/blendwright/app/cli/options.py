"""What the commands share: the nouns that their options make up (`nouns.with_nouns`).

Each option of a shared kind is declared here once, with its name, its help and its check.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import MISSING, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, exit_on_error, fail
from blendwright.app.cli.nouns import argument, option
from blendwright.catalogue import Catalogue
from blendwright.errors import FormulaError, Problem
from blendwright.estimate import to_kelvin
from blendwright.formula import Formula, read_formula, read_formula_bytes
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.formula.numbers import parse_batch_g
from blendwright.mixture.weighing import DROP_mL, telling_of_names, with_name_problems
from blendwright.observations import Observation
from blendwright.observations.store import own_observations, read_observations

STANDARD = "-"  # standard input, or standard output
PICTURES = (".png", ".svg")
MaterialsFile = Annotated[
    str | None,
    typer.Option(
        "--materials", metavar="FILE", help="Your own materials (CSV or XLSX); they win over ours."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
ObservationsFile = Annotated[
    str | None,
    typer.Option(
        "--observations",
        metavar="FILE",
        envvar="BLENDWRIGHT_OBSERVATIONS",
        help="The file of observations; in your data folder unless given.",
    ),
]
Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]


@dataclass(frozen=True)
class Making:
    """How a formula is made: batch size, drop, and the person's own materials."""

    batch_g: str | None = option("--batch-g", "Batch size that q.s. rows are made up to.")
    drop_mL: float | None = option(
        "--drop-mL", f"Volume of one drop, mL; {DROP_mL:g} unless given."
    )
    materials: MaterialsFile = None

    def __post_init__(self) -> None:
        if self.drop_mL is not None:
            check_range("--drop-mL", self.drop_mL, 0.001, 1.0)

    @property
    def one_drop_mL(self) -> float:
        return DROP_mL if self.drop_mL is None else self.drop_mL

    def catalogue(self) -> Catalogue:
        return catalogue_with(self.materials)

    def size_g(self) -> float | None:
        """Raises FormulaError for a text that is no mass."""
        if self.batch_g is None:
            return None
        problems: list[Problem] = []
        size = parse_batch_g(self.batch_g, problems)
        if size is None:
            raise FormulaError("--batch-g", problems)
        return size


@dataclass(frozen=True)
class FormulaInput(Making):
    """A formula from a file, from standard input, or typed."""

    file: str | None = argument(
        "A formula file (CSV, TSV or XLSX), or - for standard input.", metavar="FILE"
    )
    row: list[str] | None = option(
        "--row", 'A row typed here, "material=grams"; may be given again.', metavar="TEXT"
    )

    def read(self, catalogue: Catalogue) -> Formula:
        """The formula, its drops as millilitres; or stop with every problem that it has."""
        return self.read_with_drops(catalogue).drops_as_mL(self.one_drop_mL)

    def read_with_drops(self, catalogue: Catalogue) -> Formula:
        """The formula with rows in drops as they are written, for whoever counts the drop."""
        try:
            return telling_of_names(self._read(), catalogue)
        except FormulaError as error:
            fail(str(with_name_problems(error, catalogue)))

    def _read(self) -> Formula:
        if self.file and self.row:
            raise FormulaError("command line", [Problem("give a file or --row, not both")])
        size = self.size_g()
        if self.file == STANDARD:
            return read_formula_bytes(sys.stdin.buffer.read(), "standard input", size)
        if self.file:
            return read_formula(self.file, size)
        if self.row:
            return Formula.from_rows([_typed(text) for text in self.row], "typed rows", size)
        raise FormulaError(
            "command line", [Problem('give a formula file, - or --row "material=grams"')]
        )


def _typed(text: str) -> dict[str, object]:
    name, equals, amount = text.rpartition("=")
    if not equals:
        raise FormulaError("--row", [Problem(f"{text!r} needs an equals sign: material=grams")])
    return {"material": name, "grams": amount}


@dataclass(frozen=True)
class Bench:
    """Where the answers stand: what the engine answers for."""

    temperature_C: float = option("--temperature-C", "Bench temperature, -40 to 150 °C.", BENCH_C)
    pressure_kPa: float = option(
        "--pressure-kPa", "Air pressure, 10 to 120 kPa.", ATMOSPHERE_Pa / 1e3
    )

    def __post_init__(self) -> None:
        check_range("--temperature-C", self.temperature_C, -40.0, 150.0)
        check_range("--pressure-kPa", self.pressure_kPa, 10.0, 120.0)

    @property
    def temperature_K(self) -> float:
        return to_kelvin(self.temperature_C)

    @property
    def pressure_Pa(self) -> float:
        return self.pressure_kPa * 1e3


@dataclass(frozen=True)
class ObservationOptions:
    """What the bench saw, as far as it counts."""

    observations: ObservationsFile = None
    no_observations: bool = option(
        "--no-observations", "Leave out what you recorded with 'observe'.", False
    )

    def read(self) -> tuple[Observation, ...]:
        """The person's own; none where they are to be left out."""
        if self.no_observations:
            return ()
        return exit_on_error(lambda: read_observations(observations_file(self.observations)))


def observations_file(named: str | None) -> Path:
    """The file named, or the one in the person's data folder."""
    return Path(named) if named else own_observations()


@dataclass(frozen=True)
class Printed:
    """How the answer is given."""

    as_json: AsJson = False
    strict: bool = option("--strict", "Exit with 1 on a warning.", False)


@dataclass(frozen=True)
class Output:
    """Into which file, or - for standard output."""

    output: str = option(
        ("-o", "--output"), "The file, or - for the screen.", MISSING, metavar="FILE"
    )
    force: Force = False


@dataclass(frozen=True)
class PictureOptions:
    """Whether a picture is drawn, and into which file."""

    plot: str | None = option(
        "--plot", "Draw it too: a .png or .svg file (extra pictures).", metavar="FILE"
    )
    force: Force = False

    def __post_init__(self) -> None:
        if self.plot is not None:
            check_picture(self.plot, self.force)

    def draw(self, figure: Callable[[], Figure]) -> None:
        """Draw where one is asked for; a missing extra is said, with what to do."""
        if self.plot is not None:
            draw(self.plot, figure)


def check_picture(path: str, force: bool) -> None:
    """Stop before the work is done where the picture can't be, or would write over a file."""
    if not path.endswith(PICTURES):
        fail(f"--plot {path}: a picture is a .png or a .svg file")
    check_free("--plot", path, force)
    from blendwright.report.pictures.canvas import drawing

    def can_draw() -> None:
        with drawing():
            pass

    exit_on_error(can_draw)


def draw(path: str, figure: Callable[[], Figure]) -> None:
    from blendwright.report.pictures import save

    exit_on_error(lambda: save(figure(), Path(path)))
    typer.echo(f"drew {path}", err=True)


def check_free(option: str, path: str, force: bool) -> None:
    """Nothing is written over without --force."""
    if not force and path != STANDARD and Path(path).exists():
        fail(f"{option} {path}: it is there already; name another file, or give --force")


def write_output(path: str, content: bytes, force: bool) -> None:
    """Into the file, whole or not at all, or to standard output."""
    if path == STANDARD:
        sys.stdout.buffer.write(content)
        return
    check_free("--output", path, force)
    target = Path(path)
    trial = target.with_name(f".{target.name}.new")
    try:
        trial.write_bytes(content)
        trial.replace(target)
    except OSError as error:
        fail(f"--output {path}: can't be written ({error.strerror})")
    finally:
        trial.unlink(missing_ok=True)


def check_range(option: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        fail(f"{option} {value:g} is outside {low:g} to {high:g}")


if TYPE_CHECKING:
    from matplotlib.figure import Figure
