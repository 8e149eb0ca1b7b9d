"""The one road from a formula to an assessment. Every interface walks it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.estimate import Estimate, display_name, to_celsius
from blendwright.formula import Formula, check_is_formula
from blendwright.formula.conditions import (
    BENCH_K,
    FREEZER_K,
    FRIDGE_K,
    ATMOSPHERE_Pa,
    check_conditions,
)
from blendwright.mixture.density import volume
from blendwright.mixture.weighing import DROP_mL, Weighing, weigh
from blendwright.observations import Observation
from blendwright.observations.compared import Compared
from blendwright.observations.findings import observation_findings
from blendwright.observations.observed_blend import with_observations
from blendwright.verdict import Finding, gravest_first
from blendwright.verdict.as_read import as_read
from blendwright.verdict.blend import Blend
from blendwright.verdict.cautions import CAUTIONS
from blendwright.verdict.contributions import Contribution, contributions
from blendwright.verdict.dissolution_and_layers import DissolutionWord, LiquidWord
from blendwright.verdict.findings import findings_of, lying_crystals
from blendwright.verdict.flammability import Classing
from blendwright.verdict.inputs import LeftOut
from blendwright.verdict.warming import WarmingWindow
from blendwright.version import __version__

if TYPE_CHECKING:
    from pandas import DataFrame

FrameOf = Literal["estimates", "rows", "findings"]
SCHEMA = "blendwright/assessment/1"
ESTIMATES: Mapping[str, Callable[[Blend], Estimate]] = {
    "density": lambda blend: blend.density,
    "volume": lambda blend: blend.volume,
    "vapour_pressure": lambda blend: blend.vapour_pressure,
    "initial_boiling_point": lambda blend: blend.boiling,
    "flash_point_closed_cup": lambda blend: blend.flash.estimate,
    "dissolved_share": lambda blend: blend.dissolved_share,
    "dissolution_temperature": lambda blend: blend.last_crystal,
    "cloud_temperature": lambda blend: blend.cloud,
    "lower_flammable_limit": lambda blend: blend.lower_limit,
}
LEAST_LISTED_kg = 0.5e-6  # of a crystal: less is 0.000 g on the balance


@dataclass(frozen=True)
class SolidLine:
    """One crystal: where it goes, how much stays dissolved, what lies undissolved (all SI)."""

    material: str
    mass_kg: float
    dissolves: Estimate
    most_20C: Estimate
    most_5C: Estimate
    undissolved_here_g: float
    back_4C_g: float
    back_minus18C_g: float

    def to_dict(self) -> dict[str, object]:
        return {
            "material": self.material,
            "grams": self.mass_kg * 1e3,
            "dissolves_at_C": self.dissolves.to_dict(),
            "most_dissolved_20C_g": self.most_20C.to_dict(),
            "most_dissolved_5C_g": self.most_5C.to_dict(),
            "undissolved_here_g": self.undissolved_here_g,
            "crystals_4C_g": self.back_4C_g,
            "crystals_minus18C_g": self.back_minus18C_g,
        }


@dataclass(frozen=True)
class Layer:
    """One of two layers: its share of the mass, its density, and its substances' mass shares."""

    place: str
    share: float
    density_kg_m3: float | None
    holds: tuple[tuple[str, float], ...]

    def to_dict(self) -> dict[str, object]:
        return {
            "place": self.place,
            "share_pct": self.share * 100.0,
            "density_g_mL": self.density_kg_m3 / 1e3 if self.density_kg_m3 else None,
            "holds_pct": {name: share * 100.0 for name, share in self.holds},
        }


