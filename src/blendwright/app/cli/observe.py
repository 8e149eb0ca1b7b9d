"""`blendwright observe`: record what the bench saw. Nothing leaves the machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import typer

from blendwright.app.cli.answer import print_answer
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.observations import listing
from blendwright.app.cli.options import (
    AsJson,
    FormulaInput,
    ObservationsFile,
    check_range,
    observations_file,
)
from blendwright.estimate import to_kelvin
from blendwright.formula.conditions import ATMOSPHERE_Pa
from blendwright.mixture.weighing import weigh
from blendwright.observations.observation import (
    Circumstances,
    Observation,
    Typed,
    measured_blend,
    observations_of,
)
from blendwright.observations.store import keep

if TYPE_CHECKING:
    from rich.console import Console

MOST_AHEAD = timedelta(days=1)  # of the clock here: the bench may lie in another time zone
Number = str | None  # read by the question's own rule, a decimal comma too


@dataclass(frozen=True)
class SeenOrMeasured:
    """What was seen or measured."""

    clear_at_C: Number = option("--clear-at-C", "Clear at this temperature.", metavar="FLOAT")
    cloudy_at_C: Number = option("--cloudy-at-C", "Cloudy or in layers at.", metavar="FLOAT")
    cloud_point_C: Number = option(
        "--cloud-point-C", "Where it clouded on slow cooling.", metavar="FLOAT"
    )
    dissolved_at_C: Number = option(
        "--dissolved-at-C", "Where the last crystals dissolved.", metavar="FLOAT"
    )
    flash_C: Number = option("--flash-C", "Closed-cup flash point.", metavar="FLOAT")
    boiling_C: Number = option("--boiling-C", "Where it began to boil.", metavar="FLOAT")
    density: Number = option("--density", "Density, g/mL.", metavar="FLOAT")
    density_at_C: Number = option(
        "--density-at-C", "Temperature of the density; 20 unless given.", metavar="FLOAT"
    )


@dataclass(frozen=True)
class Uncertainty:
    """Half the interval of a measurement."""

    flash_pm_C: Number = option("--flash-pm-C", "± of the flash point.", metavar="FLOAT")
    boiling_pm_C: Number = option("--boiling-pm-C", "± of the boiling point.", metavar="FLOAT")
    density_pm: Number = option("--density-pm", "± of the density, g/mL.", metavar="FLOAT")
    dissolved_pm_C: Number = option(
        "--dissolved-pm-C", "± of where the last crystals dissolved.", metavar="FLOAT"
    )


@dataclass(frozen=True)
class Occasion:
    """When it was seen, at which air pressure, and a note."""

    pressure_kPa: float = option(
        "--pressure-kPa", "Air pressure, 10 to 120 kPa.", ATMOSPHERE_Pa / 1e3
    )
    on: str | None = option("--date", "When, as 2026-11-20; today unless given.", metavar="DATE")
    note: str = option("--note", "Anything worth remembering.", "")
    observations: ObservationsFile = None

    def __post_init__(self) -> None:
        check_range("--pressure-kPa", self.pressure_kPa, 10.0, 120.0)


@with_nouns
def observe_command(
    formula: FormulaInput,
    seen: SeenOrMeasured,
    uncertainty: Uncertainty,
    occasion: Occasion,
    as_json: AsJson = False,
) -> None:
    """Record what the bench saw; similar blends count it later."""
    catalogue = formula.catalogue()
    written = formula.read(catalogue)
    typed = _typed(seen, uncertainty)
    path = observations_file(occasion.observations)

    def recorded() -> tuple[Observation, ...]:
        blend = measured_blend(weigh(written, catalogue).composition)
        about = Circumstances(
            blend,
            written.name,
            _day(occasion.on),
            occasion.pressure_kPa * 1e3,
            occasion.note.strip(),
        )
        return keep(path, observations_of([one for one in typed if one.value], about))

    made = exit_on_error(recorded)

    def printed_out(out: Console) -> None:
        for one in made:
            typer.echo(f"{one.id}: {one.words()}, {one.seen_on.isoformat()}, {one.formula}")
        typer.echo(f"kept in {path}, on this machine only")

    print_answer(written, catalogue, as_json, lambda: listing(path, made), printed_out)


def _typed(seen: SeenOrMeasured, uncertainty: Uncertainty) -> list[Typed]:
    """What was typed, question by question; stops at a ± without its value."""
    if seen.density_at_C is not None and seen.density is None:
        fail("--density-at-C is given, but no --density")
    typed = [
        Typed("clear", seen.clear_at_C or ""),
        Typed("cloudy", seen.cloudy_at_C or ""),
        Typed("cloud_point", seen.cloud_point_C or ""),
        Typed("crystals_gone", seen.dissolved_at_C or "", uncertainty.dissolved_pm_C),
        Typed("flash_point", seen.flash_C or "", uncertainty.flash_pm_C),
        Typed("boiling_point", seen.boiling_C or "", uncertainty.boiling_pm_C),
        Typed("density", seen.density or "", uncertainty.density_pm, _at_K(seen.density_at_C)),
    ]
    for one in typed:
        if one.plus_or_minus is not None and not one.value:
            fail(f"a ± is given for the {one.question.replace('_', ' ')}, but no value")
    return typed


def _at_K(text: str | None) -> float | None:
    """The temperature of a density."""
    from blendwright.formula.numbers import parse_number, why_no_number

    if text is None:
        return None
    celsius = parse_number(text)
    if celsius is None:
        fail(f"--density-at-C: {why_no_number(text, like='20')}")
    check_range("--density-at-C", celsius, -40.0, 150.0)
    return to_kelvin(celsius)


def _day(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        fail(f"--date {text!r} is not a day; write it like 2026-11-20")
    if day > date.today() + MOST_AHEAD:
        fail(f"--date {text} lies in the future")
    return day
