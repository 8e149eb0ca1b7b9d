"""Finding a material by any name that a person would write.

Case, accents, Greek letters, spaces and hyphens don't matter; a CAS number works, a FEMA number
too, and the plain name of a plant for its oil. A name that fits several materials lists them.
Nothing is guessed: a near miss gets suggestions, and only what is near is suggested.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from blendwright.catalogue.material import Material
from blendwright.errors import AmbiguousMaterialError

_GREEK = str.maketrans({
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ω": "omega",
    "Α": "alpha", "Β": "beta", "Γ": "gamma", "Δ": "delta",
})  # fmt: skip
_NOT_COMPARED = re.compile(r"[^a-z0-9%+,]")
_COMMA_IN_WORDS = re.compile(r"(?<!\d),|,(?!\d)")
_CAS = re.compile(r"^\d{2,7}-\d{2}-\d$")
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—―−", "-") | {"\u00a0": " ", "′": "'", "’": "'"})
_CAS_PREFIX = re.compile(
    r"^[\[(]?\s*(?:CAS|C\.A\.S\.)?(?:\s*-?\s*(?:RN|Nr|No|number|#))?[\s.:#]*0*(\d{2,7}-\d{2}-\d)\s*[\])]?$",
    re.IGNORECASE,
)
_FEMA_PREFIX = re.compile(r"^FEMA(?:\s*-?\s*(?:Nr|No|number|#))?[\s.:#]*(\d{4})$", re.IGNORECASE)
_TURNED = re.compile(
    r"(.+?),?\s+((?:alpha|beta|gamma|delta|epsilon|omega|[αβγδεω])|(?:cis|trans)(?:-\d+)?)",
    re.IGNORECASE,
)
_LETTERED_SIDES = re.compile(r"(\d+)([tc])(?:,(\d+)([tc]))?-")
_SIDE_OF_LETTER = {"t": "trans", "c": "cis"}
_ACETAL_OF = re.compile(r"(.+ (?:acetal|ketal)) of (.+)", re.IGNORECASE)
_CARRIER_ALONE = re.compile(
    r"(.+\d\s?%) (PG|propylene glycol|ethanol|alcohol|water)", re.IGNORECASE
)
_SIGN_OF_A_HAND = re.compile(r"\(\s*\.?\s*(\+/?-|[+-])\s*\.?\s*\)")
_ESTER_OF_ALCOHOL = re.compile(r"(.+)ol (\w+ate)", re.IGNORECASE)
_PURITY = re.compile(r"(?:>=?|≥)?(?P<percent>\d+(?:\.\d+)?)\+?%\+?")
LEAST_PURITY_pct = 97.0  # below it a percentage may be a strength: ethanol 95 %, citral 95 %
_OIL = re.compile(r"(?P<plant>.+?) oil(?P<kind>, .+)?|oil of (?P<of>.+)")
_LETTERS_FOR_GREEK = {"a-": "alpha-", "b-": "beta-", "g-": "gamma-"}  # d- is a hand
SUGGESTIONS = 3
ISOMER_PREFIXES = ("iso", "neo", "epi", "allo", "neoiso", "isoneo")
LETTERS = 128  # ASCII
LETTERS_PER_SLIP = 4  # one slip of the pen is near in a word of 4 to 7 letters, two in 8 to 11 ...
OTHERS_AFTER_SLIPS = 1.5  # names that begin so or hold all the words come after those of one slip
LEAST_BEGINNING = 5  # letters that are enough to begin a name
MOST_LIKES_KEPT = 1_000  # unknown names; then forgotten, so that memory stays flat


def normalise(name: str) -> str:
    """The form that names are compared in.

    >>> normalise("γ-Décalactone")
    'gammadecalactone'
    >>> normalise("Ethanol 96 %")
    'ethanol96%'
    """
    plain = greek_by_name(name).strip().casefold()
    if not plain.isascii():
        plain = unicodedata.normalize("NFKD", plain)
        plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    plain = _NOT_COMPARED.sub("", plain.replace("sulph", "sulf"))
    if "," not in plain:
        return plain
    return _COMMA_IN_WORDS.sub("", plain)  # a comma counts between two locants


def greek_by_name(name: str) -> str:
    """Greek letters written out: alpha for α."""
    return name if name.isascii() else name.translate(_GREEK)


def is_cas(name: str) -> bool:
    return bool(_CAS.match(name.strip()))


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


def plain_signs(name: str) -> str:
    """A name with one kind of hyphen, blank and prime, and of signs in brackets.

    >>> plain_signs("( + )-menthol"), plain_signs("(.+/-.)-fenchone")
    ('(+)-menthol', '(+/-)-fenchone')
    """
    return _SIGN_OF_A_HAND.sub(r"(\1)", name.translate(_DASHES))


def spellings(name: str) -> list[str]:
    """The name, and other ways of writing the same: inverted indexes turned round, (z) as cis,
    a- and b- as Greek letters, 2t,4c- as trans,cis-2,4-, a carrier without "in", the ester of an
    alcohol as that of its radical, CAS and FEMA numbers bare.

    >>> spellings("jasmone, (Z)-")
    ['jasmone, (Z)-', '(Z)-jasmone', 'cis-jasmone']
    >>> spellings("CAS No. 123-92-2"), spellings("FEMA# 2055")
    (['CAS No. 123-92-2', '123-92-2'], ['FEMA# 2055', 'FEMA 2055'])
    >>> spellings("undecalactone gamma"), spellings("2t,4c-decadienal")[1:]
    (['undecalactone gamma', 'gamma-undecalactone'], ['trans,cis-2,4-decadienal'])
    >>> spellings("isoeugenol acetate")
    ['isoeugenol acetate', 'isoeugenyl acetate']
    """
    plain = plain_signs(name).strip()
    found = [plain]
    if number := _CAS_PREFIX.match(plain):
        return list(dict.fromkeys((plain, number[1])))
    if number := _FEMA_PREFIX.match(plain):
        return list(dict.fromkeys((plain, f"FEMA {number[1]}")))
    inverted = re.fullmatch(r"(.+?),\s*(\S*-)", plain)
    if inverted:
        found.append(inverted.group(2) + inverted.group(1))
    elif turned := _TURNED.fullmatch(plain):
        found.append(f"{turned[2]}-{turned[1]}")
    elif acetal := _ACETAL_OF.fullmatch(plain):
        found.append(f"{acetal[2]} {acetal[1]}")
    elif bare := _CARRIER_ALONE.fullmatch(plain):
        found.append(f"{bare[1]} in {bare[2]}")
    elif _LETTERED_SIDES.match(plain):
        found.append(_LETTERED_SIDES.sub(_sides_first, plain, count=1))
    elif ester := _ESTER_OF_ALCOHOL.fullmatch(plain):
        found.append(f"{ester[1]}yl {ester[2]}")
    for sign, word in (("(z)-", "cis-"), ("(e)-", "trans-")):
        if found[-1].casefold().startswith(sign):
            found.append(word + found[-1][len(sign) :])
    for sign, word in _LETTERS_FOR_GREEK.items():
        if plain.casefold().startswith(sign):
            found.append(word + plain[len(sign) :])
    return found


def _sides_first(lettered: re.Match[str]) -> str:
    """ "2t,4c-" as "trans,cis-2,4-"."""
    pairs = [(lettered[1], lettered[2]), (lettered[3], lettered[4])]
    told = [(place, _SIDE_OF_LETTER[side]) for place, side in pairs if place]
    return f"{','.join(side for _, side in told)}-{','.join(place for place, _ in told)}-"


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


def told_sides(name: str) -> frozenset[str]:
    """Which sides of double bonds the leading marks of a name tell: "cis", "trans", both, none.

    >>> sorted(told_sides("(2E,4Z)-decadienal")), sorted(told_sides("cis-anethole"))
    (['cis', 'trans'], ['cis'])
    """
    sides = {"cis": "cis", "z": "cis", "trans": "trans", "e": "trans"}
    marks = re.findall(r"cis|trans|[ez](?![a-z])", _marks(name).casefold())
    return frozenset(sides[mark] for mark in marks)


def is_prefixed_isomer(name: str, of: str) -> bool:
    """Whether a name is another with iso, neo, epi or allo before it, and so another substance.

    >>> is_prefixed_isomer("isoborneol", "borneol"), is_prefixed_isomer("borneol", "borneol")
    (True, False)
    """
    key, plain = normalise(name), normalise(of)
    return key.endswith(plain) and key.removesuffix(plain) in ISOMER_PREFIXES


def tells_several_centres(name: str) -> bool:
    """Whether the leading marks of a name tell the hands of several centres.

    >>> tells_several_centres("(1R,2S)-menthol"), tells_several_centres("d-menthol")
    (True, False)
    """
    return "," in _marks(name)


def _marks(name: str) -> str:
    """The leading stereo marks of a name."""
    straight = spellings(name)[0 if "," not in name else -1]
    plain = without_isomer(name)
    return "" if plain is None else straight.removesuffix(plain)


def without_grade(name: str, grades: Iterable[str]) -> str | None:
    """The name without words of grade at its ends ("natural", "FCC", a purity of 97 % or more);
    None where it has none.

    >>> without_grade("Vanillin FCC, natural", ["FCC", "natural"])
    'Vanillin'
    >>> without_grade("nootkatone 98 %", []), without_grade("ethanol 95 %", [])
    ('nootkatone', None)
    """
    known = {normalise(word) for word in grades}
    words = re.findall(r"[^\s,;()]+", re.sub(r"(?<=\d)\s+(?=[%+])", "", name))
    left = list(words)
    while left and (normalise(left[-1]) in known or _is_purity(left[-1])):
        left.pop()
    while left and normalise(left[0]) in known:
        left.pop(0)
    return " ".join(left) if left and len(left) < len(words) else None


def _is_purity(word: str) -> bool:
    told = _PURITY.fullmatch(word)
    return told is not None and LEAST_PURITY_pct <= float(told["percent"]) <= 100.0


def plants(name: str) -> list[str]:
    """What is left of the name of an oil without "oil"; nothing for another name.

    >>> plants("wintergreen oil"), plants("oil of cloves"), plants("petitgrain oil, Paraguay")
    (['wintergreen'], ['cloves'], ['petitgrain, Paraguay'])
    """
    found = _OIL.fullmatch(name)
    return [found["of"] or found["plant"] + (found["kind"] or "")] if found else []


@dataclass(frozen=True)
class _Likes:
    """The near names to one that we don't have, and whether one is so by a slip of the pen."""

    names: tuple[str, ...]
    has_slip: bool


