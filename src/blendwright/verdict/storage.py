"""What the bottle needs: room, a cap that holds, a material that lasts, a cool place.

Limits from memory of the texts: ADR 4.1.1.4 (2023) and UN 4.1.1.4 on filling; UN Model Regulations
1.2.1 (rev. 22): over 300 kPa at 50 °C a substance is a gas; ADR 4.1.1, 6.5: 110 kPa at 50 °C, above
which a liquid needs packagings tested for it. The current text and a measured value decide.
"""

from __future__ import annotations

import math

from blendwright.estimate import Estimate
from blendwright.verdict.finding import Finding, listed
from blendwright.verdict.fire import FLASH_MARGIN_MIXTURE_K
from blendwright.verdict.plastics import Contacts

UN_GAS_Pa = 300e3
PACKAGING_Pa = 110e3
BOTTLE_GAUGE_Pa = 110e3  # above the air's: a screw cap may leak (common practice, no source)
MOST_NOT_COUNTED = 0.2  # of the volume: more without Hansen values, and nothing can be said
FRIDGE_K = 278.15
WARM_PLACE_K = 313.15  # a store or a car in summer (common practice, no source)


def fill_findings(
    adr: Estimate, full: Estimate, vapour: Estimate, bottle: Estimate, fill: float, air_Pa: float
) -> list[Finding]:
    """Filling at 20 °C, and the pressure at 50 °C: `vapour` alone, `bottle` with the air in it."""
    found = []
    if adr.is_ok and full.is_ok:
        most = math.floor(min(adr.interval()[1], full.interval()[1]))
        pressure = (
            f"Filled to {fill * 100:.0f} % and closed it stands at about "
            f"{bottle.interval()[0] / 1e3:.0f} kPa absolute at 50 °C, "
            f"{(bottle.interval()[0] - air_Pa) / 1e3:.0f} above the air"
            if bottle.is_ok
            else f"What pressure it reaches at 50 °C can't be said: {'; '.join(bottle.notes)}"
        )
        found.append(
            Finding(
                "FILL-LIMIT",
                "info",
                f"At 20 °C fill a bottle to {most} % at most (ADR 4.1.1.4 gives "
                f"{adr.interval()[0]:.1f} %; from {full.interval()[0]:.1f} % it is liquid-full at "
                f"55 °C). {pressure}.",
                "Leave the rest empty, and don't let it stand warm.",
            )
        )
    else:
        notes = "; ".join((*adr.notes, *full.notes))
        found.append(
            Finding(
                "FILL-UNKNOWN",
                "caution",
                f"How far it expands can't be said: {notes}.",
                f"Fill to no more than {fill * 100:.0f} %.",
            )
        )
    return found + _pressure_findings(vapour, bottle, fill, air_Pa)


def _pressure_findings(
    vapour: Estimate, bottle: Estimate, fill: float, air_Pa: float
) -> list[Finding]:
    if vapour.is_ok:
        value, _, high = vapour.interval()
        number = f"vapour pressure at 50 °C about {value / 1e3:.0f} kPa (up to {high / 1e3:.0f})"
        if high > UN_GAS_Pa:
            return [
                Finding(
                    "PRESSURE-WARM",
                    "warning",
                    f"It may count as a gas, over 300 kPa at 50 °C (UN 1.2.1): {number}.",
                    "Don't close it into glass or a common bottle; have it measured.",
                )
            ]
        if high > PACKAGING_Pa:
            return [
                Finding(
                    "PRESSURE-WARM",
                    "caution",
                    f"It may press harder than common packagings are made for, 110 kPa at 50 °C: "
                    f"{number}.",
                    "Keep it cold, in a bottle made for pressure; open it cold.",
                )
            ]
    if bottle.is_ok and bottle.interval()[0] - air_Pa > BOTTLE_GAUGE_Pa:
        return [
            Finding(
                "PRESSURE-WARM",
                "caution",
                f"A closed bottle filled to {fill * 100:.0f} % stands "
                f"{(bottle.interval()[0] - air_Pa) / 1e3:.0f} kPa above the air at 50 °C.",
                "Fill it less, keep it cool, open it slowly.",
            )
        ]
    if bottle.status == "out_of_range":
        return [
            Finding(
                "PRESSURE-WARM",
                "warning",
                f"A bottle filled to {fill * 100:.0f} % is {'; '.join(bottle.notes)}, and bursts.",
                "Fill it less.",
            )
        ]
    return []


def plastic_findings(contacts: Contacts) -> list[Finding]:
    """Polymers that the blend attacks, or that nothing can be said of."""
    attacked = [c for c in contacts.polymers if c.attacks]
    found = []
    if attacked:
        names = ", ".join(f"{c.polymer} ({c.red:.1f})" for c in attacked)
        attackers = tuple(dict.fromkeys(name for c in attacked for name in c.attackers))
        by = f", by {listed(attackers)}" if attackers else ""
        found.append(
            Finding(
                "PLASTIC-ATTACK",
                "caution",
                f"Expected to swell, crack or dissolve (Hansen RED of the blend){by}: {names}.",
                "Use glass; test caps and liners with it.",
                attackers,
            )
        )
    spared = [c for c in contacts.polymers if not c.attacks]
    if contacts.not_counted > MOST_NOT_COUNTED:
        rest = "of other plastics" if attacked else "of plastics"
        found.append(
            Finding(
                "PLASTIC-UNKNOWN",
                "caution",
                f"What becomes {rest} can't be said: {contacts.not_counted:.0%} of the volume has "
                "no Hansen parameters here.",
                "Use glass, or test a bottle.",
            )
        )
    elif spared:
        found.append(
            Finding(
                "PLASTIC-NO-ATTACK",
                "info",
                f"No attack expected by this estimate: {', '.join(c.polymer for c in spared)} "
                f"({contacts.not_counted:.0%} of the volume not counted). EPDM, soft PVC and "
                "stress cracking are not assessed.",
                "Test a bottle.",
            )
        )
    return found


def cool_findings(flash: Estimate, drivers: tuple[str, ...]) -> list[Finding]:
    """Where to keep it, from the flash point's low end."""
    if flash.status == "unknown":
        return [_fridge("The flash point is unknown", drivers)]
    if not flash.is_ok:
        return []
    low_K = flash.interval()[1]
    number = f"the flash point's low end is {low_K - 273.15:.0f} °C"
    if low_K - FLASH_MARGIN_MIXTURE_K <= FRIDGE_K:
        return [_fridge(f"A household fridge holds sparks, and {number}", drivers)]
    if low_K <= WARM_PLACE_K:
        return [
            Finding(
                "KEEP-COOL",
                "caution",
                f"In a warm store or car its vapour may burn: {number}.",
                "Keep it closed, cool and dark, away from flames and sparks.",
                drivers,
            )
        ]
    return []


def _fridge(why: str, drivers: tuple[str, ...]) -> Finding:
    return Finding(
        "FRIDGE-SPARKS",
        "caution",
        f"{why}: a leaking bottle can fill it with vapour that burns.",
        "Keep it closed, cool and dark, away from flames; for the cold only a spark-free fridge.",
        drivers,
    )
