"""How a command gives its answer: printed, or as one JSON object of its schema."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import typer

from blendwright.app.cli.exit_on_error import print_json
from blendwright.catalogue import Catalogue
from blendwright.formula import Formula
from blendwright.report.schema import identified
from blendwright.verdict.as_read import as_read

if TYPE_CHECKING:
    from rich.console import Console

EXIT_WARNING = 1


def print_object(data: Mapping[str, Any], catalogue: Catalogue | None = None) -> None:
    """One JSON object with the versions of the program and its data."""
    print_json(identified(data, catalogue))


def print_answer(
    formula: Formula,
    catalogue: Catalogue,
    as_json: bool,
    data: Callable[[], Mapping[str, Any]],
    printed: Callable[[Console], None],
) -> None:
    """An answer under what reading the formula left open; in JSON that leads the findings."""
    from blendwright.report.terminal import console, print_findings

    read = as_read(formula.notices)
    if not as_json:
        out = console()
        print_findings(read, out)
        printed(out)
        return
    made = identified(data(), catalogue)
    told = [finding.to_dict() for finding in read]
    found = [finding for finding in made.get("findings", []) if finding not in told]
    print_object({**made, "findings": [*told, *found]}, catalogue)


def print_as_read(formula: Formula) -> None:
    """What reading the formula left open, on standard error: the answer goes into a file."""
    from blendwright.report.terminal import console, print_findings

    print_findings(as_read(formula.notices), console(stderr=True))


def exit_on_warning(strict: bool, has_warning: bool) -> None:
    """Exit with 1 where that was asked for and a warning was raised."""
    if strict and has_warning:
        raise typer.Exit(EXIT_WARNING)
