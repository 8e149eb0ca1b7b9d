"""What each material is: identity, state, measured constants, each number with its source.

The facts are text files in `data/`, one fact a row; the code here reads, checks and finds them.
No mixture physics, no verdicts.
"""

from blendwright.catalogue.loader import Catalogue, default_catalogue
from blendwright.catalogue.material import Constituent, Curve, Datum, Material, Source

__all__ = [
    "Catalogue",
    "Constituent",
    "Curve",
    "Datum",
    "Material",
    "Source",
    "default_catalogue",
]
