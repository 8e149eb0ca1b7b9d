"""The command `accuracy`."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import print_json, stop
from blendwright.app.cli.options import AsJson

Question = Annotated[
    str | None,
    typer.Argument(help="Which question: dissolve, burn, vapour or volume; all if left out."),
]


def accuracy_command(question: Question = None, as_json: AsJson = False) -> None:
    """Hold every model against published measurements, each substance left out of its judge."""
    from blendwright.questions.accuracy.questions import QUESTIONS
    from blendwright.report.accuracy import markdown, targets

    if question is not None and question not in QUESTIONS:
        stop(f"no question {question!r}; there are {', '.join(QUESTIONS)}")
    asked = [question] if question else list(QUESTIONS)
    found = {name: QUESTIONS[name]() for name in asked}
    if as_json:
        answers = {name: [a.to_dict() for a in found[name]] for name in asked}
        print_json({"schema": "blendwright/accuracy/1", "questions": answers})
        return
    sys.stdout.write(f"## Targets\n\n{targets(found)}\n")
    for name in asked:
        sys.stdout.write(f"## {name}\n\n{markdown(found[name])}\n")
