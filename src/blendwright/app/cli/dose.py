"""`blendwright dose`: a concentrate into a drink."""

from __future__ import annotations

from dataclasses import MISSING, dataclass

from blendwright.app.cli.answer import exit_on_warning, print_answer
from blendwright.app.cli.exit_on_error import exit_on_error
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import FormulaInput, ObservationOptions, Printed, check_range
from blendwright.estimate import to_kelvin
from blendwright.formula.conditions import BENCH_C


@dataclass(frozen=True)
class DoseInput:
    """How much of the concentrate goes into what."""

    into: str = option(
        "--into",
        'The drink: "water", "10 % sugar", "soda", "wine 13 %", "40 % vol".',
        MISSING,
        metavar="TEXT",
    )
    dose_drops: float | None = option("--dose-drops", "Drops of concentrate.")
    dose_mL: float | None = option("--dose-mL", "Millilitres of concentrate.")
    per_mL: float = option("--per-mL", "Millilitres of drink it goes into.", 100.0)
    temperature_C: float = option(
        "--temperature-C", "Temperature of the drink, 0 to 60 °C.", BENCH_C
    )

    def __post_init__(self) -> None:
        check_range("--temperature-C", self.temperature_C, 0.0, 60.0)


@with_nouns
def dose_command(
    formula: FormulaInput, dosed: DoseInput, observed: ObservationOptions, printed: Printed
) -> None:
    """Is it clear in the drink, and how much of it stays clear?"""
    from blendwright.questions.drink.dosing import Dose, dose
    from blendwright.report.dose import print_dose

    catalogue = formula.catalogue()
    written, seen = formula.read(catalogue), observed.read()
    found = exit_on_error(
        lambda: dose(
            written,
            dosed.into,
            Dose.of(dosed.dose_drops, dosed.dose_mL, dosed.per_mL, formula.one_drop_mL),
            to_kelvin(dosed.temperature_C),
            catalogue=catalogue,
            observations=seen,
        )
    )
    print_answer(
        written, catalogue, printed.as_json, found.to_dict, lambda out: print_dose(found, out)
    )
    exit_on_warning(printed.strict, found.has_warning)
