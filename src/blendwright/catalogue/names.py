"""Finding a material by any name that a person would write.

Case, accents, Greek letters, spaces and hyphens don't matter; a CAS number works; a near miss
gets suggestions; a name that fits several materials lists them. Nothing is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

from blendwright.catalogue.material import Material
from blendwright.errors import AmbiguousMaterialError, UnknownMaterialError

_GREEK = {
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ω": "omega",
    "Α": "alpha", "Β": "beta", "Γ": "gamma", "Δ": "delta",
}  # fmt: skip
_CAS = re.compile(r"^\d{2,7}-\d{2}-\d$")
SUGGESTIONS = 3
LEAST_LIKENESS = 0.5
NEAR_MISS = 0.85
MOST_LIKES_KEPT = 1_000  # unknown names; then forgotten, so that memory stays flat


def normalise(name: str) -> str:
    """The form that names are compared in.

    >>> normalise("γ-Décalactone")
    'gammadecalactone'
    >>> normalise("Ethanol 96 %")
    'ethanol96%'
    """
    for letter, word in _GREEK.items():
        name = name.replace(letter, word)
    plain = unicodedata.normalize("NFKD", name.strip().casefold())
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return re.sub(r"[^a-z0-9%+,]|,(?!\d)", "", plain)


def is_cas(name: str) -> bool:
    return bool(_CAS.match(name.strip()))


_SMILES = re.compile(r"^[A-Za-z0-9@+\-\[\]()=#$/\\%.:*]+$")


def looks_like_smiles(text: str) -> bool:
    """Whether a text has only a structure's signs and at least one that no name begins with.

    >>> looks_like_smiles("CCOC(=O)CCC"), looks_like_smiles("vannilin"), looks_like_smiles("CCO")
    (True, False, True)
    """
    text = text.strip()
    if not text or not _SMILES.match(text) or is_cas(text):
        return False
    signs = any(sign in text for sign in "=#[]()")
    letters = re.sub(r"Cl|Br|[^A-Za-z]", "", text)
    return (signs or letters.isupper()) and all(letter in "BCNOPSFIHbcnops" for letter in letters)


def cas_check_digit_is_right(cas: str) -> bool:
    """CAS Registry: the last digit is the weighted sum of the others modulo 10.

    >>> cas_check_digit_is_right("105-54-4"), cas_check_digit_is_right("105-54-5")
    (True, False)
    """
    if not is_cas(cas):
        return False
    digits = cas.replace("-", "")
    total = sum(int(digit) * weight for weight, digit in enumerate(reversed(digits[:-1]), start=1))
    return total % 10 == int(digits[-1])


_STEREO = re.compile(
    r"^\(?(?:[+-]|\+/-|±|[dlDLrRsSeEzZ](?:,[rRsSeEzZ])*|dl|DL|\d?[RSEZrsez](?:,\d?[RSEZrsez])*|rac"
    r"|cis|trans)\)?(?:-\([+-]\))?-",
)


def spellings(name: str) -> list[str]:
    """The name, and other ways of writing the same: inverted indexes turned round, (z) as cis.

    >>> spellings("jasmone, (Z)-")
    ['jasmone, (Z)-', '(Z)-jasmone', 'cis-jasmone']
    """
    found = [name.strip()]
    inverted = re.fullmatch(r"(.+?),\s*(\S*-)", name.strip())
    if inverted:
        found.append(inverted.group(2) + inverted.group(1))
    for sign, word in (("(z)-", "cis-"), ("(e)-", "trans-")):
        if found[-1].casefold().startswith(sign):
            found.append(word + found[-1][len(sign) :])
    return found


def without_isomer(name: str) -> str | None:
    """The name without its leading stereo marks; None where it has none.

    >>> without_isomer("(-)-bornyl acetate"), without_isomer("limonene")
    ('bornyl acetate', None)
    """
    straight = spellings(name)[-1]
    plain = straight
    while (shorter := _STEREO.sub("", plain)) != plain:
        plain = shorter
    return plain if plain != straight and len(plain) > 3 else None


# What people call several things at once: the choice is theirs.
_AMBIGUOUS: Mapping[str, tuple[str, ...]] = {
    "amyl acetate": ("isoamyl acetate", "2-methylbutyl acetate"),
    "ionone": ("alpha-ionone", "beta-ionone"),
    "pinene": ("alpha-pinene", "beta-pinene"),
    "terpineol": ("alpha-terpineol", "terpinen-4-ol"),
    "decalactone": ("gamma-decalactone", "delta-decalactone"),
    "octalactone": ("gamma-octalactone", "delta-octalactone"),
    "dodecalactone": ("gamma-dodecalactone", "delta-dodecalactone"),
    "propanediol": ("propylene glycol", "1,3-propanediol"),
    "butyric aldehyde": ("butyraldehyde", "isobutyraldehyde"),
    "propanol": ("1-propanol", "isopropanol"),
    "butanol": ("1-butanol", "isobutanol"),
    "hexenyl acetate": ("cis-3-hexenyl acetate", "trans-2-hexenyl acetate"),
    "dimethylpyrazine": (
        "2,3-dimethylpyrazine",
        "2,5-dimethylpyrazine",
        "2,6-dimethylpyrazine",
    ),
    "terpinene": ("alpha-terpinene", "gamma-terpinene"),
    "hexenol": ("cis-3-hexen-1-ol", "trans-2-hexen-1-ol"),
    "octanone": ("2-octanone", "3-octanone"),
    "octanol": ("1-octanol", "3-octanol"),
    "nonanol": ("1-nonanol", "2-nonanol"),
}


@dataclass(frozen=True)
class _Likes:
    """The closest of our names to one that we don't have, and how like the best of them is."""

    names: tuple[str, ...]
    score: float


