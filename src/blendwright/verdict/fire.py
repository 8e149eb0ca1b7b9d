"""What the flash point means at the bench: the class, the bench itself, and the warming advised."""

from __future__ import annotations

import math

from blendwright.estimate import Estimate
from blendwright.verdict.finding import Finding
from blendwright.verdict.flammability import NO_CLASS, Classing

LEAST_BELOW_K = 0.5  # a smaller drop is not told
FLASH_MARGIN_MIXTURE_K = 15.0  # EN 1127-1 and TRGS 721 practice, from memory


def fire_findings(
    flash: Estimate,
    fire: Classing,
    temperature_K: float,
    needed_K: float | None,
    drivers: tuple[str, ...],
) -> list[Finding]:
    """Findings about fire; `drivers` make it flash, `needed_K` is what its crystals need."""
    if fire.category == "unknown":
        return [
            Finding(
                "FLASH-UNKNOWN",
                "warning",
                f"The flash point is unknown: {'; '.join(flash.notes)}.",
                "Treat it as highly flammable until it has been measured.",
                drivers,
            )
        ]
    if not flash.is_ok:
        return []
    value, low, high = (v - 273.15 for v in flash.interval())
    number = f"closed-cup flash point about {value:.0f} °C ({low:.0f} to {high:.0f})"
    found = [_class_finding(fire, number, drivers)]
    if fire.standing == "too_near":
        found.append(_too_near_finding(fire, drivers))
    if low + 273.15 <= temperature_K:
        found.append(
            Finding(
                "FLASH-AT-BENCH",
                "warning",
                f"Its vapour may burn at the bench itself ({temperature_K - 273.15:.0f} °C): "
                f"{number}.",
                "Close the bottle, ventilate, no flame or spark near it.",
                drivers,
            )
        )
    if needed_K is not None and warmest_K(flash.interval()[1]) < needed_K:
        found.append(
            Finding(
                "FLASH-BELOW-WARMING",
                "warning",
                f"The {needed_K - 273.15:.0f} °C that the crystals need are not "
                f"{FLASH_MARGIN_MIXTURE_K:.0f} °C below the flash point's low end ({low:.0f} °C).",
                "Do not warm it. `blendwright warm` says whether crystals and carrier may be "
                "warmed before the light parts go in.",
                drivers,
            )
        )
    return found


def warmest_K(low_K: float, margin_K: float = FLASH_MARGIN_MIXTURE_K) -> float:
    """The most that keeps the margin below a flash point's low end, in whole °C."""
    return 273.15 + math.floor(low_K - margin_K - 273.15)


def minimum_flash_findings(flash: Estimate, lowest_part: Estimate, name: str) -> list[Finding]:
    """Where the blend flashes lower than every part of it by itself."""
    if flash.value is None or lowest_part.value is None:
        return []
    below = lowest_part.value - flash.value
    if below < LEAST_BELOW_K:
        return []
    return [
        Finding(
            "MINIMUM-FLASH",
            "caution",
            "It flashes lower than any of its parts by itself: about "
            f"{flash.value - 273.15:.0f} °C, the lowest part, {name}, at "
            f"{lowest_part.value - 273.15:.0f} °C.",
            "Don't judge it by its parts' data sheets.",
            (name,),
        )
    ]


def _too_near_finding(fire: Classing, drivers: tuple[str, ...]) -> Finding:
    why = "; ".join(fire.reasons)
    if fire.treat_as != fire.category:
        message = f"A more hazardous category can't be ruled out: {why}."
        action = f"Treat it as GHS {fire.treat_as_name} until measured."
    else:
        message = f"The class is too near to call: {why}."
        action = "Have the flash point measured."
    return Finding("CLASS-TOO-NEAR", "caution", message, action, drivers)


def _class_finding(fire: Classing, number: str, drivers: tuple[str, ...]) -> Finding:
    if fire.treat_as == NO_CLASS:
        return Finding(
            "NOT-CLASSED-FLAMMABLE",
            "info",
            f"Above the GHS limits by the estimate: {number}. It still burns when hot.",
            "Have the flash point measured before relying on it.",
            drivers,
        )
    return Finding(
        "FLAMMABLE",
        "caution" if fire.treat_as == "4" else "warning",
        f"Flammable liquid: {fire.headline()}; {number}.",
        "Keep it from flames, sparks and hot plates; have the flash point measured, and ask a "
        "qualified person before storing or shipping.",
        drivers,
    )
