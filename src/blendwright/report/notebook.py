"""What a notebook shows for a formula, an estimate, an assessment and a comparison.

Small HTML without scripts, colours or pictures: it takes the page's own ink and paper, so it reads
in a light and a dark theme and in grey print. Everything that a person wrote is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING

from blendwright.report.assessment import answer_lines, title
from blendwright.report.terminal import LABELS, estimate_cells, number
from blendwright.verdict.as_read import as_read, besides

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

    from blendwright.assess import Assessment
    from blendwright.estimate import Estimate
    from blendwright.formula import Formula, Row
    from blendwright.questions.comparing import Comparison, Difference
    from blendwright.verdict import Finding

MOST_ROWS = 60
_LINE = "border:0;border-bottom:1px solid rgba(128,128,128,.45);padding:.15em .6em"
_TABLE = "border-collapse:collapse;border:0;margin:.3em 0;color:inherit;background:transparent"
_MARKS = {"warning": "WARNING", "caution": "CAUTION"}
_APART = {True: "yes", False: "no", None: "can't be told"}
_WHOLE_COLUMNS = ("strength", "role", "note")


def formula_html(formula: Formula) -> str:
    """Name, batch, and the rows as written."""
    rows = formula.rows[:MOST_ROWS]
    used = [name for name in _WHOLE_COLUMNS if any(_cell(row, name) for row in rows)]
    body = [[row.material, *_amount(row), *(_cell(row, name) for name in used)] for row in rows]
    rest = len(formula.rows) - len(rows)
    batch = f", batch {formula.batch_g:g} g" if formula.batch_g is not None else ""
    return _box(
        _strong(f"{formula.name}{batch}"),
        "".join(_finding(finding) for finding in as_read(formula.notices)),
        _table(["material", "amount", "", *used], body, numbers=(1,)),
        _quiet(f"and {rest} more rows") if rest > 0 else "",
    )


def estimate_html(estimate: Estimate) -> str:
    """Value and 90 % interval; method, sources and notes folded away."""
    value, span = estimate_cells(estimate)
    told = f"{span}, 90 % interval" if estimate.is_ok else span
    notes = list(estimate.notes) if estimate.is_ok else []
    behind = [f"method: {estimate.method}", *(f"source: {s}" for s in estimate.sources), *notes]
    return _box(
        f"{_strong(value)} ({escape(told)})" if told else _strong(value),
        _folded("how it was made", _list(behind)),
    )


def assessment_html(assessment: Assessment) -> str:
    """Verdicts, warnings and cautions, the numbers; notes and the usual cautions folded away."""
    weighing = assessment.weighing
    numbers = [
        [LABELS[name], *estimate_cells(estimate)] for name, estimate in assessment.estimates.items()
    ]
    read = as_read(weighing.formula.notices)
    findings = besides(assessment.findings, weighing.formula.notices)
    grave = [finding for finding in findings if finding.severity in _MARKS]
    notes = [finding for finding in findings if finding.severity not in _MARKS]
    return _box(
        _strong(title(assessment)),
        "".join(_finding(finding) for finding in read),
        _table((), answer_lines(assessment)),
        "".join(_finding(finding) for finding in grave),
        _table(["number", "value", "90 % interval"], numbers, numbers=(1,)),
        _folded("notes", _list(f"{note.message} {note.action}" for note in notes)),
        _folded("cautions", _list(assessment.cautions)),
        _quiet(
            f"Estimates, not tests. blendwright {assessment.version}, "
            f"data {assessment.data_version}"
        ),
    )


def comparison_html(comparison: Comparison) -> str:
    """Verdicts and numbers side by side, and whether the intervals are apart."""
    words = [
        [v.what, v.first, v.second, "changed" if v.changed else "the same"]
        for v in comparison.verdicts
    ]
    numbers = [_difference(difference) for difference in comparison.differences]
    heads = [comparison.first, comparison.second]
    told = [*comparison.notes]
    for head, codes in (("Gone", comparison.findings_gone), ("New", comparison.findings_new)):
        if codes:
            told.append(f"{head}: {', '.join(codes)}")
    return _box(
        _table(["verdict", *heads, ""], words),
        _table(
            ["number", *heads, "change", "larger than the intervals?"], numbers, numbers=(1, 2, 3)
        ),
        _list(told),
        _quiet("Larger than the intervals: the two 90 % intervals don't overlap."),
    )


def _difference(difference: Difference) -> list[str]:
    cells = []
    for estimate in (difference.first, difference.second):
        value, span = estimate_cells(estimate)
        cells.append(f"{value} ({span})" if estimate.is_ok else value)
    change = difference.change
    unit = difference.first.in_display_units().unit
    signed = "" if change is None else f"{'+' * (change > 0)}{number(change, unit)} {unit}"
    return [LABELS[difference.what], *cells, signed, _APART[difference.beyond_intervals]]


def _amount(row: Row) -> tuple[str, str]:
    if row.amount.unit == "to weight":
        return "q.s.", ""
    return f"{row.amount.number:.10g}", row.amount.unit


def _cell(row: Row, column: str) -> str:
    if column != "strength":
        return str(getattr(row, column))
    if row.strength is None:
        return ""
    basis = " vol" if row.strength.basis == "vol" else ""
    carrier = f" in {row.carrier}" if row.carrier else ""
    return f"{row.strength.percent:g} %{basis}{carrier}"


def _finding(finding: Finding) -> str:
    mark = _MARKS.get(finding.severity, "note")
    told = escape(f"{finding.message} {finding.action}")
    return f'<div style="margin:.2em 0"><b>{mark}</b> {told}</div>'


def _box(*parts: str) -> str:
    return (
        '<div style="color:inherit;background:transparent;max-width:60em;line-height:1.35">'
        f"{''.join(parts)}</div>"
    )


def _strong(text: str) -> str:
    return f"<b>{escape(text)}</b>"


def _quiet(text: str) -> str:
    return f'<div style="font-size:smaller">{escape(text)}</div>'


def _list(texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<ul style="margin:.2em 0">{items}</ul>' if items else ""


def _folded(title: str, inside: str) -> str:
    return f"<details><summary>{escape(title)}</summary>{inside}</details>" if inside else ""


def _table(
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    numbers: Sequence[int] = (),
) -> str:
    def cell(text: str, column: int, tag: str) -> str:
        side = "right" if column in numbers else "left"
        return f'<{tag} style="{_LINE};text-align:{side}">{escape(text)}</{tag}>'

    def line(texts: Sequence[str], tag: str) -> str:
        return f"<tr>{''.join(cell(text, i, tag) for i, text in enumerate(texts))}</tr>"

    top = f"<thead>{line(heads, 'th')}</thead>" if heads else ""
    body = "".join(line(row, "td") for row in rows)
    return f'<table style="{_TABLE}">{top}<tbody>{body}</tbody></table>'


# The classes by name, so that registering them loads none of them.
VIEWS = (
    ("blendwright.formula.formula", "Formula", formula_html),
    ("blendwright.estimate", "Estimate", estimate_html),
    ("blendwright.assess", "Assessment", assessment_html),
    ("blendwright.questions.comparing", "Comparison", comparison_html),
)


def register_views(shell: InteractiveShell) -> None:
    """Let a notebook show our values as HTML. Importing blendwright in IPython calls this."""
    if shell.display_formatter is None:  # a shell that shows text alone
        return
    html = shell.display_formatter.formatters["text/html"]
    for module, name, view in VIEWS:
        html.for_type_by_name(module, name, view)
