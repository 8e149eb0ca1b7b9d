"""Which flammable-liquid class does the blend fall in by each scheme, and how sure is that?

Schemes: GHS, CLP, UN (class 3 and packing group), US (49 CFR), NFPA 30 (`limits`).

The category is the one that the best estimate falls in. `Classing.treat_as` is the most hazardous
one in reach, and every headline begins with it. What is in reach is weighed in `classes`; here it
is put in words.

The standing is "clear" only when no other category is in reach, on either side. What
`Doubts.never_clear` names (an oil or an estimated input with much of Liaw's sum, layers) forbids
"clear" whatever the numbers; `Doubts.flash_K` widens the interval. An unknown flash point is
"unknown", never "none"; an unknown boiling point counts as low, though no liquid flashes above its
boiling point.

Exemptions and other ways out of a class are pointed to, never claimed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, cast

import numpy as np

from blendwright.estimate import Estimate
from blendwright.mixture.interval import Interval
from blendwright.verdict.classes import (
    NO_NUMBER_C,
    Classes,
    Reach,
    classes,
    lower_bounds_K,
    rounded_C,
)
from blendwright.verdict.limits import (
    NO_CLASS,
    category_words,
    graver,
    limits,
    pointers,
    rank,
    schemes,
)

Standing = Literal["clear", "too_near", "unknown"]

ASK = "measure, and ask a qualified person before storing or shipping."
WELL_INSIDE = "well inside its limits"
STANDING_WORDS: dict[Standing, str] = {
    "clear": "clear of the limit",
    "too_near": "too near to call",
    "unknown": "unknown",
}


@dataclass(frozen=True)
class Doubts:
    """What the flash point's own interval does not hold.

    `never_clear` says in words what forbids the standing "clear"; `flash_K` is a 90 % half-width
    that is taken in quadrature with each side of the interval.
    """

    never_clear: tuple[str, ...] = ()
    flash_K: float = 0.0


NO_DOUBTS = Doubts()


@dataclass(frozen=True)
class Classing:
    """The class by one scheme: what to treat it as, the estimate's category, and its standing.

    `treat_as` is the most hazardous category in reach, `category` the one that the best estimate
    falls in. `name` and `label` are the category in the scheme's words ("category 2", "Danger,
    H225"), `treat_as_name` and `treat_as_label` those of `treat_as`. `bound_K` is the one-sided
    99 % lower bound of the flash point, with the doubts; `tests` are those that the text names;
    `pointers` are rules to look up, never claimed here. Where the person's own measurements moved
    the flash point, `model_category` is the category by the model alone, and `basis` says whose
    measurement a "clear" rests on where the model alone does not give it.
    """

    scheme: str
    title: str
    treat_as: str
    category: str
    name: str
    label: str
    standing: Standing
    bound_K: float | None
    reasons: tuple[str, ...]
    edition: str
    clause: str
    tests: str
    pointers: tuple[str, ...]
    basis: str = ""
    model_category: str = ""

    @property
    def treat_as_name(self) -> str:
        return category_words(self.scheme, self.treat_as)[0]

    @property
    def treat_as_label(self) -> str:
        return category_words(self.scheme, self.treat_as)[1]

    def evidence(self, short: bool = False) -> str:
        """Where the headline comes from: "estimate: category 3", "estimate: clear of the limit".

        With the person's own measurements both categories stand, the more hazardous one first.
        `short` is for a column of a table: "clear of the limit", and of the two only the first.
        """
        if self.model_category:
            return self._measured_and_modelled(short)
        if self.treat_as != self.category:
            return f"estimate: {_short(self.scheme, self.category)}"
        return self.standing_words if short else f"estimate: {self.standing_words}"

    @property
    def standing_words(self) -> str:
        """How sure the category is. "Clear of the limit" would be misread of what is classed."""
        if self.standing == "clear" and self.category != NO_CLASS:
            return WELL_INSIDE
        return STANDING_WORDS[self.standing]

    def _measured_and_modelled(self, short: bool) -> str:
        clear = f", {self.standing_words}" if self.standing == "clear" else ""
        measured = _short(self.scheme, self.category)
        model = _short(self.scheme, self.model_category)
        modelled = rank(self.scheme, self.model_category) < rank(self.scheme, self.category)
        if short:
            return f"model: {model}" if modelled else f"measured: {measured}"
        both = [
            f"with your measurements: {measured}{clear}",
            f"by the model alone: {model}",
        ]
        return "; ".join(reversed(both) if modelled else both)

    def lead(self) -> str:
        """What to treat it as: "treat as GHS category 2"; "GHS category 3" where that is clear."""
        if self.category == "unknown":
            return f"{self.title} unknown"
        if self.treat_as == NO_CLASS:
            return f"not classed by {self.title}"
        treat = "" if self.standing == "clear" else "treat as "
        return f"{treat}{self.title} {self.treat_as_name}"

    def headline(self) -> str:
        """What to treat it as, first, and what the estimate says.

        "treat as GHS category 2 (estimate: category 3)".
        """
        return self.lead() if self.category == "unknown" else f"{self.lead()} ({self.evidence()})"

    def words(self) -> str:
        """What to treat it as, as people say it, with the label's words."""
        name, label = self.treat_as_name, self.treat_as_label
        return f"{name}, {label}" if label else name

    def line(self) -> str:
        """The verdict in one line, with where it stands and what to do."""
        why = f"; {'; '.join(self.reasons)}" if self.reasons else ""
        return (
            f"{self.headline()}{why}; {self.edition}, {self.clause}; "
            f"the text names tests ({self.tests}): {ASK}"
        )

    def as_classes(self) -> Classes:
        """Classes of a block of one."""
        words = self.treat_as, self.category, self.standing
        return Classes(*(np.array([word], dtype=object) for word in words))

    def to_dict(self) -> dict[str, object]:
        return {
            "scheme": self.scheme,
            "title": self.title,
            "treat_as": self.treat_as,
            "treat_as_name": self.treat_as_name,
            "treat_as_label": self.treat_as_label,
            "headline": self.headline(),
            "category": self.category,
            "name": self.name,
            "label": self.label,
            "standing": self.standing,
            "reasons": list(self.reasons),
            "edition": self.edition,
            "clause": self.clause,
            "tests": self.tests,
            "pointers": list(self.pointers),
            "line": self.line(),
        }


