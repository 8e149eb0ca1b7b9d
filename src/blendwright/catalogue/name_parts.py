"""Which structure does a name spell out?

Two kinds of name are put together from parts, and are read part by part: open chains and single
rings by the rules of substitutive nomenclature ("2-methyl-3-hexenal", "hex-3-en-1-ol"; IUPAC 1993,
rules R-3 and R-5), and names by class, of radicals, acids and aldehydes ("isobornyl propionate",
"vanillin propylene glycol acetal"). The parts that no rule gives are in name_parts.csv, written
from memory and compared by a test with the structures of the catalogue's own names.

A name that leaves a place open ("hexenal") spells out nothing. Marks of double bonds are kept where
there is one for each; other stereo marks are left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from blendwright.catalogue.names import greek_by_name, plain_signs
from blendwright.catalogue.tables import table_rows

STEMS = {
    name: number
    for number, names in enumerate(
        ("meth", "eth", "prop", "but", "pent", "hex", "hept", "oct", "non", "dec", "undec|hendec",
         "dodec", "tridec", "tetradec", "pentadec", "hexadec", "heptadec", "octadec", "nonadec",
         "icos|eicos"),
        start=1,
    )
    for name in names.split("|")
}  # fmt: skip
MULTIPLES = {"": 1, "di": 2, "tri": 3, "tetra": 4}
SUBSTITUENTS = {
    **{f"{stem}yl": "C" * number for stem, number in STEMS.items() if number <= 8},
    "isopropyl": "C(C)C", "isobutyl": "CC(C)C", "sec-butyl": "C(C)CC", "tert-butyl": "C(C)(C)C",
    "vinyl": "C=C", "allyl": "CC=C", "methylene": "=C", "methylidene": "=C",
    "phenyl": "c7ccccc7", "benzyl": "Cc7ccccc7", "phenoxy": "Oc7ccccc7",
    "2-furyl": "c7ccco7", "2-furanyl": "c7ccco7", "furan-2-yl": "c7ccco7", "2-thienyl": "c7cccs7",
    "hydroxy": "O", "oxo": "=O", "methoxy": "OC", "ethoxy": "OCC", "acetoxy": "OC(C)=O",
    "formyl": "C=O", "acetyl": "C(C)=O", "propionyl": "C(CC)=O", "butyryl": "C(CCC)=O",
    "mercapto": "S", "sulfanyl": "S", "methylsulfanyl": "SC", "methylthio": "SC",
    "ethylthio": "SCC", "acetylthio": "SC(C)=O", "amino": "N",
}  # fmt: skip
EPOXY, EPOXY_RING, RING = "epoxy", "8", "9"  # numbers of the rings that are closed here
THIO = "thio"
# what stands at the chain's end, and where a place may be left out
AT_THE_END = {"al": "=O", "oic acid": "=O", "oate": "=O", "nitrile": "#N"}
AT_A_PLACE = {"ol": "O", "one": "=O", "thiol": "S", "amine": "N", "yl": ""}
ON_A_RING = {"carboxaldehyde": "C=O", "carbaldehyde": "C=O", "carboxylic acid": "C(=O)O"}

_LOCANTS = r"\d+(?:,\d+)*"
_CORE = re.compile(
    rf"(?:(?P<lead>{_LOCANTS})-)?(?P<ring>cyclo)?(?P<stem>{'|'.join(sorted(STEMS, key=len)[::-1])})"
    rf"(?:(?P<sat>ane?)|a?(?:-?(?P<open>{_LOCANTS})-)?(?P<opens>di|tri|tetra)?(?P<kind>ene?|yne?))?"
    rf"(?:-?(?P<place>{_LOCANTS})-)?(?P<several>di|tri)?"
    rf"(?P<suffix>{'|'.join((*AT_THE_END, *AT_A_PLACE, *ON_A_RING))})?"
)
_SUBSTITUENT = re.compile(
    rf"(?:(?P<at>{_LOCANTS})-)?\(?(?P<multiple>di|tri|tetra)?"
    rf"(?P<what>{'|'.join(re.escape(s) for s in sorted((*SUBSTITUENTS, EPOXY), key=len)[::-1])})"
    r"\)?-?"
)
_CHAINS_OF_ACIDS = {"propion": "propan", "butyr": "butan", "valer": "pentan"}
_OLD_ACIDS = re.compile(r"(propion|butyr|valer)(?=ate$|ic acid$)")
_PARENT_SUFFIX = re.compile(
    r"(?:(?P<lead>\d)-)?(?P<parent>[a-z]+)(?:-(?P<place>\d)-)?(?P<suffix>thiol|ol|amine)"
)
_STEREO = re.compile(
    r"\((?:\d*[ezrs]|[+-]|±|\+/-)(?:,(?:\d*[ezrs]))*\)-?"
    r"|(?<![a-z])(?:cis|trans)-?,?"
    r"|^(?:d|l|dl|rac|[ezrs](?:,[ezrs])*)-"
)
_SIDES = {"cis": "z", "trans": "e"}


def structure_of_name(name: str) -> str | None:
    """SMILES of what a name spells out; None for a name that doesn't.

    >>> structure_of_name("12-methyltridecanal")
    'C(=O)CCCCCCCCCCC(C)C'
    >>> structure_of_name("furfuryl isovalerate"), structure_of_name("hexenal")
    ('C(=O)(OCc1ccco1)CC(C)C', None)
    """
    plain = _plain(name)
    for reading in (trade_structure, _acid, _ester, _acetal, _by_class, _aldehyde, _on_a_parent):
        if found := reading(plain):
            return found
    chain = _chain(plain)
    return chain.smiles() if chain is not None and chain.suffix not in ("yl", "oate") else None


def trade_structure(name: str) -> str | None:
    """SMILES of a name in the trade that spells nothing out, where the library is silent or wrong
    (it gives "omega-pentadecalactone" a ring with one carbon less).

    >>> trade_structure("Ambroxide") is None, trade_structure("ambergris")
    (False, None)
    """
    return _parts()["whole"].get(_plain(name))


def _plain(name: str) -> str:
    """In lower case, with plain hyphens, single blanks, Greek letters by name, sulf for sulph."""
    plain = greek_by_name(plain_signs(name)).strip().casefold()
    return re.sub(r"\s+", " ", plain).replace("sulph", "sulf")


@cache
def _parts() -> Mapping[str, Mapping[str, str]]:
    """name_parts.csv: kind -> name -> SMILES from the place of the bond."""
    found: dict[str, dict[str, str]] = {}
    for row in table_rows("blendwright.catalogue", "data/name_parts.csv"):
        for name in row["names"].split("|"):
            found.setdefault(row["kind"], {})[name] = row["smiles"]
    return found


def _radical(name: str) -> str | None:
    """SMILES from the atom that the bond is at."""
    plain = _STEREO.sub("", name) if name not in _parts()["radical"] else name
    if plain in _parts()["radical"]:
        return _parts()["radical"][plain]
    chain = _chain(name)
    return chain.smiles() if chain is not None and chain.suffix == "yl" else None


def _acyl(name: str, ending: str) -> str | None:
    """An acid's name as SMILES with {} where its OH or OR stands."""
    if not name.endswith(ending):
        return None
    stem = _STEREO.sub("", name.removesuffix(ending))
    if stem in _parts()["acid"]:
        return f"C(=O)({{}}){_parts()['acid'][stem]}"
    chain = _chain(_OLD_ACIDS.sub(lambda old: _CHAINS_OF_ACIDS[old[1]] + "o", name))
    if chain is None or chain.suffix not in ("oate", "oic acid"):
        return None
    return chain.smiles().replace("C(=O)", "C(=O)({})", 1)


