"""How hard does the pure liquid push into the air at a temperature?

Rule of choice, first that applies:

1. Published correlations that agree with the accepted boiling point (within 5 K) and, where there
   are accepted measured points near room temperature, with those (within a factor 1.5). Among these
   the one whose range covers 25 °C and the boiling point best; on equal cover the order Wagner,
   Perry, VDI, Antoine (Poling), Landolt-Boernstein, WebBook.
2. An Antoine curve through the accepted points and the boiling point, ln P = A - B / (T + C), with
   C by Thomson (1946), C = 18 - 0.19 Tb (K).
3. A curve from the boiling point alone: Grain (1982), Watson form, with a factor on the entropy of
   vaporisation of 1.09, and 0.12 more for each alcohol or acid group and 0.08 for each phenol, at
   most 1.35: fitted to 89 substances of the catalogue with a published curve or points. The 0.8
   claimed for ln P is multiplied by a factor by kind of substance (`intervals`), learned from those
   that have a vapour pressure of their own (`accuracy/vapour_pressures.py`).

Outside its range a curve goes on along its tangent in ln P against 1/T. The uncertainty of ln P
is the larger of a floor by kind (curve 0.05, points 0.25, estimate 0.8; 90 %) and half of the
spread among the accepted curves, plus 0.01 per kelvin outside the range, at most 0.5.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.kinds import kind_of
from blendwright.catalogue.material import Curve, Datum, Material
from blendwright.catalogue.origins import correlation_words, values_words
from blendwright.errors import NotConvergedError
from blendwright.estimate import to_celsius
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa, GAS_CONSTANT_J_mol_K
from blendwright.pure.boiling_point import boiling_point
from blendwright.pure.intervals import interval_factor
from blendwright.pure.roots import Array, temperatures_where_zero

Kind = Literal["curve", "points", "boiling point"]

BOILING_AGREEMENT_K = 5.0
REACHABLE_K = 60.0  # a curve that ends further below the boiling point isn't held to it
POINT_AGREEMENT = math.log(1.5)
NEAR_ROOM_K = 30.0
LN_UNCERTAINTY: dict[Kind, float] = {"curve": 0.05, "points": 0.25, "boiling point": 0.8}
OUTSIDE_PER_K = 0.01
OUTSIDE_MOST = 0.5
PREFERENCE = (
    "poling-wagner",
    "mcgarry",
    "perry-2-8",
    "vdi-atlas",
    "poling-antoine",
    "landolt-boernstein",
    "webbook",
)
ENTROPY_FACTOR = 1.09
ENTROPY_PER_ALCOHOL_OR_ACID = 0.12
ENTROPY_PER_PHENOL = 0.08
MOST_ENTROPY_FACTOR = 1.35
CAL_GAS_CONSTANT = 1.987
SLOPE_STEP_K = 0.05
COLDEST_K, HOTTEST_K = 100.0, 1200.0  # where a boiling point is looked for


@dataclass(frozen=True)
class VapourPressure:
    """ln P(T) of one substance: where it came from and how far it is trusted.

    `ln_uncertainty` is the half-width of the 90 % interval of ln P inside the range; `ln_shift`
    moves the whole curve (to ask what a doubt does).
    """

    form: str
    coefficients: tuple[float, ...]
    minimum_K: float
    maximum_K: float
    kind: Kind
    ln_uncertainty: float
    sources: tuple[str, ...]
    method: str
    ln_shift: float = 0.0
    estimated: bool = False  # rests on an estimate, not on published pressures alone

    def ln_pressure(self, temperature_K: Array | float) -> Array:
        """ln(P / Pa) at each temperature; outside the range along the tangent in 1/T."""
        t = np.asarray(temperature_K, dtype=float)
        inside = np.minimum(np.maximum(t, self.minimum_K), self.maximum_K)
        found = _ln_form(self.form, self.coefficients, inside)
        if (inside != t).any():
            ends = _slopes(self.form, self.coefficients, (self.minimum_K, self.maximum_K))
            found = found + _along_tangents(t, inside, ends)
        return found + self.ln_shift

    def pressure_Pa(self, temperature_K: float) -> float:
        return float(np.exp(self.ln_pressure(temperature_K)))

    def ln_uncertainty_at(self, temperature_K: float) -> float:
        outside = max(0.0, self.minimum_K - temperature_K, temperature_K - self.maximum_K)
        return self.ln_uncertainty + min(OUTSIDE_MOST, OUTSIDE_PER_K * outside)

    def boiling_K(self, pressure_Pa: float = ATMOSPHERE_Pa) -> float:
        """Where the curve reaches a pressure; raises NotConvergedError where it does not between
        COLDEST_K and HOTTEST_K."""
        target = math.log(pressure_Pa)
        found = temperatures_where_zero(
            lambda kelvin, _: self.ln_pressure(kelvin) - target,
            np.array([self.maximum_K]),
            COLDEST_K,
            HOTTEST_K,
        )
        if not found.converged[0]:
            raise NotConvergedError("boiling point")
        return float(found.root[0])

    def heat_of_vaporisation_J_mol(self, temperature_K: float) -> float:
        """From the slope (Clausius-Clapeyron, ideal vapour)."""
        t = np.array([temperature_K - 0.5, temperature_K + 0.5])
        ln_p = self.ln_pressure(t)
        return float(-GAS_CONSTANT_J_mol_K * (ln_p[1] - ln_p[0]) / (1.0 / t[1] - 1.0 / t[0]))


class PressureTable:
    """Many substances' curves as arrays, for one call per form instead of one per substance."""

    def __init__(self, curves: Sequence[VapourPressure | None]) -> None:
        size = len(curves)
        by_form: dict[str, list[int]] = {}
        for i, curve in enumerate(curves):
            if curve is not None:
                by_form.setdefault(curve.form, []).append(i)
        self._forms: list[tuple[str, list[Array]]] = []
        self._form, self._place = np.full(size, -1), np.zeros(size, dtype=np.int64)
        ends = np.tile([[-np.inf], [np.inf], [0.0], [0.0], [0.0]], size)
        for form, indices in by_form.items():
            self._form[indices] = len(self._forms)
            self._place[indices] = np.arange(len(indices))
            members = [curve for i in indices if (curve := curves[i]) is not None]
            coefficients = list(np.array([c.coefficients for c in members]).T)
            bounds = (
                np.array([c.minimum_K for c in members]),
                np.array([c.maximum_K for c in members]),
            )
            shift = np.array([c.ln_shift for c in members])
            ends[:, indices] = (*bounds, *_slopes(form, coefficients, bounds), shift)
            self._forms.append((form, coefficients))
        self._ends = ends
        self._all = self._curves_of(np.arange(size))

    def _curves_of(self, flat_index: NDArray[np.int64]) -> CurveArrays:
        form, place = self._form[flat_index], self._place[flat_index]
        forms = []
        for number, (name, coefficients) in enumerate(self._forms):
            at = np.flatnonzero(form == number)
            if at.size:
                forms.append((name, at, [c[place[at]] for c in coefficients]))
        low, high, *slopes, shift = self._ends[:, flat_index]
        return CurveArrays(forms, (low, high), (slopes[0], slopes[1]), shift)

    def picked(self, index: NDArray[np.int64]) -> PickedCurves:
        """The curves of substances chosen by number (blends, components)."""
        return PickedCurves(self._curves_of(index.ravel()), index.shape)

    def ln_pressures(self, temperature_K: Array | float) -> Array:
        """ln(P / Pa), one more axis than the temperatures; -inf for a substance without a curve."""
        return self._all.ln_pressures(np.asarray(temperature_K, dtype=float)[..., None])