def with_measured_category(model: Classing, measured: str) -> Classing:
    """The class where the person measured a category: the more cautious of that and the category of
    the model's best estimate leads, and `headline` names both."""
    known = (measured, model.category) if model.category != "unknown" else (measured, measured)
    name, label = category_words(model.scheme, measured)
    return replace(
        model,
        treat_as=graver(model.scheme, *known),
        category=measured,
        name=name,
        label=label,
        standing="too_near",
        model_category=model.category,
    )


def lower_bound_K(flash: Estimate, doubt_K: float = 0.0) -> float:
    """`classes.lower_bounds_K` of one blend; raises ValueError without a flash point."""
    flash.interval()
    return float(lower_bounds_K(Interval.from_estimate(flash), np.array([doubt_K]))[0])


def classings(
    flash: Estimate, boiling: Estimate, doubts: Doubts = NO_DOUBTS
) -> tuple[Classing, ...]:
    """The class by every scheme, GHS first."""
    return tuple(classing(scheme, flash, boiling, doubts) for scheme in schemes())


def classing(
    scheme: str, flash: Estimate, boiling: Estimate, doubts: Doubts = NO_DOUBTS
) -> Classing:
    """The class by one scheme: `flash` and `boiling` in K, at the scheme's standard pressure."""
    found = classes(
        scheme,
        Interval.from_estimate(flash),
        Interval.from_estimate(boiling),
        np.array([bool(doubts.never_clear)]),
        np.array([doubts.flash_K]),
    )
    if flash.status == "not_applicable":
        return _made(scheme, found, doubts.never_clear)
    if flash.status == "out_of_range":
        why = ("the flash point is out of range", *doubts.never_clear)
        return _made(scheme, found, why, NO_NUMBER_C)
    if not flash.is_ok:
        return _made(scheme, found, flash.notes)
    reasons = (*doubts.never_clear, *_more_hazardous(scheme, found, boiling))
    reasons += _milder(scheme, found, boiling)
    made = _made(scheme, found, reasons, float(found.flash_C[0]))
    return replace(made, bound_K=lower_bound_K(flash, doubts.flash_K))


