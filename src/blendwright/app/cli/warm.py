"""`blendwright warm` and `blendwright flash`: how far to warm, and what moves the flash point."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    EXIT_WARNING,
    AsJson,
    BatchG,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    Strict,
    TemperatureC,
    check_conditions,
    check_range,
    print_answer,
    read_or_stop,
)
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.observations.observed_blend import with_observations
from blendwright.verdict.blend import Blend

Picture = Annotated[
    str | None,
    typer.Option("--picture", help="Draw it too, into this .png or .svg (extra pictures)."),
]


def warm_command(
    file: FormulaFile = None,
    row: Rows = None,
    to_C: Annotated[
        float | None,
        typer.Option("--to-C", help="Ask about this temperature; else what the crystals need."),
    ] = None,
    minutes: Annotated[float, typer.Option("--minutes", help="Time at the temperature.")] = 20.0,
    diameter_cm: Annotated[
        float | None,
        typer.Option("--diameter-cm", help="Of the beaker; 6, or wider for a large batch."),
    ] = None,
    freeboard_cm: Annotated[
        float | None,
        typer.Option(
            "--freeboard-cm",
            help="How far the liquid lies below the rim; unless given, open at the brim and 5 cm "
            "below a lid.",
        ),
    ] = None,
    is_open: Annotated[
        bool | None,
        typer.Option("--open/--covered", help="Print one beaker only; both unless given."),
    ] = None,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    picture: Picture = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Warm a formula: is there a safe window, what is lost, and in what order to work."""
    from blendwright.questions.warming import (
        MOST_MINUTES,
        MOST_DIAMETER_m,
        MOST_FREEBOARD_m,
        WarmBath,
        warm,
    )
    from blendwright.report.warming import print_warming

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_conditions(temperature_C, pressure_kPa)
    check_range("--minutes", minutes, 0.1, MOST_MINUTES)
    if to_C is not None:
        check_range("--to-C", to_C, temperature_C, 150.0)
    if diameter_cm is not None:
        check_range("--diameter-cm", diameter_cm, 0.5, MOST_DIAMETER_m * 1e2)
    if freeboard_cm is not None:
        check_range("--freeboard-cm", freeboard_cm, 0.1, MOST_FREEBOARD_m * 1e2)
    bath = WarmBath(
        None if to_C is None else to_C + 273.15,
        minutes,
        None if diameter_cm is None else diameter_cm / 1e2,
        None if freeboard_cm is None else freeboard_cm / 1e2,
    )
    bench_K, pressure_Pa = temperature_C + 273.15, pressure_kPa * 1e3
    seen = counted_observations(kept, no_observations)
    result = usable(
        lambda: warm(formula, bath, bench_K, pressure_Pa, catalogue=catalogue, observations=seen)
    )
    covers = {None: ("covered", "open"), True: ("open",), False: ("covered",)}[is_open]
    print_answer(formula, as_json, result.to_dict, lambda out: print_warming(result, covers, out))
    if picture is not None:
        alone = Blend(result.weighing, bench_K, pressure_Pa)
        cloud = with_observations(alone, seen, catalogue)[0].cloud
        _draw(picture, lambda: command_pictures().warming_picture(result, cloud))
    if strict and result.has_warning:
        raise typer.Exit(EXIT_WARNING)


def flash_command(
    file: FormulaFile = None,
    row: Rows = None,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    picture: Picture = None,
    as_json: AsJson = False,
) -> None:
    """What drives the flash point: per gram of each row, and on dilution with the carrier."""
    from blendwright.questions.flash_drivers import flash_drivers
    from blendwright.report.flash_drivers import print_flash_drivers

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_conditions(temperature_C, pressure_kPa)
    bench_K, pressure_Pa = temperature_C + 273.15, pressure_kPa * 1e3
    seen = counted_observations(kept, no_observations)
    found = usable(
        lambda: flash_drivers(formula, bench_K, pressure_Pa, catalogue=catalogue, observations=seen)
    )
    print_answer(formula, as_json, found.to_dict, lambda out: print_flash_drivers(found, out))
    if picture is not None:
        _draw(picture, lambda: command_pictures().dilution_picture(found))


def command_pictures() -> Any:
    """The module that draws, loaded only when a picture is asked for."""
    return import_module("blendwright.report.pictures.command_pictures")


def _draw(path: str, drawn: Callable[[], Any]) -> None:
    """Into a file; a wrong suffix or a missing extra is said, with what to do."""
    if not path.endswith((".png", ".svg")):
        stop(f"--picture {path}: a picture is a .png or a .svg file")
    from blendwright.report.pictures import save

    usable(lambda: save(drawn(), Path(path)))
    typer.echo(f"drew {path}", err=True)
