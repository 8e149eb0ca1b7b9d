"""`blendwright observe` records what the bench saw; `blendwright observations` shows, exports and
forgets it. Nothing leaves the machine."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Sequence
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, print_json, stop, usable
from blendwright.app.cli.options import (
    AsJson,
    BatchG,
    DropML,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    check_range,
    print_answer,
    read_or_stop,
)
from blendwright.catalogue import Catalogue
from blendwright.formula import Formula
from blendwright.formula.conditions import ATMOSPHERE_Pa
from blendwright.mixture.weighing import DROP_mL, weigh
from blendwright.observations.observation import (
    Circumstances,
    Observation,
    Typed,
    measured_blend,
    observations_of,
)
from blendwright.observations.store import (
    forget,
    forget_all,
    keep,
    own_observations,
    read_observations,
)

if TYPE_CHECKING:
    from rich.console import Console

SCHEMA = "blendwright/observations/1"
COLUMNS = (
    "id", "date", "question", "value", "plus_or_minus", "unit", "at_C", "pressure_kPa", "formula",
    "note", "mass_fractions",
)  # fmt: skip
MOST_AHEAD = timedelta(days=1)  # of the clock here: the bench may lie in another time zone

Kept = Annotated[
    str | None,
    typer.Option(
        "--observations",
        envvar="BLENDWRIGHT_OBSERVATIONS",
        help="The file of observations; in your data folder unless given.",
    ),
]
NoObservations = Annotated[
    bool, typer.Option("--no-observations", help="Leave out what you recorded with 'observe'.")
]
At = str | None


def observations_file(named: str | None) -> Path:
    """The file named, or the one in the person's data folder."""
    return Path(named) if named else own_observations()


def counted_observations(kept: str | None, left_out: bool) -> tuple[Observation, ...]:
    """The person's own, for a command that counts them; none where they are to be left out."""
    return () if left_out else usable(lambda: read_observations(observations_file(kept)))


def observe_command(
    file: FormulaFile = None,
    row: Rows = None,
    clear_at: Annotated[At, typer.Option("--clear-at", help="Clear at this many °C.")] = None,
    cloudy_at: Annotated[At, typer.Option("--cloudy-at", help="Cloudy or parted at, °C.")] = None,
    cloud_point: Annotated[
        At, typer.Option("--cloud-point", help="Where it clouded on slow cooling, °C.")
    ] = None,
    crystals_gone_at: Annotated[
        At, typer.Option("--crystals-gone-at", help="Where the last crystals went, °C.")
    ] = None,
    flash: Annotated[At, typer.Option("--flash", help="Closed-cup flash point, °C.")] = None,
    boiling: Annotated[At, typer.Option("--boiling", help="First boiling, °C.")] = None,
    density: Annotated[At, typer.Option("--density", help="g/mL.")] = None,
    density_at: Annotated[
        At, typer.Option("--density-at", help="Temperature of the density, °C; 20 unless given.")
    ] = None,
    flash_pm: Annotated[At, typer.Option("--flash-pm", help="± of the flash point, °C.")] = None,
    boiling_pm: Annotated[At, typer.Option("--boiling-pm", help="± of the boiling, °C.")] = None,
    density_pm: Annotated[At, typer.Option("--density-pm", help="± of the density, g/mL.")] = None,
    crystals_gone_pm: Annotated[
        At, typer.Option("--crystals-gone-pm", help="± of where the crystals went, °C.")
    ] = None,
    temperature_C: Annotated[
        At, typer.Option("--temperature-C", help="Bench temperature, for --density.")
    ] = None,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    on: Annotated[
        str | None, typer.Option("--date", help="When, as 2026-11-20; today unless given.")
    ] = None,
    note: Annotated[str, typer.Option("--note", help="Anything worth remembering.")] = "",
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    kept: Kept = None,
    as_json: AsJson = False,
) -> None:
    """Record what the bench saw of a formula; later assessments of its like count it."""
    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_range("--pressure-kPa", pressure_kPa, 10.0, 120.0)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    typed = [
        Typed("clear", clear_at or ""),
        Typed("cloudy", cloudy_at or ""),
        Typed("cloud_point", cloud_point or ""),
        Typed("crystals_gone", crystals_gone_at or "", crystals_gone_pm),
        Typed("flash_point", flash or "", flash_pm),
        Typed("boiling_point", boiling or "", boiling_pm),
        Typed("density", density or "", density_pm, _bench_K(density_at, temperature_C)),
    ]
    for one in typed:
        if one.plus_or_minus is not None and not one.value:
            stop(f"a ± is given for the {one.question.replace('_', ' ')}, but no value")
    if density_at is not None and density is None:
        stop("--density-at is given, but no --density")

    def recorded() -> tuple[Observation, ...]:
        about = _circumstances(formula, catalogue, drop_mL, pressure_kPa, on, note)
        made = observations_of([one for one in typed if one.value], about)
        return keep(observations_file(kept), made)

    made = usable(recorded)

    def printed(out: Console) -> None:
        for seen in made:
            typer.echo(f"{seen.id}: {seen.words()}, {seen.seen_on.isoformat()}, {seen.formula}")
        typer.echo(f"kept in {observations_file(kept)}, on this machine only")

    print_answer(formula, as_json, lambda: _listing(observations_file(kept), made), printed)