@dataclass(frozen=True, repr=False)
class Assessment:
    """All that blendwright says of one formula. Frozen, comparable; `to_dict()` is the JSON object.

    `estimates` are in SI (K, Pa, kg/m3, m3, mol/mol), keyed by the quantity ("density",
    "flash_point_closed_cup"); `to_dict` turns them to °C, kPa, g/mL, mL and vol % under the names
    of the JSON object ("density_g_mL", "flash_point_closed_cup_C").
    """

    weighing: Weighing
    temperature_K: float
    pressure_Pa: float
    estimates: dict[str, Estimate] = field(hash=False)
    dissolution: DissolutionWord
    liquid: LiquidWord
    flammability: Classing
    classings: tuple[Classing, ...]
    row_volumes: tuple[Estimate, ...]
    contributions: tuple[Contribution, ...]
    solids: tuple[SolidLine, ...]
    chance_of_crystals: float | None
    chance_of_layers: float | None
    layers: tuple[Layer, ...]
    left_out: tuple[LeftOut, ...]
    warming: WarmingWindow
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    version: str
    data_version: str
    observations: tuple[Compared, ...] = ()
    plot: ClassVar[Any]
    """Its pictures, `assessment.plot.thermometer()`; set by the package, from `report.pictures`."""

    def __repr__(self) -> str:
        ghs = self.flammability.lead()
        return (
            f"<Assessment of {self.weighing.formula.name!r}: {self.weighing.total_g:.4g} g at "
            f"{self.temperature_K:.5g} K: {self.dissolution}, {self.liquid}, {ghs}; "
            f"{len(self.findings)} findings>"
        )

    def to_frame(self, what: FrameOf = "estimates") -> DataFrame:
        """A pandas DataFrame of this assessment, in SI.

        Parameters
        ----------
        what : {"estimates", "rows", "findings"}
            "estimates": a row for each quantity, with value, low, high (90 %), unit, status,
            method; "rows": a row for each row of the formula, with mass_kg, volume_m3 and its
            shares of vapour and flash; "findings": code, severity, message and action of each.

        Raises
        ------
        ValueError
            For any other word.
        """
        import pandas as pd

        if what == "estimates":
            held = {
                name: {
                    k: getattr(e, k) for k in ("value", "low", "high", "unit", "status", "method")
                }
                for name, e in self.estimates.items()
            }
            made = pd.DataFrame.from_dict(held, orient="index").rename_axis("quantity")
            numbers = dict.fromkeys(("value", "low", "high"), "float64")
            return made.astype(numbers)
        if what == "rows":
            weighed = zip(self.weighing.rows, self.row_volumes, self.contributions, strict=True)
            return pd.DataFrame(
                {
                    "material": row.label,
                    "mass_kg": row.grams / 1e3,
                    "volume_m3": volume.value,
                    "vapour_share": share.vapour_pct / 100.0,
                    "flash_share": share.flammability_pct / 100.0,
                }
                for row, volume, share in weighed
            )
        if what == "findings":
            columns = ("code", "severity", "message", "action")
            return pd.DataFrame(
                [[getattr(f, column) for column in columns] for f in self.findings], columns=columns
            )
        raise ValueError(f"a frame of {what!r} is not known; of estimates, rows or findings")

    @property
    def has_warning(self) -> bool:
        return any(finding.severity == "warning" for finding in self.findings)

    def to_dict(self) -> dict[str, object]:
        """The JSON object of the schema blendwright/assessment/1.

        `observations` is there only where some were counted or shown.
        """
        seen = [compared.to_dict() for compared in self.observations]
        return {
            "schema": SCHEMA,
            "version": self.version,
            "data_version": self.data_version,
            "conditions": {
                "temperature_C": to_celsius(self.temperature_K),
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
                        "volume_mL": volume.in_display_units().value,
                    }
                    for row, volume in zip(self.weighing.rows, self.row_volumes, strict=True)
                ],
            },
            "estimates": {display_name(name): e.to_dict() for name, e in self.estimates.items()},
            "verdicts": {
                "dissolution": self.dissolution,
                "liquid": self.liquid,
                "flammability": {
                    "ghs": {
                        "treat_as": self.flammability.treat_as,
                        "category": self.flammability.category,
                        "standing": self.flammability.standing,
                    }
                },
                "classings": [c.to_dict() for c in self.classings],
                "warming": self.warming.verdict(),
            },
            "contributions": [
                {
                    "material": c.material,
                    "vapour_pct": c.vapour_pct,
                    "flammability_pct": c.flammability_pct,
                }
                for c in self.contributions
            ],
            "solids": [solid.to_dict() for solid in self.solids],
            "chance_of_crystals": self.chance_of_crystals,
            "chance_of_layers": self.chance_of_layers,
            "layers": [layer.to_dict() for layer in self.layers],
            "left_out": [
                {"material": out.material, "from": out.left_from, "why": out.why}
                for out in self.left_out
            ],
            "findings": [finding.to_dict() for finding in self.findings],
            "cautions": list(self.cautions),
            **({"observations": seen} if seen else {}),
        }


