"""The accuracy table, on the terminal and as Markdown."""

from __future__ import annotations

from collections.abc import Sequence

from blendwright.accuracy.figures import Counted, Figures, acceptance
from blendwright.accuracy.questions import Answer

_MET = {True: "met", False: "MISSED", None: "-"}


def markdown(answers: Sequence[Answer]) -> str:
    """All answers as Markdown sections; plain enough to read on a terminal."""
    return "\n".join(line for answer in answers for line in _section(answer))


def _section(answer: Answer) -> list[str]:
    lines = [f"### {answer.question}", ""]
    lines.append(f"Target: {answer.target}: {_MET[answer.met]}.")
    lines.append("")
    if answer.figures is not None:
        lines += _figures(answer.figures)
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
        f"| {title} | {n} | {mean:.2f} | | {square:.2f} |"
        for title, n, mean, square in found.others
    ]
    worst = ", ".join(f"{name} {error:+.2f}" for name, error in found.worst)
    lines += ["", f"Worst: {worst}."]
    if found.coverage is not None and found.mean_half_width is not None:
        low, high = acceptance(found.n)
        inside = "inside" if low <= found.coverage <= high else "OUTSIDE"
        lines += [
            "",
            f"90 % intervals hold {found.coverage:.0%}, {inside} the {low:.0%} to {high:.0%} that "
            f"{found.n} cases allow; mean half-width {found.mean_half_width:.2f}.",
        ]
    return lines


def _count(found: Counted) -> list[str]:
    lines = [f"{found.hits} of {found.n} ({found.share:.0%})."]
    if found.missed:
        lines += ["", f"Missed: {'; '.join(found.missed)}."]
    return lines
