"""Which flammable-liquid class does the blend fall in by each scheme, and how sure is that?

Schemes: GHS, CLP, UN (class 3 and packing group), US (49 CFR), NFPA 30. Their limits stand in
`limits.csv`, what else their texts say in `pointers.csv`, each row with edition and clause.

The category is the one that the best estimate falls in. Its standing is "clear" only when a more
hazardous category is out of reach: the flash point must lie above that category's limit by the
wider of the one-sided 99 % bound of the estimate and, at 23 and 60 °C, 5 °C (GHS 2.6.4.2); the
boiling point must lie above its limit with the low end of its interval. A blend with a natural
oil, an estimated input of weight, or layers is never "clear". An unknown flash point is "unknown",
never "none"; an unknown boiling point counts as low, though no liquid flashes above its boiling
point.

Exemptions and other ways out of a class are pointed to, never claimed.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
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
class Classing:
    """The class by one scheme: category, standing, and what keeps it from being clear.

    `name` and `label` are the category in the scheme's words ("category 2", "Danger, H225");
    `bound_K` is the one-sided 99 % lower bound of the flash point; `tests` are those that the text
    names; `pointers` are rules to look up, never claimed here. `basis` says whose measurement a
    "clear" rests on where the estimate alone does not give it.
    """

    scheme: str
    title: str
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

    def standing_words(self) -> str:
        """Where it stands, and by whose measurement if not by the estimate alone."""
        by = " by your measurement" if self.basis else ""
        return f"{STANDING_WORDS[self.standing]}{by}"

    def words(self) -> str:
        """The category as people say it, with the label's words."""
        return f"{self.name}, {self.label}" if self.label else self.name

    def line(self) -> str:
        """The verdict in one line, with where it stands and what to do."""
        why = f" ({'; '.join(self.reasons)})" if self.reasons else ""
        verdict = self.words()
        if self.category != "unknown":
            verdict += f" by the estimate, {STANDING_WORDS[self.standing]}"
        return (
            f"{self.title}: {verdict}{why}; {self.edition}, {self.clause}; "
            f"the text names tests ({self.tests}): {ASK}"
        )

    def to_dict(self) -> dict[str, object]:
        return {
            "scheme": self.scheme,
            "title": self.title,
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


def lower_bound_K(flash: Estimate) -> float:
    """One-sided 99 % lower bound from the 90 % interval, errors taken as normal."""
    value, low, _ = flash.interval()
    return value - (value - low) * ONE_SIDED_99_OVER_90_INTERVAL


def classings(
    flash: Estimate, boiling: Estimate, never_clear: tuple[str, ...] = ()
) -> tuple[Classing, ...]:
    """The class by every scheme, GHS first; `never_clear` names what forbids "clear"."""
    return tuple(classing(scheme, flash, boiling, never_clear) for scheme in schemes())


def ghs_flammability(
    flash: Estimate, boiling: Estimate, never_clear: tuple[str, ...] = ()
) -> Classing:
    """GHS category and standing; `never_clear` names what forbids "clear"."""
    return classing("ghs", flash, boiling, never_clear)


def classing(
    scheme: str, flash: Estimate, boiling: Estimate, never_clear: tuple[str, ...] = ()
) -> Classing:
    """The class by one scheme: `flash` and `boiling` in K, at the scheme's standard pressure."""
    if flash.status == "not_applicable":
        standing: Standing = "too_near" if never_clear else "clear"
        return _made(scheme, "none", standing, None, never_clear)
    if flash.status == "out_of_range":
        category = category_of(NO_NUMBER_C, None, scheme)
        why = ("the flash point is out of range", *never_clear)
        return _made(scheme, category, "too_near", None, why, NO_NUMBER_C)
    if not flash.is_ok:
        return _made(scheme, "unknown", "unknown", None, flash.notes)
    flash_C, bound_K = _celsius(flash.interval()[0]), lower_bound_K(flash)
    boiling_C = _celsius(boiling.value) if boiling.value is not None else None
    category = category_of(flash_C, boiling_C, scheme)
    reasons = list(never_clear)
    worst = _worst_in_reach(scheme, flash_C, _celsius(bound_K), boiling)
    if worst is not None and worst.category != category:
        reasons.append(_why_in_reach(worst, flash_C, _celsius(bound_K), boiling))
    elif boiling_C is None and category != category_of(flash_C, NO_NUMBER_C, scheme):
        reasons.append("the boiling point is unknown and counts as low")
    standing = "too_near" if reasons else "clear"
    return _made(scheme, category, standing, bound_K, tuple(reasons), flash_C)


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


def _made(
    scheme: str,
    category: str,
    standing: Standing,
    bound_K: float | None,
    reasons: tuple[str, ...],
    flash_C: float | None = None,
) -> Classing:
    """A classing with the words, edition and clause of its category, and the pointers that fit."""
    rows = limits(scheme)
    row = next((limit for limit in rows if limit.category == category), rows[-1])
    name, label = {"none": ("not classed", ""), "unknown": ("unknown", "")}.get(
        category, (row.name, row.label)
    )
    fitting = [p for p in pointers(scheme) if p.applies(category, flash_C)]
    return Classing(
        scheme=scheme,
        title=row.title,
        category=category,
        name=name,
        label=label,
        standing=standing,
        bound_K=bound_K,
        reasons=reasons,
        edition=row.edition,
        clause=row.clause,
        tests="; ".join(f"{p.clause}: {p.text}" for p in fitting if p.kind == "tests"),
        pointers=tuple(p.sentence() for p in fitting if p.kind == "pointer"),
    )


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