class NameIndex:
    """All the names of a set of materials, ready to be looked up.

    `several` lists names that may mean several things, or something that the catalogue has of one
    kind only: the choice is the person's.
    """

    def __init__(
        self, materials: Iterable[Material], several: Mapping[str, tuple[str, ...]]
    ) -> None:
        self._names: dict[str, list[str]] = {}
        self._display: dict[str, str] = {}
        self._likes: dict[str, _Likes] = {}
        oils: list[Material] = []
        for material in materials:
            for name in (material.name, *material.names):
                self._add(name, material.name)
            if material.cas:
                self._add(material.cas, material.name)
            if material.fema:
                self._add(f"FEMA {material.fema}", material.name)
            if material.kind == "natural_oil":
                oils.append(material)
        self._asked: set[str] = set()  # names whose choice is the person's
        for name, choices in several.items():
            key = normalise(name)
            known = [c for c in choices if normalise(c) in self._names]
            if known and key not in self._names:
                self._names[key] = known
                self._display[key] = name
                self._asked.add(key)
        taken = set(self._names)
        for oil in oils:
            for name in (oil.name, *oil.names):
                for plant in plants(name):
                    if normalise(plant) not in taken:
                        self._add(plant, oil.name, shown=oil.name)

    def _add(self, name: str, material: str, shown: str = "") -> None:
        key = normalise(name)
        owners = self._names.setdefault(key, [])
        self._display.setdefault(key, shown or name)
        if material not in owners:
            owners.append(material)

    def get(self, name: str) -> str | None:
        """The material's own name; None where no material has this one.

        Raises AmbiguousMaterialError.
        """
        key = normalise(name)
        owners = self._names.get(key, [])
        if len(owners) > 1 or key in self._asked:
            raise AmbiguousMaterialError(name, tuple(owners))
        return owners[0] if owners else None

    def has(self, name: str) -> bool:
        """Whether a material goes by this name, or several do."""
        return normalise(name) in self._names

    def has_near_miss(self, name: str) -> bool:
        """Whether a name is so like one of ours that it is a slip of the pen."""
        return self._like(name).has_slip

    def suggest(self, name: str) -> tuple[str, ...]:
        """Near names, best first, at most three, each of another material.

        Near is a name with few slips of the pen (one for LETTERS_PER_SLIP letters), a name that
        begins so, and one that holds all of the words.
        """
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
        slips, others = self._slips(name), self._others(name)
        best: dict[str, str] = {}
        for _, key in sorted(slips + others):
            best.setdefault(self._names[key][0], self._display[key])
            if len(best) == SUGGESTIONS:
                break
        return _Likes(tuple(best.values()), bool(slips))

    def _slips(self, name: str) -> list[tuple[float, str]]:
        """The names that a few slips of the pen lead to: how many, and the key."""
        wanted = normalise(name)
        most = len(wanted) // LETTERS_PER_SLIP
        longer = self._letters.sum(axis=1) - len(wanted)
        alike = np.flatnonzero(np.abs(longer) <= most)
        apart = self._letters[alike] - letter_counts(wanted)
        extra = np.maximum(apart, 0).sum(axis=1)
        near: list[tuple[float, str]] = []
        for number in alike[np.maximum(extra, extra - longer[alike]) <= most].tolist():
            key = self._written[number].key
            slips = slips_between(wanted, key, most)
            if slips <= most:
                near.append((slips, key))
        return near

    def _others(self, name: str) -> list[tuple[float, str]]:
        """The names that begin so or hold all of the words; the shorter, the nearer."""
        wanted, words = normalise(name), _words(name)
        return [
            (OTHERS_AFTER_SLIPS + len(one.key) / 1000, one.key)
            for one in self._written
            if (len(wanted) >= LEAST_BEGINNING and one.key.startswith(wanted))
            or (words and words <= one.words)
        ]

    @cached_property
    def _written(self) -> tuple[_Written, ...]:
        """All names that are no numbers, ready to be compared with one that we don't have."""
        return tuple(
            _Written(key, _words(shown))
            for key, shown in self._display.items()
            if not is_cas(shown) and not _FEMA_PREFIX.match(shown)
        )

    @cached_property
    def _letters(self) -> NDArray[np.int16]:
        """How often each letter stands in each of `_written` (names, letters)."""
        return np.array([letter_counts(one.key) for one in self._written]).reshape(-1, LETTERS)


@dataclass(frozen=True)
class _Written:
    """A name as it is compared, and its words."""

    key: str
    words: frozenset[str]


def letter_counts(key: str) -> NDArray[np.int16]:
    """How often each sign stands in a name as it is compared (`normalise` leaves only ASCII)."""
    return np.bincount(np.frombuffer(key.encode("ascii"), np.uint8), minlength=LETTERS).astype(
        np.int16
    )


def _words(name: str) -> frozenset[str]:
    return frozenset(normalise(word) for word in re.findall(r"\w{3,}", name))


def slips_between(one: str, other: str, most: int | None = None) -> int:
    """Letters left out, put in, changed or swapped with the next (Damerau 1964, in the form that
    touches no letter twice). With `most`, any number above it is as good as the right one.

    >>> slips_between("vannilin", "vanillin"), slips_between("total", "octanal")
    (2, 4)
    """
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        row = [i]
        for j, theirs in enumerate(other, start=1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != theirs))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == theirs:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if most is not None and min(row) > most and min(last) >= most:
            return most + 1  # each later row is made of these two, and a swap adds one
        before, last = last, row
    return last[-1]
