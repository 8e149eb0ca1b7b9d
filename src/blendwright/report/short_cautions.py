"""Each caution in one line, and the order in which they stand: by harm, then by what helps now.

The full sentences with their numbers are the findings' own; these lines only point to them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from blendwright.estimate import to_celsius
from blendwright.verdict import Finding
from blendwright.verdict.warming import WarmingWindow

LONGEST = 72  # characters that fit beside the word CAUTION in 80 columns
NAMES_LONGEST = 24  # characters left for names in a line


def _plain(words: str) -> Callable[[Finding, WarmingWindow], str]:
    return lambda finding, window: words


def _named(words: str) -> Callable[[Finding, WarmingWindow], str]:
    """`words` with the finding's materials, as many as fit, where it says {names}."""
    return lambda finding, window: words.format(names=_few(finding.materials))


def _slowly(finding: Finding, window: WarmingWindow) -> str:
    to = window.may_warm_to_K
    warm = "do not warm it" if to is None else f"a bath of {to_celsius(to):.0f} °C helps"
    return f"Crystals may dissolve slowly: stir longer; {warm}."


# The order is that of the screen: what can burn or burst, what is unknown, what harms the goods.
SHORT: dict[str, Callable[[Finding, WarmingWindow], str]] = {
    "FLAMMABLE": _plain("It burns, GHS category 4: keep it from flames and hot plates."),
    "CLASS-TOO-NEAR": _plain("Too near a class limit to call: have the flash point measured."),
    "OBSERVED-CLEARS": _plain("Clear of a class limit only by your own test: have it measured."),
    "MINIMUM-FLASH": _plain("It flashes below each of its parts: don't go by their data sheets."),
    "FRIDGE-SPARKS": _plain("Not in a household fridge: its vapour may burn, and a fridge sparks."),
    "PRESSURE-WARM": _plain("It presses on the cap when warm: leave room, keep it cool."),
    "KEEP-COOL": _plain("Its vapour may burn in a warm store or car: keep it cool and closed."),
    "LEFT-OUT": _named("Not counted everywhere: {names}. Answers are less certain."),
    "NOT-CURATED": _named("Taken unchecked from a library: {names}. Check name and sheet."),
    "OBSERVED-DISAGREES": _plain(
        "What you saw and the model disagree: repeat it; trust the worse."
    ),
    "DISSOLUTION-UNKNOWN": _plain("Unknown whether it dissolves: try a little; do not warm it."),
    "LAYERS-UNKNOWN": _plain("Unknown whether it splits: let a small batch stand overnight."),
    "FILL-UNKNOWN": _plain("Unknown how far it expands: leave a tenth of the bottle empty."),
    "MAY-CLOUD": _plain("It may cloud or split: try a small batch; add stronger solvent."),
    "PROBABLY-CLEAR": _plain("Haze is possible: try a small batch; stronger solvent helps."),
    "DISSOLVES-SLOWLY": _slowly,
    "EVAPORATES": _named("An open beaker loses {names}: cover it, add it last."),
    "CRYSTALS-IN-FRIDGE": _named("Crystals in the fridge ({names}): store it at bench heat."),
    "CLOUDS-IN-FRIDGE": _plain("It may cloud in the fridge: leave a little there overnight, look."),
    "PLASTIC-ATTACK": _plain("It attacks plastics or rubbers: use glass; test caps and liners."),
    "PLASTIC-UNKNOWN": _plain("Unknown what it does to plastics: use glass, or test a bottle."),
    "SCHIFF-BASE": _named("It turns yellow ({names}): make it fresh, or keep them apart."),
    "AMINE-COLOUR": _named("It may colour ({names}): try it in the light first."),
    "ACETAL-FORMS": _plain("Aldehydes react with the carrier: let it ripen before you judge it."),
    "ALDEHYDE-OXIDISES": _plain("Aldehydes oxidise in air: fill bottles well; closed, cool, dark."),
    "TERPENE-OXIDISES": _plain("Terpenes oxidise in air and sensitise: closed, cool, dark, full."),
    "REACTIONS-UNKNOWN": _named("Reactions unknown: {names}. Keep a sample; smell it in a month."),
}


def by_harm(findings: Iterable[Finding]) -> list[Finding]:
    """Findings of one severity in the order of `SHORT`; what is not in it keeps its place, last."""
    order = list(SHORT)
    return sorted(findings, key=lambda f: order.index(f.code) if f.code in SHORT else len(order))


def in_short(finding: Finding, window: WarmingWindow) -> str:
    """A caution in one line; in full where there is no shorter form."""
    made = SHORT.get(finding.code)
    return f"{finding.message} {finding.action}" if made is None else made(finding, window)


def _few(names: Iterable[str]) -> str:
    """As many names as fit a line, and how many more."""
    rest = list(names)
    shown: list[str] = []
    while rest and len(", ".join([*shown, rest[0]])) <= NAMES_LONGEST:
        shown.append(rest.pop(0))
    if not shown and rest:
        return f"{len(rest)} materials" if len(rest) > 1 else f"{rest[0][: NAMES_LONGEST - 1]}…"
    return f"{', '.join(shown)} and {len(rest)} more" if rest else ", ".join(shown)
