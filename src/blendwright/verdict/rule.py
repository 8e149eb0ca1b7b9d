"""A rule: a code, how grave it is for every blend of a block (0: not at all), and words for one.

Each condition and each threshold of a finding stands in one rule, over arrays. The batch reads its
severity; `assess` asks of a block of one, and then for the words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from blendwright.pure.roots import Bools
from blendwright.verdict.finding import Finding, Severity

INFO, CAUTION, WARNING = 1, 2, 3
SEVERITY: Mapping[Severity, int] = {"info": INFO, "caution": CAUTION, "warning": WARNING}
NAMES: Mapping[int, Severity] = {number: name for name, number in SEVERITY.items()}
Severities = NDArray[Any]
Coded = tuple[str, Severities]
Words = tuple[str, str, tuple[str, ...]]  # message, action, materials
Facts = TypeVar("Facts")
One = TypeVar("One")


@dataclass(frozen=True)
class Rule(Generic[Facts, One]):
    """`severity` is an array over the blends that its facts are of; `words` are of one blend."""

    code: str
    severity: Callable[[Facts], Severities]
    words: Callable[[One], Words]


Rules = Sequence[Rule[Facts, One]]


def when(condition: Bools, severity: int) -> Severities:
    return np.where(condition, severity, 0)


def coded(rules: Rules[Facts, Any], facts: Facts) -> list[Coded]:
    """The severity of every rule for every blend, in the order of the rules."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return [(rule.code, rule.severity(facts)) for rule in rules]


def spoken(rules: Rules[Facts, One], facts: Facts, one: One) -> list[Finding]:
    """What the rules say of a block of one, each in its words."""
    return [
        Finding(code, NAMES[int(severity[0])], *rule.words(one))
        for rule, (code, severity) in zip(rules, coded(rules, facts), strict=True)
        if severity[0]
    ]


def joined(found: Sequence[Coded]) -> tuple[NDArray[Any], Bools]:
    """The codes of each blend in one text, gravest first, and whether a warning is among them."""
    names = [code for code, _ in found]
    table = np.ascontiguousarray(np.array([severity for _, severity in found], np.int8).T)
    _, first, back = np.unique(
        table.view(f"V{len(names)}").ravel(), return_index=True, return_inverse=True
    )
    distinct = table[first]
    ranked = np.argsort(-distinct, axis=1, kind="stable").tolist()
    texts = np.empty(len(distinct), dtype=object)
    for i, count in enumerate(np.count_nonzero(distinct, axis=1).tolist()):
        texts[i] = ";".join(names[k] for k in ranked[i][:count])
    return texts[back], np.asarray((table == WARNING).any(axis=1))
