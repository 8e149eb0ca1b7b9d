"""One substance, one record: by every name, number and drawing, in any order, on every machine."""

from __future__ import annotations

import builtins
import csv
import random
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rdkit import Chem
from typer.testing import CliRunner

from blendwright import Formula, FormulaError, assess
from blendwright.app.cli.main import app
from blendwright.catalogue import Catalogue, Material, default_catalogue
from blendwright.catalogue.beyond import known_beyond, known_beyond_loosely, library_material
from blendwright.catalogue.names import LETTERS_PER_SLIP, cas_check_digit_is_right, normalise
from blendwright.catalogue.smiles import read_smiles
from blendwright.errors import (
    AmbiguousMaterialError,
    BlendwrightError,
    OutsideScopeError,
    StructureError,
    UnknownMaterialError,
)
from blendwright.mixture.weighing import resolve, weigh
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.materials.own import read_own_materials

OURS = default_catalogue()
DRAWN = [m.name for m in map(OURS.material, OURS.names()) if m.smiles]
WRITTEN = [(name, m.name) for m in map(OURS.material, OURS.names()) for name in (m.name, *m.names)]
Write = Callable[[str, bytes | str], Path]


def rows_of(file: str) -> list[dict[str, str]]:
    return list(csv.DictReader((OURS.folder / file).read_text(encoding="utf-8").splitlines()))


SOLD_AS = {row["material"]: row["sold_as"] for row in rows_of("isomers.csv")}


# Names and numbers


@given(chosen=st.sampled_from(WRITTEN), chance=st.randoms(use_true_random=False))
def test_a_name_is_found_however_it_is_dressed(
    chosen: tuple[str, str], chance: random.Random
) -> None:
    """Case, spaces, hyphens, and blanks around don't matter."""
    name, meant = chosen
    dressed = "".join(
        chance.choice((sign.upper(), sign.lower(), sign)) if sign not in " -" else
        chance.choice((" ", "-", ""))
        for sign in name
    )  # fmt: skip
    assert resolve(f" {dressed}  ", OURS) is OURS.material(meant)


def test_every_name_and_number_gives_the_one_record() -> None:
    for name, meant in WRITTEN:
        assert resolve(name, OURS) is OURS.material(meant), name
    for material in map(OURS.material, OURS.names()):
        if material.cas and material.cas not in SHARED:
            for prefix in ("", "CAS ", "CAS: ", "CAS No. ", "CAS-Nr. ", "cas#"):
                assert resolve(prefix + material.cas, OURS) is material
            assert (
                resolve(material.cas.replace("-", "‑"), OURS) is material
            )  # hyphens of a web page
        if material.fema:
            assert resolve(f"FEMA {material.fema}", OURS) is material
        if material.inchikey:
            assert resolve(material.inchikey, OURS) is material
            assert resolve(f"InChIKey={material.inchikey}", OURS) is material


SHARED = {
    cas
    for cas in (OURS.material(name).cas for name in OURS.names())
    if cas and sum(OURS.material(name).cas == cas for name in OURS.names()) > 1
}


def test_a_number_of_several_oils_is_asked_about_and_no_substance_shares_its_own() -> None:
    for cas in SHARED:
        with pytest.raises(AmbiguousMaterialError) as asked:
            resolve(cas, OURS)
        kinds = {OURS.material(name).kind for name in asked.value.choices}
        assert kinds <= {"natural_oil", "mixture"}, asked.value.choices


