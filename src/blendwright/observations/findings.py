"""What the person should know about their own observations beside the estimates."""

from __future__ import annotations

from collections.abc import Sequence

from blendwright.estimate import per_cent
from blendwright.observations.compared import Compared
from blendwright.verdict import MOST_NAMES, Finding
from blendwright.verdict.flammability import Classing


def observation_findings(
    compared: Sequence[Compared], classings: Sequence[Classing]
) -> list[Finding]:
    """OBSERVED for what was counted or shown, OBSERVED-DISAGREES where the model is off."""
    if not compared:
        return []
    found = [
        Finding(
            "OBSERVED",
            "info",
            f"Your own observations: {_listed([_told(c) for c in compared])}.",
            "Estimates beside them are adjusted by the rule in docs/observations.md; the model "
            "alone is in the notes of each.",
        )
    ]
    off = [c for c in compared if c.disagrees]
    if off:
        found.append(
            Finding(
                "OBSERVED-DISAGREES",
                "caution",
                "What you saw lies outside what the model expects there: "
                f"{_listed([_disagreement(c) for c in off])}.",
                "Check the weighing and the reading, and repeat it; until then take the more "
                "cautious of the two.",
            )
        )
    cleared = [c for c in classings if c.basis]
    if cleared:
        found.append(
            Finding(
                "OBSERVED-CLEARS",
                "caution",
                f"{', '.join(c.title for c in cleared)}: clear of the limit only by "
                f"{cleared[0].basis}.",
                "A bench test is not the named test: have it measured before storing or shipping.",
            )
        )
    return found


def _told(one: Compared) -> str:
    return f"{one.words()}, not counted: {one.why_not}" if one.why_not else one.words()


def _disagreement(one: Compared) -> str:
    if one.visual_observations:
        seen = next(seen for seen in one.visual_observations if seen.disagrees)
        return f"{one.words()}, the model's chance of layers there {per_cent(seen.chance_there)}"
    assert one.model is not None
    if not one.model.is_ok:
        return f"{one.words()}, the model: {'; '.join(one.model.notes)}"
    shown = one.model.in_display_units()
    digits = 4 if shown.unit == "g/mL" else 0
    value, low, high = (f"{number:.{digits}f}" for number in shown.interval())
    return f"{one.words()}, the model {value} ({low} to {high}) {shown.unit}"


def _listed(texts: Sequence[str]) -> str:
    rest = len(texts) - MOST_NAMES
    return "; ".join(texts[:MOST_NAMES]) + (f"; and {rest} more" if rest > 0 else "")
