"""`blendwright advise` and `blendwright carriers`: what to change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.app.cli.answer import print_answer, print_as_read
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    AsJson,
    Bench,
    FormulaInput,
    ObservationOptions,
    PictureOptions,
    check_range,
)
from blendwright.estimate import to_kelvin

if TYPE_CHECKING:
    from blendwright.catalogue import Catalogue
    from blendwright.formula import Formula
    from blendwright.observations import Observation


@dataclass(frozen=True)
class Goals:
    """What the formula should become."""

    clear_at_C: float | None = option(
        "--clear-at-C", "It should be clear and dissolved at this temperature."
    )
    flash_above_C: float | None = option("--flash-above-C", "Flash point at least.")

    def __post_init__(self) -> None:
        for name, value in (
            ("--clear-at-C", self.clear_at_C),
            ("--flash-above-C", self.flash_above_C),
        ):
            if value is not None:
                check_range(name, value, -20.0, 150.0)


@with_nouns
def advise_command(
    formula: FormulaInput,
    goals: Goals,
    bench: Bench,
    observed: ObservationOptions,
    as_json: AsJson = False,
) -> None:
    """What to change so that it stays clear, or flashes higher."""
    from blendwright.mixture import machine
    from blendwright.questions.advice.advise import advise
    from blendwright.report.advice import print_advice

    catalogue = formula.catalogue()
    written, seen = formula.read(catalogue), observed.read()
    machine.prepare()
    found = exit_on_error(
        lambda: advise(
            written,
            clear_at_K=_kelvin(goals.clear_at_C),
            flash_above_K=_kelvin(goals.flash_above_C),
            catalogue=catalogue,
            bench_K=bench.temperature_K,
            pressure_Pa=bench.pressure_Pa,
            observations=seen,
        )
    )
    print_answer(written, catalogue, as_json, found.to_dict, lambda out: print_advice(found, out))


def _kelvin(celsius: float | None) -> float | None:
    return None if celsius is None else to_kelvin(celsius)


@dataclass(frozen=True)
class CarrierChoice:
    """Which carriers are compared, or which two the map is of."""

    within: list[str] | None = option(
        "--in", 'A carrier or mix: "triacetin", "propylene glycol 70 + ethanol 30".', metavar="TEXT"
    )
    map_of: str | None = option(
        "--map",
        'With --plot, draw where it is clear in two carriers: "triacetin + ethanol".',
        metavar="TEXT",
    )
    map_at_C: float | None = option(
        "--map-at-C", "Temperature of the map; the bench's unless given."
    )


@with_nouns
def carriers_command(
    formula: FormulaInput,
    choice: CarrierChoice,
    bench: Bench,
    observed: ObservationOptions,
    picture: PictureOptions,
    as_json: AsJson = False,
) -> None:
    """One set of aromatics in several carriers, or a map of two."""
    from blendwright.questions.advice.carriers import SCHEMA, USUAL, compare_carriers
    from blendwright.report.advice import print_carriers

    if (choice.map_of is None) != (picture.plot is None):
        fail('a map needs both: --map "triacetin + ethanol" and --plot map.png')
    catalogue = formula.catalogue()
    written, seen = formula.read(catalogue), observed.read()
    if choice.map_of is not None:
        print_as_read(written)
        _draw_map(written, choice, bench, picture, catalogue, seen)
        return
    found = exit_on_error(
        lambda: compare_carriers(
            written,
            choice.within or USUAL,
            bench.temperature_K,
            bench.pressure_Pa,
            catalogue=catalogue,
            observations=seen,
        )
    )

    def data() -> dict[str, object]:
        carriers = [carrier.to_dict() for carrier in found]
        return {"schema": SCHEMA, "formula": written.name, "carriers": carriers}

    print_answer(
        written, catalogue, as_json, data, lambda out: print_carriers(written.name, found, out)
    )


def _draw_map(
    formula: Formula,
    choice: CarrierChoice,
    bench: Bench,
    picture: PictureOptions,
    catalogue: Catalogue,
    seen: tuple[Observation, ...],
) -> None:
    from blendwright.mixture import machine
    from blendwright.questions.advice.carrier_map import carrier_map
    from blendwright.questions.advice.carriers import parse_carriers
    from blendwright.report.pictures import two_carrier_map

    at_C = bench.temperature_C if choice.map_at_C is None else choice.map_at_C
    check_range("--map-at-C", at_C, -20.0, 80.0)
    text = choice.map_of or ""
    names = [name for name, _ in exit_on_error(lambda: parse_carriers(text))]
    if len(names) != 2:
        fail('--map needs two carriers: "triacetin + ethanol"')
    machine.prepare()
    found = exit_on_error(
        lambda: carrier_map(
            formula,
            names[0],
            names[1],
            to_kelvin(at_C),
            catalogue=catalogue,
            observations=seen,
        )
    )
    picture.draw(lambda: two_carrier_map(found, formula.name))
