"""`blendwright volumes`: the pipetting sheet, the batch's size, the balance, the bottles."""

from __future__ import annotations

from dataclasses import dataclass

from blendwright.app.cli.answer import exit_on_warning, print_answer
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    Bench,
    FormulaInput,
    ObservationOptions,
    Printed,
    check_range,
)
from blendwright.estimate import to_kelvin
from blendwright.questions.volumes.drops import DropCount
from blendwright.questions.volumes.filling import Bottles
from blendwright.questions.volumes.volumes import BenchOrder, BenchSheet, bench_sheet


@dataclass(frozen=True)
class OwnDrop:
    """The person's own drop, counted, and the dose that is told in such drops."""

    drops_per_mL: float | None = option("--drops-per-mL", "Your own drops to the millilitre.")
    counted_drops: float | None = option(
        "--counted-drops", "So many drops of it, with --counted-drops-g."
    )
    counted_drops_g: float | None = option("--counted-drops-g", "What those drops weigh together.")
    dose_mL: float | None = option("--dose-mL", "Millilitres of concentrate.")


@dataclass(frozen=True)
class BatchQuantity:
    """How much is made, on which balance, into which bottles."""

    fill_temperature_C: float | None = option(
        "--fill-temperature-C", "Where bottles are filled; the bench's unless given."
    )
    scale_to_g: float | None = option("--scale-to-g", "Make so many grams.")
    scale_to_mL: float | None = option("--scale-to-mL", "Make so many mL at the fill temperature.")
    bottles: str | None = option(
        "--bottles", 'Make enough for bottles, "24x30": count x mL.', metavar="TEXT"
    )
    brim_mL: float | None = option("--brim-mL", "What one bottle holds to the brim.")
    loss_pct: float = option("--loss-pct", "More to make, for what stays in beakers, %.", 0.0)
    balance_g: float | None = option("--balance-g", "Round to your balance's division, g.")

    def __post_init__(self) -> None:
        if self.fill_temperature_C is not None:
            check_range("--fill-temperature-C", self.fill_temperature_C, -40.0, 150.0)
        if self.bottles is None and (self.brim_mL is not None or self.loss_pct):
            fail('--brim-mL and --loss-pct belong to --bottles "24x30"')

    def in_bottles(self) -> Bottles | None:
        if self.bottles is None:
            return None
        return Bottles.parse(self.bottles, self.brim_mL, self.loss_pct / 100.0)


@with_nouns
def volumes_command(
    formula: FormulaInput,
    made: BatchQuantity,
    drop: OwnDrop,
    bench: Bench,
    observed: ObservationOptions,
    printed: Printed,
) -> None:
    """Millilitres and drops; scale, round, weighing order, bottles."""
    from blendwright.report.volumes import print_volumes

    catalogue = formula.catalogue()
    written, seen = formula.read_with_drops(catalogue), observed.read()
    fill_C = bench.temperature_C if made.fill_temperature_C is None else made.fill_temperature_C

    def laid_out() -> BenchSheet:
        order = BenchOrder(
            temperature_K=bench.temperature_K,
            fill_K=to_kelvin(fill_C),
            pressure_Pa=bench.pressure_Pa,
            scale_to_g=made.scale_to_g,
            scale_to_mL=made.scale_to_mL,
            bottles=made.in_bottles(),
            balance_g=made.balance_g,
            drop=DropCount(
                formula.drop_mL, drop.drops_per_mL, drop.counted_drops, drop.counted_drops_g
            ),
            dose_mL=drop.dose_mL,
        )
        return bench_sheet(written, order, catalogue=catalogue, observations=seen)

    sheet = exit_on_error(laid_out)
    print_answer(
        written, catalogue, printed.as_json, sheet.to_dict, lambda out: print_volumes(sheet, out)
    )
    exit_on_warning(printed.strict, sheet.has_warning)
