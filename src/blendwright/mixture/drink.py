"""What is a drink made of? Water, ethanol and sugar per volume, from what people write.

Ethanol is % by volume of the whole drink at 20 °C, sugar (as sucrose) % of the drink's mass. One
kilogram of drink with sugar w and the ethanol share a of the rest fills

    V = w v(w') + (1 - w) / rho(a),        w' = w / (w + water)

with rho of aqueous ethanol (`density`) and v the room that sucrose takes in water,

    v(w') = (1 / rho(w') - (1 - w') / rho(0)) / w'

from `sucrose_density.csv` (20 °C, 0 to 65 % mass; above that v is held). What ethanol does to v is
left out. a is found so that (1 - w) a / rho(1) / V is the % by volume (OIML R 22 for w = 0).
Acids, salts, proteins, gums and gas are left out of every drink.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue.material import Material
from blendwright.catalogue.tables import table_rows
from blendwright.errors import BlendwrightError
from blendwright.formula.conditions import BENCH_K
from blendwright.formula.numbers import parse_number, why_no_number
from blendwright.mixture.density import material_density
from blendwright.pure.roots import Array, Ints, roots_between

MOST_SUGAR_PCT = 70.0  # of the mass; sucrose saturates water at about 67 % at 20 °C (from memory)
MOST_ETHANOL_PCT = 100.0
SHARE_TOLERANCE = 1e-13  # of a mass share

UNDERSTOOD = (
    "water, sparkling water, 10 % sugar, 100 g/L sugar, syrup 65 %, 65 brix, soda, soda 8 % "
    "sugar, diet soda, wine, wine 13 %, beer 5 %, cider 5 %, spirit 40 %, 40 % vol, "
    "liqueur 25 % vol 20 % sugar"
)


class DrinkError(BlendwrightError):
    """A drink that is not understood, or that can't be made."""


@dataclass(frozen=True)
class Drink:
    """What the concentrate goes into. `assumed` says what the person did not."""

    name: str
    ethanol_pct_vol: float = 0.0
    sugar_pct_mass: float = 0.0
    carbonated: bool = False
    assumed: str = ""

    def __post_init__(self) -> None:
        """Raises DrinkError outside 0 to 100 % vol and 0 to 70 % sugar."""
        if not 0.0 <= self.ethanol_pct_vol <= MOST_ETHANOL_PCT:
            raise DrinkError(
                f"{self.name}: {self.ethanol_pct_vol:g} % vol is outside 0 to "
                f"{MOST_ETHANOL_PCT:g}; give the strength in % by volume"
            )
        if not 0.0 <= self.sugar_pct_mass <= MOST_SUGAR_PCT:
            raise DrinkError(
                f"{self.name}: {self.sugar_pct_mass:g} % sugar is outside 0 to "
                f"{MOST_SUGAR_PCT:g}; give grams of sugar in 100 g of drink"
            )

    @property
    def is_alcoholic(self) -> bool:
        return self.ethanol_pct_vol > 0.0

    def to_dict(self) -> dict[str, object]:
        return {
            "name": self.name,
            "ethanol_pct_vol": self.ethanol_pct_vol,
            "sugar_pct_mass": self.sugar_pct_mass,
            "carbonated": self.carbonated,
            "assumed": self.assumed,
        }


@dataclass(frozen=True)
class _Kind:
    """A word for a drink, what it stands for unless told, and what a bare "5 %" means with it."""

    ethanol: float | None = 0.0
    sugar: float | None = 0.0
    carbonated: bool = False
    bare: str = ""
    besides: str = ""


