"""How far this blend may be warmed, and how: the window, and the advice for the bath.

A liquid is kept below its flash point by a margin where fire is to be avoided by temperature
alone: 5 °C for one substance, 15 °C for a mixture (EN 1127-1 and TRGS 721 practice, from memory).
Here the margin is taken from the low end of the flash point's interval, in whole degrees down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from blendwright.estimate import Estimate, per_cent, to_celsius
from blendwright.verdict.dissolution_and_layers import (
    WARMEST_SENSIBLE_K,
    WARMING_MARGIN_K,
    dissolution_word,
    warm_to_K,
)
from blendwright.verdict.evaporation import MOST_SHOWN, STRONG_LOSS
from blendwright.verdict.finding import Finding, Severity, listed
from blendwright.verdict.flash_findings import FLASH_MARGIN_MIXTURE_K, warmest_K

WindowWord = Literal["safe window", "narrow", "none", "not needed", "unknown"]

FLASH_MARGIN_PURE_K = 5.0  # EN 1127-1 and TRGS 721 practice, from memory
GROUND_ABOVE_m3 = 5e-3  # common practice, no source
LEAST_RATIO = 0.01  # of the lower flammable limit: smaller ones are not told apart
DEEP_DIAMETERS = 3.0  # deeper than this is no beaker (common practice, no source)


@dataclass(frozen=True)
class LowEnd:
    """The margin is taken from here, below the low end of the flash point's interval, and why."""

    kelvin: float
    why: str


@dataclass(frozen=True)
class WarmingWindow:
    """What the crystals ask for against what the flash point allows (K), warmed from `bench_K`.

    `highest_K` keeps the margin; None where the flash point is unknown or nothing burns.
    `target_K` is the temperature to warm to, held below `highest_K` where that still dissolves the
    crystals by the best estimate; None where none is called for or can be told. `held` is the low
    end that the margin is taken from where it lies below that of `flash`.
    """

    word: WindowWord
    why: str
    dissolution: Estimate
    flash: Estimate
    margin_K: float
    highest_K: float | None
    target_K: float | None
    bench_K: float
    held: LowEnd | None = None

    @property
    def low_end_words(self) -> str:
        """What the margin is taken from."""
        if self.held is None:
            return "the flash point's low end"
        return f"{to_celsius(self.held.kelvin):.0f} °C, {self.held.why}"

    def keeps_margin(self, temperature_K: float) -> bool | None:
        """Whether a temperature keeps the margin; None where it can't be told."""
        if self.flash.status == "unknown":
            return None
        return self.highest_K is None or temperature_K <= self.highest_K

    @property
    def most_needed_K(self) -> float:
        """What the crystals may need by the high end of their interval; a little over the bench
        where they need nothing."""
        high = self.dissolution.interval()[2] if self.dissolution.is_ok else self.bench_K
        return max(high, self.bench_K) + WARMING_MARGIN_K

    @property
    def may_warm_to_K(self) -> float | None:
        """The warmest that may be advised; None where no safe window was found."""
        if self.word == "safe window":
            return self.target_K
        if self.word == "not needed" and self.keeps_margin(self.most_needed_K):
            return min(self.most_needed_K, WARMEST_SENSIBLE_K)
        return None

    @property
    def advice(self) -> str:
        """The one sentence on warming, for every finding and paper that speaks of it. Written rule:
        warmth is advised only where the window is safe, else it begins with "Do not warm it"."""
        to = self.may_warm_to_K
        if to is not None:
            helps = f"a covered warm-water bath of up to {to_celsius(to):.0f} °C helps"
            return f"Let it stand warm; {helps}."
        margin = f"{self.margin_K:.0f} °C below {self.low_end_words}"
        if self.word == "narrow" and self.target_K is not None:
            return (
                f"Do not warm it above {to_celsius(self.target_K):.0f} °C, and only in small "
                "steps, covered: the crystals may need more than keeps the margin."
            )
        if self.word != "not needed":
            return f"Do not warm it: {self.why}."
        if self.highest_K is None:
            return "Do not warm it: its flash point is unknown."
        return f"Do not warm it: {margin} is {to_celsius(self.highest_K):.0f} °C."

    def verdict(self) -> dict[str, object]:
        """What an assessment says of warming: the word, the most that may be advised, the words."""
        return {
            "window": self.word,
            "may_warm_to_C": _celsius(self.may_warm_to_K),
            "highest_with_margin_C": _celsius(self.highest_K),
            "advice": self.advice,
        }

    def to_dict(self) -> dict[str, object]:
        return {
            "window": self.word,
            "why": self.why,
            "dissolution_temperature_C": self.dissolution.to_dict(),
            "flash_point_closed_cup_C": self.flash.to_dict(),
            "margin_C": self.margin_K,
            "highest_with_margin_C": _celsius(self.highest_K),
            "warm_to_C": _celsius(self.target_K),
            **self._held_dict(),
        }

    def _held_dict(self) -> dict[str, object]:
        """Only where it is held."""
        if self.held is None:
            return {}
        return {"held_low_end_C": _celsius(self.held.kelvin), "held_by": self.held.why}


