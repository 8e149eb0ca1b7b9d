"""`blendwright material`: what is known of one, find, check, add, audit."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from blendwright.app.cli.answer import print_object
from blendwright.app.cli.exit_on_error import catalogue_with, exit_on_error, fail
from blendwright.app.cli.nouns import argument, option, with_nouns
from blendwright.app.cli.options import AsJson, Force, MaterialsFile, check_free, write_output
from blendwright.app.settings import own_file
from blendwright.questions.materials.search import Wanted


class ShowByDefault(TyperGroup):
    """`material NAME` shows NAME, unless NAME is one of the sub-commands."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        first = next((word for word in args if not word.startswith("-")), None)
        if first is not None and first not in self.commands:
            args = ["show", *args]
        return list(super().parse_args(ctx, args))


material_app = typer.Typer(
    cls=ShowByDefault,
    no_args_is_help=True,
    help="What is known of a material (material NAME); find, check, add.",
)


@material_app.command()
def show(
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="A name, synonym, CAS number or SMILES.")
    ],
    materials: MaterialsFile = None,
    as_json: AsJson = False,
) -> None:
    """Show everything known of one material, with sources and the rejected values."""
    from blendwright.mixture.weighing import resolve
    from blendwright.report.material import material_dict, print_material
    from blendwright.report.terminal import console

    catalogue = catalogue_with(materials)
    found = exit_on_error(lambda: resolve(name, catalogue))
    if as_json:
        print_object(material_dict(found, catalogue), catalogue)
    else:
        print_material(found, catalogue, console())


@dataclass(frozen=True)
class Wish:
    """What the materials that are looked for have in common."""

    text: str = argument("Part of a name or synonym; may be left out.", "", metavar="TEXT")
    family: str = option("--family", "Part of a family: ester, lactone.", "")
    state: str = option("--state", "solid or liquid, at 20 °C.", "")
    flash_below_C: float | None = option("--flash-below-C", "Flash point at most.")
    flash_above_C: float | None = option("--flash-above-C", "Flash point at least.")
    boiling_below_C: float | None = option("--boiling-below-C", "Boiling point at most.")
    boiling_above_C: float | None = option("--boiling-above-C", "Boiling point at least.")

    def __post_init__(self) -> None:
        if self.state not in ("", "solid", "liquid"):
            fail(f"--state {self.state!r} is neither solid nor liquid")

    def wanted(self) -> Wanted:
        return Wanted(
            self.text,
            self.family,
            self.state,
            self.flash_below_C,
            self.flash_above_C,
            self.boiling_below_C,
            self.boiling_above_C,
        )


@material_app.command()
@with_nouns
def find(
    wish: Wish,
    output: Annotated[
        str | None,
        typer.Option("-o", "--output", metavar="FILE", help="Write CSV here, or - for the screen."),
    ] = None,
    force: Force = False,
    materials: MaterialsFile = None,
    as_json: AsJson = False,
) -> None:
    """Find materials by part of a name, family, state, flash point or boiling point."""
    from blendwright.questions.materials.search import as_csv, find_materials
    from blendwright.report.finding_materials import print_found
    from blendwright.report.terminal import console

    if output is not None:
        check_free("--output", output, force)
    catalogue = catalogue_with(materials)
    rows = find_materials(wish.wanted(), catalogue)
    if output is not None:
        write_output(output, as_csv(rows).encode(), force)
        typer.echo(f"{len(rows):,} materials written to {output}", err=output == "-")
    elif as_json:
        listed = [asdict(row) for row in rows]
        print_object({"schema": "blendwright/found/1", "materials": listed}, catalogue)
    else:
        print_found(rows, console())


@material_app.command()
def check(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Your own materials, CSV or XLSX.")],
) -> None:
    """Explain what is off in a file of your own materials."""
    from blendwright.catalogue import default_catalogue
    from blendwright.questions.materials.own import read_own_materials

    ours = default_catalogue()
    both = exit_on_error(lambda: read_own_materials(file, ours))
    names = both.own_names()
    typer.echo(f"{file}: {len(names):,} materials, nothing is off: {', '.join(names)}")


@material_app.command()
def add(
    materials: Annotated[
        str | None,
        typer.Option(
            "--materials", metavar="FILE", help="The file to add to; your kept one unless given."
        ),
    ] = None,
) -> None:
    """Ask for a material's facts on the terminal and keep them."""
    from blendwright.catalogue import default_catalogue
    from blendwright.questions.materials.own import ask_facts, read_own_materials, table_text

    path = Path(materials) if materials else own_file()
    rows = ask_facts(lambda question: str(typer.prompt(question, default="", show_default=False)))
    if not rows:
        fail("nothing was entered")
    for row in rows:
        row.setdefault("date", date.today().isoformat())
    before = path.read_text(encoding="utf-8") if path.is_file() else None
    text = table_text(rows)
    merged = before.rstrip("\n") + "\n" + text.split("\n", 1)[1] if before else text
    path.parent.mkdir(parents=True, exist_ok=True)
    trial = path.with_name(path.name + ".new")
    trial.write_text(merged, encoding="utf-8")
    try:
        exit_on_error(lambda: read_own_materials(trial, default_catalogue()))
        trial.replace(path)
    finally:
        trial.unlink(missing_ok=True)
    typer.echo(f"{rows[0]['material']} is kept in {path}")


@material_app.command()
def audit(
    summary: Annotated[bool, typer.Option("--summary", help="Counts only.")] = False,
    materials: MaterialsFile = None,
    as_json: AsJson = False,
) -> None:
    """List the catalogue's weakest entries: estimated only, disagreeing, failing a check."""
    from blendwright.questions.materials import audit as auditing
    from blendwright.report.audit import print_summary, print_weaknesses
    from blendwright.report.terminal import console

    catalogue = catalogue_with(materials)
    counts: dict[str, int | str] = {}
    if summary:
        counts = {
            **auditing.summary(catalogue),
            **_by_family(catalogue),
            **auditing.structure_figures(),
        }
    weak = [] if summary else auditing.weaknesses(catalogue)
    if as_json:
        print_object(
            {
                "schema": "blendwright/audit/1",
                "summary": counts,
                "weaknesses": [asdict(w) for w in weak],
            },
            catalogue,
        )
    elif summary:
        print_summary(counts, console())
    else:
        print_weaknesses(weak, console())


def _by_family(catalogue: Any) -> dict[str, int]:
    from blendwright.questions.materials.audit import families

    return {f"family: {name}": count for name, count in families(catalogue).items()}
