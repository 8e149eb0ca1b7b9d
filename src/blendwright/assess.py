"""The one road from a formula to an assessment. Every interface walks it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.estimate import Estimate
from blendwright.formula import Formula
from blendwright.mixture.clarity import Clarity, clarity, cloud_temperature
from blendwright.mixture.composition import Composition
from blendwright.mixture.density import blend_density, volume
from blendwright.mixture.dissolution import Dissolution, crystallises, dissolution
from blendwright.mixture.evaporation import OpenBeaker, share_lost
from blendwright.mixture.flammable_limit import blend_lower_limit
from blendwright.mixture.flash_point import BlendFlash, blend_flash_point
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.vapour import Headspace, headspace, initial_boiling_point
from blendwright.pure.constants import PureConstants
from blendwright.pure.flash_point import ESTIMATES
from blendwright.verdict import MOST_NAMES, Finding, listed
from blendwright.verdict.cautions import CAUTIONS
from blendwright.verdict.evaporation import Loss, evaporation_findings
from blendwright.verdict.fire import fire_findings
from blendwright.verdict.flammability import Flammability, ghs_flammability
from blendwright.verdict.words import (
    DissolutionWord,
    LiquidWord,
    dissolution_findings,
    dissolution_word,
    liquid_findings,
    liquid_word,
    warm_to_K,
)
from blendwright.version import __version__
from blendwright.weighing import (
    HEAVY_BOILING_K,
    HEAVY_FLASH_K,
    DROP_mL,
    Weighing,
    weigh,
)

SCHEMA = "blendwright/assessment/1"
LOWEST_ASSESSED_K, HIGHEST_ASSESSED_K = 233.15, 423.15
LOWEST_ASSESSED_Pa, HIGHEST_ASSESSED_Pa = 10e3, 120e3
FRIDGE_K = 278.15
BASE_MARGIN_K = 10.0  # for a base of undisclosed composition (common practice, no source)
WEIGHTY_FLASH_SHARE = 0.1  # an estimated input with more of Liaw's sum than this is "of weight"


@dataclass(frozen=True)
class LeftOut:
    """A material that could not be counted in one of the answers, and why."""

    material: str
    left_from: str
    why: str


@dataclass(frozen=True)
class Contribution:
    """What one row adds to the vapour and to the flammability, per cent."""

    material: str
    vapour_pct: float
    flammability_pct: float


@dataclass(frozen=True)
class Assessment:
    """All that blendwright says of one formula. Frozen; `to_dict()` is the JSON object.

    Estimates are in SI (K, Pa, kg/m3, m3, mol/mol); `to_dict` turns them to °C, kPa, g/mL, mL
    and vol %.
    """

    weighing: Weighing
    temperature_K: float
    pressure_Pa: float
    estimates: dict[str, Estimate]
    dissolution: DissolutionWord
    liquid: LiquidWord
    flammability: Flammability
    row_volumes: tuple[Estimate, ...]
    contributions: tuple[Contribution, ...]
    left_out: tuple[LeftOut, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    version: str
    data_version: str

    @property
    def has_warning(self) -> bool:
        return any(finding.severity == "warning" for finding in self.findings)

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/assessment/1."""
        return {
            "schema": SCHEMA,
            "version": self.version,
            "data_version": self.data_version,
            "conditions": {
                "temperature_C": self.temperature_K - 273.15,
                "pressure_kPa": self.pressure_Pa / 1e3,
            },
            "formula": {
                "name": self.weighing.formula.name,
                "total_g": self.weighing.total_g,
                "rows": [
                    {
                        "material": row.written,
                        "name": row.label,
                        "cas": row.material.cas or None,
                        "grams": row.grams,
                        "volume_mL": volume.at_the_edge().value,
                    }
                    for row, volume in zip(self.weighing.rows, self.row_volumes, strict=True)
                ],
            },
            "estimates": {name: e.to_dict() for name, e in self.estimates.items()},
            "verdicts": {
                "dissolution": self.dissolution,
                "liquid": self.liquid,
                "flammability": {
                    "ghs": {
                        "category": self.flammability.category,
                        "standing": self.flammability.standing,
                    }
                },
            },
            "contributions": [
                {
                    "material": c.material,
                    "vapour_pct": c.vapour_pct,
                    "flammability_pct": c.flammability_pct,
                }
                for c in self.contributions
            ],
            "left_out": [
                {"material": out.material, "from": out.left_from, "why": out.why}
                for out in self.left_out
            ],
            "findings": [finding.to_dict() for finding in self.findings],
            "cautions": list(self.cautions),
        }