def _celsius(kelvin: float | None) -> float | None:
    return None if kelvin is None else to_celsius(kelvin)


def window(
    dissolution: Estimate,
    flash: Estimate,
    is_one_substance: bool,
    bench_K: float,
    held: LowEnd | None = None,
) -> WarmingWindow:
    """The window of one blend. Written rule:

    "not needed": it likely dissolves at the bench. "unknown": dissolution or flash
    point unknown. "safe window": the dissolution temperature's high end and WARMING_MARGIN_K fit
    below `highest_K`; "narrow": only the best estimate with it does. "none": not even that, or the
    crystals need more than WARMEST_SENSIBLE_K. The margin is taken from the lower of the flash
    point's low end and `held`.
    """
    margin = FLASH_MARGIN_PURE_K if is_one_substance else FLASH_MARGIN_MIXTURE_K
    highest = None
    if flash.is_ok:
        low = flash.interval()[1]
        held = held if held is not None and held.kelvin < low else None
        low = low if held is None else held.kelvin
        highest = float(warmest_K(np.array(low), margin))

    def made(word: WindowWord, why: str, target: float | None = None) -> WarmingWindow:
        return WarmingWindow(word, why, dissolution, flash, margin, highest, target, bench_K, held)

    need = dissolution_word(dissolution, bench_K)
    if need == "dissolves":
        return made("not needed", f"it dissolves at {to_celsius(bench_K):.0f} °C")
    if need == "unknown":
        return made("unknown", f"where it dissolves is unknown: {'; '.join(dissolution.notes)}")
    value, _, high = dissolution.interval()
    target = warm_to_K(dissolution, bench_K)
    if flash.status == "unknown":
        return made("unknown", f"the flash point is unknown: {'; '.join(flash.notes)}", target)
    if target is None:
        sensible = f"{to_celsius(WARMEST_SENSIBLE_K):.0f} °C"
        return made("none", f"the crystals would need more than {sensible}")
    if highest is None:
        return made("safe window", "nothing in it has a flash point", target)
    limit = f"{to_celsius(highest):.0f} °C"
    if value + WARMING_MARGIN_K > highest:
        return made("none", f"the crystals need more than the {limit} that keep the margin", target)
    target = min(target, highest)
    if high + WARMING_MARGIN_K > highest:
        why = f"only the best estimate fits below the {limit} that keep the margin"
        return made("narrow", why, target)
    return made("safe window", f"the whole interval fits below {limit}", target)


@dataclass(frozen=True)
class BeakerLoss:
    """What one row loses: its share covered and open, and the grams open."""

    material: str
    covered: float
    opened: float
    open_g: float


