"""What the page says of one formula, computed in a worker process and sent back in three parts.

`amounts` is there at once (a few ms): what is wrong with which row, grams, millilitres, density.
`glance` follows (about 50 ms): the four answers, and the marks of the thermometer.
`everything` is the whole assessment. The three share one `Blend`, so that nothing is done twice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from blendwright.app.web.sheet import Line, Sheet
from blendwright.assess import Assessment, SolidLine, assess_blend
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import (
    AmbiguousMaterialError,
    BlendwrightError,
    FormulaError,
    OutsideScopeError,
    Problem,
    UnknownMaterialError,
)
from blendwright.estimate import Estimate, to_kelvin
from blendwright.formula import Formula, Row
from blendwright.formula.conditions import BENCH_K
from blendwright.formula.numbers import parse_batch_g
from blendwright.formula.row import parse_row
from blendwright.mixture.weighing import DROP_mL, WeighedRow, Weighing, resolve, weigh
from blendwright.observations.compared import Compared
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.observations.store import read_observations
from blendwright.report.answers_at_a_glance import Glance, at_a_glance
from blendwright.verdict import Finding
from blendwright.verdict.blend import Blend
from blendwright.verdict.contributions import Contribution
from blendwright.verdict.flammability import Classing


@dataclass(frozen=True)
class Request:
    """What a window asks about. `typing` is the row whose name is being typed just now: a name that
    the catalogue doesn't have is no mistake yet. `beyond` are names that were looked up in the
    wider library, which takes seconds to open; until then nothing is said of them.

    `materials` is the file of the person's own materials ("" for none), `observations` that of what
    the bench saw; another age is another content.
    """

    sheet: Sheet
    typing: int | None = None
    drop_mL: float = DROP_mL
    materials: str = ""
    materials_age_ns: int = 0
    beyond: tuple[str, ...] = ()
    observations: str = ""
    observations_age_ns: int = 0

    @property
    def bench_K(self) -> float:
        return to_kelvin(self.sheet.bench_C)

    @property
    def pressure_Pa(self) -> float:
        return self.sheet.pressure_kPa * 1e3


@dataclass(frozen=True)
class RowProblem:
    """What is wrong in one row (from 0; None: the whole formula), and names that may help."""

    row: int | None
    column: str | None
    message: str
    instead: tuple[str, ...] = ()
    unknown: str = ""  # the name that is looked up in the wider library


@dataclass(frozen=True)
class RowAmount:
    """One row of the grid in numbers: grams, mL at 20 °C (None: unknown), % by mass; `carrier` is
    what a dilution is in, written or not.

    The grid stands at 20 °C whatever the bench, as the mL that are typed in it are read there.
    """

    row: int
    label: str
    grams: float
    mL: float | None
    share_pct: float
    carrier: str = ""


@dataclass(frozen=True)
class Amounts:
    """The first part. With problems there is nothing but them. `waiting` are rows not counted yet:
    no amount, or a name still being typed. `density` and `volume` stand at the bench, `volume_20C`
    is the total of the grid. `is_batch_idle`: a batch size is written, but no row is made up to
    it."""

    problems: tuple[RowProblem, ...]
    waiting: tuple[int, ...]
    rows: tuple[RowAmount, ...] = ()
    total_g: float = 0.0
    density: Estimate | None = None
    volume: Estimate | None = None
    volume_20C: Estimate | None = None
    is_batch_idle: bool = False

    @property
    def is_empty(self) -> bool:
        return not self.problems and not self.rows


@dataclass(frozen=True)
class Everything:
    """The third part: the assessment without what only the models need."""

    estimates: dict[str, Estimate] = field(hash=False)
    findings: tuple[Finding, ...]
    classings: tuple[Classing, ...]
    contributions: tuple[Contribution, ...]
    solids: tuple[SolidLine, ...]
    cautions: tuple[str, ...]
    version: str
    data_version: str
    observations: tuple[Compared, ...] = ()


# The catalogue, with the person's own materials


@lru_cache(maxsize=2)
def catalogue_of(materials: str, age_ns: int) -> Catalogue:
    """Ours with theirs over it; read again when the file's age is another."""
    catalogue = default_catalogue()
    if not materials:
        return catalogue
    from blendwright.questions.materials.own import read_own_materials

    return read_own_materials(Path(materials), catalogue)


