"""Blendwright: from a flavour formula in grams to an honest assessment.

from blendwright import assess, read_formula
assessment = assess(read_formula("formula.csv"), temperature_K=295.15)
assessment.to_dict()
"""

from blendwright.assess import Assessment, assess
from blendwright.bibliography import bibliography
from blendwright.errors import BlendwrightError, FormulaError
from blendwright.estimate import Estimate
from blendwright.formula import Formula, read_formula
from blendwright.observations import read_observations
from blendwright.version import __version__
from blendwright.warming import WarmBath, Warming, warm

__all__ = [
    "Assessment",
    "BlendwrightError",
    "Estimate",
    "Formula",
    "FormulaError",
    "WarmBath",
    "Warming",
    "__version__",
    "assess",
    "bibliography",
    "read_formula",
    "read_observations",
    "warm",
]
