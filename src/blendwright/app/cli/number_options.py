"""Options that take a number take a decimal comma too, in every command, and types have one word.

--temperature-C 4,5       4.5
--pressure-kPa 101,325    refused: it can be 101.325 or 101325
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from copy import copy
from typing import Annotated, Any, get_args

import typer
from typer.models import ParameterInfo

from blendwright.formula.numbers import readings, why_no_number

METAVARS: tuple[tuple[tuple[Any, ...], str], ...] = (
    ((float, float | None), "FLOAT"),
    ((int, int | None), "INTEGER"),
    ((str, str | None, list[str] | None), "TEXT"),
    ((bool, bool | None), ""),
)


def decimal_number(value: str | float) -> float:
    """What an option's text says. Raises typer.BadParameter for no number, or for two."""
    found = readings(value) if isinstance(value, str) else (float(value),)
    if len(found) != 1:
        raise typer.BadParameter(why_no_number(str(value)))
    return found[0]


def type_options(app: typer.Typer) -> None:
    """Have every number among the options of an application read so, and every type shown by one
    word (FLOAT, INTEGER, TEXT; flags by none), sub-commands included."""
    for command in app.registered_commands:
        if command.callback is not None:
            _type_in(command.callback)
    for group in app.registered_groups:
        if group.typer_instance is not None:
            type_options(group.typer_instance)


def _type_in(command: Callable[..., Any]) -> None:
    signature = inspect.signature(command, eval_str=True)
    made = [_typed(parameter) for parameter in signature.parameters.values()]
    command.__signature__ = signature.replace(parameters=made)  # type: ignore[attr-defined]
    command.__annotations__ = {parameter.name: parameter.annotation for parameter in made}


def _typed(parameter: inspect.Parameter) -> inspect.Parameter:
    kind, *said = get_args(parameter.annotation) or (parameter.annotation,)
    infos = [info for info in said if isinstance(info, ParameterInfo)]
    if not infos:
        return parameter
    info = copy(infos[0])
    if kind in (float, float | None):
        info.parser = decimal_number
    if info.metavar is None:
        info.metavar = next((word for types, word in METAVARS if kind in types), None)
    return parameter.replace(annotation=Annotated[kind, info])
