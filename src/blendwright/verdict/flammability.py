"""Which flammable-liquid class does the blend fall in by each scheme, and how sure is that?

Schemes: GHS, CLP, UN (class 3 and packing group), US (49 CFR), NFPA 30. Their limits stand in
`limits.csv`, what else their texts say in `pointers.csv`, each row with edition and clause.

The category is the one that the best estimate falls in. `Classing.treat_as` is the most hazardous
one in reach, and every headline begins with it. A more hazardous category is in reach until the
flash point lies above its limit by the wider of the one-sided 99 % bound and, at 23 and 60 °C, 5 °C
(GHS 2.6.4.2), or the low end of the boiling point lies above its limit. A milder category is in
reach where the upper 99 % bound and the high end of the boiling point fall in it.

The standing is "clear" only when no other category is in reach, on either side. What
`Doubts.never_clear` names (an oil or an estimated input with much of Liaw's sum, layers) forbids
"clear" whatever the numbers; `Doubts.flash_K` widens the interval. An unknown flash point is
"unknown", never "none"; an unknown boiling point counts as low, though no liquid flashes above its
boiling point.

Exemptions and other ways out of a class are pointed to, never claimed.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Literal

from blendwright.estimate import Estimate

Standing = Literal["clear", "too_near", "unknown"]

ASK = "measure, and ask a qualified person before storing or shipping."
STANDING_WORDS: dict[Standing, str] = {
    "clear": "clear of the limit",
    "too_near": "too near to call",
    "unknown": "unknown",
}
ONE_SIDED_99_OVER_90_INTERVAL = 2.326 / 1.645  # of a normal error
NO_CLASS = "none"
NO_NUMBER_C = float("inf")  # a flash point out of range lies above every limit
ROUNDED_TO = 9  # decimals of a °C: 333.15 K is 60 °C, not a hair above or below


@dataclass(frozen=True)
class Limit:
    """One category: flash point from and to, °C, and the highest initial boiling point.

    `margin_K` is how far above `flash_to_C` a calculated flash point must lie to be clear of it.
    """

    scheme: str
    title: str
    category: str
    name: str
    label: str
    flash_from_C: float | None
    flash_to_C: float
    flash_to_included: bool
    margin_K: float
    boiling_to_C: float | None
    boiling_to_included: bool
    edition: str
    clause: str

    def holds_flash(self, flash_C: float) -> bool:
        return _under(flash_C, self.flash_to_C, self.flash_to_included)

    def holds_boiling(self, boiling_C: float | None, flash_C: float) -> bool:
        """An unknown boiling point counts as low, but not as lower than the flash point."""
        if self.boiling_to_C is None:
            return True
        lowest_C = flash_C if boiling_C is None else boiling_C
        return _under(lowest_C, self.boiling_to_C, self.boiling_to_included)

    def holds(self, flash_C: float, boiling_C: float | None) -> bool:
        return self.holds_flash(flash_C) and self.holds_boiling(boiling_C, flash_C)


@dataclass(frozen=True)
class Pointer:
    """What else a scheme's text says: the tests that it names, or a rule to look up."""

    scheme: str
    kind: str
    categories: tuple[str, ...]
    flash_from_C: float | None
    flash_from_included: bool
    text: str
    edition: str
    clause: str

    def applies(self, category: str, flash_C: float | None) -> bool:
        if self.categories and category not in self.categories:
            return False
        if self.flash_from_C is None:
            return True
        return flash_C is not None and not _under(
            flash_C, self.flash_from_C, not self.flash_from_included
        )

    def sentence(self) -> str:
        return f"{self.text} ({self.edition}, {self.clause})"


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
        standing = STANDING_WORDS[self.standing]
        return standing if short else f"estimate: {standing}"

    def _measured_and_modelled(self, short: bool) -> str:
        clear = f", {STANDING_WORDS['clear']}" if self.standing == "clear" else ""
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

    def standing_words(self) -> str:
        """Where it stands, and by whose measurement if not by the estimate alone."""
        by = " by your measurement" if self.basis else ""
        return f"{STANDING_WORDS[self.standing]}{by}"

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


def schemes() -> tuple[str, ...]:
    """The schemes in the order of the report, GHS first.

    >>> schemes()
    ('ghs', 'clp', 'un', 'us', 'nfpa30')
    """
    return tuple(dict.fromkeys(limit.scheme for limit in _all_limits()))


@cache
def limits(scheme: str) -> tuple[Limit, ...]:
    """The categories of a scheme, most hazardous first."""
    return tuple(limit for limit in _all_limits() if limit.scheme == scheme)


@cache
def pointers(scheme: str) -> tuple[Pointer, ...]:
    """What else the scheme's text says, in the order of the file."""
    return tuple(
        Pointer(
            scheme=row["scheme"],
            kind=row["kind"],
            categories=tuple(row["categories"].split("|")) if row["categories"] else (),
            flash_from_C=_number(row["flash_from_C"]),
            flash_from_included=row["flash_from_included"] == "yes",
            text=row["text"],
            edition=row["edition"],
            clause=row["clause"],
        )
        for row in _rows("pointers.csv")
        if row["scheme"] == scheme
    )


