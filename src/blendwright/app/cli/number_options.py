"""Options that take a number take a decimal comma too, in every command.

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


def decimal_number(value: str | float) -> float:
    """What an option's text says. Raises typer.BadParameter for no number, or for two."""
    found = readings(value) if isinstance(value, str) else (float(value),)
    if len(found) != 1:
        raise typer.BadParameter(why_no_number(str(value)))
    return found[0]


def take_decimal_commas(app: typer.Typer) -> None:
    """Have every number among the options of an application read so, sub-commands included."""
    for command in app.registered_commands:
        if command.callback is not None:
            _take_in(command.callback)
    for group in app.registered_groups:
        if group.typer_instance is not None:
            take_decimal_commas(group.typer_instance)


def _take_in(command: Callable[..., Any]) -> None:
    for name, parameter in inspect.signature(command, eval_str=True).parameters.items():
        kind, *said = get_args(parameter.annotation) or (parameter.annotation,)
        infos = [info for info in said if isinstance(info, ParameterInfo)]
        if infos and kind in (float, float | None):
            info = copy(infos[0])
            info.parser = decimal_number
            command.__annotations__[name] = Annotated[kind, info]
