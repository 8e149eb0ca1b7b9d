"""Flash points of pure substances, all estimated from boiling point, formula and groups.

`reference/flash_point_pure.csv` is kept out of the fit (`pure/fit_flash_regression.py`), and the
catalogue's own flash points are not looked at; boiling points are the published ones. How wide the
intervals must be is learned from the catalogue's substances in the fit, each left out of the fit
that judges it (ten folds), and from the other substances of the check table. The fit's substances
from outside the catalogue teach nothing of it: steroids and gases are not of this trade.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from blendwright.catalogue import Material, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import to_celsius, to_kelvin
from blendwright.mixture.weighing import resolve
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.constants import pure_constants
from blendwright.pure.evidence import with_structure
from blendwright.pure.flash_point import (
    BOTH,
    CATOIRE,
    ESTIMATE_SPREAD_K,
    REGRESSION,
    catoire_naudet_K,
    estimated_kind,
    never_narrowed,
)
from blendwright.pure.intervals import interval_factor
from blendwright.pure.structure import material_from_smiles
from blendwright.questions.accuracy.conformal import Score, left_out
from blendwright.questions.accuracy.flash_regression_fit import (
    cross_validated_errors,
    training_rows,
)
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case, Counted
from blendwright.verdict.classes import ONE_SIDED_99_OVER_90_INTERVAL


@dataclass(frozen=True)
class Judged:
    """One substance: measured and estimated flash point, the half-width before any factor, K."""

    material: Material
    measured_K: float
    estimated_K: float
    half_width_K: float
    others: tuple[tuple[str, float], ...]

    @property
    def error_K(self) -> float:
        return self.estimated_K - self.measured_K

    @property
    def score(self) -> Score:
        ratio = abs(self.error_K) / self.half_width_K
        return Score(self.material.name, estimated_kind(self.material), ratio)


def _rows() -> Iterator[tuple[Material, float]]:
    for row in reference("flash_point_pure.csv"):
        try:
            yield resolve(row["name"], default_catalogue()), to_kelvin(float(row["flash_C"]))
        except BlendwrightError:
            continue  # of elements that the formula weights don't cover


@cache
def judged() -> tuple[Judged, ...]:
    """Every row whose substance has a published boiling point and groups."""
    rows = list(_rows())
    middle = float(np.median([measured for _, measured in rows]))
    made = []
    for material, measured in rows:
        without_flash_data = replace(
            material, data=tuple(d for d in material.data if d.property != "flash_point")
        )
        if not material.curated:
            without_flash_data = with_structure(without_flash_data)
        known = pure_constants(without_flash_data)
        boiling = boiling_point(without_flash_data).value
        if not known.flash.is_ok or known.flash.method not in (BOTH, REGRESSION) or boiling is None:
            continue
        value, _, high = known.flash.interval()
        factor = interval_factor("flash point, estimated", estimated_kind(material))
        others = [("middle of the table (naive)", middle - measured)]
        catoire = catoire_naudet_K(without_flash_data, boiling, known.vapour)
        if catoire is not None:
            others.append((CATOIRE, catoire - measured))
        made.append(Judged(material, measured, value, (high - value) / factor, tuple(others)))
    return tuple(made)


@cache
def _training_scores() -> tuple[Score, ...]:
    """The catalogue's, over the half-width of an estimate whose boiling point is sure."""
    check = {row["inchikey"].split("-")[0] for row in reference("flash_point_pure.csv")}
    known = training_rows(check)
    errors = cross_validated_errors(known.terms, known.flashes_K)
    ours = set(default_catalogue().names())
    return tuple(
        Score(name, kind, abs(float(error)) / ESTIMATE_SPREAD_K[REGRESSION])
        for name, kind, error in zip(known.names, known.kinds, errors, strict=True)
        if name in ours
    )


def scores() -> list[Score]:
    """All that teaches the width: the check table's own first."""
    return [*(j.score for j in judged()), *_training_scores()]


def cases() -> list[Case]:
    """Errors in K, each interval with the factor that the other substances teach."""
    factors = left_out(scores())
    return [
        Case(
            j.material.name,
            j.error_K,
            (never_narrowed(factor) if j.error_K > 0.0 else factor) * j.half_width_K,
            estimated_kind(j.material),
            j.others,
            measured=to_celsius(j.measured_K),
        )
        for j, factor in zip(judged(), factors, strict=False)
    ]


@cache
def drawn() -> tuple[Judged, ...]:
    """The check table by its structures alone, as the program answers: no name and no boiling point
    is looked up."""
    made = []
    for row in reference("flash_point_pure.csv"):
        material = material_from_smiles(row["smiles"], row["name"])
        value_K, _, high_K = pure_constants(material).flash.interval()
        half_K = (high_K - value_K) / interval_factor("flash point, from the structure", "all")
        made.append(Judged(material, to_kelvin(float(row["flash_C"])), value_K, half_K, ()))
    return tuple(made)


def drawn_scores() -> list[Score]:
    """What teaches the width of an estimate from the structure alone."""
    return [replace(one.score, kind="all") for one in drawn()]


def drawn_cases() -> list[Case]:
    """Errors in K from the structure alone, each interval with the factor of the others."""
    return [
        Case(
            one.material.name,
            one.error_K,
            (never_narrowed(factor) if one.error_K > 0.0 else factor) * one.half_width_K,
            "all",
            measured=to_celsius(one.measured_K),
        )
        for one, factor in zip(drawn(), left_out(drawn_scores()), strict=True)
    ]


def above_the_safety_bound() -> Counted:
    """Measured flash points at or above the one-sided 99 % bound of the estimate."""
    found = cases()
    missed = tuple(
        case.name
        for case in found
        if case.error > (case.half_width or 0.0) * ONE_SIDED_99_OVER_90_INTERVAL
    )
    return Counted(
        "pure flash points: none measured below the one-sided 99 % bound",
        len(found) - len(missed),
        len(found),
        1.0,
        missed,
    )
