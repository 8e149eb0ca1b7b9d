"""Two assessments side by side: what differs, and is the difference larger than the intervals?

The rule is the plain one: a difference counts where the two 90 % intervals don't overlap. Both
come from the same models and data, whose errors they share, so the rule is on the cautious side:
a difference that it lets pass may still be real.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blendwright.assess import Assessment
from blendwright.estimate import Estimate, display_name, to_celsius

SCHEMA = "blendwright/comparison/1"


@dataclass(frozen=True)
class Difference:
    """One number of both assessments, in SI; `what` is its key among the estimates."""

    what: str
    first: Estimate
    second: Estimate

    @property
    def change(self) -> float | None:
        """Second less first, in its display unit (°C, kPa, g/mL ...); None if one is unknown"""
        first, second = self.first.in_display_units().value, self.second.in_display_units().value
        return None if first is None or second is None else second - first

    @property
    def beyond_intervals(self) -> bool | None:
        """Whether the 90 % intervals are apart; None where either has no number."""
        if not (self.first.is_ok and self.second.is_ok):
            return None
        _, first_low, first_high = self.first.interval()
        _, second_low, second_high = self.second.interval()
        return first_high < second_low or second_high < first_low

    def to_dict(self) -> dict[str, object]:
        return {
            "what": display_name(self.what),
            "first": self.first.to_dict(),
            "second": self.second.to_dict(),
            "change": self.change,
            "beyond_intervals": self.beyond_intervals,
        }


@dataclass(frozen=True)
class WordChange:
    """A verdict in words that both assessments give."""

    what: str
    first: str
    second: str

    @property
    def changed(self) -> bool:
        return self.first != self.second

    def to_dict(self) -> dict[str, object]:
        named = {"what": self.what, "first": self.first, "second": self.second}
        return {**named, "changed": self.changed}


@dataclass(frozen=True)
class Comparison:
    """`first` against `second`: verdicts, numbers, findings that came and went (their codes)."""

    first: str
    second: str
    verdicts: tuple[WordChange, ...]
    differences: tuple[Difference, ...]
    findings_gone: tuple[str, ...]
    findings_new: tuple[str, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/comparison/1."""
        return {
            "schema": SCHEMA,
            "first": self.first,
            "second": self.second,
            "verdicts": [verdict.to_dict() for verdict in self.verdicts],
            "differences": [difference.to_dict() for difference in self.differences],
            "findings_gone": list(self.findings_gone),
            "findings_new": list(self.findings_new),
            "notes": list(self.notes),
        }


def compare(first: Assessment, second: Assessment) -> Comparison:
    """Compare two assessments: what changes from the first to the second.

    Parameters
    ----------
    first, second : Assessment
        Of any two formulas, at any conditions.

    Returns
    -------
    Comparison
        Verdicts, numbers and findings that differ, and notes on how far the two compare.
    """
    here = {finding.code for finding in first.findings}
    there = {finding.code for finding in second.findings}
    return Comparison(
        first=first.weighing.formula.name,
        second=second.weighing.formula.name,
        verdicts=(
            WordChange("dissolution", first.dissolution, second.dissolution),
            WordChange("liquid", first.liquid, second.liquid),
            WordChange(
                "treat as GHS category", first.flammability.treat_as, second.flammability.treat_as
            ),
            WordChange("GHS category", first.flammability.category, second.flammability.category),
            WordChange("GHS standing", _standing(first), _standing(second)),
        ),
        differences=tuple(
            Difference(name, estimate, second.estimates[name])
            for name, estimate in first.estimates.items()
        ),
        findings_gone=_only_in(here, there),
        findings_new=_only_in(there, here),
        notes=_notes(first, second),
    )


def _standing(assessment: Assessment) -> str:
    return assessment.flammability.standing_words


def _only_in(some: Iterable[str], others: set[str]) -> tuple[str, ...]:
    return tuple(sorted(code for code in some if code not in others))


def _notes(first: Assessment, second: Assessment) -> tuple[str, ...]:
    told = []
    if (first.temperature_K, first.pressure_Pa) != (second.temperature_K, second.pressure_Pa):
        conditions = [
            f"{to_celsius(a.temperature_K):.0f} °C and {a.pressure_Pa / 1e3:.1f} kPa"
            for a in (first, second)
        ]
        told.append(f"Assessed at {conditions[0]}, and at {conditions[1]}.")
    masses = [a.weighing.total_g for a in (first, second)]
    if abs(masses[0] - masses[1]) > 1e-6 * max(masses):
        told.append(f"They weigh {masses[0]:.4g} g and {masses[1]:.4g} g.")
    if (first.version, first.data_version) != (second.version, second.data_version):
        told.append("Made by different versions of the program or its data.")
    return tuple(told)
