"""Names that spell out a structure, against structures that were written down apart from them."""

from __future__ import annotations

import random

import pytest

from blendwright.catalogue import Catalogue
from blendwright.catalogue.isomers import agreement
from blendwright.catalogue.library_names import Known, _long_list, _read
from blendwright.catalogue.name_parts import structure_of_name, trade_structure
from blendwright.catalogue.smiles import read_smiles
from blendwright.errors import StructureError
from blendwright.mixture.weighing import resolve

# a synonym that is in use, and spells out the straight acid
MISNAMED = {"isobutyl 3-methylpropanoate"}
LIBRARY_AGREES = 0.98  # the rest are mostly lines of the library that give a name to another thing


def is_one_substance(one: str, other: str) -> bool:
    return agreement(read_smiles(one), read_smiles(other)) is not None


def test_no_name_of_the_catalogue_spells_out_another_substance(catalogue: Catalogue) -> None:
    read = 0
    for name in catalogue.names():
        material = catalogue.material(name)
        if material.kind != "substance" or not material.smiles:
            continue
        for written in (material.name, *material.names):
            spelled = structure_of_name(written)
            if spelled is None or written in MISNAMED:
                continue
            read += 1
            assert is_one_substance(spelled, material.smiles), f"{written}: {spelled}"
    assert read > 1_400  # a reader that reads nothing would pass


def test_the_library_s_names_spell_out_its_structures() -> None:
    chance = random.Random(19)
    read, wrong = 0, []
    with _long_list().path.open(encoding="utf-8") as file:
        for line in file:
            if chance.random() > 0.1:
                continue
            known: Known = _read(line)
            for name in known.names[:40]:
                spelled = structure_of_name(name)
                if spelled is None:
                    continue
                read += 1
                try:
                    if not is_one_substance(spelled, known.smiles):
                        wrong.append((name, spelled, known.smiles))
                except StructureError:
                    wrong.append((name, spelled, known.smiles))
    print(f"{read} names read, {len(wrong)} not as the library has them: {wrong[:20]}")
    assert read > 1_500
    assert 1.0 - len(wrong) / read >= LIBRARY_AGREES


@pytest.mark.parametrize(
    "open_place",
    ["hexenal", "decadienal", "methylhexanol", "hexanone", "dimethylpyrazine", "2-hexenyl",
     "3-oxobutanoate", "1,1,1,1,1-pentamethylpropane", "2-methyl-2-methyl-2-methylbutanal",
     "propane-1,2,3-triyl acetate", "orange oil", ""],
)  # fmt: skip
def test_a_name_that_leaves_a_place_open_or_is_no_whole_spells_out_nothing(open_place: str) -> None:
    assert structure_of_name(open_place) is None


@pytest.mark.parametrize(
    ("written", "structure"),
    [
        ("(E,Z)-2,6-nonadienal", r"O=C/C=C/CC/C=C\CC"),
        ("trans-2,trans-4-decadienal", "O=C/C=C/C=C/CCCCC"),
        ("cis-3-hexenyl tiglate", r"CC/C=C\CCOC(=O)C(C)=CC"),
    ],
)
def test_marks_of_double_bonds_are_kept(written: str, structure: str) -> None:
    spelled = structure_of_name(written)
    assert spelled is not None
    marks = agreement(read_smiles(spelled), read_smiles(structure))
    assert marks is not None
    assert marks.is_exact


def test_a_substance_known_by_its_spelled_name_only_says_how_it_was_read(
    catalogue: Catalogue,
) -> None:
    found = resolve("furfuryl isovalerate", catalogue)
    assert found.name == "furfuryl isovalerate"
    assert "structure as its name spells it out" in found.note
    assert resolve("ethyl butanoate, natural", catalogue).name == "ethyl butyrate"


def test_the_ring_of_omega_pentadecalactone_has_fifteen_carbons(catalogue: Catalogue) -> None:
    assert trade_structure("omega-Pentadecalactone") is not None
    assert resolve("omega-pentadecalactone", catalogue).formula == "C15H28O2"


def test_isobornyl_formate_is_not_bornyl_formate(catalogue: Catalogue) -> None:
    assert resolve("isobornyl formate", catalogue).cas == "1200-67-5"
    assert resolve("bornyl formate", catalogue).cas == "7492-41-3"
