"""Names beyond the catalogue: what the library's own search finds, without its memory."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from blendwright.catalogue import default_catalogue, names
from blendwright.catalogue.beyond import beyond_catalogue, known_beyond, known_beyond_loosely
from blendwright.catalogue.library_names import (
    Known,
    by_cas,
    by_inchikey,
    by_name,
    cas_of_loose_name,
    loose,
)
from blendwright.catalogue.material import atoms
from blendwright.errors import UnknownMaterialError
from blendwright.mixture.weighing import resolve

MOST_MiB = 250  # of a whole `assess` with one typo; it was 628 with the library's own search


@pytest.fixture(scope="module")
def library() -> Any:
    """The library's own search, all of its lists read, apart from the one that we ask."""
    from chemicals import identifiers

    whole = identifiers.ChemicalMetadataDB()
    whole.finish_loading()
    return whole


def _same(known: Known | None, found: Any) -> bool:
    """Told apart by all but the list of names, which the library itself changes as it loads."""
    if known is None or not found:
        return known is None and not found
    return (known.cas, known.formula, known.molar_mass_g_mol, known.smiles, known.inchikey) == (
        found.CASs, found.formula, found.MW, found.smiles, found.InChI_key
    )  # fmt: skip


def _slip(name: str, chance: random.Random) -> str:
    place = chance.randrange(len(name))
    return name[:place] + name[place + 1 :]


def test_names_and_slips_find_what_the_library_finds(library: Any) -> None:
    chance = random.Random(1)
    written = [n for n in chance.sample(list(library.name_index), 600) if n == n.casefold()]
    written += [_slip(name, chance) for name in written[:200] if name]
    hits = [name for name in written if name in library.name_index]
    assert 400 < len(hits) < len(written)  # misses are among them
    wrong = [n for n in written if not _same(by_name(n), library.name_index.get(n))]
    assert wrong == []


def test_cas_numbers_and_keys_find_what_the_library_finds(library: Any) -> None:
    for found in random.Random(2).sample(list(library.CAS_index.values()), 300):
        assert _same(by_cas(found.CASs), found)
        last = library.InChI_key_index[found.InChI_key]
        assert _same(by_inchikey(found.InChI_key), last)
    assert by_cas("999999-99-9") is None
    assert by_inchikey("AAAAAAAAAAAAAA-AAAAAAAAAA-N") is None


def test_loose_names_find_all_that_the_library_has(library: Any) -> None:
    signs = str.maketrans("", "", " -,()[]{}'\"")
    owners: dict[str, set[str]] = {}
    metals: set[str] = set()  # whose names the library itself changes as it loads
    has_carbon = cache(lambda formula: "C" in atoms(formula))
    for name, found in library.name_index.items():
        plain = name.translate(signs)
        owners.setdefault(plain, set()).add(found.CASs)
        if not has_carbon(found.formula):
            metals.add(plain)
    owners = {name: cas for name, cas in owners.items() if name not in metals}
    several = [name for name, cas in owners.items() if len(cas) > 1]
    chance = random.Random(3)
    for name in chance.sample(sorted(owners), 300) + chance.sample(sorted(several), 300):
        if name == loose(name):  # ß and the like are never asked for
            assert cas_of_loose_name(name) == owners[name], name


@pytest.mark.parametrize(
    ("written", "cas"),
    [
        ("tetradecahydroanthracene", "6596-35-6"),
        ("sucrose", "57-50-1"),
        ("57-50-1", "57-50-1"),
        ("InChIKey=CZMRCDWAGMRECN-UHFFFAOYSA-N", "57-50-1"),
    ],
)
def test_known_substances_are_found(written: str, cas: str) -> None:
    found = beyond_catalogue(written)
    assert found is not None
    assert found.cas == cas
    assert not found.curated


def test_a_loose_name_is_found_and_an_unknown_one_is_not() -> None:
    found = known_beyond_loosely("Tetradecahydro Anthracene")
    assert found is not None
    assert found.cas == "6596-35-6"
    assert resolve("Tetradecahydro Anthracene", default_catalogue()).name == (
        "tetradecahydroanthracene"
    )
    assert known_beyond_loosely("zzkrumbolium") is None


def test_a_batch_asks_once_for_each_unknown_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows of other strengths have another place on the shelf, but the name is looked up once."""
    catalogue = default_catalogue()
    asked: list[str] = []
    likes_of = names.NameIndex._likes_of

    def counting(self: names.NameIndex, name: str) -> Any:
        asked.append(name)
        return likes_of(self, name)

    monkeypatch.setattr(names.NameIndex, "_likes_of", counting)
    before = known_beyond.cache_info().misses
    for _ in range(5):
        with pytest.raises(UnknownMaterialError):
            resolve("zzkrumboliumoxid", catalogue)
    assert asked == ["zzkrumboliumoxid"]
    assert known_beyond.cache_info().misses == before + 1


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads Linux's peak memory")
def test_one_typo_stays_within_memory(tmp_path: Path) -> None:
    """The peak of a process of its own. Not getrusage, whose peak counts the parent's from exec."""
    typo = tmp_path / "typo.csv"
    typo.write_text("material,grams\nethanol,10\nzzkrumbolium,0.1\n", encoding="utf-8")
    code = (
        "import pathlib, sys\n"
        "from blendwright.app.cli.main import main\n"
        "sys.argv = ['blendwright', 'assess', sys.argv[1]]\n"
        "try:\n"
        "    main()\n"
        "except SystemExit as left:\n"
        "    assert left.code == 2, left.code\n"
        "print(pathlib.Path('/proc/self/status').read_text())\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(typo)], capture_output=True, text=True, check=True
    )
    assert "unknown material 'zzkrumbolium'" in run.stderr
    peak = re.search(r"VmHWM:\s+(\d+) kB", run.stdout)
    assert peak
    assert int(peak.group(1)) / 1024 < MOST_MiB
