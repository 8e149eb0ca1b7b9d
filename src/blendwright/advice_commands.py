"""The commands `advise` and `carriers`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from blendwright.catalogue import Catalogue
from blendwright.command_options import (
    AsJson,
    BatchG,
    FormulaFile,
    Materials,
    Rows,
    check_range,
    print_answer,
    print_as_read,
    read_or_stop,
)
from blendwright.formula import Formula
from blendwright.usable import catalogue_with, stop, usable

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
MapAt = Annotated[float, typer.Option("--map-at", help="Temperature of the map, °C.")]
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
    batch_g: BatchG = None,
    materials: Materials = None,
    as_json: AsJson = False,
) -> None:
    """Find the smallest changes that keep a formula clear, or lift its flash point."""
    from blendwright.advice.advise import advise
    from blendwright.report.advice import print_advice

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    for option, value in (("--clear-at", clear_at), ("--flash-above", flash_above)):
        if value is not None:
            check_range(option, value, -20.0, 150.0)
    made = usable(
        lambda: advise(
            formula,
            clear_at_K=None if clear_at is None else clear_at + 273.15,
            flash_above_K=None if flash_above is None else flash_above + 273.15,
            catalogue=catalogue,
        )
    )
    print_answer(formula, as_json, made.to_dict, lambda out: print_advice(made, out))


def carriers_command(
    file: FormulaFile = None,
    row: Rows = None,
    within: Carriers = None,
    map_of: MapOf = None,
    map_at: MapAt = 22.0,
    output: Output = "carriers.png",
    batch_g: BatchG = None,
    materials: Materials = None,
    as_json: AsJson = False,
) -> None:
    """Compare the same aromatics in several carriers, side by side, or draw the map of two."""
    from blendwright.advice.carriers import SCHEMA, USUAL, compare_carriers
    from blendwright.report.advice import print_carriers

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    if map_of is not None:
        check_range("--map-at", map_at, -20.0, 80.0)
        print_as_read(formula)
        usable(lambda: _draw_map(formula, map_of, map_at + 273.15, output, catalogue))
        return
    made = usable(lambda: compare_carriers(formula, within or USUAL, catalogue=catalogue))

    def data() -> dict[str, object]:
        carriers = [carrier.to_dict() for carrier in made]
        return {"schema": SCHEMA, "formula": formula.name, "carriers": carriers}

    print_answer(formula, as_json, data, lambda out: print_carriers(formula.name, made, out))


def _draw_map(
    formula: Formula, map_of: str, temperature_K: float, output: str, catalogue: Catalogue
) -> None:
    """The two-carrier map of a formula, in a file."""
    from blendwright.advice.carrier_map import carrier_map
    from blendwright.advice.carriers import parse_carriers
    from blendwright.pictures import save, two_carrier_map

    names = [name for name, _ in parse_carriers(map_of)]
    if len(names) != 2 or not output.endswith((".png", ".svg")):
        stop('--map needs two carriers, "triacetin + ethanol", and -o a .png or .svg file')
    found = carrier_map(formula, names[0], names[1], temperature_K, catalogue=catalogue)
    save(two_carrier_map(found, formula.name), Path(output))
    typer.echo(f"drew {output}")
