"""`blendwright assess`: the four questions of the bench, answered in 25 lines."""

from __future__ import annotations

from typing import Annotated

import typer

from blendwright.app.cli.answer import exit_on_warning, print_object
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import with_nouns
from blendwright.app.cli.options import (
    Bench,
    Force,
    FormulaInput,
    ObservationOptions,
    Printed,
    check_free,
    write_output,
)
from blendwright.assess import Assessment, assess
from blendwright.catalogue import Catalogue
from blendwright.report.assessment import ALL, PARTS, parts_of

Show = Annotated[
    str,
    typer.Option(
        "--show", metavar="PARTS", help=f"Open more, comma separated: {', '.join((*PARTS, ALL))}."
    ),
]
Bibtex = Annotated[
    str | None,
    typer.Option(
        "--bibtex", metavar="FILE", help="Write its sources as BibTeX, too; - prints only these."
    ),
]
Csl = Annotated[
    str | None,
    typer.Option(
        "--csl", metavar="FILE", help="Write its sources as CSL-JSON, too; - prints only these."
    ),
]


@with_nouns
def assess_command(
    formula: FormulaInput,
    bench: Bench,
    observed: ObservationOptions,
    printed: Printed,
    show: Show = "",
    bibtex: Bibtex = None,
    csl: Csl = None,
    force: Force = False,
) -> None:
    """Does it dissolve, split, burn; how many millilitres is it?"""
    try:
        parts = parts_of(show)
    except ValueError as error:
        fail(f"--show: {error}")
    for option, file in (("--bibtex", bibtex), ("--csl", csl)):
        if file is not None:
            check_free(option, file, force)
    catalogue = formula.catalogue()
    written = formula.read(catalogue)
    found = exit_on_error(
        lambda: assess(
            written,
            bench.temperature_K,
            bench.pressure_Pa,
            catalogue=catalogue,
            observations=observed.read(),
        )
    )
    for file, form in ((bibtex, "bibtex"), (csl, "csl_json")):
        if file is not None:
            write_output(file, _bibliography(found, catalogue, form), force)
    if "-" not in (bibtex, csl):
        _print(found, catalogue, parts, printed.as_json)
    exit_on_warning(printed.strict, found.has_warning)


def _print(found: Assessment, catalogue: Catalogue, parts: tuple[str, ...], as_json: bool) -> None:
    if not as_json:
        from blendwright.report.assessment import print_assessment
        from blendwright.report.terminal import console

        exit_on_error(lambda: print_assessment(found, console(), parts, catalogue))
        return
    data = found.to_dict()
    if "sources" in parts:
        from blendwright.report.sources import bibliography

        entries = exit_on_error(lambda: bibliography(found, catalogue))
        data["bibliography"] = [entry.to_dict() for entry in entries]
    print_object(data, catalogue)


def _bibliography(found: Assessment, catalogue: Catalogue, form: str) -> bytes:
    from blendwright.report import bibliography as forms
    from blendwright.report.sources import bibliography

    entries = exit_on_error(lambda: bibliography(found, catalogue))
    text: str = getattr(forms, form)(entries)
    return text.encode()
