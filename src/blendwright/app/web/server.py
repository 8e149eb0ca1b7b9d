"""Serve the page: on this computer only, unless others are let in; nothing from the network.

The first process that reckons is started first, so that it loads while the framework does; the
others follow once the page is up. While all loads, nothing is looked through for what could be
thrown away (`gc`): that took a tenth of the start, and everything loaded stays.
"""

from __future__ import annotations

import gc
import os
import secrets
import sys
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from blendwright.app.settings import Settings
from blendwright.app.web.guard import Guard, House
from blendwright.app.web.hands import Hands
from blendwright.app.web.work_store import WorkStore
from blendwright.formula.conditions import BENCH_C, ATMOSPHERE_Pa

LOOPBACK = "127.0.0.1"
SECRET_FILE = "page.secret"
COOKIE_NAME = "blendwright"
COOKIE_AGE_s = 10 * 365 * 24 * 3600
SOCKET_MOST_BYTES = 1_500_000


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


def secret_of(folder: Path) -> str:
    """What signs this folder's cookies; made once, readable by the owner only."""
    file = folder / SECRET_FILE
    if not file.is_file():
        made = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(made, "w") as out:
            out.write(secrets.token_urlsafe(32))
    return file.read_text().strip()


def serve(serving: Serving, say: Callable[[str], None] = print) -> None:
    """Serve until interrupted."""
    gc.disable()  # until the page is up
    serving.folder.mkdir(parents=True, exist_ok=True)
    hands = Hands()
    hands.start_first()
    os.environ["NICEGUI_STORAGE_PATH"] = str(serving.folder / "page")
    import uvicorn

    from blendwright.app.web.application import application

    store = WorkStore(serving.folder)
    app = application(serving, store, hands, secret_of(serving.folder))
    guarded = Guard(app, House(serving.port, serving.lets_others_in))
    if serving.opens_browser:
        webbrowser.open(serving.address)
    say(f"the bench is at {serving.address} (Ctrl-C ends it); work is kept in {serving.folder}")
    sys.stdout.flush()
    try:
        uvicorn.run(
            guarded,
            host=serving.host,
            port=serving.port,
            log_level="warning",
            ws="wsproto",
            ws_max_size=SOCKET_MOST_BYTES,
            server_header=False,
            timeout_graceful_shutdown=2,
        )
    finally:
        hands.stop()
