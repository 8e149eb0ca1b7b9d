"""What the `chemicals` library calls a substance: by name, CAS number or InChIKey.

The library's own search reads its whole list of names (43 MB of text) into dictionaries: 170 MiB
and two seconds. Here the same file is read once, a block at a time, and only a 64-bit hash of each
field is kept (10 MB); a line is read again, and its fields are compared in full, where a hash fits.
The library's short lists (elements, ions, common substances) are searched by the library itself,
and come first, as there. Nothing is written to disk; the data stay the library's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from blendwright.catalogue.names import is_prefixed_isomer

LOOSE_SIGNS = " -,()[]{}'\""  # left out of names that are compared loosely
BLOCK_BYTES = 1 << 18  # read at once; common practice, no source
_SIGNS_OUT = str.maketrans("", "", LOOSE_SIGNS)
_FIRST_NAME = 7  # fields of a line: PubChem number, CAS, formula, MW, SMILES, InChI, key, names...

_Hashes = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Known:
    """One substance of the library; `names` are all that it has, in the library's order."""

    cas: str
    formula: str
    molar_mass_g_mol: float
    smiles: str
    inchikey: str
    common_name: str
    names: tuple[str, ...]


def by_name(name: str) -> Known | None:
    """The substance of exactly this name, in lower case; None without.

    A line that goes by the name of an isomer too (7492-41-3 is "bornyl formate" and "isobornyl
    formate" there) gives way to one that doesn't.
    """
    found = _short_lists().search_name(name, autoload=False)
    if found:
        return _known(found)
    own = _last(name, lambda known: name in _as_searched(known) and not _is_also(known, name))
    return own or _last(name, lambda known: name in _as_searched(known))


def by_cas(cas: str) -> Known | None:
    """The substance of a CAS number with its hyphens; None without."""
    found = _short_lists().search_CAS(_cas_number(cas), autoload=False)
    if found:
        return _known(found)
    # as the library does, compare numbers: leading zeros don't count
    return _last(str(_cas_number(cas)), lambda known: _cas_number(known.cas) == _cas_number(cas))


def by_inchikey(inchikey: str) -> Known | None:
    """The substance of a full InChIKey; None without."""
    found = _short_lists().search_InChI_key(inchikey, autoload=False)
    return _known(found) if found else _last(inchikey, lambda known: known.inchikey == inchikey)


def cas_of_loose_name(name: str) -> frozenset[str]:
    """CAS numbers of all substances with a name that differs in LOOSE_SIGNS only."""
    wanted = loose(name)
    names, cas, hashes = _short_names()
    found = {
        names[place]: cas[names[place]]
        for place in np.flatnonzero(hashes == hash(_key(wanted)))
        if loose(names[place]) == wanted
    }
    for known in _long_list().lines_with(wanted):
        for spelling in _as_searched(known):
            if spelling not in cas and spelling.translate(_SIGNS_OUT) == wanted:
                found[spelling] = known.cas  # of two lines with one name the later one has it
    return frozenset(found.values())


def loose(name: str) -> str:
    """A name without case and without what LOOSE_SIGNS are.

    >>> loose("2-Ethyl-3,5(6)-dimethylpyrazine")
    '2ethyl356dimethylpyrazine'
    """
    return name.casefold().translate(_SIGNS_OUT)


def _as_searched(known: Known) -> set[str]:
    return {*known.names, *(name.lower() for name in known.names)}


def _is_also(known: Known, name: str) -> bool:
    """Whether a name is that of another of its names with iso, neo, epi or allo before it."""
    return any(is_prefixed_isomer(name, other) for other in known.names)


def _cas_number(cas: str) -> int:
    return int(cas.replace("-", ""))


def _key(text: str) -> bytes:
    """What is hashed of a field."""
    return text.lower().encode().translate(None, LOOSE_SIGNS.encode())


def _last(field: str, is_it: Callable[[Known], bool]) -> Known | None:
    """The last line of the long list that fits, as the library has it."""
    return next((k for k in reversed(list(_long_list().lines_with(field))) if is_it(k)), None)


@cache
def _short_lists() -> Any:
    """The short lists in a search of our own. The library's shared one finds more, and other
    things, once any other call has made it read its long list."""
    from chemicals import identifiers

    search: Any = identifiers.ChemicalMetadataDB
    return search()


@cache
def _short_names() -> tuple[list[str], dict[str, str], _Hashes]:
    """The names of the short lists, the CAS number of each, and their hashes."""
    cas = {name: str(found.CASs) for name, found in _short_lists().name_index.items()}
    names = list(cas)
    return names, cas, _hashes(_key("\n".join(names)).split(b"\n"))


def _known(found: Any) -> Known:
    return Known(
        cas=str(found.CASs),
        formula=str(found.formula or ""),
        molar_mass_g_mol=float(found.MW),
        smiles=str(found.smiles or ""),
        inchikey=str(found.InChI_key or ""),
        common_name=str(found.common_name or ""),
        names=tuple(found.synonyms),
    )


def _hashes(fields: list[bytes]) -> _Hashes:
    return np.fromiter(map(hash, fields), np.int64, len(fields))


@dataclass(frozen=True)
class _LongList:
    """The file of the long list: where each line starts, and the hash of each field."""

    path: Path
    starts: _Hashes  # bytes, of each line
    ends: _Hashes  # the number of fields up to the end of each line
    hashes: _Hashes  # of every field, in order

    def lines_with(self, field: str) -> Iterator[Known]:
        """The lines with a field that may be like this, from the top."""
        places = np.flatnonzero(self.hashes == hash(_key(field)))
        if not places.size:
            return
        with self.path.open("rb") as file:
            for line in np.unique(np.searchsorted(self.ends, places, side="right")):
                file.seek(int(self.starts[line]))
                yield _read(file.readline().decode())


def _read(line: str) -> Known:
    fields = line.rstrip("\r\n").split("\t")
    _, cas, formula, molar_mass, smiles, _, inchikey, _, common_name = fields[: _FIRST_NAME + 2]
    names = tuple(fields[_FIRST_NAME:])
    return Known(cas, formula, float(molar_mass), smiles, inchikey, common_name, names)


@cache
def _long_list() -> _LongList:
    path = Path(_short_lists().main_db)
    lengths: list[int] = []
    counts: list[int] = []
    hashes = [_hashes([])]
    if path.exists():  # the library does without, too
        with path.open("rb") as file:
            while lines := file.readlines(BLOCK_BYTES):
                block = b"".join(lines).decode().removesuffix("\n").replace("\n", "\t")
                hashes.append(_hashes(_key(block).split(b"\t")))
                lengths.extend(map(len, lines))
                counts.extend(line.count(b"\t") + 1 for line in lines)
    starts = np.cumsum([0, *lengths], dtype=np.int64)
    return _LongList(path, starts, np.cumsum(counts, dtype=np.int64), np.concatenate(hashes))
