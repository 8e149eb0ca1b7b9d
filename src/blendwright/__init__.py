"""Blendwright: from a flavour formula in grams to an honest assessment.

    from blendwright import Formula, assess, compare

    pear = Formula.of({"ethyl butyrate": 1.6, "vanillin": 0.9, "PG": "q.s."}, "pear", batch_g=50)
    assessment = assess(pear, temperature_K=295.15)
    assessment.to_dict()
    compare(assessment, assess(pear.with_grams("vanillin", 2)))

Everything in `__all__` is public. What a first assessment doesn't need is imported when it is
first asked for.
"""

import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

from blendwright.assess import Assessment, assess
from blendwright.errors import BlendwrightError, FormulaError
from blendwright.estimate import Estimate
from blendwright.formula import Formula, read_formula
from blendwright.observations import read_observations
from blendwright.report.sources import bibliography
from blendwright.version import __version__

if TYPE_CHECKING:
    from blendwright.app.batch import assess_many
    from blendwright.catalogue import Catalogue, default_catalogue
    from blendwright.formula import formula_sha256, write_formula
    from blendwright.questions.advice.advise import advise
    from blendwright.questions.advice.carriers import compare_carriers
    from blendwright.questions.comparing import Comparison, compare
    from blendwright.questions.drink.dosing import Dose, Dosed, dose
    from blendwright.questions.materials.own import read_own_materials
    from blendwright.questions.volumes.volumes import BenchOrder, BenchSheet, bench_sheet
    from blendwright.questions.warming import WarmBath, Warming, warm

# a name here must not be that of a module of the package: the module would hide it
_LATER = {
    "BenchOrder": "blendwright.questions.volumes.volumes",
    "BenchSheet": "blendwright.questions.volumes.volumes",
    "Catalogue": "blendwright.catalogue",
    "Comparison": "blendwright.questions.comparing",
    "Dose": "blendwright.questions.drink.dosing",
    "Dosed": "blendwright.questions.drink.dosing",
    "WarmBath": "blendwright.questions.warming",
    "Warming": "blendwright.questions.warming",
    "advise": "blendwright.questions.advice.advise",
    "assess_many": "blendwright.app.batch",
    "bench_sheet": "blendwright.questions.volumes.volumes",
    "compare": "blendwright.questions.comparing",
    "compare_carriers": "blendwright.questions.advice.carriers",
    "default_catalogue": "blendwright.catalogue",
    "dose": "blendwright.questions.drink.dosing",
    "formula_sha256": "blendwright.formula",
    "read_own_materials": "blendwright.questions.materials.own",
    "warm": "blendwright.questions.warming",
    "write_formula": "blendwright.formula",
}

__all__ = [
    "Assessment",
    "BenchOrder",
    "BenchSheet",
    "BlendwrightError",
    "Catalogue",
    "Comparison",
    "Dose",
    "Dosed",
    "Estimate",
    "Formula",
    "FormulaError",
    "WarmBath",
    "Warming",
    "__version__",
    "advise",
    "assess",
    "assess_many",
    "bench_sheet",
    "bibliography",
    "compare",
    "compare_carriers",
    "default_catalogue",
    "dose",
    "formula_sha256",
    "read_formula",
    "read_observations",
    "read_own_materials",
    "warm",
    "write_formula",
]


def __getattr__(name: str) -> Any:
    if name in _LATER:
        return getattr(import_module(_LATER[name]), name)
    raise AttributeError(f"module 'blendwright' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)


def _plot(assessment: Assessment) -> Any:
    pictures = import_module("blendwright.report.pictures.of_assessment")
    return pictures.AssessmentPictures(assessment)


Assessment.plot = property(_plot)

if "IPython" in sys.modules and (_shell := sys.modules["IPython"].get_ipython()) is not None:
    from blendwright.report.notebook import register_views

    register_views(_shell)
