"""Rows of a batch that are like what the bench saw: they are computed one by one, as `assess` does.

The engine for many formulas knows no observations. A formula within `similarity.REACH` of an
observed blend, by mass, takes its answers from `ObservedBlend`; the others are out of every
observation's reach, and keep the engine's, which are those of `assess` too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from blendwright.app.batch.row import QUESTIONS
from blendwright.catalogue import Catalogue
from blendwright.mixture.weighing import Weighing
from blendwright.observations import Observation
from blendwright.observations.findings import observation_findings
from blendwright.observations.observed_blend import with_observations
from blendwright.observations.similarity import REACH, Features
from blendwright.verdict import gravest_first
from blendwright.verdict.blend import Blend
from blendwright.verdict.findings import findings_of


@dataclass(frozen=True)
class Observed:
    """The person's own observations, and the catalogue that their materials are looked up in."""

    observations: tuple[Observation, ...]
    catalogue: Catalogue

    def reaches(self, weighing: Weighing) -> bool:
        """Whether any of them is of a blend near enough to count."""
        whole = weighing.composition
        shares = dict(zip(whole.names, whole.mass_fractions.tolist(), strict=True))
        here = Features(shares, {})
        features = {one.blend: Features(dict(one.blend.shares), {}) for one in self.observations}
        return any(there.distance(here) <= REACH for there in features.values())

    def columns(
        self, weighing: Weighing, temperature_K: float, pressure_Pa: float, only: Sequence[str]
    ) -> Mapping[str, object]:
        """One formula's columns, as the engine gives those of many."""
        alone = Blend(weighing, temperature_K, pressure_Pa)
        blend, compared = with_observations(alone, self.observations, self.catalogue)
        found: dict[str, object] = {}
        for question in only:
            found.update(QUESTIONS[question](blend))
        if "findings" in only:
            said = gravest_first(
                [*findings_of(blend), *observation_findings(compared, blend.classings)]
            )
            found["findings"] = ";".join(finding.code for finding in said)
            found["has_warning"] = any(finding.severity == "warning" for finding in said)
        return found
