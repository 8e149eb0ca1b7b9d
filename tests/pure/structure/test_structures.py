"""Materials from structure alone: held-out accuracy, coverage, errors, groups.

The molecules of reference/flash_point_pure.csv are left out of every fit (held_out.csv). Boiling
points, densities and vapour pressures of the same molecules are read here from the `chemicals`
package, so those figures are held out too.
"""

from __future__ import annotations

import csv
import math
from functools import cache
from pathlib import Path
from statistics import fmean, median

import pytest

from blendwright.catalogue.material import Datum, Material
from blendwright.errors import BlendwrightError
from blendwright.pure.constants import pure_constants
from blendwright.pure.structure import (
    MissingExtraError,
    StructureError,
    identity,
    material_from_smiles,
)
from blendwright.pure.structure import molecule as molecule_module
from blendwright.questions.accuracy.reference import reference
from fitting.structure_training import held_out_blocks, training_data

NORMAL_90 = 1.645


@cache
def flash_rows() -> tuple[dict[str, str], ...]:
    return reference("flash_point_pure.csv")


@cache
def material(smiles: str) -> Material:
    return material_from_smiles(smiles)


@cache
def observations() -> dict[str, list[tuple[str, float, bool]]]:
    """(SMILES, value, corroborated) by property, of held-out molecules only."""
    held_out = held_out_blocks()
    return {
        name: [(o.molecule.smiles, o.value, o.corroborated) for o in rows if o.block in held_out]
        for name, rows in training_data(held_out).items()
    }


def datum(made: Material, name: str) -> Datum:
    (found,) = made.accepted(name)
    return found


def test_no_reference_flash_point_was_fitted() -> None:
    held_out = held_out_blocks()
    assert {row["inchikey"][:14] for row in flash_rows()} <= held_out
    text = (Path(molecule_module.__file__).parent / "relatives.csv").read_text(encoding="utf-8")
    fitted = {row["smiles"] for row in csv.DictReader(text.splitlines())}
    assert len(fitted) > 2000
    assert {identity(smiles)[:14] for smiles in fitted}.isdisjoint(held_out)


def test_flash_points_held_out_Sun_2020_compilation() -> None:
    errors, inside = [], []
    for row in flash_rows():
        estimated = datum(material(row["smiles"]), "flash_point")
        error = estimated.value - (float(row["flash_C"]) + 273.15)
        errors.append(abs(error))
        assert estimated.uncertainty is not None
        inside.append(abs(error) <= NORMAL_90 * estimated.uncertainty)
    # an aim of 4.5 K on average is not reached from structure alone: 6.2 (of which 0.7 is
    # trimethylamine, whose reference value is that of a solution), median 4.1
    assert fmean(errors) < 6.5
    assert median(errors) < 4.5
    assert 0.85 <= fmean(inside) <= 0.95


def test_a_known_boiling_point_brings_the_flash_point_nearer_Sun_2020_compilation() -> None:
    """Rows whose own ratio to the boiling point is a sound one, 0.67 to 0.82."""
    boiling = {s: v for s, v, _ in observations()["boiling_point"]}
    by_structure = {identity(s): v for s, v in boiling.items()}
    alone, known = [], []
    for row in flash_rows():
        published_K = float(row["flash_C"]) + 273.15
        boiling_K = by_structure.get(identity(row["smiles"]))
        if boiling_K is None or not 0.67 < published_K / boiling_K < 0.82:
            continue
        told = material_from_smiles(row["smiles"], known_boiling_K=boiling_K)
        alone.append(abs(datum(material(row["smiles"]), "flash_point").value - published_K))
        known.append(abs(datum(told, "flash_point").value - published_K))
    print(
        f"{len(known)} rows: {fmean(alone):.2f} K from structure alone, {fmean(known):.2f} K with"
    )
    assert len(known) > 60
    assert fmean(known) < 4.5
    assert fmean(known) < fmean(alone)


def test_boiling_points_held_out_CRC_and_WebBook() -> None:
    rows = [(s, v) for s, v, two_sources in observations()["boiling_point"] if two_sources]
    errors = [abs(datum(material(s), "boiling_point").value - v) for s, v in rows]
    assert len(errors) > 50
    assert fmean(errors) < 8.0
    assert median(errors) < 4.0


def test_densities_held_out_CRC() -> None:
    errors = []
    for smiles, volume, _ in observations()["molar_volume"]:
        made = material(smiles)
        measured = 1e6 * made.molar_mass_kg_mol / volume
        errors.append(abs(datum(made, "density").value / measured - 1.0))
    assert len(errors) > 40
    assert fmean(errors) < 0.015


def test_vapour_pressures_held_out_Landolt_Boernstein() -> None:
    from blendwright.pure.structure.equations import vapour_curve

    boiling = {s: v for s, v, _ in observations()["boiling_point"]}
    errors = [
        abs(
            math.log10(
                datum(material(s), "vapour_pressure").value
                / vapour_curve(boiling[s], factor).pressure_Pa(298.15)
            )
        )
        for s, factor, near_room in observations()["vaporisation"]
        if near_room and s in boiling
    ]
    assert len(errors) > 20
    assert fmean(errors) < 0.2