# strengths: common practice, no source
_KINDS: dict[str, _Kind] = {
    "": _Kind(),
    "water": _Kind(),
    "still water": _Kind(),
    "sparkling water": _Kind(carbonated=True),
    "soda water": _Kind(carbonated=True),
    "sugar": _Kind(sugar=None, bare="sugar"),
    "sugar water": _Kind(sugar=None, bare="sugar"),
    "sugar solution": _Kind(sugar=None, bare="sugar"),
    "syrup": _Kind(sugar=None, bare="sugar"),
    "sugar syrup": _Kind(sugar=None, bare="sugar"),
    "soda": _Kind(sugar=10.0, carbonated=True, bare="sugar"),
    "diet soda": _Kind(carbonated=True, besides="no sugar; sweeteners left out"),
    "wine": _Kind(ethanol=12.5, bare="ethanol", besides="dry, no sugar"),
    "beer": _Kind(ethanol=5.0, carbonated=True, bare="ethanol", besides="no sugar"),
    "cider": _Kind(ethanol=5.0, carbonated=True, bare="ethanol", besides="dry, no sugar"),
    "spirit": _Kind(ethanol=40.0, bare="ethanol", besides="no sugar"),
    "spirits": _Kind(ethanol=40.0, bare="ethanol", besides="no sugar"),
    "liqueur": _Kind(ethanol=None, sugar=None, bare="ethanol"),
}

_NUMBER = r"(-?\d+(?:[.,]\d+)?)\s*"
_ETHANOL = re.compile(_NUMBER + r"(?:%\s*(?:by\s+)?(?:vol(?:ume)?\b\.?|abv\b|v/v)|abv\b|vol\s*%)")
_SUGAR_g_L = re.compile(_NUMBER + r"g\s*/\s*l\b")
_BRIX = re.compile(_NUMBER + r"(?:degrees\s+|°\s*)?(?:brix|bx)\b")
_PER_CENT = re.compile(_NUMBER + r"%")
_FILLERS = re.compile(r"\b(?:with|and|of|in|at|a|the)\b|[,;+]")


def parse_drink(text: str) -> Drink:
    """A drink from plain words and strengths. Raises DrinkError saying what is understood."""
    rest = " ".join(text.casefold().split())
    rest, ethanol = _take(_ETHANOL, rest)
    rest, g_L = _take(_SUGAR_g_L, rest)
    rest, brix = _take(_BRIX, rest)
    rest, bare = _take(_PER_CENT, rest)
    word = " ".join(_FILLERS.sub(" ", rest).split())
    kind = _KINDS.get(word)
    if kind is None and word.endswith(" sugar") and word.removesuffix(" sugar") in _KINDS:
        kind, bare_is = _KINDS[word.removesuffix(" sugar")], "sugar"
    else:
        bare_is = kind.bare if kind else ""
    if kind is None or (not word and ethanol is brix is bare is None):
        raise DrinkError(f"the drink {text!r} is not understood; understood are: {UNDERSTOOD}")
    sugar = brix if g_L is None else sugar_pct_from_g_L(g_L)
    if bare is not None:
        taken = {"sugar": sugar, "ethanol": ethanol}.get(bare_is, bare)
        if taken is not None:
            raise DrinkError(
                f"{text!r}: {bare:g} % of what? write '{bare:g} % vol' for ethanol by volume or "
                f"'{bare:g} brix' for sugar by mass"
            )
        ethanol = bare if bare_is == "ethanol" else ethanol
        sugar = bare if bare_is == "sugar" else sugar
    assumed = []
    if ethanol is None:
        ethanol = kind.ethanol
        assumed += [f"{ethanol:g} % vol"] if ethanol else []
    if sugar is None:
        sugar = kind.sugar
        assumed += [f"{sugar:g} % sugar by mass"] if sugar else []
        assumed += [kind.besides] if kind.besides else []
    if ethanol is None or sugar is None:
        raise DrinkError(
            f"{text!r} needs its strength: write 'syrup 65 %' or 'liqueur 25 % vol 20 % sugar'"
        )
    note = f"{', '.join(assumed)} (common practice, no source)" if assumed else ""
    return Drink(" ".join(text.split()), ethanol, sugar, kind.carbonated, note)


def _take(pattern: re.Pattern[str], text: str) -> tuple[str, float | None]:
    """The first number of a kind, and the text without it. Raises DrinkError for two readings."""
    found = pattern.search(text)
    if found is None:
        return text, None
    value = parse_number(found.group(1))
    if value is None:
        raise DrinkError(why_no_number(found.group(1)))
    return text[: found.start()] + " " + text[found.end() :], value


