"""The learned part of the excess Gibbs energy: its form (`form`), what it knows of a substance
(`descriptors`), what its coefficients are made of (`effects`), what was learned (`learned`), and
how a person's own measurement enters (`measurement`). The base is the mean of modified UNIFAC 2.0
and UNIFAC 2.0 (`mixture.activity`). What is fitted, and to what, stands in `src/fitting/excess`.
"""

from blendwright.mixture.excess.descriptors import BASE_SETS, descriptor, descriptors
from blendwright.mixture.excess.form import ExcessAt, ExcessTerms, ln_gamma_excess
from blendwright.mixture.excess.learned import DRAWS, excess_terms, fusion_factors

__all__ = [
    "BASE_SETS",
    "DRAWS",
    "ExcessAt",
    "ExcessTerms",
    "descriptor",
    "descriptors",
    "excess_terms",
    "fusion_factors",
    "ln_gamma_excess",
]
