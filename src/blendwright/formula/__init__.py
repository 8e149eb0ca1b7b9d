"""What the person wrote: rows of material and grams, strengths, make-up to weight.

Reads files and typed rows into a `Formula` of plain names and numbers. Which substances the names
mean, and what they do, is the business of the packages above.
"""

from blendwright.formula.formula import Formula, check_is_formula
from blendwright.formula.notices import Notice, UnusedColumn
from blendwright.formula.numbers import Amount, Strength
from blendwright.formula.reading import read_formula, read_formula_bytes
from blendwright.formula.row import Row
from blendwright.formula.writing import formula_bytes, formula_dict, formula_sha256, write_formula

__all__ = [
    "Amount",
    "Formula",
    "Notice",
    "Row",
    "Strength",
    "UnusedColumn",
    "check_is_formula",
    "formula_bytes",
    "formula_dict",
    "formula_sha256",
    "read_formula",
    "read_formula_bytes",
    "write_formula",
]
