"""The commands `advise` and `carriers`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    AsJson,
    BatchG,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    TemperatureC,
    check_conditions,
    check_range,
    print_answer,
    print_as_read,
    read_or_stop,
)
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa

ClearAt = Annotated[
    float | None,
    typer.Option("--clear-at", help="It should be clear and dissolved at this temperature, °C."),
]
FlashAbove = Annotated[
    float | None,
    typer.Option("--flash-above", help="Its flash point should be this or higher, °C."),
]
MapOf = Annotated[
    str | None,
    typer.Option("--map", help='Draw where it is clear in two carriers: "triacetin + ethanol".'),
]
MapAt = Annotated[
    float | None, typer.Option("--map-at", help="Temperature of the map, °C; the bench's if unset.")
]
Output = Annotated[
    str, typer.Option("-o", "--output", help="Where the map goes: a .png or .svg file.")
]
Carriers = Annotated[
    list[str] | None,
    typer.Option("--in", help='A carrier or mix: "triacetin", "propylene glycol 70 + ethanol 30".'),
]


def advise_command(
    file: FormulaFile = None,
    row: Rows = None,
    clear_at: ClearAt = None,
    flash_above: FlashAbove = None,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    as_json: AsJson = False,
) -> None:
    """Find what to change so that a formula stays clear, or flashes higher: carriers first."""
    from blendwright.questions.advice.advise import advise
    from blendwright.report.advice import print_advice

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    for option, value in (("--clear-at", clear_at), ("--flash-above", flash_above)):
        if value is not None:
            check_range(option, value, -20.0, 150.0)
    check_conditions(temperature_C, pressure_kPa)
    seen = counted_observations(kept, no_observations)
    made = usable(
        lambda: advise(
            formula,
            clear_at_K=None if clear_at is None else clear_at + 273.15,
            flash_above_K=None if flash_above is None else flash_above + 273.15,
            catalogue=catalogue,
            bench_K=temperature_C + 273.15,
            pressure_Pa=pressure_kPa * 1e3,
            observations=seen,
        )
    )
    print_answer(formula, as_json, made.to_dict, lambda out: print_advice(made, out))


def carriers_command(
    file: FormulaFile = None,
    row: Rows = None,
    within: Carriers = None,
    map_of: MapOf = None,
    map_at: MapAt = None,
    output: Output = "carriers.png",
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
    as_json: AsJson = False,
) -> None:
    """Compare the same aromatics in several carriers, side by side, or draw the map of two."""
    from blendwright.questions.advice.carriers import SCHEMA, USUAL, compare_carriers
    from blendwright.report.advice import print_carriers

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    check_conditions(temperature_C, pressure_kPa)
    bench_K, pressure_Pa = temperature_C + 273.15, pressure_kPa * 1e3
    seen = counted_observations(kept, no_observations)
    if map_of is not None:
        map_C = temperature_C if map_at is None else map_at
        check_range("--map-at", map_C, -20.0, 80.0)
        pair = _pair(map_of, output)
        print_as_read(formula)

        def drawn() -> None:
            from blendwright.questions.advice.carrier_map import carrier_map
            from blendwright.report.pictures import save, two_carrier_map

            found = carrier_map(
                formula, *pair, map_C + 273.15, catalogue=catalogue, observations=seen
            )
            save(two_carrier_map(found, formula.name), Path(output))

        usable(drawn)
        typer.echo(f"drew {output}")
        return
    made = usable(
        lambda: compare_carriers(
            formula,
            within or USUAL,
            bench_K,
            pressure_Pa,
            catalogue=catalogue,
            observations=seen,
        )
    )

    def data() -> dict[str, object]:
        carriers = [carrier.to_dict() for carrier in made]
        return {"schema": SCHEMA, "formula": formula.name, "carriers": carriers}

    print_answer(formula, as_json, data, lambda out: print_carriers(formula.name, made, out))


def _pair(map_of: str, output: str) -> tuple[str, str]:
    """The two carriers of a map that can be drawn into that file."""
    from blendwright.questions.advice.carriers import parse_carriers

    names = [name for name, _ in usable(lambda: parse_carriers(map_of))]
    if len(names) != 2 or not output.endswith((".png", ".svg")):
        stop('--map needs two carriers, "triacetin + ethanol", and -o a .png or .svg file')
    return names[0], names[1]
