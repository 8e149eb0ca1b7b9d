"""The verdicts in one sentence each, in the page's language and the person's units."""

from __future__ import annotations

from blendwright.verdict.words import SURELY_CLEAR_BELOW
from blendwright.web.answers import Verdicts
from blendwright.web.texts import Texts
from blendwright.web.units import Units


def dissolves(found: Verdicts, text: Texts, units: Units) -> str:
    """Will it dissolve?"""
    last = found.last_crystal
    if found.dissolution == "dissolves" and not last.is_ok:
        return text("dissolve.no_crystals")
    said = text(f"dissolve.{found.dissolution}")
    warm_to_K = found.warming.may_warm_to_K
    if found.dissolution == "needs_warming" and warm_to_K is not None:
        said = text("dissolve.warm_to", at=units.kelvin(warm_to_K))
    if last.is_ok:
        value, low, high = (units.kelvin(kelvin) for kelvin in last.interval())
        return f"{said} {text('dissolve.last', value=value, low=low, high=high)}"
    return said


def one_liquid(found: Verdicts, text: Texts, units: Units) -> str:
    """Will it stay one clear liquid?"""
    if found.chance is None:
        return text("stays.unknown")
    probably = found.liquid == "clear" and found.chance >= SURELY_CLEAR_BELOW
    word = "probably" if probably else found.liquid
    return f"{text(f'stays.{word}')} {text('stays.chance', chance=f'{found.chance:.0%}')}"


def burns(found: Verdicts, text: Texts, units: Units) -> str:
    """Will it burn?"""
    fire = found.classing
    if fire.category == "unknown":
        return text("burns.unknown")
    if fire.category == "none":
        said = text("burns.none")
    else:
        said = text("burns.class", category=fire.category)
    by = "measured" if fire.basis else fire.standing
    said = f"{said} {text(f'standing.{by}')}"
    if found.flash.is_ok:
        value, low, high = (units.kelvin(kelvin) for kelvin in found.flash.interval())
        return f"{said} {text('burns.flash', value=value, low=low, high=high)}"
    return said