@dataclass(frozen=True)
class Bath:
    """The warm bath as it is judged: temperatures (K), time, volume, and what is lost."""

    at_K: float
    minutes: float
    volume_m3: float | None
    losses: tuple[BeakerLoss, ...]
    headspace_ratio: Estimate
    boiling: Estimate
    may_warm: bool


def window_findings(
    found: WarmingWindow, bench_K: float, solids: Sequence[str], doubts: Sequence[str]
) -> list[Finding]:
    """What the window says; `doubts` is what forbids trusting the flash point."""
    margin = f"{found.margin_K:.0f} °C below {found.low_end_words}"
    crystals = tuple(solids)
    if found.word == "not needed":
        return _not_needed(found, bench_K, crystals)
    if found.word == "unknown":
        return [
            Finding(
                "WARM-UNKNOWN",
                "warning",
                f"Whether it can be warmed safely is unknown: {found.why}.",
                "Do not warm it until the flash point has been measured; try the crystals in the "
                "carrier alone.",
                crystals,
            )
        ]
    highest = "" if found.highest_K is None else f"{to_celsius(found.highest_K):.0f} °C"
    if found.word == "none":
        return [
            Finding(
                "WARM-NO-WINDOW",
                "warning",
                f"No safe warming: {found.why}"
                + (f" ({highest} is {margin})." if found.highest_K is not None else "."),
                "Do not warm it. Use less of the crystals or a carrier that dissolves them better; "
                "where the light materials can wait, dissolve the crystals before they go in.",
                crystals,
            )
        ]
    assert found.target_K is not None
    to = f"{to_celsius(found.target_K):.0f} °C"
    if found.word == "narrow":
        _, _, high = (to_celsius(v) for v in found.dissolution.interval())
        return [
            Finding(
                "WARM-NARROW",
                "warning",
                f"Safe only within narrow limits: {found.why}; the crystals may need {high:.0f} "
                "°C.",
                f"{found.advice} Stir longer; if crystals stay, cool it and change the blend.",
                crystals,
            )
        ]
    most = found.dissolution.interval()[2] + WARMING_MARGIN_K
    stay = ""
    if most > found.target_K:
        stay = f" (if crystals stay, up to {to_celsius(most):.0f} °C still keeps the margin)"
    below = f"; {highest} is {margin}" if highest else ""
    reasons = f" Do not rely on it alone: {'; '.join(doubts)}." if doubts else ""
    return [
        Finding(
            "WARM-WINDOW",
            "caution" if doubts else "info",
            f"Warming to {to} dissolves it and keeps the margin: {found.why}{below}.{reasons}",
            f"Take the smallest warm step that clears it, covered{stay}; have the flash point "
            "measured.",
            crystals,
        )
    ]


def _not_needed(found: WarmingWindow, bench_K: float, solids: tuple[str, ...]) -> list[Finding]:
    message = (
        f"No warming needed: by the best estimate it dissolves at {to_celsius(bench_K):.0f} °C."
    )
    grave: Severity = "info"
    if found.dissolution.is_ok and found.dissolution.interval()[2] > bench_K:
        upmost = found.dissolution.interval()[2] + WARMING_MARGIN_K
        word = {True: "keeps", False: "does not keep", None: "may not keep"}
        message += (
            f" If crystals stay, up to {to_celsius(upmost):.0f} °C may be needed, which "
            f"{word[found.keeps_margin(upmost)]} the margin."
        )
        grave = "caution"
    if found.flash.status == "unknown":
        message += " Its flash point is unknown: no warming can be called safe."
        grave = "caution"
    elif found.highest_K is not None and found.highest_K < bench_K:
        grave = "caution"
    do = "Stir it at the bench, covered."
    if found.may_warm_to_K is None:
        do += f" {found.advice}"
    return [Finding("WARM-NOT-NEEDED", grave, message, do, solids)]


