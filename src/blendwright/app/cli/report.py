"""`blendwright report`: bench sheet, technical sheet, data sheet and labels of one formula."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from blendwright.app.cli.answer import exit_on_warning, print_as_read
from blendwright.app.cli.exit_on_error import exit_on_error, fail
from blendwright.app.cli.nouns import option, with_nouns
from blendwright.app.cli.options import (
    STANDARD,
    Bench,
    FormulaInput,
    ObservationOptions,
    Output,
    check_free,
    check_range,
    write_output,
)
from blendwright.assess import Assessment, assess

if TYPE_CHECKING:
    from blendwright.report.papers import LabelWish, Paper

DEFAULT_PAPERS = ("bench", "technical")
ON_THE_SCREEN = ".md"  # the form of papers that go to standard output


@dataclass(frozen=True)
class PaperChoice:
    """Which papers, and what is written on them."""

    paper: list[str] | None = option(
        "--paper",
        "bench, technical, data-sheet or label; may be given again. Bench and technical "
        "unless given.",
        metavar="NAME",
    )
    measured: list[str] | None = option(
        "--measured", 'What you measured: "flash point=41 °C"; may be given again.', metavar="TEXT"
    )
    lot: str = option("--lot", "Your number of this batch.", "")
    made_on: str | None = option("--date", "On the papers: 2026-11-25; else today.", metavar="DATE")
    with_pictures: bool = option("--pictures/--no-pictures", "In HTML (extra pictures).", True)

    def names(self) -> list[Paper]:
        from blendwright.report.papers import PAPERS

        for name in self.paper or ():
            if name not in PAPERS:
                fail(f"--paper {name}: possible are {', '.join(PAPERS)}")
        return cast("list[Paper]", list(dict.fromkeys(self.paper or DEFAULT_PAPERS)))


@dataclass(frozen=True)
class LabelInput:
    """What a label needs."""

    copies: int = option("--copies", "Labels to print.", 1)
    label_mm: str = option("--label-mm", "Width and height of a label.", "64x34", metavar="TEXT")
    bottle_mL: float | None = option(
        "--bottle-mL", "Volume on the label; the whole batch unless given."
    )
    store_at: str = option(
        "--storage", "On the label; 15 to 25 °C unless given.", "", metavar="TEXT"
    )
    measured_category: str = option(
        "--measured-category",
        "GHS category of flammable liquid by your own measurement: 1 to 4 or none.",
        "",
        metavar="TEXT",
    )
    maker: str = option(
        "--maker",
        "Name, address and telephone on the label; a blank line unless given.",
        "",
        metavar="TEXT",
    )

    def __post_init__(self) -> None:
        if self.bottle_mL is not None:
            check_range("--bottle-mL", self.bottle_mL, 0.1, 1e6)

    def wish(self) -> LabelWish:
        from blendwright.report.papers import LabelWish
        from blendwright.report.papers.label import parse_size_mm

        return LabelWish(
            self.copies,
            parse_size_mm(self.label_mm),
            self.bottle_mL,
            self.store_at,
            self.measured_category,
            self.maker,
        )


@with_nouns
def report_command(
    output: Output,
    formula: FormulaInput,
    papers: PaperChoice,
    label: LabelInput,
    bench: Bench,
    observed: ObservationOptions,
    strict: Annotated[bool, typer.Option("--strict", help="Exit with 1 on a warning.")] = False,
) -> None:
    """Bench sheet, technical sheet, data sheet and labels."""
    from blendwright.report.papers import make_papers, papers_bytes
    from blendwright.report.papers.dossier import gather
    from blendwright.report.papers.measured import parse_measured

    suffix = _suffix(output.output, formula.file)
    check_free("--output", output.output, output.force)
    asked, day = papers.names(), _day(papers.made_on)
    catalogue = formula.catalogue()
    written, seen = formula.read(catalogue), observed.read()

    def assessed() -> Assessment:
        return assess(
            written,
            bench.temperature_K,
            bench.pressure_Pa,
            catalogue=catalogue,
            observations=seen,
        )

    found = exit_on_error(assessed)

    def made() -> bytes:
        dossier = gather(
            found,
            day,
            measured=[parse_measured(text) for text in papers.measured or ()],
            lot=papers.lot,
            catalogue=catalogue,
            observations=seen,
        )
        drawn = papers.with_pictures and suffix == ".html"
        sheets = make_papers(dossier, asked, label.wish(), with_pictures=drawn)
        return papers_bytes(sheets, dossier, suffix)

    write_output(output.output, exit_on_error(made), output.force)
    print_as_read(written)
    if output.output != STANDARD:
        typer.echo(f"wrote {output.output}", err=True)
    exit_on_warning(strict, found.has_warning)


def _suffix(output: str, file: str | None) -> str:
    """The form of the papers, from the name of the file."""
    from blendwright.report.papers import FORMATS

    if output == STANDARD:
        return ON_THE_SCREEN
    suffix = Path(output).suffix.casefold()
    if suffix not in FORMATS:
        fail(f"--output {output}: a report is one of {', '.join(FORMATS)}")
    if file and file != STANDARD and Path(output).resolve() == Path(file).resolve():
        fail(f"--output {output}: that is the formula itself; name another file")
    return suffix


def _day(text: str | None) -> date:
    """The date on the papers: the one given, else SOURCE_DATE_EPOCH's, else today."""
    if text is not None:
        try:
            return date.fromisoformat(text)
        except ValueError:
            fail(f"--date {text}: write it like 2026-11-25")
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch.isdigit():
        return datetime.fromtimestamp(int(epoch), UTC).date()
    return date.today()
