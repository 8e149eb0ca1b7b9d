"""`blendwright sweep`: a formula with some of its rows varied, into one table and a picture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from blendwright.app.cli.batch import (
    Only,
    Run,
    Work,
    asked_of,
    begin_batch,
    carry_out,
    table_at,
)
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    STANDARD,
    Bench,
    FormulaInput,
    ObservationOptions,
    Output,
    Printed,
    check_picture,
    check_range,
    draw,
)

if TYPE_CHECKING:
    from blendwright.app.batch.sweep import Hypercube, Sweep

MOST_PLOTTED = 20_000
FLASH = "flash_point_closed_cup_C"


@dataclass(frozen=True)
class Variation:
    """What is varied, and at which points."""

    vary: list[str] | None = option(
        "--vary",
        '"ethyl butyrate=0..3 g/7", "vanillin=0.5,1,2 g" or '
        '"carrier=propylene glycol,triacetin"; may be given again.',
        metavar="TEXT",
    )
    hypercube: int | None = option(
        "--latin-hypercube", "So many points spread evenly, not the grid."
    )
    seed: int = option("--seed", "Seed of the Latin hypercube.", 0)
    to_weight: bool = option(
        "--to-weight", "The main carrier takes up what a varied row gives.", False
    )

    def sampling(self) -> Hypercube | None:
        from blendwright.app.batch.sweep import MOST_POINTS, Hypercube

        if self.hypercube is None:
            return None
        check_range("--latin-hypercube", self.hypercube, 1, MOST_POINTS)
        return Hypercube(self.hypercube, self.seed)


@dataclass(frozen=True)
class SweepPicture:
    """Which estimate is drawn, if any, and into which file."""

    plot: str | None = option(
        "--plot", "Draw it too: a .png or .svg file (extra pictures).", metavar="FILE"
    )
    plot_of: str = option(
        "--plot-of", "Which estimate is drawn, by its column.", FLASH, metavar="COLUMN"
    )


@with_nouns
def sweep_command(
    output: Output,
    formula: FormulaInput,
    variation: Variation,
    picture: SweepPicture,
    bench: Bench,
    observed: ObservationOptions,
    work: Work,
    printed: Printed,
    only: Only = None,
) -> None:
    """Vary rows or the carrier, and assess every point of the grid."""
    begin_batch()
    from blendwright.app.batch.run import Order, check_out
    from blendwright.app.batch.sweep import Sweep, planned

    if not variation.vary:
        fail('give at least one --vary "material=low..high g/count"')
    asked = asked_of(only, bench, formula, observed.read())
    with table_at(output.output) as out:
        own = Path(formula.file) if formula.file and formula.file != STANDARD else None
        exit_on_error(lambda: check_out(out, own, output.force))
        catalogue = formula.catalogue()
        written = formula.read_with_drops(catalogue)
        plan = exit_on_error(
            lambda: planned(written, variation.vary or [], catalogue, variation.to_weight)
        )
        sweep = exit_on_error(lambda: Sweep(plan, variation.sampling()))
        if picture.plot is not None:
            _check_plot(picture.plot_of, asked.only, sweep)
            check_picture(picture.plot, output.force)
        order = Order(sweep, out, asked, catalogue, work.chunk_size, sweep.fields)
        command = f"blendwright sweep {formula.file or ''} -o {output.output}"

        def drawn() -> None:
            from blendwright.app.batch.sweep_picture import swept

            if picture.plot is not None:
                draw(picture.plot, lambda: swept(sweep, out, picture.plot_of))

        carry_out(order, Run(work, printed, output.force, command), output.output, drawn)


def _check_plot(column: str, only: tuple[str, ...], sweep: Sweep) -> None:
    """Said before the work is done, not after."""
    from blendwright.app.batch.schema import estimates_of

    if column not in estimates_of(only):
        fail(f"--plot-of {column}: not asked; asked are {', '.join(estimates_of(only))}")
    if len(sweep.plan.axes) > 2:
        fail("--plot draws one or two varied things, not more")
    if sweep.count > MOST_PLOTTED:
        fail(f"--plot draws {MOST_PLOTTED:,} points at most")