def _acid(name: str) -> str | None:
    acyl = _acyl(name, "ic acid")
    return acyl.format("O") if acyl else None


def _ester(name: str) -> str | None:
    """ "radical acidate"; the radical may be of several words."""
    first, _, last = name.rpartition(" ")
    acyl, bridge = _acyl(last, "ate"), "O"
    if acyl is None and last.startswith(THIO):
        acyl, bridge = _acyl(last.removeprefix(THIO), "ate"), "S"
    radical = _radical(first.removeprefix("s-" if bridge == "S" else "")) if first else None
    return acyl.format(f"{bridge}{radical}") if acyl and radical else None


def _aldehyde(name: str) -> str | None:
    """By its own name, or an acid's stem with "aldehyde"."""
    plain = _STEREO.sub("", name)
    if plain in _parts()["aldehyde"]:
        return _parts()["aldehyde"][plain]
    stem = plain.removesuffix("aldehyde")
    if stem == plain or stem not in _parts()["acid"]:
        return None
    return f"O=C{_parts()['acid'][stem]}"


_ACETAL = re.compile(
    r"(?P<aldehyde>.+?) (?:(?P<ring>propylene glycol|pg|ethylene glycol|1,2-propylene glycol)"
    r"|di(?P<twice>\w+)|(?P<one>\S+) (?P<other>\S+)) (?:acetal|ketal)"
)
_RINGS = {
    "propylene glycol": "OCC(C)O",
    "pg": "OCC(C)O",
    "1,2-propylene glycol": "OCC(C)O",
    "ethylene glycol": "OCCO",
}


