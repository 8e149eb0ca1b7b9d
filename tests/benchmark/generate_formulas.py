"""Random formulas from the catalogue, as a long table: the food of the big runs.

    python tests/benchmark/generate_formulas.py 1000000 million.parquet --seed 1 [--common]

Twelve rows each: ten or eleven aromatics, a carrier, and sometimes a second one; of the whole
catalogue, natural oils of many constituents included, or of twenty common liquids and crystals and
four carriers (--common), so that twelve rows are twelve substances. Invented, for speed and
robustness only: they smell of nothing. Formula k is the same whatever the number of formulas, and
memory stays flat.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from blendwright.catalogue import default_catalogue

ROWS = 12
BLOCK = 10_000  # formulas made at once, from one seed
CARRIERS = ("propylene glycol", "triacetin", "ethanol", "triethyl citrate", "MCT oil", "glycerol")
CARRIER_WEIGHTS = (0.5, 0.15, 0.15, 0.1, 0.07, 0.03)
SECOND_CARRIER = 0.3  # of the formulas
SMALLEST_g, LARGEST_g = 0.005, 3.0  # of an aromatic, spread evenly in the logarithm
CARRIER_g = (10.0, 60.0)
DECIMALS = 4  # of a balance
NOT_AROMATIC = ("carriers",)  # families
COMMON = (
    "ethyl acetate", "isoamyl acetate", "hexyl acetate", "ethyl butyrate", "ethyl hexanoate",
    "benzaldehyde", "linalool", "eugenol", "gamma-decalactone", "hexanal", "cis-3-hexen-1-ol",
    "geraniol", "benzyl alcohol", "hexyl butyrate", "isobutyl acetate", "butyl acetate", "vanillin",
    "maltol", "ethyl 2-methylbutyrate", "2-phenylethanol",
)  # fmt: skip
COMMON_CARRIERS = CARRIERS[:4]


def aromatics() -> list[str]:
    """Every material of the catalogue that is no carrier, natural oils included."""
    catalogue = default_catalogue()
    found = [catalogue.material(name) for name in catalogue.names()]
    return [
        material.name
        for material in found
        if material.family not in NOT_AROMATIC and material.name not in CARRIERS
    ]


def blocks(count: int, seed: int, common: bool) -> Iterator[pa.Table]:
    """The long table in pieces of BLOCK formulas."""
    solvents = COMMON_CARRIERS if common else CARRIERS
    names = np.array([*(COMMON if common else aromatics()), *solvents])
    number = len(names) - len(solvents)
    weights = np.array(CARRIER_WEIGHTS[: len(solvents)])
    for block, first in enumerate(range(0, count, BLOCK)):
        rng = np.random.default_rng([seed, block])
        # the k smallest of a random order: so many different materials, without a loop
        which = np.argsort(rng.random((BLOCK, number)), axis=1)[:, :ROWS]
        low, high = np.log(SMALLEST_g), np.log(LARGEST_g)
        grams = np.exp(rng.uniform(low, high, (BLOCK, ROWS)))
        carriers = rng.choice(len(solvents), size=BLOCK, p=weights / weights.sum())
        which[:, -1] = number + carriers
        grams[:, -1] = rng.uniform(*CARRIER_g, BLOCK)
        second = rng.random(BLOCK) < SECOND_CARRIER
        other = (carriers + rng.integers(1, len(solvents), BLOCK)) % len(solvents)
        which[second, -2] = number + other[second]
        grams[second, -2] = rng.uniform(*CARRIER_g, BLOCK)[second]
        held = min(BLOCK, count - first)
        ids = np.repeat(np.arange(first, first + held), ROWS)
        yield pa.table(
            {
                "formula": pa.array([f"F{n:09d}" for n in ids.tolist()]),
                "material": pa.array(names[which[:held]].ravel().tolist()).dictionary_encode(),
                "grams": np.round(grams[:held].ravel(), DECIMALS),
            }
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("out")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--common", action="store_true")
    given = parser.parse_args()
    writer: pq.ParquetWriter | None = None
    for table in blocks(given.count, given.seed, given.common):
        writer = writer or pq.ParquetWriter(given.out, table.schema, compression="zstd")
        writer.write_table(table)
    if writer is not None:
        writer.close()


if __name__ == "__main__":
    main()