def _circumstances(
    formula: Formula,
    catalogue: Catalogue,
    drop_mL: float,
    pressure_kPa: float,
    on: str | None,
    note: str,
) -> Circumstances:
    return Circumstances(
        measured_blend(weigh(formula, catalogue, drop_mL).composition),
        formula.name,
        _day(on),
        pressure_kPa * 1e3,
        note.strip(),
    )


def _bench_K(density_at: str | None, temperature_C: str | None) -> float | None:
    from blendwright.formula.numbers import parse_number, why_no_number

    option, text = (
        ("--density-at", density_at)
        if density_at is not None
        else ("--temperature-C", temperature_C)
    )
    if text is None:
        return None
    celsius = parse_number(text)
    if celsius is None:
        stop(f"{option}: {why_no_number(text, like='20')}")
    check_range(option, celsius, -40.0, 150.0)
    return celsius + 273.15


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        stop(f"--date {text!r} is not a day; write it like 2026-11-20")
    if day > date.today() + MOST_AHEAD:
        stop(f"--date {text} lies in the future")
    return day


observations_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="List, export or forget what you recorded with 'blendwright observe'.",
)


@observations_app.command("list")
def list_command(kept: Kept = None, as_json: AsJson = False) -> None:
    """Show every observation that is kept."""
    path = observations_file(kept)
    found = usable(lambda: read_observations(path))
    if as_json:
        print_json(_listing(path, found))
        return
    from rich.text import Text

    from blendwright.report.terminal import console, numbers_table

    out = console()
    if not found:
        out.print(Text(f"no observations in {path}"))
        return
    table = numbers_table(("Observed", "of", "on", "no."), words=2)
    for one in found:
        told = f"{one.words()} ({one.note})" if one.note else one.words()
        table.add_row(Text(told), Text(one.formula), one.seen_on.isoformat(), str(one.id))
    out.print(table)
    out.print(Text(f"kept in {path}", style="dim"))


@observations_app.command("export")
def export_command(
    file: Annotated[str, typer.Argument(help="A file to write: .csv or .json.")],
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Write over a file that is there.")
    ] = False,
    kept: Kept = None,
) -> None:
    """Write every observation to a CSV or JSON file."""
    path, source = Path(file), observations_file(kept)
    kind = path.suffix.casefold()
    if kind not in (".csv", ".json"):
        stop(f"{file}: name a file that ends in .csv or .json")
    found = usable(lambda: read_observations(source))
    text = (
        json.dumps(_listing(source, found), ensure_ascii=False, indent=2, allow_nan=False) + "\n"
        if kind == ".json"
        else _as_csv(found)
    )
    try:
        _write(path, text, overwrite)
    except FileExistsError:
        stop(f"{file} is there already; name another file, or give --overwrite")
    except OSError as error:
        stop(f"{file} can't be written ({error.strerror})")
    typer.echo(f"{_counted(len(found))} written to {file}")


@observations_app.command("forget")
def forget_command(
    ids: Annotated[
        list[int] | None, typer.Argument(help="Numbers of observations, as the list shows them.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Forget every one.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Don't ask.")] = False,
    kept: Kept = None,
) -> None:
    """Delete observations; estimates are again what they were without them."""
    path = observations_file(kept)
    if bool(ids) == everything:
        stop("name the observations to forget by number, or give --all; not both")
    what = "every observation" if everything else f"observation {', '.join(map(str, ids or []))}"
    if not yes and not typer.confirm(f"Forget {what} in {path}?"):
        stop("nothing was forgotten")
    count = usable(lambda: forget_all(path) if everything else forget(path, ids or []))
    typer.echo(f"{_counted(count)} forgotten")


def _counted(number: int) -> str:
    return f"{number} observation" if number == 1 else f"{number} observations"


def _listing(path: Path, found: Sequence[Observation]) -> dict[str, object]:
    return {
        "schema": SCHEMA,
        "file": str(path),
        "observations": [one.to_dict() for one in found],
    }


def _as_csv(found: Sequence[Observation]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for one in found:
        shares = "; ".join(f"{name} {share:.6g}" for name, share in one.blend.shares)
        writer.writerow({**one.to_dict(), "mass_fractions": shares})
    return out.getvalue()


def _write(path: Path, text: str, overwrite: bool) -> None:
    """Raises FileExistsError where a file is there and not to be written over; OSError."""
    if not overwrite:
        with path.open("x", encoding="utf-8") as made:
            made.write(text)
        return
    trial = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        trial.write_text(text, encoding="utf-8")
        trial.replace(path)
    finally:
        with suppress(OSError):
            trial.unlink()
