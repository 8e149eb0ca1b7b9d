"""The report that a person at the bench reads in ten seconds: verdicts first, then numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.assess import Assessment
from blendwright.estimate import Estimate
from blendwright.observations.comparing import Compared
from blendwright.verdict import Finding
from blendwright.verdict.as_read import as_read, besides
from blendwright.verdict.dissolution_and_layers import SURELY_CLEAR_BELOW
from blendwright.verdict.dosing import two_digits
from blendwright.verdict.flammability import ASK, Classing
from blendwright.verdict.limits import NO_CLASS
from blendwright.verdict.warming import Window

WIDTH = 80
LEAST_SHOWN_g = 0.001
_MARK = {"warning": "WARNING", "caution": "CAUTION", "info": "note"}
_STYLE = {"warning": "bold red", "caution": "bold yellow", "info": "dim"}
LABELS = {
    "density_g_mL": "Density",
    "volume_mL": "Volume",
    "vapour_pressure_kPa": "Vapour pressure",
    "initial_boiling_point_C": "Initial boiling point",
    "flash_point_closed_cup_C": "Flash point, closed cup",
    "dissolved_share": "Crystals dissolved here",
    "dissolution_temperature_C": "Last crystals go at",
    "cloud_temperature_C": "Clouds below",
    "lower_flammable_limit_vol_pct": "Lower flammable limit",
}
_DIGITS = {"g/mL": 4, "mL": 2, "kPa": 3, "°C": 0, "vol %": 1, "g": 2, "%": 0}


def console(stderr: bool = False) -> Console:
    """A console of at most 80 columns; plain text when piped or with NO_COLOR."""
    made = Console(highlight=False, stderr=stderr)
    width = min(WIDTH, made.width) if made.is_terminal else WIDTH
    return Console(highlight=False, width=width, stderr=stderr)


def number(value: float, unit: str) -> str:
    """A number with the digits that suit its unit."""
    digits = _DIGITS.get(unit, 3)
    if unit == "kPa" and 0.0 < abs(value) < 0.01:
        return f"{value:.1g}"
    return f"{value:.{digits}f}"


def estimate_cells(estimate: Estimate) -> tuple[str, str]:
    """(value with unit, interval or the reason why there is none)."""
    edge = estimate.at_the_edge()
    if not edge.is_ok:
        word = {"unknown": "unknown", "not_applicable": "none", "out_of_range": "out of range"}
        return word[edge.status], "; ".join(edge.notes)
    value, low, high = edge.interval()
    span = f"{number(low, edge.unit)} to {number(high, edge.unit)}"
    return f"{number(value, edge.unit)} {edge.unit}", span


def verdict_lines(assessment: Assessment) -> list[str]:
    """The plain answers, one line each."""
    return [f"{question:<11} {answer}" for question, answer in verdict_answers(assessment)]


def verdict_answers(assessment: Assessment) -> list[tuple[str, str]]:
    """The three questions of the bench and their plain answers."""
    here = f"{assessment.temperature_K - 273.15:.0f} °C"
    dissolves = {
        "dissolves": f"dissolves at {here}",
        "needs_warming": f"crystals stay at {here}: {_warmth(assessment.warming)}",
        "undissolved": "won't dissolve at this loading",
        "unknown": "dissolving: unknown",
    }[assessment.dissolution]
    chance = assessment.chance_of_layers
    sure = chance is not None and chance < SURELY_CLEAR_BELOW
    liquid = {
        "clear": "one clear liquid" if sure else "probably one clear liquid",
        "may_cloud": "may cloud or part",
        "splits": "splits into layers",
        "unknown": "layers: unknown",
    }[assessment.liquid]
    return [
        ("Dissolves?", dissolves),
        ("One liquid?", liquid),
        ("Burns?", fire_answer(assessment.flammability)),
    ]


def _warmth(warming: Window) -> str:
    """In a few words; the finding has all of it."""
    to = warming.may_warm_to_K
    return "do not warm it" if to is None else f"warm to {to - 273.15:.0f} °C"


def fire_answer(ghs: Classing) -> str:
    """The GHS class, the most hazardous category in reach first."""
    if ghs.category == "unknown":
        return "flammability unknown: treat as highly flammable"
    sure = ghs.evidence(short=not ghs.model_category)
    if ghs.treat_as == NO_CLASS:
        return f"not classed as a flammable liquid by GHS ({sure})"
    return f"flammable liquid: {ghs.lead()} ({sure})"


def print_assessment(assessment: Assessment, out: Console) -> None:
    """The whole report."""
    weighing = assessment.weighing
    out.print(
        Text(
            f"{weighing.formula.name}: {weighing.total_g:.4g} g, assessed at "
            f"{assessment.temperature_K - 273.15:.0f} °C, {assessment.pressure_Pa / 1e3:.1f} kPa",
            style="bold",
        )
    )
    out.print()
    notices = weighing.formula.notices
    print_findings(as_read(notices), out)
    for line in verdict_lines(assessment):
        out.print(Text(line))
    out.print()
    print_findings(besides(assessment.findings, notices), out)
    _print_classes(assessment.classings, out)
    _print_numbers(assessment, out)
    print_observations(assessment.observations, out)
    _print_solids(assessment, out)
    _print_rows(assessment, out)
    out.print(Text("Cautions", style="bold"))
    for caution in assessment.cautions:
        out.print(Padding(Text(f"- {caution}"), (0, 0, 0, 2)))
    out.print(
        Text(
            f"blendwright {assessment.version}, data {assessment.data_version}; "
            "methods and sources: --json",
            style="dim",
        )
    )


def print_findings(findings: Iterable[Finding], out: Console) -> None:
    """One finding a line, its gravity first."""
    table = Table.grid(padding=(0, 1))
    table.add_column(no_wrap=True)
    table.add_column()
    for finding in findings:
        table.add_row(
            Text(_MARK[finding.severity], style=_STYLE[finding.severity]),
            Text(f"{finding.message} {finding.action}"),
        )
    if table.row_count:
        out.print(table)
        out.print()


def _print_classes(classings: Iterable[Classing], out: Console) -> None:
    table = Table.grid(padding=(0, 2))
    for _ in range(4):
        table.add_column(no_wrap=True)
    table.add_row(Text("Classes", style="bold"), "treat as", "how sure", "clause")
    for c in classings:
        sure = "" if c.category == "unknown" else c.evidence(short=True)
        table.add_row(c.title, c.words(), sure, c.clause)
    out.print(table)
    out.print(Text(f"The transport texts name tests; ways out of a class are in --json: {ASK}"))
    out.print()


def _print_numbers(assessment: Assessment, out: Console) -> None:
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column()
    table.add_row(Text("Numbers", style="bold"), "", Text("90 % interval", style="bold"))
    for name, estimate in assessment.estimates.items():
        value, span = estimate_cells(estimate)
        table.add_row(LABELS[name], value, span)
    out.print(table)
    out.print()


def print_observations(compared: Sequence[Compared], out: Console) -> None:
    """What the person saw, most alike first, and what the model expects of that blend."""
    if not compared:
        return
    table = Table.grid(padding=(0, 2))
    table.add_column()
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column()
    heads = ("You saw", "on", "of the, counts", "the model there")
    table.add_row(*(Text(head, style="bold") for head in heads))
    for c in compared:
        table.add_row(
            c.observation.words(),
            c.observation.seen_on.isoformat(),
            f"{c.similarity}, {c.correlation:.0%}" if not c.why_not else "not counted",
            c.why_not or _model_there(c),
        )
    out.print(table)
    out.print()


def _model_there(compared: Compared) -> str:
    if compared.model is None:
        return ", ".join(f"chance of layers {look.chance_there:.0%}" for look in compared.looks)
    value, span = estimate_cells(compared.model)
    return f"{value} ({span})"


def _print_solids(assessment: Assessment, out: Console) -> None:
    if not assessment.solids:
        return
    table = numbers_table(
        ("Crystals", "g", "go at °C", "most at 20 °C", "most at 5 °C", "back at 4 °C")
    )
    for solid in assessment.solids:
        table.add_row(
            solid.material,
            f"{solid.mass_kg * 1e3:.3f}",
            number(solid.dissolves.interval()[0] - 273.15, "°C"),
            most_dissolved_cell(solid.most_20C),
            most_dissolved_cell(solid.most_5C),
            f"{solid.back_4C_g:.2f} g",
        )
    out.print(table)
    out.print()


def most_dissolved_cell(estimate: Estimate) -> str:
    """The largest amount that stays dissolved: grams in two digits, "any", or "?"."""
    edge = estimate.at_the_edge()
    if edge.value is None:
        return "any" if edge.status == "not_applicable" else "?"
    if edge.value < LEAST_SHOWN_g:
        return f"< {LEAST_SHOWN_g:g} g"
    return f"{two_digits(edge.value)} g"


def _print_rows(assessment: Assessment, out: Console) -> None:
    here = f"mL, {assessment.temperature_K - 273.15:.0f} °C"
    table = numbers_table(("Material", "g", here, "vapour %", "flash %"))
    for row, volume, share in zip(
        assessment.weighing.rows, assessment.row_volumes, assessment.contributions, strict=True
    ):
        table.add_row(
            row.label,
            f"{row.grams:.3f}",
            volume_cell(volume),
            f"{share.vapour_pct:.1f}",
            f"{share.flammability_pct:.1f}",
        )
    total = assessment.estimates["volume_mL"]
    table.add_row("total", f"{assessment.weighing.total_g:.3f}", volume_cell(total), "", "")
    out.print(table)
    out.print()


def numbers_table(heads: Sequence[str], words: int = 1) -> Table:
    """A table with bold heads: the first columns hold words, the others numbers."""
    table = Table.grid(padding=(0, 2))
    for i in range(len(heads)):
        if i < words:
            table.add_column(overflow="fold")
        else:
            table.add_column(justify="right", no_wrap=True)
    table.add_row(*(Text(head, style="bold") for head in heads))
    return table


def volume_cell(volume: Estimate) -> str:
    edge = volume.at_the_edge()
    return f"{edge.value:.3f}" if edge.value is not None else "?"
