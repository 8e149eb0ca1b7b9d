"""`blendwright accuracy`: how far the answers are off, against published measurements."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.app.cli.answer import print_object
from blendwright.app.cli.exit_on_error import fail
from blendwright.app.cli.options import AsJson

Question = Annotated[
    str | None,
    typer.Argument(
        metavar="QUESTION", help="dissolve, burn, vapour, volume, materials; all unless given."
    ),
]


def accuracy_command(
    question: Question = None,
    rerun: Annotated[
        bool,
        typer.Option("--rerun", help="Calculate the figures now: some minutes, with tables."),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """How far are the answers off, against published measurements?"""
    from blendwright.report.accuracy import (
        QUESTION_NAMES,
        calculated,
        markdown,
        print_sentences,
        shipped,
        targets,
    )
    from blendwright.report.terminal import console

    if question is not None and question not in QUESTION_NAMES:
        fail(f"no question {question!r}; there are {', '.join(QUESTION_NAMES)}")
    asked = [question] if question else list(QUESTION_NAMES)
    found = calculated(asked) if rerun else None
    data = shipped(asked) if found is None else found.data
    if as_json:
        print_object(data)
        return
    print_sentences(data, console())
    if found is not None:
        sys.stdout.write(f"\n## Targets\n\n{targets(found.answers)}\n")
        for name in asked:
            sys.stdout.write(f"## {name}\n\n{markdown(found.answers[name])}\n")