class NameIndex:
    """All the names of a set of materials, ready to be looked up."""

    def __init__(self, materials: Iterable[Material]) -> None:
        self._names: dict[str, list[str]] = {}
        self._display: dict[str, str] = {}
        self._likes: dict[str, _Likes] = {}
        for material in materials:
            for name in (material.name, *material.names):
                self._add(name, material.name)
            if material.cas:
                self._add(material.cas, material.name)
        for name, choices in _AMBIGUOUS.items():
            known = [c for c in choices if normalise(c) in self._names]
            key = normalise(name)
            if len(known) > 1 and key not in self._names:
                self._names[key] = known
                self._display[key] = name

    def _add(self, name: str, material: str) -> None:
        key = normalise(name)
        owners = self._names.setdefault(key, [])
        self._display.setdefault(key, name)
        if material not in owners:
            owners.append(material)

    def find(self, name: str) -> str:
        """The material's own name.

        Raises UnknownMaterialError with the closest names, or AmbiguousMaterialError.
        """
        owners = self._names.get(normalise(name), [])
        if len(owners) == 1:
            return owners[0]
        if owners:
            raise AmbiguousMaterialError(name, tuple(owners))
        raise UnknownMaterialError(name, self.suggest(name))

    def has_near_miss(self, name: str) -> bool:
        """Whether a name is so like one of ours that it is a slip of the pen."""
        return self._like(name).score >= NEAR_MISS

    def suggest(self, name: str) -> tuple[str, ...]:
        """The closest names, best first, at most three, each of another material."""
        return self._like(name).names

    def _like(self, name: str) -> _Likes:
        """Compared with all our names once, however often a batch writes it."""
        key = normalise(name)
        if key not in self._likes:
            if len(self._likes) >= MOST_LIKES_KEPT:
                self._likes.clear()
            self._likes[key] = self._likes_of(name)
        return self._likes[key]

    def _likes_of(self, name: str) -> _Likes:
        scored = sorted(self._scored(name), key=lambda pair: (-pair[0], pair[1]))
        best: dict[str, str] = {}
        for _, key in scored:
            owner = self._names[key][0]
            best.setdefault(owner, self._display[key])
            if len(best) == SUGGESTIONS:
                break
        return _Likes(tuple(best.values()), scored[0][0] if scored else 0.0)

    def _scored(self, name: str) -> list[tuple[float, str]]:
        wanted = normalise(name)
        if not wanted:
            return []
        scored: list[tuple[float, str]] = []
        matcher = SequenceMatcher(autojunk=False)
        matcher.set_seq2(wanted)
        for key in self._names:
            matcher.set_seq1(key)
            if (
                matcher.real_quick_ratio() < LEAST_LIKENESS
                or matcher.quick_ratio() < LEAST_LIKENESS
            ):
                continue
            score = matcher.ratio()
            if score >= LEAST_LIKENESS and not is_cas(self._display[key]):
                scored.append((score, key))
        return scored
