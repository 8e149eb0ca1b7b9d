"""A rule: a code, how grave it is for every blend of a block (0: not at all), and words for one.

Each condition and threshold stands once, over arrays: `assess` asks of a block of one, and then
for the words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendwright.mixture.roots import Bools
from blendwright.verdict.finding import Finding, Severity

INFO, CAUTION, WARNING = 1, 2, 3
SEVERITY: Mapping[Severity, int] = {"info": INFO, "caution": CAUTION, "warning": WARNING}
NAMES: Mapping[int, Severity] = {number: name for name, number in SEVERITY.items()}
Severities = NDArray[Any]
Coded = tuple[str, Severities]
Words = tuple[str, str, tuple[str, ...]]  # message, action, materials


def when(condition: Bools, severity: int) -> Severities:
    return np.where(condition, severity, 0)


def spoken(coded: Sequence[Coded], words: Mapping[str, Callable[[], Words]]) -> list[Finding]:
    """What the rules say of a block of one, each in its words."""
    return [
        Finding(code, NAMES[int(severity[0])], *words[code]())
        for code, severity in coded
        if severity[0]
    ]