def test_numbers_of_isomers_lead_to_the_record_that_stands_for_them() -> None:
    own = {OURS.material(name).cas for name in OURS.names()}
    for row in rows_of("isomers.csv"):
        for cas in filter(None, row["cas"].split("|")):
            assert cas_check_digit_is_right(cas)
            assert cas not in own
            found = resolve(cas, OURS)
            assert found.name == row["material"]
            assert "isomers are not told apart" in found.note


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("VG", "glycerol"),
        ("vegetable glycerine", "glycerol"),
        ("PG", "propylene glycol"),
        ("propylene glycol USP", "propylene glycol"),
        ("DPG", "dipropylene glycol"),
        ("TEC", "triethyl citrate"),
        ("IPA", "isopropanol"),
        ("EtOH", "ethanol"),
        ("alcohol", "ethanol"),
        ("Alkohol", "ethanol"),
        ("grain alcohol", "ethanol"),
        ("rectified spirit 96 %", "ethanol 96 %"),
        ("Weingeist", "ethanol 96 %"),
        ("neutral grain spirit", "ethanol 96 %"),
        ("vodka", "ethanol 40 %"),
        ("MCT oil", "MCT oil"),
        ("fractionated coconut oil", "MCT oil"),
        ("distilled water", "water"),
        ("CAS 123-92-2", "isoamyl acetate"),
        ("wintergreen", "wintergreen oil"),
        ("orange", "sweet orange oil"),
        ("peppermint", "peppermint oil"),
        ("oil of cloves", "clove bud oil"),
        ("vaniline", "vanillin"),
        ("vanillin crystals", "vanillin"),
        ("natural vanillin", "vanillin"),
        ("Vanillin FCC", "vanillin"),
        ("Benzaldehyde FFC", "benzaldehyde"),
        ("d-limonene", "limonene"),
        ("(R)-linalool", "linalool"),
    ],
)
def test_shop_names(written: str, meant: str) -> None:
    found = resolve(written, OURS)
    assert found.name == meant
    assert found.curated


def test_vodka_is_40_percent_by_volume() -> None:
    made = weigh(Formula.from_rows([{"material": "vodka", "grams": 100}]), OURS)
    shares = dict(zip(made.composition.names, made.composition.mass_fractions, strict=True))
    assert shares["ethanol"] == pytest.approx(0.333, abs=0.001)  # OIML R 22: 33.30 % by mass


@pytest.mark.parametrize(
    ("written", "choices"),
    [
        ("mint", {"peppermint oil", "spearmint oil"}),
        ("clove", {"clove bud oil", "clove leaf oil"}),
        ("cinnamon", {"cinnamon bark oil", "cinnamon leaf oil"}),
        ("lime", {"distilled lime oil", "expressed lime oil"}),
        ("vanilla", {"vanillin", "ethyl vanillin"}),
        ("rubbing alcohol", {"isopropanol"}),
    ],
)
def test_a_name_of_several_things_is_asked_about(written: str, choices: set[str]) -> None:
    with pytest.raises(AmbiguousMaterialError) as asked:
        resolve(written, OURS)
    assert choices <= set(asked.value.choices)


def test_the_list_of_names_to_ask_about_is_alive() -> None:
    """Each choice is a record's own name, and no record goes by the name itself."""
    written = {normalise(name) for name, _ in WRITTEN}
    for row in rows_of("ambiguous_names.csv"):
        assert normalise(row["name"]) not in written, row
        assert set(row["choices"].split("|")) <= set(OURS.names()), row


# Structures


def drawings(smiles: str, chance: random.Random) -> Iterator[str]:
    """One structure drawn in many ways, by rdkit."""
    molecule = Chem.MolFromSmiles(smiles)
    yield Chem.MolToSmiles(molecule)
    for _ in range(3):
        Chem.rdBase.SeedRandomNumberGenerator(chance.randrange(1 << 30))
        yield Chem.MolToSmiles(molecule, doRandom=True)
    yield Chem.MolToSmiles(Chem.AddHs(molecule), doRandom=True)
    yield Chem.MolToSmiles(molecule, allBondsExplicit=True, allHsExplicit=True)
    Chem.Kekulize(molecule, clearAromaticFlags=True)
    yield Chem.MolToSmiles(molecule, kekuleSmiles=True, doRandom=True)


