"""A material from its structure alone: SMILES in, estimated facts and UNIFAC groups out.

Holds what turns a structure into a `Material` of estimates, and the fits behind them; no look-up
of known substances, no mixtures. Needs the extra: pip install 'blendwright[structures]'.
"""

from __future__ import annotations

from blendwright.catalogue.material import DRAWN, Datum, Material
from blendwright.formula.conditions import BENCH_K, ROOM_K
from blendwright.pure.structure.errors import MissingExtraError, StructureError
from blendwright.pure.structure.estimates import (
    OUTSIDE_FIT_FACTOR,
    StructureEstimates,
    estimate,
    fitted_model,
    is_outside_fit,
    likeness_class,
    ln_vapour_pressure_deviation,
    trust,
)
from blendwright.pure.structure.molecule import Molecule, identity, read_molecule
from blendwright.pure.structure.unifac import unifac_groups

__all__ = [
    "MissingExtraError",
    "StructureError",
    "boiling_point_from_smiles",
    "identity",
    "material_from_smiles",
]

SOURCE = "structure-estimate"


def material_from_smiles(
    smiles: str, name: str | None = None, known_boiling_K: float | None = None
) -> Material:
    """The material of a SMILES: every value estimated from the structure, none looked up; vapour
    pressure and flash point from the published boiling point, where one is given.

    Values in SI at 20 or 25 °C, each with one standard deviation from held-out tests. Covers
    neutral organic molecules of C, H, O, N, S with 2 to 60 heavy atoms (fitted to 2 to 25; beyond
    that, or with a fragment never seen, the deviations are 1.5 times as wide). The name defaults
    to the canonical SMILES. Raises StructureError for anything else, MissingExtraError where
    rdkit or ugropy isn't installed. Source: equations.py and fit.py in this folder.
    """
    molecule = read_molecule(smiles)
    model = fitted_model()
    estimates = estimate(molecule, model, known_boiling_K)
    outside = is_outside_fit(molecule, model)
    groups, assigned_by = unifac_groups(molecule)
    relatives = likeness_class(estimates.likeness)
    note = f"every value estimated from the structure; {relatives} relatives among known boilers"
    if outside:
        note += "; larger than or unlike anything fitted: trust it less"
    return Material(
        name=(name or "").strip() or molecule.smiles,
        kind="substance",
        cas="",
        formula=molecule.formula,
        smiles=molecule.smiles,
        inchikey=molecule.inchikey,
        state_20C="solid" if estimates.melting_K > BENCH_K else "liquid",
        fema="",
        names=(),
        note=note,
        family=DRAWN,
        data=_data(molecule, estimates, OUTSIDE_FIT_FACTOR if outside else 1.0),
        groups=groups,
        groups_assigned_by=assigned_by,
        curated=False,
    )


def boiling_point_from_smiles(smiles: str) -> Datum:
    """The normal boiling point of a SMILES, K, by its structure alone: as in the material, but
    without its groups, which take fifty times as long. Raises as `material_from_smiles`."""
    molecule = read_molecule(smiles)
    model = fitted_model()
    estimates = estimate(molecule, model)
    widening = OUTSIDE_FIT_FACTOR if is_outside_fit(molecule, model) else 1.0
    return _data(molecule, estimates, widening)[0]


def _data(molecule: Molecule, estimates: StructureEstimates, widening: float) -> tuple[Datum, ...]:
    """The rows of the material, absolute deviations from those of uncertainty.csv."""

    def deviation(name: str) -> float:
        return widening * trust(name, molecule, estimates).standard_deviation

    def datum(
        name: str, value: float, uncertainty: float, note: str, at_K: float | None = None
    ) -> Datum:
        return Datum(name, value, at_K, uncertainty, "estimated", SOURCE, "", note)

    whose = "published" if estimates.boiling_is_known else "estimated"
    ln_pressure_deviation = widening * ln_vapour_pressure_deviation(molecule, estimates)
    pressure = estimates.vapour_pressure_25C_Pa
    density = estimates.density_20C_kg_m3
    heat = estimates.heat_of_fusion_J_mol
    limit = estimates.lower_limit_mol_mol
    return (
        datum("boiling_point", estimates.boiling_K, deviation("boiling_point"),
              "fragments and known relatives"),
        datum("melting_point", estimates.melting_K, deviation("melting_point"),
              "fragments; very uncertain, measure it or look it up"),
        datum("heat_of_fusion", heat, heat * deviation("heat_of_fusion"),
              "entropy of fusion by fragments, times the estimated melting point"),
        datum("vapour_pressure", pressure, pressure * ln_pressure_deviation,
              f"from the {whose} boiling point; the deviation is that of ln P, times P", ROOM_K),
        datum("density", density, density * deviation("density") / 100.0,
              "molar volume by fragments", BENCH_K),
        datum("flash_point", estimates.flash_K, deviation("flash_point"),
              f"from the {whose} boiling point and relatives; closed cup, where the estimated "
              "vapour reaches half the stoichiometric share"),
        datum("lower_flammable_limit", limit, limit * deviation("lower_flammable_limit"),
              "share of the stoichiometric mixture by families", ROOM_K),
    )  # fmt: skip
