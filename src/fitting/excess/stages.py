"""The two stages of the fit: the pairs' terms (c, d, a, crystals' factors) from rows of two
substances; then t and u from rows of three and more, given each draw of the pairs' terms.

One joint fit would let the layers of oils and spirit move the pairs' terms (rms of ln gamma at
infinite dilution 0.28 to 0.33 in a trial). Here they can't: a draw of t and u makes up for what the
same draw of the pairs' terms misses, so each draw fits the layers as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from blendwright.mixture.excess.learned import DRAWS
from blendwright.mixture.parameter_sets import Array
from fitting.excess.design import design
from fitting.excess.fit import Fit, heavy_tailed
from fitting.excess.layers import (
    Learned,
    curve_rows,
    limit_rows,
    of_pairs,
    statement_rows,
    tie_rows,
)
from fitting.excess.rows import FitRow
from fitting.excess.shipped import Posterior, posterior, weights

HEAVY_TAILED = frozenset({"dilution", "hydrocarbon", "layers", "tie", "curve"})
SERIES_SD = 0.2  # of ln x, between laboratories
COMMON_SHARE = 0.0
STATEMENT_ROUNDS = 3
ROUNDS = 4  # of incipient liquids found anew


def fit_pairs(
    rows: Sequence[FitRow], prior: Mapping[str, float], noise: Mapping[str, float]
) -> Fit:
    """`noise` multiplies each kind's own; far rows of some kinds then count with more."""
    scaled = np.array([r.noise * noise.get(r.kind, 1.0) for r in rows])
    fit = Fit(design(rows, "cda"), dict(prior), scaled, common_to_series(rows))
    return heavy_tailed(fit, is_heavy_tailed(rows))


def fit_pairs_and_statements(
    rows: Sequence[FitRow], prior: Mapping[str, float], noise: Mapping[str, float]
) -> Fit:
    """`fit_pairs`, then again with the statements about propylene glycol that it contradicts; a
    statement stays once it was contradicted."""
    fit = fit_pairs(rows, prior, noise)
    active: dict[tuple[str, float], FitRow] = {}
    for _ in range(STATEMENT_ROUNDS):
        learned = Learned(weights([posterior(fit)]), dict(prior), without_three=True)
        for row in statement_rows(learned):
            active[row.details["about"], float(row.details["x"][0])] = row
        fit = fit_pairs([*rows, *active.values()], prior, noise)
    return fit


def common_to_series(rows: Sequence[FitRow]) -> Array:
    """What the rows of one crystal in one carrier from one source are off together."""
    number: dict[tuple[str, ...], int] = {}
    series = np.array(
        [
            number.setdefault((*r.names, r.details["source"]), len(number))
            if r.kind == "crystal"
            else -1
            for r in rows
        ]
    )
    same = (series[:, None] == series[None, :]) & (series[:, None] >= 0)
    return np.asarray(same * SERIES_SD**2)


def is_heavy_tailed(rows: Sequence[FitRow]) -> Array:
    return np.array([r.kind in HEAVY_TAILED for r in rows])


@dataclass(frozen=True, eq=False)
class Three:
    """The second stage: its rows at the last round, the fit, and each draw's own residuals."""

    rows: tuple[FitRow, ...]
    fit: Fit
    residuals: Array  # (1 + DRAWS, rows)

    def posterior(self) -> Posterior:
        return replace(posterior(self.fit), draws=self.fit.draws(self.residuals[1:]))


def fit_three(
    pairs: Posterior, prior: Mapping[str, float], keep: Callable[[FitRow], bool] = lambda row: True
) -> Three:
    """t and u given the pairs' terms, from all rows that are kept."""
    known = dict(prior)
    before = Learned(weights([pairs]), known, without_three=True)
    fixed = [r for r in tie_rows() if keep(r)]
    learned, made = before, None
    for _ in range(ROUNDS):
        rows = [*fixed, *(r for r in (*curve_rows(learned), *limit_rows(learned)) if keep(r))]
        made = three_of(rows, before, prior)
        learned = Learned(weights([pairs, made.posterior()]), known)
    assert made is not None
    return made


def three_of(rows: Sequence[FitRow], before: Learned, prior: Mapping[str, float]) -> Three:
    said = of_pairs(rows, before)
    residuals = np.array([r.residual for r in rows]) - said
    off = said[1:] - said[0]
    same = np.array([[a.names == b.names for b in rows] for a in rows])
    common = COMMON_SHARE * same * (off.T @ off) / DRAWS
    laid = replace(design(rows, "tu"), residual=residuals[0])
    fit = Fit(laid, dict(prior), np.array([r.noise for r in rows]), common)
    return Three(tuple(rows), heavy_tailed(fit, is_heavy_tailed(rows)), residuals)