def _more_hazardous(scheme: str, found: Reach, boiling: Estimate) -> tuple[str, ...]:
    """Why a more hazardous category can't be ruled out: the cautious ends of both numbers."""
    if found.treat_as[0] == found.category[0]:
        low = "the boiling point is unknown and counts as low"
        return (low,) if found.boiling_counts_low[0] else ()
    limit = next(row for row in limits(scheme) if row.category == found.treat_as[0])
    parts = []
    if not limit.holds_flash(found.flash_C)[0]:
        cautious_C = min(found.bound_C[0], found.flash_C[0] - limit.margin_K)
        parts.append(
            f"flash point {cautious_C:.1f} °C at the cautious end, limit {limit.flash_to_C:g} °C"
        )
    if limit.boiling_to_C is not None:
        low = f"from {_celsius(boiling.low):.1f} °C" if boiling.low is not None else "unknown"
        parts.append(f"boiling point {low}, limit {limit.boiling_to_C:g} °C")
    return (f"{limit.name} is in reach: {', '.join(parts)}",)


def _milder(scheme: str, found: Reach, boiling: Estimate) -> tuple[str, ...]:
    """Why a milder category can't be ruled out: the upper ends of both numbers."""
    if found.mildest[0] == found.category[0]:
        return ()
    held = next(limit for limit in limits(scheme) if limit.category == found.category[0])
    high_C = np.nan if boiling.high is None else _celsius(boiling.high)
    parts = []
    if not held.holds_flash(found.upper_C)[0]:
        parts.append(f"flash point up to {found.upper_C[0]:.1f} °C, limit {held.flash_to_C:g} °C")
    if not held.holds_boiling(np.array([high_C]), found.upper_C)[0]:
        high = "unknown" if boiling.high is None else f"up to {high_C:.1f} °C"
        parts.append(f"boiling point {high}, limit {held.boiling_to_C:g} °C")
    name = category_words(scheme, str(found.mildest[0]))[0]
    return (f"{name} is in reach too: {', '.join(parts)}",)


def _made(
    scheme: str, found: Reach, reasons: tuple[str, ...], flash_C: float | None = None
) -> Classing:
    """A classing with the words, edition and clause of its category, and the pointers that fit."""
    rows, category = limits(scheme), str(found.category[0])
    row = next((limit for limit in rows if limit.category == category), rows[-1])
    name, label = category_words(scheme, category)
    fitting = [p for p in pointers(scheme) if p.applies(category, flash_C)]
    return Classing(
        scheme=scheme,
        title=row.title,
        treat_as=str(found.treat_as[0]),
        category=category,
        name=name,
        label=label,
        standing=cast(Standing, found.standing[0]),
        bound_K=None,
        reasons=reasons,
        edition=row.edition,
        clause=row.clause,
        tests="; ".join(f"{p.clause}: {p.text}" for p in fitting if p.kind == "tests"),
        pointers=tuple(p.sentence() for p in fitting if p.kind == "pointer"),
    )


def _short(scheme: str, category: str) -> str:
    """A category in few letters, for a table: "category 3", "PG II", "not classed"."""
    numbered = category.isdigit() or category == NO_CLASS
    return category_words(scheme, category)[0] if numbered else category


def _celsius(kelvin: float) -> float:
    return float(rounded_C(np.array([kelvin]))[0])
