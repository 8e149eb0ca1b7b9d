"""Flash point from boiling point, formula and groups: the equation, its terms, and its tables.

    T_flash = b0 + sum_k b_k z_k + sum_j w_j h^2 exp(-d_j^2 / 2 l^2)                  (K)
    z_k = (term_k - mean_k) / deviation_k,    d_j^2 = the mean over k of (z_k - z_jk)^2

a line, and what the known substances j add that are like this one (a Gaussian process: Rasmussen
and Williams 2006, chapter 2). The terms are the boiling point (in 100 K) and its square, the
logarithms of the oxygen that full combustion takes and of the number of heavy atoms, and counts of
UNIFAC groups (alcohol, acid, phenol, aromatic ring, ester, aldehyde, ketone, ether, sulfur, thiol,
nitrogen, amine, alkene). `flash_regression.csv` holds mean, deviation and coefficient of each,
`flash_neighbours.csv` the known substances' terms and weights;
`questions/accuracy/flash_regression_fit.py` makes both. Form of the line after Catoire and Naudet
(2004) and Carroll et al. (2011): boiling point, size and family; coefficients fitted here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import atoms
from blendwright.catalogue.tables import table_rows

Array = NDArray[np.float64]

HEIGHT_K = 8.0  # h and l, chosen by cross-validation
BREADTH = 1.0

TERMS = (
    "boiling point / 100 K", "boiling point squared", "ln oxygen to burn", "ln heavy atoms",
    "an alcohol", "further alcohols", "an acid", "a phenol", "aromatic rings", "esters",
    "an aldehyde", "a ketone", "ethers", "sulfur", "a thiol", "nitrogen", "a primary or secondary "
    "amine", "a tertiary amine", "alkenes",
)  # fmt: skip


def terms(formula: str, groups: Mapping[int, int], boiling_K: float) -> list[float]:
    """The terms of the equation, from a formula and its groups of the original UNIFAC."""
    n = atoms(formula)
    carbon, nitrogen, oxygen, sulfur = (n.get(e, 0) for e in ("C", "N", "O", "S"))
    to_burn = carbon + n.get("H", 0) / 4.0 - oxygen / 2.0 + sulfur

    def count(*keys: int) -> int:
        return sum(groups.get(key, 0) for key in keys)

    alcohols = count(14)
    return [
        boiling_K / 100.0,
        (boiling_K / 100.0) ** 2,
        math.log(max(to_burn, 0.3)),
        math.log(max(carbon + nitrogen + oxygen + sulfur, 1)),
        min(alcohols, 1),
        max(alcohols - 1, 0),
        min(count(42, 43), 1),
        min(count(17), 1),
        min(count(9, 10, 11, 12, 13) / 6.0, 2.0),
        min(count(21, 22, 23, 77), 3),
        min(count(20), 1),
        min(count(18, 19), 1),
        min(count(24, 25, 26, 27), 2),
        sulfur,
        min(count(59, 60), 1),
        min(nitrogen, 2),
        min(count(28, 29, 30, 31, 32, 33, 36), 1),
        min(count(34, 35), 1),
        count(5, 6, 7, 8, 70),
    ]


def bell(z: Array, known: Array) -> Array:
    """h^2 exp(-d^2 / 2 l^2), K^2, of standardised terms (substances x terms) with known ones."""
    squares = (z**2).sum(axis=1)[:, None] + (known**2).sum(axis=1)[None, :] - 2.0 * z @ known.T
    return np.asarray(HEIGHT_K**2 * np.exp(-squares / z.shape[1] / (2.0 * BREADTH**2)))


@dataclass(frozen=True, eq=False)
class _Tables:
    """The line, and the standardised terms and weights of the known substances."""

    constant: float
    mean: Array
    deviation: Array
    coefficients: Array
    known: Array
    weights: Array


@cache
def _tables() -> _Tables:
    rows = table_rows("blendwright.pure", "flash_regression.csv")
    numbers = np.array([[float(r[c]) for c in ("mean", "deviation", "coefficient")] for r in rows])
    mean, deviation, coefficients = numbers[1:].T
    others = table_rows("blendwright.pure", "flash_neighbours.csv")
    known = np.array([[float(row[term]) for term in TERMS] for row in others])
    weights = np.array([float(row["weight"]) for row in others])
    standardised = (known - mean) / deviation
    return _Tables(float(numbers[0, 2]), mean, deviation, coefficients, standardised, weights)


def flash_from_boiling_point(formula: str, groups: Mapping[int, int], boiling_K: float) -> float:
    """Estimate the closed-cup flash point of a substance of C, H, O, N, S.

    Parameters
    ----------
    formula : str
        With 2 carbon atoms or more.
    groups : mapping
        The original UNIFAC's, {subgroup number: count}.
    boiling_K : float

    Returns
    -------
    float
        K.
    """
    tables = _tables()
    z = (np.array([terms(formula, groups, boiling_K)]) - tables.mean) / tables.deviation
    line = tables.constant + float(z[0] @ tables.coefficients)
    return line + float(bell(z, tables.known)[0] @ tables.weights)
