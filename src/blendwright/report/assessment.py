"""An assessment on the terminal: the first screen answers in 25 lines, `--show` opens the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from blendwright.assess import Assessment
from blendwright.catalogue import Catalogue
from blendwright.estimate import to_celsius
from blendwright.report.answers_at_a_glance import Glance, at_a_glance
from blendwright.report.short_cautions import by_harm, in_short
from blendwright.report.terminal import (
    LABELS,
    estimate_cells,
    findings_table,
    most_dissolved_cell,
    number,
    numbers_table,
    print_findings,
    print_observations,
    volume_cell,
)
from blendwright.report.thermometer_line import strip
from blendwright.verdict import Finding
from blendwright.verdict.as_read import as_read, besides
from blendwright.verdict.dosing import two_digits
from blendwright.verdict.flammability import ASK

ALL = "all"
FIRST_NUMBERS = (
    ("Boiling from", "initial_boiling_point"),
    ("vapour pressure", "vapour_pressure"),
    ("lower flammable limit", "lower_flammable_limit"),
)
_STATE_STYLE = {"good": "", "caution": "yellow", "warning": "bold red", "unknown": "bold yellow"}


def print_assessment(
    assessment: Assessment,
    out: Console,
    show: Sequence[str] = (),
    catalogue: Catalogue | None = None,
) -> None:
    """The first screen, then the parts of `show` (names of `PARTS`) in the order of `PARTS`.

    `catalogue` is the one that it was assessed with, for the sources.
    """
    glance = at_a_glance(assessment)
    _print_first_screen(assessment, glance, show, out)
    for name, part in PARTS.items():
        if name in show:
            out.print()
            part(assessment, out, catalogue)


def parts_of(text: str) -> tuple[str, ...]:
    """The parts that a person asked for, comma separated. Raises ValueError for any other word."""
    words = [word.strip().casefold() for word in text.split(",") if word.strip()]
    for word in words:
        if word not in PARTS and word != ALL:
            raise ValueError(f"there is no part {word!r}; there are {', '.join((*PARTS, ALL))}")
    return tuple(PARTS) if ALL in words else tuple(name for name in PARTS if name in words)


def answer_lines(assessment: Assessment, in_full: bool = True) -> list[tuple[str, str]]:
    """The four questions, and their answers in a sentence, or in full."""
    return [
        (answer.question, answer.in_full if in_full else answer.sentence)
        for answer in at_a_glance(assessment).answers
    ]


def _print_first_screen(
    assessment: Assessment, glance: Glance, show: Sequence[str], out: Console
) -> None:
    weighing = assessment.weighing
    out.print(Text(title(assessment), style="bold"))
    notices = weighing.formula.notices
    print_findings(as_read(notices), out)
    answers = Table.grid(padding=(0, 1))
    answers.add_column(no_wrap=True)
    answers.add_column()
    for answer in glance.answers:
        answers.add_row(answer.question, Text(answer.sentence, style=_STATE_STYLE[answer.state]))
    out.print(answers)
    line = strip(glance.thermometer, out.width) if out.encoding.startswith("utf") else ""
    if line:
        out.print(Text(line))
    findings = besides(assessment.findings, notices)
    warnings = [f for f in findings if f.severity == "warning"]
    cautions = by_harm(f for f in findings if f.severity == "caution")
    told = [(f, f"{f.message} {f.action}") for f in warnings]
    told += [(f, in_short(f, assessment.warming)) for f in cautions]
    out.print()
    if told:
        out.print(findings_table(told))
    numbers = Text(f"{'; '.join(_first_numbers(assessment))}.")
    out.print(numbers.append(_count(findings, assessment, show), style="dim"))
    out.print(_closing(show))


def title(assessment: Assessment) -> str:
    """Name, mass and conditions."""
    weighing = assessment.weighing
    return (
        f"{weighing.formula.name}: {weighing.total_g:.4g} g at "
        f"{to_celsius(assessment.temperature_K):.3g} °C, {assessment.pressure_Pa / 1e3:.4g} kPa"
    )


def _count(findings: Iterable[Finding], assessment: Assessment, show: Sequence[str]) -> str:
    """How many notes there are, and observations that were counted in."""
    if "notes" in show:
        return ""
    notes = sum(f.severity == "info" for f in findings)
    parts = [f"{notes} {'note' if notes == 1 else 'notes'}"]
    counted = sum(not c.why_not for c in assessment.observations)
    if counted:
        parts.append(f"{counted} of your observations counted")
    return f" {', '.join(parts)}; all in full: --show notes"


def _first_numbers(assessment: Assessment) -> list[str]:
    return [f"{name} {_brief(assessment, key)}" for name, key in FIRST_NUMBERS]


def _brief(assessment: Assessment, key: str) -> str:
    """ "139 °C (112 to 166)", or why there is none."""
    shown = assessment.estimates[key].in_display_units()
    if shown.is_ok and shown.unit == "kPa":
        value, low, high = map(two_digits, shown.interval())
        return f"{value} kPa ({low} to {high})"
    value, span = estimate_cells(shown)
    return f"{value} ({span})" if span else value


def _closing(show: Sequence[str]) -> Text:
    rest = [name for name in PARTS if name not in (*show, "notes")]
    more = f" See --show {','.join([*rest, ALL])}" if rest else ""
    return Text(f"An estimate clears nothing.{more}", style="dim")


# What --show opens


def _show_rows(assessment: Assessment, out: Console, _: Catalogue | None) -> None:
    here = f"mL, {to_celsius(assessment.temperature_K):.0f} °C"
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
    total = assessment.estimates["volume"]
    table.add_row("total", f"{assessment.weighing.total_g:.3f}", volume_cell(total), "", "")
    out.print(table)


def _show_crystals(assessment: Assessment, out: Console, _: Catalogue | None) -> None:
    if not assessment.solids:
        out.print("No crystals: nothing in it is a solid by itself.")
        return
    heads = ("Crystals", "g", "dissolved above", "most at 20 °C", "most at 5 °C", "at 4 °C")
    table = numbers_table(heads)
    for solid in assessment.solids:
        table.add_row(
            solid.material,
            f"{solid.mass_kg * 1e3:.3f}",
            f"{number(to_celsius(solid.dissolves.interval()[0]), '°C')} °C",
            most_dissolved_cell(solid.most_20C),
            most_dissolved_cell(solid.most_5C),
            f"{solid.back_4C_g:.2f} g",
        )
    out.print(table)


def _show_classes(assessment: Assessment, out: Console, _: Catalogue | None) -> None:
    table = numbers_table(("Classes", "treat as", "how sure", "clause"), words=4)
    for c in assessment.classings:
        sure = "" if c.category == "unknown" else c.evidence(short=True)
        table.add_row(c.title, c.words(), sure, c.clause)
    out.print(table)
    out.print(Text(f"The transport texts name tests; ways out of a class are in --json: {ASK}"))


def _show_notes(assessment: Assessment, out: Console, _: Catalogue | None) -> None:
    """Every caution and note in full, and the usual cautions."""
    findings = besides(assessment.findings, assessment.weighing.formula.notices)
    cautions = by_harm(f for f in findings if f.severity == "caution")
    print_findings([*cautions, *(f for f in findings if f.severity == "info")], out)
    out.print(Text("Always", style="bold"))
    for caution in assessment.cautions:
        out.print(Padding(Text(f"- {caution}"), (0, 0, 0, 2)))


def _show_sources(assessment: Assessment, out: Console, catalogue: Catalogue | None) -> None:
    from blendwright.report.bibliography import bibliography_text
    from blendwright.report.sources import bibliography

    entries = bibliography(assessment, catalogue)
    out.print(Text(bibliography_text(assessment.weighing.formula.name, entries).rstrip()))


def _show_numbers(assessment: Assessment, out: Console, _: Catalogue | None) -> None:
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column()
    table.add_row(Text("Numbers", style="bold"), "", Text("90 % interval", style="bold"))
    for name, estimate in assessment.estimates.items():
        value, span = estimate_cells(estimate)
        table.add_row(LABELS[name], value, span)
    out.print(table)
    print_observations(assessment.observations, out)
    out.print(
        Text(
            f"blendwright {assessment.version}, data {assessment.data_version}; methods: --json",
            style="dim",
        )
    )


PARTS: Mapping[str, Callable[[Assessment, Console, Catalogue | None], None]] = {
    "rows": _show_rows,
    "crystals": _show_crystals,
    "classes": _show_classes,
    "notes": _show_notes,
    "numbers": _show_numbers,
    "sources": _show_sources,
}