@dataclass(frozen=True, eq=False)
class CurveArrays:
    """Curves side by side: of each form its name, where it stands and its coefficients; ranges (K),
    the slopes in 1/T at their ends (K), and shifts of ln P."""

    forms: list[tuple[str, NDArray[np.int64], list[Array]]]
    bounds: tuple[Array, Array]
    slopes: tuple[Array, Array]
    shift: Array

    def ln_pressures(self, temperature_K: Array) -> Array:
        """ln(P / Pa) (..., curves) at temperatures (..., curves), or (..., 1) for all alike; -inf
        without a curve."""
        low, high = self.bounds
        inside = np.minimum(np.maximum(temperature_K, low), high)
        found = np.full(inside.shape, -np.inf)
        for form, at, coefficients in self.forms:
            found[..., at] = _ln_form(form, coefficients, inside[..., at])
        if (inside != temperature_K).any():
            found += _along_tangents(temperature_K, inside, self.slopes)
        found += self.shift
        return found


@dataclass(frozen=True, eq=False)
class PickedCurves:
    """Curves of (blends, components), each blend at its own temperature."""

    curves: CurveArrays
    shape: tuple[int, ...]

    def ln_pressures(self, temperature_K: Array) -> Array:
        """ln(P / Pa) (blends, components) at temperatures (blends,); -inf without a curve."""
        t = np.repeat(np.asarray(temperature_K, dtype=float), self.shape[1])
        return self.curves.ln_pressures(t).reshape(self.shape)


