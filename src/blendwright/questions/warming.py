"""How far may this blend be warmed, what does the warming cost, and in what order?

The dissolution temperature against the flash point's low end less the margin of practice; what
each row loses in a covered and in an open beaker held at that temperature; where the headspace
stands against its flammable limits; what remains flashes at; and whether the crystals could go
into the carrier alone.

Isothermal: the time to heat up and to cool down is not counted. Stirring is taken as enough to
keep the liquid even and enters nothing else. The interval of a loss takes the mass-transfer
coefficient alone (a factor 2), not the vapour pressures or the activity model. The crystals are
taken as dissolved already.

The person's own observations count as in `assess`: flash point, last crystals, layers, density and
boiling point are the numbers that `assess` tells. Beyond it (`ObservedBlend` has the rules)

- the flash point of another liquid (over the crystals, after a loss, in a part-filled vessel) moves
  by as many K as the blend's own, its low end upwards only as far as the two liquids are alike;
- where the flash point was measured lower than the model's by s K, the vapour is calculated as if
  it were s K warmer, since a headspace reaches its lower limit about there; one measured higher
  leaves the vapour to the model. Limits and losses are always the model's;
- where one was measured and the model has none, what stands on the model's vapour is unknown;
- only a measurement of the same blend lets it be warmed further than the model alone allows: by no
  more K than it raises the flash point, and never above its own low end less the margin. The
  finding WARM-MEASURED says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import NotConvergedError
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa, check_conditions
from blendwright.mixture.density import blend_density, volume
from blendwright.mixture.evaporation import (
    METHOD,
    SOURCES,
    CoveredBeaker,
    Exposure,
    OpenBeaker,
    OpenBottle,
    Vapours,
    Vessel,
    evaporate,
    losses,
    time_to_lose,
)
from blendwright.mixture.flammable_limit import (
    blend_lower_limit,
    blend_upper_limit,
    headspace_over_limit,
    lower_limit_temperature,
)
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.part_filled import liquid_in_closed_vessel
from blendwright.mixture.vapour import headspace
from blendwright.mixture.weighing import DROP_mL, Weighing, weigh
from blendwright.observations import Observation
from blendwright.observations.compared import Compared
from blendwright.observations.findings import observation_findings
from blendwright.observations.observed_blend import (
    UNLIKE_THE_MODEL,
    ObservedBlend,
    with_observations,
)
from blendwright.questions.volumes.weighing_order import make_up_row, weighing_steps
from blendwright.verdict import Finding, gravest_first, listed
from blendwright.verdict.blend import Blend
from blendwright.verdict.cautions import CAUTIONS
from blendwright.verdict.warming import (
    Bath,
    BeakerLoss,
    WarmingWindow,
    asked_findings,
    bath_findings,
    measured_findings,
    order_findings,
    vessel_findings,
    window_findings,
)
from blendwright.version import __version__

SCHEMA = "blendwright/warming/1"
BEAKER_m = OpenBeaker().diameter_m
TOP_NOTE_SHARE = 0.1
A_DAY_s = 86400.0
PART_FILL = 0.1
MOST_MINUTES = 7.0 * 24.0 * 60.0
MOST_DIAMETER_m, MOST_FREEBOARD_m = 2.0, 1.0


@dataclass(frozen=True)
class WarmBath:
    """How the person warms: to what, how long, in what.

    Attributes
    ----------
    to_K : float or None
        None: what the crystals need.
    minutes : float
    diameter_m : float or None
        None: 6 cm, or wider where the liquid would stand deeper than wide.
    freeboard_m : float or None
        How far the liquid lies below the rim. None: the open beaker full to the brim, the most it
        can lose, and the usual 5 cm below the lid.

    Raises
    ------
    ValueError
        Outside the ranges.
    """

    to_K: float | None = None
    minutes: float = 20.0
    diameter_m: float | None = None
    freeboard_m: float | None = None

    def __post_init__(self) -> None:
        if self.to_K is not None:
            check_conditions(self.to_K, name="to_K")
        if not 0.0 < self.minutes <= MOST_MINUTES:
            raise ValueError("the time must lie between 0 and 10080 minutes (7 days)")
        if self.diameter_m is not None and not 0.0 < self.diameter_m <= MOST_DIAMETER_m:
            raise ValueError("the diameter must lie between 0 and 200 cm")
        if self.freeboard_m is not None and not 0.0 < self.freeboard_m <= MOST_FREEBOARD_m:
            raise ValueError("the freeboard must lie between 0 and 100 cm")


@dataclass(frozen=True)
class _Lidded:
    """A covered beaker that never loses faster than the same beaker open: a lid adds nothing."""

    covered: CoveredBeaker
    opened: OpenBeaker

    def conductance_m3_s(self, vapours: Vapours, time_s: Array) -> Array:
        return np.asarray(
            np.minimum(
                self.covered.conductance_m3_s(vapours, time_s),
                self.opened.conductance_m3_s(vapours, time_s),
            )
        )


@dataclass(frozen=True)
class RowLoss:
    """What one row loses: kg and the share of the row."""

    material: str
    mass_kg: float
    lost: Estimate
    share: Estimate

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.material,
            "grams": self.mass_kg * 1e3,
            "lost_g": self.lost.to_dict(),
            "lost_pct": self.share.to_dict(),
        }


@dataclass(frozen=True)
class InBeaker:
    """One beaker held at the temperature: losses by row, the top-note's time, what remains."""

    cover: str
    rows: tuple[RowLoss, ...]
    ten_per_cent: Estimate
    flash_after: Estimate
    boils: bool

    def to_dict(self) -> dict[str, object]:
        return {
            "cover": self.cover,
            "rows": [row.to_dict() for row in self.rows],
            "top_note_10_pct_lost_after_min": self.ten_per_cent.to_dict(),
            "flash_point_after_C": self.flash_after.to_dict(),
            "losses_are_lower_bounds": self.boils,
        }


