"""The pictures of one assessment: `assessment.plot.thermometer()`, `assessment.plot.shares()`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from blendwright.assess import Assessment
from blendwright.report.pictures.smell_and_flash import shares
from blendwright.report.pictures.temperature_bar import temperature_bar
from blendwright.report.thermometer import thermometer_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class AssessmentPictures:
    """Each method draws one picture and gives its matplotlib Figure (extra `pictures`).

    Raises MissingPicturesExtraError without matplotlib.
    """

    assessment: Assessment

    def thermometer(self) -> Figure:
        """Freezer, fridge and bench, where it dissolves, clouds and flashes, and safe warming."""
        return temperature_bar(thermometer_of(self.assessment), self._name)

    def shares(self) -> Figure:
        """Each row's share of the vapour and of what makes it flash."""
        return shares(self.assessment.contributions, self._name)

    @property
    def _name(self) -> str:
        return self.assessment.weighing.formula.name
