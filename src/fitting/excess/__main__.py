"""`python -m fitting.excess [prior | figures]`, from `src`."""

from __future__ import annotations

import csv
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from blendwright.mixture.excess.learned import prior
from fitting.excess.design import NAMES
from fitting.excess.fit import Fit, learn_prior
from fitting.excess.leave_out import Figure, figures, log_density
from fitting.excess.leave_out_layers import (
    curves,
    second_stage,
    strengths,
    summary,
    without_hydrocarbon,
)
from fitting.excess.prior import START
from fitting.excess.rows import OUTSIDE, FitRow, pair_rows
from fitting.excess.shipped import Posterior, posterior, written
from fitting.excess.stages import Three, fit_pairs, fit_pairs_and_statements, fit_three

NOISE_TABLE = Path(__file__).with_name("noise.csv")
LEFT_OUT = Path(__file__).parents[2] / "blendwright" / "questions" / "accuracy" / "left_out.csv"
STEPS = 12
KEPT = ("alcohol", "vapour")  # kinds whose noise is not learned: stand-ins, and pure vapour's doubt
BY_CHOICE = ("preferred set", "preferred set of class pair")  # not learned: 1 is all of one set


def noise() -> dict[str, float]:
    """What each kind's own noise is multiplied with, as learned."""
    if not NOISE_TABLE.exists():
        return {}
    rows = csv.DictReader(NOISE_TABLE.read_text(encoding="utf-8").splitlines())
    return {row["kind"]: float(row["factor"]) for row in rows}


def fitted(rows: Sequence[FitRow]) -> tuple[Fit, Posterior, Three]:
    """Both stages, with the standard deviations as they are."""
    pairs = fit_pairs_and_statements(rows, prior(), noise())
    first = posterior(pairs)
    return pairs, first, fit_three(first, prior())


def learned_prior(rows: Sequence[FitRow]) -> None:
    """Standard deviations by evidence, from those at hand; writes noise.csv and returns the fit."""
    known, factors = {**START, **_shipped()}, noise()
    fit = fit_pairs(rows, known, factors)
    kinds = sorted({r.kind for r in rows})
    number = np.array([kinds.index(r.kind) for r in rows])
    free = [k for k, kind in enumerate(kinds) if kind not in KEPT]
    names = [n for n in NAMES if n[:2] not in ("t ", "u ") and n not in BY_CHOICE]
    better = learn_prior(fit, names, number, free, STEPS)
    ratio = better.noise / fit.noise
    lines = ["kind,factor"]
    for k, kind in enumerate(kinds):
        factor = factors.get(kind, 1.0) * float(np.median(ratio[number == k]))
        lines.append(f"{kind},{factor:.4g}")
    NOISE_TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    written([], better.prior)
    prior.cache_clear()


def _shipped() -> dict[str, float]:
    try:
        return dict(prior())
    except FileNotFoundError:
        return {}


def write_left_out(found: Sequence[Figure]) -> None:
    """What `blendwright accuracy` prints of the fit."""
    with LEFT_OUT.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(
            ["question", "unit", "count", "groups", "rms", "base", "half_width", "inside"]
        )
        for one in found:
            numbers = (f"{v:.4f}" for v in (one.rms, one.base, one.half_width, one.inside))
            writer.writerow([one.question, one.unit, one.count, one.groups, *numbers])


def print_figures(pairs: Fit, first: Posterior, three: Three) -> None:
    found = figures(pairs)
    write_left_out(found)
    for figure in found:
        print(figure, flush=True)
    print(f"mean log density by kind, each pair left out: {log_density(pairs)}")
    known = prior()
    print(
        curves(
            "alcohol-hydrocarbon-water, hydrocarbon left out", lambda p: (p.many.names[1],),
            without_hydrocarbon(pairs, three, known),
        )
    )  # fmt: skip
    print(
        curves(
            "alcohol-hydrocarbon-water, system left out", lambda p: p.many.names,
            lambda out: second_stage(first, [r for r in three.rows if r.names != out], known),
        )
    )  # fmt: skip
    print(summary(strengths(first, three, known)))


def main(arguments: Sequence[str]) -> None:
    if not os.environ.get(OUTSIDE):
        print(f"{OUTSIDE} is not set: the rows that may not be passed on are missing")
    rows = pair_rows()
    if "prior" in arguments:
        learned_prior(rows)
    pairs, first, three = fitted(rows)
    print(f"{len(rows)} rows of pairs, {len(three.rows)} of layers")
    if "figures" in arguments:
        print_figures(pairs, first, three)
        return
    written([first, three.posterior()], pairs.prior)


if __name__ == "__main__":
    main(sys.argv[1:])
