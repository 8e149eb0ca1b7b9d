"""What a structure alone says of the catalogue's substances, by models that have not seen them.

`structure_left_out.csv` holds a line a molecule: the boiling point and ln of the vapour pressure at
25 °C (Pa) with their 90 % half-widths, from a fit without the molecule and its stereoisomers.
`python -m fitting.structure_regressions` (in `src`) writes it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from blendwright.catalogue.material import Material
from blendwright.catalogue.tables import table_rows


@dataclass(frozen=True)
class FromStructure:
    """Estimates for one molecule that the fit has not seen, each with its 90 % half-width."""

    boiling_K: float
    boiling_half_width_K: float
    ln_vapour_pressure_25C_Pa: float
    ln_half_width: float


@cache
def _estimates() -> Mapping[str, FromStructure]:
    """By the first block of the InChIKey."""
    columns = ("boiling_K", "boiling_half_width_K", "ln_vapour_pressure_25C", "ln_half_width")
    return {
        row["inchikey_first_block"]: FromStructure(*(float(row[column]) for column in columns))
        for row in table_rows("blendwright.questions.accuracy", "structure_left_out.csv")
    }


def from_structure_unseen(material: Material) -> FromStructure | None:
    """What its structure alone says; None for what the structure estimates don't cover."""
    return _estimates().get(material.inchikey.split("-")[0])
