"""Less volatile relatives of a material: what a maker would try in its place.

Written rule (common practice, no source): another ester of the same acid, else of the same alcohol,
of one kind (`catalogue.kinds`) and as many oxygen atoms, liquid at 20 °C. For each of LIFTS_K the
one nearest in molar mass that flashes at least so much higher. By the catalogue's names, "ethyl
butyrate" being alcohol and acid. What it does to the flavour is for the tongue, and whether it may
be used for the national lists.
"""

from __future__ import annotations

from blendwright.catalogue import Catalogue, Material
from blendwright.catalogue.kinds import kind_of
from blendwright.catalogue.material import atoms
from blendwright.pure.constants import pure_constants

FAMILY = "esters"
LIFTS_K = (10.0, 25.0, 45.0)


def less_volatile_relatives(material: Material, catalogue: Catalogue) -> tuple[Material, ...]:
    """The least changed first; none for what is no ester of the catalogue."""
    own = pure_constants(material).flash.value
    if material.family != FAMILY or own is None:
        return ()
    relatives = [other for other in _family(catalogue) if _is_relative(other, material)]
    relatives.sort(key=lambda other: (_acid(other) != _acid(material), _apart(other, material)))
    found: list[Material] = []
    for lift_K in LIFTS_K:
        for other in relatives:
            flash = pure_constants(other).flash.value
            if flash is not None and flash >= own + lift_K:
                found.append(other)
                break
    return tuple(dict.fromkeys(found))


def _family(catalogue: Catalogue) -> list[Material]:
    every = (catalogue.material(name) for name in catalogue.names())
    return [one for one in every if one.family == FAMILY and one.state_20C == "liquid"]


def _is_relative(other: Material, material: Material) -> bool:
    named = _acid(other) == _acid(material) or _alcohol(other) == _alcohol(material)
    oxygens = atoms(other.formula).get("O") == atoms(material.formula).get("O")
    return other != material and named and oxygens and kind_of(other) == kind_of(material)


def _apart(one: Material, other: Material) -> float:
    return abs(one.molar_mass_kg_mol - other.molar_mass_kg_mol)


def _acid(material: Material) -> str:
    return material.name.rsplit(" ", 1)[-1]


def _alcohol(material: Material) -> str:
    return material.name.split(" ", 1)[0]
