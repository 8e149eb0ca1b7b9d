"""`blendwright warm`: is there a safe window for warming, and what does it cost?"""

from __future__ import annotations

from dataclasses import dataclass

from blendwright.app.cli.answer import exit_on_warning, print_answer
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    Bench,
    FormulaInput,
    ObservationOptions,
    PictureOptions,
    Printed,
    check_range,
)
from blendwright.estimate import to_kelvin
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.warming import (
    MOST_MINUTES,
    MOST_DIAMETER_m,
    MOST_FREEBOARD_m,
    WarmBath,
    warm,
)
from blendwright.verdict.blend import Blend


@dataclass(frozen=True)
class WarmStep:
    """How far, how long and in what beaker."""

    to_C: float | None = option(
        "--to-C", "Ask about this temperature; else what the crystals need."
    )
    minutes: float = option("--minutes", "Minutes that it stays warm.", 20.0)
    diameter_cm: float | None = option(
        "--diameter-cm", "Width of the beaker; 6, or wider for a large batch."
    )
    freeboard_cm: float | None = option(
        "--freeboard-cm",
        "How far the liquid lies below the rim; unless given, open at the brim and 5 cm "
        "below a lid.",
    )
    is_open: bool | None = option("--open/--covered", "Print one beaker only; both unless given.")

    def __post_init__(self) -> None:
        check_range("--minutes", self.minutes, 0.1, MOST_MINUTES)
        if self.diameter_cm is not None:
            check_range("--diameter-cm", self.diameter_cm, 0.5, MOST_DIAMETER_m * 1e2)
        if self.freeboard_cm is not None:
            check_range("--freeboard-cm", self.freeboard_cm, 0.1, MOST_FREEBOARD_m * 1e2)

    def bath(self, bench_C: float) -> WarmBath:
        if self.to_C is not None:
            check_range("--to-C", self.to_C, bench_C, 150.0)
        return WarmBath(
            None if self.to_C is None else to_kelvin(self.to_C),
            self.minutes,
            None if self.diameter_cm is None else self.diameter_cm / 1e2,
            None if self.freeboard_cm is None else self.freeboard_cm / 1e2,
        )

    @property
    def covers(self) -> tuple[str, ...]:
        return {None: ("covered", "open"), True: ("open",), False: ("covered",)}[self.is_open]


@with_nouns
def warm_command(
    formula: FormulaInput,
    step: WarmStep,
    bench: Bench,
    observed: ObservationOptions,
    picture: PictureOptions,
    printed: Printed,
) -> None:
    """How far may it be warmed, what is lost, in what order to work?"""
    from blendwright.report.warming import print_warming

    catalogue = formula.catalogue()
    written = formula.read(catalogue)
    bath, seen = step.bath(bench.temperature_C), observed.read()
    found = exit_on_error(
        lambda: warm(
            written,
            bath,
            bench.temperature_K,
            bench.pressure_Pa,
            catalogue=catalogue,
            observations=seen,
        )
    )
    print_answer(
        written, catalogue, printed.as_json, found.to_dict,
        lambda out: print_warming(found, step.covers, out),
    )  # fmt: skip
    if picture.plot is not None:
        from blendwright.report.pictures.command_pictures import warming_picture

        alone = Blend(found.weighing, bench.temperature_K, bench.pressure_Pa)
        cloud = with_observations(alone, seen, catalogue)[0].cloud
        picture.draw(lambda: warming_picture(found, cloud))
    exit_on_warning(printed.strict, found.has_warning)