def _acetal(name: str) -> str | None:
    told = _ACETAL.fullmatch(name)
    if told is None:
        return None
    chain = _chain(told["aldehyde"])
    found = _aldehyde(told["aldehyde"]) or (
        chain.smiles() if chain is not None and chain.suffix == "al" else None
    )
    if found is None:
        return None
    rest = re.sub(r"^(?:O=C|C\(=O\))", "", found)
    hung = f"({rest})" if rest else ""
    if told["ring"]:
        return f"C5{hung}{_RINGS[told['ring']]}5"
    one, other = (_radical(part or told["twice"]) for part in (told["one"], told["other"]))
    return f"C{hung}(O{one})O{other}" if one and other else None


_BETWEEN = {
    "ether": "O({}){}",
    "sulfide": "S({}){}",
    "disulfide": "S({})S{}",
    "trisulfide": "S({})SS{}",
    "ketone": "C(=O)({}){}",
}
_ALONE = {"mercaptan": "S", "alcohol": "O", "thiol": "S"}


def _by_class(name: str) -> str | None:
    """ "radical mercaptan", "radical radical ether", "diradical sulfide"."""
    first, _, kind = name.rpartition(" ")
    if kind in _ALONE:
        radical = _radical(first)
        return f"{_ALONE[kind]}{radical}" if radical else None
    if kind not in _BETWEEN:
        return None
    words = first.split(" ")
    pairs = [(" ".join(words[:i]), " ".join(words[i:])) for i in range(1, len(words))]
    if first.startswith("di"):
        pairs.append((first.removeprefix("di"),) * 2)
    for pair in pairs:
        one, other = (_radical(part) for part in pair)
        if one and other:
            return _BETWEEN[kind].format(one, other)
    return None


@dataclass
class _Chain:
    """A chain or ring of carbons, what hangs at each, and the bonds opened between them."""

    size: int
    is_ring: bool
    suffix: str
    bond_at: int = 1
    hanging: dict[int, list[str]] = field(default_factory=dict)
    orders: dict[int, str] = field(default_factory=dict)
    sides: list[str] = field(default_factory=list)

    def hang(self, place: int, what: str) -> None:
        self.hanging.setdefault(place, []).append(what)

    def is_sound(self) -> bool:
        ends = self.orders if self.is_ring else [place + 1 for place in self.orders]
        places = (*self.hanging, *self.orders, *ends, self.bond_at)
        if any(not 1 <= place <= self.size for place in places):
            return False
        for place in range(1, self.size + 1):
            used = sum(_order(h) for h in self.hanging.get(place, ()))
            used += sum(_order(self.orders.get(p, "-")) for p in self._bonds_of(place))
            used += self.suffix in ("yl", "oate", "oic acid") and place == self.bond_at
            if used > 4:
                return False
        return True

    def _bonds_of(self, place: int) -> Iterator[int]:
        """The bonds of a carbon, each by the place before it."""
        if place < self.size or self.is_ring:
            yield place
        if place > 1:
            yield place - 1
        elif self.is_ring:
            yield self.size

    def smiles(self) -> str:
        """From the place of the bond; the ring closes where it began."""
        start = self.bond_at
        if self.is_ring:
            order = [(start - 1 + i) % self.size + 1 for i in range(self.size)]
            bonds = [self.orders.get(place, "") for place in order]
            closing = f"{bonds[-1]}{RING}"
            text = f"C{closing}{self._hung(start)}"
            for place, bond in zip(order[1:], bonds, strict=False):
                text += f"{bond}C{RING if place == order[-1] else ''}{self._hung(place)}"
            return text
        marks = self._marks() if start == 1 else {}
        right = "".join(
            f"{self.orders.get(p, '') or marks.get(p, '')}C{self._hung(p + 1)}"
            for p in range(start, self.size)
        )
        left = "".join(
            f"{self.orders.get(p - 1, '')}C{self._hung(p - 1)}" for p in range(start, 1, -1)
        )
        return f"C{self._hung(start)}{f'({left})' if left else ''}{right}"

    def _hung(self, place: int) -> str:
        closures = "".join(h for h in self.hanging.get(place, ()) if h == EPOXY_RING)
        return closures + "".join(f"({h})" for h in self.hanging.get(place, ()) if h != EPOXY_RING)

    def _marks(self) -> dict[int, str]:
        """/ and \\ of the single bonds beside the double bonds, where each has its mark."""
        double = sorted(place for place, order in self.orders.items() if order == "=")
        plain = all(
            2 <= p < self.size - 1 and not self.hanging.get(p) and not self.hanging.get(p + 1)
            for p in double
        )
        if not double or len(double) != len(self.sides) or not plain:
            return {}
        marks: dict[int, str] = {}
        for place, side in zip(double, self.sides, strict=True):
            before = marks.setdefault(place - 1, "/")
            marks[place + 1] = before if side == "e" else {"/": "\\", "\\": "/"}[before]
        return marks


