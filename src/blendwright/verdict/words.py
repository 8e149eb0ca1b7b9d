"""The plain answers: will it dissolve, is the liquid one, and what follows for the bench.

Thresholds are here, named, with where they come from.
"""

from __future__ import annotations

from typing import Literal

from blendwright.estimate import Estimate
from blendwright.verdict.finding import Finding

DissolutionWord = Literal["dissolves", "needs_warming", "undissolved", "unknown"]
LiquidWord = Literal["clear", "may_cloud", "splits", "unknown"]

WARMEST_SENSIBLE_K = 343.15  # 70 °C: hotter drives the top-notes off (common practice, no source)
WARMING_MARGIN_K = 5.0  # warm a little past the last crystal (common practice, no source)
EASY_K = 15.0  # this far above the last crystal it takes about 20 min (common practice, no source)
COLD_K = 278.15  # fridge
FAR_BELOW_C = -39.0  # the search ends at -40 °C
CLEAR_BELOW = 0.2  # chance of a split
SPLITS_ABOVE = 0.8


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


def dissolution_findings(
    last: Estimate, temperature_K: float, solids: tuple[str, ...]
) -> list[Finding]:
    """What the person should know about the crystals."""
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
                "Try a small batch, and warm it if crystals stay.",
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
                    "Stir longer or let it stand warm; a covered warm-water bath helps.",
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
                f"Expect {pace}; quicker in warm water, slower with cold solvents.",
                solids,
            )
        ]
    if word == "needs_warming":
        target = warm_to_K(last, temperature_K)
        assert target is not None
        return [
            Finding(
                "NEEDS-WARMING",
                "warning",
                f"At {here} some will stay undissolved: {span}.",
                f"Warm to about {target - 273.15:.0f} °C, covered, and see that it stays clear "
                "when cold.",
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


def liquid_findings(word: LiquidWord, chance: float | None, temperature_K: float) -> list[Finding]:
    """What the person should know about layers."""
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
    if word == "clear":
        return []
    if word == "splits":
        return [
            Finding(
                "SPLITS",
                "warning",
                f"The liquid parts into layers at {here} (chance {chance:.0%}).",
                "Use a carrier that takes both, more of it, or less of the oil.",
            )
        ]
    return [
        Finding(
            "MAY-CLOUD",
            "caution",
            f"The liquid may cloud or part at {here} (chance {chance:.0%}).",
            "Try a small batch first; a little more of the stronger solvent is the usual cure.",
        )
    ]
