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

Each voice (a parameter set, or log-linear cosolvency) gets a bias and a scale by maximum
likelihood, then the voices get weights by how well they foretell the facts together.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files

import numpy as np
from scipy.optimize import minimize

from blendwright.catalogue import default_catalogue
from blendwright.estimate import to_kelvin
from blendwright.formula import Formula
from blendwright.formula.conditions import ROOM_K
from blendwright.mixture.clarity import Sign, share_of_parting, sign_of, student_share
from blendwright.mixture.composition import Composition
from blendwright.mixture.cosolvency import (
    Cosolvent,
    DEFAULT_DENSITY_kg_m3,
    Oils,
    cosolvents,
    oils_in,
)
from blendwright.mixture.density import material_density
from blendwright.mixture.parameter_sets import Array
from blendwright.mixture.water_solubility import water_solubility as solubility_in_water
from blendwright.mixture.weighing import mass_fraction_from_volume_percent, weigh
from blendwright.pure.density import liquid_density
from blendwright.questions.accuracy import water_solubility
from blendwright.questions.accuracy.figures import Case, Counted
from blendwright.questions.accuracy.reference import reference
from blendwright.verdict.dissolution_and_layers import CLEAR_BELOW, SPLITS_ABOVE

MARGIN = 0.4
ASSUMED_WEIGHT = 0.5  # of a fact that is assumed (parting at MARGIN of the limit), not published
WEIGHT_PRIOR = 0.3  # a Dirichlet(1.3) prior: no voice falls silent
LAPSE = 0.03  # of the facts are taken to be wrong, so that one of them does not blow up a scale
ETHANOL_PRIOR = ((1.35, 0.3), (0.97, 0.04), (0.5, 0.7))  # intercept, slope, scale (its ln's sd)
SPARING_g_L = 5.0
VOICES = {
    "water": ("cosolvency", "unifac2", "original", "dortmund2"),
    "spirit": ("cosolvency", "unifac2", "original", "liquid_liquid", "dortmund2"),
    "organic": ("unifac2", "original", "liquid_liquid", "dortmund2"),
}
PRIOR = {"cosolvency": (0.0, 0.5), "water": (0.0, 1.0), "spirit": (0.5, 0.7), "organic": (0.1, 0.2)}
PRIOR_WEIGHT = 3.0  # as many facts as the prior of bias and scale counts for
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
class Fact:
    """A blend that is known to be clear (0) or to part (1); `about` is left out together."""

    about: str
    words: str
    composition: Composition
    temperature_K: float
    parts: float
    weight: float = 1.0

    @property
    def medium(self) -> str:
        return self.composition.medium

    @cached_property
    def oils(self) -> Oils | None:
        return oils_in(self.composition, self.temperature_K)

    @cached_property
    def signs(self) -> dict[str, Sign]:
        """What each voice of the medium sees."""
        found = {
            voice: sign_of(self.composition, voice, self.temperature_K)
            for voice in VOICES[self.medium]
        }
        return {voice: sign for voice, sign in found.items() if sign is not None}


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
def facts() -> tuple[Fact, ...]:
    return (*_water_facts(), *_spirit_facts(), *_organic_facts(), *_split_points())


def _water_facts() -> list[Fact]:
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
            made.append(Fact(row.material.name, words, mixed, ROOM_K, parts))
    return made


def _spirit_facts() -> list[Fact]:
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
                made.append(Fact(name, words, mixed, kelvin, parts, weight))
    return made


def _is_sparing(name: str) -> bool:
    material = default_catalogue().find(name)
    found = solubility_in_water(material)
    return found is not None and found.mol_m3 * material.molar_mass_kg_mol < SPARING_g_L


def _organic_facts() -> list[Fact]:
    made = []
    for row in reference("propylene_glycol_miscibility.csv"):
        name, statement = row["material"], row["statement"]
        shares = {
            "miscible": ((1 / 31, 0.0), (0.2, 0.0), (0.5, 0.0)),
            "soluble": ((1 / 31, 0.0),),
            "practically insoluble": ((0.2, 1.0), (0.5, 1.0)),
        }[statement]
        for share, parts in shares:
            words = f"{name} {share:.0%} in propylene glycol"
            mixed = blend((name, 100.0 * share), ("propylene glycol", 100.0 * (1.0 - share)))
            made.append(Fact(name, words, mixed, ROOM_K, parts))
    usual = blend(*CONCENTRATE)
    made.append(Fact("concentrate", "the usual ester-rich concentrate", usual, 295.15, 0.0))
    return made


def _split_points() -> list[Fact]:
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
        made.append(Fact(row["about"], words, blend(*rows), kelvin, parts))
    return made


def _lapsing(p: Array | float) -> Array:
    return np.asarray(LAPSE + (1.0 - 2.0 * LAPSE) * p)


def _surprise(p: float, parts: float) -> float:
    return -math.log(float(_lapsing(p)) if parts else 1.0 - float(_lapsing(p)))


