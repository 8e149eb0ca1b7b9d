"""`blendwright report`: bench sheet, technical sheet, data sheet and labels of one formula."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, cast

import typer

from blendwright.app.cli.exit_on_error import catalogue_with, stop, usable
from blendwright.app.cli.observe import Kept, NoObservations, counted_observations
from blendwright.app.cli.options import (
    BatchG,
    DropML,
    FormulaFile,
    Materials,
    PressureKPa,
    Rows,
    TemperatureC,
    check_conditions,
    check_range,
    print_as_read,
    read_or_stop,
)
from blendwright.assess import assess
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa
from blendwright.mixture.weighing import DROP_mL

DEFAULT_PAPERS = ("bench", "technical")


def report_command(
    out: Annotated[str, typer.Option("-o", "--out", help="The file: .html, .xlsx, .md or .json.")],
    file: FormulaFile = None,
    row: Rows = None,
    paper: Annotated[
        list[str] | None,
        typer.Option(
            "--paper",
            help="bench, technical, data-sheet or label; may be given again. Bench and technical "
            "unless given.",
        ),
    ] = None,
    with_data_sheet: Annotated[
        bool, typer.Option("--data-sheet", help="The same as --paper data-sheet.")
    ] = False,
    measured: Annotated[
        list[str] | None,
        typer.Option(
            "--measured", help='What you measured: "flash point=41 °C"; may be given again.'
        ),
    ] = None,
    lot: Annotated[str, typer.Option("--lot", help="Your number of this batch.")] = "",
    made_on: Annotated[
        str | None, typer.Option("--date", help="On the papers: 2026-11-25; today unless given.")
    ] = None,
    copies: Annotated[int, typer.Option("--copies", help="Labels to print.")] = 1,
    label_mm: Annotated[
        str, typer.Option("--label-mm", help="Width and height of a label.")
    ] = "64x34",
    bottle_mL: Annotated[
        float | None,
        typer.Option("--bottle-mL", help="Volume on the label; the whole batch unless given."),
    ] = None,
    store_at: Annotated[
        str, typer.Option("--store-at", help="On the label; 15 to 25 °C unless given.")
    ] = "",
    measured_category: Annotated[
        str,
        typer.Option(
            "--measured-category",
            help="GHS category of flammable liquid by your own measurement: 1 to 4 or none.",
        ),
    ] = "",
    with_pictures: Annotated[
        bool, typer.Option("--pictures/--no-pictures", help="In HTML (extra pictures).")
    ] = True,
    temperature_C: TemperatureC = BENCH_C,
    pressure_kPa: PressureKPa = ATMOSPHERE_Pa / 1e3,
    batch_g: BatchG = None,
    drop_mL: DropML = DROP_mL,
    materials: Materials = None,
    kept: Kept = None,
    no_observations: NoObservations = False,
) -> None:
    """Papers for bench, shelf and files: one HTML file, workbook, Markdown or JSON."""
    from blendwright.report.papers import (
        FORMATS,
        PAPERS,
        LabelWish,
        Paper,
        make_papers,
        papers_bytes,
    )
    from blendwright.report.papers.dossier import gather
    from blendwright.report.papers.label import parse_size_mm
    from blendwright.report.papers.measured import parse_measured

    suffix = Path(out).suffix.casefold()
    if suffix not in FORMATS:
        stop(f"--out {out}: a report is one of {', '.join(FORMATS)}")
    if file and file != "-" and Path(out).resolve() == Path(file).resolve():
        stop(f"--out {out}: that is the formula itself; name another file")
    asked = [*(paper or ([] if with_data_sheet else DEFAULT_PAPERS))]
    asked += ["data-sheet"] if with_data_sheet and "data-sheet" not in asked else []
    for name in asked:
        if name not in PAPERS:
            stop(f"--paper {name}: possible are {', '.join(PAPERS)}")
    check_conditions(temperature_C, pressure_kPa)
    check_range("--drop-mL", drop_mL, 0.001, 1.0)
    if bottle_mL is not None:
        check_range("--bottle-mL", bottle_mL, 0.1, 1e6)
    day = _day(made_on)
    catalogue = catalogue_with(materials)
    formula = read_or_stop(file, row, batch_g, catalogue)

    seen = counted_observations(kept, no_observations)

    def make() -> bytes:
        wish = LabelWish(copies, parse_size_mm(label_mm), bottle_mL, store_at, measured_category)
        given = [parse_measured(text) for text in measured or ()]
        dossier = gather(
            assess(
                formula,
                temperature_C + 273.15,
                pressure_kPa * 1e3,
                catalogue=catalogue,
                drop_mL=drop_mL,
                observations=seen,
            ),
            day,
            measured=given,
            lot=lot,
            catalogue=catalogue,
            drop_mL=drop_mL,
            observations=seen,
        )
        drawn = with_pictures and suffix == ".html"
        papers = make_papers(dossier, cast(list[Paper], asked), wish, with_pictures=drawn)
        return papers_bytes(papers, dossier, suffix)

    content = usable(make)
    try:
        Path(out).write_bytes(content)
    except OSError as error:
        stop(f"--out {out}: can't be written ({error.strerror})")
    print_as_read(formula)
    typer.echo(f"wrote {out}", err=True)


def _day(text: str | None) -> date:
    """The date on the papers: the one given, else SOURCE_DATE_EPOCH's, else today."""
    if text is not None:
        try:
            return date.fromisoformat(text)
        except ValueError:
            stop(f"--date {text}: write it like 2026-11-25")
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch.isdigit():
        return datetime.fromtimestamp(int(epoch), UTC).date()
    return date.today()
