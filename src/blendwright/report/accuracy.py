"""The accuracy table, on the terminal and as Markdown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from blendwright.questions.accuracy.figures import Counted, Coverage, Figures, acceptance
from blendwright.questions.accuracy.left_out import LeftOut
from blendwright.questions.accuracy.questions import Answer

_MET = {True: "met", False: "MISSED", None: "-"}


def markdown(answers: Sequence[Answer]) -> str:
    """All answers as Markdown sections; plain enough to read on a terminal."""
    return "\n".join(line for answer in answers for line in _section(answer))


def targets(questions: Mapping[str, Sequence[Answer]]) -> str:
    """Every target with the figure of today, one line each."""
    lines = ["| | what is asked | n | target | figure | |", "|---|---|---|---|---|---|"]
    for name, answers in questions.items():
        for answer in answers:
            lines.append(
                f"| {name} | {answer.question} | {answer.count} | {answer.target} | "
                f"{_headline(answer)} | {_MET[answer.met]} |"
            )
    return "\n".join([*lines, ""])


def _headline(answer: Answer) -> str:
    if answer.counted is not None:
        return f"{answer.counted.hits} of {answer.counted.n} ({answer.counted.share:.0%})"
    if answer.left_out is not None:
        return f"{answer.headline.value:.2f} {answer.left_out.unit}"
    return f"{answer.headline.value:.2f} {answer.figures.unit if answer.figures else ''}"


def coverages(questions: Mapping[str, Sequence[Answer]]) -> str:
    """Every 90 % interval with its class, one line each."""
    lines = [
        "| what is asked | kind | points | substances | held | by substance | allowed | "
        "| half-width | best single model needs | ratio |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for answers in questions.values():
        for answer in answers:
            if answer.figures is not None:
                lines += [
                    f"| {answer.question} | {line}"
                    for line in map(_coverage_cells, answer.figures.coverage)
                ]
    return "\n".join([*lines, ""])


def _coverage_cells(found: Coverage) -> str:
    low, high = acceptance(found.substances)
    ratio = found.width_ratio
    beside = f"{found.quantile:.2f} ({found.best})" if found.quantile is not None else "-"
    return (
        f"{found.kind} | {found.n} | {found.substances} | {found.share:.0%} | "
        f"{found.by_substance:.0%} | {low:.0%} to {high:.0%} | "
        f"{'inside' if found.accepted else 'OUTSIDE'} | {found.mean_half_width:.2f} | {beside} | "
        f"{f'{ratio:.2f}' if ratio is not None else '-'} |"
    )


def _section(answer: Answer) -> list[str]:
    lines = [f"### {answer.question}", ""]
    lines.append(f"Target: {answer.target}: {_MET[answer.met]}.")
    lines.append("")
    if answer.figures is not None:
        lines += _figures(answer.figures)
    if answer.left_out is not None:
        lines += _left_out(answer.left_out)
    if answer.counted is not None:
        lines += _count(answer.counted)
    return [*lines, ""]


def _figures(found: Figures) -> list[str]:
    lines = [
        f"| {found.unit} | n | mean absolute | bias | root mean square |",
        "|---|---|---|---|---|",
        f"| blendwright | {found.n} | {found.mean_absolute:.2f} | {found.bias:+.2f} | "
        f"{found.root_mean_square:.2f} |",
    ]
    lines += [
        f"| {o.title} | {o.n} | {o.mean_absolute:.2f} | | {o.root_mean_square:.2f} |"
        for o in found.others
    ]
    worst = ", ".join(f"{name} {error:+.2f}" for name, error in found.worst)
    lines += ["", f"Worst: {worst}."]
    if found.coverage:
        lines += [
            "",
            "| 90 % intervals | points | substances | held | by substance | allowed | "
            "| half-width | best single model needs | ratio |",
            "|---|---|---|---|---|---|---|---|---|---|",
            *(f"| {_coverage_cells(c)}" for c in found.coverage),
        ]
    return lines


def _left_out(found: LeftOut) -> list[str]:
    return [
        f"| {found.unit} | n | substances, pairs or systems | root mean square | "
        "without learned terms | median 90 % half-width | held |",
        "|---|---|---|---|---|---|---|",
        f"| tested on data not used in fitting | {found.count} | {found.groups} | "
        f"{found.rms:.3f} | {found.base:.3f} | {found.half_width:.2f} | {found.inside:.0%} |",
    ]


def _count(found: Counted) -> list[str]:
    lines = [f"{found.hits} of {found.n} ({found.share:.0%})."]
    if found.missed:
        lines += ["", f"Missed: {'; '.join(found.missed)}."]
    return lines