def _fit_voice(medium: str, voice: str, seen: Sequence[tuple[Sign, Fact]]) -> tuple[float, float]:
    prior_bias, prior_scale = PRIOR["cosolvency" if voice == "cosolvency" else medium]

    settled = [(sign, fact) for sign, fact in seen if sign.margin is None]
    constant = sum(
        fact.weight * _surprise(share_of_parting(sign, 0.0, 1.0), fact.parts)
        for sign, fact in settled
    )
    told = [(sign, fact) for sign, fact in seen if sign.margin is not None]
    margins = np.array([sign.margin for sign, _ in told], dtype=float)
    own_sds = np.array([sign.own_sd for sign, _ in told])
    parts = np.array([fact.parts for _, fact in told])
    counts = np.array([fact.weight for _, fact in told])

    def cost(values: Array) -> float:
        bias, scale = float(values[0]), math.exp(float(values[1]))
        total = PRIOR_WEIGHT * (
            0.5 * ((bias - prior_bias) / prior_scale) ** 2
            + 0.5 * (math.log(scale / prior_scale) / 0.7) ** 2
        )
        z = -(margins + bias) / np.hypot(scale, own_sds)
        p = _lapsing(student_share(z))
        likely = np.where(parts > 0.5, p, 1.0 - p)
        return float(total + constant - (counts * np.log(likely)).sum())

    start = np.array([prior_bias, math.log(prior_scale)])
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-5})
    return float(found.x[0]), float(math.exp(found.x[1]))


@dataclass(frozen=True)
class EthanolLaw:
    """Ethanol's line in cosolvents.csv, and the scale of the margins that goes with it."""

    intercept: float
    slope: float
    scale: float

    @cached_property
    def table(self) -> dict[str, Cosolvent]:
        line = Cosolvent(self.intercept, self.slope, "cosolvency-ethanol")
        return {**cosolvents(), "ethanol": line}

    def signs(self, fact: Fact) -> dict[str, Sign]:
        """What each voice sees of a fact, cosolvency by this line."""
        found = dict(fact.signs)
        if (
            fact.oils is not None
            and "cosolvency" in found
            and found["cosolvency"].margin is not None
        ):
            margin = -float(fact.oils.ln_load(self.table)[0])
            found["cosolvency"] = Sign(margin, found["cosolvency"].own_sd)
        return found


def ethanol_law(known: Sequence[Fact]) -> EthanolLaw:
    """Intercept and slope of ethanol's line in cosolvents.csv, and the scale that goes with it.

    Maximum likelihood of the facts in spirits, towards the published line (Li and Yalkowsky 1998:
    slope 0.93; Yalkowsky and Roseman's form: 1).
    """
    seen = [
        (oils, f, sign.own_sd)
        for f in known
        if f.medium == "spirit"
        and "ethanol" in f.composition.names
        and (oils := f.oils) is not None
        and (sign := f.signs.get("cosolvency")) is not None
        and sign.margin is not None
    ]
    table = dict(cosolvents())

    def cost(values: Array) -> float:
        intercept, slope, scale = float(values[0]), float(values[1]), math.exp(float(values[2]))
        table["ethanol"] = Cosolvent(intercept, slope, "fitted")
        (a, a_sd), (b, b_sd), (c, c_sd) = ETHANOL_PRIOR
        total = 0.5 * (
            ((intercept - a) / a_sd) ** 2
            + ((slope - b) / b_sd) ** 2
            + (math.log(scale / c) / c_sd) ** 2
        )
        for oils, fact, own_sd in seen:
            chance = share_of_parting(Sign(-float(oils.ln_load(table)[0]), own_sd), 0.0, scale)
            total += fact.weight * _surprise(chance, fact.parts)
        return total

    start = np.array([1.35, 0.97, math.log(0.5)])
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-5})
    return EthanolLaw(float(found.x[0]), float(found.x[1]), float(math.exp(found.x[2])))


@dataclass(frozen=True)
class Learned:
    """(weight, bias, scale) of each voice in one medium."""

    medium: str
    voices: dict[str, tuple[float, float, float]]

    def chance(self, heard: Mapping[str, Sign]) -> float:
        """The weighted mean of the voices that can speak."""
        used = {voice: rule for voice, rule in self.voices.items() if voice in heard}
        total = sum(weight for weight, _, _ in used.values())
        return sum(
            weight / total * share_of_parting(heard[voice], bias, scale)
            for voice, (weight, bias, scale) in used.items()
        )


def _learn(medium: str, known: Sequence[Fact], law: EthanolLaw) -> Learned:
    """Biases and scales voice by voice, then the weights, from facts of that medium."""
    used = [f for f in known if f.medium == medium]
    heard = [law.signs(f) for f in used]
    fitted = {}
    for voice in VOICES[medium]:
        seen = [(h[voice], f) for h, f in zip(heard, used, strict=True) if voice in h]
        fitted[voice] = _fit_voice(medium, voice, seen)
    if medium == "spirit":
        # the line itself was fitted to these facts: it has no bias left, and its own scale
        fitted["cosolvency"] = (0.0, law.scale)
    names = list(fitted)
    chances = np.array(
        [[share_of_parting(h[v], *fitted[v]) if v in h else math.nan for v in names] for h in heard]
    )
    truth = np.array([f.parts for f in used])
    counts = np.array([f.weight for f in used])
    speaks = ~np.isnan(chances)
    filled = np.where(speaks, chances, 0.0)

    def cost(logits: Array) -> float:
        w = np.exp(logits - logits.max())
        w /= w.sum()
        p = _lapsing((filled @ w) / (speaks @ w))
        likelihood = -(counts * np.log(np.where(truth > 0.5, p, 1.0 - p))).sum()
        return float(likelihood - WEIGHT_PRIOR * np.log(w).sum())

    best = minimize(cost, np.zeros(len(names)), method="L-BFGS-B", bounds=[(-6, 6)] * len(names))
    w = np.exp(best.x - best.x.max())
    w /= w.sum()
    return Learned(medium, {v: (float(w[i]), *fitted[v]) for i, v in enumerate(names)})