def assess(
    formula: Formula,
    temperature_K: float = ROOM_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    catalogue: Catalogue | None = None,
    drop_mL: float = DROP_mL,
) -> Assessment:
    """Assess a formula at a bench temperature (-40 to 150 °C) and ambient pressure (10-120 kPa).

    Raises FormulaError with every problem of the formula, ValueError outside those ranges.
    """
    if not LOWEST_ASSESSED_K <= temperature_K <= HIGHEST_ASSESSED_K:
        raise ValueError("the temperature must lie between -40 and 150 °C")
    if not LOWEST_ASSESSED_Pa <= pressure_Pa <= HIGHEST_ASSESSED_Pa:
        raise ValueError("the pressure must lie between 10 and 120 kPa")
    catalogue = catalogue or default_catalogue()
    weighing = weigh(formula, catalogue, drop_mL)
    left_out = _left_out(weighing.composition)
    blend = _Blend(weighing, temperature_K, pressure_Pa, left_out)
    return Assessment(
        weighing=weighing,
        temperature_K=temperature_K,
        pressure_Pa=pressure_Pa,
        estimates=blend.estimates(),
        dissolution=blend.dissolution_word,
        liquid=blend.liquid_word,
        flammability=blend.flammability,
        row_volumes=tuple(
            volume(row.grams / 1e3, row.density(temperature_K)) for row in weighing.rows
        ),
        contributions=blend.contributions(),
        left_out=left_out,
        findings=tuple(blend.findings()),
        cautions=CAUTIONS,
        version=__version__,
        data_version=catalogue.version(),
    )


def is_heavy(substance: PureConstants) -> bool:
    """Too heavy to lower a flash point: leaving it out only raises the share of the others."""
    flash, boiling = substance.flash.value, None
    if substance.vapour is not None:
        boiling = substance.vapour.boiling_K()
    return (
        flash is not None
        and boiling is not None
        and flash >= HEAVY_FLASH_K
        and boiling >= HEAVY_BOILING_K
    )


def _left_out(composition: Composition) -> tuple[LeftOut, ...]:
    """Who can't be counted where. Written rule:

    No groups: left out of every activity model. A heavy one (flash point at 93 °C or more and
    boiling at 200 °C or more) leaves the answers standing, with a note; any other makes vapour
    and flash point unknown. No vapour pressure: vapour and flash point unknown.
    """
    found = []
    for s in composition.substances:
        if not s.groups:
            why = "undisclosed composition" if s.material.is_undisclosed else "no UNIFAC groups"
            found.append(LeftOut(s.name, "activity", why))
        if s.vapour is None:
            found.append(LeftOut(s.name, "vapour", "no vapour pressure is known for it"))
        if s.flash.status == "unknown":
            found.append(
                LeftOut(s.name, "flash point", "no flash point is known or to be estimated")
            )
    return tuple(found)


