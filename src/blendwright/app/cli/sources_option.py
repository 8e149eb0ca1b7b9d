"""`--sources`, `--sources text`, `bibtex` or `csl`: an option whose value may be left out.

The word after it is its value only where it is one of FORMS, so that `--sources FILE` reads the
formula FILE.
"""

from __future__ import annotations

from typing import Annotated, Any

import typer
from typer.core import TyperCommand

OPTION = "--sources"
FORMS = ("text", "bibtex", "csl")

Sources = Annotated[
    str | None,
    typer.Option(
        OPTION,
        metavar="[text|bibtex|csl]",
        help="Print the bibliography instead of the report; with --json, add it.",
    ),
]


class WithSources(TyperCommand):
    """A command with the option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        return list(super().parse_args(ctx, spelled_out(args)))


def spelled_out(args: list[str]) -> list[str]:
    """Every `--sources` with its value behind an equals sign.

    >>> spelled_out(["--sources", "pear.csv"]), spelled_out(["pear.csv", "--sources", "bibtex"])
    (['--sources=text', 'pear.csv'], ['pear.csv', '--sources=bibtex'])
    """
    made: list[str] = []
    rest = list(args)
    while rest:
        word = rest.pop(0)
        if word == OPTION:
            word = f"{OPTION}={rest.pop(0) if rest and rest[0] in FORMS else FORMS[0]}"
        made.append(word)
    return made
