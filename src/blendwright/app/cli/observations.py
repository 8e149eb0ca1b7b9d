"""`blendwright observations`: list, export and forget what was recorded with `observe`."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from blendwright.app.cli.answer import print_object
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import with_nouns
from blendwright.app.cli.options import (
    STANDARD,
    AsJson,
    ObservationsFile,
    Output,
    check_free,
    observations_file,
    write_output,
)
from blendwright.observations.observation import Observation
from blendwright.observations.store import forget, forget_all, read_observations
from blendwright.report.schema import identified

SCHEMA = "blendwright/observations/1"
COLUMNS = (
    "id", "date", "question", "value", "plus_or_minus", "unit", "at_C", "pressure_kPa", "formula",
    "note", "mass_fractions",
)  # fmt: skip

observations_app = typer.Typer(
    no_args_is_help=True, help="List, export or forget what you recorded."
)


@observations_app.command("list")
def list_command(observations: ObservationsFile = None, as_json: AsJson = False) -> None:
    """Show every observation that is kept."""
    path = observations_file(observations)
    found = exit_on_error(lambda: read_observations(path))
    if as_json:
        print_object(listing(path, found))
        return
    from rich.text import Text

    from blendwright.report.terminal import console, numbers_table

    out = console()
    if not found:
        out.print(Text(f"no observations in {path}"))
        return
    table = numbers_table(("Observed", "formula", "on", "no."), words=2)
    for one in found:
        words = f"{one.words()} ({one.note})" if one.note else one.words()
        table.add_row(words, one.formula, one.seen_on.isoformat(), str(one.id))
    out.print(table)
    out.print(Text(f"kept in {path}", style="dim"))


@observations_app.command("export")
@with_nouns
def export_command(output: Output, observations: ObservationsFile = None) -> None:
    """Write every observation to a CSV or JSON file; CSV to standard output."""
    source = observations_file(observations)
    kind = ".csv" if output.output == STANDARD else Path(output.output).suffix.casefold()
    if kind not in (".csv", ".json"):
        fail(f"--output {output.output}: name a file that ends in .csv or .json")
    check_free("--output", output.output, output.force)
    found = exit_on_error(lambda: read_observations(source))
    text = _as_csv(found) if kind == ".csv" else _as_json(source, found)
    write_output(output.output, text.encode(), output.force)
    if output.output != STANDARD:
        typer.echo(f"{_counted(len(found))} written to {output.output}")


@observations_app.command("forget")
def forget_command(
    ids: Annotated[
        list[int] | None,
        typer.Argument(
            metavar="NUMBER...", help="Numbers of observations, as the list shows them."
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Forget every one.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Don't ask.")] = False,
    observations: ObservationsFile = None,
) -> None:
    """Delete observations; estimates are again what they were without them."""
    path = observations_file(observations)
    if bool(ids) == everything:
        fail("name the observations to forget by number, or give --all; not both")
    what = "every observation" if everything else f"observation {', '.join(map(str, ids or []))}"
    if not yes and not typer.confirm(f"Forget {what} in {path}?"):
        fail("nothing was forgotten")
    count = exit_on_error(lambda: forget_all(path) if everything else forget(path, ids or []))
    typer.echo(f"{_counted(count)} forgotten")


def listing(path: Path, found: Sequence[Observation]) -> dict[str, object]:
    return {
        "schema": SCHEMA,
        "file": str(path),
        "observations": [one.to_dict() for one in found],
    }


def _counted(number: int) -> str:
    return f"{number} observation" if number == 1 else f"{number} observations"


def _as_json(path: Path, found: Sequence[Observation]) -> str:
    data = identified(listing(path, found))
    return json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def _as_csv(found: Sequence[Observation]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for one in found:
        shares = "; ".join(f"{name} {share:.6g}" for name, share in one.blend.shares)
        writer.writerow({**one.to_dict(), "mass_fractions": shares})
    return out.getvalue()
