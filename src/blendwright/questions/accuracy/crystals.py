"""At twice a measured solubility, is a crystal ever said to dissolve?

The catalogue's measured solubilities, which the liquid model has seen. What it is worth on crystals
and carriers that it has not seen stands in `left_out`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from blendwright.catalogue import Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import to_celsius
from blendwright.mixture.composition import Composition, compose
from blendwright.mixture.dissolution import crystallises, dissolution
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.table_lines import Counted
from blendwright.verdict.dissolution_and_layers import dissolution_word

TOO_MUCH = 2.0
MOST_MOLE_FRACTION = 0.4  # twice more is hardly a solution


@cache
def false_dissolves() -> Counted:
    """Blends of one crystal and one carrier at twice the measured limit: not "dissolves"."""
    asked, wrong = 0, []
    for solid, carrier, kelvin, x in _points():
        blend = _blend(solid, carrier, TOO_MUCH * x)
        found = dissolution(blend, kelvin).last
        asked += 1
        if dissolution_word(found, kelvin) == "dissolves":
            wrong.append(f"{solid.name} in {carrier.name} at {to_celsius(kelvin):.0f} °C")
    question = 'crystals at twice the measured limit: not "dissolves"'
    return Counted(question, asked - len(wrong), asked, 1.0, tuple(wrong))


def _points() -> Iterator[tuple[Material, Material, float, float]]:
    catalogue = default_catalogue()
    for name in catalogue.names():
        solid = catalogue.material(name)
        for point in solid.solubilities:
            kelvin, x = point.temperature_K, point.mole_fraction
            if x > MOST_MOLE_FRACTION or not crystallises(pure_constants(solid).fusion, kelvin):
                continue
            try:
                carrier = catalogue.material(point.solvent)
            except BlendwrightError:
                continue
            if not carrier.constituents and _blend(solid, carrier, x).is_covered:
                yield solid, carrier, kelvin, x


def _blend(solid: Material, carrier: Material, x: float) -> Composition:
    return compose(
        [
            (solid, x * solid.molar_mass_kg_mol, 0),
            (carrier, (1.0 - x) * carrier.molar_mass_kg_mol, 1),
        ]
    )