def catalogue_for(request: Request) -> Catalogue:
    return catalogue_of(request.materials, request.materials_age_ns)


@lru_cache(maxsize=2)
def observations_of(file: str, age_ns: int) -> tuple[Observation, ...]:
    """What the bench saw; read again when the file's age is another. Raises ObservationsError."""
    return read_observations(file) if file else ()


def observations_for(request: Request) -> tuple[Observation, ...]:
    """The observations that count in what is asked. Raises ObservationsError."""
    return observations_of(request.observations, request.observations_age_ns)


# From the grid to a formula


@dataclass(frozen=True)
class ReadSheet:
    """A sheet read: the formula (None with problems, or with nothing to count)."""

    formula: Formula | None
    weighing: Weighing | None
    problems: tuple[RowProblem, ...]
    waiting: tuple[int, ...]


def read(request: Request) -> ReadSheet:
    """Every problem of every row, or the formula and its weighing."""
    try:
        catalogue = catalogue_for(request)
        observations_for(request)
    except BlendwrightError as error:
        return ReadSheet(None, None, (RowProblem(None, None, str(error)),), ())
    around = request.sheet.around
    rows: list[Row] = []
    waiting: list[int] = []
    found: list[Problem] = []
    unknown: list[RowProblem] = []
    for number, line in enumerate(request.sheet.written):
        if line.is_blank:
            continue
        if _waits(number, line, request.typing, catalogue):
            waiting.append(number)
            continue
        row = parse_row(line.cells(), number + 1, found, around)
        names = _unknown_names(line, number, request, catalogue)
        unknown += names
        if row is not None and not names:
            rows.append(row)
    batch_g = None
    if request.sheet.batch_g.strip():
        batch_g = parse_batch_g(request.sheet.batch_g, found)
    name, notices = request.sheet.name.strip() or "formula", request.sheet.notices
    formula = Formula(name, tuple(rows), batch_g, notices=notices)
    weighing: Weighing | None = None
    try:
        weighing = weigh(formula, catalogue, request.drop_mL) if rows else None
    except FormulaError as error:
        of_rows = [problem for problem in error.problems if problem.row]
        found += of_rows if found or unknown else error.problems  # a row's fault first
    if found or unknown:
        problems = (*unknown, *(_row_problem(problem, catalogue) for problem in found))
        return ReadSheet(None, None, problems, tuple(waiting))
    return ReadSheet(formula if weighing else None, weighing, (), tuple(waiting))


def _waits(number: int, line: Line, typing: int | None, catalogue: Catalogue) -> bool:
    if not line.has_amount:
        return True
    if number != typing:
        return False
    try:
        catalogue.find(line.material)
    except UnknownMaterialError:
        return True
    except AmbiguousMaterialError:
        return False
    return False


def _unknown_names(
    line: Line, number: int, request: Request, catalogue: Catalogue
) -> list[RowProblem]:
    """The material and the carrier of a row, as far as the wider library is yet to be asked."""
    found = []
    for column in ("material", "carrier"):
        name = getattr(line, column).strip()
        if not name or name in request.beyond or (column == "material" and line.smiles.strip()):
            continue
        try:
            catalogue.find(name)
        except OutsideScopeError:
            continue  # told by `weigh`
        except UnknownMaterialError as error:
            words = f"{name!r} is not in the catalogue; looking for it in the wider library"
            found.append(RowProblem(number, column, words, error.suggestions, name))
        except AmbiguousMaterialError:
            continue  # told by `weigh`
    return found


def _row_problem(problem: Problem, catalogue: Catalogue) -> RowProblem:
    row = None if problem.row is None else problem.row - 1
    instead = problem.instead or _instead(problem, catalogue)
    return RowProblem(row, problem.column, problem.message, instead)


def _instead(problem: Problem, catalogue: Catalogue) -> tuple[str, ...]:
    """Names to choose from, where the name is what is wrong."""
    if problem.column not in ("material", "carrier"):
        return ()
    _, quote, rest = problem.message.partition("'")
    name = rest.partition("'")[0] if quote else ""
    try:
        catalogue.find(name)
    except UnknownMaterialError as error:
        return error.suggestions
    except AmbiguousMaterialError as error:
        return error.choices
    return ()


