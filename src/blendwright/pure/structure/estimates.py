"""What are the properties of a molecule by its structure alone, and how far are they trusted?

The standard deviations come from tenfold cross-validation by substance (fit.py), apart for
molecules with close, related and only far relatives among those of the boiling-point fit, and for
those of carbon, hydrogen and oxygen and those that also hold nitrogen or sulfur; each is the 90th
percentile of the absolute error over 1.645, so that 1.645 of it holds 90 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from blendwright.catalogue.tables import table_rows
from blendwright.formula.conditions import ROOM_K, ATMOSPHERE_Pa
from blendwright.pure.structure import equations as eq
from blendwright.pure.structure.molecule import MOST_FITTED_HEAVY_ATOMS, Molecule
from blendwright.pure.structure.relatives import Relatives, known_relatives

CLOSE = 0.6  # likeness of the nearest relative, Tanimoto
RELATED = 0.4
OUTSIDE_FIT_FACTOR = 1.5  # common practice, no source
VOLUME_RANGE_kg_m3 = (550.0, 1800.0)
COLDEST_MELTING_K = 80.0
BOILING_RANGE_K = (165.0, 1000.0)  # ethene, 169 K, boils lowest of all that is covered

LIKENESS_CLASSES = ("close", "related", "far")
KINDS = ("oxygen", "other")

PROPERTIES = (
    "boiling_point",
    "vaporisation",
    "molar_volume",
    "melting_point",
    "fusion_entropy",
    "limit_ratio",
    "flash_point",
)


@dataclass(frozen=True)
class Model:
    """Coefficients by property and term, and the known relatives."""

    coefficients: Mapping[str, Mapping[str, float]]
    relatives: Relatives | None


@dataclass(frozen=True)
class StructureEstimates:
    """Every estimate of one molecule; `likeness` is that of its nearest relative, 0 to 1."""

    boiling_K: float
    vaporisation_factor: float
    vapour_pressure_25C_Pa: float
    density_20C_kg_m3: float
    melting_K: float
    fusion_entropy_J_mol_K: float
    lower_limit_mol_mol: float
    flash_K: float
    likeness: float
    boiling_is_known: bool = False

    @property
    def heat_of_fusion_J_mol(self) -> float:
        return self.fusion_entropy_J_mol_K * self.melting_K


@dataclass(frozen=True)
class Trust:
    """Standard deviation of one property in one class of likeness, and what it was judged by."""

    standard_deviation: float
    mean_absolute_error: float
    molecules: int


def corrections(molecule: Molecule, model: Model) -> tuple[Mapping[str, float], float]:
    """(what the relatives add to each property, likeness of the nearest); none without any."""
    if model.relatives is None:
        return {}, 0.0
    return model.relatives.corrections(molecule.environments)


def boiling_point_K(molecule: Molecule, model: Model, correction: float = 0.0) -> float:
    """Normal boiling point."""
    value = eq.dot(model.coefficients["boiling_point"], eq.boiling_terms(molecule))
    return _within(value + correction)


def vaporisation_factor(molecule: Molecule, model: Model) -> float:
    low, high = eq.VAPORISATION_RANGE
    value = eq.dot(model.coefficients["vaporisation"], eq.vaporisation_terms(molecule))
    return min(high, max(low, value))


def density_20C_kg_m3(molecule: Molecule, model: Model, correction: float = 0.0) -> float:
    volume = eq.dot(model.coefficients["molar_volume"], eq.volume_terms(molecule)) + correction
    low, high = VOLUME_RANGE_kg_m3
    mass = 1e3 * eq.molar_mass_g_mol(molecule)
    return min(high, max(low, mass / volume)) if volume > 0.0 else high


def flash_point_K(
    molecule: Molecule, boiling_K: float, factor: float, model: Model, correction: float = 0.0
) -> float:
    """Closed-cup flash point from a boiling point, be it estimated or known."""
    physical_K = eq.physical_flash_K(molecule, boiling_K, factor)
    shift = eq.dot(model.coefficients["flash_point"], eq.flash_terms(molecule, physical_K))
    return min(boiling_K, max(0.5 * boiling_K, physical_K + shift + correction))


def estimate(
    molecule: Molecule, model: Model, known_boiling_K: float | None = None
) -> StructureEstimates:
    """Every property of one molecule; vapour pressure and flash point from its published boiling
    point, where that is known, else from the estimated one."""
    added, likeness = corrections(molecule, model)
    boiling_K = known_boiling_K or boiling_point_K(molecule, model, added.get("boiling_point", 0.0))
    factor = vaporisation_factor(molecule, model)
    melting_K = eq.dot(model.coefficients["melting_point"], eq.melting_terms(molecule))
    entropy = eq.dot(model.coefficients["fusion_entropy"], eq.fusion_entropy_terms(molecule))
    limit_ratio = eq.dot(model.coefficients["limit_ratio"], eq.limit_terms(molecule))
    share = eq.stoichiometric_share(molecule)
    flash_K = flash_point_K(molecule, boiling_K, factor, model, added.get("flash_point", 0.0))
    return StructureEstimates(
        boiling_K=boiling_K,
        vaporisation_factor=factor,
        vapour_pressure_25C_Pa=eq.vapour_curve(boiling_K, factor).pressure_Pa(ROOM_K),
        density_20C_kg_m3=density_20C_kg_m3(molecule, model, added.get("molar_volume", 0.0)),
        melting_K=min(0.95 * boiling_K, max(COLDEST_MELTING_K, melting_K)),
        fusion_entropy_J_mol_K=max(10.0, entropy),
        lower_limit_mol_mol=min(share, share * math.exp(limit_ratio)),
        flash_K=flash_K,
        likeness=likeness,
        boiling_is_known=known_boiling_K is not None,
    )


def likeness_class(likeness: float) -> str:
    """ "close", "related" or "far" by the nearest relative."""
    return "close" if likeness >= CLOSE else "related" if likeness >= RELATED else "far"


def kind_of(molecule: Molecule) -> str:
    """ "oxygen" for C, H, O; "other" where nitrogen or sulfur is there too."""
    return "other" if {"N", "S"} & set(molecule.elements) else "oxygen"


def trust(name: str, molecule: Molecule, estimates: StructureEstimates) -> Trust:
    """How far one property of one molecule is trusted."""
    if name == "flash_point" and estimates.boiling_is_known:
        name = "flash_point_known_boiling"
    return trust_table()[name, likeness_class(estimates.likeness), kind_of(molecule)]


def ln_vapour_pressure_deviation(molecule: Molecule, estimates: StructureEstimates) -> float:
    """Standard deviation of ln P at 25 °C: that of the boiling point, unless it is known, and of
    the factor together.

    Both count for more the further the boiling point is from 25 °C.
    """
    boiling_K, factor = estimates.boiling_K, estimates.vaporisation_factor
    boiling_sd = trust("boiling_point", molecule, estimates).standard_deviation
    if estimates.boiling_is_known:
        boiling_sd = 0.0
    factor_sd = trust("vaporisation", molecule, estimates).standard_deviation
    ln_pressure = math.log(estimates.vapour_pressure_25C_Pa)
    hotter = eq.vapour_curve(boiling_K + boiling_sd, factor).pressure_Pa(ROOM_K)
    by_boiling = ln_pressure - math.log(hotter)
    by_factor = (ln_pressure - math.log(ATMOSPHERE_Pa)) / factor * factor_sd
    return math.hypot(by_boiling, by_factor)


def is_outside_fit(molecule: Molecule, model: Model) -> bool:
    """True where the molecule is larger than any fitted, or holds a fragment never seen."""
    known = model.coefficients["boiling_point"]
    return molecule.heavy_atoms > MOST_FITTED_HEAVY_ATOMS or bool(eq.unfamiliar(molecule, known))


def _within(temperature_K: float) -> float:
    low, high = BOILING_RANGE_K
    return min(high, max(low, temperature_K))


@cache
def fitted_model() -> Model:
    """The model of coefficients.csv and relatives.csv."""
    coefficients: dict[str, dict[str, float]] = {name: {} for name in PROPERTIES}
    for row in _rows("coefficients.csv"):
        coefficients[row["property"]][row["term"]] = float(row["coefficient"])
    return Model(coefficients, known_relatives())


@cache
def trust_table() -> Mapping[tuple[str, str, str], Trust]:
    """uncertainty.csv: (property, class of likeness, kind) -> Trust."""
    return {
        (row["property"], row["relatives"], row["kind"]): Trust(
            float(row["standard_deviation"]),
            float(row["mean_absolute_error"]),
            int(row["molecules"]),
        )
        for row in _rows("uncertainty.csv")
    }


def _rows(name: str) -> tuple[dict[str, str], ...]:
    return table_rows(__package__, name)
