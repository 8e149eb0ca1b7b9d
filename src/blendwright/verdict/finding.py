"""One thing the person should know: a stable code, how grave, a plain sentence, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Severity = Literal["info", "caution", "warning"]
_GRAVITY: dict[Severity, int] = {"warning": 0, "caution": 1, "info": 2}


MOST_NAMES = 6


def listed(names: Sequence[str]) -> str:
    """Names in one phrase, the first six and how many more.

    >>> listed(["a", "b"]), listed(list("abcdefgh"))
    ('a, b', 'a, b, c, d, e, f and 2 more')
    """
    shown = ", ".join(names[:MOST_NAMES])
    rest = len(names) - MOST_NAMES
    return f"{shown} and {rest} more" if rest > 0 else shown


@dataclass(frozen=True)
class Finding:
    """`message` says what is so, with its numbers; `action` what to do about it."""

    code: str
    severity: Severity
    message: str
    action: str
    materials: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, object]:
        return {
            "code": self.code,
            "severity": self.severity,
            "message": self.message,
            "action": self.action,
            "materials": list(self.materials),
        }


def gravest_first(findings: Iterable[Finding]) -> list[Finding]:
    """Warnings, cautions, then notes; otherwise in the order given."""
    return sorted(findings, key=lambda finding: _GRAVITY[finding.severity])
