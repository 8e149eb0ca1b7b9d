"""Which liquid density does the `chemicals` library know of a substance?

The correlations of the library's handbooks come first (reference equations, VDI Heat Atlas,
Perry); then the CRC Handbook's table of organic substances, whose superscript temperature is run
into the value: 784.525 is 784.5 kg/m3 at 25 °C.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from blendwright.catalogue.library_names import by_cas
from blendwright.estimate import to_kelvin
from blendwright.formula.conditions import BENCH_K

CRC_TABLE = "Misc/Physical Constants of Organic Compounds.csv"
COMMON_TEMPERATURES_C = (20, 25, 15, 18, 22, 16, 17, 19, 21, 23, 24, 26, 27, 28, 30)
DENSITY_RANGE_kg_m3 = (500.0, 2000.0)


def library_density(cas: str) -> tuple[float, float] | None:
    """(kg/m3, K) of the liquid; None where the library has none.

    A value of the CRC table may be that of the crystal: whoever knows the melting point judges it.
    """
    found = _correlated(cas) or _tabulated(cas)
    low, high = DENSITY_RANGE_kg_m3
    return found if found is not None and low < found[0] < high else None


def _correlated(cas: str) -> tuple[float, float] | None:
    from thermo.volume import VolumeLiquid

    volume = VolumeLiquid(CASRN=cas).T_dependent_property(BENCH_K)
    known = by_cas(cas)  # not chemicals.MW, which loads the library's long list of names
    if volume is None or not volume > 0.0 or known is None:
        return None
    return known.molar_mass_g_mol / 1e3 / volume, BENCH_K


def _tabulated(cas: str) -> tuple[float, float] | None:
    glued = _crc_densities().get(cas)
    read = glued_density(glued) if glued is not None else None
    return None if read is None else (read[0], to_kelvin(read[1]))


@cache
def _crc_densities() -> Mapping[str, float]:
    """The densities of the CRC table as they stand there, by CAS number."""
    import chemicals

    path = Path(chemicals.__file__).parent / CRC_TABLE
    with path.open(encoding="utf-8", newline="") as file:
        return {
            row["CAS"]: float(row["rho"])
            for row in csv.DictReader(file, delimiter="\t")
            if row["rho"]
        }


def glued_density(value: float) -> tuple[float, int] | None:
    """(kg/m3, °C) of a density with its temperature run into it; None where unreadable.

    >>> glued_density(784.525)
    (784.5, 25)
    >>> glued_density(1108.15)
    (1108.0, 15)
    """
    digits = f"{value / 1e3:.6f}"
    readings = [
        (float(digits[:cut]) * 1e3, int(digits[cut : cut + 2]))
        for cut in (len(digits) - 2, len(digits) - 3)
        if not digits[cut + 2 :].strip("0")
    ]
    for temperature_C in COMMON_TEMPERATURES_C:
        for density, read_C in readings:
            if read_C == temperature_C:
                return round(density, 1), read_C
    return None
