"""The command `accuracy`."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from blendwright.command_options import AsJson
from blendwright.usable import print_json, stop

Question = Annotated[
    str | None, typer.Argument(help="Which question: dissolve or burn; both if left out.")
]


def accuracy_command(question: Question = None, as_json: AsJson = False) -> None:
    """Hold every model against published measurements, each substance left out of its judge."""
    from blendwright.accuracy.questions import QUESTIONS
    from blendwright.report.accuracy import markdown

    if question is not None and question not in QUESTIONS:
        stop(f"no question {question!r}; there are {' and '.join(QUESTIONS)}")
    asked = [question] if question else list(QUESTIONS)
    found = {name: QUESTIONS[name]() for name in asked}
    if as_json:
        answers = {name: [a.to_dict() for a in found[name]] for name in asked}
        print_json({"schema": "blendwright/accuracy/1", "questions": answers})
        return
    for name in asked:
        sys.stdout.write(f"## {name}\n\n{markdown(found[name])}\n")