def category_of(flash_C: float, boiling_C: float | None, scheme: str = "ghs") -> str:
    """The category of exact values; an unknown boiling point counts as low.

    >>> category_of(22.9, 77.0), category_of(23.0, 77.0), category_of(60.0, 90.0)
    ('2', '3', '3')
    >>> category_of(60.0, 90.0, "un"), category_of(60.0, 90.0, "nfpa30")
    ('PG III', 'IIIA')
    """
    held = [limit for limit in limits(scheme) if limit.holds(flash_C, boiling_C)]
    return held[0].category if held else "none"


def category_words(scheme: str, category: str) -> tuple[str, str]:
    """Name and label of a category in the scheme's words.

    >>> category_words("ghs", "3"), category_words("ghs", "none")
    (('category 3', 'Warning, H226'), ('not classed', ''))
    """
    if category == NO_CLASS:
        return "not classed", ""
    found = (limit for limit in limits(scheme) if limit.category == category)
    return next(((limit.name, limit.label) for limit in found), (category, ""))


def rank(scheme: str, category: str) -> int:
    """0 is the most hazardous category of the scheme; "none" comes last."""
    order = [limit.category for limit in limits(scheme)]
    return order.index(category) if category in order else len(order)


def graver(scheme: str, first: str, second: str) -> str:
    """The more hazardous of two categories.

    >>> graver("ghs", "3", "2"), graver("ghs", "none", "4")
    ('2', '4')
    """
    return min(first, second, key=lambda category: rank(scheme, category))


def flash_range(scheme: str, category: str) -> str:
    """The flash points of a category in words.

    >>> flash_range("ghs", "2"), flash_range("ghs", "3"), flash_range("ghs", "none")
    ('below 23 °C', '23 to 60 °C', 'above 93 °C')
    """
    if category == NO_CLASS:
        return f"above {limits(scheme)[-1].flash_to_C:g} °C"
    held = next(limit for limit in limits(scheme) if limit.category == category)
    if held.flash_from_C is None:
        return f"below {held.flash_to_C:g} °C"
    return f"{held.flash_from_C:g} to {held.flash_to_C:g} °C"


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
    """One-sided 99 % lower bound from the 90 % interval, errors taken as normal."""
    value, low, _ = flash.interval()
    return value - math.hypot(value - low, doubt_K) * ONE_SIDED_99_OVER_90_INTERVAL


def upper_bound_K(flash: Estimate, doubt_K: float = 0.0) -> float:
    """One-sided 99 % upper bound from the 90 % interval, errors taken as normal."""
    value, _, high = flash.interval()
    return value + math.hypot(high - value, doubt_K) * ONE_SIDED_99_OVER_90_INTERVAL


def classings(
    flash: Estimate, boiling: Estimate, doubts: Doubts = NO_DOUBTS
) -> tuple[Classing, ...]:
    """The class by every scheme, GHS first."""
    return tuple(classing(scheme, flash, boiling, doubts) for scheme in schemes())


def ghs_flammability(flash: Estimate, boiling: Estimate, doubts: Doubts = NO_DOUBTS) -> Classing:
    """What to treat it as by GHS, category and standing."""
    return classing("ghs", flash, boiling, doubts)


def classing(
    scheme: str, flash: Estimate, boiling: Estimate, doubts: Doubts = NO_DOUBTS
) -> Classing:
    """The class by one scheme: `flash` and `boiling` in K, at the scheme's standard pressure."""
    if flash.status == "not_applicable":
        return _made(scheme, _Reach(NO_CLASS, NO_CLASS, doubts.never_clear))
    if flash.status == "out_of_range":
        category = category_of(NO_NUMBER_C, None, scheme)
        why = ("the flash point is out of range", *doubts.never_clear)
        return _made(scheme, _Reach(category, category, why, None, NO_NUMBER_C))
    if not flash.is_ok:
        return _made(scheme, _Reach("unknown", "unknown", flash.notes))
    flash_C, bound_K = _celsius(flash.interval()[0]), lower_bound_K(flash, doubts.flash_K)
    boiling_C = _celsius(boiling.value) if boiling.value is not None else None
    category = category_of(flash_C, boiling_C, scheme)
    reasons = list(doubts.never_clear)
    worst = _worst_in_reach(scheme, flash_C, _celsius(bound_K), boiling)
    if worst is not None and worst.category != category:
        reasons.append(_why_in_reach(worst, flash_C, _celsius(bound_K), boiling))
    elif boiling_C is None and category != category_of(flash_C, NO_NUMBER_C, scheme):
        reasons.append("the boiling point is unknown and counts as low")
    reasons += _milder_in_reach(scheme, category, flash, boiling, doubts.flash_K)
    treat_as = category if worst is None else worst.category
    return _made(scheme, _Reach(treat_as, category, tuple(reasons), bound_K, flash_C))


