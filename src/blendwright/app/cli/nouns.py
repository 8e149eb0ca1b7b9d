"""A command takes nouns, the person types options.

A parameter whose type is a frozen dataclass stands for the options that its fields declare, so that
what several commands share is declared, checked and named once:

    @dataclass(frozen=True)
    class Bench:
        temperature_C: Annotated[float, typer.Option("--temperature-C")] = 20.0

    def assess_command(bench: Bench) -> None: ...
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from functools import wraps
from typing import Any, get_type_hints


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
            given[name] = noun(**{field.name: given.pop(field.name) for field in fields(noun)})
        command(**given)

    typed.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    typed.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return typed


def _options_of(noun: Any) -> list[inspect.Parameter]:
    hints = get_type_hints(noun, include_extras=True)
    return [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if field.default is MISSING else field.default,
            annotation=hints[field.name],
        )
        for field in fields(noun)
    ]