@dataclass(frozen=True)
class Judge:
    """All that is learned, from some of the facts."""

    law: EthanolLaw
    media: dict[str, Learned]

    def chance(self, fact: Fact) -> float:
        return self.media[fact.medium].chance(self.law.signs(fact))


@cache
def judge() -> Judge:
    """Learned from all facts."""
    law = ethanol_law(facts())
    return Judge(law, {medium: _learn(medium, facts(), law) for medium in VOICES})


def judge_without(about: str) -> Judge:
    """Learned from all facts but those about one material: anew for the media that have any. The
    ethanol line rests on spirits alone, and spirits alone rest on it."""
    known = [f for f in facts() if f.about != about]
    touched = {f.medium for f in facts() if f.about == about}
    law = ethanol_law(known) if "spirit" in touched else judge().law
    anew = {medium: _learn(medium, known, law) for medium in touched}
    return Judge(law, {**judge().media, **anew})


@cache
def left_out_chances() -> tuple[tuple[Fact, float], ...]:
    """The chance of parting of every fact, by a judge that never saw that material."""
    made = []
    for about in dict.fromkeys(f.about for f in facts()):
        one = judge_without(about)
        made += [(f, one.chance(f)) for f in facts() if f.about == about]
    return tuple(made)


def chance_cases() -> list[Case]:
    """Chance of layers less what was seen (1: parts), each substance left out."""
    return [
        Case(fact.words, chance - fact.parts, None, fact.medium)
        for fact, chance in left_out_chances()
        if fact.weight == 1.0
    ]


def least_clear_volume(one: Judge, material: str, alcohol_pct_vol: float, kelvin: float) -> float:
    """Volumes of dilute alcohol above which the verdict is "clear", 0.1 to 200."""

    def is_clear(ln_volume: float) -> bool:
        mixed = in_alcohol(material, math.exp(ln_volume), alcohol_pct_vol)
        return one.chance(Fact(material, "", mixed, kelvin, 0.0)) < CLEAR_BELOW

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
    """The verdicts on the published facts, each material left out of what judges it."""
    chances = left_out_chances()
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
        found = least_clear_volume(judge_without(name), name, strength, kelvin)
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


def _is_right(fact: Fact, chance: float) -> bool:
    return (chance > 0.5) == (fact.parts == 1.0)


def _not_splits(fact: Fact, chance: float) -> bool:
    return chance <= SPLITS_ABOVE


def _is_clear(fact: Fact, chance: float) -> bool:
    return chance < CLEAR_BELOW


def _not_clear(fact: Fact, chance: float) -> bool:
    return chance >= CLEAR_BELOW


def _count(
    title: str,
    found: Sequence[tuple[Fact, float]],
    holds: Callable[[Fact, float], bool],
    target: float,
) -> Counted:
    missed = tuple(f"{f.words} ({p:.0%})" for f, p in found if not holds(f, p))
    return Counted(title, len(found) - len(missed), len(found), target, missed)


def _rows_of(name: str) -> tuple[list[str], list[dict[str, str]]]:
    text = (files("blendwright.mixture") / name).read_text(encoding="utf-8")
    reader = csv.DictReader(text.splitlines())
    rows = list(reader)
    return list(reader.fieldnames or []), rows


def _text_of(header: list[str], rows: list[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, header, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def fitted_cosolvents() -> str:
    """The text of mixture/cosolvents.csv: ethanol's line learned, the others as published."""
    header, rows = _rows_of("cosolvents.csv")
    law = ethanol_law(facts())
    for row in rows:
        if row["solvent"] == "ethanol":
            row["intercept"], row["slope"] = f"{law.intercept:.3f}", f"{law.slope:.3f}"
    return _text_of(header, rows)


def fitted_ensemble() -> str:
    """The text of mixture/ensemble.csv: the rows for layers learned, the others kept."""
    header, rows = _rows_of("ensemble.csv")
    kept = [row for row in rows if row["question"] != "split"]
    for medium, learned in judge().media.items():
        for voice, (weight, bias, scale) in learned.voices.items():
            kept.append(
                {
                    "question": "split",
                    "medium": medium,
                    "parameter_set": voice,
                    "weight": f"{weight:.3f}",
                    "bias": f"{bias:.3f}",
                    "scale": f"{scale:.3f}",
                    "why": "learned by accuracy/split.py",
                }
            )
    return _text_of(header, kept)
