"""What flashes? Each row's share in the vapour's reaching its flammable limit, in a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blendwright.verdict.contributions import Contribution

LEAST_SHOWN_PCT = 1.0  # a smaller share has no bar
LEAST_NAMED_PCT = 5.0  # nor is it named, but for the first one
MOST_NAMED = 3


@dataclass(frozen=True)
class FlashShares:
    """The rows with a share worth a bar, the largest first; empty where it can't be told."""

    rows: tuple[Contribution, ...]

    @property
    def sentence(self) -> str:
        """ "ethanol 63 %, ethyl butyrate 33 % of the flash"."""
        named = [row for row in self.rows[:MOST_NAMED] if row.flammability_pct >= LEAST_NAMED_PCT]
        told = [f"{row.material} {row.flammability_pct:.0f} %" for row in named or self.rows[:1]]
        return f"{', '.join(told)} of the flash" if told else ""


def flash_shares(contributions: Sequence[Contribution]) -> FlashShares:
    """Those of an assessment, rows of one material together as they are weighed."""
    shown = [row for row in contributions if row.flammability_pct >= LEAST_SHOWN_PCT]
    return FlashShares(tuple(sorted(shown, key=lambda row: -row.flammability_pct)))