def _slopes(form: str, c: Sequence[Any], bounds: tuple[Any, Any]) -> tuple[Array, Array]:
    """d ln P / d(1/T) just inside both bounds, K."""

    def at(bound: Any, step: float) -> Array:
        rise = _ln_form(form, c, bound + step) - _ln_form(form, c, bound)
        return np.asarray(rise / (1.0 / (bound + step) - 1.0 / bound))

    return at(bounds[0], SLOPE_STEP_K), at(bounds[1], -SLOPE_STEP_K)


def _along_tangents(temperature_K: Array, inside: Array, slopes: tuple[Array, Array]) -> Array:
    """What the tangents at the ends add outside the range; zero inside."""
    slope = np.where(temperature_K > inside, slopes[1], slopes[0])
    return np.asarray(slope * (1.0 / temperature_K - 1.0 / inside))


def _ln_form(form: str, c: Sequence[Any], t: Array) -> Array:
    if form == "antoine_ln":
        return np.asarray(c[0] - c[1] / (t + c[2]))
    if form == "dippr101":
        return np.asarray(c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t ** c[4])
    if form in ("wagner25", "wagner36"):
        critical_K, critical_Pa = c[4], c[5]
        tau = np.maximum(1.0 - t / critical_K, 0.0)
        powers = (2.5, 5.0) if form == "wagner25" else (3.0, 6.0)
        terms = c[0] * tau + c[1] * tau**1.5 + c[2] * tau ** powers[0] + c[3] * tau ** powers[1]
        return np.asarray(np.log(critical_Pa) + terms * critical_K / t)
    if form == "grain":
        boiling_K, entropy_over_R = c
        reduced = t / boiling_K
        m = 0.19
        three = 3.0 - 2.0 * reduced
        bracket = (
            1.0
            - np.abs(three) ** m / reduced
            - 2.0 * m * np.abs(three) ** (m - 1.0) * np.log(reduced)
        )
        return np.asarray(math.log(ATMOSPHERE_Pa) + entropy_over_R * bracket)
    raise ValueError(f"unknown vapour-pressure form {form!r}")


def _from_curve(curve: Curve, ln_uncertainty: float) -> VapourPressure:
    return VapourPressure(
        form=curve.form,
        coefficients=curve.coefficients,
        minimum_K=curve.minimum_K,
        maximum_K=curve.maximum_K,
        kind="curve",
        ln_uncertainty=ln_uncertainty,
        sources=(curve.source,),
        method=f"{correlation_words(curve)}, {to_celsius(curve.minimum_K):.0f} to "
        f"{to_celsius(curve.maximum_K):.0f} °C",
    )


def _agrees(curve: VapourPressure, boiling_K: float | None, points: Sequence[Datum]) -> bool:
    if boiling_K is not None and curve.maximum_K > boiling_K - REACHABLE_K:
        near = curve.ln_pressure(np.array([boiling_K - 0.5, boiling_K + 0.5]))
        off_K = (0.5 * float(near.sum()) - math.log(ATMOSPHERE_Pa)) / float(near[1] - near[0])
        if not abs(off_K) <= BOILING_AGREEMENT_K:
            return False
    return all(
        abs(float(curve.ln_pressure(p.temperature_K or ROOM_K)) - math.log(p.value))
        <= POINT_AGREEMENT
        for p in points
        if abs((p.temperature_K or ROOM_K) - ROOM_K) <= NEAR_ROOM_K
    )


def _uncovered_K(curve: VapourPressure, boiling_K: float | None) -> float:
    top = boiling_K if boiling_K is not None else ROOM_K
    return max(0.0, curve.minimum_K - ROOM_K) + max(0.0, top - curve.maximum_K)


def _preference(source: str) -> int:
    return PREFERENCE.index(source) if source in PREFERENCE else len(PREFERENCE)