def _milder_in_reach(
    scheme: str, category: str, flash: Estimate, boiling: Estimate, doubt_K: float
) -> list[str]:
    """Why a milder category can't be ruled out: the upper ends of both numbers."""
    upper_C = _celsius(upper_bound_K(flash, doubt_K))
    high_C = _celsius(boiling.high) if boiling.high is not None else None
    mildest = category_of(upper_C, high_C, scheme)
    if mildest == category:
        return []
    held = next(limit for limit in limits(scheme) if limit.category == category)
    parts = []
    if not held.holds_flash(upper_C):
        parts.append(f"flash point up to {upper_C:.1f} °C, limit {held.flash_to_C:g} °C")
    if not held.holds_boiling(high_C, upper_C):
        high = "unknown" if high_C is None else f"up to {high_C:.1f} °C"
        parts.append(f"boiling point {high}, limit {held.boiling_to_C:g} °C")
    return [f"{category_words(scheme, mildest)[0]} is in reach too: {', '.join(parts)}"]


def _worst_in_reach(scheme: str, flash_C: float, bound_C: float, boiling: Estimate) -> Limit | None:
    """The most hazardous category that the cautious ends of both numbers leave open."""
    boiling_low_C = _celsius(boiling.low) if boiling.low is not None else None
    for limit in limits(scheme):
        near = limit.holds_flash(bound_C) or flash_C < limit.flash_to_C + limit.margin_K
        if near and limit.holds_boiling(boiling_low_C, min(bound_C, flash_C - limit.margin_K)):
            return limit
    return None


def _why_in_reach(limit: Limit, flash_C: float, bound_C: float, boiling: Estimate) -> str:
    parts = []
    if not limit.holds_flash(flash_C):
        cautious_C = min(bound_C, flash_C - limit.margin_K)
        parts.append(
            f"flash point {cautious_C:.1f} °C at the cautious end, limit {limit.flash_to_C:g} °C"
        )
    if limit.boiling_to_C is not None:
        low = f"from {_celsius(boiling.low):.1f} °C" if boiling.low is not None else "unknown"
        parts.append(f"boiling point {low}, limit {limit.boiling_to_C:g} °C")
    return f"{limit.name} is in reach: {', '.join(parts)}"


@dataclass(frozen=True)
class _Reach:
    """What `classing` found: what to treat it as, the category, and why it is not clear."""

    treat_as: str
    category: str
    reasons: tuple[str, ...]
    bound_K: float | None = None
    flash_C: float | None = None

    @property
    def standing(self) -> Standing:
        if self.category == "unknown":
            return "unknown"
        return "too_near" if self.reasons else "clear"


def _made(scheme: str, found: _Reach) -> Classing:
    """A classing with the words, edition and clause of its category, and the pointers that fit."""
    rows = limits(scheme)
    row = next((limit for limit in rows if limit.category == found.category), rows[-1])
    name, label = category_words(scheme, found.category)
    fitting = [p for p in pointers(scheme) if p.applies(found.category, found.flash_C)]
    return Classing(
        scheme=scheme,
        title=row.title,
        treat_as=found.treat_as,
        category=found.category,
        name=name,
        label=label,
        standing=found.standing,
        bound_K=found.bound_K,
        reasons=found.reasons,
        edition=row.edition,
        clause=row.clause,
        tests="; ".join(f"{p.clause}: {p.text}" for p in fitting if p.kind == "tests"),
        pointers=tuple(p.sentence() for p in fitting if p.kind == "pointer"),
    )


def _short(scheme: str, category: str) -> str:
    """A category in few letters, for a table: "category 3", "PG II", "not classed"."""
    numbered = category.isdigit() or category == NO_CLASS
    return category_words(scheme, category)[0] if numbered else category


@cache
def _all_limits() -> tuple[Limit, ...]:
    return tuple(
        Limit(
            scheme=row["scheme"],
            title=row["title"],
            category=row["category"],
            name=row["name"],
            label=row["label"],
            flash_from_C=_number(row["flash_from_C"]),
            flash_to_C=float(row["flash_to_C"]),
            flash_to_included=row["flash_to_included"] == "yes",
            margin_K=float(row["margin_K"]),
            boiling_to_C=_number(row["boiling_to_C"]),
            boiling_to_included=row["boiling_to_included"] == "yes",
            edition=row["edition"],
            clause=row["clause"],
        )
        for row in _rows("limits.csv")
    )


def _rows(name: str) -> list[dict[str, str]]:
    text = (files("blendwright.verdict") / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _number(text: str) -> float | None:
    return float(text) if text else None


def _under(value: float, limit: float, included: bool) -> bool:
    return value < limit or (included and value == limit)


def _celsius(kelvin: float) -> float:
    return round(kelvin - 273.15, ROUNDED_TO)
