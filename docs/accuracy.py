"""Writes docs/accuracy.md, its plots and the figures that `blendwright accuracy` prints, from the
program itself; --check only compares.

python docs/accuracy.py            about two minutes
python docs/accuracy.py --record   also writes recorded.csv (tests/questions/accuracy), the figures
"""

from __future__ import annotations

import csv
import json
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from blendwright.questions.accuracy.table_lines import FEWEST_JUDGED, acceptance
from blendwright.questions.accuracy.targets import QUESTIONS, Answer
from blendwright.report.accuracy import SHIPPED, Calculated, coverages, markdown, targets
from blendwright.report.pictures import Held, Parity, coverage, parity, picture_bytes

DOCS = Path(__file__).parent
FIGURES = DOCS.parent / "src" / "blendwright" / "report" / SHIPPED
RECORDED = DOCS.parent / "tests" / "questions" / "accuracy" / "recorded.csv"
HEAD = """# Accuracy

Made by `python docs/accuracy.py`, which runs `blendwright accuracy --rerun`: every model against
published measurements (`src/blendwright/questions/accuracy/reference/`). What the liquid model is
worth on data not used in fitting (`left_out.csv`) comes from `python -m fitting.excess figures`.
The learned terms have seen some of the other measurements.

Known failures in plain words:

- salicylic acid and phenyl salicylate: the groups don't know of the hydrogen bond inside the
  molecule;
- clove bud, lavender and peppermint oil and gamma-undecalactone at the published strength of
  alcohol: we say that they split, they are clear;
- 5 % limonene in strong alcohol: we say that it is clear, it splits;
- triacetin in propylene glycol, which mixes: we say that it may split;
- activity coefficients in glycerol and of amines in ethanol: errors of a factor two and more, and
  intervals that hold too seldom;
- a crystal measured in two laboratories may differ by more than its interval (vanillin in ethanol);
- nootkatone's flash point from its boiling point alone: 39 °C too high, beyond even the one-sided
  99 % bound (the catalogue has a published one);
- organic acids' vapour pressure from the boiling point alone: up to eight times too high, for they
  pair up in the vapour; from the structure alone the intervals of acids and alcohols hold too
  seldom;
- the boiling point, from the structure alone, of a molecule that the library lacks too: half as far
  off again as others', and its interval holds too seldom;
- no published ester-glycol flash point could be read.

"""
HOW = """## How the intervals are made

Intervals of blends come from the draws of the liquid model ([methods](methods.md)) and the pure
substances' own doubts. A pure substance's half-width is multiplied by a factor by kind
(`interval_factors.csv`), learned by conformal prediction: the errors of substances left out, over
the half-widths claimed, in order; the factor is the 90 % quantile with each substance counted once
(`accuracy/conformal.py`). `python -m fitting.learned_tables` writes these tables anew; a test
compares them.

"Held" counts points; "by substance" counts each substance once and is what "allowed" is for, the
central 95 % of a binomial of n = substances with a true 90 %: points of one substance are no
independent draws. "Best single model needs" is the 90 % quantile of the errors of the published set
that is best on these very points; the ratio is our mean half-width over it.

"""
TITLES = {
    "dissolve": "Will it dissolve, stay clear",
    "burn": "Will it burn",
    "vapour": "What is in the air over it",
    "volume": "How much room does it take",
    "materials": "Is the material known",
}
PARITIES = {
    "flash-parity.svg": ("burn", "flash points of mixtures, closed cup, read", "flash point", "°C"),
    "flash-pure-parity.svg": (
        "burn",
        "flash points of pure substances, all estimated",
        "flash point",
        "°C",
    ),
}
COVERAGE = "coverage.svg"


def answers() -> dict[str, list[Answer]]:
    return {name: ask() for name, ask in QUESTIONS.items()}


