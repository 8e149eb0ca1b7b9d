"""What does a column's heading mean? The words that people use, in English, German and French.

Case, accents, blanks, points and hyphens don't matter, and a unit may stand with the word:
"Weight (g)", "Menge [mg]", "Poids, kg", "strength %", "amount in g". A heading that isn't known is
not guessed at: its column stays unused, and whoever reads the table says so.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

Meaning = TypeVar("Meaning")

AMOUNTS = ("grams", "mL", "drops")  # a row's own amount
SHARES = ("percent", "parts")  # its share of the whole
IDENTITIES = ("material", "cas", "smiles")

# Column: the words for it. Common practice of bench books and spreadsheets, no source.
WORDS: dict[str, tuple[str, ...]] = {
    "material": (
        "material", "materials", "ingredient", "ingredients", "component", "components",
        "constituent", "constituents", "raw material", "raw materials", "substance", "substances",
        "compound", "chemical", "aroma chemical", "product", "name", "material name",
        "ingredient name", "product name",
        "Stoff", "Stoffe", "Zutat", "Zutaten", "Komponente", "Komponenten", "Bestandteil",
        "Bestandteile", "Rohstoff", "Rohstoffe", "Substanz", "Substanzen", "Inhaltsstoff",
        "Inhaltsstoffe", "Einsatzstoff", "Bezeichnung", "Produkt",
        "matière", "matières", "matière première", "matières premières", "ingrédient",
        "ingrédients", "composant", "composants", "constituant", "constituants", "produit",
        "nom", "désignation",
        "item", "items", "Artikel", "article", "articles",
    ),
    "strength_pct": (
        "strength", "dilution", "dil", "active %", "% active",
        "Stärke", "Verdünnung", "Gehalt", "Wirkstoffgehalt",
        "titre",
    ),
    "carrier": (
        "carrier", "solvent", "diluent", "in", "vehicle", "diluted in", "dissolved in",
        "Träger", "Trägerstoff", "Lösungsmittel", "Lösemittel", "Verdünnungsmittel", "gelöst in",
        "verdünnt in",
        "solvant", "diluant", "support", "dans", "dilué dans",
    ),
    "role": ("role", "function", "Funktion", "Rolle", "rôle", "fonction"),
    "cas": (
        "CAS", "CAS no", "CAS nr", "CAS number", "CAS RN", "CAS Nummer", "numéro CAS", "no CAS",
        "n CAS",
    ),
    "smiles": ("SMILES",),
    "note": (
        "note", "notes", "remark", "remarks", "comment", "comments",
        "Notiz", "Notizen", "Bemerkung", "Bemerkungen", "Anmerkung", "Anmerkungen", "Kommentar",
        "remarque", "remarques", "commentaire", "commentaires",
    ),
}  # fmt: skip
# Words among these that often number the rows: any other word goes before them
MAY_NUMBER = ("item", "items", "artikel", "article", "articles")
# Amounts: the words, and which kinds of unit may stand with them. Without one, the first kind.
AMOUNT_WORDS: dict[tuple[str, ...], tuple[str, ...]] = {
    ("grams", "percent", "parts"): (
        "weight", "wt", "mass", "net weight", "weigh", "pbw", "Gewicht", "Masse", "Einwaage",
        "poids", "masse",
    ),
    ("grams", "mL", "drops", "percent", "parts"): (
        "amount", "quantity", "qty", "quant", "Menge", "Mengen", "quantité", "qté",
    ),
    ("mL",): ("volume", "vol", "Volumen", "volume"),
    ("percent", "parts", "grams"): ("share", "proportion", "Anteil", "part en masse"),
    ("percent",): ("concentration", "conc", "Konzentration", "percentage", "pourcentage"),
    ("parts",): (
        "mass fraction", "weight fraction", "parts by weight", "Massenanteil", "Gewichtsteile",
        "Massenteile", "fraction massique", "parties en poids",
    ),
}  # fmt: skip
# A unit: its column, as a cell writes it, and its spellings in a heading
UNITS: dict[tuple[str, str], tuple[str, ...]] = {
    ("grams", "g"): ("g", "gr", "gram", "grams", "Gramm", "gramme", "grammes"),
    ("grams", "mg"): ("mg", "milligram", "milligrams", "Milligramm", "milligrammes"),
    ("grams", "kg"): ("kg", "kilogram", "kilograms", "Kilogramm", "kilogrammes"),
    ("grams", "µg"): ("µg", "ug"),
    ("grams", "oz"): ("oz", "ounce", "ounces", "Unzen", "onces"),
    ("grams", "lb"): ("lb", "lbs", "pounds"),
    ("mL", "mL"): (
        "ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc",
    ),
    ("mL", "L"): ("l", "litre", "litres", "liter", "liters"),
    ("mL", "cL"): ("cl",),
    ("mL", "dL"): ("dl",),
    ("mL", "µL"): ("µl", "ul"),
    ("drops", "drops"): ("drops", "drop", "gtt", "Tropfen", "gouttes", "goutte"),
    ("percent", "%"): (
        "%", "pct", "percent", "per cent", "wt %", "weight %", "mass %", "% w/w", "w/w", "% m/m",
        "% wt", "% by weight", "% by mass", "g/100 g", "g per 100 g", "Prozent", "Gew %",
        "Gewichts %", "Masse %", "Massen %", "Ma %", "pour cent", "% masse", "% massique",
        "% en poids",
    ),
    ("parts", "parts"): (
        "parts", "part", "Teile", "parties", "g/kg", "g per kg", "‰", "per mille", "Promille",
        "ppm", "mg/kg",
    ),
}  # fmt: skip
# How a strength's heading may state its basis
BASES: dict[str, tuple[str, ...]] = {
    "": ("%", "pct", "percent", "per cent", "Prozent", "pour cent"),
    "% mass": (
        "% w/w", "w/w", "% m/m", "wt %", "mass %", "weight %", "% mass", "% by mass",
        "% by weight", "Gew %", "Masse %", "Ma %", "% masse", "% massique",
    ),
    "% vol": ("% vol", "vol %", "% v/v", "v/v", "abv", "% abv", "% by volume"),
}  # fmt: skip
# A heading with one of these words decides what a row holds: it may not be passed over
WEIGHTY = (
    "strength", "dilution", "diluted", "diluent", "solvent", "carrier", "concentration",
    "Verdünnung", "verdünnt", "Lösungsmittel", "Lösemittel", "Träger", "Konzentration", "Gehalt",
    "solvant", "diluant", "dilué", "teneur", "titre",
)  # fmt: skip
_PLURALS = re.compile(r"\((?:s|es|e|n|en)\)", re.IGNORECASE)
_AT_C = re.compile(r"[\s,;(@]*(?:at|bei|à)?\s*\d+\s*°\s*c\s*\)?\s*$", re.IGNORECASE)
_APART = (
    re.compile(r"^(?P<word>.*?)\s*[(\[{]\s*(?P<unit>[^()\[\]{}]*?)\s*[)\]}]$"),
    re.compile(r"^(?P<word>.*?)\s*[,;:/]\s*(?P<unit>[^,;:]*)$"),
    re.compile(r"^(?P<word>.*?)\s+(?:in|en)\s+(?P<unit>.*)$", re.IGNORECASE),
)


@dataclass(frozen=True)
class Heading:
    """What a heading means: our column, the unit (or basis of a strength) that stands in it, as a
    cell would write it, and the heading as written. `is_bare` where an amount's unit is missing."""

    column: str
    unit: str = ""
    written: str = ""
    is_bare: bool = False


