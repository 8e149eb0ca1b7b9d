"""A command takes nouns, the person types options.

A parameter whose type is a frozen dataclass stands for the options that its fields declare, so that
what several commands share is declared, checked and named once:

    @dataclass(frozen=True)
    class Bench:
        temperature_C: float = option("--temperature-C", "Bench temperature.", 20.0)

    def assess_command(bench: Bench) -> None: ...
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, field, fields, is_dataclass
from functools import wraps
from typing import Annotated, Any, get_type_hints

import typer

TYPER = "typer"  # where a field keeps what typer is told of it


def with_nouns(command: Callable[..., None]) -> Callable[..., None]:
    """The command with one parameter for each option, arguments first, as typer reads them."""
    nouns: dict[str, Any] = {}
    parameters: list[inspect.Parameter] = []
    for name, parameter in inspect.signature(command, eval_str=True).parameters.items():
        kind = parameter.annotation
        if isinstance(kind, type) and is_dataclass(kind):
            nouns[name] = kind
            parameters += _options_of(kind)
        else:
            parameters.append(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY))

    @wraps(command)
    def typed(**given: Any) -> None:
        for name, noun in nouns.items():
            given[name] = noun(**{one.name: given.pop(one.name) for one in fields(noun)})
        command(**given)

    typed.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    typed.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return typed


def option(name: str | tuple[str, ...], words: str, default: Any = None, **more: Any) -> Any:
    """A field that is an option; `words` is its help, and with MISSING it must be given."""
    names = (name,) if isinstance(name, str) else name
    return field(default=default, metadata={TYPER: typer.Option(*names, help=words, **more)})


def argument(words: str, default: Any = None, **more: Any) -> Any:
    """A field that is an argument."""
    return field(default=default, metadata={TYPER: typer.Argument(help=words, **more)})


def _options_of(noun: Any) -> list[inspect.Parameter]:
    hints = get_type_hints(noun, include_extras=True)
    return [
        inspect.Parameter(
            one.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if one.default is MISSING else one.default,
            annotation=Annotated[hints[one.name], one.metadata[TYPER]]
            if TYPER in one.metadata
            else hints[one.name],
        )
        for one in fields(noun)
    ]