def _through_points(
    boiling_K: float | None, points: Sequence[Datum], sources: tuple[str, ...]
) -> VapourPressure | None:
    pairs = [(p.temperature_K or ROOM_K, math.log(p.value)) for p in points if p.value > 0.0]
    if boiling_K is not None:
        pairs.append((boiling_K, math.log(ATMOSPHERE_Pa)))
    temperatures = [t for t, _ in pairs]
    if len(pairs) < 2 or max(temperatures) - min(temperatures) < 20.0:
        return None
    c = 18.0 - 0.19 * (boiling_K if boiling_K is not None else max(temperatures) + 50.0)
    inverse = np.array([1.0 / (t + c) for t in temperatures])
    slope, intercept = np.polyfit(inverse, np.array([ln_p for _, ln_p in pairs]), 1)
    return VapourPressure(
        form="antoine_ln",
        coefficients=(float(intercept), float(-slope), c),
        minimum_K=min(temperatures),
        maximum_K=max(temperatures),
        kind="points",
        ln_uncertainty=LN_UNCERTAINTY["points"],
        sources=(*sources, "thomson"),
        method=f"Antoine curve through {values_words(points)}"
        + (" and the boiling point" if boiling_K is not None else ""),
        estimated=any(p.method == "estimated" for p in points),
    )


def vapour_pressure_from_boiling_point(
    boiling_K: float, alcohols_and_acids: int, phenols: int, sources: tuple[str, ...] = ()
) -> VapourPressure:
    """Rule 3: Grain (1982); entropy of vaporisation factor (8.75 + R ln Tb), cal/(mol K)."""
    factor = min(
        MOST_ENTROPY_FACTOR,
        ENTROPY_FACTOR
        + ENTROPY_PER_ALCOHOL_OR_ACID * alcohols_and_acids
        + ENTROPY_PER_PHENOL * phenols,
    )
    entropy = factor * (8.75 + CAL_GAS_CONSTANT * math.log(boiling_K)) / CAL_GAS_CONSTANT
    return VapourPressure(
        form="grain",
        coefficients=(boiling_K, entropy / 0.97),
        minimum_K=0.45 * boiling_K,
        maximum_K=1.15 * boiling_K,
        kind="boiling point",
        ln_uncertainty=LN_UNCERTAINTY["boiling point"],
        sources=(*sources, "grain"),
        method="estimated from the boiling point",
        estimated=True,
    )


def hydrogen_bonders(material: Material) -> tuple[int, int]:
    """(alcohol and acid groups, phenol groups) by the original UNIFAC groups."""
    groups = material.groups.get("original", {})
    return groups.get(14, 0) + groups.get(42, 0), groups.get(17, 0)


def vapour_pressure(material: Material) -> VapourPressure | None:
    """Choose the vapour pressure curve of a substance by the rule above.

    Parameters
    ----------
    material : Material

    Returns
    -------
    VapourPressure or None
        None where nothing is known.
    """
    chosen = _chosen(material)
    if chosen is None:
        return None
    widened = chosen.ln_uncertainty * material.trust_factor
    if chosen.kind == "boiling point":
        widened *= interval_factor("vapour pressure, from the boiling point", kind_of(material))
    return replace(chosen, ln_uncertainty=widened)


def _chosen(material: Material) -> VapourPressure | None:
    boiling = boiling_point(material)
    boiling_K = boiling.value
    points = material.accepted("vapour_pressure")
    curves = [
        _from_curve(c, LN_UNCERTAINTY["curve"]) for c in material.accepted_curves("vapour_pressure")
    ]
    fitting = [c for c in curves if _agrees(c, boiling_K, points)]
    if fitting:
        best = min(
            fitting, key=lambda c: (round(_uncovered_K(c, boiling_K)), _preference(c.sources[0]))
        )
        rivals = [float(c.ln_pressure(ROOM_K)) for c in fitting if _uncovered_K(c, boiling_K) < 40]
        spread = (max(rivals) - min(rivals)) / 2.0 if rivals else 0.0
        return replace(best, ln_uncertainty=max(LN_UNCERTAINTY["curve"], spread))
    from_points = _through_points(
        boiling_K, points, tuple(dict.fromkeys(p.source for p in points)) + boiling.sources
    )
    if from_points is not None:
        return from_points
    if boiling_K is not None:
        return vapour_pressure_from_boiling_point(
            boiling_K, *hydrogen_bonders(material), boiling.sources
        )
    return None
