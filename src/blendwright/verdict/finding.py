"""One thing the person should know: a stable code, how grave, a plain sentence, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["info", "caution", "warning"]


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
