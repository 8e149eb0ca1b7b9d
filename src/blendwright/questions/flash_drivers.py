"""What drives the flash point: how it moves per gram of each row, and on dilution with the carrier.

dT/dm of a row by central differences through Liaw's equation, by the leading parameter set; the
interval spans the other complete sets. The curve is the flash point of the blend with more of the
carrier, at total mass over the original (1 is the blend itself).

The person's own observations count in the flash point and at each point of the curve as `assess`
counts them for that blend; what a gram of a row does is always the model's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.estimate import Estimate
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa, check_conditions
from blendwright.mixture.composition import Composition
from blendwright.mixture.flash_point import blend_flash_point
from blendwright.mixture.liquid import SOURCES, TITLE
from blendwright.mixture.weighing import Weighing, weigh
from blendwright.observations import Observation
from blendwright.observations.compared import Compared
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.warming import carrier_row
from blendwright.verdict.blend import Blend
from blendwright.verdict.dissolution_and_layers import LiquidWord

SCHEMA = "blendwright/flash-drivers/1"
DILUTIONS = (1.0, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0)
STEP = 0.01  # of a row's grams, each way


@dataclass(frozen=True)
class RowSensitivity:
    """How one more gram of a row moves the flash point, K/kg; the rest as it is."""

    material: str
    grams: float
    per_mass: Estimate

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.material,
            "grams": self.grams,
            "flash_point_C_per_g": self.per_mass.to_dict(),
        }


@dataclass(frozen=True)
class DilutionPoint:
    """The blend made up with the carrier to `factor` times its mass."""

    factor: float
    flash: Estimate
    liquid: LiquidWord
    chance_of_layers: float | None

    def to_dict(self) -> dict[str, object]:
        return {
            "factor": self.factor,
            "flash_point_closed_cup_C": self.flash.to_dict(),
            "liquid": self.liquid,
            "chance_of_layers": self.chance_of_layers,
        }


@dataclass(frozen=True)
class FlashDrivers:
    """The pull of each row, and the curve of dilution. Frozen; `to_dict()` is the JSON object."""

    name: str
    total_g: float
    flash: Estimate
    sensitivities: tuple[RowSensitivity, ...]
    carrier: str
    curve: tuple[DilutionPoint, ...]
    data_version: str
    observations: tuple[Compared, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """`observations` is there only where some were counted or shown."""
        seen = [compared.to_dict() for compared in self.observations]
        return {
            "schema": SCHEMA,
            "data_version": self.data_version,
            "formula": {"name": self.name, "total_g": self.total_g},
            "flash_point_closed_cup_C": self.flash.to_dict(),
            "rows": [pull.to_dict() for pull in self.sensitivities],
            "carrier": self.carrier,
            "dilution": [point.to_dict() for point in self.curve],
            **({"observations": seen} if seen else {}),
        }


def flash_drivers(
    formula: Formula,
    bench_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    factors: Sequence[float] = DILUTIONS,
    catalogue: Catalogue | None = None,
    observations: Iterable[Observation] = (),
) -> FlashDrivers:
    """What moves a formula's flash point. `bench_K` is where the layers of the curve are told; the
    flash points know no bench.

    `observations` are the person's own; none are read unless given.
    Raises FormulaError with every problem of the formula, ValueError for a factor below 1 or
    conditions outside -40 to 150 °C or 10 to 120 kPa.
    """
    check_conditions(bench_K, pressure_Pa, "bench_K")
    catalogue = catalogue or default_catalogue()
    weighing = weigh(formula, catalogue)
    seen = tuple(observations)
    alone = Blend(weighing, bench_K, pressure_Pa)
    blend, compared = with_observations(alone, seen, catalogue)
    return FlashDrivers(
        formula.name,
        weighing.total_g,
        blend.flash.estimate,
        row_sensitivities(alone),
        weighing.rows[carrier_row(weighing)].label,
        dilution_curve(alone, factors, seen, catalogue),
        catalogue.version(),
        compared,
    )


def row_sensitivities(blend: Blend) -> tuple[RowSensitivity, ...]:
    """One a row; "unknown" where the flash point is, or where nothing of the row is counted."""
    return tuple(
        RowSensitivity(row.label, row.grams, _sensitivity(blend, number))
        for number, row in enumerate(blend.weighing.rows)
    )


def _sensitivity(blend: Blend, number: int) -> Estimate:
    flash = blend.flash.estimate
    if not flash.is_ok:
        return Estimate.absent("K/kg", flash.status, "; ".join(flash.notes))
    if blend.without_vapour_data:
        return Estimate.unknown("K/kg", "; ".join(flash.notes))
    if not blend.modelled_components.by_row[number].any():
        reason = f"{blend.weighing.rows[number].label} has no groups"
        return Estimate.unknown("K/kg", reason)
    ends = []
    for sign in (-1.0, 1.0):
        moved = _with_more(blend.modelled_components, number, 1.0 + sign * STEP)
        found = blend_flash_point(moved, blend.pressure_Pa).estimate
        if not found.is_ok:
            return Estimate.absent("K/kg", found.status, "; ".join(found.notes))
        ends.append(found.interval())
    across = 2.0 * STEP * blend.weighing.rows[number].grams / 1e3
    slopes = [(after - before) / across for before, after in zip(*ends, strict=True)]
    return Estimate.ok(
        slopes[0],
        min(slopes),
        max(slopes),
        "K/kg",
        f"central differences of Liaw's equation with {TITLE}, of the value and of both ends",
        ("liaw", *SOURCES),
    )


def _with_more(composition: Composition, number: int, factor: float) -> Composition:
    """One row's mass multiplied. Every substance stays, so its models do."""
    by_row = composition.by_row.copy()
    by_row[number] *= factor
    return replace(composition, by_row=by_row)


def diluted(weighing: Weighing, factor: float) -> Weighing:
    """Made up with its own carrier to a multiple of its mass. ValueError for less than 1."""
    if factor < 1.0:
        raise ValueError("a dilution makes more: the factor must be at least 1")
    carrier = carrier_row(weighing)
    grams = weighing.rows[carrier].grams
    more = (grams + (factor - 1.0) * weighing.total_g) / grams
    return weighing.times_rows(
        [more if number == carrier else 1.0 for number in range(len(weighing.rows))]
    )


def dilution_curve(
    blend: Blend, factors: Sequence[float], seen: tuple[Observation, ...], catalogue: Catalogue
) -> tuple[DilutionPoint, ...]:
    """The flash point at each factor, with the layers judged anew each time."""
    made = []
    for factor in factors:
        alone = Blend(diluted(blend.weighing, factor), blend.temperature_K, blend.pressure_Pa)
        thin, _ = with_observations(alone, seen, catalogue)
        made.append(DilutionPoint(factor, thin.flash.estimate, thin.liquid_word, thin.chance))
    return tuple(made)
