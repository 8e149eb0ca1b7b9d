"""The plain answers: will it dissolve, is the liquid one, and what follows for the bench.

Thresholds are here, named, with where they come from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from blendwright.estimate import Estimate
from blendwright.verdict.finding import MOST_NAMES, Finding, listed

if TYPE_CHECKING:
    from blendwright.verdict.warming import Window

DissolutionWord = Literal["dissolves", "needs_warming", "undissolved", "unknown"]
LiquidWord = Literal["clear", "may_cloud", "splits", "unknown"]

WARMEST_SENSIBLE_K = 343.15  # 70 °C: hotter drives the top-notes off (common practice, no source)
WARMING_MARGIN_K = 5.0  # warm a little past the last crystal (common practice, no source)
EASY_K = 15.0  # this far above the last crystal it takes about 20 min (common practice, no source)
COLD_K = 278.15  # fridge
FAR_BELOW_C = -39.0  # the search ends at -40 °C
CLEAR_BELOW = 0.4  # chance of a split; what is published as just clear has about 0.3
SURELY_CLEAR_BELOW = 0.2  # above it the person is told, and fire is reckoned with layers too
SPLITS_ABOVE = 0.8
NARROW_MARGIN_K, WIDE_MARGIN_K = 10.0, 30.0  # of the haze (common practice, no source)
SEEN_g = 0.005  # crystals that a person sees at the bottom (common practice, no source)


def dissolution_word(last: Estimate, temperature_K: float) -> DissolutionWord:
    """The verdict on the crystals at a temperature."""
    if last.status == "not_applicable":
        return "dissolves"
    if not last.is_ok:
        return "unknown"
    value = last.interval()[0]
    if value <= temperature_K:
        return "dissolves"
    return "needs_warming" if value <= WARMEST_SENSIBLE_K else "undissolved"


def liquid_word(chance_of_split: float | None) -> LiquidWord:
    """The verdict on the layers."""
    if chance_of_split is None:
        return "unknown"
    if chance_of_split < CLEAR_BELOW:
        return "clear"
    return "splits" if chance_of_split > SPLITS_ABOVE else "may_cloud"


def warm_to_K(last: Estimate, temperature_K: float) -> float | None:
    """The temperature to warm to, in whole 5 °C steps; None where no warming is called for."""
    if dissolution_word(last, temperature_K) != "needs_warming":
        return None
    celsius = last.interval()[0] + WARMING_MARGIN_K - 273.15
    return 273.15 + 5.0 * -(-celsius // 5.0)


def dissolution_findings(warming: Window, solids: tuple[str, ...]) -> list[Finding]:
    """What the person should know about the crystals; warmth is advised where its window is
    safe."""
    last, temperature_K = warming.dissolution, warming.bench_K
    word = dissolution_word(last, temperature_K)
    here = f"{temperature_K - 273.15:.0f} °C"
    if last.status == "not_applicable":
        return []
    if word == "unknown":
        return [
            Finding(
                "DISSOLUTION-UNKNOWN",
                "caution",
                f"Whether the solids dissolve at {here} can't be said: {'; '.join(last.notes)}.",
                f"Try a small batch at {here}. Do not warm it: no safe window can be told.",
                solids,
            )
        ]
    value, low, high = (v - 273.15 for v in last.interval())
    span = (
        f"the last crystals go at about {value:.0f} °C ({low:.0f} to {high:.0f})"
        if value > FAR_BELOW_C
        else f"the last crystals go far below the bench ({value:.0f} °C or less)"
    )
    if word == "dissolves":
        if temperature_K < COLD_K + 2.0 or high + 273.15 > temperature_K:
            return [
                Finding(
                    "DISSOLVES-SLOWLY",
                    "caution",
                    f"It should dissolve at {here}, but {span}, and cold solvents are slow.",
                    f"Stir longer. {warming.advice}",
                    solids,
                )
            ]
        easy = temperature_K - last.interval()[0] > EASY_K
        pace = "about 20 minutes' stirring" if easy else "longer stirring, as it is near saturation"
        return [
            Finding(
                "DISSOLVES",
                "info",
                f"Everything dissolves at {here}; {span}.",
                f"Expect {pace}, more with cold solvents. {warming.advice}",
                solids,
            )
        ]
    if word == "needs_warming":
        target = warming.may_warm_to_K
        if target is not None:
            to = f"{target - 273.15:.0f} °C"
            do = f"Warm to about {to}, covered, and see that it stays clear when cold."
        else:
            do = f"{warming.advice} Use less of the solid, or a carrier that dissolves it better."
        return [
            Finding(
                "NEEDS-WARMING",
                "warning",
                f"At {here} some will stay undissolved: {span}.",
                do,
                solids,
            )
        ]
    return [
        Finding(
            "WONT-DISSOLVE",
            "warning",
            f"It won't dissolve at this loading: {span}.",
            "Use less of the solid, or a carrier that dissolves it better.",
            solids,
        )
    ]


@dataclass(frozen=True)
class CrystalsBack:
    """What lies as crystals at one temperature: (material, grams, most grams), the most first."""

    temperature_K: float
    grams: tuple[tuple[str, float, float], ...]


def cold_findings(back: Sequence[CrystalsBack], temperature_K: float) -> list[Finding]:
    """What comes back in the fridge and in the freezer, for a blend that dissolves at the bench."""
    found = []
    for at in back:
        if not at.grams or at.temperature_K >= temperature_K:
            continue
        celsius = at.temperature_K - 273.15
        sure = [g for g in at.grams if g[1] >= SEEN_g]
        doubtful = [g for g in at.grams if g[1] < SEEN_g]
        parts = []
        if sure:
            amounts = ", ".join(
                f"{name} about {grams:.2g} g" for name, grams, _ in sure[:MOST_NAMES]
            )
            parts.append(f"crystals are likely: {amounts}")
        if doubtful:
            names = listed([name for name, _, _ in doubtful])
            parts.append(f"{'also possible' if sure else 'crystals may come back'}: {names}")
        place = "fridge" if celsius > 0.0 else "freezer"
        fridge = place == "fridge"
        found.append(
            Finding(
                f"CRYSTALS-IN-{place.upper()}",
                "caution" if sure and fridge else "info",
                f"At {celsius:.0f} °C ({place}) {'; '.join(parts)}.",
                "Store it at bench temperature, where it clears again.",
                tuple(name for name, _, _ in at.grams),
            )
        )
    return found


def cold_liquid_findings(
    here: float | None, in_fridge: float | None, temperature_K: float
) -> list[Finding]:
    """A liquid that is clear at the bench and may cloud in the fridge."""
    if here is None or in_fridge is None or temperature_K <= COLD_K:
        return []
    if here < SURELY_CLEAR_BELOW <= in_fridge:
        return [
            Finding(
                "CLOUDS-IN-FRIDGE",
                "caution",
                f"Clear at the bench, but it may cloud in the fridge (chance {in_fridge:.0%}).",
                "Leave a little overnight in the fridge and look; don't keep it there if it clouds.",
            )
        ]
    return []


def liquid_findings(
    word: LiquidWord,
    chance: float | None,
    temperature_K: float,
    layers: str = "",
    cloud: Estimate | None = None,
) -> list[Finding]:
    """What the person should know about layers; `layers` says what would lie in them."""
    here = f"{temperature_K - 273.15:.0f} °C"
    if word == "unknown" or chance is None:
        return [
            Finding(
                "LAYERS-UNKNOWN",
                "caution",
                f"Whether it splits into layers at {here} can't be said.",
                "Try a small batch and look at it after a night.",
            )
        ]
    if word == "clear" and chance >= SURELY_CLEAR_BELOW:
        return [
            Finding(
                "PROBABLY-CLEAR",
                "caution",
                f"Probably clear at {here}, but haze can't be ruled out (chance {chance:.0%}).",
                "Try a small batch first; a little more of the stronger solvent is the usual cure.",
            )
        ]
    if word == "clear":
        return _margin_findings(cloud, temperature_K)
    if word == "splits":
        return [
            Finding(
                "SPLITS",
                "warning",
                f"The liquid parts into layers at {here} (chance {chance:.0%}){layers}.",
                "Use a carrier that takes both, more of it, or less of the oil.",
            )
        ]
    return [
        Finding(
            "MAY-CLOUD",
            "caution",
            f"The liquid may cloud or part at {here} (chance {chance:.0%}){layers}.",
            "Try a small batch first; a little more of the stronger solvent is the usual cure.",
        )
    ]


def _margin_findings(cloud: Estimate | None, temperature_K: float) -> list[Finding]:
    """How far a clear liquid is from clouding, where it clouds in the range at all."""
    if cloud is None or cloud.value is None:
        return []
    margin = temperature_K - cloud.value
    if margin > WIDE_MARGIN_K:
        return []
    how = "narrowly" if margin < NARROW_MARGIN_K else "with some margin"
    return [
        Finding(
            "HAZE-MARGIN",
            "info",
            f"Clear {how}: it is thought to cloud below about {cloud.value - 273.15:.0f} °C.",
            "A little more of the stronger solvent widens the margin.",
        )
    ]
