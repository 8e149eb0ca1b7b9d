"""Vapour pressures of two-component liquids against measured points
(`reference/vapour_liquid_points.csv`), in ln P.

The learned terms have seen these points (`left_out` has the figures without), and the pairs are
small, much measured molecules, so a flavour substance may do worse. The two sets of DOUBTFUL
follow Raoult's law where measured activity coefficients say that the pair parts;
they stand apart.
"""

from __future__ import annotations

import math
from functools import cache

from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_celsius
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.excess import descriptor
from blendwright.mixture.vapour import headspace, saturation_Pa
from blendwright.mixture.weighing import resolve
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case

DOUBTFUL = "10.1021/je4004993"
DOUBTED = "doubtful"


@cache
def cases() -> tuple[Case, ...]:
    """One a point; grouped by the carrier class, "doubtful" apart."""
    catalogue = default_catalogue()
    made = []
    for row in reference("vapour_liquid_points.csv"):
        materials = [resolve(row[f"component_{i}"], catalogue) for i in (1, 2)]
        shares = (float(row["x1"]), 1.0 - float(row["x1"]))
        blend = compose(
            [
                (m, x * m.molar_mass_kg_mol, number)
                for number, (m, x) in enumerate(zip(materials, shares, strict=True))
            ]
        )
        kelvin, ln_measured = float(row["temperature_K"]), math.log(float(row["pressure_Pa"]))
        found = headspace(blend, kelvin)
        if found is None:
            continue
        value, low, high = (math.log(p) for p in found.total.interval())
        classes = {descriptor(m).chemical_class for m in materials}
        kind = next((c for c in ("glycol", "water") if c in classes), "other")
        pair = " + ".join(m.name for m in materials)
        made.append(
            Case(
                f"{pair}, x = {shares[0]:g}, {to_celsius(kelvin):.0f} °C",
                value - ln_measured,
                high - value if value < ln_measured else value - low,
                DOUBTED if DOUBTFUL in row["source"] else kind,
                _beside(blend, kelvin, ln_measured),
                pair,
                ln_measured,
            )
        )
    return tuple(made)


def _beside(
    blend: Composition, temperature_K: float, ln_measured: float
) -> tuple[tuple[str, float], ...]:
    raoult = blend.mole_fractions * saturation_Pa(blend, temperature_K)
    said = math.log(raoult.sum())
    return (("Raoult's law, gamma = 1 (naive)", said - ln_measured),)
