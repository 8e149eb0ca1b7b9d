"""Serve the page: on this computer only, unless others are let in; nothing from the network.

The first process that computes is started first, so that it loads while the framework does; the
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
from pathlib import Path

from blendwright.app.web.guard import Guard, ServerAddress
from blendwright.app.web.serving import Serving
from blendwright.app.web.work_store import WorkStore
from blendwright.app.web.worker_pool import WorkerPool

SECRET_FILE = "page.secret"
SOCKET_MOST_BYTES = 1_500_000


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
    store = WorkStore(serving.folder)
    workers = WorkerPool()
    workers.start_first()
    os.environ["NICEGUI_STORAGE_PATH"] = str(serving.folder / "page")
    import uvicorn

    from blendwright.app.web.application import application

    app = application(serving, store, workers, secret_of(serving.folder))
    guarded = Guard(app, ServerAddress(serving.port, serving.lets_others_in))
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
        workers.stop()
