"""All that the papers of one formula are made from, gathered once.

Beside the assessment: the warming where there is something to warm, the upper flammable limit, the
order of weighing, the bibliography, the date, and what the person measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from blendwright.assess import Assessment
from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.catalogue.material import Source
from blendwright.estimate import Estimate
from blendwright.formula import formula_sha256
from blendwright.mixture.flammable_limit import blend_upper_limit
from blendwright.mixture.weighing import DROP_mL
from blendwright.observations import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.volumes.weighing_order import WeighingStep, weighing_steps
from blendwright.questions.warming import Warming, warm
from blendwright.report.papers.measured import BOILING_POINT, FLASH_POINT, MeasuredProperty
from blendwright.verdict.blend import Blend
from blendwright.verdict.classes import category_of
from blendwright.verdict.flammability import Classing, with_measured_category


@dataclass(frozen=True)
class Dossier:
    """`steps` are the batch on the balance, in order. `sources` is the bibliography by key."""

    assessment: Assessment
    made_on: date
    steps: tuple[WeighingStep, ...]
    warming: Warming | None
    upper_limit: Estimate
    sources: Mapping[str, Source]
    measured: tuple[MeasuredProperty, ...] = ()
    lot: str = ""
    drop_mL: float = DROP_mL

    @property
    def name(self) -> str:
        return self.assessment.weighing.formula.name

    @property
    def formula_sha256(self) -> str:
        return formula_sha256(self.assessment.weighing.formula)

    def measurement(self, name: str) -> MeasuredProperty | None:
        """What the person measured of a property of section 9; the last one given."""
        return next((m for m in reversed(self.measured) if m.property == name), None)

    @property
    def measured_flash(self) -> MeasuredProperty | None:
        return self.measurement(FLASH_POINT)

    @property
    def measured_category(self) -> str | None:
        """The GHS category that the measured flash point falls in; None without a plain number.

        Categories 1 and 2 are told apart by the boiling point: the measured one, else the low end
        of the estimate.
        """
        flash_C = self.measured_flash.celsius() if self.measured_flash else None
        if flash_C is None:
            return None
        given = self.measurement(BOILING_POINT)
        boiling_C = given.celsius() if given else None
        if boiling_C is None:
            boiling_C = self.assessment.estimates["initial_boiling_point"].in_display_units().low
        return category_of(flash_C, boiling_C)

    @property
    def fire(self) -> Classing:
        """The GHS class; with a measured flash point the more cautious of measured and modelled."""
        model = self.assessment.flammability
        measured = self.measured_category
        return model if measured is None else with_measured_category(model, measured)


def gather(
    assessment: Assessment,
    made_on: date,
    *,
    measured: Sequence[MeasuredProperty] = (),
    lot: str = "",
    catalogue: Catalogue | None = None,
    drop_mL: float = DROP_mL,
    observations: Iterable[Observation] = (),
) -> Dossier:
    """The dossier of an assessment; `catalogue`, `drop_mL` and `observations` are those that it was
    made with.

    Raises what `warm` raises.
    """
    catalogue = catalogue or default_catalogue()
    weighing = assessment.weighing
    warming = None
    if assessment.dissolution != "dissolves":
        warming = warm(
            weighing.formula,
            bench_K=assessment.temperature_K,
            pressure_Pa=assessment.pressure_Pa,
            catalogue=catalogue,
            drop_mL=drop_mL,
            observations=observations,
        )
    return Dossier(
        assessment,
        made_on,
        weighing_steps(weighing),
        warming,
        _upper_limit(assessment, catalogue),
        catalogue.sources,
        tuple(measured),
        lot,
        drop_mL,
    )


def _upper_limit(assessment: Assessment, catalogue: Catalogue) -> Estimate:
    """Upper flammable limit of the headspace at the bench, as the lower one in the assessment."""
    alone = Blend(assessment.weighing, assessment.temperature_K, assessment.pressure_Pa)
    seen = [compared.observation for compared in assessment.observations]
    blend, _ = with_observations(alone, seen, catalogue)
    lower = assessment.estimates["lower_flammable_limit"]
    if blend.headspace is None or not lower.is_ok:
        return Estimate.unknown("mol/mol", "; ".join(lower.notes) or "the lower limit is unknown")
    return blend_upper_limit(
        blend.modelled_components, blend.headspace.pressures_Pa, blend.temperature_K
    )