class _Blend:
    """The answers about one blend, each computed once, in the order that they need each other."""

    def __init__(
        self,
        weighing: Weighing,
        temperature_K: float,
        pressure_Pa: float,
        left_out: tuple[LeftOut, ...],
    ) -> None:
        self.weighing = weighing
        self.temperature_K = temperature_K
        self.pressure_Pa = pressure_Pa
        self.left_out = left_out
        whole = weighing.composition
        self.blend = whole.only(lambda s: bool(s.groups))
        out = [s for s in whole.substances if not s.groups]
        self.notes = (
            (f"left out for want of groups: {listed([s.name for s in out])}",) if out else ()
        )
        self.blind = [s.name for s in out if not is_heavy(s)]
        self.blind += [s.name for s in self.blend.substances if s.vapour is None]
        self.density = blend_density(whole, temperature_K)
        self.dissolved: Dissolution = (
            dissolution(self.blend, temperature_K)
            if self.blend.substances
            else Dissolution(Estimate.unknown("K", "nothing in it has groups"), ())
        )
        hidden = [s.name for s in out if crystallises(s.fusion, temperature_K)]
        self.last_crystal = (
            Estimate.unknown("K", f"no groups of {listed(hidden)}, a solid by itself")
            if hidden
            else self.dissolved.last
        )
        self.dissolution_word = dissolution_word(self.last_crystal, temperature_K)
        self.clarity: Clarity | None = (
            clarity(self.blend, temperature_K) if self.blend.substances else None
        )
        self.chance = self.clarity.chance_of_split if self.clarity else None
        if out and self.chance is not None and self._mass_share(out) > 0.05:
            self.chance = None
        self.liquid_word = liquid_word(self.chance)
        self.may_split = self.liquid_word in ("may_cloud", "splits")
        self.cloud = (
            cloud_temperature(self.blend)
            if self.chance is not None
            else Estimate.unknown("K", "too much of it has no groups")
        )
        self.headspace: Headspace | None = (
            None if self.blind else headspace(self.blend, temperature_K, self.may_split)
        )
        self.boiling = self._boiling()
        self.flash = self._flash()
        self.flammability = ghs_flammability(
            self.flash.estimate, self.boiling, tuple(self._never_clear())
        )

    def _mass_share(self, substances: Iterable[PureConstants]) -> float:
        names = {s.name for s in substances}
        whole = self.weighing.composition
        return float(
            sum(
                w
                for s, w in zip(whole.substances, whole.mass_fractions, strict=True)
                if s.name in names
            )
        )

    def _boiling(self) -> Estimate:
        if self.blind:
            return Estimate.unknown("K", f"the vapour of {listed(self.blind)} can't be counted")
        found = initial_boiling_point(self.blend, self.pressure_Pa, self.may_split)
        return found.with_notes(*self.notes)

    def _flash(self) -> BlendFlash:
        nothing = np.zeros(len(self.blend.substances))
        if self.blind:
            return BlendFlash(self._bounded_flash(), nothing)
        found = blend_flash_point(self.blend, self.may_split, self.pressure_Pa)
        if self.notes and found.estimate.status == "not_applicable":
            reason = "what could burn in it is left out: " + "; ".join(self.notes)
            return BlendFlash(Estimate.unknown("K", reason), nothing)
        return BlendFlash(found.estimate.with_notes(*self.notes), found.shares)

    def _bounded_flash(self) -> Estimate:
        """Written rule for bases of undisclosed composition: no higher than the lowest of the
        base's own flash point and that of the rest, the low end BASE_MARGIN_K below. Unknown as
        soon as anything else can't be counted."""
        whole = self.weighing.composition.substances
        bases = [s for s in whole if s.material.is_undisclosed and s.flash.is_ok]
        if {s.name for s in bases} != set(self.blind):
            reason = f"the vapour of {listed(self.blind)} can't be counted"
            return Estimate.unknown("K", reason)
        parts = [s.flash for s in bases]
        if self.blend.substances:
            rest = blend_flash_point(self.blend, self.may_split, self.pressure_Pa).estimate
            if rest.status == "unknown":
                return rest
            parts += [rest] if rest.is_ok else []
        lowest = min(parts, key=lambda e: e.interval()[0])
        low = min(e.interval()[1] for e in parts) - BASE_MARGIN_K
        return Estimate.ok(
            lowest.interval()[0],
            low,
            lowest.interval()[2],
            "K",
            "bounded: the lowest flash point among the parts",
            [source for e in parts for source in e.sources],
            (f"undisclosed composition: {listed(self.blind)}",),
        )

    def _never_clear(self) -> list[str]:
        reasons = []
        oils = [r.material.name for r in self.weighing.rows if r.material.kind == "natural_oil"]
        if oils:
            reasons.append(f"natural oils vary in composition ({listed(oils)})")
        weighty = [
            s.name
            for s, share in zip(self.blend.substances, self.flash.shares, strict=True)
            if share > WEIGHTY_FLASH_SHARE
            and (
                s.flash.method in ESTIMATES
                or not s.material.curated
                or s.material.is_analogue
                or (s.vapour is not None and s.vapour.estimated)
            )
        ]
        if weighty:
            reasons.append(f"an input of weight is estimated ({listed(weighty)})")
        if self.may_split or self.liquid_word == "unknown":
            reasons.append("it may not be one homogeneous liquid")
        if self.notes:
            reasons.append("; ".join(self.notes))
        if self.blind:
            reasons.append(f"unknown composition: {listed(self.blind)}")
        return reasons

    def estimates(self) -> dict[str, Estimate]:
        if self.headspace is None:
            reason = (
                f"the vapour of {listed(self.blind)} can't be counted"
                if self.blind
                else "no parameter set covers every group pair in this blend"
            )
            vapour = Estimate.unknown("Pa", reason)
            limit = Estimate.unknown("mol/mol", reason)
        else:
            vapour = self.headspace.total.with_notes(*self.notes)
            limit = blend_lower_limit(self.blend, self.headspace.pressures_Pa, self.temperature_K)
        return {
            "density_g_mL": self.density,
            "volume_mL": volume(self.weighing.total_g / 1e3, self.density),
            "vapour_pressure_kPa": vapour,
            "initial_boiling_point_C": self.boiling,
            "flash_point_closed_cup_C": self.flash.estimate,
            "dissolution_temperature_C": self.last_crystal,
            "cloud_temperature_C": self.cloud,
            "lower_flammable_limit_vol_pct": limit,
        }

    def contributions(self) -> tuple[Contribution, ...]:
        vapour: Array = np.zeros(len(self.blend.substances))
        if self.headspace is not None and self.headspace.pressures_Pa.sum() > 0.0:
            vapour = self.headspace.pressures_Pa / self.headspace.pressures_Pa.sum()
        by_vapour = self.blend.row_shares(vapour) * 100.0
        by_flash = self.blend.row_shares(self.flash.shares) * 100.0
        return tuple(
            Contribution(row.label, float(v), float(f))
            for row, v, f in zip(self.weighing.rows, by_vapour, by_flash, strict=True)
        )

    def findings(self) -> list[Finding]:
        """All findings, the gravest first, otherwise in the order of the bench's questions."""
        solids = tuple(s.name for s in self.dissolved.solids)
        found = [
            *dissolution_findings(self.last_crystal, self.temperature_K, solids),
            *self._cold_findings(),
            *liquid_findings(self.liquid_word, self.chance, self.temperature_K),
            *self._fire_findings(),
            *self._evaporation_findings(),
            *self._input_findings(),
        ]
        order = {"warning": 0, "caution": 1, "info": 2}
        return sorted(found, key=lambda finding: order[finding.severity])

    def _cold_findings(self) -> list[Finding]:
        last = self.last_crystal
        if not last.is_ok or self.dissolution_word != "dissolves" or self.temperature_K <= FRIDGE_K:
            return []
        value, _, high = last.interval()
        if high <= FRIDGE_K:
            return []
        sure = value > FRIDGE_K
        back = [s.name for s in self.dissolved.solids if s.temperature.interval()[2] > FRIDGE_K]
        return [
            Finding(
                "CRYSTALS-WHEN-COLD",
                "caution" if sure else "info",
                f"In the fridge (5 °C) crystals {'are likely to' if sure else 'may'} come back: "
                f"{listed(back)}.",
                "Store it at bench temperature; warming clears it again.",
                tuple(back),
            )
        ]

    def _top_rows(self) -> tuple[str, ...]:
        ranked = sorted(self.contributions(), key=lambda c: -c.flammability_pct)
        return tuple(c.material for c in ranked if c.flammability_pct >= 10.0)[:3]

    def _fire_findings(self) -> list[Finding]:
        return fire_findings(
            self.flash.estimate,
            self.flammability,
            self.temperature_K,
            warm_to_K(self.last_crystal, self.temperature_K),
            self._top_rows() or tuple(self.blind),
        )

    def _evaporation_findings(self) -> list[Finding]:
        if self.headspace is None:
            return []
        lost = share_lost(self.blend, self.headspace.pressures_Pa, self.temperature_K, OpenBeaker())
        lost_g = self.blend.row_shares(lost * self.blend.mass_kg) * 1e3
        losses = [
            Loss(row.label, float(grams), float(grams) / row.grams)
            for row, grams in zip(self.weighing.rows, lost_g, strict=True)
            if not row.material.is_water
        ]
        return evaporation_findings(losses)

    def _input_findings(self) -> list[Finding]:
        found = []
        if self.left_out:
            names = tuple(dict.fromkeys(out.material for out in self.left_out))
            whole = self.weighing.composition
            share = self._mass_share(s for s in whole.substances if s.name in names)
            first, more = self.left_out[:MOST_NAMES], len(self.left_out) - MOST_NAMES
            found.append(
                Finding(
                    "LEFT-OUT",
                    "warning" if self.blind else "caution",
                    f"{share:.1%} of the mass can't be counted everywhere: "
                    + "; ".join(f"{o.material} from {o.left_from} ({o.why})" for o in first)
                    + (f"; and {more} more." if more > 0 else "."),
                    "Read the answers with that in mind; a measured value settles it.",
                    names,
                )
            )
        uncurated = tuple(
            dict.fromkeys(
                s.name for s in self.weighing.composition.substances if not s.material.curated
            )
        )
        if uncurated:
            found.append(
                Finding(
                    "NOT-CURATED",
                    "caution",
                    f"Not in the curated catalogue, taken unchecked from a library: "
                    f"{listed(uncurated)}.",
                    "Check the name, and the supplier's data sheet.",
                    uncurated,
                )
            )
        if self.weighing.summed:
            found.append(
                Finding(
                    "ROWS-SUMMED",
                    "info",
                    f"Rows of one material were added up: {listed(self.weighing.summed)}.",
                    "Check that the second row isn't a slip.",
                    self.weighing.summed,
                )
            )
        return found
