"""The web application: one page, on NiceGUI."""

from __future__ import annotations

import gc
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from nicegui import app, ui
from starlette.middleware.gzip import GZipMiddleware

from blendwright.app.web.downloads import serve_downloads
from blendwright.app.web.guard import App, NoncedScripts
from blendwright.app.web.page import Page, stylesheet
from blendwright.app.web.serving import COOKIE_NAME, COOKIE_AGE_s, Serving
from blendwright.app.web.session import Services
from blendwright.app.web.sheet import Sheet
from blendwright.app.web.texts import text
from blendwright.app.web.work_store import WorkStore
from blendwright.app.web.worker_pool import WorkerPool

LEAST_ZIPPED_BYTES = 1000
# The framework draws the whole page anew at each piece of news, and watches every property of every
# element for changes that never come: the server sends an element whole, and only a field of the
# framework's own is changed in place. Unwatched, the same drawing takes less than half the time
# (Chromium, 675 elements: 42 ms, then 17). Where the framework lacks the function, nothing happens.
UNWATCHED = """<script type="module">
const fill = window.replaceUndefinedAttributes;
if (fill) window.replaceUndefinedAttributes = (element) => {
  fill(element);
  if (!element.events.some((event) => event.type === "update:modelValue")) Vue.markRaw(element);
};
</script>"""
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><path d="M12 3h8v9l8 14a2 2 0 0 1'
    '-2 3H6a2 2 0 0 1-2-3l8-14z" fill="#fff" stroke="#123f3c" stroke-width="3"/></svg>'
)


def application(serving: Serving, store: WorkStore, workers: WorkerPool, secret: str) -> App:
    """Everything inside the guard."""
    blank = Sheet(bench_C=serving.bench_C, pressure_kPa=serving.pressure_kPa).tidied()
    services = Services(
        serving.folder, store, workers, serving.lets_others_in, blank, settings=serving.settings
    )

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        workers.start_others()
        gc.freeze()
        gc.enable()
        yield

    outer = FastAPI(lifespan=living, docs_url=None, redoc_url=None, openapi_url=None)
    _add_page(services, serving)
    serve_downloads(services.downloads)
    ui.run_with(
        outer,
        title=text("title"),
        favicon=ICON,
        storage_secret=secret,
        session_middleware_kwargs=_cookie(),
        tailwind=False,
        gzip_middleware_factory=None,
        reconnect_timeout=10.0,
        show_welcome_message=False,
    )
    return GZipMiddleware(NoncedScripts(outer), minimum_size=LEAST_ZIPPED_BYTES, compresslevel=5)


def _cookie() -> dict[str, object]:
    return {"session_cookie": COOKIE_NAME, "max_age": COOKIE_AGE_s, "same_site": "strict"}


def _add_page(services: Services, serving: Serving) -> None:
    opened: set[str] = set()

    @ui.page("/", title=text("title"), language="en-US", dark=None)
    def page(document: str = "") -> None:
        ui.add_css(stylesheet())
        ui.add_body_html(UNWATCHED)
        owner = str(app.storage.browser["id"])
        begins = serving.file is not None and not document and owner not in opened
        # a file from the command line lies on a document of its own, not on the work of last time
        made = Page(services, secrets.token_hex(8) if begins else document)
        if begins and serving.file is not None:
            opened.add(owner)
            made.open_file(*serving.file)
        else:
            made.session.ask()
