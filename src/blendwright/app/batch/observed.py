"""Rows of a batch that are like what the bench saw: they are computed one by one, as `assess` does.

The engine for many formulas knows no observations. A formula within `similarity.reach_of` an
observed blend, by mass, or with a crystal of which a solubility was observed takes its answers from
`ObservedBlend`; the others are out of every observation's reach, and keep the engine's, which are
those of `assess` too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import nan

from blendwright.app.batch.schema import estimates_of
from blendwright.assess import ESTIMATES
from blendwright.catalogue import Catalogue
from blendwright.estimate import Estimate, display_name
from blendwright.mixture.weighing import Weighing
from blendwright.observations import MeasuredBlend, Observation
from blendwright.observations.compared import shares_a_crystal
from blendwright.observations.findings import observation_findings
from blendwright.observations.observed_blend import with_observations
from blendwright.observations.similarity import Features, reach_of
from blendwright.verdict import gravest_first
from blendwright.verdict.blend import Blend
from blendwright.verdict.findings import findings_of


@dataclass(frozen=True)
class Observed:
    """The person's own observations, and the catalogue that their materials are looked up in."""

    observations: tuple[Observation, ...]
    catalogue: Catalogue

    def reaches(self, weighing: Weighing) -> bool:
        """Whether any of them may count."""
        whole = weighing.composition
        shares = dict(zip(whole.names, whole.mass_fractions.tolist(), strict=True))
        here = Features(shares, {})
        reach: dict[MeasuredBlend, float] = {}
        for one in self.observations:
            reach[one.blend] = max(reach.get(one.blend, 0.0), reach_of(one.question))
        if any(Features(dict(b.shares), {}).distance(here) <= r for b, r in reach.items()):
            return True
        measured = {one.blend for one in self.observations if one.question == "crystals_gone"}
        return any(shares_a_crystal(blend, whole) for blend in measured)

    def columns(
        self, weighing: Weighing, temperature_K: float, pressure_Pa: float, only: Sequence[str]
    ) -> Mapping[str, object]:
        """One formula's columns, as the engine gives those of many."""
        alone = Blend(weighing, temperature_K, pressure_Pa)
        blend, compared = with_observations(alone, self.observations, self.catalogue)
        found: dict[str, object] = {}
        for name, estimate in ESTIMATES.items():
            if display_name(name) in estimates_of(only):
                found.update(_columns(display_name(name), estimate(blend)))
        for question in only:
            if question in WORDS:
                found.update(WORDS[question](blend))
        if "findings" in only:
            said = gravest_first(
                [*findings_of(blend), *observation_findings(compared, blend.classings)]
            )
            found["findings"] = ";".join(finding.code for finding in said)
            found["has_warning"] = any(finding.severity == "warning" for finding in said)
        return found


def _columns(name: str, estimate: Estimate) -> dict[str, object]:
    """One estimate, in its display unit; NaN where there is no number."""
    shown = estimate.in_display_units()
    value, low, high = shown.interval() if shown.is_ok else (nan, nan, nan)
    ends = {name: value, f"{name}_low": low, f"{name}_high": high}
    return {**ends, f"{name}_status": shown.status}


def _flash(blend: Blend) -> dict[str, object]:
    ghs = blend.classings[0]
    return {
        "ghs_category": ghs.category,
        "ghs_standing": ghs.standing,
        "ghs_treat_as": ghs.treat_as,
    }


def _crystals(blend: Blend) -> dict[str, object]:
    chance = blend.chance_of_crystals
    return {
        "dissolution": blend.dissolution_word,
        "chance_of_crystals": nan if chance is None else chance,
    }


def _layers(blend: Blend) -> dict[str, object]:
    chance = blend.chance
    return {"chance_of_layers": nan if chance is None else chance, "liquid": blend.liquid_word}


# what a question has beside its estimates and the findings
WORDS: Mapping[str, Callable[[Blend], dict[str, object]]] = {
    "flash": _flash,
    "crystals": _crystals,
    "layers": _layers,
}
