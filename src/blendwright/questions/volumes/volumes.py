"""Everything that the bench needs in numbers: grams to millilitres and drops, the batch's size,
the balance, the order of weighing, and the bottles.

    bench_sheet(read_formula("formula.csv"), BenchOrder(bottles=Bottles(24, 30.0), balance_g=0.01))

The batch is scaled first, then rounded; pipetted volumes and steps are those of what is weighed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.errors import BlendwrightError
from blendwright.estimate import Estimate, to_celsius
from blendwright.formula import Formula
from blendwright.formula.conditions import BENCH_K, ATMOSPHERE_Pa, temperature_problem
from blendwright.formula.numbers import LARGEST_g
from blendwright.mixture.density import volume
from blendwright.mixture.weighing import DROP_mL, WeighedRow, Weighing, weigh
from blendwright.observations.observation import Observation
from blendwright.observations.observed_blend import with_observations
from blendwright.questions.volumes.drops import (
    USUAL_DROP,
    DropCount,
    DropDose,
    drop_dose,
    drops_per_mL,
)
from blendwright.questions.volumes.filling import Bottles, Filling, filling, mass_g_of
from blendwright.questions.volumes.rounding import Rounding, rounding
from blendwright.questions.volumes.weighing_order import (
    ORDER_RULE,
    WeighingStep,
    is_crystal,
    weighing_steps,
)
from blendwright.verdict import Finding, gravest_first
from blendwright.verdict.blend import Blend
from blendwright.version import __version__

SCHEMA = "blendwright/volumes/1"


class BenchError(BlendwrightError):
    """Work that can't be laid out."""


@dataclass(frozen=True)
class BenchOrder:
    """What is asked for.

    Attributes
    ----------
    temperature_K : float
        Where rows are pipetted.
    fill_K : float
        Where bottles are filled and `scale_to_mL` is measured.
    pressure_Pa : float
        The air's, for what rounding does to flash and boiling point.
    scale_to_g, scale_to_mL, bottles : float, float, Bottles, optional
        The batch; one of them at the most.
    balance_g : float, optional
        The balance's division, to which rows are rounded.
    drop : DropCount
    dose_mL : float, optional
    """

    temperature_K: float = BENCH_K
    fill_K: float = BENCH_K
    pressure_Pa: float = ATMOSPHERE_Pa
    scale_to_g: float | None = None
    scale_to_mL: float | None = None
    bottles: Bottles | None = None
    balance_g: float | None = None
    drop: DropCount = USUAL_DROP
    dose_mL: float | None = None

    def __post_init__(self) -> None:
        """Raises BenchError for two sizes at once, one of nothing, or temperatures out of range."""
        sizes = {
            "a mass": self.scale_to_g,
            "a volume": self.scale_to_mL,
            "bottles": self.bottles,
        }
        asked = [name for name, size in sizes.items() if size is not None]
        if len(asked) > 1:
            raise BenchError(f"the batch can be scaled to {' or to '.join(asked)}, not to both")
        for name, kelvin in (("temperature_K", self.temperature_K), ("fill_K", self.fill_K)):
            problem = temperature_problem(name, kelvin)
            if problem is not None:
                raise BenchError(problem)
        for size in (self.scale_to_g, self.scale_to_mL, self.dose_mL):
            if size is not None and not 0.0 < size <= LARGEST_g:
                raise BenchError(f"a batch or a dose of {size:g} can't be made")


@dataclass(frozen=True)
class PipettedRow:
    """One row in grams, millilitres and drops. A crystal is weighed: its mL are what it fills once
    dissolved."""

    row: WeighedRow
    density: Estimate
    volume: Estimate
    drops: Estimate
    is_crystal: bool

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.row.written,
            "name": self.row.label,
            "grams": self.row.grams,
            "density_g_mL": self.density.to_dict(),
            "volume_mL": self.volume.to_dict(),
            "drops": self.drops.value,
            "drops_low": self.drops.low,
            "drops_high": self.drops.high,
            "weigh_it": self.is_crystal,
        }