@pytest.mark.parametrize("with_rdkit", [True, False])
def test_every_drawing_gives_the_one_record(
    with_rdkit: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(1)
    drawn = {
        name: [OURS.material(name).smiles, *drawings(OURS.material(name).smiles, chance)]
        for name in DRAWN
    }
    if not with_rdkit:
        forbid_rdkit(monkeypatch)
    for name, texts in drawn.items():
        for smiles in texts:
            assert resolve(smiles, OURS) is OURS.material(name), (name, smiles)


def forbid_rdkit(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = builtins.__import__

    def no_rdkit(name: str, *rest: Any, **more: Any) -> Any:
        if name.startswith("rdkit"):
            raise ImportError(name)
        return plain(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", no_rdkit)


def test_a_drawing_without_stereo_marks_is_the_form_sold_most_or_is_asked_about() -> None:
    for name in DRAWN:
        flat = Chem.MolToSmiles(Chem.MolFromSmiles(OURS.material(name).smiles), False)
        found, choices = found_or_asked(flat)
        if found is None:
            assert name in choices
        elif found.name != name:
            drawn = read_smiles(found.smiles)
            has_marks = bool(drawn.centres or drawn.double_bonds)
            assert SOLD_AS.get(found.name) == "plain" or not has_marks, (name, found.name)
        else:
            assert found.data == OURS.material(name).data


def found_or_asked(smiles: str) -> tuple[Material | None, tuple[str, ...]]:
    try:
        return resolve(smiles, OURS), ()
    except AmbiguousMaterialError as asked:
        return None, asked.choices


def test_another_isomer_is_never_taken_for_a_record_in_silence() -> None:
    """All double bonds turned: another record, none, or a mixture of isomers that says so."""
    turned = 0
    for name in DRAWN:
        molecule = Chem.MolFromSmiles(OURS.material(name).smiles)
        double = [bond for bond in molecule.GetBonds() if bond.GetStereo() in SIDES]
        for bond in double:
            bond.SetStereo(SIDES[bond.GetStereo()])
        if not double:
            continue
        turned += 1
        try:
            found = OURS.find(Chem.MolToSmiles(molecule))
        except UnknownMaterialError:
            continue
        assert found.name != name or SOLD_AS.get(name) == "mixture", name
        assert found.name != name or "isomers are not told apart" in found.note
    assert turned > 50


SIDES = {
    Chem.BondStereo.STEREOE: Chem.BondStereo.STEREOZ,
    Chem.BondStereo.STEREOZ: Chem.BondStereo.STEREOE,
    Chem.BondStereo.STEREOCIS: Chem.BondStereo.STEREOTRANS,
    Chem.BondStereo.STEREOTRANS: Chem.BondStereo.STEREOCIS,
}


@pytest.mark.parametrize(
    ("smiles", "meant"),
    [
        ("CC(C)=CCC/C(C)=C\\CO", "nerol"),
        ("CC(C)=CCC/C(C)=C/CO", "geraniol"),
        ("CC(C)[C@@H]1CC[C@@H](C)C[C@H]1O", "menthol"),
        ("CC(C)[C@H]1CC[C@H](C)C[C@@H]1O", "menthol"),  # its mirror image
        ("CC(C)[C@@H]1CC[C@@H](C)C[C@@H]1O", "neomenthol"),
        ("CC(C)C1CCC(C)CC1O", "menthol"),
        ("O=C/C=C(/C)CCC=C(C)C", "citral"),  # neral: sold with geranial
        ("OCc1ccccc1", "benzyl alcohol"),
        ("c1ccccc1CO", "benzyl alcohol"),
        ("OCC1=CC=CC=C1", "benzyl alcohol"),
    ],
)
def test_isomers_are_told_apart_by_their_drawing(smiles: str, meant: str) -> None:
    assert resolve(smiles, OURS).name == meant


def test_menthol_s_crystals_are_not_lost_whatever_it_is_asked_by() -> None:
    for written in ("menthol", "2216-51-5", "CC(C)C1CCC(C)CC1O", "l-menthol", "89-78-1"):
        rows = [{"material": written, "grams": 50}, {"material": "water", "grams": 50}]
        made = assess(Formula.from_rows(rows))
        assert (
            made.dissolution
            == assess(Formula.from_rows([{**rows[0], "material": "menthol"}, rows[1]])).dissolution
        )


@pytest.mark.parametrize(
    "text", ["", "C1CC", "C(", "C)", "CC=", "c1ccc", "C[", "(C)C", "C(C)(C)(C)(C)C", "hello", "C C"]
)
def test_what_is_no_smiles_is_no_smiles(text: str) -> None:
    with pytest.raises(StructureError):
        read_smiles(text)


def test_the_reader_counts_atoms_as_rdkit_does() -> None:
    """Over structures that nobody drew for us: the library's, a sample of its long list."""
    for known in library_sample():
        molecule = Chem.MolFromSmiles(known)
        if molecule is None:
            continue
        atoms: dict[str, int] = {}
        for atom in Chem.AddHs(molecule).GetAtoms():
            atoms[atom.GetSymbol()] = atoms.get(atom.GetSymbol(), 0) + 1
        for smiles in (known, Chem.MolToSmiles(molecule)):
            assert dict(read_smiles(smiles).elements) == atoms, smiles


@cache
def library_sample() -> tuple[str, ...]:
    from chemicals import identifiers

    with open(identifiers.pubchem_db.main_db, encoding="utf-8") as file:
        lines = [line.split("\t")[4] for line in file]
    return tuple(random.Random(4).sample([line for line in lines if "[te]" not in line], 1500))


# In any order, on every road

ASKED = (
    "vaniline", "vanillin", "alcohol", "toluene", "methylbenzene", "108-88-3", "Cc1ccccc1",
    "OCc1ccccc1", "polysorbate 80", "dl-menthol", "5989-27-5", "vannilin", "mustard", "juice",
    "cis-2-hexenal", "amyl acetate", "neral", "pentyl acetate",
)  # fmt: skip


def answer(written: str, catalogue: Catalogue) -> tuple[str, ...]:
    try:
        found = resolve(written, catalogue)
    except BlendwrightError as error:
        return type(error).__name__, str(error)
    return found.name, found.cas, found.note, str(found.curated), str(found.data)


@settings(max_examples=5)
@given(order=st.permutations(ASKED))
def test_the_answer_does_not_depend_on_what_was_asked_before(order: list[str]) -> None:
    for remembered in (known_beyond, known_beyond_loosely, library_material):
        remembered.cache_clear()
    fresh = Catalogue(OURS.folder)
    assert {name: answer(name, fresh) for name in order} == alone()


@cache
def alone() -> dict[str, tuple[str, ...]]:
    return {name: answer(name, Catalogue(OURS.folder)) for name in ASKED}


def test_every_name_of_a_substance_of_the_library_is_one_material() -> None:
    found = [resolve(name, OURS) for name in ("toluene", "methylbenzene", "108-88-3", "Toluol")]
    assert all(one is found[0] for one in found)
    assert not OURS.index.has(found[0].name)


def test_rows_of_one_substance_under_several_names_are_one_substance() -> None:
    names = ("vaniline", "COc1cc(C=O)ccc1O", "121-33-5", "4-hydroxy-3-methoxybenzaldehyde")
    rows = [{"material": name, "grams": 1} for name in names]
    made = weigh(Formula.from_rows([*rows, {"material": "PG", "grams": 9}]), OURS)
    assert made.composition.names == ("vanillin", "propylene glycol")
    assert made.rows[0].grams == pytest.approx(4.0)


def test_a_row_of_unknown_name_is_known_by_its_number_or_structure() -> None:
    for column, text in (("cas", "123-92-2"), ("smiles", "CC(=O)OCCC(C)C")):
        row = {"material": "house banana 7", "grams": 1, column: text}
        assert weigh(Formula.from_rows([row]), OURS).rows[0].material.name == "isoamyl acetate"


@pytest.mark.parametrize(
    ("column", "right", "wrong"),
    [
        ("cas", ("138-86-3", "5989-27-5", "CAS 5989-27-5"), "80-56-8"),
        ("smiles", ("CC1=CCC(CC1)C(C)=C", "CC1=CC[C@@H](CC1)C(=C)C"), "CC1=CCC2CC1C2(C)C"),
    ],
)
def test_a_name_and_a_number_or_structure_must_agree(
    column: str, right: tuple[str, ...], wrong: str
) -> None:
    for text in right:
        row = {"material": "limonene", "grams": 1, column: text}
        assert weigh(Formula.from_rows([row]), OURS).rows[0].material.name == "limonene"
    row = {"material": "limonene", "grams": 1, column: wrong}
    with pytest.raises(FormulaError, match=f"column {column}: 'limonene' is limonene"):
        weigh(Formula.from_rows([row]), OURS)


HEADER = "material,property,value,unit,source\n"


@pytest.mark.parametrize(
    "rows",
    [
        "vaniline,flash_point,150,°C,sheet",
        "house vanillin,cas,121-33-5,,\nhouse vanillin,flash_point,150,°C,sheet",
        "house vanillin,smiles,O=Cc1ccc(O)c(OC)c1,,\nhouse vanillin,flash_point,150,°C,sheet",
        "vanillin,cas,121-33-5,,\nvaniline,flash_point,150,°C,sheet",
    ],
)
def test_own_values_reach_the_record_whatever_they_call_it(write: Write, rows: str) -> None:
    both = read_own_materials(write("own.csv", HEADER + rows + "\n"), OURS)
    assert both.own_names() == ("vanillin",)
    called = rows.split(",")[0]
    for name in ("vanillin", called, "121-33-5", "COc1cc(C=O)ccc1O"):
        found = resolve(name, both)
        assert found.name == "vanillin"
        (flash,) = found.accepted("flash_point")
        assert flash.value - 273.15 == pytest.approx(150.0)
        assert found.groups == OURS.material("vanillin").groups


def test_own_names_and_numbers_that_contradict_are_a_problem_of_the_row(write: Write) -> None:
    path = write("own.csv", HEADER + "vanillin,cas,121-32-4,,\nvanillin,density,1.2,g/mL,sheet\n")
    with pytest.raises(FormulaError, match=r"row 2, column value: 'vanillin' is vanillin"):
        read_own_materials(path, OURS)


# What can't be calculated here


def test_every_listed_name_is_refused_in_a_plain_sentence() -> None:
    for row in rows_of("outside_names.csv"):
        numbers = [cas for cas in row["cas"].split("|") if cas]
        longer = [f"pure {row['name']} A7"] if row["match"] == "word" else []
        for written in (row["name"], row["name"].upper(), *numbers, *longer):
            refused_plainly(written)
        assert all(map(cas_check_digit_is_right, numbers)), row


def refused_plainly(written: str) -> OutsideScopeError:
    with pytest.raises(OutsideScopeError) as refused:
        resolve(written, OURS)
    text = str(refused.value)
    assert text.startswith(f"{written!r} is a")
    assert "Leave it out" in text
    assert "your own materials" in text
    return refused.value


@pytest.mark.parametrize(
    ("written", "what"),
    [
        ("Tween 80", "emulsifier"),
        ("polysorbate 20", "emulsifier"),
        ("soy lecithin", "emulsifier"),
        ("mono- and diglycerides", "emulsifier"),
        ("gum arabic", "gum"),
        ("xanthan gum", "gum"),
        ("Gummi arabicum", "gum"),
        ("whey protein", "gum, starch, protein"),
        ("sucrose", "sugar"),
        ("D-glucose", "sugar"),
        ("glucose syrup", "sugar"),
        ("maple syrup", "sugar"),
        ("sorbitol", "sugar"),
        ("OCC1OC(O)C(O)C(O)C1O", "sugar"),
        ("salt", "salt"),
        ("sodium chloride", "salt"),
        ("sodium benzoate", "salt"),
        ("7647-14-5", "salt"),
        ("[Na+].OC(=O)c1ccccc1", "salt"),
        ("CC(=O)[O-]", "salt"),
        ("hydrogen peroxide", "inorganic"),
        ("bromobenzene", "element"),
        ("C[Si](C)(C)C", "element"),
        ("tripalmitin", "600 g/mol"),
        ("olive oil", "fat"),
        ("hop extract", "extract"),
    ],
)
def test_classes_that_are_refused(written: str, what: str) -> None:
    assert what in str(refused_plainly(written))


def test_an_own_base_of_a_refused_name_is_accepted(write: Write) -> None:
    rows = "polysorbate 80,density,1.07,g/mL,sheet\npolysorbate 80,flash_point,150,°C,sheet\n"
    both = read_own_materials(write("own.csv", HEADER + rows), OURS)
    assert resolve("Polysorbate 80", both).is_undisclosed


def test_no_odorant_of_the_references_is_refused() -> None:
    names = {row["name"] for row in reference("flash_point_pure.csv")}
    names |= {row["name"] for row in reference("vapour_pressure_pure.csv") if "name" in row}
    assert [name for name in names if OURS.outside.class_of_name(name)] == []


@pytest.mark.parametrize(
    "word",
    ["mimosa", "beet", "broom", "chamomile", "juice", "punch", "green", "wormwood", "boldo"],
)
def test_plain_words_are_no_substances_though_the_library_says_so(word: str) -> None:
    """The library has mustard gas for mustard, and bromine for broom."""
    with pytest.raises(UnknownMaterialError):
        resolve(word, OURS)


# Suggestions


def is_near(written: str, name: str) -> bool:
    """By brute force: edit distance of the whole name, a beginning, or all of the words."""
    one, other = normalise(written), normalise(name)
    distance = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        row = [i]
        for j, theirs in enumerate(other, start=1):
            row.append(min(distance[j] + 1, row[-1] + 1, distance[j - 1] + (letter != theirs)))
        distance = row
    swaps = len(one) // LETTERS_PER_SLIP  # a swap counts one here, two in this distance
    words = [normalise(word) for word in written.replace("-", " ").split()]
    return (
        distance[-1] <= len(one) // LETTERS_PER_SLIP + swaps
        or other.startswith(one)
        or all(word in other for word in words)
    )


@given(text=st.text(alphabet="abcdefghilmnoprtuvxyz -", min_size=1, max_size=16))
def test_only_near_names_are_suggested(text: str) -> None:
    for name in OURS.index.suggest(text):
        assert is_near(text, name), (text, name)
    assert len(OURS.index.suggest(text)) <= 3


@pytest.mark.parametrize("written", ["Total", "vodkaa b", "nosuch", "unobtainium oil", "xyz", "1"])
def test_what_is_far_from_everything_gets_no_suggestion(written: str) -> None:
    with pytest.raises(UnknownMaterialError) as unknown:
        resolve(written, OURS)
    assert unknown.value.suggestions == ()


@given(chosen=st.sampled_from(WRITTEN), chance=st.randoms(use_true_random=False))
def test_one_slip_of_the_pen_in_a_longer_name_finds_it_or_suggests_near_ones(
    chosen: tuple[str, str], chance: random.Random
) -> None:
    name, meant = chosen
    if len(normalise(name)) < 6 or any(sign.isdigit() for sign in name):
        return
    place = chance.randrange(len(name))
    slipped = name[:place] + name[place + 1 :]
    near = OURS.index.suggest(slipped)
    owners = {OURS.index.get(one) for one in near if one not in ASKED_ABOUT}
    assert OURS.index.has(slipped) or meant in owners or len(near) == 3


ASKED_ABOUT = {row["name"] for row in rows_of("ambiguous_names.csv")}


def test_a_wrong_cas_number_says_that_it_is_none() -> None:
    with pytest.raises(UnknownMaterialError, match="last digit"):
        resolve("CAS 123-92-3", OURS)


def test_material_suggests_as_assess_does() -> None:
    for written in ("vannilin", "nosuch", "hexenyl butyrate", "gum arabic"):
        shown = CliRunner().invoke(app, ["material", written])
        assessed = CliRunner().invoke(app, ["assess", "--row", f"{written}=1"])
        assert shown.exit_code == assessed.exit_code == 2
        said = shown.stderr.strip().removeprefix("blendwright: ")
        assert said in assessed.stderr


@pytest.mark.parametrize(
    ("column", "told"), [("smiles", "CCCCCCCO"), ("cas", "111-70-6")], ids=["structure", "number"]
)
def test_a_structure_or_number_chooses_among_the_materials_of_an_open_name(
    column: str, told: str, catalogue: Catalogue
) -> None:
    row = {"material": "heptanol", column: told, "grams": 1.0}
    assert weigh(Formula.from_rows([row]), catalogue).rows[0].material.name == "1-heptanol"


def test_a_structure_that_an_open_name_can_not_mean_chooses_nothing(catalogue: Catalogue) -> None:
    row = {"material": "heptanol", "smiles": "CCO", "grams": 1.0}
    with pytest.raises(FormulaError, match="several materials"):
        weigh(Formula.from_rows([row]), catalogue)
