"""Materials that nobody curated here: what `chemicals` knows of a name or CAS number.

Such a material works, with wider intervals and a note. Looked for only when the catalogue has no
answer, since the library's names take most of a second to read the first time.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from blendwright.catalogue.library_names import (
    Known,
    by_cas,
    by_inchikey,
    by_name,
    cas_of_loose_name,
)
from blendwright.catalogue.material import ATOMIC_WEIGHTS_g_mol, Datum, Material, atoms
from blendwright.catalogue.names import is_cas
from blendwright.conditions import ROOM_K

SOURCE = "chemicals-library"
PREFERRED_CURVES = (
    "WAGNER_POLING", "WAGNER_MCGARRY", "DIPPR_PERRY_8E", "VDI_PPDS", "ANTOINE_POLING",
    "LANDOLT", "ANTOINE_WEBBOOK",
)  # fmt: skip
LEAST_LOOSE_LETTERS = 6
LEAST_LETTERS = 4  # shorter words are abbreviations or formulas: too easily something else
MOST_KEPT = 1_000  # names whose answer is remembered, so that a batch asks once for each


@lru_cache(MOST_KEPT)
def beyond_catalogue(name: str) -> Material | None:
    """A material from the library by exact name, CAS number or "InChIKey=..."; None without.

    Only organic substances and those made of the elements that the models know.
    """
    wanted = name.strip()
    found: Known | None = None
    if is_cas(wanted):
        found = by_cas(wanted)
    elif wanted.startswith("InChIKey="):
        found = by_inchikey(wanted.removeprefix("InChIKey="))
    elif len(wanted) >= LEAST_LETTERS:
        found = by_name(wanted.casefold())
    if found is None:
        return None
    elements = atoms(found.formula)
    if not elements or any(element not in ATOMIC_WEIGHTS_g_mol for element in elements):
        return None
    return _material(name, found)


@lru_cache(MOST_KEPT)
def beyond_catalogue_loosely(name: str) -> Material | None:
    """As `beyond_catalogue`, with blanks, hyphens, commas and brackets of names left out.

    None where the loose form fits substances of several CAS numbers.
    """
    if len(name) < LEAST_LOOSE_LETTERS or is_cas(name):
        return None
    candidates = cas_of_loose_name(name)
    return beyond_catalogue(next(iter(candidates))) if len(candidates) == 1 else None


def _material(name: str, found: Known) -> Material:
    import chemicals
    from thermo.unifac import UNIFAC_group_assignment_DDBST

    cas = found.cas
    data = [
        datum
        for datum in (
            _value(
                "boiling_point",
                chemicals.Tb(cas),
                "compiled" if set(chemicals.Tb_methods(cas)) - {"JOBACK"} else "estimated",
            ),
            _value(
                "melting_point",
                chemicals.Tm(cas),
                "compiled" if set(chemicals.Tm_methods(cas)) - {"JOBACK"} else "estimated",
            ),
            _value("heat_of_fusion", chemicals.Hfus(cas), "compiled"),
            _value("lower_flammable_limit", chemicals.LFL(CASRN=cas), "compiled"),
            _flash(cas),
            _vapour_pressure(cas),
            _density(cas),
        )
        if datum is not None
    ]
    groups = {
        column: UNIFAC_group_assignment_DDBST(cas, model)
        for column, model in (("original", "UNIFAC"), ("dortmund", "MODIFIED_UNIFAC"))
    }
    melting = next((d.value for d in data if d.property == "melting_point"), 0.0)
    return Material(
        name=(found.common_name or name).casefold(),
        kind="substance",
        cas=cas,
        formula=found.formula,
        smiles=found.smiles,
        inchikey=found.inchikey,
        state_20C="solid" if melting > 293.15 else "liquid",
        fema="",
        names=(),
        note="not curated: values as the chemicals library has them, unchecked",
        family="beyond the catalogue",
        data=tuple(data),
        groups={column: assigned for column, assigned in groups.items() if assigned},
        groups_assigned_by="DDBST assignment in thermo",
        curated=False,
    )


def _value(name: str, value: float | None, method: Any) -> Datum | None:
    if value is None or not math.isfinite(value) or value <= 0.0:
        return None
    return Datum(name, float(value), None, None, method, SOURCE, "", "")


def _flash(cas: str) -> Datum | None:
    """The library's flash point, but never its column that isn't one (Serat DIPPR 2017)."""
    import chemicals

    methods = [m for m in chemicals.T_flash_methods(cas) if not m.startswith("Serat")]
    if not methods:
        return None
    return _value("flash_point", chemicals.T_flash(cas, method=methods[0]), "compiled")


def _vapour_pressure(cas: str) -> Datum | None:
    """One point at 25 °C, where a correlation of the library covers it."""
    from thermo.vapor_pressure import VaporPressure

    library = VaporPressure(CASRN=cas)
    for method in PREFERRED_CURVES:
        if method in library.all_methods:
            low, high = library.T_limits[method]
            if low <= ROOM_K <= high:
                value = library.calculate(ROOM_K, method)
                return Datum(
                    "vapour_pressure", float(value), ROOM_K, None, "compiled", SOURCE, "", method
                )
    return None


def _density(cas: str) -> Datum | None:
    from thermo.volume import VolumeLiquid

    volume = VolumeLiquid(CASRN=cas).T_dependent_property(293.15)
    if volume is None or not volume > 0.0:
        return None
    known = by_cas(cas)  # not chemicals.MW, which loads the library's long list of names
    if known is None:
        return None
    density = known.molar_mass_g_mol / 1e3 / volume
    if not 500.0 < density < 2000.0:
        return None
    return Datum("density", density, 293.15, None, "estimated", SOURCE, "", "")