@dataclass(frozen=True)
class BenchSheet:
    """The whole sheet. Frozen; `to_dict()` is the JSON object.

    `weighing` is the batch as it is weighed: scaled, and rounded where a balance was given.
    `factor` is what the formula's grams were multiplied by.
    """

    order: BenchOrder
    weighing: Weighing
    factor: float
    rows: tuple[PipettedRow, ...]
    density: Estimate
    total: Estimate
    total_20C: Estimate
    total_at_fill: Estimate
    drop: Estimate
    dose: DropDose
    steps: tuple[WeighingStep, ...]
    rounding: Rounding | None
    filling: Filling | None
    findings: tuple[Finding, ...]
    data_version: str

    @property
    def has_warning(self) -> bool:
        return any(finding.severity == "warning" for finding in self.findings)

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/volumes/1."""
        return {
            "schema": SCHEMA,
            "version": __version__,
            "data_version": self.data_version,
            "name": self.weighing.formula.name,
            "temperature_C": to_celsius(self.order.temperature_K),
            "fill_temperature_C": to_celsius(self.order.fill_K),
            "scaled_by": self.factor,
            "drop_mL": self.drop.in_display_units().value,
            "drop": self.drop.to_dict(),
            "drops_per_mL": drops_per_mL(self.drop).to_dict(),
            "dose": self.dose.to_dict(),
            "total_g": self.weighing.total_g,
            "total_volume_mL": self.total.to_dict(),
            "total_volume_20C_mL": self.total_20C.to_dict(),
            "total_volume_fill_mL": self.total_at_fill.to_dict(),
            "density_g_mL": self.density.to_dict(),
            "rows": [row.to_dict() for row in self.rows],
            "weighing_order": [step.to_dict() for step in self.steps],
            "order_rule": ORDER_RULE,
            "rounding": self.rounding.to_dict() if self.rounding else None,
            "filling": self.filling.to_dict() if self.filling else None,
            "findings": [finding.to_dict() for finding in self.findings],
        }


def bench_sheet(
    formula: Formula,
    order: BenchOrder | None = None,
    *,
    catalogue: Catalogue | None = None,
    observations: Iterable[Observation] = (),
) -> BenchSheet:
    """Lay out the work: what is weighed, pipetted, dropped and filled, and in which order.

    Parameters
    ----------
    formula : Formula
    order : BenchOrder, optional
        What is asked for; the batch as it is unless given.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.
        A measured density counts in the blend's volumes and in what rounding does.

    Returns
    -------
    BenchSheet

    Raises
    ------
    FormulaError
        With every problem of the formula.
    BenchError, DropError, FillingError, BalanceError
        For an order that can't be: of scaling, drops, bottles or the balance.
    """
    order = order or BenchOrder()
    catalogue = catalogue or default_catalogue()
    seen = tuple(observations)

    def density_of(weighing: Weighing, kelvin: float) -> Estimate:
        alone = Blend(weighing, kelvin, order.pressure_Pa)
        return with_observations(alone, seen, catalogue)[0].density

    written, drop = _weighed(formula, order.drop, catalogue, density_of)
    wanted = _wanted_g(written, order, density_of)
    factor = wanted / written.total_g
    if not wanted <= LARGEST_g:
        raise BenchError(f"{wanted:.3g} g is more than any batch")
    batch = written.times_rows([factor] * len(written.rows))
    rounded = None
    if order.balance_g is not None:
        air = order.temperature_K, order.pressure_Pa
        rounded = rounding(batch, order.balance_g, catalogue, *air, seen)
        batch = rounded.weighing
    density = density_of(batch, order.temperature_K)
    at_fill = density_of(batch, order.fill_K)
    mass_kg = batch.total_g / 1e3
    filled = None
    if order.bottles:
        filled = filling(batch.composition, order.bottles, order.fill_K, at_fill)
    found = [
        *(rounded.findings if rounded else ()),
        *(filled.findings if filled else ()),
        *_drop_findings(drop),
    ]
    return BenchSheet(
        order=order,
        weighing=batch,
        factor=factor,
        rows=tuple(_pipetted(row, order.temperature_K, drop) for row in batch.rows),
        density=density,
        total=volume(mass_kg, density),
        total_20C=volume(mass_kg, density_of(batch, BENCH_K)),
        total_at_fill=volume(mass_kg, at_fill),
        drop=drop,
        dose=drop_dose(drop, density, order.dose_mL),
        steps=weighing_steps(batch, division_g=order.balance_g),
        rounding=rounded,
        filling=filled,
        findings=tuple(gravest_first(found)),
        data_version=catalogue.version(),
    )


DensityOf = Callable[[Weighing, float], Estimate]


def _weighed(
    formula: Formula, count: DropCount, catalogue: Catalogue, density_of: DensityOf
) -> tuple[Weighing, Estimate]:
    """The formula in grams, its rows in drops by the person's own drop, and that drop.

    Weighed drops are of the concentrate itself, so its density comes first, with the usual drop in
    rows that are written in drops.
    """
    density = None
    if count.is_weighed:
        first = weigh(formula, catalogue, DROP_mL)
        density = density_of(first, BENCH_K)
    drop = count.volume(density)
    return weigh(formula, catalogue, drop.interval()[0] * 1e6), drop


def _wanted_g(weighing: Weighing, order: BenchOrder, density_of: DensityOf) -> float:
    if order.scale_to_g is not None:
        return order.scale_to_g
    volume_mL = order.bottles.needed_mL if order.bottles else order.scale_to_mL
    if volume_mL is None:
        return weighing.total_g
    return mass_g_of(volume_mL, density_of(weighing, order.fill_K))


def _pipetted(row: WeighedRow, temperature_K: float, drop: Estimate) -> PipettedRow:
    density = row.density(temperature_K)
    poured = volume(row.grams / 1e3, density)
    solid = is_crystal(row)
    if solid:
        drops = Estimate.absent("drops", "not_applicable", "a crystal is weighed")
    elif not poured.is_ok:
        drops = Estimate.unknown("drops", "; ".join(poured.notes))
    else:
        v, v_low, v_high = poured.interval()
        d, d_low, d_high = drop.interval()
        drops = Estimate.ok(v / d, v_low / d_high, v_high / d_low, "drops", drop.method)
    return PipettedRow(row, density, poured, drops, solid)


def _drop_findings(drop: Estimate) -> list[Finding]:
    if not drop.notes:
        return []
    return [Finding("DROP-POOR-COUNT", "caution", f"{'; '.join(drop.notes)}.", "Count again.")]
