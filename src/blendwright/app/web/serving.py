"""Where and how the page is served: what the server and the application both go by."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from blendwright.app.settings import Settings
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa

LOOPBACK = "127.0.0.1"
COOKIE_NAME = "blendwright"
COOKIE_AGE_s = 10 * 365 * 24 * 3600


@dataclass(frozen=True)
class Serving:
    """Where and how to serve. `file` is opened at once, (name, content); new formulas stand at
    `bench_C` and `pressure_kPa`; `settings` hold the person's own drop and balance."""

    folder: Path
    host: str = LOOPBACK
    port: int = 8765
    lets_others_in: bool = False
    file: tuple[str, bytes] | None = None
    opens_browser: bool = True
    bench_C: float = BENCH_C
    pressure_kPa: float = ATMOSPHERE_Pa / 1e3
    settings: Settings = field(default_factory=Settings)

    @property
    def address(self) -> str:
        host = LOOPBACK if self.host in ("0.0.0.0", "::") else self.host
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}/"
