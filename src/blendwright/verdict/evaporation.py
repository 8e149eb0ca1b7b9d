"""Which rows lose a good part of themselves while the beaker stands open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.verdict.finding import Finding

STRONG_LOSS = 0.05  # of a row, in 20 minutes' stirring in an open beaker
MOST_SHOWN = 5
STIRRED_s = 1200.0  # 20 minutes


@dataclass(frozen=True)
class Loss:
    """What one row loses: grams, and the share of the row."""

    material: str
    grams: float
    share: float


def evaporation_findings(losses: Sequence[Loss]) -> list[Finding]:
    """A caution where a row loses more than STRONG_LOSS, the worst first."""
    strong = sorted((loss for loss in losses if loss.share > STRONG_LOSS), key=lambda x: -x.share)
    if not strong:
        return []
    listed = ", ".join(f"{x.material} {x.share:.0%} ({x.grams:.2g} g)" for x in strong[:MOST_SHOWN])
    return [
        Finding(
            "EVAPORATES",
            "caution",
            "20 minutes' stirring in an open 6 cm beaker loses about, within a factor 2: "
            f"{listed}.",
            "Cover it; add the light materials last and cold.",
            tuple(loss.material for loss in strong),
        )
    ]