def text(found: Mapping[str, Sequence[Answer]]) -> str:
    parts = [HEAD, "## Targets and figures\n\n", targets(found), "\n", HOW]
    parts += [f"![How often the intervals hold]({COVERAGE})\n\n", coverages(found), "\n"]
    for name, asked in found.items():
        parts.append(
            f"## {TITLES[name]} (`blendwright accuracy {name} --rerun`)\n\n{markdown(asked)}\n"
        )
        for picture, (question, title, _, _) in PARITIES.items():
            if question == name:
                parts.append(f"![{title}]({picture})\n\n")
    return "".join(parts).rstrip("\n") + "\n"


def parity_picture(answer: Answer, quantity: str, unit: str) -> bytes:
    cases = [c for c in answer.cases if c.measured is not None]
    measured = np.array([c.measured for c in cases], dtype=float)
    predicted = measured + np.array([c.error for c in cases])
    half = np.array([c.half_width or 0.0 for c in cases])
    figure = parity(
        Parity(
            quantity,
            unit,
            measured,
            predicted,
            predicted - half,
            predicted + half,
            tuple(c.group for c in cases),
            answer.question,
        )
    )
    return picture_bytes(figure, "svg")


def coverage_picture(found: Mapping[str, Sequence[Answer]]) -> bytes:
    lines = []
    for asked in found.values():
        for answer in asked:
            for c in answer.figures.coverage if answer.figures else ():
                if c.n < FEWEST_JUDGED:
                    continue
                low, high = acceptance(c.substances)
                name = answer.question if c.kind == "all" else f"{c.kind}: {answer.question}"
                lines.append(Held(name, 100 * c.by_substance, 100 * low, 100 * high, c.substances))
    return picture_bytes(coverage(lines, "How often the 90 % intervals hold"), "svg")


NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
LOOSE = 0.03  # of a number, and LEAST: other machines' last digits
LEAST = 0.02


def same(first: str, second: str) -> bool:
    """Alike in words, and in numbers but for what another machine's last digits do."""
    if NUMBER.sub("#", first) != NUMBER.sub("#", second):
        return False
    pairs = zip(NUMBER.findall(first), NUMBER.findall(second), strict=True)
    return all(abs(float(a) - float(b)) <= LEAST + LOOSE * abs(float(b)) for a, b in pairs)


def is_stale(found: Mapping[str, Sequence[Answer]]) -> bool:
    return not same((DOCS / "accuracy.md").read_text(encoding="utf-8"), text(found))


def record(found: Mapping[str, Sequence[Answer]]) -> None:
    """Keeps the reasons that stand beside figures recorded before."""
    why = {}
    if RECORDED.exists():
        with RECORDED.open(encoding="utf-8", newline="") as handle:
            why = {row["question"]: row["why"] for row in csv.DictReader(handle)}
    with RECORDED.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(("question", "what", "value", "better", "why"))
        for asked in found.values():
            for answer in asked:
                head = answer.headline
                writer.writerow(
                    (
                        answer.question,
                        head.what,
                        f"{head.value:.4f}",
                        head.better,
                        why.get(answer.question, ""),
                    )
                )


def main() -> int:
    found = answers()
    if "--check" in sys.argv:
        if not is_stale(found):
            return 0
        print("docs/accuracy.md is stale: run python docs/accuracy.py")
        return 1
    (DOCS / "accuracy.md").write_text(text(found), encoding="utf-8")
    figures = json.dumps(Calculated(found).data, ensure_ascii=False, indent=1)
    FIGURES.write_text(f"{figures}\n", encoding="utf-8")
    (DOCS / COVERAGE).write_bytes(coverage_picture(found))
    for name, (question, title, quantity, unit) in PARITIES.items():
        answer = next(a for a in found[question] if a.question == title)
        (DOCS / name).write_bytes(parity_picture(answer, quantity, unit))
    if "--record" in sys.argv:
        record(found)
    return 0


if __name__ == "__main__":
    sys.exit(main())