def _on_a_parent(name: str) -> str | None:
    """Substituents on a ring that has a name of its own, and a thiol or an alcohol there."""
    text, hung = _STEREO.sub("", name), dict[int, str]()

    def hang(places: list[int], what: str) -> bool:
        fresh = len(places) == len(set(places)) and not hung.keys() & places
        hung.update(dict.fromkeys(places, f"({what})"))
        return fresh and bool(places)

    while text not in _parts()["parent"]:
        ends = _PARENT_SUFFIX.fullmatch(text)
        if ends and ends["parent"] in _parts()["parent"]:
            if not hang(_places(ends["lead"] or ends["place"]), AT_A_PLACE[ends["suffix"]]):
                return None
            text = ends["parent"]
            break
        told = _SUBSTITUENT.match(text)
        if told is None or told["what"] == EPOXY:
            return None
        what, rest = told["what"], text[told.end() :]
        if what.endswith(THIO) and THIO + rest in _parts()["parent"]:
            what, rest = what.removesuffix(THIO), THIO + rest  # methyl on thiophenol
        places = _places(told["at"])
        if len(places) != MULTIPLES[told["multiple"] or ""]:
            return None
        if not hang(places, SUBSTITUENTS[what]):
            return None
        text = rest
    parent = _parts()["parent"][text]
    free = {int(place) for place in re.findall(r"{(\d)}", parent)}
    if not hung or not hung.keys() <= free:
        return None
    return re.sub(r"{(\d)}", lambda place: hung.get(int(place[1]), ""), parent)


def _order(hanging: str) -> int:
    return {"=": 2, "#": 3}.get(hanging[0], 1)


def _places(text: str | None) -> list[int]:
    return [int(place) for place in text.split(",")] if text else []


def _chain(name: str) -> _Chain | None:
    """The chain that a substitutive name spells out; None for another name."""
    marks = "".join(found[0] for found in _STEREO.finditer(name))
    plain = _STEREO.sub("", name)
    sides = [_SIDES.get(m, m) for m in re.findall(r"cis|trans|(?<![a-z])[ez](?![a-z])", marks)]
    return _read_chain(plain, [], sides)


def _read_chain(
    text: str, substituents: list[tuple[list[int], str]], sides: list[str]
) -> _Chain | None:
    """The core where the rest is one, else one substituent and the rest."""
    core = _CORE.fullmatch(text)
    found = _of_core(core, substituents, sides) if core else None
    if found is not None:
        return found
    told = _SUBSTITUENT.match(text)
    if told is None or not told.end():
        return None
    places = _places(told["at"])
    multiple = 2 if told["what"] == EPOXY else MULTIPLES[told["multiple"] or ""]
    if len(places) != multiple:
        return None
    more = [*substituents, (places, told["what"])]
    return _read_chain(text[told.end() :], more, sides)


def _of_core(
    core: re.Match[str], substituents: list[tuple[list[int], str]], sides: list[str]
) -> _Chain | None:
    lead, opened, place = (_places(core[group]) for group in ("lead", "open", "place"))
    suffix = core["suffix"] or ""
    is_ring = bool(core["ring"])
    chain = _Chain(STEMS[core["stem"]], is_ring, suffix, sides=sides)
    if core["kind"]:
        if not opened:
            opened, lead = (lead or ([2] if chain.size == 3 and suffix in AT_THE_END else [])), []
        if len(opened) != MULTIPLES[core["opens"] or ""]:
            return None
        chain.orders = {at: "=" if core["kind"].startswith("en") else "#" for at in opened}
    elif not core["sat"] and suffix != "yl":
        return None  # "hexal" is no name
    number = MULTIPLES[core["several"] or ""]
    if not suffix:
        if lead or place or core["several"] or not core[0].endswith("e"):
            return None
    elif suffix in ON_A_RING:
        if not is_ring or core["several"]:
            return None
        chain.hang((place or lead or [1])[0], ON_A_RING[suffix])
    elif suffix in AT_THE_END:
        if is_ring or lead or place or core["several"]:
            return None
        chain.hanging = {1: [AT_THE_END[suffix]], **chain.hanging}
    else:
        places = place or lead
        if not places and (is_ring or suffix != "one") and number == 1:
            places = [1]
        if len(places) != number:
            return None
        if suffix == "yl" and number > 1:
            return None
        if suffix == "one" and not is_ring and {1, chain.size} & set(places):
            return None  # at the end of a chain it would be an aldehyde
        if suffix == "yl":
            chain.bond_at = places[0]
        else:
            for at in places:
                chain.hang(at, AT_A_PLACE[suffix])
    for places, what in substituents:
        if what == EPOXY:
            if places[1] != places[0] + 1:
                return None
            chain.hang(places[0], f"O{EPOXY_RING}")
            chain.hang(places[1], EPOXY_RING)
        else:
            for at in places:
                chain.hang(at, SUBSTITUENTS[what])
    return chain if chain.is_sound() else None