def measured_findings(
    found: WarmingWindow, alone: WarmingWindow, whose: str, bench_K: float
) -> list[Finding]:
    """Said where a measurement (`whose`) lets it be warmed further than the model alone does."""
    if found.highest_K is None or alone.highest_K is None:
        return []
    if found.highest_K <= max(alone.highest_K, bench_K):
        return []
    return [
        Finding(
            "WARM-MEASURED",
            "caution",
            f"That {to_celsius(found.highest_K):.0f} °C keeps the margin rests on {whose}; by the "
            f"model alone {to_celsius(alone.highest_K):.0f} °C is the most.",
            "A bench test is not the named test: repeat it before you lean on it.",
        )
    ]


def asked_findings(found: WarmingWindow, at_K: float) -> list[Finding]:
    """The temperature that the person asked for, against the margin."""
    keeps = found.keeps_margin(at_K)
    asked = f"The {to_celsius(at_K):.0f} °C that you asked about"
    stay = ""
    if found.dissolution.is_ok and found.dissolution.interval()[0] > at_K:
        stay = " By the best estimate crystals stay at it."
    if keeps is None:
        return [
            Finding(
                "WARM-ASKED",
                "warning",
                f"{asked} can't be compared with the flash point, which is unknown.{stay}",
                "Don't warm it until the flash point has been measured.",
            )
        ]
    if found.highest_K is None:
        message = f"{asked} meets no flash point.{stay}"
        return [Finding("WARM-ASKED", "info", message, "Keep it covered all the same.")]
    most = f"{to_celsius(found.highest_K):.0f} °C"
    if keeps:
        message = f"{asked} keeps the margin of {found.margin_K:.0f} °C (up to {most}).{stay}"
        return [Finding("WARM-ASKED", "info", message, "Keep it covered all the same.")]
    message = (
        f"{asked} does not keep the margin of {found.margin_K:.0f} °C: {most} is the most.{stay}"
    )
    return [Finding("WARM-ASKED", "warning", message, "Don't warm it so far.")]


def bath_findings(bath: Bath) -> list[Finding]:
    """Advice for the bath, with its numbers."""
    at = f"{to_celsius(bath.at_K):.0f} °C"
    found = []
    if bath.boiling.is_ok and bath.boiling.interval()[1] <= bath.at_K:
        value, low, high = (to_celsius(v) for v in bath.boiling.interval())
        found.append(
            Finding(
                "WARM-BOILS",
                "warning",
                f"It may boil at {at}: bubble point about {value:.0f} °C ({low:.0f} to "
                f"{high:.0f}). The losses are lower bounds.",
                "Stay well below it.",
            )
        )
    strong = sorted((x for x in bath.losses if x.opened > STRONG_LOSS), key=lambda x: -x.opened)
    if strong:
        first = strong[0]
        names = tuple(x.material for x in strong)
        open_g = sum(x.open_g for x in strong)
        covered_g = sum(x.open_g * x.covered / x.opened for x in strong)
        shown = ", ".join(
            f"{x.material} loses {_percent(x.covered)} covered, {per_cent(x.opened)} open"
            for x in strong[:MOST_SHOWN]
        )
        found.append(
            Finding(
                "WARM-COVER",
                "caution",
                f"{bath.minutes:.0f} minutes at {at} take about {open_g:.2g} g of the light "
                f"materials open, {covered_g:.2g} g covered (within a factor 2).",
                "Cover it (a watch glass will do); a cooler or shorter step loses less.",
                names,
            )
        )
        found.append(
            Finding(
                "WARM-LIGHT-LAST",
                "caution",
                f"In that time {shown}.",
                f"Add {first.material} and the other light materials last and cold; "
                "make up a loss by weighing.",
                names,
            )
        )
    found.append(_ignition(bath, at))
    if bath.volume_m3 is not None and bath.volume_m3 > GROUND_ABOVE_m3:
        found.append(
            Finding(
                "WARM-GROUNDING",
                "caution",
                f"{bath.volume_m3 * 1e3:.3g} L is more than {GROUND_ABOVE_m3 * 1e3:.0f} L: pouring "
                "and stirring can charge it (common practice, no source).",
                "Bond and ground the vessels, pour slowly below the surface, and have a qualified "
                "person look at the room.",
            )
        )
    return found