def assess(
    formula: Formula,
    temperature_K: float = BENCH_K,
    pressure_Pa: float = ATMOSPHERE_Pa,
    *,
    catalogue: Catalogue | None = None,
    drop_mL: float = DROP_mL,
    observations: Iterable[Observation] = (),
) -> Assessment:
    """Assess a formula at a bench temperature and ambient pressure.

    Parameters
    ----------
    formula : Formula
    temperature_K : float
        The bench's, -40 to 150 °C.
    pressure_Pa : float
        The air's, 10 to 120 kPa.
    catalogue : Catalogue, optional
        Where materials are found; the one that ships with blendwright unless given.
    drop_mL : float
        What a row in drops is taken for, mL a drop.
    observations : iterable of Observation
        The person's own (`read_observations`); none are read unless given.
        Those of this blend and of similar ones adjust the estimates.

    Returns
    -------
    Assessment

    Raises
    ------
    FormulaError
        With every problem of the formula.
    ValueError
        For conditions outside those ranges.
    TypeError
        For anything that is no Formula, with how to make one of it.
    """
    check_is_formula(formula)
    check_conditions(temperature_K, pressure_Pa)
    catalogue = catalogue or default_catalogue()
    weighing = weigh(formula, catalogue, drop_mL)
    return assess_weighing(weighing, temperature_K, pressure_Pa, catalogue, tuple(observations))


def assess_weighing(
    weighing: Weighing,
    temperature_K: float,
    pressure_Pa: float,
    catalogue: Catalogue,
    observations: tuple[Observation, ...] = (),
) -> Assessment:
    """Assesses a batch that is weighed already: scaled, rounded, or changed."""
    return assess_blend(Blend(weighing, temperature_K, pressure_Pa), catalogue, observations)


def assess_blend(
    alone: Blend, catalogue: Catalogue, observations: tuple[Observation, ...] = ()
) -> Assessment:
    """Assesses a blend of which some answers may be known already."""
    blend, compared = with_observations(alone, observations, catalogue)
    blend.survey()
    told = observation_findings(compared, blend.classings)
    read = as_read(blend.weighing.formula.notices)
    return Assessment(
        weighing=blend.weighing,
        temperature_K=blend.temperature_K,
        pressure_Pa=blend.pressure_Pa,
        estimates={name: estimate(blend) for name, estimate in ESTIMATES.items()},
        dissolution=blend.dissolution_word,
        liquid=blend.liquid_word,
        flammability=blend.classings[0],
        classings=blend.classings,
        row_volumes=tuple(
            volume(row.grams / 1e3, row.density(blend.temperature_K)) for row in blend.weighing.rows
        ),
        contributions=contributions(blend),
        solids=_solids(blend),
        chance_of_crystals=blend.chance_of_crystals,
        chance_of_layers=blend.chance,
        layers=_layers(blend),
        left_out=blend.left_out,
        warming=blend.window,
        findings=tuple(gravest_first([*read, *findings_of(blend), *told])),
        cautions=CAUTIONS,
        version=__version__,
        data_version=catalogue.version(),
        observations=compared,
    )


def _solids(blend: Blend) -> tuple[SolidLine, ...]:
    back = [
        dict(
            zip(
                blend.modelled_components.names,
                lying_crystals(blend, kelvin).seen_g.tolist(),
                strict=True,
            )
        )
        for kelvin in (blend.temperature_K, FRIDGE_K, FREEZER_K)
    ]
    return tuple(
        SolidLine(
            solid.name,
            solid.mass_kg,
            solid.dissolves,
            solid.most_20C,
            solid.most_5C,
            *(at.get(solid.name, 0.0) for at in back),
        )
        for solid in blend.solids
        if solid.mass_kg >= LEAST_LISTED_kg
    )


def _layers(blend: Blend) -> tuple[Layer, ...]:
    parted = blend.layers
    if parted is None:
        return ()
    total = float(parted.top_kg.sum() + parted.bottom_kg.sum())
    return tuple(
        Layer(
            place,
            float(mass.sum()) / total,
            density,
            tuple(
                (name, float(m) / float(mass.sum()))
                for name, m in zip(blend.modelled_components.names, mass, strict=True)
            ),
        )
        for place, mass, density in (
            ("top", parted.top_kg, parted.top_density_kg_m3),
            ("bottom", parted.bottom_kg, parted.bottom_density_kg_m3),
        )
    )
