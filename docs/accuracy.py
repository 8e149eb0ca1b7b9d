"""Writes docs/accuracy.md and its parity plot from the program itself; --check only compares.

python docs/accuracy.py            about three minutes
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from blendwright.accuracy import burn
from blendwright.accuracy.questions import QUESTIONS
from blendwright.pictures import Parity, parity, picture_bytes
from blendwright.report.accuracy import markdown

DOCS = Path(__file__).parent
HEAD = """# Accuracy

Made by `python docs/accuracy.py`, which runs `blendwright accuracy`: every model against published
measurements (`src/blendwright/reference/`), each substance left out of whatever judges it. Lines
beside blendwright's own are a naive guess and single published parameter sets as they are.

Known failures in plain words:

- salicylic acid and phenyl salicylate: the groups don't know of the hydrogen bond inside the
  molecule; in water the acid is said to dissolve a hundredfold too well;
- coumarin, camphor and raspberry ketone in water without their measurement: five to ten times too
  little;
- gamma-undecalactone in 60 % alcohol: we say that it parts, it is clear; its water solubility is
  an estimate;
- anethole and methyl salicylate in strong alcohol: we say that a quarter of the published volume is
  enough, and the published limit may be generous;
- triacetin in propylene glycol, which mixes: we say that it may part;
- no published ester-glycol flash point could be read. The vapour over glycols was learned from
  activity coefficients of hydrocarbons, alcohols, ketones and a few acetates in other glycols.

"""
TITLES = {"dissolve": "Will it dissolve, stay clear", "burn": "Will it burn"}


def plot() -> bytes:
    measured, predicted, low, high, classes = [], [], [], [], []
    for one, case in zip(burn.measured(), burn.cases(), strict=True):
        measured.append(one.flash_C)
        predicted.append(one.flash_C + case.error)
        half = case.half_width or 0.0
        low.append(predicted[-1] - half)
        high.append(predicted[-1] + half)
        classes.append(case.group)
    arrays = (np.array(values) for values in (measured, predicted, low, high))
    figure = parity(
        Parity("flash point", "°C", *arrays, tuple(classes), "Flash points of published mixtures")
    )
    return picture_bytes(figure, "svg")


def text() -> str:
    parts = [HEAD]
    for name, ask in QUESTIONS.items():
        parts.append(f"## {TITLES[name]} (`blendwright accuracy {name}`)\n\n{markdown(ask())}\n")
    parts.append("![Flash points of published mixtures](flash-parity.svg)\n")
    return "".join(parts)


def main() -> int:
    page, picture = DOCS / "accuracy.md", DOCS / "flash-parity.svg"
    written = text()
    if "--check" in sys.argv:
        if page.read_text(encoding="utf-8") == written:
            return 0
        print("docs/accuracy.md is stale: run python docs/accuracy.py")
        return 1
    page.write_text(written, encoding="utf-8")
    picture.write_bytes(plot())
    return 0


if __name__ == "__main__":
    sys.exit(main())