@pytest.mark.parametrize(
    ("smiles", "why"),
    [
        ("", "empty"),
        ("CC(", "not a valid SMILES"),
        ("c1ccc", "not a valid SMILES"),
        ("CC O", "a space"),
        ("[Na+].[Cl-]", "a salt"),
        ("CC(=O)[O-]", "an ion"),
        ("O", "no carbon"),
        ("C", "heavy atoms"),
        ("C" * 80, "heavy atoms"),
        ("[Fe]", "Fe"),
        ("CCCl", "Cl"),
        ("[CH3]", "radical"),
        ("[13CH3]C", "isotopes"),
        ("C[N+](C)(C)CC([O-])=O", "no estimate covers"),
    ],
)
def test_what_is_not_covered_is_refused_in_words(smiles: str, why: str) -> None:
    with pytest.raises(StructureError, match=why):
        material_from_smiles(smiles)


def test_missing_toolkit_tells_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "rdkit", None)
    with pytest.raises(
        MissingExtraError, match=r"pip install 'blendwright\[structures\]'"
    ) as raised:
        material_from_smiles("CCO")
    assert isinstance(raised.value, BlendwrightError)


def test_spelling_does_not_matter() -> None:
    one, other = material_from_smiles("CCOC(=O)CCC"), material_from_smiles("O=C(CCC)OCC")
    assert one.smiles == other.smiles
    assert one.data == other.data
    assert one.inchikey == identity("C(CC)C(=O)OCC") == "OBNCKNCVKJNDBV-UHFFFAOYSA-N"


def test_identity_covers_what_the_estimates_do_not() -> None:
    assert identity("CC(=O)[O-].[Na+]") == "VMHLLURERBWHNL-UHFFFAOYSA-M"


def test_material_is_uncurated_and_complete() -> None:
    made = material_from_smiles("CCOC(=O)CCC", "an ester")
    assert (made.name, made.family, made.curated) == ("an ester", "from structure", False)
    assert made.formula == "C6H12O2"
    assert {d.property for d in made.data} == {
        "boiling_point", "melting_point", "heat_of_fusion", "vapour_pressure", "density",
        "flash_point", "lower_flammable_limit",
    }  # fmt: skip
    assert all(d.method == "estimated" and d.uncertainty and d.source for d in made.data)
    constants = pure_constants(made)
    assert constants.vapour is not None
    assert constants.flash.is_ok
    assert constants.fusion is not None


def test_larger_than_fitted_is_less_trusted() -> None:
    small, large = material("CCCCCCCC(=O)OCC"), material("CCCCCCCCCCCCCCCCCC(=O)OCCCCCCCCCCCC")
    narrow, wide = datum(small, "melting_point"), datum(large, "melting_point")
    assert narrow.uncertainty is not None
    assert wide.uncertainty is not None
    assert wide.uncertainty > narrow.uncertainty
    assert "trust it less" in large.note


@pytest.mark.parametrize(
    ("smiles", "groups"),
    [
        (
            "CCOC(=O)CCC",
            {
                "original": {1: 2, 2: 2, 22: 1},
                "dortmund": {1: 2, 2: 2, 22: 1},
                "liquid_liquid": {1: 2, 2: 2, 26: 1},
                "nist": {1: 2, 2: 2, 22: 1},
            },
        ),
        (  # the NIST set has an aromatic aldehyde of its own
            "COc1cc(C=O)ccc1O",
            {
                "original": {9: 3, 10: 2, 17: 1, 20: 1, 24: 1},
                "dortmund": {9: 3, 10: 2, 17: 1, 20: 1, 24: 1},
                "liquid_liquid": {9: 3, 10: 2, 18: 1, 21: 1, 27: 1},
                "nist": {9: 3, 10: 1, 17: 1, 24: 1, 123: 1},
            },
        ),
    ],
)
def test_groups(smiles: str, groups: dict[str, dict[int, int]]) -> None:
    assert material(smiles).groups == groups


def test_sulfides_are_renumbered_in_the_NIST_set() -> None:
    # 122 to 124 are sulfides in Dortmund, but a sulfone, an aldehyde and an acid in NIST
    made = material("CCCCSC")
    assert 122 in made.groups["dortmund"] or 123 in made.groups["dortmund"]
    assert not {122, 123, 124} & set(made.groups["nist"])


def test_estimates_stay_in_physical_bounds() -> None:
    for row in flash_rows():
        made = material(row["smiles"])
        assert 80.0 <= datum(made, "melting_point").value < datum(made, "boiling_point").value
        assert datum(made, "flash_point").value < datum(made, "boiling_point").value
        assert 0.0 < datum(made, "lower_flammable_limit").value < 0.2
        assert 550.0 <= datum(made, "density").value <= 1800.0
