"""Do the facts of one substance agree with each other and with physics?

Checks, each with its limit named below: a flash point below the boiling point and between 0.67
and 0.82 of it in kelvin; a melting point that fits the declared state at 20 °C; the boiling point
of the chosen vapour-pressure curve within 5 K of the published one; a liquid density between 600
and 1600 kg/m3; the saturated vapour at the flash point between 0.5 and 2 times the lower flammable
limit.
"""

from __future__ import annotations

from blendwright.catalogue.material import Material
from blendwright.errors import NotConvergedError
from blendwright.estimate import to_celsius
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.constants import pure_constants
from blendwright.pure.density import liquid_density
from blendwright.pure.flammable_limit import at_temperature
from blendwright.pure.flash_point import FLASH_OVER_BOILING
from blendwright.pure.vapour_pressure import BOILING_AGREEMENT_K

DENSITY_RANGE_kg_m3 = (600.0, 1600.0)
VAPOUR_AT_FLASH_OVER_LIMIT = (0.5, 2.0)
STATE_K = 293.15
SUPERCOOLING_K = 1.0  # melting points of commercial, less pure material scatter


def inconsistencies(material: Material) -> list[str]:
    """What is off with a substance, in words; an empty list where all checks pass."""
    found: list[str] = []
    constants = pure_constants(material)
    boiling = boiling_point(material).value
    flash = constants.flash.value
    if boiling is not None and flash is not None:
        ratio = flash / boiling
        if flash >= boiling:
            found.append(
                f"flash point {flash:.0f} K is not below the boiling point {boiling:.0f} K"
            )
        elif not FLASH_OVER_BOILING[0] <= ratio <= FLASH_OVER_BOILING[1]:
            found.append(f"flash point is {ratio:.3f} of the boiling point in kelvin")
    if boiling is not None and constants.vapour is not None:
        try:
            off = constants.vapour.boiling_K() - boiling
        except NotConvergedError:
            found.append("the vapour-pressure curve reaches no boiling point")
        else:
            if abs(off) > BOILING_AGREEMENT_K:
                found.append(f"the vapour-pressure curve boils {off:+.1f} K from the boiling point")
    melting = constants.fusion.melting.value if constants.fusion else None
    if melting is not None:
        if material.state_20C == "liquid" and melting > STATE_K + SUPERCOOLING_K:
            found.append(f"declared liquid at 20 °C but melts at {to_celsius(melting):.0f} °C")
        if material.state_20C == "solid" and melting < STATE_K - SUPERCOOLING_K:
            found.append(f"declared solid at 20 °C but melts at {to_celsius(melting):.0f} °C")
    elif material.state_20C == "solid":
        found.append("declared solid at 20 °C but has no melting point")
    density = liquid_density(material, ROOM_K).value
    if density is None or not DENSITY_RANGE_kg_m3[0] <= density <= DENSITY_RANGE_kg_m3[1]:
        found.append(f"liquid density {density} kg/m3 is missing or out of range")
    limit = constants.lower_limit.value
    if flash is not None and constants.vapour is not None and limit is not None:
        share = constants.vapour.pressure_Pa(flash) / ATMOSPHERE_Pa
        ratio = share / at_temperature(limit, flash)
        low, high = VAPOUR_AT_FLASH_OVER_LIMIT
        if not low <= ratio <= high:
            found.append(f"saturated vapour at the flash point is {ratio:.2f} of the lower limit")
    return found
