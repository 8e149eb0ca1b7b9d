"""What is said of substances that nobody curated, judged on what was never fitted to."""

from __future__ import annotations

import pytest

from blendwright.catalogue import Catalogue, default_catalogue
from blendwright.pure.structure import identity
from blendwright.questions.accuracy import boiling_points, odorants, vapour_pressures
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.structure_left_out import from_structure_unseen
from fitting.structure_training import held_out_blocks


def test_the_odorants_of_the_reference_are_distinct_molecules_with_a_source_each() -> None:
    rows = reference("odorants.csv")
    assert len(rows) >= 300
    assert len({identity(row["smiles"]) for row in rows}) == len(rows)
    assert all("10.1186/s12868-016-0287-2" in row["source"] for row in rows)


def test_a_name_that_leads_to_another_molecule_would_count_as_missed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    swapped = (
        {"name": "anethole", "smiles": "CC=CC1=CC=C(C=C1)OC"},
        {"name": "anethole", "smiles": "C=CCC1=CC=C(C=C1)OC"},  # estragole
        {"name": "no such odorant", "smiles": "C=CCC1=CC=C(C=C1)OC"},
    )
    monkeypatch.setattr(odorants, "reference", lambda _: swapped)
    found = odorants.found_by_name()
    assert (found.hits, found.n) == (1, 3)
    assert found.missed == ("anethole (found as anethole)", "no such odorant")


def test_salt_and_iodine_are_refused_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = (
        {"name": "iodine", "smiles": "II"},
        {"name": "water", "smiles": "O"},  # it has no flash point since it does not burn
        {"name": "heptanol", "smiles": "CCCCCCCO"},  # the structure says which
    )
    monkeypatch.setattr(odorants, "reference", lambda _: rows)
    found = odorants.fully_estimated()
    assert (found.hits, found.missed) == (2, ("iodine (refused)",))


def test_every_substance_with_a_structure_has_an_estimate_that_has_not_seen_it() -> None:
    catalogue: Catalogue = default_catalogue()
    lacking = [
        name
        for name in catalogue.names()
        if (material := catalogue.material(name)).kind == "substance"
        and not material.is_water
        and set(material.formula) <= set("CHONS0123456789")
        and material.smiles
        and from_structure_unseen(material) is None
    ]
    assert len(lacking) <= 5, lacking
    assert held_out_blocks()


def test_boiling_points_are_judged_by_values_that_were_read_themselves() -> None:
    sources = default_catalogue().sources
    judged = boiling_points.published()
    assert len(judged) > 500
    for one in judged:
        kept = [sources[d.source] for d in one.material.accepted("boiling_point")]
        assert any(s.address and s.read in boiling_points.READ_ITSELF for s in kept)


def test_an_estimate_that_has_not_seen_the_molecule_is_no_copy_of_its_published_value() -> None:
    errors = [abs(case.error) for case in boiling_points.structure_cases()]
    assert sum(error < 0.05 for error in errors) < 0.05 * len(errors)


def test_both_vapour_pressure_estimates_are_judged_by_one_set_of_published_values() -> None:
    alone = {case.name for case in vapour_pressures.structure_cases()}
    assert alone <= {case.name for case in vapour_pressures.uncalibrated()}
    assert len(alone) > 300
