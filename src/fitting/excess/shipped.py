"""The shipped tables: `prior.csv`, `effects.csv` for people and `effects.npz` for the program."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.excess.learned import Weights
from blendwright.mixture.parameter_sets import Array
from fitting.excess.design import NAMES, Label
from fitting.excess.fit import Fit

TELLING = 0.02  # a weight is shipped where its variance fell, or its mean moved, by at least this
SHIPPED = Path(__file__).parents[2] / "blendwright" / "mixture" / "excess"


@dataclass(frozen=True, eq=False)
class Posterior:
    """Weights with what people read about them; `unit` turns a weight into its coefficient."""

    identity: NDArray[np.uint64]
    labels: tuple[Label, ...]
    mean: Array
    variance: Array
    draws: Array  # (DRAWS, weights)
    unit: Array

    def telling(self) -> Posterior:
        """Those that the rows told something of."""
        keep = (self.variance < 1.0 - TELLING) | (np.abs(self.mean) > TELLING)
        labels = tuple(label for label, k in zip(self.labels, keep, strict=True) if k)
        return Posterior(
            self.identity[keep], labels, self.mean[keep], self.variance[keep],
            self.draws[:, keep], self.unit[keep],
        )  # fmt: skip


def posterior(fit: Fit) -> Posterior:
    """All weights of a fit."""
    value, _ = fit.design.values(fit.prior)
    unit = np.zeros(fit.design.columns)
    np.maximum.at(unit, fit.design.column, np.abs(value / fit.design.shape))
    return Posterior(
        fit.design.identity, fit.design.labels, fit.mean, fit.variances(), fit.draws(), unit
    )


def weights(posteriors: Iterable[Posterior]) -> Weights:
    """As the program reads them."""
    kept = list(posteriors)
    identity = np.concatenate([p.identity for p in kept])
    order = np.argsort(identity)
    values = np.concatenate([np.vstack([p.mean, p.draws]) for p in kept], axis=1)
    return Weights(identity[order], values[:, order])


def written(posteriors: Iterable[Posterior], prior: Mapping[str, float]) -> None:
    """Writes the three tables; only the prior's where there is no posterior yet."""
    lines = ["effect,sd", *(f"{name},{prior[name]:.4g}" for name in NAMES)]
    (SHIPPED / "prior.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    kept = [p.telling() for p in posteriors]
    if not kept:
        return
    identity = np.concatenate([p.identity for p in kept])
    order = np.argsort(identity)
    mean = np.concatenate([p.mean for p in kept])
    draws = np.concatenate([p.draws for p in kept], axis=1)
    np.savez_compressed(
        SHIPPED / "effects.npz",
        identity=identity[order],
        mean=mean[order].astype(np.float32),
        deviation=(draws - mean)[:, order].astype(np.float16),
    )
    (SHIPPED / "effects.csv").write_text(effects_table(kept), encoding="utf-8")


def effects_table(kept: Iterable[Posterior]) -> str:
    """One line a weight, in the coefficients' own unit."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["coefficient", "part", "effect", "of", "mean", "sd", "prior_sd"])
    rows: list[Any] = [
        (*label, f"{m * u:.3f}", f"{v**0.5 * u:.3f}", f"{u:.3f}")
        for p in kept
        for label, m, v, u in zip(
            p.labels, p.mean, np.maximum(p.variance, 0.0), p.unit, strict=True
        )
    ]
    rows.sort(key=lambda row: row[:4])
    writer.writerows(rows)
    return text.getvalue()
