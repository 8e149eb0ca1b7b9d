"""What reading a formula's table left open or took for granted, as findings.

They are told above the answer, wherever there is one.
"""

from __future__ import annotations

from collections.abc import Iterable

from blendwright.formula import Notice
from blendwright.verdict.finding import Finding


def as_read(notices: Iterable[Notice]) -> list[Finding]:
    """The notices of a formula, in their order."""
    return [Finding(n.code, n.severity, n.message, n.action) for n in notices]


def besides(findings: Iterable[Finding], notices: Iterable[Notice]) -> list[Finding]:
    """The findings that are none of the notices: these stand above already."""
    told = as_read(notices)
    return [finding for finding in findings if finding not in told]
