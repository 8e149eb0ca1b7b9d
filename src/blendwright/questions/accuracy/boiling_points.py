"""Boiling points of pure substances as if nobody had curated them, against published ones.

Judged by the substances of the catalogue whose normal boiling point was read itself (`read` is
"full" or "abstract") in a source that opens; the library's own tables, which were read through the
library, are not among these. Two answers for each: from the structure alone, by a model that has
not seen the molecule (`structure_left_out.py`); and what the program says where nobody curated the
substance: the library's value, else the structure's. Compilations quote each other, so a value of
the library may go back to the measurement that it is compared with.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from statistics import median_low

from blendwright.catalogue import Datum, Material, default_catalogue
from blendwright.catalogue.beyond import library_material
from blendwright.estimate import NORMAL_90
from blendwright.pure.boiling_point import LEAST_UNCERTAINTY_K, boiling_point
from blendwright.pure.evidence import without_reduced_pressure
from blendwright.questions.accuracy.conformal import Score, left_out
from blendwright.questions.accuracy.structure_left_out import FromStructure, from_structure_unseen
from blendwright.questions.accuracy.table_lines import Case

READ_ITSELF = ("full", "abstract")
FROM_THE_LIBRARY, FROM_THE_STRUCTURE = "from the library", "from the structure"


@dataclass(frozen=True)
class Published:
    """A substance, its published normal boiling point, and what its structure alone says."""

    material: Material
    measured_K: float
    unseen: FromStructure


@cache
def published() -> tuple[Published, ...]:
    """In the catalogue's order; the median of the values read in sources that open."""
    return tuple(_published())


def _published() -> Iterator[Published]:
    catalogue = default_catalogue()
    for name in catalogue.names():
        material = catalogue.material(name)
        unseen = from_structure_unseen(material)
        if material.kind != "substance" or unseen is None:
            continue
        values = [
            datum.value
            for datum in material.accepted("boiling_point")
            if datum.method != "estimated"
            and catalogue.sources[datum.source].address
            and catalogue.sources[datum.source].read in READ_ITSELF
        ]
        if values:
            yield Published(material, median_low(values), unseen)


def structure_cases() -> list[Case]:
    """Errors in K of the estimate from the structure alone."""
    return [
        Case(
            one.material.name,
            one.unseen.boiling_K - one.measured_K,
            one.unseen.boiling_half_width_K,
            measured=one.measured_K,
        )
        for one in published()
    ]


@dataclass(frozen=True)
class Answered:
    """What is said of a substance that nobody curated: the error and the half-width, K, that of the
    library's values before any factor, and where it comes from."""

    one: Published
    error_K: float
    half_width_K: float
    origin: str


def uncurated_cases() -> list[Case]:
    """Errors in K of what is said of a substance that nobody curated, by where it comes from; an
    interval of the library's with the factor that the other substances teach."""
    factors = iter(left_out(library_scores()))
    return [
        Case(
            found.one.material.name,
            found.error_K,
            found.half_width_K * (next(factors) if found.origin == FROM_THE_LIBRARY else 1.0),
            found.origin,
            measured=found.one.measured_K,
        )
        for found in _answered()
    ]


def library_scores() -> list[Score]:
    """The library's errors over the half-width of a published value that nobody checked."""
    return [
        Score(found.one.material.name, "all", abs(found.error_K) / found.half_width_K)
        for found in _answered()
        if found.origin == FROM_THE_LIBRARY
    ]


@cache
def _answered() -> tuple[Answered, ...]:
    return tuple(_as_uncurated(one) for one in published())


def _as_uncurated(one: Published) -> Answered:
    unseen = one.unseen
    estimate = Datum(
        "boiling_point", unseen.boiling_K, None, unseen.boiling_half_width_K / NORMAL_90,
        "estimated", "structure-estimate", "", "",
    )  # fmt: skip
    known = library_material(one.material.cas, one.material.name) if one.material.cas else None
    if known is not None:
        sound = without_reduced_pressure(known, estimate)
        if any(datum.method != "estimated" for datum in sound.accepted("boiling_point")):
            value_K = boiling_point(sound).interval()[0]
            half_K = LEAST_UNCERTAINTY_K * sound.trust_factor
            return Answered(one, value_K - one.measured_K, half_K, FROM_THE_LIBRARY)
    error_K = unseen.boiling_K - one.measured_K
    return Answered(one, error_K, unseen.boiling_half_width_K, FROM_THE_STRUCTURE)
