"""`blendwright flash`: what drives the flash point?"""

from __future__ import annotations

from blendwright.app.cli.answer import print_answer
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.nouns import with_nouns
from blendwright.app.cli.options import (
    AsJson,
    Bench,
    FormulaInput,
    ObservationOptions,
    PictureOptions,
)


@with_nouns
def flash_command(
    formula: FormulaInput,
    bench: Bench,
    observed: ObservationOptions,
    picture: PictureOptions,
    as_json: AsJson = False,
) -> None:
    """What drives the flash point: each row, and dilution."""
    from blendwright.questions.flash_drivers import flash_drivers
    from blendwright.report.flash_drivers import print_flash_drivers

    catalogue = formula.catalogue()
    written, seen = formula.read(catalogue), observed.read()
    found = exit_on_error(
        lambda: flash_drivers(
            written,
            bench.temperature_K,
            bench.pressure_Pa,
            catalogue=catalogue,
            observations=seen,
        )
    )
    print_answer(
        written, catalogue, as_json, found.to_dict, lambda out: print_flash_drivers(found, out)
    )
    if picture.plot is not None:
        from blendwright.report.pictures.command_pictures import dilution_picture

        picture.draw(lambda: dilution_picture(found))
