"""How little vapour in air can burn (lower flammable limit), and how much still can (upper)?

Lower: the lowest accepted value, published or from memory, at room temperature; without any, 0.55
of the stoichiometric share in air (Jones 1938, in Zabetakis 1965), interval a factor 1.4. It falls
with temperature by 0.0721 % of its 25 °C value per kelvin (Zabetakis 1965).

Upper: the highest accepted value; without any it is unknown, as no rule of thumb is good
enough to call a vapour too rich. It rises with temperature by the same 0.0721 % per kelvin
(Zabetakis 1965, from memory).
"""

from __future__ import annotations

from blendwright.catalogue.material import Material, atoms, sources_of
from blendwright.catalogue.origins import chosen_words
from blendwright.estimate import Estimate
from blendwright.formula.conditions import ROOM_K
from blendwright.pure.boiling_point import published_first, stated_half_width

STOICHIOMETRIC_SHARE = 0.55
ESTIMATED_FACTOR = 1.4
PUBLISHED_FACTOR = 1.15
FALL_per_K = 0.000721
RISE_per_K = 0.000721  # of the upper limit (Zabetakis 1965, from memory)
OXYGEN_IN_AIR = 0.21


def stoichiometric_fraction(formula: str) -> float:
    """Mole fraction of fuel in air that burns exactly to CO2 and H2O.

    >>> round(stoichiometric_fraction("C2H6O"), 4)
    0.0654
    """
    counts = atoms(formula)
    oxygen = (
        counts.get("C", 0)
        + counts.get("H", 0) / 4.0
        + counts.get("S", 0)
        - counts.get("O", 0) / 2.0
    )
    return 1.0 / (1.0 + oxygen / OXYGEN_IN_AIR)


def lower_flammable_limit(material: Material) -> Estimate:
    """Choose the lower flammable limit of a substance at 25 °C.

    Parameters
    ----------
    material : Material

    Returns
    -------
    Estimate
        Mole fraction in air.
    """
    if not material.is_flammable:
        return Estimate.absent("mol/mol", "not_applicable", f"{material.name} does not burn")
    data = published_first(material.accepted("lower_flammable_limit"))
    if data:
        value = min(d.value for d in data)
        half = stated_half_width(data, value * (PUBLISHED_FACTOR - 1.0))
        estimated = all(d.method == "estimated" for d in data)
        return Estimate.ok(
            value,
            max(value - half, value / 3.0),
            value + half,
            "mol/mol",
            "estimated" if estimated else chosen_words(data, "lowest of"),
            sources_of(data),
        )
    if not material.formula:
        return Estimate.unknown("mol/mol", f"no flammable limit of {material.name}")
    value = STOICHIOMETRIC_SHARE * stoichiometric_fraction(material.formula)
    return Estimate.ok(
        value,
        value / ESTIMATED_FACTOR,
        value * ESTIMATED_FACTOR,
        "mol/mol",
        "0.55 of stoichiometric",
        ("zabetakis",),
    )


def at_temperature(limit_25C: float, temperature_K: float) -> float:
    """Move a lower limit to another temperature; it stays above a fifth of itself.

    Parameters
    ----------
    limit_25C : float
        Mole fraction in air.
    temperature_K : float

    Returns
    -------
    float
        Mole fraction in air.

    References
    ----------
    .. [1] M. G. Zabetakis (1965), US Bureau of Mines Bulletin 627
    """
    return limit_25C * max(0.2, 1.0 - FALL_per_K * (temperature_K - ROOM_K))


def upper_flammable_limit(material: Material) -> Estimate:
    """Choose the upper flammable limit of a substance at 25 °C; it is never estimated.

    Parameters
    ----------
    material : Material

    Returns
    -------
    Estimate
        Mole fraction in air.
    """
    if not material.is_flammable:
        return Estimate.absent("mol/mol", "not_applicable", f"{material.name} does not burn")
    data = published_first(material.accepted("upper_flammable_limit"))
    if not data:
        return Estimate.unknown("mol/mol", f"no upper flammable limit of {material.name}")
    value = max(d.value for d in data)
    half = stated_half_width(data, value * (PUBLISHED_FACTOR - 1.0))
    return Estimate.ok(
        value,
        max(value - half, value / 3.0),
        min(value + half, max(value, 1.0)),
        "mol/mol",
        chosen_words(data, "highest of"),
        sources_of(data),
    )


def upper_at_temperature(limit_25C: float, temperature_K: float) -> float:
    """Move an upper limit to another temperature, never above all vapour.

    Below 25 °C it is kept as it is: the wider range is the cautious one.

    Parameters
    ----------
    limit_25C : float
        Mole fraction in air.
    temperature_K : float

    Returns
    -------
    float
        Mole fraction in air.

    References
    ----------
    .. [1] M. G. Zabetakis (1965), US Bureau of Mines Bulletin 627
    """
    return min(1.0, limit_25C * (1.0 + RISE_per_K * max(0.0, temperature_K - ROOM_K)))
