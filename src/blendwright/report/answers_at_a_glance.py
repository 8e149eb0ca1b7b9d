"""The four answers, a line each: does it dissolve, is it one liquid, does it burn, how much is it?

Each has a word, a figure, the figure's 90 % interval and a state. The terminal, the page and the
notebook read these; no answer is worded twice. A state is never better than the findings: an
unknown is "unknown", never "good".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from blendwright.assess import Assessment
from blendwright.estimate import Estimate, to_celsius
from blendwright.mixture.clarity import ONE_SUBSTANCE
from blendwright.report.thermometer import Mark, Thermometer, thermometer_of
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import (
    COLD_K,
    SURELY_CLEAR_BELOW,
    DissolutionWord,
    chance_of_crystals,
    dissolution_word,
    liquid_word,
)
from blendwright.verdict.flammability import Classing
from blendwright.verdict.limits import NO_CLASS
from blendwright.verdict.warming import WarmingWindow

State = Literal["good", "caution", "warning", "unknown"]
Key = Literal["dissolves", "clear", "burns", "how_much"]
MILDEST_CATEGORY = "4"  # a caution; every other category is a warning


@dataclass(frozen=True)
class ShortAnswer:
    """One answer. `interval` is empty where the figure has none; `detail` is one sentence more."""

    key: Key
    question: str
    word: str
    figure: str
    interval: str
    state: State
    detail: str = ""

    @property
    def sentence(self) -> str:
        """ "Probably: chance of crystals 9 %, fully dissolved above -30 °C (-40 to 32 °C)"."""
        colon = "" if self.key == "how_much" and self.state == "good" else ":"
        said = f"{self.word}{colon} {self.figure}" if self.figure else self.word
        return f"{said} ({self.interval})" if self.interval else said

    @property
    def in_full(self) -> str:
        """The sentence and the detail."""
        return f"{self.sentence}; {self.detail}" if self.detail else self.sentence


@dataclass(frozen=True)
class Glance:
    """The four answers and the thermometer."""

    dissolves: ShortAnswer
    clear: ShortAnswer
    burns: ShortAnswer
    how_much: ShortAnswer
    thermometer: Thermometer

    @property
    def answers(self) -> tuple[ShortAnswer, ShortAnswer, ShortAnswer, ShortAnswer]:
        return self.dissolves, self.clear, self.burns, self.how_much


def at_a_glance(found: Assessment | Blend) -> Glance:
    """The four answers of an assessment, or of a blend whose assessment is not complete yet."""
    scale = thermometer_of(found)
    if isinstance(found, Blend):
        window, chance, classing = found.window, found.chance, found.classings[0]
        flash, volume, density = found.flash.estimate, found.volume, found.density
        boiling = found.boiling
    else:
        window, chance, classing = found.warming, found.chance_of_layers, found.flammability
        flash = found.estimates["flash_point_closed_cup"]
        volume, density = found.estimates["volume"], found.estimates["density"]
        boiling = found.estimates["initial_boiling_point"]
    return Glance(
        dissolves(window, scale.dissolved),
        one_liquid(chance, scale.clouding, dissolution_word(window.dissolution, window.bench_K)),
        burns(classing, flash, boiling, scale.flash),
        how_much(volume, density, found.temperature_K),
        scale,
    )


def dissolves(window: WarmingWindow, mark: Mark) -> ShortAnswer:
    """Does everything dissolve at the bench? Where that is all but certain, the chance of crystals
    is one sentence more."""
    last, here = window.dissolution, f"{to_celsius(window.bench_K):.0f} °C"
    word = dissolution_word(last, window.bench_K)
    chance = chance_of_crystals(last, window.bench_K) if last.is_ok else None

    def answer(said: str, figure: str, state: State, interval: str = "") -> ShortAnswer:
        detail = window.advice
        if state == "good":
            detail = "" if chance is None else f"chance of crystals {_per_cent(chance)}"
        return ShortAnswer("dissolves", "Dissolves?", said, figure, interval, state, detail)

    if last.status == "not_applicable":
        return answer("Yes", "no crystals in it", "good")
    if word == "unknown" or chance is None:
        return answer("Unknown", mark.value_words, "unknown")
    high = last.interval()[2]
    certain, interval = mark.figure_words, mark.span_words
    figure = f"chance of crystals {_per_cent(chance)}, {certain}"
    if word == "dissolves":
        if high > window.bench_K:
            return answer("Probably", figure, "caution", interval)
        if window.bench_K < COLD_K + 2.0:
            return answer("Slowly", figure, "caution", interval)
        return answer("Yes", certain, "good", interval)
    if word == "needs_warming" and window.may_warm_to_K is not None:
        to = f"{to_celsius(window.may_warm_to_K):.0f} °C"
        return answer(f"Not at {here}, at {to}", figure, "warning", interval)
    if word == "needs_warming":
        return answer(f"Not at {here}", figure, "warning", interval)
    return answer("No", figure, "warning", interval)


def one_liquid(chance: float | None, mark: Mark, crystals: DissolutionWord) -> ShortAnswer:
    """Is the liquid one at the bench, or does it cloud or split? Over undissolved crystals it is
    not clear, and the answer says so."""
    word = liquid_word(chance)
    detail = mark.words if mark.estimate.is_ok else mark.value_words

    def answer(said: str, state: State) -> ShortAnswer:
        figure = "" if chance is None else f"chance of layers {_per_cent(chance)}"
        if chance == ONE_SUBSTANCE:
            figure = "a single substance"
        return ShortAnswer("clear", "One liquid?", said, figure, "", state, detail)

    if word == "unknown":
        return ShortAnswer("clear", "One liquid?", "Unknown", detail, "", "unknown")
    if word == "clear":
        sure = chance is not None and chance < SURELY_CLEAR_BELOW
        said = "Yes" if sure else "Probably"
        if crystals in ("needs_warming", "undissolved"):
            return answer(f"{said}, over crystals", "caution")
        return answer(said, "good" if sure else "caution")
    return answer("No", "warning") if word == "splits" else answer("Doubtful", "caution")


def burns(classing: Classing, flash: Estimate, boiling: Estimate, mark: Mark) -> ShortAnswer:
    """Does it burn? The most hazardous category in reach leads."""
    figure, interval = f"flash point {mark.value_words}", mark.interval_words
    if flash.is_ok and boiling.is_ok and boiling.interval()[0] < flash.interval()[0]:
        figure = f"boils first at {to_celsius(boiling.interval()[0]):.0f} °C; {figure}"
    if not flash.is_ok:
        figure = "; ".join(flash.notes)
    detail = classing.headline()

    def answer(said: str, state: State) -> ShortAnswer:
        return ShortAnswer("burns", "Burns?", said, figure, interval, state, detail)

    if classing.category == "unknown":
        detail = "treat it as highly flammable until its flash point has been measured"
        return answer("Unknown", "unknown")
    if classing.treat_as == NO_CLASS:
        if flash.status == "not_applicable":
            return answer("No", "good")
        return answer("Only when hot", "good" if classing.standing == "clear" else "caution")
    mild = classing.treat_as == MILDEST_CATEGORY
    return answer(f"Yes, {classing.treat_as_name}", "caution" if mild else "warning")


def how_much(volume: Estimate, density: Estimate, temperature_K: float) -> ShortAnswer:
    """How many millilitres is it at the bench?"""
    whole, dense = volume.in_display_units(), density.in_display_units()
    if whole.value is None or dense.value is None:
        why = "; ".join(volume.notes) or "its density is unknown"
        return ShortAnswer("how_much", "How much?", "Unknown", why, "", "unknown")
    _, low, high = whole.interval()
    digits = 2 if whole.value < 1e3 else 0
    return ShortAnswer(
        "how_much",
        "How much?",
        f"{whole.value:.{digits}f} mL",
        f"at {to_celsius(temperature_K):.0f} °C",
        f"{low:.{digits}f} to {high:.{digits}f} mL",
        "good",
        f"density {dense.value:.4f} g/mL ({dense.low:.4f} to {dense.high:.4f})",
    )


def _per_cent(share: float) -> str:
    """A chance in whole per cent; "under 1 %" and "over 99 %" at the ends."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{share * 100.0:.0f} %"
