"""How far the catalogue can be trusted: audit, search, influence, breadth, names."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue
from blendwright.mixture.weighing import resolve
from blendwright.pure.constants import pure_constants
from blendwright.questions.accuracy.influence import influences
from blendwright.questions.materials.audit import library_errors, summary, weaknesses
from blendwright.questions.materials.search import Wanted, find_materials

runner = CliRunner()


def test_breadth(catalogue: Catalogue) -> None:
    counts = summary(catalogue)
    assert counts["single substances"] >= 260
    assert counts["natural oils and extracts"] >= 40
    assert counts["materials"] >= 320


def test_most_substances_have_two_synonyms(catalogue: Catalogue) -> None:
    materials = [catalogue.material(name) for name in catalogue.names()]
    assert sum(len(m.names) >= 2 for m in materials) / len(materials) > 0.95


def test_audit_lists_estimates_disagreements_and_failed_checks(catalogue: Catalogue) -> None:
    kinds = {spot.kind for spot in weaknesses(catalogue)}
    assert kinds == {
        "estimated only", "from memory alone", "sources disagree", "check fails", "groups",
    }  # fmt: skip
    nootkatone = [s.what for s in weaknesses(catalogue) if s.material == "nootkatone"]
    assert any("flash point is 0.6" in what for what in nootkatone)
    done = runner.invoke(app, ["material", "audit", "--summary", "--json"])
    assert json.loads(done.stdout)["summary"]["materials"] == len(catalogue.names())
    assert runner.invoke(app, ["material", "audit"]).exit_code == 0


def test_library_errors_are_listed_with_the_reason(catalogue: Catalogue) -> None:
    found = {(e.material, e.property) for e in library_errors(catalogue)}
    for known in (
        ("farnesol", "boiling_point"),
        ("perillaldehyde", "boiling_point"),
        ("carvone", "melting_point"),
        ("2-methylbutyraldehyde", "melting_point"),
        ("triacetin", "vapour_pressure curve"),
    ):
        assert known in found
    assert all(error.reason for error in library_errors(catalogue))


def test_find_by_family_and_flash_point(catalogue: Catalogue) -> None:
    rows = find_materials(Wanted(family="ester", flash_below_C=40.0), catalogue)
    assert "ethyl acetate" in [row.material for row in rows]
    assert all(row.family == "esters" for row in rows)
    assert all(row.flash_point_C is not None and row.flash_point_C < 40 for row in rows)
    assert find_materials(Wanted(text="cineole"), catalogue)[0].material == "eucalyptol"


def test_find_exports_csv(tmp_path: Path) -> None:
    out = tmp_path / "found.csv"
    done = runner.invoke(app, ["material", "find", "--family", "lactone", "--output", str(out)])
    assert done.exit_code == 0
    with out.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) >= 11
    assert {row["family"] for row in rows} == {"lactones"}


def test_influences_come_largest_first(catalogue: Catalogue) -> None:
    found = influences(catalogue.find("ethyl acetate"), catalogue.find("propylene glycol"))
    assert {item.answer for item in found} >= {"flash point", "vapour pressure", "density"}
    sizes = [item.relative for item in found]
    assert sizes == sorted(sizes, reverse=True)
    flash = next(item for item in found if item.answer == "flash point")
    assert -6.0 < flash.change < -1.0


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("(-)-bornyl acetate", "bornyl acetate"),
        ("l-carvone", "carvone"),
        ("beta-damascenone, (e)-", "beta-damascenone"),
    ],
)
def test_names_of_isomers_resolve(catalogue: Catalogue, written: str, meant: str) -> None:
    assert resolve(written, catalogue).name == meant


def test_where_isomers_are_not_told_apart_the_note_says_so(catalogue: Catalogue) -> None:
    found = resolve("rac-linalool", catalogue)
    assert found.name == "linalool"
    assert "isomers are not told apart" in found.note


# Acids are dimers in the vapour: the slope of ln P is not their heat of vaporisation.
DIMERS = ("formic acid", "acetic acid", "propionic acid", "butyric acid", "isobutyric acid")


def test_slope_of_the_curve_is_the_heat_of_vaporisation(catalogue: Catalogue) -> None:
    """Clausius-Clapeyron against CRC Handbook heats of vaporisation at 298 K, within 10 %."""
    import chemicals

    path = (
        Path(chemicals.__file__).parent / "Phase Change" / "CRC Handbook Heat of Vaporization.tsv"
    )
    with path.open(encoding="utf-8") as handle:
        heats = {
            row["CAS"]: float(row["Hvap298"])
            for row in csv.DictReader(handle, delimiter="\t")
            if row["Hvap298"]
        }
    ratios = {}
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or material.cas not in heats or name in DIMERS:
            continue
        vapour = pure_constants(material).vapour
        assert vapour is not None
        ratios[name] = vapour.heat_of_vaporisation_J_mol(298.15) / heats[material.cas]
    assert len(ratios) >= 40
    assert {n: round(r, 3) for n, r in ratios.items() if not 0.9 < r < 1.1} == {}
    assert np.mean(list(ratios.values())) == pytest.approx(1.0, abs=0.02)


def test_structures_match_inchikeys_and_formulas(catalogue: Catalogue) -> None:
    """By rdkit, where the extra `structures` is installed: skeleton of the key, and formula."""
    from rdkit import Chem as chem  # noqa: N813
    from rdkit.Chem import rdMolDescriptors as descriptors  # noqa: N813

    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance":
            continue
        molecule = chem.MolFromSmiles(material.smiles)
        assert molecule is not None, name
        assert descriptors.CalcMolFormula(molecule) == material.formula, name
        assert chem.MolToInchiKey(molecule).split("-")[0] == material.inchikey.split("-")[0], name