@cache
def _sucrose_table() -> tuple[tuple[float, ...], tuple[float, ...], str]:
    """Mass fractions, densities (kg/m3), and their source."""
    rows = table_rows("blendwright.mixture", "sucrose_density.csv")
    return (
        tuple(float(row["sucrose_mass_pct"]) / 100.0 for row in rows),
        tuple(float(row["density_kg_m3"]) for row in rows),
        rows[0]["source"],
    )


def sucrose_volume_m3_kg(mass_fraction: float) -> float:
    """The room that a kilogram of sucrose takes in water at 20 °C; held beyond the table."""
    shares, densities, _ = _sucrose_table()
    w = np.array(shares[1:])
    v = (1.0 / np.array(densities[1:]) - (1.0 - w) / densities[0]) / w
    return float(np.interp(mass_fraction, w, v))


def sucrose_source() -> str:
    return _sucrose_table()[2]


def sugar_pct_from_g_L(g_L: float) -> float:
    """% by mass of a sugar solution with so many grams in a litre, 20 °C. Raises DrinkError."""
    low, high = 0.0, MOST_SUGAR_PCT / 100.0
    water = _sucrose_table()[1][0]

    def grams(w: float) -> float:
        return w / (w * sucrose_volume_m3_kg(w) + (1.0 - w) / water)  # kg/m3

    if not 0.0 <= g_L <= grams(high):
        raise DrinkError(f"{g_L:g} g/L of sugar is outside 0 to {grams(high):.0f} g/L")
    found = roots_between(
        lambda w, _: np.array([grams(float(w[0])) - g_L]),
        np.array([low]),
        np.array([high]),
        SHARE_TOLERANCE,
    )
    return 100.0 * float(found.root[0])


@dataclass(frozen=True)
class Contents:
    """What one cubic metre of drink contains at 20 °C, kg."""

    water_kg: float
    ethanol_kg: float
    sugar_kg: float

    @property
    def density_kg_m3(self) -> float:
        return self.water_kg + self.ethanol_kg + self.sugar_kg


def contents(drink: Drink, water: Material, ethanol: Material) -> Contents:
    """What a cubic metre of the drink holds. Raises DrinkError where sugar and alcohol together
    leave too little water to hold the sugar."""
    w = drink.sugar_pct_mass / 100.0
    pure = _density(ethanol, water, 1.0)

    def volume(a: float) -> float:
        watery = (1.0 - w) * (1.0 - a)
        room = w * sucrose_volume_m3_kg(w / (w + watery)) if w else 0.0
        return room + (1.0 - w) / _density(ethanol, water, a)

    def too_strong(share: Array, _: Ints) -> Array:
        a = float(share[0])
        by_volume = (1.0 - w) * a / pure / volume(a)
        return np.array([by_volume - drink.ethanol_pct_vol / 100.0])

    share = 0.0
    if drink.is_alcoholic:
        found = roots_between(too_strong, np.zeros(1), np.ones(1), SHARE_TOLERANCE)
        share = float(found.root[0]) if found.crosses[0] else 1.0  # weaker even without water
    watery = (1.0 - w) * (1.0 - share)
    if w and w / (w + watery) > MOST_SUGAR_PCT / 100.0 + 1e-9:
        raise DrinkError(
            f"{drink.name}: {drink.sugar_pct_mass:g} % sugar does not stay dissolved in the little "
            f"water beside {drink.ethanol_pct_vol:g} % vol; lower one of them"
        )
    kilo = volume(share)
    return Contents(watery / kilo, (1.0 - w) * share / kilo, w / kilo)


def _density(ethanol: Material, water: Material, share: float) -> float:
    parts = [(m, f) for m, f in ((ethanol, share), (water, 1.0 - share)) if f > 0.0]
    return material_density(parts, BENCH_K).interval()[0]
