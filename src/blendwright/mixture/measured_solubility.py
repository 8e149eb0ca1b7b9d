"""What measured solubilities say of a crystal's activity, in their own carrier and in others.

At saturation ln(x gamma) + s = ln(ideal activity): each measured point gives the shift s that the
activity model (and the fusion data) would have needed. The shift is taken as

    s = a + e_k        a: of the solid (its fusion, its groups), e_k: of the solid in carrier k

with a ~ N(0, A^2), e_k ~ N(0, E^2) and errors of measurement ~ N(0, M^2); the blend's own shift is
the best linear prediction from all points (kriging, Krige 1951; BLUP, Henderson 1975), a carrier
of the blend counting by its share of the solvents. So a point in the same carrier anchors, one in
another carrier helps by half, and without points nothing moves and the spread is what the models
were found to have. A^2, E^2, M^2 are learned (`solubility_spreads.csv`).

Points of one solid in one carrier at three or more temperatures, or at two 15 K apart, are fitted
as ln x = p + q / T and used inside their range; outside it the nearest end's shift holds.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.catalogue.material import Material, MeasuredSolubility
from blendwright.catalogue.origins import FROM_MEMORY, all_from_memory
from blendwright.errors import BlendwrightError
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.ensemble import Ensemble
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour_correction import carrier_class_of
from blendwright.mixture.water_solubility import WATER_mol_m3
from blendwright.pure.constants import pure_constants
from blendwright.pure.intervals import IntervalQuestion, interval_factor

POINTS_FOR_A_FIT = 3
FAR_APART_K = 15.0  # two points this far apart give a slope too (own rule)
LEVEL_K = 0.1  # a shorter range has one shift
MOST_WATER_kg_m3 = 50.0  # more is no dilute solution, and no crystal of the trade reaches it


@dataclass(frozen=True)
class Fit:
    """ln x = p + q / T of one solid in one carrier, from `low_K` to `high_K`."""

    solvent: str
    p: float
    q: float
    low_K: float
    high_K: float
    sources: tuple[str, ...]

    def mole_fraction(self, temperature_K: float) -> float:
        """Inside the range; raises ValueError outside."""
        if not self.low_K <= temperature_K <= self.high_K:
            raise ValueError(f"the fit holds from {self.low_K:g} to {self.high_K:g} K")
        return math.exp(self.p + self.q / temperature_K)


@dataclass(frozen=True)
class Spreads:
    """Standard deviations of ln: of the solid, of the solid in one carrier, of a measurement."""

    solid: float
    carrier: float
    measurement: float


@cache
def spreads() -> dict[str, Spreads]:
    """Learned spreads: "ordinary", and "analogue" for groups of a similar molecule."""
    text = (files("blendwright.mixture") / "solubility_spreads.csv").read_text(encoding="utf-8")
    return {
        row["groups"]: Spreads(
            float(row["solid"]), float(row["carrier"]), float(row["measurement"])
        )
        for row in csv.DictReader(text.splitlines())
    }


def spreads_of(solid: Material) -> Spreads:
    return spreads()["analogue" if solid.is_analogue else "ordinary"]


def fits(points: Sequence[MeasuredSolubility]) -> tuple[Fit, ...]:
    """One for each carrier; a level line where the temperatures are too few or too near."""
    by_solvent: dict[str, list[MeasuredSolubility]] = {}
    for point in points:
        by_solvent.setdefault(point.solvent, []).append(point)
    made = []
    for solvent, found in by_solvent.items():
        inverse = np.array([1.0 / point.temperature_K for point in found])
        ln_x = np.log([point.mole_fraction for point in found])
        kelvins = [point.temperature_K for point in found]
        distinct = len({round(kelvin, 1) for kelvin in kelvins})
        if distinct >= POINTS_FOR_A_FIT or max(kelvins) - min(kelvins) >= FAR_APART_K:
            q, p = np.polyfit(inverse, ln_x, 1)
        else:
            p, q = float(ln_x.mean()), 0.0
        made.append(
            Fit(
                solvent,
                float(p),
                float(q),
                float(1.0 / inverse.max()),
                float(1.0 / inverse.min()),
                tuple(dict.fromkeys(point.source for point in found)),
            )
        )
    return tuple(made)


@lru_cache(maxsize=1024)
def anchor_points(solid: Material) -> tuple[tuple[Fit, float, float], ...]:
    """(fit, shift at its cold end, shift at its warm end) for each carrier."""
    catalogue = default_catalogue()
    found = []
    for fit in fits((*solid.solubilities, *_in_water(solid))):
        try:
            solvent = catalogue.material(fit.solvent)
        except BlendwrightError:
            continue
        ends = [
            needed_shift(solid, solvent, t, math.exp(fit.p + fit.q / t))
            for t in (fit.low_K, fit.high_K)
        ]
        if ends[0] is not None and ends[1] is not None:
            found.append((fit, ends[0], ends[1]))
    return tuple(found)


def _in_water(solid: Material) -> tuple[MeasuredSolubility, ...]:
    """The water solubilities of a crystal as mole fractions, where none is given as such."""
    if any(point.solvent == "water" for point in solid.solubilities):
        return ()
    return tuple(
        MeasuredSolubility(
            "water",
            d.temperature_K or ROOM_K,
            d.value / solid.molar_mass_kg_mol / WATER_mol_m3,
            d.source,
        )
        for d in solid.accepted("water_solubility")
        if d.value < MOST_WATER_kg_m3
    )


def needed_shift(
    solid: Material, solvent: Material, temperature_K: float, mole_fraction: float
) -> float | None:
    """The shift that gives this solubility; None where groups or fusion are not known."""
    melt = pure_constants(solid).fusion
    if melt is None:
        return None
    parts: list[tuple[Material, float]] = [(solvent, 1.0)]
    if solvent.constituents:
        catalogue = default_catalogue()
        parts = [(catalogue.material(c.material), c.typical) for c in solvent.constituents]
    model = Ensemble([m.groups for m in (solid, *(part for part, _ in parts))]).mean("solid")
    if model is None:
        return None
    moles = np.array([share / part.molar_mass_kg_mol for part, share in parts])
    x = np.array([mole_fraction, *((1.0 - mole_fraction) * moles / moles.sum())])
    ln_gamma = float(model.ln_gamma(x, temperature_K)[0])
    return melt.ln_ideal_activity(temperature_K) - math.log(mole_fraction) - ln_gamma


def where_known(points: Sequence[tuple[Fit, float, float]]) -> str:
    """Where a solubility is known: "measured in ethanol; from memory in water"."""
    remembered = [fit.solvent for fit, _, _ in points if all_from_memory(fit.sources)]
    measured = [fit.solvent for fit, _, _ in points if fit.solvent not in remembered]
    parts = (("measured in", measured), (f"{FROM_MEMORY} in", remembered))
    return "; ".join(f"{how} {', '.join(names)}" for how, names in parts if names)


def widenings(carriers: Sequence[str], used: Sequence[tuple[Fit, float, float]]) -> Array:
    """The learned factor (`intervals`) on the deviation in each carrier; a liquid of several takes
    them by their shares."""
    measured = {fit.solvent for fit, _, _ in used}
    factors = []
    for name in carriers:
        question: IntervalQuestion = (
            "crystals, measured in this carrier"
            if name in measured
            else "crystals, measured in another carrier"
            if measured
            else "crystals, not measured"
        )
        factors.append(interval_factor(question, carrier_class_of(name)))
    return np.array(factors)


def anchor_weights(
    spread: Spreads, of_solid: float, prior: Array, shares: Array
) -> tuple[Array, Array]:
    """The best linear prediction for many blends: `shares` (blends, points) is that of each point's
    carrier, `prior` (blends,) the variance without any. The weights (blends, points), and the
    variance that is left."""
    points = shares.shape[1]
    covariance = np.full((points, points), of_solid)
    covariance += np.diag(np.full(points, spread.carrier**2 + spread.measurement**2))
    towards = of_solid + spread.carrier**2 * shares
    weights = np.linalg.solve(covariance, towards.T).T
    left = np.maximum(prior - (weights * towards).sum(axis=1), spread.measurement**2)
    return weights, left


def shift_at(points: Sequence[tuple[Fit, float, float]], temperature_K: Array) -> Array:
    """Each point's shift at temperatures (..., points): along the line in 1/T inside its range,
    held outside."""
    low_K = np.array([fit.low_K for fit, _, _ in points])
    high_K = np.array([fit.high_K for fit, _, _ in points])
    low = np.array([shift for _, shift, _ in points])
    high = np.array([shift for _, _, shift in points])
    level = high_K - low_K < LEVEL_K
    t = np.clip(np.asarray(temperature_K)[..., None], low_K, high_K)
    across = np.where(level, 1.0, 1.0 / high_K - 1.0 / low_K)
    weight = np.where(level, 0.0, (1.0 / t - 1.0 / low_K) / across)
    return np.asarray(low + weight * (high - low))
