"""Rows of three and more substances: what sets t and u, given the terms of the pairs.

- tie: both ends of a tie line; the difference of ln(x gamma), by component.
- curve: a point where a second liquid begins; the tangent-plane distance to that liquid is 0. It is
  linear in the terms for a given incipient liquid, which is found with the terms so far.
- statement: what data sheets say of a material in propylene glycol; as a curve's point, but
  one-sided: only what the terms so far contradict is a row, of the first stage.
- limit: the alcohol in which a material is just clear; as a curve's point, at a strength somewhat
  below the published limit.

A published limit is one that good material passes, so the cloud lies below it: by BELOW_LIMIT_PCT %
alcohol, give or take LIMIT_SD_PCT (own reading of how such limits are made; no source). The pairs'
terms are not learned from these rows: their doubt counts as noise, common to the rows of one
system.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from blendwright.estimate import to_kelvin
from blendwright.mixture.excess.form import ExcessAt, ExcessTerms
from blendwright.mixture.excess.learned import DRAWS, Weights, excess_terms, fusion_factors
from blendwright.mixture.parameter_sets import Array
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.split import CONCENTRATE, in_alcohol
from fitting.excess.rows import FitRow, _row, equal_activities, in_range, table, thinned
from fitting.excess.systems import System, of_names, substance, system

TIE_NOISE, CURVE_LN_ALCOHOL, DISTANCE_NOISE = 0.25, 0.06, 0.02
MOST_TIES, MOST_CURVE, MOST_CURVE_OTHER = 24, 14, 8
BELOW_LIMIT_PCT, LIMIT_SD_PCT = 5.0, 3.0
STATED_DISTANCE, STATED_SD = 0.03, 0.03  # of RT (own reading of such words; no source)
SAME_LIQUID = 0.03  # mole fractions nearer than this are one liquid
STEPS = 80
FEW, TELLING_SHARE = 8, 0.002  # of a longer list, only what there is some of starts a search
SPIRITS = ("ethanol", "isopropanol")


@dataclass(frozen=True, eq=False)
class Learned:
    """Weights and standard deviations so far; `without` leaves t and u at zero."""

    weights: Weights
    prior: dict[str, float]
    without_three: bool = False

    def terms(self, many: System) -> ExcessTerms:
        key = (id(self), many.names)
        if key not in _TERMS:
            found = excess_terms(many.materials, self.weights, self.prior)
            if self.without_three:
                zero = np.zeros_like(found.t0)
                found = replace(found, t0=zero, t1=zero, u0=zero, u1=zero)
            _TERMS[key] = found
        return _TERMS[key]


_TERMS: dict[tuple[int, tuple[str, ...]], ExcessTerms] = {}


# Tangent-plane distance


def incipient(
    many: System, terms: ExcessAt, x: Array, kelvin: float
) -> tuple[Array, NDArray[np.float64]]:
    """Least tangent-plane distance (blends,) to another liquid and that liquid (blends, n), by
    successive substitution from many starts; infinite where none differs from the blend."""
    x = np.maximum(np.atleast_2d(x), 1e-12)
    x = x / x.sum(axis=1, keepdims=True)
    count, n = x.shape

    def ln_gamma(rows: Array) -> Array:
        return many.ln_gamma(rows, kelvin) + terms.ln_gamma(rows)

    plane = np.log(x) + ln_gamma(x)
    eye = np.eye(n)
    most = [k for k in range(n) if n <= FEW or x[:, k].max() > TELLING_SHARE]
    starts = [0.02 * x + 0.98 * eye[k] for k in most] + [0.5 * x + 0.5 * eye[k] for k in most]
    starts += [
        x * np.where(terms.water > 0.0, 0.02, 1.0),
        x * np.where(terms.water > 0.0, 4.0, 1.0),
    ]
    starts += [x * np.where(terms.oil > 0.0, 1.0, 0.05)]
    w = np.stack([s / s.sum(axis=1, keepdims=True) for s in starts], axis=1).reshape(-1, n)
    planes = np.repeat(plane, len(starts), axis=0)
    for step in range(STEPS):
        new = np.exp(np.clip(planes - ln_gamma(w), -60.0, 20.0))
        new /= new.sum(axis=1, keepdims=True)
        if step > 4 and step % 3 == 0:  # over-relaxed
            new = new**1.5 / np.maximum(w, 1e-300) ** 0.5
            new /= new.sum(axis=1, keepdims=True)
        change, w = np.abs(new - w).max(), new
        if change < 1e-8:
            break
    distance = (w * (np.log(np.maximum(w, 1e-300)) + ln_gamma(w) - planes)).sum(axis=1)
    same = np.abs(w - np.repeat(x, len(starts), axis=0)).max(axis=1) < SAME_LIQUID
    distance = np.where(same, np.inf, distance).reshape(count, -1)
    best = distance.argmin(axis=1)
    at = np.arange(count)
    return distance[at, best], w.reshape(count, len(starts), n)[at, best]


def distance_row(
    kind: str, many: System, terms: ExcessAt, x: Array, w: Array, kelvin: float, beside: Array,
    sd_steps: float, about: str,
) -> FitRow:  # fmt: skip
    """The tangent-plane distance from x to w is 0. Noise: how much it changes from x to `beside`,
    times `sd_steps`, and DISTANCE_NOISE."""

    def distance(at: Array, extra: bool) -> float:
        both = np.array([w, at])
        ln_a = np.log(np.maximum(both, 1e-12)) + many.ln_gamma(both, kelvin)
        if extra:
            ln_a = ln_a + terms.ln_gamma(both)
        return float(w @ (ln_a[0] - ln_a[1]))

    jacobian = many.jacobian(np.array([w, x]))
    weights = (jacobian[:, 0] - jacobian[:, 1]) @ w
    slope = abs(distance(beside, True) - distance(x, True))
    noise = math.hypot(slope * sd_steps, DISTANCE_NOISE)
    details = {"about": about, "x": x, "w": w}
    return _row(kind, many, kelvin, -distance(x, False), weights, noise=noise, details=details)


# Saturation curves and tie lines


@dataclass(frozen=True, eq=False)
class SaturationPoint:
    """A point of a saturation curve or one end of a tie line: mole fractions of alcohol,
    hydrocarbon, water."""

    many: System
    kelvin: float
    x: Array
    source: str
    mass: Array


def _saturation(
    names: tuple[str, str], masses: Sequence[str], celsius: str, source: str
) -> SaturationPoint | None:
    many = of_names((_tidy(names[0]), _tidy(names[1]), "water"))
    if many is None or not celsius or "" in masses:
        return None
    mass = np.maximum(np.array([float(m) for m in masses]), 0.0)
    moles = mass / np.array([m.molar_mass_kg_mol for m in many.materials])
    kelvin = to_kelvin(float(celsius))
    if not in_range(kelvin) or not moles.sum() or abs(mass.sum() - 1.0) > 0.02:
        return None
    return SaturationPoint(many, kelvin, moles / moles.sum(), source, mass)


@cache
def _tidy(name: str) -> str:
    """ "Naphthalene, 1,2,3,4-tetrahydro-, (tetralin)" is known as tetralin, or by what precedes."""
    plain = name.split(" (")[0]
    inside = name.split("(")[-1].rstrip(")") if "(" in name else name
    return next((n for n in (name, plain, inside) if substance(n) is not None), name)


def tie_rows() -> list[FitRow]:
    found: dict[tuple[str, ...], list[tuple[SaturationPoint, SaturationPoint]]] = {}
    for (a, b, t, s), group in groupby(
        table("liquid_liquid_alcohol_hydrocarbon_water.csv"),
        key=lambda r: (r["alcohol"], r["hydrocarbon"], r["temperature_C"], r["source"]),
    ):
        ends = [
            _saturation(
                (a, b),
                [r[f"mass_fraction_{p}"] for p in ("alcohol", "hydrocarbon", "water")], t, s,
            )
            for r in group if r["kind"] == "tie line end"
        ]  # fmt: skip
        for pair in _paired([e for e in ends if e is not None]):
            found.setdefault(pair[0].many.names, []).append(pair)
    by_line: dict[str, list[SaturationPoint]] = {}
    for r in table("liquid_liquid_alcohol_hydrocarbon_water_more.csv"):
        if not r["tie_line"]:
            continue
        masses = [r[f"w_{p}"] for p in ("alcohol", "hydrocarbon", "water")]
        end = _saturation((r["alcohol"], r["hydrocarbon"]), masses, r["temperature_C"], r["source"])
        if end is not None:
            by_line.setdefault(r["tie_line"], []).append(end)
    for line in by_line.values():
        if len(line) == 2:
            found.setdefault(line[0].many.names, []).append((line[0], line[1]))
    made = []
    for pairs in found.values():
        rows = [row for pair in pairs for row in _tie(*pair)]
        made += thinned(rows, MOST_TIES)
    return made


def _paired(ends: list[SaturationPoint]) -> Iterator[tuple[SaturationPoint, SaturationPoint]]:
    """The tables list all ends of the organic layer first, then those of the aqueous one in the
    same order; whatever does not look so is left out."""
    half = len(ends) // 2
    organic, aqueous = ends[:half], ends[half:]
    if len(organic) != len(aqueous) or not half:
        return
    if max(e.mass[2] for e in organic) >= min(e.mass[2] for e in aqueous):
        return
    yield from zip(organic, aqueous, strict=True)


def _tie(one: SaturationPoint, other: SaturationPoint) -> Iterator[FitRow]:
    x = np.array([one.x, other.x])
    if np.abs(x[0] - x[1]).max() > 0.05:
        yield from equal_activities("tie", one.many, one.kelvin, x, least=5e-4, noise=TIE_NOISE)


@cache
def curve_points() -> tuple[SaturationPoint, ...]:
    """Points of saturation curves with some of each, thinned by system."""
    found: dict[tuple[str, ...], list[SaturationPoint]] = {}
    for r in table("liquid_liquid_alcohol_hydrocarbon_water.csv"):
        masses = [r[f"mass_fraction_{p}"] for p in ("alcohol", "hydrocarbon", "water")]
        point = _saturation(
            (r["alcohol"], r["hydrocarbon"]), masses, r["temperature_C"], r["source"]
        )
        if point is not None:
            found.setdefault(point.many.names, []).append(point)
    for r in table("liquid_liquid_alcohol_hydrocarbon_water_more.csv"):
        if r["kind"] != "saturation curve":
            continue
        masses = [r[f"w_{p}"] for p in ("alcohol", "hydrocarbon", "water")]
        point = _saturation(
            (r["alcohol"], r["hydrocarbon"]), masses, r["temperature_C"], r["source"]
        )
        if point is not None and point.many.names[0] in ("methanol", "1-propanol", *SPIRITS):
            found.setdefault(point.many.names, []).append(point)
    made = []
    for names, points in found.items():
        inside = [p for p in points if p.mass[0] > 0.03 and p.mass[2] > 0.003 and p.mass[1] > 5e-4]
        inside.sort(key=lambda p: (p.kelvin, p.mass[0]))
        most = MOST_CURVE if names[0] in SPIRITS else MOST_CURVE_OTHER
        made += thinned(inside, most)
    return tuple(made)


def curve_rows(learned: Learned) -> list[FitRow]:
    """Linear about the incipient liquids that the terms so far give."""
    made = []
    for (_, kelvin), group in groupby(
        curve_points(), key=lambda p: (p.many.names, round(p.kelvin, 1))
    ):
        points = list(group)
        many = points[0].many
        terms = learned.terms(many).at(kelvin).one(0)
        for point, w in _with_incipient(many, terms, kelvin, points):
            beside = point.x * np.where(np.arange(3) == 0, 1.05, 1.0)
            made.append(
                distance_row(
                    "curve", many, terms, point.x, w, kelvin, beside / beside.sum(),
                    CURVE_LN_ALCOHOL / 0.05, " + ".join(many.names),
                )
            )  # fmt: skip
    return made


def _with_incipient(
    many: System, terms: ExcessAt, kelvin: float, points: list[SaturationPoint]
) -> Iterator[tuple[SaturationPoint, Array]]:
    """Each point with a second liquid: of the point itself or, where that has none, of the point
    with less alcohol."""
    left = list(points)
    for share in (1.0, 0.85, 0.7, 0.5):
        if not left:
            return
        x = np.array([p.x * np.where(np.arange(3) == 0, share, 1.0) for p in left])
        distance, w = incipient(many, terms, x / x.sum(axis=1, keepdims=True), kelvin)
        rest = []
        for point, d, liquid in zip(left, distance, w, strict=True):
            if np.isfinite(d) and np.abs(liquid - point.x).max() > 0.05:
                yield point, liquid
            else:
                rest.append(point)
        left = rest


# Clear limits in alcohol


@dataclass(frozen=True)
class ClearLimit:
    """1 mL of a material is clear in so many mL of alcohol of this strength."""

    material: str
    volumes: float
    strength_pct: float
    kelvin: float
    is_oil: bool

    def blend(self, strength_pct: float) -> tuple[System, Array] | None:
        """Substances and mole fractions at a strength."""
        mixed = in_alcohol(self.material, self.volumes, strength_pct)
        materials = tuple(s.material for s in mixed.substances)
        found = system(materials)
        return None if found is None else (found, np.array(mixed.mole_fractions))


@cache
def limits() -> tuple[ClearLimit, ...]:
    return tuple(
        ClearLimit(
            r["material"], float(r["millilitres_of_alcohol_per_mL"]), float(r["alcohol_pct_vol"]),
            to_kelvin(float(r["temperature_C"])), name == "clear_in_alcohol_oils.csv",
        )
        for name in ("clear_in_alcohol.csv", "clear_in_alcohol_oils.csv")
        for r in table(name)
    )  # fmt: skip


def limit_rows(learned: Learned) -> list[FitRow]:
    made = []
    for limit in limits():
        at = limit.strength_pct - BELOW_LIMIT_PCT
        here, beside = limit.blend(at), limit.blend(at + LIMIT_SD_PCT)
        if here is None or beside is None:
            print(f"no groups for all of {limit.material}")
            continue
        many, x = here
        terms = learned.terms(many).at(limit.kelvin).one(0)
        for weaker in (0.0, 6.0, 12.0, 20.0):
            trial = limit.blend(at - weaker)
            if trial is None:
                continue
            distance, w = incipient(many, terms, trial[1], limit.kelvin)
            if np.isfinite(distance[0]) and np.abs(w[0] - x).max() > 0.05:
                made.append(
                    distance_row(
                        "limit", many, terms, x, w[0], limit.kelvin, beside[1], 1.0, limit.material
                    )
                )
                break
    return made


# Words about propylene glycol


@dataclass(frozen=True)
class Statement:
    """Grams of a blend with propylene glycol, said to be one liquid or two."""

    about: str
    grams: tuple[tuple[str, float], ...]
    two_liquids: bool
    kelvin: float


@cache
def statements() -> tuple[Statement, ...]:
    """Data sheets ("soluble" is at least 1 part in 30; "miscible" all shares; "practically
    insoluble" none), and that the usual ester-rich concentrate is clear (common practice)."""
    shares = {
        "soluble": ((1 / 31, False),),
        "miscible": ((1 / 31, False), (0.2, False), (0.5, False)),
        "practically insoluble": ((0.2, True), (0.5, True)),
    }
    sheets = [
        Statement(
            r["material"], ((r["material"], share), ("propylene glycol", 1.0 - share)), two,
            to_kelvin(float(r["temperature_C"])),
        )
        for r in table("propylene_glycol_miscibility.csv")
        for share, two in shares[r["statement"]]
    ]  # fmt: skip
    return (*sheets, Statement("concentrate", CONCENTRATE, False, 295.15))


def statement_rows(learned: Learned) -> list[FitRow]:
    """The statements that the terms so far contradict, or nearly: the tangent-plane distance to the
    incipient liquid is STATED_DISTANCE on the right side of 0, give or take STATED_SD."""
    made = []
    for said in statements():
        many = of_names([name for name, _ in said.grams])
        if many is None:
            continue
        moles = np.array([g for _, g in said.grams])
        moles /= np.array([m.molar_mass_kg_mol for m in many.materials])
        x = moles / moles.sum()
        terms = learned.terms(many).at(said.kelvin).one(0)
        distance, w = incipient(many, terms, x, said.kelvin)
        wanted = -STATED_DISTANCE if said.two_liquids else STATED_DISTANCE
        agrees = distance[0] < wanted if said.two_liquids else distance[0] > wanted
        if agrees or not np.isfinite(distance[0]):
            continue
        row = distance_row("statement", many, terms, x, w[0], said.kelvin, x, 0.0, said.about)
        made.append(replace(row, residual=row.residual + wanted, noise=STATED_SD))
    return made


# What the pairs' terms say of these rows


def of_pairs(rows: Iterable[FitRow], pairs: Learned) -> Array:
    """(1 + DRAWS, rows): each row's sum over the coefficients of pairs and the crystal's factor."""
    made = []
    for row in rows:
        many = of_names(row.names)
        assert many is not None
        terms = pairs.terms(many).at(row.temperature_K)
        place = {name: k for k, name in enumerate(many.names)}
        total = np.zeros(1 + DRAWS)
        for (quantity, first, second), weight in zip(row.slots, row.weights, strict=True):
            if quantity in "cda":
                total += weight * getattr(terms, quantity)[:, place[first], place[second]]
        if row.fusion is not None:
            solid = many.materials[0]
            factor = fusion_factors(
                [solid], [pure_constants(solid).fusion], pairs.weights, pairs.prior
            )
            total += row.fusion[1] * (factor[:, 0] - 1.0)
        made.append(total)
    return np.array(made).T
