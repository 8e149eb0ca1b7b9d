"""Activity coefficients at infinite dilution: what the vapour over each class of carrier is worth.

`reference/activity_at_infinite_dilution.csv` and `activity_in_propylene_glycol.csv`. One value a
pair (the mean over temperatures); a pair is judged by what the other solvents and solutes taught.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from blendwright.catalogue import default_catalogue
from blendwright.estimate import NORMAL_90
from blendwright.mixture.ensemble import Ensemble, rules
from blendwright.mixture.parameter_sets import PARAMETER_SETS
from blendwright.mixture.vapour_correction import carrier_class, is_hydrocarbon
from blendwright.mixture.weighing import resolve
from blendwright.questions.accuracy.conformal import Score, factor, quantile
from blendwright.questions.accuracy.figures import Case
from blendwright.questions.accuracy.reference import reference

TRACE = 1e-6
SAME_NAMES = {
    "ethyl propanoate": "ethyl propionate",
    "ethyl butanoate": "ethyl butyrate",
    "methyl butanoate": "methyl butyrate",
    "methyl pentanoate": "methyl valerate",
}
CLASSES = ("glycol", "glycol_hydrocarbon", "water", "other")
FEWEST = 10  # of pairs: a set with fewer takes the others' median term


@dataclass(frozen=True)
class Pair:
    """One solute in one solvent: error of ln gamma (model less measured) by set, and the class."""

    solute: str
    solvent: str
    carrier: str
    hydrocarbon: bool
    measured: float
    errors: dict[str, float]

    @property
    def kind(self) -> str:
        """Its column in the table: hydrocarbons in glycols stand apart."""
        apart = self.hydrocarbon and self.carrier == "glycol"
        return "glycol_hydrocarbon" if apart else self.carrier


def vapour_sets() -> tuple[str, ...]:
    return tuple(dict.fromkeys(r.parameter_set for r in rules() if r.question == "vapour"))


@cache
def pairs() -> tuple[Pair, ...]:
    """Every pair for which some set has the groups."""
    catalogue = default_catalogue()
    lines = [
        (r["solute"], r["solvent"], float(r["temperature_K"]), float(r["ln_gamma"]))
        for r in reference("activity_at_infinite_dilution.csv")
    ]
    lines += [
        (
            r["solute"],
            r["solvent"],
            float(r["temperature_K"]),
            math.log(float(r["activity_coefficient_infinite_dilution"])),
        )
        for r in reference("activity_in_propylene_glycol.csv")
    ]
    found: dict[tuple[str, str], dict[str, list[float]]] = {}
    classes: dict[tuple[str, str], tuple[str, bool]] = {}
    values: dict[tuple[str, str], list[float]] = {}
    for solute, solvent, kelvin, measured in lines:
        dissolved = resolve(SAME_NAMES.get(solute, solute), catalogue)
        carrier = resolve(SAME_NAMES.get(solvent, solvent), catalogue)
        both = Ensemble([dissolved.groups, carrier.groups])
        key = (dissolved.name, carrier.name)
        classes[key] = (carrier_class(carrier), is_hydrocarbon(dissolved))
        values.setdefault(key, []).append(measured)
        for name in vapour_sets():
            model = both.model(name)
            if model is not None:
                said = float(model.ln_gamma(np.array([TRACE, 1.0 - TRACE]), kelvin)[0])
                found.setdefault(key, {}).setdefault(name, []).append(said - measured)
    return tuple(
        Pair(
            *key,
            *classes[key],
            float(np.mean(values[key])),
            {name: float(np.mean(e)) for name, e in by_set.items()},
        )
        for key, by_set in found.items()
    )


def glycol_term(name: str, hydrocarbon: bool, known: Sequence[Pair]) -> float:
    """b of a set: minus the median over glycols of its median error in each; NaN with fewer
    than FEWEST pairs."""
    by_solvent: dict[str, list[float]] = {}
    for pair in known:
        if pair.carrier == "glycol" and pair.hydrocarbon == hydrocarbon and name in pair.errors:
            by_solvent.setdefault(pair.solvent, []).append(pair.errors[name])
    if sum(len(errors) for errors in by_solvent.values()) < FEWEST:
        return math.nan
    return -float(np.median([np.median(errors) for errors in by_solvent.values()]))


@cache
def _left_out(name: str) -> tuple[tuple[Pair, float], ...]:
    """Each pair's error with the term learned from other solvents and other solutes."""
    made = []
    for pair in pairs():
        if name not in pair.errors:
            continue
        b = 0.0
        if pair.carrier == "glycol":
            rest = [p for p in pairs() if p.solvent != pair.solvent and p.solute != pair.solute]
            b = glycol_term(name, pair.hydrocarbon, rest)
        made.append((pair, pair.errors[name] + (0.0 if math.isnan(b) else b)))
    return tuple(made)


def fitted_table() -> str:
    """The text of mixture/vapour_corrections.csv. A set with too few pairs takes the others' median
    term and the widest of their spreads."""
    kinds = (True, False)
    terms = {(n, k): glycol_term(n, k, pairs()) for n in vapour_sets() for k in kinds}
    typical = {k: float(np.nanmedian([terms[n, k] for n in vapour_sets()])) for k in kinds}
    spreads = {(n, c): _deviation(_scores(n), c) for n in vapour_sets() for c in CLASSES}
    taught = [s for s in spreads.values() if math.isfinite(s)]
    header = ["parameter_set", "hydrocarbon_term", "solute_term", *(f"ln_sd_{c}" for c in CLASSES)]
    lines = [",".join(header)]
    for name in vapour_sets():
        numbers = [typical[k] if math.isnan(terms[name, k]) else terms[name, k] for k in kinds]
        numbers += [min(spreads[name, c], max(taught)) for c in CLASSES]
        lines.append(",".join([name, *(f"{number:.3f}" for number in numbers)]))
    return "\n".join(lines) + "\n"


def _scores(name: str, unlike: Pair | None = None) -> list[Score]:
    """The errors of one set as scores over a deviation of 1, so that the conformal factor is the
    deviation itself; without pairs that share a solute or a solvent with `unlike`."""
    return [
        Score(pair.solute, pair.kind, abs(error) / NORMAL_90)
        for pair, error in _left_out(name)
        if unlike is None or (pair.solute != unlike.solute and pair.solvent != unlike.solvent)
    ]


def _deviation(scores: list[Score], kind: str) -> float:
    """The conformal factor on a deviation of 1; infinite where all pairs together are too few."""
    return factor(scores, kind) if math.isfinite(quantile(scores)) else math.inf


def cases() -> list[Case]:
    """Errors in ln gamma of the leading set that has the pair; the sets uncorrected beside."""
    made = []
    for pair in pairs():
        name = next(n for n in vapour_sets() if n in pair.errors)
        others = [(PARAMETER_SETS[s].title, e) for s, e in pair.errors.items()]
        others.insert(0, ("ideal, gamma = 1 (naive)", -pair.measured))
        made.append(
            Case(
                f"{pair.solute} in {pair.solvent}",
                next(e for p, e in _left_out(name) if p is pair),
                NORMAL_90 * _deviation(_scores(name, pair), pair.kind),
                pair.kind,
                tuple(others),
                pair.solute,
                pair.measured,
            )
        )
    return made
