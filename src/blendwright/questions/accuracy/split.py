"""Does the blend stay one liquid? Published yes-and-no facts, and what the models make of them.

Facts, each a blend, a temperature and "clear" or "parts":

- water: a liquid at half its measured water solubility is clear, at twice it parts
  (`water_solubility.csv`);
- spirit: at the published volume of dilute alcohol it is clear; at MARGIN of it, it parts: an
  acceptance limit lies at or somewhat below the truth (common practice, no source); with as much
  20 % alcohol what dissolves less than 5 g/L in water parts (`clear_in_alcohol.csv`); oils
  likewise, parting in the same volume of 40 % alcohol (`clear_in_alcohol_oils.csv`);
  `split_points.csv`;
- organic: miscibility with propylene glycol (`propylene_glycol_miscibility.csv`: "soluble" is at
  least 1 part in 30; "practically insoluble" parts at 1 in 5 and 1 in 2), the usual ester-rich
  concentrate of the trade, clear (common practice, no source), and `split_points.csv`.

The chances are those of the shipped model, whose learned terms have seen some of these facts;
`left_out` holds what was tested on data not used in fitting.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.estimate import per_cent, to_kelvin
from blendwright.formula import Formula
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.clarity import clarity
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import (
    DEFAULT_DENSITY_kg_m3,
)
from blendwright.mixture.density import material_density
from blendwright.mixture.water_solubility import water_solubility as solubility_in_water
from blendwright.mixture.weighing import mass_fraction_from_volume_percent, weigh
from blendwright.pure.density import liquid_density
from blendwright.questions.accuracy import water_solubility
from blendwright.questions.accuracy.reference import reference
from blendwright.questions.accuracy.table_lines import Case, Counted
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, SPLITS_ABOVE

AQUEOUS_WATER_SHARE = 0.05  # of the mass
HELPED_SHARE_OF_WATER = 0.1
HELPING_SOLVENTS = (
    "ethanol",
    "isopropanol",
    "1-propanol",
    "propylene glycol",
    "1,3-propanediol",
    "dipropylene glycol",
)
MARGIN = 0.4
ASSUMED_WEIGHT = 0.5  # of a fact that is assumed (parting at MARGIN of the limit), not published
SPARING_g_L = 5.0
CONCENTRATE = (
    ("ethyl acetate", 3.0),
    ("ethyl propionate", 3.0),
    ("ethyl butyrate", 5.0),
    ("isoamyl acetate", 5.0),
    ("vanillin", 2.0),
    ("triethyl citrate", 1.0),
    ("eugenol", 0.3),
    ("benzaldehyde", 0.4),
    ("hexanal", 0.3),
    ("propylene glycol", 80.0),
)


@dataclass(frozen=True, eq=False)
class KnownSplit:
    """A blend that is known to be clear (0) or to part (1); `about` is left out together."""

    about: str
    words: str
    composition: Composition
    temperature_K: float
    parts: float
    weight: float = 1.0

    @cached_property
    def medium(self) -> str:
        """ "organic" with at most a twentieth of water by mass; else "spirit" where a helping
        solvent is more than a tenth of the water, else "water"."""
        shares = dict(zip(self.composition.names, self.composition.mass_fractions, strict=True))
        water = shares.get("water", 0.0)
        if water <= AQUEOUS_WATER_SHARE:
            return "organic"
        helping = sum(shares.get(name, 0.0) for name in HELPING_SOLVENTS)
        return "spirit" if helping > HELPED_SHARE_OF_WATER * water else "water"

    @cached_property
    def chance(self) -> float:
        """Chance of a split, by the shipped model."""
        found = clarity(self.composition, self.temperature_K)
        return math.nan if found is None else found.chance_of_split


def blend(*rows: tuple[str, float]) -> Composition:
    """Grams of materials as a composition."""
    made = Formula.from_rows({"material": name, "grams": grams} for name, grams in rows)
    return weigh(made, default_catalogue()).composition


def in_alcohol(material: str, volumes: float, alcohol_pct_vol: float) -> Composition:
    """1 mL of a material in so many mL of alcohol of a strength."""
    catalogue = default_catalogue()
    ethanol, water = catalogue.material("ethanol"), catalogue.material("water")
    share = mass_fraction_from_volume_percent(ethanol, water, alcohol_pct_vol)
    alcohol = material_density([(ethanol, share), (water, 1.0 - share)], ROOM_K).interval()[0]
    oil = catalogue.find(material)
    parts = [(catalogue.material(c.material), c.typical) for c in oil.constituents]
    whole = bool(oil.accepted("density")) or not parts
    density = liquid_density(oil, ROOM_K) if whole else material_density(parts, ROOM_K)
    grams = volumes * alcohol / 1e3
    return blend(
        (material, (density.value or DEFAULT_DENSITY_kg_m3) / 1e3),
        ("ethanol", grams * share),
        ("water", grams * (1.0 - share)),
    )


@cache
def facts() -> tuple[KnownSplit, ...]:
    return (*_water_facts(), *_spirit_facts(), *_organic_facts(), *_split_points())


def _water_facts() -> list[KnownSplit]:
    made = []
    for row in water_solubility.rows():
        if not row.material.curated:
            continue
        for factor, parts in ((0.5, 0.0), (2.0, 1.0)):
            grams_L = factor * 10.0**row.measured * row.material.molar_mass_kg_mol * 1e3
            if grams_L > 300.0:
                continue
            words = f"{row.material.name} in water at {factor:g} times its solubility"
            density = liquid_density(row.material, ROOM_K).value or 950.0
            water_g = 997.0 * (1.0 - grams_L / density)
            mixed = blend((row.material.name, grams_L), ("water", water_g))
            made.append(KnownSplit(row.material.name, words, mixed, ROOM_K, parts))
    return made


def _spirit_facts() -> list[KnownSplit]:
    made = []
    for table in ("clear_in_alcohol.csv", "clear_in_alcohol_oils.csv"):
        for row in reference(table):
            name, volumes = row["material"], float(row["millilitres_of_alcohol_per_mL"])
            strength, kelvin = float(row["alcohol_pct_vol"]), to_kelvin(float(row["temperature_C"]))
            weaker = 20.0 if table == "clear_in_alcohol.csv" else 40.0
            trials = [(volumes, strength, 0.0), (MARGIN * volumes, strength, 1.0)]
            if weaker == 40.0 or _is_sparing(name):
                trials.append((volumes, weaker, 1.0))
            for volume, percent, parts in trials:
                words = f"{name} in {volume:g} volumes of {percent:g} % alcohol"
                weight = ASSUMED_WEIGHT if volume < volumes else 1.0
                mixed = in_alcohol(name, volume, percent)
                made.append(KnownSplit(name, words, mixed, kelvin, parts, weight))
    return made


def _is_sparing(name: str) -> bool:
    material = default_catalogue().find(name)
    found = solubility_in_water(material)
    return found is not None and found.mol_m3 * material.molar_mass_kg_mol < SPARING_g_L


def _organic_facts() -> list[KnownSplit]:
    made = []
    for row in reference("propylene_glycol_miscibility.csv"):
        name, statement = row["material"], row["statement"]
        shares = {
            "miscible": ((1 / 31, 0.0), (0.2, 0.0), (0.5, 0.0)),
            "soluble": ((1 / 31, 0.0),),
            "practically insoluble": ((0.2, 1.0), (0.5, 1.0)),
        }[statement]
        for share, parts in shares:
            words = f"{name} {per_cent(share)} in propylene glycol"
            mixed = blend((name, 100.0 * share), ("propylene glycol", 100.0 * (1.0 - share)))
            made.append(KnownSplit(name, words, mixed, ROOM_K, parts))
    usual = blend(*CONCENTRATE)
    made.append(KnownSplit("concentrate", "the usual ester-rich concentrate", usual, 295.15, 0.0))
    return made


def _split_points() -> list[KnownSplit]:
    made = []
    for row in reference("split_points.csv"):
        rows = [
            (name, float(grams))
            for name, grams in zip(
                row["materials"].split("|"), row["grams"].split("|"), strict=True
            )
        ]
        parts = 1.0 if row["state"] == "parts" else 0.0
        kelvin = to_kelvin(float(row["temperature_C"]))
        words = " + ".join(f"{name} {grams:g}" for name, grams in rows)
        made.append(KnownSplit(row["about"], words, blend(*rows), kelvin, parts))
    return made


def chance_cases() -> list[Case]:
    """Chance of layers less what was seen (1: parts)."""
    return [
        Case(fact.words, fact.chance - fact.parts, None, fact.medium)
        for fact in facts()
        if fact.weight == 1.0
    ]


def least_clear_volume(material: str, alcohol_pct_vol: float, kelvin: float) -> float:
    """Volumes of dilute alcohol above which the verdict is "clear", 0.1 to 200."""

    def is_clear(ln_volume: float) -> bool:
        mixed = in_alcohol(material, math.exp(ln_volume), alcohol_pct_vol)
        return KnownSplit(material, "", mixed, kelvin, 0.0).chance < CLEAR_BELOW

    steps = np.linspace(math.log(0.1), math.log(200.0), 20)
    clear = [is_clear(float(step)) for step in steps]
    if clear[0] and all(clear):
        return math.exp(float(steps[0]))
    last = max(i for i, ok in enumerate(clear) if not ok)
    if last == len(steps) - 1:
        return math.exp(float(steps[-1]))
    low, high = float(steps[last]), float(steps[last + 1])
    for _ in range(6):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if is_clear(middle) else (middle, high)
    return math.exp(0.5 * (low + high))


def counted() -> list[Counted]:
    """The verdicts on the published facts."""
    chances = [(f, f.chance) for f in facts()]
    published = [(f, p) for f, p in chances if f.weight == 1.0]
    single = {row["material"] for row in reference("clear_in_alcohol.csv")}
    oils = {row["material"] for row in reference("clear_in_alcohol_oils.csv")}
    made = []
    for title, names, target in (("substances", single, 0.9), ("oils", oils, 0.875)):
        at = [(f, p) for f, p in published if f.about in names and "volumes" in f.words]
        clear = [(f, p) for f, p in at if f.parts == 0.0]
        parts = [(f, p) for f, p in at if f.parts == 1.0]
        made += [
            _count(f'{title} at the published volume: not "splits"', clear, _not_splits, target),
            _count(f'{title} at the published volume: "clear"', clear, _is_clear, 0.7),
            _count(f'{title} in too weak alcohol: not "clear"', parts, _not_clear, 1.0),
        ]
    ratios = []
    for row in reference("clear_in_alcohol.csv"):
        name, strength = row["material"], float(row["alcohol_pct_vol"])
        kelvin = to_kelvin(float(row["temperature_C"]))
        found = least_clear_volume(name, strength, kelvin)
        ratios.append((name, found / float(row["millilitres_of_alcohol_per_mL"])))
    outside = [(name, ratio) for name, ratio in ratios if not 0.4 <= ratio <= 1.5]
    made.append(
        Counted(
            "least volume of alcohol 0.4 to 1.5 times the published",
            len(ratios) - len(outside),
            len(ratios),
            0.8,
            tuple(f"{name}: {ratio:.2f} times" for name, ratio in outside),
        )
    )
    glycol = [(f, p) for f, p in published if f.medium == "organic"]
    made.append(_count("glycol and other carriers: right side of a half", glycol, _is_right, 0.9))
    return made


def _is_right(fact: KnownSplit, chance: float) -> bool:
    return (chance > 0.5) == (fact.parts == 1.0)


def _not_splits(fact: KnownSplit, chance: float) -> bool:
    return chance <= SPLITS_ABOVE


def _is_clear(fact: KnownSplit, chance: float) -> bool:
    return chance < CLEAR_BELOW


def _not_clear(fact: KnownSplit, chance: float) -> bool:
    return chance >= CLEAR_BELOW


def _count(
    title: str,
    found: Sequence[tuple[KnownSplit, float]],
    holds: Callable[[KnownSplit, float], bool],
    target: float,
) -> Counted:
    missed = tuple(f"{f.words} ({per_cent(p)})" for f, p in found if not holds(f, p))
    return Counted(title, len(found) - len(missed), len(found), target, missed)
