"""Materials that nobody curated here: what `chemicals` knows of a name or CAS number.

Such a material works, with wider intervals and a note. Looked for only when the catalogue has no
answer, since the library's names take most of a second to read the first time. What is found is
told by its CAS number: every name of a substance gives the same material.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from blendwright.catalogue.library_density import library_density
from blendwright.catalogue.library_names import (
    Known,
    by_cas,
    by_inchikey,
    by_name,
    cas_of_loose_name,
)
from blendwright.catalogue.material import ATOMIC_WEIGHTS_g_mol, Datum, Material, atoms
from blendwright.catalogue.names import is_cas
from blendwright.formula.conditions import BENCH_K, ROOM_K

SOURCE = "chemicals-library"
PREFERRED_CURVES = (
    "WAGNER_POLING", "WAGNER_MCGARRY", "DIPPR_PERRY_8E", "VDI_PPDS", "ANTOINE_POLING",
    "LANDOLT", "ANTOINE_WEBBOOK",
)  # fmt: skip
SUPERCOOLING_K = 2.0  # as in the fit of the structure estimates
LEAST_LOOSE_LETTERS = 6
ENDINGS = (
    "acid",
    "al",
    "an",
    "ane",
    "ate",
    "ene",
    "ester",
    "ether",
    "form",
    "hyde",
    "ide",
    "imine",
    "in",
    "ine",
    "ite",
    "nitrile",
    "ol",
    "ole",
    "one",
    "ose",
    "oxime",
    "paraben",
    "yl",
    "yne",
)  # of a substance's name; the library's names are also brands, drugs, plants and plain words
LEAST_LETTERS = 4  # shorter words are abbreviations or formulas: too easily something else
MOST_KEPT = 1_000  # names whose answer is remembered, so that a batch asks once for each


@lru_cache(MOST_KEPT)
def known_beyond(name: str) -> Known | None:
    """What the library has of an exact name, CAS number or "InChIKey=..."; None without."""
    wanted = name.strip()
    if is_cas(wanted):
        return by_cas(wanted)
    if wanted.startswith("InChIKey="):
        return by_inchikey(wanted.removeprefix("InChIKey="))
    found = by_name(wanted.casefold()) if len(wanted) >= LEAST_LETTERS else None
    if found is None or names_a_substance(wanted):
        return found
    return found if found.common_name.casefold() == wanted.casefold() else None


def names_a_substance(name: str) -> bool:
    """Whether a name reads like a substance's: with digits or brackets, or with such an ending.

    The library calls bromine "broom", and mustard gas "mustard".

    >>> names_a_substance("toluene"), names_a_substance("mustard"), names_a_substance("2-MIB")
    (True, False, True)
    """
    return bool(re.search(r"[\d()\[\]]", name)) or name.casefold().endswith(ENDINGS)


@lru_cache(MOST_KEPT)
def known_beyond_loosely(name: str) -> Known | None:
    """As `known_beyond`, with blanks, hyphens, commas and brackets of names left out.

    None where the loose form fits substances of several CAS numbers.
    """
    if len(name) < LEAST_LOOSE_LETTERS or is_cas(name) or not names_a_substance(name):
        return None
    candidates = cas_of_loose_name(name)
    return known_beyond(next(iter(candidates))) if len(candidates) == 1 else None


def beyond_catalogue(name: str) -> Material | None:
    """A material from the library by exact name, CAS number or "InChIKey=..."; None without.

    Only organic substances and those made of the elements that the models know.
    """
    found = known_beyond(name)
    return None if found is None else library_material(found.cas, next(shown_names(found)))


@lru_cache(MOST_KEPT)
def library_material(cas: str, name: str) -> Material | None:
    """What the library knows of a CAS number, to be shown by this name.

    None where the models lack one of the elements.
    """
    import chemicals
    from thermo.unifac import UNIFAC_group_assignment_DDBST

    found = by_cas(cas)
    if found is None:
        return None
    elements = atoms(found.formula)
    if not elements or any(element not in ATOMIC_WEIGHTS_g_mol for element in elements):
        return None
    melting = _value(
        "melting_point",
        chemicals.Tm(cas),
        "compiled" if set(chemicals.Tm_methods(cas)) - {"JOBACK"} else "estimated",
    )
    is_solid = melting is not None and melting.method == "compiled" and melting.value > BENCH_K
    data = [
        datum
        for datum in (
            _value(
                "boiling_point",
                chemicals.Tb(cas),
                "compiled" if set(chemicals.Tb_methods(cas)) - {"JOBACK"} else "estimated",
            ),
            melting,
            _value("heat_of_fusion", chemicals.Hfus(cas), "compiled"),
            _value("lower_flammable_limit", chemicals.LFL(CASRN=cas), "compiled"),
            _flash(cas),
            _vapour_pressure(cas),
            _density(cas, melting.value if is_solid and melting else None),
        )
        if datum is not None
    ]
    groups = {
        column: UNIFAC_group_assignment_DDBST(cas, model)
        for column, model in (("original", "UNIFAC"), ("dortmund", "MODIFIED_UNIFAC"))
    }
    return Material(
        name=name,
        kind="substance",
        cas=cas,
        formula=found.formula,
        smiles=found.smiles,
        inchikey=found.inchikey,
        state_20C="solid" if is_solid else "liquid",
        fema="",
        names=(),
        note="not curated: values as the chemicals library has them, unchecked",
        family="beyond the catalogue",
        data=tuple(data),
        groups={column: assigned for column, assigned in groups.items() if assigned},
        groups_assigned_by="DDBST assignment in thermo",
        curated=False,
    )


def shown_names(found: Known) -> Iterator[str]:
    """What a substance of the library may be called: its common name, its others, its number."""
    for name in (found.common_name, *found.names):
        if name and not is_cas(name):
            yield name.casefold()
    yield found.cas


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


def _density(cas: str, melting_K: float | None) -> Datum | None:
    """The liquid's; a value below the melting point is the crystal's and is left out."""
    found = library_density(cas)
    if found is None or (melting_K is not None and melting_K > found[1] + SUPERCOOLING_K):
        return None
    return Datum("density", found[0], found[1], None, "compiled", SOURCE, "", "")
