"""How far the answers are off: in sentences from the figures that ship with the program, and as
Markdown tables from figures that were calculated just now."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from blendwright.catalogue import default_catalogue
from blendwright.estimate import per_cent
from blendwright.version import __version__

if TYPE_CHECKING:
    from blendwright.questions.accuracy.left_out import LeftOutFigure
    from blendwright.questions.accuracy.table_lines import Counted, Coverage, Figures
    from blendwright.questions.accuracy.targets import Answer

SCHEMA = "blendwright/accuracy/1"
SHIPPED = "accuracy_figures.json"  # written by docs/accuracy.py
QUESTION_NAMES = {
    "dissolve": "Does it dissolve, is it one liquid?",
    "burn": "Does it burn?",
    "vapour": "Vapour, boiling and evaporation",
    "volume": "How much is it?",
    "materials": "Is the material known?",
}
# what stands in the first line: the question, and what it is called there
LEADING = (
    ("flash points of mixtures, closed cup, read", "flash points of mixtures"),
    ("azeotropes, boiling point at 101.3 kPa", "boiling points"),
    ("vapour pressures of two-component liquids", "vapour pressures"),
    ("crystals, another carrier known, log10 x", "solubilities in another carrier"),
    ("densities of blends, their system left out", "densities"),
)
SHARE_UNITS = ("chance",)
_MET = {True: "met", False: "MISSED", None: "-"}


@dataclass(frozen=True)
class Calculated:
    """Figures of this moment, by question."""

    answers: Mapping[str, Sequence[Answer]]

    @cached_property
    def data(self) -> dict[str, Any]:
        return {
            "schema": SCHEMA,
            "version": __version__,
            "data_version": default_catalogue().version(),
            "questions": {
                name: [answer.to_dict() for answer in found] for name, found in self.answers.items()
            },
        }


def calculated(asked: Sequence[str]) -> Calculated:
    """Hold the models against the measurements now; some minutes for all questions."""
    from blendwright.questions.accuracy.targets import QUESTIONS

    return Calculated({name: QUESTIONS[name]() for name in asked})


def shipped(asked: Sequence[str] = tuple(QUESTION_NAMES)) -> dict[str, Any]:
    """The figures that were calculated when this version was made."""
    text = (files("blendwright.report") / SHIPPED).read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return {**data, "questions": {name: data["questions"][name] for name in asked}}


def print_sentences(data: Mapping[str, Any], out: Console) -> None:
    """The leading figures and how many targets are met; then a sentence for each question."""
    answers = [answer for found in data["questions"].values() for answer in found]
    leading = [
        f"{name} {_off(*_error(answer))}"
        for question, name in LEADING
        for answer in answers
        if answer["question"] == question
    ]
    if leading:
        out.print(Text(f"Off on average: {', '.join(leading)}.", style="bold"))
    judged = [answer for answer in answers if answer["met"] is not None]
    met = sum(bool(answer["met"]) for answer in judged)
    missed = len(judged) - met
    head = f"Compared with published measurements, {met} of {len(judged)} targets are met"
    out.print(Text(f"{head}, {missed} are missed." if missed else f"{head}."))
    now = (__version__, default_catalogue().version())
    if (data["version"], data["data_version"]) != now:
        out.print(
            Text(
                f"The figures are those of blendwright {data['version']}, data "
                f"{data['data_version']}; --rerun calculates them for yours."
            )
        )
    for name, found in data["questions"].items():
        out.print()
        out.print(Text(QUESTION_NAMES[name], style="bold"))
        for answer in found:
            out.print(Padding(Text(f"- {sentence(answer)}"), (0, 0, 0, 2)))


def sentence(answer: Mapping[str, Any]) -> str:
    """One question's figure in plain words, with its number of measurements and its target."""
    met = {True: "", False: " Target missed.", None: ""}[answer["met"]]
    count = answer["counted"]
    if count is not None:
        return f"{answer['question']}: {count['hits']:,} of {count['n']:,}.{met}"
    found = answer["figures"] or answer["left_out"]
    off = _off(*_error(answer))
    how = "on average" if answer["figures"] else "(root mean square, on data not used in fitting)"
    return f"{answer['question']} ({found['n']:,} values): off by {off} {how}.{met}"


def _error(answer: Mapping[str, Any]) -> tuple[float, str]:
    """The error that a question is told by, and its unit."""
    if answer["figures"]:
        return answer["figures"]["mean_absolute_error"], answer["figures"]["unit"]
    return answer["left_out"]["root_mean_square"], answer["left_out"]["unit"]


def _off(value: float, unit: str) -> str:
    """A mean error as people say it: a logarithm as a factor, kelvin as °C.

    >>> _off(0.04, "log10 mol/L"), _off(0.7, "ln P"), _off(1.53, "K"), _off(0.21, "%")
    ('a factor 1.10', 'a factor 2.01', '1.5 °C', '0.21 %')
    """
    if unit.startswith("log10"):
        return f"a factor {10.0**value:.2f}"
    if unit.startswith("ln "):
        return f"a factor {math.exp(value):.2f}"
    if unit == "K":
        return f"{value:.1f} °C"
    if unit in SHARE_UNITS:
        return f"{100.0 * value:.0f} %"
    return f"{value:.2f} {unit}"


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
        return f"{answer.counted.hits} of {answer.counted.n} ({per_cent(answer.counted.share)})"
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
    from blendwright.questions.accuracy.table_lines import acceptance

    low, high = acceptance(found.substances)
    ratio = found.width_ratio
    beside = f"{found.quantile:.2f} ({found.best})" if found.quantile is not None else "-"
    return (
        f"{found.kind} | {found.n} | {found.substances} | {per_cent(found.share)} | "
        f"{per_cent(found.by_substance)} | {per_cent(low)} to {per_cent(high)} | "
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


def _left_out(found: LeftOutFigure) -> list[str]:
    return [
        f"| {found.unit} | n | substances, pairs or systems | root mean square | "
        "without learned terms | median 90 % half-width | held |",
        "|---|---|---|---|---|---|---|",
        f"| tested on data not used in fitting | {found.count} | {found.groups} | "
        f"{found.rms:.3f} | {found.base:.3f} | {found.half_width:.2f} | {per_cent(found.inside)} |",
    ]


def _count(found: Counted) -> list[str]:
    lines = [f"{found.hits} of {found.n} ({per_cent(found.share)})."]
    if found.missed:
        lines += ["", f"Missed: {'; '.join(found.missed)}."]
    return lines