def _percent(share: float) -> str:
    return per_cent(share) if share >= 0.01 else "under 1 %"


def _ignition(bath: Bath, at: str) -> Finding:
    ratio = bath.headspace_ratio
    action = "Ventilate; no naked flame, no sparks or switches near it."
    if bath.may_warm:
        action += " Warm it in a water bath, never on a hot plate with an exposed element."
    if ratio.status == "not_applicable":
        return Finding("WARM-IGNITION", "info", "Nothing in its vapour burns.", action)
    if not ratio.is_ok:
        message = f"Whether its vapour can burn at {at} is unknown: {'; '.join(ratio.notes)}."
        return Finding("WARM-IGNITION", "warning", message, action)
    value, _, high = ratio.interval()
    number = f"{value:.2g} times its lower flammable limit (up to {high:.2g})"
    if high < LEAST_RATIO:
        number = "less than a hundredth of its lower flammable limit"
    if high >= 1.0:
        message = f"At {at} a closed headspace holds {number}: it can burn."
        return Finding("WARM-IGNITION", "warning", message, action)
    message = f"At {at} a closed headspace holds {number}."
    return Finding("WARM-IGNITION", "caution", message, action)


def order_findings(
    alone: WarmingWindow, whole: WarmingWindow, light: Sequence[str], bench_K: float
) -> list[Finding]:
    """The batch before its light materials, by the order of work: its window, against the whole's.

    Not said where the whole blend needs no warming and the carrier alone has no window: there the
    light materials are what dissolves the crystals.
    """
    if whole.word == "not needed" and alone.word in ("none", "unknown"):
        return []
    flash = "unknown"
    if alone.flash.is_ok:
        value, low, _ = (to_celsius(v) for v in alone.flash.interval())
        flash = f"{value:.0f} °C, low end {low:.0f}"
        if whole.flash.is_ok:
            flash += f", against {to_celsius(whole.flash.interval()[0]):.0f} °C for the whole blend"
    need = "dissolve at an unknown temperature"
    if alone.dissolution.is_ok:
        value, low, high = (to_celsius(v) for v in alone.dissolution.interval())
        need = f"dissolve above {value:.0f} °C ({low:.0f} to {high:.0f})"
    last = (
        "add the heavy materials, the light ones last and cold, and top up with the carrier; check "
        "that it stays clear."
    )
    first = "Most of the carrier first; stir the crystals into it"
    if alone.word == "not needed":
        do = f"{first} at {to_celsius(bench_K):.0f} °C until clear; {last}"
    elif alone.word == "safe window" and alone.target_K is not None:
        do = f"{first} at {to_celsius(alone.target_K):.0f} °C until clear; let it cool, {last}"
    elif alone.word == "narrow":
        do = f"{first}. {alone.advice} Once clear, let it cool, {last}"
    else:
        do = f"{alone.advice} Use less of the crystals or another carrier."
    return [
        Finding(
            "WARM-ORDER",
            "info" if alone.word in ("not needed", "safe window") else "caution",
            f"Before the light materials ({listed(light)}) are in: the crystals {need}; flash "
            f"point {flash}; window: {alone.word}.",
            do,
            tuple(light),
        )
    ]


def vessel_findings(depth_m: float | None, diameter_m: float) -> list[Finding]:
    """A vessel that the batch doesn't fit in a sensible way."""
    if depth_m is None or depth_m <= DEEP_DIAMETERS * diameter_m:
        return []
    return [
        Finding(
            "WARM-VESSEL",
            "caution",
            f"The liquid would stand {depth_m * 100:.0f} cm deep in a vessel {diameter_m * 100:.0f}"
            " cm wide.",
            "Give the diameter of the vessel that you use (--diameter-cm).",
        )
    ]
