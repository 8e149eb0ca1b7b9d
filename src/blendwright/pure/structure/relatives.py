"""What do similar known molecules add to the sum over fragments?

Kriging, for the properties of KRIGED: the residuals r of the fragment sum over the molecules that
have a value are carried over by likeness. With S the likeness of two molecules, the correction is
sum_j S(i, j)^2 w_j, where (S^2 + N) w = r and N is a diagonal of noise. Likeness is Tanimoto's
coefficient (1958, in the form for counts a.b / (a.a + b.b - a.b)) on counts of atom environments up
to two bonds away. relatives.csv holds the molecules, the boiling point that they were fitted to,
and w of each property, blank where a molecule has no value of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from blendwright.catalogue.tables import table_rows
from blendwright.pure.structure.molecule import FINGERPRINT_RADIUS, toolkit

Array = NDArray[np.float64]
Environments = Mapping[int, int]

KRIGED = ("boiling_point", "molar_volume", "flash_point")
POWER = 2
NOISE = {"boiling_point": 0.3, "molar_volume": 0.3, "flash_point": 1.0}  # of the sill


@dataclass(frozen=True, eq=False)
class Relatives:
    """Known molecules as a sparse table of environments, with their weights w by property."""

    columns: Mapping[int, int]
    counts: csr_matrix
    squares: Array
    weights: Mapping[str, Array]

    def likeness(self, environments: Environments) -> Array:
        """Tanimoto's coefficient of a molecule with each of these."""
        own = sum(n * n for n in environments.values())
        vector = np.zeros(len(self.columns))
        for key, n in environments.items():
            if key in self.columns:
                vector[self.columns[key]] = n
        shared = np.asarray(self.counts @ vector)
        return np.asarray(shared / (self.squares + own - shared))

    def corrections(self, environments: Environments) -> tuple[Mapping[str, float], float]:
        """(what to add to the fragment sum of each property, likeness of the nearest relative)."""
        likeness = self.likeness(environments)
        powers = likeness**POWER
        found = {name: float(powers @ weights) for name, weights in self.weights.items()}
        return found, float(likeness.max(initial=0.0))


def build(environments: Sequence[Environments], weights: Mapping[str, Array]) -> Relatives:
    """A table of molecules from their environments."""
    columns: dict[int, int] = {}
    rows, cols, values = [], [], []
    for row, counts in enumerate(environments):
        for key, n in sorted(counts.items()):
            rows.append(row)
            cols.append(columns.setdefault(key, len(columns)))
            values.append(float(n))
    table = csr_matrix((values, (rows, cols)), shape=(len(environments), len(columns)))
    squares = np.asarray(table.multiply(table).sum(axis=1)).ravel()
    return Relatives(columns, table, squares, weights)


def likeness_table(relatives: Relatives) -> Array:
    """Likeness of every molecule of a table with every other."""
    shared = np.asarray((relatives.counts @ relatives.counts.T).todense())
    return np.asarray(shared / (relatives.squares[:, None] + relatives.squares[None, :] - shared))


def kriging_weights(likeness: Array, residuals: Array, trust: Array, noise: float) -> Array:
    """w of (S^2 + N) w = r; `trust` of 0 to 1 divides the noise."""
    diagonal = np.diag(noise / np.maximum(trust, 0.02))
    return np.asarray(np.linalg.solve(likeness**POWER + diagonal, residuals))


@cache
def known_relatives() -> Relatives:
    """The molecules of relatives.csv."""
    chem = toolkit()
    from rdkit.Chem import rdFingerprintGenerator

    counter = rdFingerprintGenerator.GetMorganGenerator(radius=FINGERPRINT_RADIUS)
    rows = table_rows(__package__, "relatives.csv")
    return build(
        [
            counter.GetCountFingerprint(chem.MolFromSmiles(row["smiles"])).GetNonzeroElements()
            for row in rows
        ],
        {name: np.array([float(row[name] or 0.0) for row in rows]) for name in KRIGED},
    )
