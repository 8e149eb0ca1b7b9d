"""The commands `advise` and `carriers`."""

from __future__ import annotations

from typing import Annotated

import typer

from blendwright.command_options import (
    AsJson,
    BatchG,
    FormulaFile,
    Materials,
    Rows,
    check_range,
    read_or_stop,
)
from blendwright.usable import catalogue_with, print_json, usable

ClearAt = Annotated[
    float | None,
    typer.Option("--clear-at", help="It should be clear and dissolved at this temperature, °C."),
]
FlashAbove = Annotated[
    float | None,
    typer.Option("--flash-above", help="Its flash point should be this or higher, °C."),
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
    from blendwright.report.terminal import console

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
    if as_json:
        print_json(made.to_dict())
    else:
        print_advice(made, console())


def carriers_command(
    file: FormulaFile = None,
    row: Rows = None,
    within: Carriers = None,
    batch_g: BatchG = None,
    materials: Materials = None,
    as_json: AsJson = False,
) -> None:
    """Compare the same aromatics in several carriers, side by side."""
    from blendwright.advice.carriers import SCHEMA, USUAL, compare_carriers
    from blendwright.report.advice import print_carriers
    from blendwright.report.terminal import console

    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)
    made = usable(lambda: compare_carriers(formula, within or USUAL, catalogue=catalogue))
    if as_json:
        print_json(
            {
                "schema": SCHEMA,
                "formula": formula.name,
                "carriers": [carrier.to_dict() for carrier in made],
            }
        )
    else:
        print_carriers(formula.name, made, console())