@lru_cache(maxsize=16)
def _read_once(request: Request) -> tuple[ReadSheet, Blend | None]:
    found = read(request)
    if found.weighing is None:
        return found, None
    return found, _blend(found.weighing, request.bench_K, request)


def _blend(weighing: Weighing, temperature_K: float, request: Request) -> Blend:
    alone = Blend(weighing, temperature_K, request.pressure_Pa)
    return with_observations(alone, observations_for(request), catalogue_for(request))[0]


def formula_of(request: Request) -> Formula:
    """The formula that a sheet holds. Raises FormulaError for one with problems or no rows."""
    found, _ = _read_once(request)
    if found.formula is None:
        problems = [
            Problem(p.message, None if p.row is None else p.row + 1, p.column)
            for p in found.problems
        ]
        name = request.sheet.name or "formula"
        raise FormulaError(name, problems or [Problem("the formula has no rows")])
    return found.formula


def blend_of(request: Request) -> Blend:
    """The answers about a sheet that holds a formula. Raises FormulaError as `formula_of` does."""
    formula_of(request)
    blend = _read_once(request)[1]
    assert blend is not None
    return blend


# The three parts


def amounts(request: Request) -> Amounts:
    """The first part."""
    found, blend = _read_once(request)
    if found.weighing is None or blend is None:
        return Amounts(found.problems, found.waiting)
    weighing = found.weighing
    formula = weighing.formula
    return Amounts(
        (),
        found.waiting,
        tuple(_row_amounts(weighing, request.drop_mL)),
        weighing.total_g,
        blend.density,
        blend.volume,
        blend.at_20C.volume,
        formula.batch_g is not None and not any(r.amount.unit == "to weight" for r in formula.rows),
    )


def _row_amounts(weighing: Weighing, drop_mL: float) -> list[RowAmount]:
    made = []
    by_line = {line: row for row in weighing.rows for line in row.lines}
    for written in weighing.formula.rows:
        row = by_line.get(written.line or 0)
        if row is None:  # a row of nothing
            continue
        density = row.density(BENCH_K).value
        grams = _grams_of_line(written, row, density, drop_mL)
        mL = None if density is None else grams / density * 1e3
        share = 100.0 * grams / weighing.total_g
        carrier = row.carrier.name if row.carrier else ""
        made.append(RowAmount((written.line or 1) - 1, row.label, grams, mL, share, carrier))
    return made


def _grams_of_line(
    written: Row, row: WeighedRow, density_kg_m3: float | None, drop_mL: float
) -> float:
    """The grams of one line, though rows of one material were added up."""
    if len(row.lines) < 2:
        return row.grams
    if written.amount.unit == "g":
        return written.amount.number
    if written.amount.unit in ("mL", "drops") and density_kg_m3 is not None:
        each_mL = drop_mL if written.amount.unit == "drops" else 1.0
        return written.amount.number * each_mL * density_kg_m3 / 1e3
    return row.grams


def glance(request: Request) -> Glance | None:
    """The second part; None where the first has problems."""
    _, blend = _read_once(request)
    return None if blend is None else at_a_glance(blend)


def everything(request: Request) -> Everything | None:
    """The third part; None where the first has problems."""
    found = _assessment(request)
    if found is None:
        return None
    return Everything(
        found.estimates,
        found.findings,
        found.classings,
        found.contributions,
        found.solids,
        found.cautions,
        found.version,
        found.data_version,
        found.observations,
    )


@lru_cache(maxsize=8)
def _assessment(request: Request) -> Assessment | None:
    found, blend = _read_once(request)
    if found.formula is None or blend is None:
        return None
    return assess_blend(blend, catalogue_for(request))


def assessment_data(request: Request) -> dict[str, object]:
    """The JSON object of the assessment. Raises FormulaError."""
    blend_of(request)  # says what is wrong
    found = _assessment(request)
    assert found is not None
    return found.to_dict()


# Getting a worker ready


def make_ready() -> bool:
    """Load the catalogue and walk the road once, so that the first keystroke finds it warm."""
    sheet = Sheet("", "", (Line("ethanol", "1"), Line("vanillin", "0.1"), Line("water", "1")))
    everything(Request(sheet))
    return True


def look_beyond(request: Request, name: str) -> None:
    """Open the wider library and look a name up, so that what is known of it is at hand."""
    try:
        resolve(name, catalogue_for(request))
    except BlendwrightError:
        return