def heading_of(cell: str) -> Heading | None:
    """What a heading means; None for one that isn't known.

    >>> heading_of("Poids [mg]"), heading_of("Supplier")
    (Heading(column='grams', unit='mg', written='Poids [mg]', is_bare=False), None)
    """
    written = " ".join(cell.split())
    found = _looked_up(_AT_C.sub("", _PLURALS.sub("", written)))
    return None if found is None else Heading(found[0], found[1], written, found[2])


@cache
def _looked_up(text: str) -> tuple[str, str, bool] | None:
    word = plain(text)
    if word in _UNITS:
        return (*_UNITS[word], False)
    if word in _COLUMNS:
        return _COLUMNS[word], "", False
    if word in _AMOUNTS:
        kind = _AMOUNTS[word][0]
        return kind, "", kind in AMOUNTS
    for word, unit in _word_and_unit(text):
        if word in _AMOUNTS and unit in _UNITS and _UNITS[unit][0] in _AMOUNTS[word]:
            return (*_UNITS[unit], False)
        if word in _UNITS and _UNITS.get(unit) == _UNITS[word]:
            return (*_UNITS[unit], False)  # grams (g)
        if _COLUMNS.get(word) == "strength_pct" and unit in _BASES:
            return "strength_pct", _BASES[unit], False
    return None


def _word_and_unit(text: str) -> Iterator[tuple[str, str]]:
    """The ways to read a heading as a word with its unit: a sign between them first, then each
    blank, as a word or a unit may have blanks of its own ("weight mass %", "g per kg amount")."""
    for pattern in _APART:
        match = pattern.match(text)
        if match is not None:
            yield plain(match.group("word")), plain(match.group("unit"))
    pieces = re.split(r"[\s_]+", text)
    splits = [
        (plain(" ".join(pieces[:at])), plain(" ".join(pieces[at:]))) for at in range(1, len(pieces))
    ]
    yield from reversed(splits)
    yield from ((right, left) for left, right in splits)


def is_weighty(cell: str) -> bool:
    """Whether an unknown heading speaks of strengths or carriers, so that leaving its column out
    would make another formula.

    >>> is_weighty("Dilution in ethanol"), is_weighty("Supplier")
    (True, False)
    """
    return not _WEIGHTY.keys().isdisjoint(re.findall(r"[a-z]+", plain(cell)))


def plain(text: str) -> str:
    """The form that headings are compared in: no accents, case, points or hyphens.

    >>> plain(" Trägerstoff "), plain("Gew.-%"), plain("CAS-Nr.")
    ('tragerstoff', 'gew %', 'cas nr')
    """
    text = unicodedata.normalize("NFKD", text.casefold().replace("µ", "u").replace("μ", "u"))
    text = "".join(sign for sign in text if not unicodedata.combining(sign))
    text = text.replace("°", "").replace("‰", " per mille ").replace("%", " % ")
    return " ".join(re.sub(r"[^\w%/&+]|_", " ", text).split())


def _index(words: Mapping[Meaning, Iterable[str]]) -> dict[str, Meaning]:
    """What each word means, by its plain form; umlauts dropped (trager) or written (traeger)."""
    found: dict[str, Meaning] = {}
    for meaning, written in words.items():
        for word in written:
            found[plain(word)] = found[plain(word.translate(_WRITTEN_OUT))] = meaning
    return found


_WRITTEN_OUT = {ord("ä"): "ae", ord("ö"): "oe", ord("ü"): "ue"}
_UNITS = _index(UNITS)
_BASES = _index(BASES)
_COLUMNS = _index(WORDS)
_AMOUNTS = _index(AMOUNT_WORDS)
_WEIGHTY = _index({True: WEIGHTY})
