"""The verdicts in one sentence each, in the page's language and the person's units."""

from __future__ import annotations

from blendwright.app.web.answers import Verdicts
from blendwright.app.web.texts import Texts
from blendwright.app.web.units import Units
from blendwright.mixture.clarity import ONE_SUBSTANCE
from blendwright.verdict.dissolution_and_layers import SURELY_CLEAR_BELOW
from blendwright.verdict.flammability import Classing
from blendwright.verdict.limits import NO_CLASS


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
    if found.chance == ONE_SUBSTANCE:
        return text(f"stays.{word}")
    return f"{text(f'stays.{word}')} {text('stays.chance', chance=f'{found.chance:.0%}')}"


def burns(found: Verdicts, text: Texts, units: Units) -> str:
    """Will it burn? The most hazardous category in reach comes first."""
    fire = found.classing
    if fire.category == "unknown":
        return text("burns.unknown")
    said = _class_said(fire, text)
    if found.flash.is_ok:
        value, low, high = (units.kelvin(kelvin) for kelvin in found.flash.interval())
        return f"{said} {text('burns.flash', value=value, low=low, high=high)}"
    return said


def _class_said(fire: Classing, text: Texts) -> str:
    if fire.treat_as == NO_CLASS:
        said = text("burns.none")
    elif fire.standing == "clear":
        said = text("burns.class", category=fire.treat_as)
    else:
        said = text("burns.treat_as", category=fire.treat_as)
    if fire.model_category:
        measured, model = (
            _category(category, text) for category in (fire.category, fire.model_category)
        )
        both = text("burns.both", measured=measured, model=model)
        return f"{said} {text('standing.measured')} {both}" if fire.basis else f"{said} {both}"
    if fire.treat_as != fire.category:
        return f"{said} {text('burns.estimate', category=_category(fire.category, text))}"
    near = "too_near" if fire.treat_as == NO_CLASS else "near"
    return f"{said} {text('standing.clear' if fire.standing == 'clear' else f'standing.{near}')}"


def _category(category: str, text: Texts) -> str:
    words = {NO_CLASS: "burns.not_classed", "unknown": "burns.not_told"}
    return text(words.get(category, "burns.category"), category=category)