@dataclass(frozen=True)
class VapourSpace:
    """A closed headspace at equilibrium, at one temperature."""

    temperature_K: float
    ratio: Estimate
    lower_limit: Estimate
    upper_limit: Estimate

    def to_dict(self) -> dict[str, object]:
        return {
            "temperature_C": to_celsius(self.temperature_K),
            "headspace_over_lower_limit": self.ratio.to_dict(),
            "lower_flammable_limit_vol_pct": self.lower_limit.to_dict(),
            "upper_flammable_limit_vol_pct": self.upper_limit.to_dict(),
        }


@dataclass(frozen=True)
class CarrierFirst:
    """What stands in the beaker before the light rows, by the order of work, and its window."""

    kept: tuple[str, ...]
    light: tuple[str, ...]
    window: WarmingWindow

    def to_dict(self) -> dict[str, object]:
        return {"rows": list(self.kept), "without": list(self.light), **self.window.to_dict()}


@dataclass(frozen=True)
class Warming:
    """All that blendwright says of warming one formula. Frozen; `to_dict()` is the JSON object.

    `at_K` is what the losses are calculated at: the temperature asked for, else the one to warm to,
    else the bench.
    """

    weighing: Weighing
    bench_K: float
    pressure_Pa: float
    bath: WarmBath
    window: WarmingWindow
    at_K: float
    diameter_m: float
    volume: Estimate
    beakers: tuple[InBeaker, ...]
    top_note: str | None
    bottle_flash_after: Estimate
    part_filled_flash: Estimate
    at_bench: VapourSpace
    when_warm: VapourSpace
    reaches_lower_limit: Estimate
    carrier_first: CarrierFirst | None
    notes: tuple[str, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    version: str
    data_version: str
    observations: tuple[Compared, ...] = ()

    @property
    def has_warning(self) -> bool:
        return any(finding.severity == "warning" for finding in self.findings)

    @property
    def keeps_margin(self) -> bool | None:
        """Whether `at_K` keeps the margin; None where it can't be told."""
        return self.window.keeps_margin(self.at_K)

    def shift_K(self, flash: Estimate) -> float | None:
        """By how much a flash point differs from the blend's own."""
        if flash.value is None or self.window.flash.value is None:
            return None
        return flash.value - self.window.flash.value

    @property
    def depth_m(self) -> float | None:
        """How deep the liquid stands in the beaker."""
        if self.volume.value is None:
            return None
        return self.volume.value / (math.pi / 4.0 * self.diameter_m**2)

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/warming/1.

        `observations` is there only where some were counted or shown.
        """
        seen = [compared.to_dict() for compared in self.observations]
        depth = self.depth_m
        freeboard = self.bath.freeboard_m
        return {
            "schema": SCHEMA,
            "version": self.version,
            "data_version": self.data_version,
            "formula": {"name": self.weighing.formula.name, "total_g": self.weighing.total_g},
            "conditions": {
                "bench_C": to_celsius(self.bench_K),
                "pressure_kPa": self.pressure_Pa / 1e3,
                "asked_C": None if self.bath.to_K is None else to_celsius(self.bath.to_K),
                "at_C": to_celsius(self.at_K),
                "minutes": self.bath.minutes,
                "diameter_cm": self.diameter_m * 1e2,
                "freeboard_cm": None if freeboard is None else freeboard * 1e2,
                "volume_mL": self.volume.to_dict(),
                "depth_cm": None if depth is None else depth * 1e2,
            },
            **self.window.to_dict(),
            "keeps_margin": self.keeps_margin,
            "top_note": self.top_note,
            "beakers": [
                {**beaker.to_dict(), "flash_point_shift_C": self.shift_K(beaker.flash_after)}
                for beaker in self.beakers
            ],
            "bottle_open_a_day": {
                "flash_point_after_C": self.bottle_flash_after.to_dict(),
                "flash_point_shift_C": self.shift_K(self.bottle_flash_after),
            },
            "closed_vessel_a_tenth_full": {
                "flash_point_C": self.part_filled_flash.to_dict(),
                "flash_point_shift_C": self.shift_K(self.part_filled_flash),
            },
            "headspace": [self.at_bench.to_dict(), self.when_warm.to_dict()],
            "headspace_reaches_lower_limit_C": self.reaches_lower_limit.to_dict(),
            "carrier_first": None if self.carrier_first is None else self.carrier_first.to_dict(),
            "notes": list(self.notes),
            "findings": [finding.to_dict() for finding in self.findings],
            "cautions": list(self.cautions),
            **({"observations": seen} if seen else {}),
        }


def warm(
    formula: Formula,
    bath: WarmBath | None = None,
    bench_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    catalogue: Catalogue | None = None,
    drop_mL: float = DROP_mL,
    observations: Iterable[Observation] = (),
) -> Warming:
    """Warm a formula from a bench temperature: what it needs, loses and may do.

    Parameters
    ----------
    formula : Formula
    bath : WarmBath, optional
        To what, how long and in what it is warmed; unless given, to what the crystals need.
    bench_K : float
        Where it starts, -40 to 150 °C.
    pressure_Pa : float
        The air's, 10 to 120 kPa.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    drop_mL : float
        What a row in drops is taken for, mL a drop.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.
        They count as in `assess`; what they do to a flash point after a loss and to the vapour
        stands at the head of this module.

    Returns
    -------
    Warming

    Raises
    ------
    FormulaError
        With every problem of the formula.
    ValueError
        For conditions outside those ranges, or a warming temperature below the bench's.
    """
    bath = bath or WarmBath()
    check_conditions(bench_K, pressure_Pa, "bench_K")
    if bath.to_K is not None and bath.to_K < bench_K:
        raise ValueError("the warming temperature must not lie below the bench's")
    catalogue = catalogue or default_catalogue()
    seen = tuple(observations)
    weighing = weigh(formula, catalogue, drop_mL)
    blend, compared = with_observations(Blend(weighing, bench_K, pressure_Pa), seen, catalogue)
    found = blend.window
    at_K = bath.to_K if bath.to_K is not None else found.target_K or bench_K
    hot = blend
    if at_K != bench_K:
        hot, _ = with_observations(Blend(weighing, at_K, pressure_Pa), seen, catalogue)
    diameter = bath.diameter_m or _sensible_diameter_m(hot.volume)
    beakers, top_note = _beakers(hot, bath, diameter, blend)
    made = Warming(
        weighing=weighing,
        bench_K=bench_K,
        pressure_Pa=pressure_Pa,
        bath=bath,
        window=found,
        at_K=at_K,
        diameter_m=diameter,
        volume=hot.volume,
        beakers=beakers,
        top_note=top_note,
        bottle_flash_after=_bottle_flash(blend),
        part_filled_flash=_part_filled_flash(blend),
        at_bench=_vapour_space(blend),
        when_warm=_vapour_space(hot),
        reaches_lower_limit=_reaches_lower_limit(blend),
        carrier_first=_carrier_first(blend, seen, catalogue),
        notes=_notes(blend),
        findings=(),
        cautions=CAUTIONS,
        version=__version__,
        data_version=catalogue.version(),
        observations=compared,
    )
    return replace(made, findings=_findings(made, blend, hot))


def _sensible_diameter_m(room: Estimate) -> float:
    """6 cm, or as wide as the liquid stands deep, for a large batch (common practice, no source)"""
    if room.value is None:
        return BEAKER_m
    return max(BEAKER_m, math.cbrt(4.0 * room.value / math.pi))


def _why_no_vapour(blend: Blend) -> str:
    if blend.without_vapour_data:
        return f"the vapour of {listed(blend.without_vapour_data)} can't be counted"
    return "; ".join(blend.vapour_pressure.notes)


def _vessels(bath: WarmBath, diameter_m: float) -> tuple[tuple[str, Vessel], ...]:
    opened = OpenBeaker(diameter_m, freeboard_m=bath.freeboard_m or 0.0)
    covered = CoveredBeaker(diameter_m)
    if bath.freeboard_m is not None:
        covered = replace(covered, headspace_depth_m=bath.freeboard_m)
    return ("covered", _Lidded(covered, opened)), ("open", opened)


def _beakers(
    hot: Blend, bath: WarmBath, diameter_m: float, bench: Blend
) -> tuple[tuple[InBeaker, ...], str | None]:
    """Covered and open, and the top-note: the substance that an open beaker takes most of.

    `bench` is the blend as it stands there: what is left flashes as a liquid that it becomes.
    """
    if hot.headspace is None:
        return _unknown_beakers(hot, _why_no_vapour(hot)), None
    try:
        return _lossy_beakers(hot, bath, diameter_m, bench)
    except NotConvergedError as error:
        return _unknown_beakers(hot, str(error)), None


def _unknown_beakers(hot: Blend, reason: str) -> tuple[InBeaker, ...]:
    rows = tuple(
        RowLoss(
            row.label,
            row.grams / 1e3,
            Estimate.unknown("kg", reason),
            Estimate.unknown("1", reason),
        )
        for row in hot.weighing.rows
    )
    unknown = Estimate.unknown("s", reason), Estimate.unknown("K", reason)
    return tuple(InBeaker(c, rows, *unknown, False) for c in ("covered", "open"))


def _lossy_beakers(
    hot: Blend, bath: WarmBath, diameter_m: float, bench: Blend
) -> tuple[tuple[InBeaker, ...], str | None]:
    """Raises NotConvergedError."""
    made, top_note = [], _top_note(hot, bath, diameter_m)
    for cover, vessel in _vessels(bath, diameter_m):
        exposure = Exposure(vessel, hot.temperature_K, hot.pressure_Pa)
        time_s = bath.minutes * 60.0
        gone = evaporate(hot.modelled_components, exposure, time_s, points=1)
        after = bench.flash_of(gone.remaining)
        made.append(
            InBeaker(
                cover,
                _row_losses(hot, losses(hot.modelled_components, exposure, time_s)),
                Estimate.absent("s", "not_applicable", "nothing in it evaporates")
                if top_note is None
                else time_to_lose(hot.modelled_components, exposure, top_note, TOP_NOTE_SHARE),
                after.with_notes(*hot.notes),
                gone.boils,
            )
        )
    return tuple(made), top_note


def _top_note(hot: Blend, bath: WarmBath, diameter_m: float) -> str | None:
    """The substance that loses most in the row that loses the largest share of itself open."""
    opened = _vessels(bath, diameter_m)[1][1]
    exposure = Exposure(opened, hot.temperature_K, hot.pressure_Pa)
    lost = evaporate(hot.modelled_components, exposure, bath.minutes * 60.0, points=1).share_lost
    worst, name = 0.0, None
    for number, row in enumerate(hot.weighing.rows):
        if row.material.is_water:
            continue
        by_substance = hot.modelled_components.by_row[number] * lost
        share = float(by_substance.sum()) * 1e3 / row.grams
        if share > worst:
            worst, name = share, hot.modelled_components.names[int(np.argmax(by_substance))]
    return name


def _row_losses(hot: Blend, shares: tuple[Estimate, ...]) -> tuple[RowLoss, ...]:
    """Substances' losses gathered by row; what has no groups is not counted, and named."""
    ends = np.array([share.interval() for share in shares])
    made = []
    hidden = {s.name for s in hot.without_groups}
    for number, row in enumerate(hot.weighing.rows):
        mass = row.grams / 1e3
        missing = [m.name for m, _ in row.substances if m.name in hidden]
        if len(missing) == len(row.substances):
            reason = f"{listed(missing)} has no groups"
            lost, share = Estimate.unknown("kg", reason), Estimate.unknown("1", reason)
        else:
            value, low, high = (float(x) for x in hot.modelled_components.by_row[number] @ ends)
            low, high = min(low, value), max(high, value)  # rounding of the sums
            notes = [f"{listed(missing)} not counted"] if missing else []
            lost = Estimate.ok(value, low, high, "kg", METHOD, SOURCES, notes)
            share = Estimate.ok(value / mass, low / mass, high / mass, "1", METHOD, SOURCES, notes)
        made.append(RowLoss(row.label, mass, lost, share))
    return tuple(made)


def _bottle_flash(blend: Blend) -> Estimate:
    """What a bottle left open a day at the bench flashes at."""
    if blend.headspace is None:
        return Estimate.unknown("K", _why_no_vapour(blend))
    exposure = Exposure(OpenBottle(), blend.temperature_K, blend.pressure_Pa)
    try:
        gone = evaporate(blend.modelled_components, exposure, A_DAY_s, points=1)
    except NotConvergedError as error:
        return Estimate.unknown("K", str(error))
    return blend.flash_of(gone.remaining).with_notes(*blend.notes)


def _part_filled_flash(blend: Blend) -> Estimate:
    """Flash point of the liquid in a closed vessel that it fills to a tenth, at the bench
    temperature."""
    if blend.headspace is None:
        return Estimate.unknown("K", _why_no_vapour(blend))
    room = volume(
        float(blend.modelled_components.mass_kg.sum()),
        blend_density(blend.modelled_components, blend.temperature_K),
    )
    if room.value is None:
        return Estimate.unknown("K", "; ".join(room.notes))
    space = room.value * (1.0 - PART_FILL) / PART_FILL
    try:
        left = liquid_in_closed_vessel(blend.modelled_components, blend.temperature_K, space)
    except NotConvergedError as error:
        return Estimate.unknown("K", str(error))
    return blend.flash_of(left).with_notes(*blend.notes)


def _vapour_space(blend: Blend) -> VapourSpace:
    temperature = blend.temperature_K
    if blend.headspace is None or blend.burns_unlike_the_model:
        reason = UNLIKE_THE_MODEL if blend.burns_unlike_the_model else _why_no_vapour(blend)
        limit = Estimate.unknown("mol/mol", reason)
        return VapourSpace(temperature, Estimate.unknown("ratio", reason), limit, limit)
    pressures = blend.headspace.pressures_Pa
    return VapourSpace(
        temperature,
        _ratio(blend).with_notes(*blend.notes),
        blend_lower_limit(blend.modelled_components, pressures, temperature),
        blend_upper_limit(blend.modelled_components, pressures, temperature),
    )


def _ratio(blend: Blend) -> Estimate:
    """The headspace over its lower limit; where the flash point was measured lower than the
    model's, as if it were as much warmer."""
    lower_K = _measured_lower_K(blend)
    at_K = blend.temperature_K + lower_K
    space = headspace(blend.modelled_components, at_K) if lower_K else blend.headspace
    assert space is not None  # whoever asks has looked
    found = headspace_over_limit(blend.modelled_components, space, at_K, blend.pressure_Pa)
    return found.with_notes(*_lower_words(lower_K))


def _measured_lower_K(blend: Blend) -> float:
    return max(0.0, -blend.flash_shift_K)


def _lower_words(lower_K: float, what: str = "") -> tuple[str, ...]:
    if not lower_K:
        return ()
    why = "your measurements put the flash point so much below the model's"
    return (f"{what}as if {lower_K:.1f} °C warmer, as {why}",)


def _reaches_lower_limit(blend: Blend) -> Estimate:
    if blend.burns_unlike_the_model:
        return Estimate.unknown("K", UNLIKE_THE_MODEL)
    if blend.headspace is None:
        return Estimate.unknown("K", _why_no_vapour(blend))
    found = lower_limit_temperature(blend.modelled_components, blend.pressure_Pa)
    lower_K = _measured_lower_K(blend)
    if lower_K and found.is_ok:
        value, low, high = (end - lower_K for end in found.interval())
        found = replace(found, value=value, low=low, high=high)
    return found.with_notes(*_lower_words(lower_K), *blend.notes)


def carrier_row(weighing: Weighing) -> int:
    """The row that carries the others, in the order of work and on dilution: the one that makes up
    the weight, else the heaviest of all."""
    found = make_up_row(weighing)
    if found is not None:
        return found
    return max(range(len(weighing.rows)), key=lambda number: weighing.rows[number].grams)


def _carrier_first(
    blend: Blend, seen: tuple[Observation, ...], catalogue: Catalogue
) -> CarrierFirst | None:
    """The batch as it stands before its light parts, by the order of work; None without crystals,
    a carrier or light parts."""
    rows = blend.weighing.rows
    steps = weighing_steps(blend.weighing)
    there: dict[int, float] = dict.fromkeys(range(len(rows)), 0.0)
    for step in steps:
        if step.stage not in ("light", "top up"):
            there[step.row] += step.grams
    stages = {step.stage for step in steps}
    if not {"carrier", "crystals", "light"} <= stages:
        return None
    factors = [there[number] / row.grams for number, row in enumerate(rows)]
    alone = blend.weighing.times_rows(factors)
    without = Blend(alone, blend.temperature_K, blend.pressure_Pa)
    return CarrierFirst(
        tuple(row.label for row in alone.rows),
        tuple(step.material for step in steps if step.stage == "light"),
        with_observations(without, seen, catalogue)[0].window,
    )


def _notes(blend: Blend) -> tuple[str, ...]:
    return (
        "held at the temperature: heating up and cooling down are not counted",
        "the interval of a loss takes the mass-transfer coefficient alone (a factor 2), not the "
        "vapour pressures or the activity model",
        "stirring is taken as enough to keep the liquid even",
        "a closed vessel a tenth full: the liquid flashes higher, its vapour space burns as before",
        *_notes_on_measurements(blend),
        *blend.notes,
    )


def _notes_on_measurements(blend: Blend) -> tuple[str, ...]:
    """What the person's own observations move here, and what they don't."""
    if not isinstance(blend, ObservedBlend) or all(c.why_not for c in blend.compared):
        return ()
    shift = blend.flash_shift_K
    moved = (
        f"a flash point after a loss or in a part-filled vessel is moved by {shift:+.1f} °C, as "
        "the blend's own is by your measurements; its low end upwards only as far as that liquid "
        "is like it",
        *_lower_words(_measured_lower_K(blend), "headspace against its limit: "),
    )
    return (
        "losses, vapour pressures and flammable limits are the model's: your observations don't "
        "move them",
        *(moved if shift else ()),
    )


def _findings(made: Warming, blend: Blend, hot: Blend) -> tuple[Finding, ...]:
    solids = [s.name for s in blend.dissolved.solids]
    covered, opened = made.beakers
    beaker_losses = tuple(
        BeakerLoss(
            o.material,
            c.share.value,
            o.share.value,
            (o.lost.value or 0.0) * 1e3,
        )
        for c, o, row in zip(covered.rows, opened.rows, made.weighing.rows, strict=True)
        if c.share.value is not None and o.share.value is not None and not row.material.is_water
    )
    bath = Bath(
        made.at_K,
        made.bath.minutes,
        made.volume.value,
        beaker_losses,
        made.when_warm.ratio,
        hot.boiling,
        made.window.may_warm_to_K is not None,
    )
    found = [*window_findings(made.window, made.bench_K, solids, blend.never_clear)]
    if isinstance(blend, ObservedBlend):
        alone = blend.alone.window
        found += measured_findings(made.window, alone, blend.whose_flash, made.bench_K)
        found += observation_findings(made.observations, ())
    if made.bath.to_K is not None:
        found += asked_findings(made.window, made.bath.to_K)
    if made.carrier_first is not None:
        first = made.carrier_first
        found += order_findings(first.window, made.window, first.light, made.bench_K)
    found += bath_findings(bath)
    found += vessel_findings(made.depth_m, made.diameter_m)
    return tuple(gravest_first(found))
